"""What the steel asks for: how much of a coating is gone, and the current that bare steel takes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from platemargin.electrolyte import FRESH_BEGINS_OHM_M
from platemargin.quantities import below

__all__ = [
    "CATEGORIES",
    "Density",
    "SurfaceDemand",
    "breakdown_constants",
    "breakdown_final",
    "breakdown_mean",
    "density_in",
    "hull_box_m2",
    "surface_demand",
    "total",
]

#: Coating breakdown at first and each year, 0 to 30 m of water. I: one layer of epoxy from 20 um; II: marine paint from 250 um;
#: III: two layers or more from 350 um. Bitumen is none of them. Reference: dnv-rp-b401-demand.
CATEGORIES = {"bare": (1.0, 0.0), "I": (0.10, 0.10), "II": (0.05, 0.025), "III": (0.02, 0.012)}


@dataclass(frozen=True, kw_only=True)
class Density:
    """Current that a square metre of bare steel takes [A/m2]: until it is polarised, over the years, and to do so again."""

    initial_a_per_m2: float
    mean_a_per_m2: float
    final_a_per_m2: float


_PER_FT2 = 1e-3 / 0.3048**2  # mA/ft2 in A/m2
#: Bare steel in still fresh water: the top of the published 2 to 4 mA/ft2 to polarise it, the middle to keep it so.
#: Reference: mil-hdbk-1004-10.
_FRESH = Density(initial_a_per_m2=4 * _PER_FT2, mean_a_per_m2=3 * _PER_FT2, final_a_per_m2=4 * _PER_FT2)
#: Bare steel in the sea, 0 to 30 m, from each temperature [degC] on. Reference: dnv-rp-b401-demand.
_SEA = (
    (20.0, Density(initial_a_per_m2=0.15, mean_a_per_m2=0.07, final_a_per_m2=0.10)),
    (12.0, Density(initial_a_per_m2=0.17, mean_a_per_m2=0.08, final_a_per_m2=0.11)),
    (7.0, Density(initial_a_per_m2=0.20, mean_a_per_m2=0.10, final_a_per_m2=0.13)),
)
_SEA_COLD = Density(initial_a_per_m2=0.25, mean_a_per_m2=0.12, final_a_per_m2=0.17)


@dataclass(frozen=True, kw_only=True)
class SurfaceDemand:
    """One surface: what bare steel takes there [A/m2], how much of it is bare, and the current [A] that it then takes."""

    name: str
    area_m2: float
    initial_a_per_m2: float
    mean_a_per_m2: float
    final_a_per_m2: float
    breakdown_initial: float
    breakdown_mean: float
    breakdown_final: float
    breakdown_per_year: float
    current_initial_a: float
    current_mean_a: float
    current_final_a: float


def hull_box_m2(length_m: float, beam_m: float, draught_m: float) -> float:
    """Return the wetted area of the box around a hull, L B + 2 T (L + B): no hull has more.

    Examples
    --------
    >>> hull_box_m2(17.5, 2.1, 0.6)
    60.27
    """
    return round(length_m * beam_m + 2.0 * draught_m * (length_m + beam_m), 9)


def breakdown_constants(coating: Mapping[str, Any]) -> tuple[float, float]:
    """Return the part of a coating that is gone at first, and what goes each year."""
    if coating.get("category") is not None:
        return CATEGORIES[coating["category"]]
    return coating["initial_breakdown"], coating["breakdown_per_year"]


def breakdown_final(initial: float, per_year: float, years: float) -> float:
    """Return a + b t, at most 1.

    References
    ----------
    dnv-rp-b401-breakdown
    """
    return min(1.0, initial + per_year * years)


def breakdown_mean(initial: float, per_year: float, years: float) -> float:
    """Return the mean of min(1, a + b t) over the years: a + b t / 2, or 1 - (1 - a)^2 / (2 b t) once all is gone.

    Examples
    --------
    >>> round(breakdown_mean(0.1, 0.1, 10.0), 4)
    0.595

    References
    ----------
    dnv-rp-b401-breakdown
    """
    if initial + per_year * years <= 1.0:
        return initial + per_year * years / 2.0
    return 1.0 - (1.0 - initial) ** 2 / (2.0 * per_year * years)


def density_in(resistivity_ohm_m: float, temperature_c: float) -> Density:
    """Return what bare steel takes: still fresh water from 10 ohm m on, the sea's by temperature in all that is salt.

    Notes
    -----
    Where fresh water moves past the hull it takes 4 to 6 mA/ft2, half as much again.

    References
    ----------
    mil-hdbk-1004-10, dnv-rp-b401-demand
    """
    if not below(resistivity_ohm_m, FRESH_BEGINS_OHM_M, "ohm m"):
        return _FRESH
    return next((density for from_c, density in _SEA if temperature_c >= from_c), _SEA_COLD)


def surface_demand(surface: Mapping[str, Any], density: Density, years: float) -> SurfaceDemand:
    """Return what one surface takes: area x breakdown x current density.

    References
    ----------
    dnv-rp-b401-breakdown
    """
    area, (initial, per_year) = surface["area_m2"], breakdown_constants(surface["coating"])
    mean, final = breakdown_mean(initial, per_year, years), breakdown_final(initial, per_year, years)
    return SurfaceDemand(
        name=surface["name"],
        area_m2=area,
        initial_a_per_m2=density.initial_a_per_m2,
        mean_a_per_m2=density.mean_a_per_m2,
        final_a_per_m2=density.final_a_per_m2,
        breakdown_initial=initial,
        breakdown_mean=mean,
        breakdown_final=final,
        breakdown_per_year=per_year,
        current_initial_a=area * initial * density.initial_a_per_m2,
        current_mean_a=area * mean * density.mean_a_per_m2,
        current_final_a=area * final * density.final_a_per_m2,
    )


def mean_current_a(surfaces: Sequence[SurfaceDemand], extra_a: float, years: float) -> float:
    """Return what all surfaces take on average over some years [A], the coating breaking down as it goes.

    References
    ----------
    dnv-rp-b401-breakdown
    """
    worn = (breakdown_mean(one.breakdown_initial, one.breakdown_per_year, years) for one in surfaces)
    return extra_a + sum(one.area_m2 * part * one.mean_a_per_m2 for one, part in zip(surfaces, worn, strict=True))


def total(surfaces: Sequence[SurfaceDemand], extra_a: float) -> tuple[float, float, float]:
    """Return the initial, mean and final current of all surfaces and of what else is connected to them [A]."""
    return (
        sum(surface.current_initial_a for surface in surfaces) + extra_a,
        sum(surface.current_mean_a for surface in surfaces) + extra_a,
        sum(surface.current_final_a for surface in surfaces) + extra_a,
    )
