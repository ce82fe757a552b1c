"""What has to be known of a number of anodes before anybody relies on it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from platemargin.anode_count_findings import COUNT_FINDINGS
from platemargin.anode_material_findings import LIFE_FINDINGS, MATERIAL_FINDINGS
from platemargin.anode_materials import material_named
from platemargin.anode_output import criterion_in
from platemargin.anode_resistance import NEAREST_M
from platemargin.anode_sizing_places import when
from platemargin.current_demand import breakdown_constants
from platemargin.declared import Arguments, Finding, Place
from platemargin.electrodes import CRITERION_SULPHATE_REDUCERS_V, MOST_NEGATIVE_V, ReferenceElectrode, against
from platemargin.quantities import below, rounded

__all__ = ["FINDINGS"]

#: A casting weighs so much of what its outer measures hold of its metal (common practice): less is hollow, more is no casting.
_LEAST_OF_SOLID, _MOST_OF_SOLID = 0.4, 1.1
#: A bar that stands off is one while it is so many times as long as its radius (common practice).
_LEAST_SLENDER = 2.0


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


POTENTIAL_FINDINGS = (
    Finding(
        code="driving_voltage_cut",
        severity="watch",
        statement="{asked_v} V is asked of the steel in place of {criterion_v} V (both against silver/silver chloride): that "
        "leaves {driving_voltage_v} V to drive the current instead of {usual_v} V, and every output falls with it. Where "
        "sulphate reducers are suspected, {bacteria_v} V against copper/copper sulphate is asked all the same.",
        values=("asked_v", "criterion_v", "driving_voltage_v", "usual_v", "bacteria_v"),
        applies=when(
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
        applies=when(
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
        applies=when(
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
        applies=when(_outside_formula, "anode", shape=lambda _, r: r.shape.replace("_", " ")),
    ),
    Finding(
        code="stand_off_too_near",
        severity="watch",
        statement="At {stand_off_m} m from the steel the anode is nearer than the {nearest_m} m to which the formula of its "
        "resistance holds: it gives less than is told.",
        values=("stand_off_m", "nearest_m"),
        applies=when(
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
        applies=when(_odd_mass, "anode", "net_mass_kg", solid_kg=_solid_kg),
    ),
)

COATING_FINDINGS = (
    Finding(
        code="categories_are_of_paint",
        severity="note",
        statement="Categories I to III are of epoxy and marine paint. Bitumen is none of them: send what is gone of it at "
        "first "
        "and each year.",
        applies=when(_of_paint),
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
