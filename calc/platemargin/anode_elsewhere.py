"""The same anode, and the number of it that is needed, in other waters than the one asked about."""

from __future__ import annotations

from dataclasses import dataclass

from platemargin.anode_life import drawn_a
from platemargin.anode_needs import Governing, demands_in, needs_of, output_in
from platemargin.anode_output import charge_life_years
from platemargin.current_demand import mean_current_a
from platemargin.declared import Arguments
from platemargin.electrolyte import FRESH_RANGE_OHM_M, SALINITY, TEMPERATURE_C, salt_water_ohm_m

__all__ = ["CountAt", "SameAnode", "counts_over_range", "same_anode"]

#: Water in which the same anode is shown beside the one asked about [ohm m]. Reference: waters-practice.
_OTHER_WATERS = {"sea": 0.30, "brackish": salt_water_ohm_m(SALINITY["brackish"], TEMPERATURE_C), "fresh": 50.0}


@dataclass(frozen=True, kw_only=True)
class CountAt:
    """The number of anodes that are needed in water of some resistivity."""

    resistivity_ohm_m: float
    count: int
    governing: Governing


@dataclass(frozen=True, kw_only=True)
class SameAnode:
    """What the same anode gives in another water, and how long so many last at what is drawn there; None where passive."""

    water: str
    resistivity_ohm_m: float
    output_initial_a: float
    charge_life_years: float | None
    material_suited: bool


def counts_over_range(given: Arguments) -> tuple[CountAt, ...]:
    """Return the number needed at either end of what fresh water may be."""
    return tuple(_count_at(given, resistivity) for resistivity in FRESH_RANGE_OHM_M)


def same_anode(given: Arguments, count: int) -> tuple[SameAnode, ...]:
    """Return what so many of the same anode do on this hull in the sea, in brackish and in fresh water."""
    return tuple(_elsewhere(given, count, water, resistivity) for water, resistivity in _OTHER_WATERS.items())


def _count_at(given: Arguments, resistivity: float) -> CountAt:
    needs = needs_of(given, demands_in(given, resistivity), output_in(given, resistivity))
    return CountAt(resistivity_ohm_m=resistivity, count=needs.count_needed, governing=needs.governing)


def _elsewhere(given: Arguments, count: int, water: str, resistivity: float) -> SameAnode:
    output, demands = output_in(given, resistivity), demands_in(given, resistivity)
    mass, extra = given["anode"]["net_mass_kg"], given["extra_current_a"]
    drawn = drawn_a(output, count, mass, lambda years: mean_current_a(demands, extra, years))
    life = charge_life_years(output, count * mass, drawn)
    return SameAnode(
        water=water,
        resistivity_ohm_m=resistivity,
        output_initial_a=output.output_initial_a,
        charge_life_years=None if output.material.passive_in(resistivity) else life,
        material_suited=output.material.suits(resistivity),
    )
