"""How many anodes a hull needs, which of its needs decides that, and what so many then achieve."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from platemargin.anode_elsewhere import CountAt, SameAnode, counts_over_range, same_anode
from platemargin.anode_layout import REACH_LENGTHS, SPACING_M, densest_count, reach_m, stations_m
from platemargin.anode_life import drawn_a, expected_years
from platemargin.anode_materials import MATERIALS
from platemargin.anode_needs import Governing, Needs, demands_in, density_used, needs_of, output_in
from platemargin.anode_output import AnodeOutput, charge_life_years, protection_ag_agcl_v
from platemargin.anode_sizing_faults import FAULTS
from platemargin.anode_sizing_findings import FINDINGS
from platemargin.anode_sizing_working import ASSUMED, WORKING, working_figures
from platemargin.current_demand import Density, SurfaceDemand, mean_current_a
from platemargin.declared import refuse
from platemargin.electrolyte import resistivity_of
from platemargin.quantities import rounded

__all__ = ["ASSUMED", "FAULTS", "FINDINGS", "WORKING", "AnodeSizing", "Governing", "anode_sizing", "working_figures"]


@dataclass(frozen=True, kw_only=True)
class AnodeSizing(Needs):
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
    densest_met_percent: float
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
        `length_m`, `beam_m`, `draught_m` [m]; spacing and stations need it. `material` of its shell, steel where it is not
        told.
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
        Another water that the boat goes to; so many anodes, at what the steel takes there, are told of it.

    Returns
    -------
    AnodeSizing
        `expected_life_years` is None where no life can be told.

    Raises
    ------
    NotApplicableError
        Water, area or coating told twice or not at all, a potential without its electrode or that no steel in water has, an
        anode that cannot pull the steel so far, a hull that is not of steel or iron, the boat's own water as another.

    Notes
    -----
    Valid in open water, for anodes in metallic contact with clean faces. Formulas of resistance assume an even, wide water: in
    a shallow canal the bed hinders the current, and anodes near each other give less than each alone. Zinc and aluminium
    regulate themselves: no more is drawn than the steel takes. Magnesium does not: all that it gives is drawn.

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
    output, demands = output_in(given, resistivity), demands_in(given, resistivity)
    needs = needs_of(given, demands, output)
    count = needs.count_needed if anode_count is None else anode_count
    drawn = drawn_a(output, count, anode["net_mass_kg"], lambda years: mean_current_a(demands, extra_current_a, years))
    life = charge_life_years(output, count * anode["net_mass_kg"], drawn)
    area = sum(demand.area_m2 for demand in demands)
    densest = max(densest_count(area), needs.count_by_spacing or 0)
    by_potential = anode.get("driving_voltage_v") is None
    return AnodeSizing(
        **vars(needs),
        resistivity_ohm_m=resistivity,
        wetted_area_m2=area,
        surface_demands=demands,
        density=density_used(given, resistivity),
        protection_ag_agcl_v=(
            protection_ag_agcl_v(resistivity, protection_potential_v, reference_electrode) if by_potential else None
        ),
        anode=output,
        shape=output.new.shape.name.lower(),
        driving_voltage_v=output.driving_voltage_v,
        anode_resistance_initial_ohm=output.resistance_initial_ohm,
        anode_resistance_final_ohm=output.resistance_final_ohm,
        output_initial_a=output.output_initial_a,
        output_final_a=output.output_final_a,
        count=count,
        densest_count=densest,
        densest_met_percent=_met_percent(needs, output, densest),
        current_drawn_a=drawn,
        charge_life_years=life,
        expected_life_years=expected_years(output, resistivity, life),
        demand_met_percent=_met_percent(needs, output, count),
        material_suited=output.material.suits(resistivity),
        suited_materials=tuple(material.name for material in MATERIALS.values() if material.suits(resistivity)),
        reach_m=reach_m(anode["length_m"], reach_lengths),
        stations_m=stations_m(hull["length_m"], count) if hull is not None and count <= densest else (),
        counts_over_range=counts_over_range(given) if electrolyte.get("water") == "fresh" else (),
        same_anode=same_anode(given, count),
    )


def _met_percent(needs: Needs, output: AnodeOutput, count: int) -> float:
    """Return which part of the demand is met when it is least: of the initial by new anodes, of the final by used up ones."""
    initial = output.output_initial_a / needs.current_initial_a
    return 100.0 * count * min(initial, output.output_final_a / needs.current_final_a)
