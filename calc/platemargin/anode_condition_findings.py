"""What the reader of an anode survey's answer has to know, and what was taken where nothing was told."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from platemargin.anode_materials import MATERIALS
from platemargin.declared import Arguments, Assumption, Finding, Place, once
from platemargin.electrodes import MOST_NEGATIVE_V
from platemargin.fitted_anodes import MOST_OHM, UTILISATION_USED, FittedAnode
from platemargin.hull_potentials import FERROUS
from platemargin.quantities import below

__all__ = ["ASSUMED", "FINDINGS", "LEAST_GAP_M", "LEAST_YEARS"]

#: A shorter gap [m] is within what a rule of thumb for the reach can tell (own rule; no source).
LEAST_GAP_M = 0.5
#: An anode that does not last so long [year] may be gone before the next docking (own rule; no source).
LEAST_YEARS = 2.0
#: A whole anode in less than so long [year] is no ordinary demand (own rule; no source).
_FAST_YEARS = 1.0

Predicate = Callable[[Arguments, Any], Iterable[Place]]


def _anodes(chosen: Callable[[FittedAnode, Any, Arguments], bool], *names: str) -> Predicate:
    """Return a predicate: each anode of which `chosen` holds, with values of its result or of itself."""

    def applies(arguments: Arguments, result: Any) -> Iterable[Place]:
        for index, (sent, told) in enumerate(zip(arguments["anodes"], result.anodes, strict=True)):
            if chosen(sent, told, arguments):
                values = {name: getattr(told, name) if hasattr(told, name) else sent[name] for name in names}
                yield Place(path=("anodes", index), values=values)

    return applies


def _in_state(state: str) -> Callable[[FittedAnode, Any, Arguments], bool]:
    return lambda _sent, told, _arguments: bool(told.state == state)


def _potentials(state: str, *names: str) -> Predicate:
    def applies(_: Arguments, result: Any) -> Iterable[Place]:
        for index, told in enumerate(result.potentials):
            if told.state == state:
                yield Place(path=("potentials", index), values={name: getattr(told, name) for name in names})

    return applies


def _gaps(*, protected: bool) -> Predicate:
    def applies(_: Arguments, result: Any) -> Iterable[Place]:
        for gap in result.gaps if result.working_count else ():
            is_worth_telling = not below(gap.to_m - gap.from_m, LEAST_GAP_M, "m")
            if is_worth_telling and (gap.measured == "protected") == protected:
                yield Place(path=("anodes",), values={"side": gap.side, "from_m": gap.from_m, "to_m": gap.to_m})

    return applies


def _soon(_: FittedAnode, told: Any, _arguments: Arguments) -> bool:
    return (
        told.state == "working" and told.remaining_years is not None and bool(below(told.remaining_years, LEAST_YEARS, "year"))
    )


def _fast(_: FittedAnode, told: Any, _arguments: Arguments) -> bool:
    return told.life_at_this_rate_years is not None and bool(below(told.life_at_this_rate_years, _FAST_YEARS, "year"))


def _on_aluminium(_: FittedAnode, told: Any, arguments: Arguments) -> bool:
    return bool(told.material == "magnesium" and arguments["hull"].get("material") == "aluminium")


def _in_salt(_: FittedAnode, told: Any, arguments: Arguments) -> bool:
    return told.material == "magnesium" and arguments["hull"].get("water") in ("brackish", "sea")


def _passive(_: FittedAnode, told: Any, _arguments: Arguments) -> bool:
    return bool(told.state == "unsuited" and told.material != "magnesium")


def _beyond_counting(_: FittedAnode, told: Any, _arguments: Arguments) -> bool:
    return bool(told.state == "working" and told.remaining_years is None)


_EACH_FINDING = (
    Finding(
        code="anode_painted",
        severity="watch",
        statement="The {material} anode at {station_m} m ({side}) is painted and counts as none: paint keeps its current in.",
        values=("material", "station_m", "side"),
        applies=_anodes(_in_state("painted"), "material", "station_m", "side"),
    ),
    Finding(
        code="anode_disconnected",
        severity="watch",
        statement="The {material} anode at {station_m} m ({side}) counts as none: {continuity_ohm} ohm to the hull is no "
        f"connection (more than {MOST_OHM:g} ohm).",
        values=("material", "station_m", "side", "continuity_ohm"),
        applies=_anodes(_in_state("disconnected"), "material", "station_m", "side", "continuity_ohm"),
    ),
    Finding(
        code="anode_metal_unsuited",
        severity="watch",
        statement="The {material} anode at {station_m} m ({side}) counts as none: in fresh water that metal grows a skin and "
        "gives next to nothing.",
        values=("material", "station_m", "side"),
        applies=_anodes(_passive, "material", "station_m", "side"),
    ),
    Finding(
        code="anode_used_up",
        severity="act",
        statement="The {material} anode at {station_m} m ({side}) is used up: {remaining_percent} % is left of it, no "
        "more than what falls off or stays on its straps. Renew it.",
        values=("material", "station_m", "side", "remaining_percent"),
        applies=_anodes(_in_state("used_up"), "material", "station_m", "side", "remaining_percent"),
    ),
    Finding(
        code="anode_unused",
        severity="watch",
        statement="The {material} anode at {station_m} m ({side}) does nothing and counts as none: {remaining_percent} % "
        "is left after {years_fitted} years. It has no contact, was painted, has grown a skin, or something else drives "
        "the hull.",
        values=("material", "station_m", "side", "remaining_percent", "years_fitted"),
        applies=_anodes(_in_state("unused"), "material", "station_m", "side", "remaining_percent", "years_fitted"),
    ),
    Finding(
        code="anode_new",
        severity="note",
        statement="The {material} anode at {station_m} m ({side}) is too new to tell anything: {remaining_percent} % is left "
        "after {years_fitted} years. It counts as if it worked.",
        values=("material", "station_m", "side", "remaining_percent", "years_fitted"),
        applies=_anodes(_in_state("new"), "material", "station_m", "side", "remaining_percent", "years_fitted"),
    ),
    Finding(
        code="anode_used_soon",
        severity="watch",
        statement="The {material} anode at {station_m} m ({side}) has {remaining_years} years left at this pace: renew it at "
        "this docking.",
        values=("material", "station_m", "side", "remaining_years"),
        applies=_anodes(_soon, "material", "station_m", "side", "remaining_years"),
    ),
    Finding(
        code="anode_used_fast",
        severity="watch",
        statement="The {material} anode at {station_m} m ({side}) goes at {consumption_kg_per_year} kg/year, all of its "
        "use in {life_at_this_rate_years} years: look for shore power without isolation, stray current, bare steel, or the "
        "wrong metal for the water.",
        values=("material", "station_m", "side", "consumption_kg_per_year", "life_at_this_rate_years"),
        applies=_anodes(_fast, "material", "station_m", "side", "consumption_kg_per_year", "life_at_this_rate_years"),
    ),
    Finding(
        code="anode_life_not_told",
        severity="note",
        statement="How long the {material} anode at {station_m} m ({side}) lasts is not told: so little went of it that "
        "it loses more by itself than it gives.",
        values=("material", "station_m", "side"),
        applies=_anodes(_beyond_counting, "material", "station_m", "side"),
    ),
    Finding(
        code="magnesium_on_aluminium",
        severity="act",
        statement="The magnesium anode at {station_m} m ({side}) is on an aluminium hull: it destroys it. Take it off.",
        values=("station_m", "side"),
        applies=_anodes(_on_aluminium, "station_m", "side"),
    ),
    Finding(
        code="magnesium_in_salt_water",
        severity="act",
        statement="The magnesium anode at {station_m} m ({side}) counts as none: in salt or brackish water it is gone in "
        "months and lifts paint until then. Take it off; aluminium or zinc suits that water.",
        values=("station_m", "side"),
        applies=_anodes(_in_salt, "station_m", "side"),
    ),
)

FINDINGS = (
    Finding(
        code="no_anodes",
        severity="watch",
        statement="There are no anodes at all: none protects the steel where its paint is gone.",
        applies=once(lambda a, _: not a["anodes"], "anodes"),
    ),
    Finding(
        code="no_anode_works",
        severity="watch",
        statement="Anodes are fitted but none of them counts: none protects the steel where its paint is gone.",
        applies=once(lambda a, r: bool(a["anodes"]) and not r.working_count, "anodes"),
    ),
    Finding(
        code="protected_by_something_else",
        severity="watch",
        statement="The potentials show protection, but no anode that counts gives it: find out what does, such as an impressed "
        "current, or another boat's anodes.",
        applies=once(lambda _, r: r.protection == "protected" and not r.working_count, "potentials"),
    ),
    *_EACH_FINDING,
    Finding(
        code="mixed_metals",
        severity="watch",
        statement="Anodes of different metals are on one hull: the stronger wears itself out on the weaker, and what "
        "either tells of the hull is mixed too.",
        applies=once(lambda a, _: len({anode["material"] for anode in a["anodes"]}) > 1, "anodes"),
    ),
    Finding(
        code="beyond_reach",
        severity="watch",
        statement="Nothing that works reaches the {side} side from {from_m} m to {to_m} m.",
        values=("side", "from_m", "to_m"),
        applies=_gaps(protected=False),
    ),
    Finding(
        code="beyond_reach_yet_protected",
        severity="note",
        statement="No anode is assumed to reach the {side} side from {from_m} m to {to_m} m, but a potential read in it "
        "shows protection there, and that goes first.",
        values=("side", "from_m", "to_m"),
        applies=_gaps(protected=True),
    ),
    Finding(
        code="water_not_told",
        severity="watch",
        statement="The water is not told: whether the metal suits it is not judged, and potentials are held to the "
        "criterion of the sea, which is stricter than that of fresh water.",
        applies=once(lambda a, _: "water" not in a["hull"], "hull"),
    ),
    Finding(
        code="hull_not_protected",
        severity="act",
        statement="{potential_v} V at {station_m} m ({side}) ({judged_v} V against the criterion's electrode): the hull "
        "is not protected there, whatever reaches it.",
        values=("potential_v", "station_m", "side", "judged_v"),
        applies=_potentials("not_protected", "potential_v", "station_m", "side", "judged_v"),
    ),
    Finding(
        code="hull_overprotected",
        severity="watch",
        statement="{potential_v} V at {station_m} m ({side}) is more negative than "
        f"{MOST_NEGATIVE_V} V against silver/silver chloride: paint lifts at that. Look for too many or too strong anodes, or "
        "for stray current.",
        values=("potential_v", "station_m", "side"),
        applies=_potentials("overprotected", "potential_v", "station_m", "side"),
    ),
    Finding(
        code="read_on_shore_power",
        severity="watch",
        statement="{potential_v} V at {station_m} m ({side}) was read with shore power connected: neighbours' anodes may have "
        "made it. It shows no protection; read it again with the lead out.",
        values=("potential_v", "station_m", "side"),
        applies=_potentials("on_shore_power", "potential_v", "station_m", "side"),
    ),
    Finding(
        code="shore_power_not_told",
        severity="watch",
        statement="Whether shore power was connected while {potential_v} V was read at {station_m} m ({side}) is not told: it "
        "shows no protection, for neighbours' anodes may have made it.",
        values=("potential_v", "station_m", "side"),
        applies=_potentials("shore_power_not_told", "potential_v", "station_m", "side"),
    ),
    Finding(
        code="potential_implausible",
        severity="watch",
        statement="{potential_v} V against {reference_electrode} at {station_m} m ({side}) is no potential of steel in water: "
        "check the leads, the electrode and its name. It is not used.",
        values=("potential_v", "reference_electrode", "station_m", "side"),
        applies=_potentials("implausible", "potential_v", "reference_electrode", "station_m", "side"),
    ),
    Finding(
        code="potential_not_judged",
        severity="watch",
        statement="Potentials are not judged: the criteria are of steel and iron.",
        applies=once(lambda a, _: bool(a["potentials"]) and a["hull"].get("material", "steel") not in FERROUS, "hull"),
    ),
    Finding(
        code="not_measured",
        severity="note",
        statement="No hull potential was sent: reach is geometry, and whether the steel is protected is not known.",
        applies=once(lambda a, _: not a["potentials"], "potentials"),
    ),
)

ASSUMED = (
    Assumption(
        field="anodes[].capacity_ah_per_kg",
        value=lambda a, _: {
            metal.name: metal.capacity_ah_per_kg
            for metal in MATERIALS.values()
            if any(one["material"] == metal.name and "capacity_ah_per_kg" not in one for one in a["anodes"])
        },
        unit="Ah/kg",
        basis="what a kilogram of the metal gives in practice",
        when=lambda a, _: any("capacity_ah_per_kg" not in anode for anode in a["anodes"]),
    ),
    Assumption(
        field="anodes[].utilisation",
        value=UTILISATION_USED,
        unit="1",
        basis="the least of any shape: what is left then falls off or stays on its straps",
        when=lambda a, _: any("utilisation" not in anode for anode in a["anodes"]),
    ),
    Assumption(
        field="anodes[].painted",
        value=False,
        unit=None,
        basis="no paint was told of",
        when=lambda a, _: any("painted" not in anode for anode in a["anodes"]),
    ),
    Assumption(
        field="anodes[].continuity_ohm",
        value=0.0,
        unit="ohm",
        basis="the connection was not measured: taken as sound",
        when=lambda a, _: any("continuity_ohm" not in anode for anode in a["anodes"]),
    ),
    Assumption(
        field="anodes[].side",
        value=["port", "starboard"],
        unit=None,
        basis="an anode at the centreline is taken to reach both sides",
        when=lambda a, _: any(anode["side"] == "centreline" for anode in a["anodes"]),
    ),
    Assumption(
        field="criterion_v",
        value=lambda _, r: r.criterion.potential_v,
        unit="V",
        basis=lambda _, r: (
            f"steel is protected at this or a more negative potential, against {r.criterion.electrode.name.lower()}"
        ),
        when=lambda a, _: bool(a["potentials"]),
    ),
    Assumption(
        field="sulphate_reducers_suspected",
        value=False,
        unit=None,
        basis="none were told of: with them the criterion is -0.95 V against copper/copper sulphate",
        when=lambda a, _: bool(a["potentials"]) and a["sulphate_reducers_suspected"] is None,
    ),
)
