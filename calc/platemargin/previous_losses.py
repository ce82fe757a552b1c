"""Where plate was lost faster than is seen since a previous survey, or reads thicker than it did."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from scipy.special import bdtrc, ndtri

from platemargin.consistency import LEAST_IN_ZONE, MOST_MM_PER_YEAR
from platemargin.matching import STATION_TOLERANCE_M
from platemargin.mean_rates import CALIBRATION_STANDARD_UNCERTAINTY_MM, LEVEL, mean_of
from platemargin.nearest_pairs import Rows
from platemargin.quantities import Floats, below
from platemargin.read_again import PlacesAgain, ReadAgain
from platemargin.readings import ReadingTable
from platemargin.smooth_reference import resolution_of

__all__ = ["Thicker", "TooFast", "thicker", "too_fast"]

#: Stations are told to a millimetre.
_ROUNDING_M = 0.0005
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
    """Yield the zones with places that lost over the most that is seen, by more than two gauges and so many places explain."""
    lost = places.previous_mm - places.plate_mm
    uncertainty = np.hypot(np.sqrt(2) * again.plate_standard_uncertainty_mm, _rounding_mm(places))
    explained = MOST_MM_PER_YEAR * again.years_since + _beyond(alpha, len(places)) * uncertainty
    fast = np.asarray(below(explained, lost, "mm"))
    by_station = np.flatnonzero(fast & ~places.by_id)
    fast[by_station] = below(explained, _least_lost_mm(places.only(by_station), again), "mm")
    for zone, rows in places.by_zone.items():
        members = rows[fast[rows]]
        if len(members):
            worst = int(members[np.argmax(lost[members])])
            yield TooFast(zone=zone, count=len(members), years=again.years_since, **places.told(worst))


def _least_lost_mm(places: PlacesAgain, again: ReadAgain) -> Floats:
    """Return what was lost at least, where stations alone say what is of one place.

    A thin reading beside a thick one may be of the thin place of before.
    """
    if not len(places):
        return np.empty(0)
    thinnest_then = _near(again.later, places.row, again.earlier, np.min)
    thickest_now = _near(again.earlier, places.then, again.later, np.max)
    return thinnest_then - thickest_now


def _near(table: ReadingTable, rows: Rows, other: ReadingTable, pick: Callable[[Floats], float]) -> Floats:
    """Return for each of some rows the least or greatest plate that another survey read within the tolerance.

    There is some: each row was matched with one, by its station.
    """
    lines = {part: members[np.argsort(other.station_m[members])] for part, members in _parts(other).items()}
    found = np.empty(len(rows))
    for place, row in enumerate(rows.tolist()):
        members = lines[_part(table, row)]
        ends = table.station_m[row] + np.array([-1, 1]) * (STATION_TOLERANCE_M + _ROUNDING_M)
        begin, end = np.searchsorted(other.station_m[members], ends)
        found[place] = pick(other.plate_mm[members[begin:end]])
    return found


def _parts(table: ReadingTable) -> dict[tuple[str, str, str], Rows]:
    """Return the rows with a station, by zone, side and layer."""
    found: dict[tuple[str, str, str], list[int]] = {}
    for row in np.flatnonzero(~np.isnan(table.station_m)).tolist():
        found.setdefault(_part(table, row), []).append(row)
    return {part: np.array(members) for part, members in found.items()}


def _part(table: ReadingTable, row: int) -> tuple[str, str, str]:
    return table.zone[row], table.side[row], table.layer[row]


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
