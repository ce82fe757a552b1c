"""Anodes as they are found on a hull: what went of each, what that gave, and whether it still does anything."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

from platemargin.anode_layout import reach_m
from platemargin.anode_materials import HOURS_A_YEAR, UTILISATION, AnodeShape, Material, material_named
from platemargin.anode_reach import Interval
from platemargin.quantities import at_least, below, rounded
from platemargin.readings import HullSide, Side

__all__ = [
    "MOST_OHM",
    "NO_CURRENT",
    "UTILISATION_USED",
    "WORKING",
    "AnodeResult",
    "FittedAnode",
    "anode_results",
]

#: An anode, as it is sent.
FittedAnode: TypeAlias = Mapping[str, Any]
AnodeState: TypeAlias = Literal["painted", "disconnected", "unsuited", "used_up", "unused", "new", "working"]

#: What is used of an anode whose shape is not told: the least of any shape. Reference: dnv-rp-b401-design.
UTILISATION_USED = UTILISATION[AnodeShape.SHORT_FLUSH]
#: Between an anode and the hull, more than this is no connection [ohm]. Reference: anode-continuity.
MOST_OHM = 0.1
#: An anode younger than this [year] is new: what went of it tells of a pace where it is a tenth at least, and of an older one
#: where it is a hundredth: less cannot be told from nothing by weight or by eye (own rule; no source).
_NEW_YEARS = 1.0
_USED_NEW_PERCENT, _USED_PERCENT = 10.0, 1.0
#: What counts within its reach, and what gives no current whatever its reach.
WORKING = ("working", "new")
NO_CURRENT = ("painted", "disconnected", "unsuited", "used_up", "unused")


@dataclass(frozen=True, kw_only=True)
class AnodeResult:
    """One anode; `remaining_years` is None where nothing can be told from what went of it."""

    station_m: float
    side: Side
    material: str
    original_mass_kg: float
    remaining_percent: float
    years_fitted: float
    length_m: float
    state: AnodeState
    counts: bool
    consumed_kg: float
    consumption_kg_per_year: float
    capacity_ah_per_kg: float
    mean_output_a: float
    utilisation: float
    life_at_this_rate_years: float | None
    remaining_years: float | None
    reach_m: float

    def reaches(self, side: HullSide) -> Interval | None:
        """Return the interval of a side that it reaches, None where it counts for nothing there; the centreline is both's."""
        if not self.counts or self.side not in (side, "centreline"):
            return None
        return self.station_m - self.reach_m, self.station_m + self.reach_m


def anode_results(
    anodes: Sequence[FittedAnode], water: str | None, hull_material: str | None, reach_lengths: float
) -> tuple[AnodeResult, ...]:
    """Return what each anode tells; see `anode_condition`."""
    return tuple(_result(anode, water, hull_material, reach_lengths) for anode in anodes)


def _result(anode: FittedAnode, water: str | None, hull_material: str | None, reach_lengths: float) -> AnodeResult:
    metal = material_named(anode["material"])
    capacity = anode.get("capacity_ah_per_kg", metal.capacity_ah_per_kg)
    utilisation = anode.get("utilisation", UTILISATION_USED)
    mass, consumed = anode["original_mass_kg"], anode["original_mass_kg"] * (1.0 - anode["remaining_percent"] / 100.0)
    rate = consumed / anode["years_fitted"]
    state = _state(anode, metal, water, hull_material, utilisation)
    life = utilisation * mass / rate if _is_used(anode) else None
    return AnodeResult(
        station_m=anode["station_m"],
        side=anode["side"],
        material=anode["material"],
        original_mass_kg=mass,
        remaining_percent=anode["remaining_percent"],
        years_fitted=anode["years_fitted"],
        length_m=anode["length_m"],
        state=state,
        counts=state in WORKING,
        consumed_kg=consumed,
        consumption_kg_per_year=rate,
        capacity_ah_per_kg=capacity,
        mean_output_a=capacity * rate / HOURS_A_YEAR,
        utilisation=utilisation,
        life_at_this_rate_years=life,
        remaining_years=_remaining_years(anode["years_fitted"], life, state, metal),
        reach_m=reach_m(anode["length_m"], reach_lengths),
    )


def _state(anode: FittedAnode, metal: Material, water: str | None, hull_material: str | None, utilisation: float) -> AnodeState:
    """Return the first that holds of what keeps an anode from working."""
    gone = 100.0 - anode["remaining_percent"]
    if anode.get("painted"):
        return "painted"
    if below(MOST_OHM, anode.get("continuity_ohm", 0.0), "ohm"):
        return "disconnected"
    if _is_unsuited(metal, water, hull_material):
        return "unsuited"
    if at_least(gone, 100.0 * utilisation, "%"):
        return "used_up"
    if not _is_used(anode):
        return "new" if _is_new(anode) else "unused"
    return "working"


def _is_unsuited(metal: Material, water: str | None, hull_material: str | None) -> bool:
    """Tell of zinc and aluminium that turn passive, and of magnesium that salt water spends or that destroys the hull."""
    if metal.passivates:
        return water == "fresh"
    return water in ("brackish", "sea") or hull_material == "aluminium"


def _is_new(anode: FittedAnode) -> bool:
    return bool(below(anode["years_fitted"], _NEW_YEARS, "year"))


def _is_used(anode: FittedAnode) -> bool:
    least = _USED_NEW_PERCENT if _is_new(anode) else _USED_PERCENT
    return bool(at_least(100.0 - anode["remaining_percent"], least, "%"))


def _remaining_years(fitted: float, life: float | None, state: AnodeState, metal: Material) -> float | None:
    """Return the years to the utilisation limit at the pace so far; None past what a metal can be counted on for."""
    if state == "used_up":
        return 0.0
    if state != "working" or life is None:
        return None
    left = max(0.0, life - fitted)
    return None if float(rounded(left, "year")) > metal.longest_years else left
