"""Whether two surveys have the same values more often than a gauge repeats itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import bdtrc, ndtr

from platemargin.consistency import NEARLY_ALL, REPEATABILITY_MM
from platemargin.quantities import Array
from platemargin.read_again import PlacesAgain
from platemargin.smooth_reference import resolution_of

__all__ = ["Repeated", "repeated"]

#: Values scattered over fewer steps than this [standard deviation] may all lie in the middle of theirs, where a gauge repeats
#: them best; over more they lie anywhere.
_EVEN_STEPS = 1.2
#: A resolution that no usual one explains is at least as fine as this [mm].
_FINEST_MM = 0.01
_WHOLE = "the whole survey"


@dataclass(frozen=True, kw_only=True)
class Repeated:
    """Where both surveys have the same values; `row` is None for the whole."""

    where: str
    row: int | None
    places: int
    equal: int


def repeated(places: PlacesAgain, alpha: float) -> tuple[int, tuple[Repeated, ...]]:
    """Return at how many places repeats could be judged, and where both surveys have the same values too often."""
    if not len(places):
        return 0, ()
    share, half = _equal_share(places), alpha / 2
    same = np.abs(places.plate_mm - places.previous_mm) < 1e-9  # noqa: PLR2004  mm: binary arithmetic
    if share ** len(places) >= half:
        return 0, ()
    if _too_often(same, share, half):
        return len(places), (Repeated(where=_WHOLE, row=None, places=len(same), equal=int(same.sum())),)
    zones = {zone: rows for zone, rows in places.by_zone.items() if share ** len(rows) < half}
    told = {zone: rows for zone, rows in zones.items() if _too_often(same[rows], share, half / len(zones))}
    return len(places), tuple(
        Repeated(where=zone, row=int(places.row[rows[0]]), places=len(rows), equal=int(same[rows].sum()))
        for zone, rows in told.items()
    )


def _too_often(same: Array, share: float, alpha: float) -> bool:
    equal = int(same.sum())
    return equal >= NEARLY_ALL * len(same) and bool(bdtrc(equal - 1, len(same), share) < alpha)


def _equal_share(places: PlacesAgain) -> float:
    """Return how often a gauge at most reads a place the same twice, where nothing was lost between and it was set the same.

    Two readings of one place differ by d, normal with sqrt(2) of a gauge's repeatability; rounded they are equal with a
    probability of max(0, 1 - |d| / step) where places lie anywhere in their step, and most often in the middle of it.
    """
    step = max(resolution_of(values) or _FINEST_MM for values in (places.previous_mm, places.plate_mm))
    if _spread_mm(places) >= _EVEN_STEPS * step:
        steps = step / (np.sqrt(2) * REPEATABILITY_MM)
        return float(2 * ndtr(steps) - 1 - 2 / steps * (1 - np.exp(-(steps**2) / 2)) / np.sqrt(2 * np.pi))
    edges = (np.arange(-20, 21) - 0.5) * step
    return float((np.diff(ndtr(edges / REPEATABILITY_MM)) ** 2).sum())


def _spread_mm(places: PlacesAgain) -> float:
    """Return how much the readings scatter within their zones [standard deviation]."""
    squares = sum(
        ((values - values.mean()) ** 2).sum() for rows in places.by_zone.values() for values in [places.plate_mm[rows]]
    )
    return float(np.sqrt(squares / len(places)))
