"""Where plate was lost faster than is seen since a previous survey, or reads thicker than it did."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.special import bdtrc, ndtri

from platemargin.consistency import LEAST_IN_ZONE, MOST_MM_PER_YEAR
from platemargin.mean_rates import CALIBRATION_STANDARD_UNCERTAINTY_MM, LEVEL, mean_of
from platemargin.quantities import Floats, below
from platemargin.read_again import PlacesAgain, ReadAgain
from platemargin.smooth_reference import resolution_of

__all__ = ["Thicker", "TooFast", "thicker", "too_fast"]

_WHOLE = "the whole survey"


@dataclass(frozen=True, kw_only=True)
class TooFast:
    """A zone with plate that went faster than is seen; the fastest of it."""

    zone: str
    row: int
    reading: str
    count: int
    plate_mm: float
    previous_mm: float
    years: float


@dataclass(frozen=True, kw_only=True)
class Thicker:
    """Where plate reads thicker than before; `row` is None for the whole, `thicker_mm` the mean of those that do."""

    where: str
    row: int | None
    places: int
    count: int
    thicker_mm: float


def too_fast(places: PlacesAgain, again: ReadAgain, alpha: float) -> Iterator[TooFast]:
    """Yield the zones with places that lost over the most that is seen, by more than two gauges and so many places explain.

    Where only stations say what is of one place, a thin reading beside a thick one may be of the thin place of before.
    """
    lost = places.thinnest_then_mm - places.thickest_now_mm
    uncertainty = np.hypot(np.sqrt(2) * again.plate_standard_uncertainty_mm, _rounding_mm(places))
    explained = MOST_MM_PER_YEAR * again.years_since + _beyond(alpha, len(places)) * uncertainty
    fast = np.asarray(below(explained, lost, "mm"))
    for zone, rows in places.by_zone.items():
        members = rows[fast[rows]]
        if len(members):
            worst = int(members[np.argmax(places.previous_mm[members] - places.plate_mm[members])])
            yield TooFast(zone=zone, count=len(members), years=again.years_since, **places.told(worst))


def _rounding_mm(places: PlacesAgain) -> float:
    """Return the standard uncertainty of two roundings: plates alike are all rounded the same way."""
    steps = [resolution_of(values) or 0.0 for values in (places.previous_mm, places.plate_mm) if len(values)]
    return float(np.sqrt(sum(step**2 for step in steps) / 12))


def _beyond(alpha: float, tests: int) -> float:
    """Return how many standard uncertainties one of several one-sided tests has to exceed (Bonferroni)."""
    return float(ndtri(1 - alpha / max(tests, 1)))


def thicker(places: PlacesAgain, again: ReadAgain, alpha: float) -> Iterator[Thicker]:
    """Yield the zones that are thicker in the mean; else the whole survey where too many of its places are."""
    grown = places.plate_mm - places.previous_mm
    own = np.sqrt(2) * again.plate_standard_uncertainty_mm
    setting = float(np.hypot(np.sqrt(2) * CALIBRATION_STANDARD_UNCERTAINTY_MM, _rounding_mm(places)))
    zones = {zone: rows for zone, rows in places.by_zone.items() if len(rows) >= LEAST_IN_ZONE}
    told = False
    for zone, rows in zones.items():
        mean = mean_of(grown[rows], np.full(len(rows), own), setting, np.zeros(len(rows), dtype=int))
        if below(_beyond(alpha / 2, len(zones)) * mean.standard_uncertainty, mean.mean, "mm"):
            told = True
            yield _thicker_at(zone, int(places.row[rows[0]]), grown[rows])
    if not told and len(places) >= LEAST_IN_ZONE and _grew_often(grown, own, setting, alpha / 2):
        yield _thicker_at(_WHOLE, None, grown)


def _grew_often(grown: Floats, own: float, setting: float, alpha: float) -> bool:
    """Tell whether too many places grew, even were both gauges set as far apart as may be."""
    explained = _beyond(alpha / 2, 1) * setting + _beyond(LEVEL / 2, 1) * own
    count = int(np.count_nonzero(below(explained, grown, "mm")))
    return bool(bdtrc(count - 1, len(grown), LEVEL / 2) < alpha / 2)


def _thicker_at(where: str, row: int | None, grown: Floats) -> Thicker:
    more = grown[grown > 0]
    return Thicker(where=where, row=row, places=len(grown), count=len(more), thicker_mm=float(more.mean()))
