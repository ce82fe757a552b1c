"""What anode-sizing refuses: a hull, a water or an anode that is told twice, half, or not at all."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from platemargin.anode_materials import MORE_THAN_FARADAY, material_named, more_than_faraday
from platemargin.anode_output import driving_voltage_v, protection_ag_agcl_v
from platemargin.declared import Arguments, Fault, Place
from platemargin.electrodes import STEEL_IN_WATER_V, ReferenceElectrode, against, electrode_named, is_of_steel
from platemargin.electrolyte import resistivity_of
from platemargin.hull_potentials import FERROUS
from platemargin.quantities import below

__all__ = ["FAULTS", "LEAST_DRIVING_V"]

#: Below this [V] an anode is no nearer to its steel than readings of potential are to each other.
LEAST_DRIVING_V = 0.02

_WATERS = ("water", "resistivity_ohm_m", "conductivity_us_per_cm", "salinity")
_CONSTANTS = ("initial_breakdown", "breakdown_per_year")


def _given(values: Mapping[str, Any], names: Sequence[str]) -> int:
    return sum(values.get(name) is not None for name in names)


def _where(holds: Callable[[Arguments], bool], *path: str) -> Callable[[Arguments], Iterable[Place]]:
    return lambda arguments: [Place(path=path)] if holds(arguments) else []


def _contradicting(coating: Mapping[str, Any]) -> bool:
    """Tell whether a coating is neither a category nor two constants of its own, or is both."""
    constants = _given(coating, _CONSTANTS)
    return constants != (0 if coating.get("category") is not None else len(_CONSTANTS))


def _contradicting_surfaces(arguments: Arguments) -> Iterable[Place]:
    for index, surface in enumerate(arguments["surfaces"] or ()):
        if _contradicting(surface["coating"]):
            yield Place(path=(index, "coating"))


def _surfaces_of_one_name(arguments: Arguments) -> Iterable[Place]:
    names = [surface["name"] for surface in arguments["surfaces"] or ()]
    for index, name in enumerate(names):
        if name in names[:index]:
            yield Place(path=(index, "name"), values={"name": name})


def _one_water(arguments: Arguments) -> bool:
    return _given(arguments["electrolyte"], _WATERS) == 1


def _too_weak(arguments: Arguments) -> Iterable[Place]:
    told_before = any(_potential_of_no_steel(arguments))
    if told_before or not _one_water(arguments) or arguments["anode"].get("driving_voltage_v") is not None:
        return
    resistivity = resistivity_of(arguments["electrolyte"])
    asked = protection_ag_agcl_v(resistivity, arguments["protection_potential_v"], arguments["reference_electrode"])
    if below(driving_voltage_v(arguments["anode"], asked), LEAST_DRIVING_V, "V"):
        material = material_named(arguments["anode"]["material"])
        yield Place(values={"material": material.name, "closed_circuit_v": material.closed_circuit_v, "asked_v": asked})


def _over_faraday(arguments: Arguments) -> Iterable[Place]:
    too_much = more_than_faraday(arguments["anode"])
    if too_much:
        yield Place(path=("capacity_ah_per_kg",), values=too_much)


def _not_of_steel(arguments: Arguments) -> Iterable[Place]:
    material = (arguments["hull"] or {}).get("material", FERROUS[0])
    if material not in FERROUS:
        yield Place(path=("material",), values={"material": material})


def _potential_of_no_steel(arguments: Arguments) -> Iterable[Place]:
    potential, electrode = arguments["protection_potential_v"], arguments["reference_electrode"]
    if potential is not None and electrode is not None and not is_of_steel(potential, electrode_named(electrode)):
        low, high = (against(bound, ReferenceElectrode.CSE, electrode_named(electrode)) for bound in STEEL_IN_WATER_V)
        yield Place(values={"protection_potential_v": potential, "electrode": electrode, "low_v": low, "high_v": high})


def _same_water(arguments: Arguments) -> Iterable[Place]:
    if arguments["moves_to"] is not None and arguments["moves_to"] == arguments["electrolyte"].get("water"):
        yield Place(values={"water": arguments["moves_to"]})


FAULTS = (
    Fault(
        field="wetted_area_m2",
        code="area_missing",
        message="nothing says how much steel is wet: give wetted_area_m2, hull or surfaces",
        broken=_where(lambda a: not a["surfaces"] and a["wetted_area_m2"] is None and a["hull"] is None),
    ),
    Fault(
        field="wetted_area_m2",
        code="area_given_twice",
        message="surfaces have areas of their own: give one of the two",
        broken=_where(lambda a: bool(a["surfaces"]) and a["wetted_area_m2"] is not None),
    ),
    Fault(
        field="coating",
        code="coating_missing",
        message="nothing says how the steel is coated: give coating, or surfaces with one each",
        broken=_where(lambda a: not a["surfaces"] and a["coating"] is None),
    ),
    Fault(
        field="coating",
        code="coating_given_twice",
        message="surfaces have coatings of their own: give one of the two",
        broken=_where(lambda a: bool(a["surfaces"]) and a["coating"] is not None),
    ),
    Fault(
        field="coating",
        code="coating_contradicts_itself",
        message="give a category, or initial_breakdown and breakdown_per_year, and not both",
        broken=_where(lambda a: a["coating"] is not None and _contradicting(a["coating"])),
    ),
    Fault(
        field="surfaces",
        code="coating_of_surface_contradicts_itself",
        message="give a category, or initial_breakdown and breakdown_per_year, and not both",
        broken=_contradicting_surfaces,
    ),
    Fault(
        field="surfaces",
        code="name_not_unique",
        message="two surfaces are called {name}; give each its own name",
        broken=_surfaces_of_one_name,
    ),
    Fault(
        field="electrolyte",
        code="water_not_told_once",
        message="give one of water, resistivity_ohm_m, conductivity_us_per_cm and salinity",
        broken=_where(lambda a: not _one_water(a)),
    ),
    Fault(
        field="reference_electrode",
        code="potential_without_electrode",
        message="a potential means nothing without its electrode: give both protection_potential_v and "
        "reference_electrode, or neither",
        broken=_where(lambda a: (a["protection_potential_v"] is None) != (a["reference_electrode"] is None)),
    ),
    Fault(
        field="protection_potential_v",
        code="driving_voltage_given_twice",
        message="anode.driving_voltage_v is already counted from a protection potential: give one of the two",
        broken=_where(
            lambda a: a["protection_potential_v"] is not None and a["anode"].get("driving_voltage_v") is not None,
        ),
    ),
    Fault(
        field="protection_potential_v",
        code="anode_too_weak",
        message="{material} works at {closed_circuit_v} V and {asked_v} V is asked of the steel, both against silver/silver "
        "chloride: it cannot pull the steel so far; ask for less, or take another material",
        broken=_too_weak,
    ),
    Fault(
        field="anode",
        code="capacity_over_faraday",
        message=MORE_THAN_FARADAY,
        broken=_over_faraday,
    ),
    Fault(
        field="anode",
        code="flush_anode_stands_off",
        message="an anode that is mounted flush stands off by nothing: leave stand_off_m out, or send mounting stand_off",
        broken=_where(lambda a: a["anode"]["mounting"] == "flush" and a["anode"].get("stand_off_m") is not None, "stand_off_m"),
    ),
    Fault(
        field="hull",
        code="hull_not_of_steel",
        message="the current densities and potentials reckoned with are of steel and iron, not of {material}: have its anodes "
        "sized by people who know that metal, and never fit magnesium to aluminium",
        broken=_not_of_steel,
    ),
    Fault(
        field="protection_potential_v",
        code="potential_not_of_steel",
        message="{protection_potential_v} V against {electrode} is no potential of steel in water, which lies between {low_v} "
        "V and {high_v} V: check its sign and the electrode",
        broken=_potential_of_no_steel,
    ),
    Fault(
        field="moves_to",
        code="moves_to_same_water",
        message="the boat lies in {water} water already: give the other water that it goes to, or leave it out",
        broken=_same_water,
    ),
)
