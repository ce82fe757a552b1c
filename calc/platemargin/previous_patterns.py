"""What the readings of two surveys say beside each other: the same values, another unit, too fast a loss, growth.

Only the plate is compared: a pit that was measured once, or another pit of the same place, is no fault of the data.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from scipy.special import bdtrc, ndtr, ndtri

from platemargin.consistency import (
    LEAST_IN_ZONE,
    MM_PER_INCH,
    MOST_MM_PER_YEAR,
    NEARLY_ALL,
    REPEATABILITY_MM,
    Mask,
    likely_left,
)
from platemargin.mean_rates import CALIBRATION_STANDARD_UNCERTAINTY_MM, LEVEL, mean_of
from platemargin.quantities import Array, Floats, below
from platemargin.read_again import ReadAgain
from platemargin.smooth_reference import resolution_of

__all__ = ["InOtherUnit", "PreviousPatterns", "Repeated", "Thicker", "TooFast", "previous_patterns"]

#: Values scattered over fewer steps than this [standard deviation] may all lie in the middle of theirs, where a gauge repeats
#: them best; over more they lie anywhere.
_EVEN_STEPS = 1.2
#: A resolution that no usual one explains is at least as fine as this [mm].
_FINEST_MM = 0.01
#: What a slip of unit or decimal point makes of a value, in words.
_SLIPS = {
    10.0: "ten times",
    0.1: "a tenth of",
    MM_PER_INCH: "25.4 times (as mm are of inches)",
    1 / MM_PER_INCH: "a 25.4th of (as inches are of mm)",
}
_WHOLE = "the whole survey"


@dataclass(frozen=True, kw_only=True)
class Repeated:
    """Where both surveys have the same values; `row` is None for the whole."""

    where: str
    row: int | None
    places: int
    equal: int


@dataclass(frozen=True, kw_only=True)
class InOtherUnit:
    """A zone whose values are those of the previous survey times a figure that a slip makes; the first of them."""

    zone: str
    row: int
    reading: str
    count: int
    times: str
    plate_mm: float
    previous_mm: float


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


@dataclass(frozen=True, kw_only=True)
class PreviousPatterns:
    """What is to be asked about two surveys of one hull, and at how many places it could be."""

    surveyed_on: date
    places: int
    repeated_judged: int
    thicker_judged: int
    repeated: tuple[Repeated, ...]
    in_other_unit: tuple[InOtherUnit, ...]
    too_fast: tuple[TooFast, ...]
    thicker: tuple[Thicker, ...]


@dataclass(frozen=True, kw_only=True)
class _Places:
    """The places that both surveys read, of metal: this survey's rows and ids, and what each survey read [mm].

    `one_plate` is false where the two say that the plate started with another thickness: a station noted a little out may be
    beyond a seam.
    """

    row: Array
    reading: Array
    zone: Array
    previous_mm: Floats
    plate_mm: Floats
    one_plate: Mask

    def __len__(self) -> int:
        return len(self.row)

    def only(self, which: Array) -> _Places:
        """Return some of the places."""
        return _Places(**{name: column[which] for name, column in vars(self).items()})

    @property
    def by_zone(self) -> dict[str, Array]:
        """The places of each zone."""
        found: dict[str, list[int]] = {}
        for place, zone in enumerate(self.zone.tolist()):
            found.setdefault(zone, []).append(place)
        return {zone: np.array(members) for zone, members in found.items()}


def previous_patterns(again: ReadAgain, alpha: float) -> PreviousPatterns:
    """Return what is to be asked about two surveys; an honest pair is asked about at most so often."""
    each = alpha / 4
    places = _places(again)
    slips = _slips(places)
    in_unit = places.only((slips == 0) & places.one_plate)
    repeated_judged, repeated = _repeated(places, each)
    return PreviousPatterns(
        surveyed_on=again.surveyed_on,
        places=len(places),
        repeated_judged=repeated_judged,
        thicker_judged=len(in_unit) if len(in_unit) >= LEAST_IN_ZONE else 0,
        repeated=repeated,
        in_other_unit=tuple(_in_other_unit(places, slips)),
        too_fast=tuple(_too_fast(in_unit, again, each)),
        thicker=tuple(_thicker(in_unit, again, each)),
    )


def _places(again: ReadAgain) -> _Places:
    """Return the places in the order in which this survey read them; a hole has no thickness to compare."""
    order = np.argsort(again.now)
    then, now = again.then[order], again.now[order]
    places = _Places(
        row=now,
        reading=again.later.id[now],
        zone=again.later.zone[now],
        previous_mm=again.earlier.plate_mm[then],
        plate_mm=again.later.plate_mm[now],
        one_plate=~(np.abs(again.earlier.original_mm[then] - again.later.original_mm[now]) > 0),
    )
    return places.only((places.previous_mm > 0) & (places.plate_mm > 0))


# -- the same values --


def _repeated(places: _Places, alpha: float) -> tuple[int, tuple[Repeated, ...]]:
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


def _equal_share(places: _Places) -> float:
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


def _spread_mm(places: _Places) -> float:
    """Return how much the readings scatter within their zones [standard deviation]."""
    squares = sum(
        ((values - values.mean()) ** 2).sum() for rows in places.by_zone.values() for values in [places.plate_mm[rows]]
    )
    return float(np.sqrt(squares / len(places)))


# -- another unit --


def _slips(places: _Places) -> Floats:
    """Return for each place the figure by which the previous reading was multiplied; 0 where it was not."""
    told = np.zeros(len(places))
    for times in _SLIPS:
        told[likely_left(places.plate_mm / times, places.previous_mm)] = times
    return told


def _in_other_unit(places: _Places, slips: Floats) -> Iterator[InOtherUnit]:
    for zone, rows in places.by_zone.items():
        for times, words in _SLIPS.items():
            slipped = rows[slips[rows] == times]
            if len(slipped):
                yield InOtherUnit(zone=zone, count=len(slipped), times=words, **_told(places, int(slipped[0])))


def _told(places: _Places, place: int) -> dict[str, Any]:
    return {
        "row": int(places.row[place]),
        "reading": str(places.reading[place]),
        "plate_mm": float(places.plate_mm[place]),
        "previous_mm": float(places.previous_mm[place]),
    }


# -- lost and grown --


def _too_fast(places: _Places, again: ReadAgain, alpha: float) -> Iterator[TooFast]:
    """Yield the zones with places that lost over the most that is seen, by more than two gauges and so many places explain."""
    lost = places.previous_mm - places.plate_mm
    uncertainty = np.sqrt(2) * again.plate_standard_uncertainty_mm
    explained = MOST_MM_PER_YEAR * again.years_since + _beyond(alpha, len(places)) * uncertainty
    fast = np.asarray(below(explained, lost, "mm"))
    for zone, rows in places.by_zone.items():
        members = rows[fast[rows]]
        if len(members):
            worst = int(members[np.argmax(lost[members])])
            yield TooFast(zone=zone, count=len(members), years=again.years_since, **_told(places, worst))


def _beyond(alpha: float, tests: int) -> float:
    """Return how many standard uncertainties one of several one-sided tests has to exceed (Bonferroni)."""
    return float(ndtri(1 - alpha / max(tests, 1)))


def _thicker(places: _Places, again: ReadAgain, alpha: float) -> Iterator[Thicker]:
    """Yield the zones that are thicker in the mean; else the whole survey where too many of its places are."""
    grown = places.plate_mm - places.previous_mm
    setting = min(CALIBRATION_STANDARD_UNCERTAINTY_MM, again.plate_standard_uncertainty_mm / 2)
    own = np.sqrt(2 * (again.plate_standard_uncertainty_mm**2 - setting**2))
    zones = {zone: rows for zone, rows in places.by_zone.items() if len(rows) >= LEAST_IN_ZONE}
    told = False
    for zone, rows in zones.items():
        mean = mean_of(grown[rows], np.full(len(rows), own), np.sqrt(2) * setting, np.zeros(len(rows), dtype=int))
        if below(_beyond(alpha / 2, len(zones)) * mean.standard_uncertainty, mean.mean, "mm"):
            told = True
            yield _thicker_at(zone, int(places.row[rows[0]]), grown[rows])
    if not told and len(places) >= LEAST_IN_ZONE and _grew_often(grown, own, np.sqrt(2) * setting, alpha / 2):
        yield _thicker_at(_WHOLE, None, grown)


def _grew_often(grown: Floats, own: float, setting: float, alpha: float) -> bool:
    """Tell whether too many places grew, even were both gauges set as far apart as may be."""
    explained = _beyond(alpha / 2, 1) * setting + _beyond(LEVEL / 2, 1) * own
    count = int(np.count_nonzero(below(explained, grown, "mm")))
    return bool(bdtrc(count - 1, len(grown), LEVEL / 2) < alpha / 2)


def _thicker_at(where: str, row: int | None, grown: Floats) -> Thicker:
    more = grown[grown > 0]
    return Thicker(where=where, row=row, places=len(grown), count=len(more), thicker_mm=float(more.mean()))
