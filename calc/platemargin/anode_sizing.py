"""How many anodes a hull needs, which of its needs decides that, and what so many then achieve."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum
from math import ceil
from typing import Any

from platemargin.anode_layout import REACH_LENGTHS, SPACING_M, count_by_spacing, densest_count, reach_m, stations_m
from platemargin.anode_materials import MATERIALS
from platemargin.anode_output import (
    AnodeOutput,
    anode_output,
    charge_life_years,
    driving_voltage_v,
    mass_required_kg,
    protection_ag_agcl_v,
)
from platemargin.anode_sizing_faults import FAULTS
from platemargin.anode_sizing_findings import FINDINGS
from platemargin.anode_sizing_working import ASSUMED, WORKING, working_figures
from platemargin.current_demand import Density, SurfaceDemand, density_in, hull_box_m2, surface_demand, total
from platemargin.declared import refuse
from platemargin.electrolyte import FRESH_RANGE_OHM_M, TEMPERATURE_C, resistivity_of, salt_water_ohm_m
from platemargin.quantities import rounded

__all__ = [
    "ASSUMED",
    "FAULTS",
    "FINDINGS",
    "WORKING",
    "AnodeSizing",
    "CountAt",
    "Governing",
    "SameAnode",
    "anode_sizing",
    "working_figures",
]

#: Water in which the same anode is shown beside the one asked about [ohm m]. Reference: waters-practice.
_OTHER_WATERS = {"sea": 0.30, "brackish": salt_water_ohm_m(5.0, TEMPERATURE_C), "fresh": 50.0}
#: Whole anodes are counted from quotients without the last of binary arithmetic.
_QUOTIENT_DECIMALS = 6


class Governing(IntEnum):
    """What decides the number of anodes; of equals the first."""

    MASS = 0
    INITIAL_CURRENT = 1
    FINAL_CURRENT = 2
    SPACING = 3


@dataclass(frozen=True, kw_only=True)
class CountAt:
    """The number of anodes that are needed in water of some resistivity."""

    resistivity_ohm_m: float
    count: int
    governing: Governing


@dataclass(frozen=True, kw_only=True)
class SameAnode:
    """What the same anode gives in another water, and how long it lasts at that by its charge; None where it is passive."""

    water: str
    resistivity_ohm_m: float
    output_initial_a: float
    charge_life_years: float | None
    material_suited: bool


@dataclass(frozen=True, kw_only=True)
class _Needs:
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


@dataclass(frozen=True, kw_only=True)
class AnodeSizing(_Needs):
    """What is needed, what decides it, and what `count` anodes achieve."""

    resistivity_ohm_m: float
    wetted_area_m2: float
    surface_demands: tuple[SurfaceDemand, ...]
    density: Density
    protection_ag_agcl_v: float | None
    anode: AnodeOutput
    shape: str
    driving_voltage_v: float
    anode_resistance_initial_ohm: float
    anode_resistance_final_ohm: float
    output_initial_a: float
    output_final_a: float
    count: int
    densest_count: int
    current_drawn_a: float
    charge_life_years: float
    expected_life_years: float | None
    demand_met_percent: float
    material_suited: bool
    suited_materials: tuple[str, ...]
    reach_m: float
    stations_m: tuple[float, ...]
    counts_over_range: tuple[CountAt, ...]
    same_anode: tuple[SameAnode, ...]


def anode_sizing(
    *,
    electrolyte: Mapping[str, Any],
    anode: Mapping[str, Any],
    design_life_years: float,
    wetted_area_m2: float | None = None,
    hull: Mapping[str, Any] | None = None,
    surfaces: Sequence[Mapping[str, Any]] | None = None,
    coating: Mapping[str, Any] | None = None,
    current_density: Mapping[str, Any] | None = None,
    extra_current_a: float = 0.0,
    protection_potential_v: float | None = None,
    reference_electrode: str | None = None,
    reach_lengths: float = REACH_LENGTHS,
    spacing_m: float = SPACING_M,
    anode_count: int | None = None,
    moves_to: str | None = None,
) -> AnodeSizing:
    """Size anodes for a hull: by metal, by current new and used up, and by spacing; the largest number governs.

    I = A f i for initial, mean and final; mass = I_mean 8760 t / (u eps); output = driving voltage / R, R by the anode's shape;
    count = max(mass / net mass, I_initial / output new, I_final / output used up, spacing), each rounded up.

    Parameters
    ----------
    electrolyte : mapping
        One of `water` (fresh, brackish, sea), `resistivity_ohm_m` [ohm m], `conductivity_us_per_cm` [uS/cm at 25 C] and
        `salinity`; and `temperature_c` [degC].
    anode : mapping
        `material`, `net_mass_kg` [kg], `length_m`, `width_m`, `thickness_m` [m], `mounting` (flush, stand_off); optional
        `stand_off_m` [m], `capacity_ah_per_kg` [Ah/kg], `utilisation` and `driving_voltage_v` [V].
    design_life_years : float
        [year], 0.5 to 50.
    wetted_area_m2 : float, optional
        [m2]; where neither it nor `surfaces` is given, the box around the hull counts.
    hull : mapping, optional
        `length_m`, `beam_m`, `draught_m` [m]; spacing and stations need it.
    surfaces : sequence of mappings, optional
        `name`, `area_m2` [m2], `coating` and, optionally, `current_density` of each.
    coating : mapping, optional
        `category` (bare, I, II, III), or `initial_breakdown` and `breakdown_per_year` [1/year].
    current_density : mapping, optional
        Of bare steel [A/m2]: `initial_a_per_m2`, `mean_a_per_m2`, `final_a_per_m2`.
    extra_current_a : float, optional
        What propeller and shaft take beside the steel [A].
    protection_potential_v, reference_electrode : optional
        What is asked of the steel [V], and against which electrode; both or neither.
    reach_lengths, spacing_m : float, optional
        How far an anode reaches each way from its centre, in its lengths; how often hulls are fitted [m].
    anode_count : int, optional
        What so many anodes achieve, in place of the number needed.
    moves_to : str, optional
        Another water that the boat goes to.

    Returns
    -------
    AnodeSizing
        `expected_life_years` is None where no life can be told.

    Raises
    ------
    NotApplicableError
        Water, area or coating told twice or not at all, a potential without its electrode, an anode that cannot pull the
        steel so far.

    Notes
    -----
    Valid in open water, for anodes in metallic contact with clean faces. Formulas of resistance assume an even, wide water: in
    a shallow canal the bed hinders the current, and anodes near each other give less than each alone. Zinc and aluminium regulate themselves: no more is drawn than the steel takes.
    Magnesium does not: all that it gives is drawn.

    Examples
    --------
    >>> plate = {"net_mass_kg": 4.5, "length_m": 0.29, "width_m": 0.14, "thickness_m": 0.06, "mounting": "flush"}
    >>> boat = {"wetted_area_m2": 60.0, "coating": {"category": "II"}, "design_life_years": 4.0}
    >>> answer = anode_sizing(electrolyte={"water": "sea"}, anode={**plate, "material": "zinc"}, **boat)
    >>> answer.count, answer.governing.name, answer.material_suited
    (8, 'MASS', True)

    References
    ----------
    dnv-rp-b401-design, dnv-rp-b401-demand, dnv-rp-b401-breakdown, dnv-rp-b401-stand-off, mccoy-1970, mil-hdbk-1004-10,
    tb-43-0144, roberge-2008, faraday, en-12473-electrodes, en-12473-criteria, en-12954-sulphate-reducers,
    ufc-3-570-06-criteria, pss-78, standard-methods-2510, anode-practice, waters-practice
    """
    given = dict(locals())
    refuse(FAULTS, given)
    resistivity = float(rounded(resistivity_of(electrolyte), "ohm m"))
    told_potential = anode.get("driving_voltage_v") is None
    protection = protection_ag_agcl_v(resistivity, protection_potential_v, reference_electrode) if told_potential else None
    output = _output(given, resistivity)
    plates = _surfaces(given)
    density = _density(given, resistivity)
    demands = tuple(_demand(plate, density, design_life_years) for plate in plates)
    needs = _needs(given, demands, output)
    count = needs.count_needed if anode_count is None else anode_count
    drawn = _drawn_a(needs, output, count)
    life = charge_life_years(output, count * anode["net_mass_kg"], drawn)
    area = sum(plate["area_m2"] for plate in plates)
    densest = max(densest_count(area), needs.count_by_spacing or 0)
    return AnodeSizing(
        **vars(needs),
        resistivity_ohm_m=resistivity,
        wetted_area_m2=area,
        surface_demands=demands,
        density=density,
        protection_ag_agcl_v=protection,
        anode=output,
        shape=output.new.shape.name.lower(),
        driving_voltage_v=output.driving_voltage_v,
        anode_resistance_initial_ohm=output.resistance_initial_ohm,
        anode_resistance_final_ohm=output.resistance_final_ohm,
        output_initial_a=output.output_initial_a,
        output_final_a=output.output_final_a,
        count=count,
        densest_count=densest,
        current_drawn_a=drawn,
        charge_life_years=life,
        expected_life_years=_expected_years(output, resistivity, life),
        demand_met_percent=100.0 * min(_met(needs, output, count)),
        material_suited=output.material.suits(resistivity),
        suited_materials=tuple(material.name for material in MATERIALS.values() if material.suits(resistivity)),
        reach_m=reach_m(anode["length_m"], reach_lengths),
        stations_m=stations_m(hull["length_m"], count) if hull is not None and count <= densest else (),
        counts_over_range=_over_range(given) if electrolyte.get("water") == "fresh" else (),
        same_anode=tuple(_elsewhere(given, water, ohm_m) for water, ohm_m in _OTHER_WATERS.items()),
    )


def _output(given: Mapping[str, Any], resistivity: float) -> AnodeOutput:
    """Return what the anode gives in some water, at the potential asked for or the criterion of that water."""
    protection = protection_ag_agcl_v(resistivity, given["protection_potential_v"], given["reference_electrode"])
    return anode_output(given["anode"], resistivity, driving_voltage_v(given["anode"], protection))


def _surfaces(given: Mapping[str, Any]) -> Sequence[Mapping[str, Any]]:
    """Return the surfaces given, or the whole hull as one."""
    if given["surfaces"]:
        return list(given["surfaces"])
    hull, area = given["hull"], given["wetted_area_m2"]
    box = hull_box_m2(hull["length_m"], hull["beam_m"], hull["draught_m"]) if area is None else area
    return [{"name": "hull", "area_m2": box, "coating": given["coating"]}]


def _density(given: Mapping[str, Any], resistivity: float) -> Density:
    own = given["current_density"]
    return density_in(resistivity, given["electrolyte"].get("temperature_c", TEMPERATURE_C)) if own is None else Density(**own)


def _demand(plate: Mapping[str, Any], density: Density, years: float) -> SurfaceDemand:
    own = plate.get("current_density")
    return surface_demand(plate, density if own is None else Density(**own), years)


def _needs(given: Mapping[str, Any], demands: Sequence[SurfaceDemand], output: AnodeOutput) -> _Needs:
    """Return what is asked for and how many anodes each need takes, from figures rounded as they are told."""
    initial, mean, final = (float(rounded(current, "A")) for current in total(demands, given["extra_current_a"]))
    metal = mass_required_kg(mean, given["design_life_years"], output.utilisation, output.capacity_ah_per_kg)
    quotients = (
        metal / given["anode"]["net_mass_kg"],
        initial / output.output_initial_a,
        final / output.output_final_a,
    )
    counts = tuple(max(1, ceil(round(quotient, _QUOTIENT_DECIMALS))) for quotient in quotients)
    reach = reach_m(given["anode"]["length_m"], given["reach_lengths"])
    hull = given["hull"]
    spaced = None if hull is None else count_by_spacing(hull["length_m"], given["spacing_m"], reach)
    needed = max(*counts, spaced or 0)
    return _Needs(
        current_initial_a=initial,
        current_mean_a=mean,
        current_final_a=final,
        net_mass_required_kg=metal,
        quotient_by_mass=quotients[Governing.MASS],
        quotient_by_initial_current=quotients[Governing.INITIAL_CURRENT],
        quotient_by_final_current=quotients[Governing.FINAL_CURRENT],
        count_by_mass=counts[Governing.MASS],
        count_by_initial_current=counts[Governing.INITIAL_CURRENT],
        count_by_final_current=counts[Governing.FINAL_CURRENT],
        count_by_spacing=spaced,
        count_needed=needed,
        governing=Governing([*counts, spaced].index(needed)),
    )


def _drawn_a(needs: _Needs, output: AnodeOutput, count: int) -> float:
    """Return the current that is drawn [A]: all that magnesium gives; of zinc and aluminium no more than the steel takes."""
    given = count * output.output_mean_a
    return float(rounded(min(given, needs.current_mean_a) if output.material.passivates else given, "A"))


def _met(needs: _Needs, output: AnodeOutput, count: int) -> tuple[float, float]:
    """Return how many times the initial and the final demand are met."""
    return (
        count * output.output_initial_a / needs.current_initial_a,
        count * output.output_final_a / needs.current_final_a,
    )


def _expected_years(output: AnodeOutput, resistivity: float, charge_life: float) -> float | None:
    """Return the life by charge; None of a metal that is passive, or that corrodes away by itself before it is used."""
    passive = output.material.passivates and not output.material.suits(resistivity)
    return None if passive or rounded(charge_life, "year") > output.material.longest_years else charge_life


def _over_range(given: Mapping[str, Any]) -> tuple[CountAt, ...]:
    """Return the number needed at either end of what fresh water may be."""
    return tuple(_count_at(given, resistivity) for resistivity in FRESH_RANGE_OHM_M)


def _count_at(given: Mapping[str, Any], resistivity: float) -> CountAt:
    density = _density(given, resistivity)
    demands = [_demand(plate, density, given["design_life_years"]) for plate in _surfaces(given)]
    needs = _needs(given, demands, _output(given, resistivity))
    return CountAt(resistivity_ohm_m=resistivity, count=needs.count_needed, governing=needs.governing)


def _elsewhere(given: Mapping[str, Any], water: str, resistivity: float) -> SameAnode:
    output = _output(given, resistivity)
    suited = output.material.suits(resistivity)
    passive = output.material.passivates and not suited
    life = charge_life_years(output, given["anode"]["net_mass_kg"], output.output_mean_a)
    return SameAnode(
        water=water,
        resistivity_ohm_m=resistivity,
        output_initial_a=output.output_initial_a,
        charge_life_years=None if passive else life,
        material_suited=suited,
    )
