"""How a number of anodes was worked out, line by line, and what was taken for what nobody sent."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from math import pi
from typing import Any

from platemargin.anode_materials import HOURS_A_YEAR
from platemargin.anode_output import criterion_in
from platemargin.anode_resistance import NEAR_M, NEAREST_M
from platemargin.current_demand import SurfaceDemand
from platemargin.declared import Arguments, Assumption, Step
from platemargin.quantities import rounded

__all__ = ["ASSUMED", "WORKING", "working_figures"]

_STAGES = ("initial", "mean", "final")
_MEASURES = {"length": "length_m", "width": "width_m", "radius": "radius_m", "exposed": "exposed_m2"}


def _stage(stage: str) -> tuple[Step, ...]:
    """Return the working of one surface's current and of all surfaces together, at one stage of the life."""
    return (
        Step(
            symbol=f"current_{stage}_a",
            formula=f"area_m2 x breakdown_{stage} x {stage}_a_per_m2",
            substituted=f"{{area_m2}} * {{breakdown_{stage}}} * {{{stage}_a_per_m2}}",
            value=f"surface_{stage}_a",
            unit="A",
            reference="dnv-rp-b401-breakdown",
        ),
        Step(
            symbol=f"current_{stage}_a of all",
            formula="sum over surfaces + extra_current_a",
            substituted=f"{{surfaces_{stage}_a}} + {{extra_current_a}}",
            value=f"current_{stage}_a",
            unit="A",
            reference="dnv-rp-b401-demand",
        ),
    )


def _resistance(shape: str, formula: str, substituted: str, reference: str = "dnv-rp-b401-design") -> tuple[Step, ...]:
    """Return the working of the resistance of one shape, new and used up."""
    return tuple(
        Step(
            symbol=f"anode_resistance_{stage}_ohm",
            formula=formula,
            substituted=substituted.replace("@", stage),
            value=f"anode_resistance_{stage}_ohm",
            unit="ohm",
            reference=reference,
            when=lambda v: v["shape"] == shape,
        )
        for stage in ("initial", "final")
    )


def _quotient(need: str, formula: str, substituted: str, reference: str = "dnv-rp-b401-design") -> Step:
    return Step(
        symbol=f"quotient_by_{need}",
        formula=formula,
        substituted=substituted,
        value=f"quotient_by_{need}",
        unit="1",
        reference=reference,
    )


WORKING = (
    *(step for stage in _STAGES for step in _stage(stage)),
    Step(
        symbol="net_mass_required_kg",
        formula="current_mean_a x 8760 x design_life_years / (utilisation x capacity_ah_per_kg)",
        substituted="{current_mean_a} * {hours} * {design_life_years} / ({utilisation} * {capacity_ah_per_kg})",
        value="net_mass_required_kg",
        unit="kg",
        reference="dnv-rp-b401-design",
    ),
    *_resistance(
        "long_stand_off",
        "near_factor x rho / (2 pi L) (ln(4 L / r) - 1)",
        "{near_factor} * {resistivity_ohm_m} / (2 * {pi} * {length_@}) * (ln(4 * {length_@} / {radius_@}) - 1)",
    ),
    *_resistance(
        "short_stand_off",
        "near_factor x rho / (2 pi L) (ln(2 L / r (1 + q)) + r / 2 L - q), q = sqrt(1 + (r / 2 L)^2)",
        "{near_factor} * {resistivity_ohm_m} / (2 * {pi} * {length_@}) * (ln(2 * {length_@} / {radius_@} * "
        "(1 + sqrt(1 + ({radius_@} / (2 * {length_@}))^2))) + {radius_@} / (2 * {length_@}) - "
        "sqrt(1 + ({radius_@} / (2 * {length_@}))^2))",
    ),
    *_resistance("long_flush", "rho / (2 S), S = (L + W) / 2", "{resistivity_ohm_m} / ({length_@} + {width_@})"),
    *_resistance("short_flush", "0.315 rho / sqrt(A)", "0.315 * {resistivity_ohm_m} / sqrt({exposed_@})", "mccoy-1970"),
    *(
        Step(
            symbol=f"output_{stage}_a",
            formula=f"driving_voltage_v / anode_resistance_{stage}_ohm",
            substituted=f"{{driving}} / {{anode_resistance_{stage}_ohm}}",
            value=f"output_{stage}_a",
            unit="A",
            reference="dnv-rp-b401-design",
        )
        for stage in ("initial", "final")
    ),
    _quotient("mass", "net_mass_required_kg / net_mass_kg", "{net_mass_required_kg} / {net_mass_kg}"),
    _quotient("initial_current", "current_initial_a / output_initial_a", "{current_initial_a} / {output_initial_a}"),
    _quotient("final_current", "current_final_a / output_final_a", "{current_final_a} / {output_final_a}"),
    _quotient(
        "spacing",
        "2 x hull length / min(spacing_m, 2 x reach_m)",
        "2 * {hull_length} / min({spacing}, 2 * {reach_lengths} * {length_initial})",
        "anode-practice",
    ),
    Step(
        symbol="demand_met_percent",
        formula="100 count x min(output_initial_a / current_initial_a, output_final_a / current_final_a)",
        substituted="100 * {count} * min({output_initial_a} / {current_initial_a}, {output_final_a} / {current_final_a})",
        value="demand_met_percent",
        unit="%",
        reference="dnv-rp-b401-design",
    ),
    Step(
        symbol="expected_life_years",
        formula="count x net_mass_kg x utilisation x capacity_ah_per_kg / (8760 x current_drawn_a)",
        substituted="{count} * {net_mass_kg} * {utilisation} * {capacity_ah_per_kg} / ({hours} * {current_drawn_a})",
        value="expected_life_years",
        unit="year",
        reference="dnv-rp-b401-design",
    ),
)


def working_figures(figures: Mapping[str, Any], result: Any) -> Sequence[Mapping[str, Any]]:
    """Return the figures of each surface, and of the anode and the numbers."""
    return [*map(_of_surface, result.surface_demands), _of_anode(figures, result)]


def _of_surface(surface: SurfaceDemand) -> dict[str, Any]:
    currents = {f"surface_{stage}_a": float(rounded(getattr(surface, f"current_{stage}_a"), "A")) for stage in _STAGES}
    return {**asdict(surface), **currents, "of": surface.name}


def _of_anode(figures: Mapping[str, Any], result: Any) -> dict[str, Any]:
    """Return the figures of the anode; those of its shape and voltage as they were reckoned with, not as they are told."""
    anode, hull = result.anode, figures.get("hull")
    sizes = {
        f"{measure}_{stage}": getattr(size, attribute)
        for stage, size in (("initial", anode.new), ("final", anode.used))
        for measure, attribute in (
            ("length", "length_m"),
            ("width", "width_m"),
            ("radius", "radius_m"),
            ("exposed", "exposed_m2"),
        )
    }
    sums = {
        f"surfaces_{stage}_a": sum(getattr(surface, f"current_{stage}_a") for surface in result.surface_demands)
        for stage in _STAGES
    }
    quotients = {
        f"quotient_by_{need}": round(getattr(result, f"quotient_by_{need}"), 6)
        for need in ("mass", "initial_current", "final_current")
    }
    length = None if hull is None else hull["length_m"]
    nearest = min(figures["spacing_m"], 2 * result.reach_m)
    return {
        **figures,
        **sizes,
        **sums,
        **quotients,
        "of": "anode",
        "pi": pi,
        "hours": HOURS_A_YEAR,
        "near_factor": anode.near_factor,
        "driving": anode.driving_voltage_v,
        "net_mass_kg": figures["anode"]["net_mass_kg"],
        "utilisation": anode.utilisation,
        "capacity_ah_per_kg": anode.capacity_ah_per_kg,
        "hull_length": length,
        "spacing": figures["spacing_m"],
        "quotient_by_spacing": None if length is None else round(2 * length / nearest, 6),
    }


def _told_water(arguments: Arguments) -> str | None:
    water: str | None = arguments["electrolyte"].get("water")
    return water


def _criterion_basis(_arguments: Arguments, result: Any) -> str:
    fresh = criterion_in(result.resistivity_ohm_m)[1].name == "CSE"
    return (
        "protected steel in fresh water, against copper/copper sulphate"
        if fresh
        else "protected steel in salt water, against silver/silver chloride in sea water"
    )


def _density_basis(_arguments: Arguments, result: Any) -> str:
    if criterion_in(result.resistivity_ohm_m)[1].name == "CSE":
        return "bare steel in still fresh water (MIL-HDBK-1004/10 Table 1); half as much again where the water moves"
    return "bare steel in the sea at this temperature, 0 to 30 m (DNV-RP-B401, from memory); brackish water counts as the sea"


def _lacks(name: str) -> Any:
    return lambda arguments, _result: arguments["anode"].get(name) is None


ASSUMED = (
    Assumption(
        field="electrolyte.resistivity_ohm_m",
        value=lambda _, r: r.resistivity_ohm_m,
        unit="ohm m",
        basis=lambda a, _: {
            "sea": "salinity 35 at the water's temperature (common practice)",
            "brackish": "salinity 5 at the water's temperature (common practice)",
            "fresh": "a canal or river of 200 uS/cm (common practice); fresh water is 10 to 100 ohm m",
        }[str(_told_water(a))],
        when=lambda a, _: _told_water(a) is not None,
    ),
    Assumption(
        field="wetted_area_m2",
        value=lambda _, r: r.wetted_area_m2,
        unit="m2",
        basis="the box around the hull, L B + 2 T (L + B): no hull of these measures has more",
        when=lambda a, _: not a["surfaces"] and a["wetted_area_m2"] is None,
    ),
    Assumption(
        field="current_density",
        value=lambda _, r: {name: float(rounded(value, "A/m2")) for name, value in asdict(r.density).items()},
        unit="A/m2",
        basis=_density_basis,
        when=lambda a, _: (
            a["current_density"] is None and not all(surface.get("current_density") for surface in a["surfaces"] or [{}])
        ),
    ),
    Assumption(
        field="protection_potential_v",
        value=lambda _, r: criterion_in(r.resistivity_ohm_m)[0],
        unit="V",
        basis=_criterion_basis,
        when=lambda a, r: a["protection_potential_v"] is None and r.protection_ag_agcl_v is not None,
    ),
    Assumption(
        field="anode.capacity_ah_per_kg",
        value=lambda _, r: r.anode.capacity_ah_per_kg,
        unit="Ah/kg",
        basis="what the metal gives in practice: DNV-RP-B401 (zinc, aluminium; from memory), Roberge (magnesium)",
        when=_lacks("capacity_ah_per_kg"),
    ),
    Assumption(
        field="anode.utilisation",
        value=lambda _, r: r.anode.utilisation,
        unit="1",
        basis="DNV-RP-B401 Table 10-8 by shape, from memory",
        when=_lacks("utilisation"),
    ),
    Assumption(
        field="anode.driving_voltage_v",
        value=lambda _, r: r.driving_voltage_v,
        unit="V",
        basis="protection potential less the closed-circuit potential of the metal in sea water",
        when=_lacks("driving_voltage_v"),
    ),
    Assumption(
        field="anode.stand_off_m",
        value=NEAR_M,
        unit="m",
        basis=f"far enough from the steel; from {NEAREST_M} m on the resistance is 1.3 times",
        when=lambda a, _: a["anode"]["mounting"] == "stand_off" and a["anode"].get("stand_off_m") is None,
    ),
    Assumption(
        field="densest_count",
        value=lambda _, r: r.densest_count,
        unit="1",
        basis="two anodes on 100 ft2 of bare steel, which TB 43-0144 says of zincs on a hull: taken here for any metal and "
        "size (own rule), or as many as the spacing asks for",
        when=lambda _a, _r: True,
    ),
)
