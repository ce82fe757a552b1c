"""What one anode gives in some water, new and used up, and how long its metal lasts at that."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from platemargin.anode_materials import HOURS_A_YEAR, UTILISATION, Material, material_named
from platemargin.anode_resistance import NEAR_FACTOR, NEAR_M, AnodeSize, resistance_ohm, shape_of, used_up
from platemargin.electrodes import CRITERION_FRESH_V, CRITERION_SEA_V, ReferenceElectrode, against, electrode_named
from platemargin.electrolyte import FRESH_BEGINS_OHM_M
from platemargin.quantities import below, rounded

__all__ = [
    "AnodeOutput",
    "anode_output",
    "charge_life_years",
    "criterion_in",
    "driving_voltage_v",
    "mass_required_kg",
    "protection_ag_agcl_v",
]


@dataclass(frozen=True, kw_only=True)
class AnodeOutput:
    """One anode in one water; resistances [ohm] and currents [A] are rounded as they are told, and reckoned with so."""

    material: Material
    new: AnodeSize
    used: AnodeSize
    near_factor: float
    capacity_ah_per_kg: float
    utilisation: float
    driving_voltage_v: float
    resistance_initial_ohm: float
    resistance_final_ohm: float
    output_initial_a: float
    output_final_a: float
    output_mean_a: float


def criterion_in(resistivity_ohm_m: float) -> tuple[float, ReferenceElectrode]:
    """Return the potential [V] at which steel is protected in some water, and the electrode that it is stated against.

    References
    ----------
    ufc-3-570-06-criteria, en-12473-criteria
    """
    if below(resistivity_ohm_m, FRESH_BEGINS_OHM_M, "ohm m"):
        return CRITERION_SEA_V, ReferenceElectrode.AG_AGCL
    return CRITERION_FRESH_V, ReferenceElectrode.CSE


def protection_ag_agcl_v(resistivity_ohm_m: float, potential_v: float | None, electrode: str | None) -> float:
    """Return the protection potential against silver/silver chloride in sea water [V]: the one given, or the criterion."""
    if potential_v is None or electrode is None:
        return against(*criterion_in(resistivity_ohm_m), ReferenceElectrode.AG_AGCL)
    return against(potential_v, electrode_named(electrode), ReferenceElectrode.AG_AGCL)


def driving_voltage_v(anode: Mapping[str, Any], protection_v: float) -> float:
    """Return what drives the current [V]: protection potential less the anode's, both against silver/silver chloride."""
    given: float | None = anode.get("driving_voltage_v")
    return protection_v - material_named(anode["material"]).closed_circuit_v if given is None else given


def anode_output(anode: Mapping[str, Any], resistivity_ohm_m: float, driving_v: float) -> AnodeOutput:
    """Return what an anode gives in water of some resistivity.

    References
    ----------
    dnv-rp-b401-design, dnv-rp-b401-stand-off
    """
    material, thickness = material_named(anode["material"]), anode["thickness_m"]
    new = shape_of(
        length_m=anode["length_m"], width_m=anode["width_m"], thickness_m=thickness, flush=anode["mounting"] == "flush"
    )
    utilisation = anode.get("utilisation") or UTILISATION[new.shape]
    used = used_up(new, thickness_m=thickness, utilisation=utilisation)
    stand_off = anode.get("stand_off_m")
    near = NEAR_FACTOR if stand_off is not None and below(stand_off, NEAR_M, "m") else 1.0
    first, last = (_written(near * resistance_ohm(resistivity_ohm_m, size), "ohm") for size in (new, used))
    output_initial, output_final = _written(driving_v / first, "A"), _written(driving_v / last, "A")
    return AnodeOutput(
        material=material,
        new=new,
        used=used,
        near_factor=near,
        capacity_ah_per_kg=anode.get("capacity_ah_per_kg") or material.capacity_ah_per_kg,
        utilisation=utilisation,
        driving_voltage_v=driving_v,
        resistance_initial_ohm=first,
        resistance_final_ohm=last,
        output_initial_a=output_initial,
        output_final_a=output_final,
        output_mean_a=_written((output_initial + output_final) / 2, "A"),
    )


def _written(value: float, unit: str) -> float:
    return float(rounded(value, unit))


def mass_required_kg(current_a: float, years: float, utilisation: float, capacity_ah_per_kg: float) -> float:
    """Return the metal that a current takes over some years: I 8760 t / (u eps).

    Examples
    --------
    >>> round(mass_required_kg(1.0, 1.0, 1.0, 780.0), 2)  # zinc, kg/A year
    11.23

    References
    ----------
    dnv-rp-b401-design
    """
    return current_a * HOURS_A_YEAR * years / (utilisation * capacity_ah_per_kg)


def charge_life_years(anode: AnodeOutput, mass_kg: float, current_a: float) -> float:
    """Return how long a mass of some anode's metal lasts at a current, counted by its charge alone."""
    return mass_kg * anode.utilisation * anode.capacity_ah_per_kg / (HOURS_A_YEAR * current_a)
