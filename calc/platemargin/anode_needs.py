"""What a hull asks of its anodes in some water: currents, metal, and how many anodes each of these takes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum
from math import ceil
from typing import Any

from platemargin.anode_layout import count_by_spacing, reach_m
from platemargin.anode_output import AnodeOutput, anode_output, driving_voltage_v, mass_required_kg, protection_ag_agcl_v
from platemargin.current_demand import Density, SurfaceDemand, density_in, hull_box_m2, surface_demand, total
from platemargin.declared import Arguments
from platemargin.electrolyte import TEMPERATURE_C
from platemargin.quantities import rounded

__all__ = ["Governing", "Needs", "demands_in", "density_used", "needs_of", "output_in", "wet_surfaces"]

#: Whole anodes are counted from quotients without the last of binary arithmetic.
_QUOTIENT_DECIMALS = 6


class Governing(IntEnum):
    """What decides the number of anodes; of equals the first."""

    MASS = 0
    INITIAL_CURRENT = 1
    FINAL_CURRENT = 2
    SPACING = 3


@dataclass(frozen=True, kw_only=True)
class Needs:
    """Currents [A], metal [kg] and numbers of anodes, rounded as they are told."""

    current_initial_a: float
    current_mean_a: float
    current_final_a: float
    net_mass_required_kg: float
    quotient_by_mass: float
    quotient_by_initial_current: float
    quotient_by_final_current: float
    count_by_mass: int
    count_by_initial_current: int
    count_by_final_current: int
    count_by_spacing: int | None
    count_needed: int
    governing: Governing


def output_in(given: Arguments, resistivity_ohm_m: float) -> AnodeOutput:
    """Return what the anode gives in some water, at the potential asked for or the criterion of that water."""
    protection = protection_ag_agcl_v(resistivity_ohm_m, given["protection_potential_v"], given["reference_electrode"])
    return anode_output(given["anode"], resistivity_ohm_m, driving_voltage_v(given["anode"], protection))


def wet_surfaces(given: Arguments) -> Sequence[Mapping[str, Any]]:
    """Return the surfaces given, or the whole hull as one."""
    if given["surfaces"]:
        return list(given["surfaces"])
    hull, area = given["hull"], given["wetted_area_m2"]
    box = hull_box_m2(hull["length_m"], hull["beam_m"], hull["draught_m"]) if area is None else area
    return [{"name": "hull", "area_m2": box, "coating": given["coating"]}]


def density_used(given: Arguments, resistivity_ohm_m: float) -> Density:
    """Return what bare steel is said to take, or what it takes in such water."""
    own = given["current_density"]
    temperature = given["electrolyte"].get("temperature_c", TEMPERATURE_C)
    return density_in(resistivity_ohm_m, temperature) if own is None else Density(**own)


def demands_in(given: Arguments, resistivity_ohm_m: float) -> tuple[SurfaceDemand, ...]:
    """Return what each surface takes in some water, by its own density where it has one."""
    density, years = density_used(given, resistivity_ohm_m), given["design_life_years"]
    own = [(surface, surface.get("current_density")) for surface in wet_surfaces(given)]
    return tuple(surface_demand(surface, density if of is None else Density(**of), years) for surface, of in own)


def needs_of(given: Arguments, demands: Sequence[SurfaceDemand], output: AnodeOutput) -> Needs:
    """Return what is asked for and how many anodes each need takes, from figures rounded as they are told."""
    initial, mean, final = (float(rounded(current, "A")) for current in total(demands, given["extra_current_a"]))
    metal = mass_required_kg(mean, given["design_life_years"], output.utilisation, output.capacity_ah_per_kg)
    by_mass = metal / given["anode"]["net_mass_kg"]
    by_initial, by_final = initial / output.output_initial_a, final / output.output_final_a
    counts = [max(1, ceil(round(quotient, _QUOTIENT_DECIMALS))) for quotient in (by_mass, by_initial, by_final)]
    spaced = _spaced(given)
    needed = max(*counts, spaced or 0)
    return Needs(
        current_initial_a=initial,
        current_mean_a=mean,
        current_final_a=final,
        net_mass_required_kg=metal,
        quotient_by_mass=by_mass,
        quotient_by_initial_current=by_initial,
        quotient_by_final_current=by_final,
        count_by_mass=counts[Governing.MASS],
        count_by_initial_current=counts[Governing.INITIAL_CURRENT],
        count_by_final_current=counts[Governing.FINAL_CURRENT],
        count_by_spacing=spaced,
        count_needed=needed,
        governing=Governing([*counts, spaced].index(needed)),
    )


def _spaced(given: Arguments) -> int | None:
    """Return the number that leaves no gap along a hull; None where no hull was sent."""
    if given["hull"] is None:
        return None
    reach = reach_m(given["anode"]["length_m"], given["reach_lengths"])
    return count_by_spacing(given["hull"]["length_m"], given["spacing_m"], reach)
