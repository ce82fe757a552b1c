"""What has to be known of a number of anodes before anybody relies on it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from platemargin.anode_materials import material_named
from platemargin.anode_output import criterion_in
from platemargin.anode_resistance import NEAREST_M
from platemargin.current_demand import breakdown_constants
from platemargin.declared import Arguments, Finding, Place
from platemargin.electrodes import CRITERION_SULPHATE_REDUCERS_V, MOST_NEGATIVE_V, ReferenceElectrode, against
from platemargin.electrolyte import BRACKISH_ENDS_OHM_M, FRESH_BEGINS_OHM_M
from platemargin.quantities import below, rounded, text

__all__ = ["FINDINGS"]

#: A casting weighs so much of what its outer measures hold of its metal (common practice): less is hollow, more is no casting.
_LEAST_OF_SOLID, _MOST_OF_SOLID = 0.4, 1.1
#: A bar that stands off is one while it is so many times as long as its radius (common practice).
_LEAST_SLENDER = 2.0


def _when(holds: Callable[[Arguments, Any], bool], *path: str | int, **worked: Callable[[Arguments, Any], Any]) -> Any:
    """Return a predicate that answers with one place; values are the request's, the result's, and what is worked out."""

    def applies(arguments: Arguments, result: Any) -> Iterable[Place]:
        if holds(arguments, result):
            plain = {**arguments["anode"], **arguments, **vars(result)}
            yield Place(path=path, values={**plain, **{name: value(arguments, result) for name, value in worked.items()}})

    return applies


def _passive(result: Any) -> bool:
    return bool(result.anode.material.passive_in(result.resistivity_ohm_m))


def _same(result: Any, water: str) -> Any:
    return next(row for row in result.same_anode if row.water == water)


def _why_unsuited(_arguments: Arguments, result: Any) -> str:
    if _passive(result):
        return "without enough chloride its face turns passive, and the output told is not even reached"
    return "it gives far more than steel takes, lifts coatings and is soon spent"


def _metal(arguments: Arguments, _result: Any) -> str:
    return str(arguments["anode"]["material"]).capitalize()


def _suited(_arguments: Arguments, result: Any) -> str:
    return " or ".join(result.suited_materials) or "none"


def _may_overprotect(_arguments: Arguments, result: Any) -> bool:
    if result.anode.material.passivates:
        return False
    over = below(result.current_initial_a, result.count * result.output_initial_a, "A")
    return bool(below(result.resistivity_ohm_m, FRESH_BEGINS_OHM_M, "ohm m") or over)


def _criterion_v(result: Any) -> float:
    return against(*criterion_in(result.resistivity_ohm_m), ReferenceElectrode.AG_AGCL)


def _asked(arguments: Arguments, result: Any) -> float | None:
    """Return the potential asked of the steel where the caller chose it, against silver/silver chloride [V]."""
    asked: float | None = result.protection_ag_agcl_v
    return asked if arguments["protection_potential_v"] is not None else None


def _solid_kg(arguments: Arguments, _result: Any) -> float:
    anode = arguments["anode"]
    volume = anode["length_m"] * anode["width_m"] * anode["thickness_m"]
    return float(volume * material_named(anode["material"]).kg_per_m3)


def _odd_mass(arguments: Arguments, result: Any) -> bool:
    part = arguments["anode"]["net_mass_kg"] / _solid_kg(arguments, result)
    return not _LEAST_OF_SOLID <= part <= _MOST_OF_SOLID


def _outside_formula(arguments: Arguments, result: Any) -> bool:
    anode = arguments["anode"]
    if anode["mounting"] == "flush":
        return bool(anode["thickness_m"] > min(anode["width_m"], anode["length_m"]))
    return bool(anode["length_m"] < _LEAST_SLENDER * result.anode.new.radius_m)


def _coatings(arguments: Arguments) -> Sequence[Mapping[str, Any]]:
    return [surface["coating"] for surface in arguments["surfaces"] or ()] or [arguments["coating"]]


def _of_paint(arguments: Arguments, _result: Any) -> bool:
    return any(coating.get("category") in ("I", "II", "III") for coating in _coatings(arguments))


def _gone(arguments: Arguments, result: Any) -> Iterable[Place]:
    for surface, coating in zip(result.surface_demands, _coatings(arguments), strict=True):
        if breakdown_constants(coating)[0] < 1 <= surface.breakdown_final:
            yield Place(values={"name": surface.name, "design_life_years": arguments["design_life_years"]})


def _bare_parts(_arguments: Arguments, result: Any) -> Iterable[Place]:
    if all(surface.breakdown_initial >= 1 for surface in result.surface_demands):
        return
    for index, surface in enumerate(result.surface_demands):
        if surface.breakdown_initial >= 1:
            share = 100.0 * float(rounded(surface.current_mean_a, "A")) / result.current_mean_a
            yield Place(path=("surfaces", index), values={"name": surface.name, "share_percent": share})


def _moves(arguments: Arguments, result: Any) -> Iterable[Place]:
    if arguments["moves_to"] is None:
        return
    there = _same(result, arguments["moves_to"])
    yield Place(
        path=("moves_to",),
        values={
            "metal": _metal(arguments, result),
            "water": there.water,
            "there_ohm_m": there.resistivity_ohm_m,
            "there_a": there.output_initial_a,
            "here_a": result.output_initial_a,
            "fit": "suits it" if there.material_suited else "does not suit it",
            "then": _then(there.charge_life_years, result.anode.material.longest_years),
        },
    )


def _then(charge_life: float | None, longest: float) -> str:
    """Say what becomes of an anode in another water."""
    if charge_life is None:
        return "turns passive"
    if below(longest, charge_life, "year"):
        return f"corrodes away by itself within some {text(longest)} years"
    return f"is spent in {text(float(rounded(charge_life, 'year')))} years"


MATERIAL_FINDINGS = (
    Finding(
        code="material_unsuited",
        severity="act",
        statement="{metal} does not suit water of {resistivity_ohm_m} ohm m: {why}. The same anode would give {sea_a} A at "
        "{sea_ohm_m} ohm m and {fresh_a} A at {fresh_ohm_m} ohm m. Suited here: {suited}.",
        values=("metal", "resistivity_ohm_m", "why", "sea_a", "sea_ohm_m", "fresh_a", "fresh_ohm_m", "suited"),
        applies=_when(
            lambda _, r: not r.material_suited,
            "anode",
            "material",
            metal=_metal,
            why=_why_unsuited,
            suited=_suited,
            sea_a=lambda _, r: _same(r, "sea").output_initial_a,
            sea_ohm_m=lambda _, r: _same(r, "sea").resistivity_ohm_m,
            fresh_a=lambda _, r: _same(r, "fresh").output_initial_a,
            fresh_ohm_m=lambda _, r: _same(r, "fresh").resistivity_ohm_m,
        ),
    ),
    Finding(
        code="no_material_suits_well",
        severity="watch",
        statement="In water of {resistivity_ohm_m} ohm m, between brackish and fresh, no metal suits well: zinc and "
        "aluminium may "
        "turn passive, magnesium may overprotect. Measured potentials have to decide.",
        values=("resistivity_ohm_m",),
        applies=_when(
            lambda _, r: bool(
                below(BRACKISH_ENDS_OHM_M, r.resistivity_ohm_m, "ohm m")
                and below(r.resistivity_ohm_m, FRESH_BEGINS_OHM_M, "ohm m")
            ),
            "electrolyte",
        ),
    ),
    Finding(
        code="overprotection_possible",
        severity="watch",
        statement="Magnesium does not hold back: {count} anodes give {output_initial_a} A each at first where the steel takes "
        "{current_initial_a} A in all, and may pull it beyond {most_negative_v} V (silver/silver chloride), where "
        "coatings lift. "
        "Measure the potential; fewer or smaller anodes, or a resistor, hold it.",
        values=("count", "output_initial_a", "current_initial_a", "most_negative_v"),
        applies=_when(_may_overprotect, "anode", "material", most_negative_v=lambda _, _r: MOST_NEGATIVE_V),
    ),
    Finding(
        code="moves_between_waters",
        severity="watch",
        statement="In {water} water, at {there_ohm_m} ohm m, the same anode gives {there_a} A instead of {here_a} A. "
        "{metal} {fit} and there {then}. Fit for the water that the boat lies in; take magnesium off before salt water, "
        "and clean or renew zinc and "
        "aluminium after fresh.",
        values=("water", "there_ohm_m", "there_a", "here_a", "metal", "fit", "then"),
        applies=_moves,
    ),
)

LIFE_FINDINGS = (
    Finding(
        code="passive_life_unknown",
        severity="watch",
        statement="No life is told: passive {material} keeps its metal while the steel corrodes. An anode that stays "
        "whole is no "
        "sign of protection.",
        values=("material",),
        applies=_when(lambda _, r: _passive(r), "anode", "material"),
    ),
    Finding(
        code="self_corrosion_bounds_life",
        severity="watch",
        statement="No life is told: by its charge the metal would last {charge_life_years} years, but at so low an output "
        "{material} corrodes away by itself long before. Count on no more than {longest_years} years.",
        values=("charge_life_years", "material", "longest_years"),
        applies=_when(
            lambda _, r: r.expected_life_years is None and not _passive(r),
            "anode",
            longest_years=lambda _, r: r.anode.material.longest_years,
        ),
    ),
    Finding(
        code="life_short_of_design",
        severity="watch",
        statement="{count} anodes last {expected_life_years} years at what they give, not the {design_life_years} years asked "
        "for: renew them sooner.",
        values=("count", "expected_life_years", "design_life_years"),
        applies=_when(
            lambda a, r: (
                r.expected_life_years is not None and bool(below(r.expected_life_years, a["design_life_years"], "year"))
            ),
            "design_life_years",
        ),
    ),
)

COUNT_FINDINGS = (
    Finding(
        code="no_sensible_count",
        severity="act",
        statement="{count_needed} anodes of this size would be needed, more than the {densest_count} of the densest "
        "fitting for {wetted_area_m2} m2, whose current is {densest_met_percent} % of what is asked for at worst: no sensible "
        "number of them meets all. Coat bare steel, take larger anodes or another metal, renew them sooner, or have impressed "
        "current designed.",
        values=("count_needed", "densest_count", "wetted_area_m2", "densest_met_percent"),
        applies=_when(lambda _, r: r.count_needed > r.densest_count, "anode"),
    ),
    Finding(
        code="demand_not_met",
        severity="act",
        statement="{count} anodes meet {demand_met_percent} % of what the steel takes when they do worst: {count_needed} are "
        "needed.",
        values=("count", "demand_met_percent", "count_needed"),
        applies=_when(lambda _, r: bool(below(r.demand_met_percent, 100.0, "%")), "anode_count"),
    ),
    Finding(
        code="spacing_leaves_gaps",
        severity="watch",
        statement="{count} anodes leave plate beyond the reach of any: each reaches {reach_m} m either way, and "
        "{count_by_spacing} are needed along both sides. A pair at bow and stern leaves the middle bare.",
        values=("count", "reach_m", "count_by_spacing"),
        applies=_when(lambda _, r: r.count < (r.count_by_spacing or 0), "anode_count"),
    ),
    Finding(
        code="odd_count",
        severity="note",
        statement="{count} anodes are not the same on both sides: one more makes them so.",
        values=("count",),
        applies=_when(lambda a, r: a["hull"] is not None and r.count % 2 == 1),
    ),
    Finding(
        code="fresh_water_varies",
        severity="watch",
        statement="Fresh water is anything from {low_ohm_m} to {high_ohm_m} ohm m, which takes {low_count} to {high_count} "
        "anodes. Have its conductivity measured where the boat lies.",
        values=("low_ohm_m", "high_ohm_m", "low_count", "high_count"),
        applies=_when(
            lambda _, r: bool(r.counts_over_range),
            "electrolyte",
            low_ohm_m=lambda _, r: r.counts_over_range[0].resistivity_ohm_m,
            high_ohm_m=lambda _, r: r.counts_over_range[-1].resistivity_ohm_m,
            low_count=lambda _, r: r.counts_over_range[0].count,
            high_count=lambda _, r: r.counts_over_range[-1].count,
        ),
    ),
)

POTENTIAL_FINDINGS = (
    Finding(
        code="driving_voltage_cut",
        severity="watch",
        statement="{asked_v} V is asked of the steel in place of {criterion_v} V (both against silver/silver chloride): that "
        "leaves {driving_voltage_v} V to drive the current instead of {usual_v} V, and every output falls with it. Where "
        "sulphate reducers are suspected, {bacteria_v} V against copper/copper sulphate is asked all the same.",
        values=("asked_v", "criterion_v", "driving_voltage_v", "usual_v", "bacteria_v"),
        applies=_when(
            lambda a, r: _asked(a, r) is not None and bool(below(_asked(a, r) or 0.0, _criterion_v(r), "V")),
            "protection_potential_v",
            asked_v=_asked,
            criterion_v=lambda _, r: _criterion_v(r),
            usual_v=lambda _, r: _criterion_v(r) - r.anode.material.closed_circuit_v,
            bacteria_v=lambda _, _r: CRITERION_SULPHATE_REDUCERS_V,
        ),
    ),
    Finding(
        code="protection_too_weak",
        severity="act",
        statement="At {asked_v} V the steel still corrodes: it is protected at {criterion_v} V or below (both against "
        "silver/silver chloride).",
        values=("asked_v", "criterion_v"),
        applies=_when(
            lambda a, r: _asked(a, r) is not None and bool(below(_criterion_v(r), _asked(a, r) or 0.0, "V")),
            "protection_potential_v",
            asked_v=_asked,
            criterion_v=lambda _, r: _criterion_v(r),
        ),
    ),
    Finding(
        code="potential_overprotects",
        severity="watch",
        statement="At {asked_v} V (silver/silver chloride) coatings lift and hydrogen is given off: {most_negative_v} V is the "
        "most negative that is asked of coated steel.",
        values=("asked_v", "most_negative_v"),
        applies=_when(
            lambda a, r: _asked(a, r) is not None and bool(below(_asked(a, r) or 0.0, MOST_NEGATIVE_V, "V")),
            "protection_potential_v",
            asked_v=_asked,
            most_negative_v=lambda _, _r: MOST_NEGATIVE_V,
        ),
    ),
)

ANODE_FINDINGS = (
    Finding(
        code="shape_outside_formula",
        severity="watch",
        statement="An anode of {length_m} m by {width_m} m by {thickness_m} m is neither bar nor plate: the formula of its "
        "resistance ({shape}) was made for another shape, and its output is a guess.",
        values=("length_m", "width_m", "thickness_m", "shape"),
        applies=_when(_outside_formula, "anode", shape=lambda _, r: r.shape.replace("_", " ")),
    ),
    Finding(
        code="stand_off_too_near",
        severity="watch",
        statement="At {stand_off_m} m from the steel the anode is nearer than the {nearest_m} m to which the formula of its "
        "resistance holds: it gives less than is told.",
        values=("stand_off_m", "nearest_m"),
        applies=_when(
            lambda a, _: a["anode"].get("stand_off_m") is not None and bool(below(a["anode"]["stand_off_m"], NEAREST_M, "m")),
            "anode",
            "stand_off_m",
            nearest_m=lambda _, _r: NEAREST_M,
        ),
    ),
    Finding(
        code="anode_mass_does_not_fit",
        severity="watch",
        statement="An anode of these measures holds {solid_kg} kg of {material}, and {net_mass_kg} kg was sent: one of "
        "measures, "
        "mass and metal is not as it was sent.",
        values=("solid_kg", "material", "net_mass_kg"),
        applies=_when(_odd_mass, "anode", "net_mass_kg", solid_kg=_solid_kg),
    ),
)

COATING_FINDINGS = (
    Finding(
        code="categories_are_of_paint",
        severity="note",
        statement="Categories I to III are of epoxy and marine paint. Bitumen is none of them: send what is gone of it at "
        "first "
        "and each year.",
        applies=_when(_of_paint),
    ),
    Finding(
        code="coating_counts_as_gone",
        severity="watch",
        statement="Within {design_life_years} years the coating of the {name} counts as gone: the steel is then as good "
        "as bare.",
        values=("design_life_years", "name"),
        applies=_gone,
    ),
    Finding(
        code="bare_surface_takes_current",
        severity="note",
        statement="The {name} is bare and takes {share_percent} % of the mean current: coating it saves more than any "
        "anode adds.",
        values=("name", "share_percent"),
        applies=_bare_parts,
    ),
)

FINDINGS = (
    *MATERIAL_FINDINGS,
    *COUNT_FINDINGS,
    *LIFE_FINDINGS,
    *POTENTIAL_FINDINGS,
    *ANODE_FINDINGS,
    *COATING_FINDINGS,
)
