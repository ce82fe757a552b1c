"""What may attack the plate and what protects it, in a survey's report."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from platemargin_api.renderings.report_parts import Block, Column, Facts, Heading, Paragraph, Row, Section, Table, row
from platemargin_api.renderings.words import figure, plain

__all__ = ["protection_sections"]

_DECIDES = {
    "mass": "the metal that is used up",
    "initial_current": "the current at first",
    "final_current": "the current when they are used up",
    "spacing": "the spacing along the hull",
}


def protection_sections(result: Mapping[str, Any]) -> Iterator[Section]:
    """Yield what was asked of attack and of anodes."""
    anodes = result["anodes"] or {}
    if result["attack_forms"]:
        yield Section("attack", "What may attack the plate", list(_attack(result["attack_forms"]["candidates"])))
    if anodes.get("condition"):
        yield Section("anodes", "Anodes found", list(_found(anodes["condition"])))
    if anodes.get("sizing"):
        yield Section("sizing", "Anodes thought of", list(_thought_of(anodes["sizing"])))


def _attack(candidates: list[Mapping[str, Any]]) -> Iterator[Block]:
    yield Paragraph("Ranked candidates, never a diagnosis. What is unlikely is left out here.")
    shown = [form for form in candidates if form["standing"] != "unlikely"]
    if not shown:
        yield Paragraph("No form of attack is more than unlikely by what was observed.")
    for form in shown:
        yield Heading(f"attack-{form['form']}", f"{plain(form['form']).capitalize()}: {form['standing']}")
        yield Facts(
            [
                ("For it", " ".join(form["reasons_for"]) or "nothing that was observed"),
                ("Against it", " ".join(form["reasons_against"]) or "nothing that was observed"),
                ("Would settle it", " ".join(form["tests_to_confirm"]) or "no test is known"),
                ("Treatment", form["treatment"]),
            ]
        )


def _found(condition: Mapping[str, Any]) -> Iterator[Block]:
    yield Paragraph(
        f"{condition['working_count']} of {condition['fitted_count']} anodes count. "
        f"{figure(condition['covered_percent'], '%')} of the length is within their assumed reach: that is geometry, not "
        f"protection; protection was {plain(condition['protection'])}."
    )
    columns = [
        Column("Station"),
        Column("Side"),
        Column("Metal"),
        *(Column(head, "number") for head in ("Left", "Mean output", "Years left")),
        Column("State", share=1.5),
    ]
    rows = [_anode(anode) for anode in condition["anodes"]]
    yield Table("anodes", "Each anode that was found.", columns, rows, "None were found.")


def _anode(anode: Mapping[str, Any]) -> Row:
    return row(
        figure(anode["station_m"], "m"),
        anode["side"],
        anode["material"],
        figure(anode["remaining_percent"], "%"),
        figure(anode["mean_output_a"], "A"),
        figure(anode["remaining_years"], none="not told"),
        plain(anode["state"]),
    )


def _thought_of(sizing: Mapping[str, Any]) -> Iterator[Block]:
    yield Paragraph(_needed_words(sizing))
    yield Facts(list(_sizing_facts(sizing)))
    yield Table(
        "sizing", "What each part of the wet steel takes.", _DEMAND, [_demand(one) for one in sizing["surface_demands"]]
    )
    yield Heading("waters", "The same anodes in other waters")
    told = f"{figure(sizing['count'])} of the same anode, at the current that is drawn here."
    yield Table("waters", told, _WATERS, [_water(one) for one in sizing["same_anode"]])
    if sizing["counts_over_range"]:
        yield Heading("range", "What fresh water may be")
        yield Table(
            "range", "Anodes needed at both ends of its resistivity.", _RANGE, [_at(one) for one in sizing["counts_over_range"]]
        )


_DEMAND = [
    Column("Part", "id"),
    Column("Area", "number"),
    *(Column(f"Bare {when} [%]", "number") for when in ("at first", "on average", "at the end")),
    *(Column(f"Current {when}", "number") for when in ("at first", "on average", "at the end")),
]
_WATERS = [
    Column("Water"),
    *(Column(head, "number") for head in ("Resistivity", "One gives at first", "Years by their charge")),
    Column("Its metal"),
]
_RANGE = [Column("Resistivity", "number"), Column("Anodes", "number"), Column("Decided by")]


def _needed_words(sizing: Mapping[str, Any]) -> str:
    needed, decides = sizing["count_needed"], _DECIDES[sizing["governing"]]
    if needed > sizing["densest_count"]:
        serves = f"No sensible number of such anodes serves: it would take {figure(needed)}, for {decides}."
        serves += f" The densest fitting that is sensible, {figure(sizing['densest_count'])}, meets "
        serves += f"{figure(sizing['densest_met_percent'], '%')} of the demand at worst."
    else:
        serves = f"Anodes needed: {figure(needed)}, for {decides}."
    suited = " or ".join(sizing["suited_materials"]) or "no metal"
    unsuited = f"Their metal does not suit this water; {suited} does. By arithmetic alone: {serves}"
    return serves if sizing["material_suited"] else unsuited


def _sizing_facts(sizing: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    yield "Water", figure(sizing["resistivity_ohm_m"], "ohm m")
    yield "Wet steel", figure(sizing["wetted_area_m2"], "m2")
    currents = (figure(sizing[f"current_{stage}_a"], "A") for stage in ("initial", "mean", "final"))
    yield "The steel takes", "{} at first, {} on average, {} at the end".format(*currents)
    yield "Metal used up", figure(sizing["net_mass_required_kg"], "kg")
    yield "One anode gives", f"{figure(sizing['output_initial_a'], 'A')} new, {figure(sizing['output_final_a'], 'A')} used up"
    counts = {"metal": "mass", "the current at first": "initial_current", "at the end": "final_current", "spacing": "spacing"}
    needs = (f"{figure(sizing[f'count_by_{name}'], none='not asked')} for {words}" for words, name in counts.items())
    yield "Counts", ", ".join(needs)
    met = figure(sizing["demand_met_percent"], "%")
    yield "Reckoned with", f"{figure(sizing['count'])}, which meet {met} of the demand at worst"
    yield "They last", figure(sizing["expected_life_years"], "years", "not told; the findings say why")
    yield "One reaches", f"{figure(sizing['reach_m'], 'm')} each way"
    if sizing["stations_m"]:
        yield "Stations", f"{', '.join(figure(station) for station in sizing['stations_m'])} m from the stem, on each side"


def _demand(one: Mapping[str, Any]) -> Row:
    bare = (figure(100 * one[f"breakdown_{stage}"]) for stage in ("initial", "mean", "final"))
    currents = (figure(one[f"current_{stage}_a"], "A") for stage in ("initial", "mean", "final"))
    return row(one["name"], figure(one["area_m2"], "m2"), *bare, *currents)


def _water(one: Mapping[str, Any]) -> Row:
    return row(
        one["water"],
        figure(one["resistivity_ohm_m"], "ohm m"),
        figure(one["output_initial_a"], "A"),
        figure(one["charge_life_years"], none="none: passive"),
        "suits it" if one["material_suited"] else "does not suit it",
    )


def _at(one: Mapping[str, Any]) -> Row:
    return row(figure(one["resistivity_ohm_m"], "ohm m"), figure(one["count"]), _DECIDES[one["governing"]])
