"""Which readings of two surveys of one hull are of the same place of the same plate.

Readings are matched by the ids that both surveys give, then by zone, side, layer and station: as many pairs within the
tolerance as there can be, of these the least total distance, of these the least total difference of height; each reading
once. A plate fitted since the earlier survey is another plate and is never matched.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from enum import IntEnum
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from platemargin.dates import days_of
from platemargin.nearest_pairs import Rows, nearest_pairs, window
from platemargin.quantities import Array, Floats, rounded
from platemargin.readings import ReadingTable

__all__ = [
    "MOST_CANDIDATES",
    "STATION_TOLERANCE_M",
    "Matching",
    "MayBeNewer",
    "Reason",
    "candidates",
    "matched",
]

#: How far apart two readings of one place may be noted [m], about half a frame space. Reference: station-tolerance.
STATION_TOLERANCE_M = 0.25
#: What matching costs grows with the pairs of readings within the tolerance of each other; more than this are refused.
MOST_CANDIDATES = 25_000_000

_Mask: TypeAlias = "npt.NDArray[np.bool_]"
_Place: TypeAlias = tuple[str, str, str]


class Reason(IntEnum):
    """Why a reading has no counterpart in the other survey; the first that holds."""

    MATCHED = 0
    FITTED_SINCE = 1
    MAY_BE_FITTED_SINCE = 2
    ZONE_NOT_READ = 3
    LAYER_NOT_READ = 4
    SIDE_NOT_READ = 5
    NO_STATION = 6
    NONE_HAS_A_STATION = 7
    COUNTERPART_MAY_BE_NEWER = 8
    NONE_WITHIN_TOLERANCE = 9
    COUNTERPARTS_TAKEN = 10


class MayBeNewer(IntEnum):
    """Whether a plate was fitted after a day, as far as its date tells."""

    NO = 0
    YES = 1
    UNKNOWN = 2


@dataclass(frozen=True, kw_only=True)
class Matching:
    """The pairs as rows of the two tables, in the order of the earlier; and why every other reading has none.

    `contradicting` are rows of one id whose zone, side or layer say that they are of two places: they were matched by station,
    if at all. Where they are more than those that agree, the ids are no names that the surveys share, and none is used.
    """

    earlier: Rows
    later: Rows
    by_id: _Mask
    earlier_reason: Array
    later_reason: Array
    contradicting: tuple[tuple[int, int], ...]
    ids_disregarded: bool

    def __len__(self) -> int:
        return len(self.earlier)


def matched(
    earlier: ReadingTable,
    later: ReadingTable,
    *,
    earlier_on: date,
    station_tolerance_m: float = STATION_TOLERANCE_M,
) -> Matching:
    """Match the readings of two surveys, each at most once.

    A reading without an id has no name that two surveys could share. Stations are compared in whole millimetres. On a line an
    assignment of most pairs and least distance need not cross, so a dynamic programme over sorted stations finds it.
    """
    newer = _newer(later, earlier_on)
    named, contradicting = _by_id(earlier, later, newer == MayBeNewer.NO)
    stationed = _by_station(earlier, later, _free(earlier, named[:, 0]), _free(later, named[:, 1], newer), station_tolerance_m)
    pairs = np.concatenate([named, stationed])
    order = np.argsort(pairs[:, 0])
    pairs, by_id = pairs[order], (np.arange(len(pairs)) < len(named))[order]
    taken = pairs[:, 0], pairs[:, 1]
    return Matching(
        earlier=taken[0],
        later=taken[1],
        by_id=by_id,
        earlier_reason=_earlier_reasons(earlier, later, taken[0], newer, station_tolerance_m),
        later_reason=_later_reasons(later, earlier, taken[1], newer, station_tolerance_m),
        contradicting=contradicting,
        ids_disregarded=bool(contradicting) and not len(named),
    )


def candidates(earlier: ReadingTable, later: ReadingTable, *, earlier_on: date, station_tolerance_m: float) -> int:
    """Return how many pairs of readings that share no id are within the tolerance: what matching them may cost."""
    newer = _newer(later, earlier_on)
    named, _ = _by_id(earlier, later, newer == MayBeNewer.NO)
    parts = _shared(earlier, later, _free(earlier, named[:, 0]), _free(later, named[:, 1], newer))
    tolerance = _whole_mm(station_tolerance_m).item()
    ends = (window(_whole_mm(earlier.station_m[rows]), _whole_mm(later.station_m[others]), tolerance) for rows, others in parts)
    return int(sum((end - begin).sum() for begin, end in ends))


def _free(table: ReadingTable, taken: Rows, newer: Array | None = None) -> _Mask:
    """Return the readings that are not taken, and whose plate is not newer."""
    free = np.ones(len(table), dtype=bool) if newer is None else newer == MayBeNewer.NO
    free[taken] = False
    return np.asarray(free)


def _newer(later: ReadingTable, earlier_on: date) -> Array:
    """Tell of each reading whether its plate was fitted after the earlier survey."""
    answers = {"": MayBeNewer.NO}
    for text in set(later.fitted_on.tolist()) - {""}:
        period = days_of(text)
        if period is None or (period[0] <= earlier_on <= period[1]):
            answers[text] = MayBeNewer.UNKNOWN
        else:
            answers[text] = MayBeNewer.YES if period[0] > earlier_on else MayBeNewer.NO
    return np.array([answers[text] for text in later.fitted_on], dtype=np.int64)


def _by_id(earlier: ReadingTable, later: ReadingTable, usable: _Mask) -> tuple[Rows, tuple[tuple[int, int], ...]]:
    """Return the pairs of one id, and those whose ids say one place and whose zone, side or layer say two."""
    rows = {earlier.id[row]: int(row) for row in np.flatnonzero(earlier.named)}
    both = [(rows[name], int(row)) for row in np.flatnonzero(later.named & usable) if (name := later.id[row]) in rows]
    agreeing = [pair for pair in both if _agree(earlier, later, *pair)]
    contradicting = tuple(pair for pair in both if not _agree(earlier, later, *pair))
    # Two surveys that each count their readings anew share ids by accident.
    shared = agreeing if len(agreeing) >= len(contradicting) else []
    return np.array(shared, dtype=np.int64).reshape(-1, 2), contradicting


def _agree(earlier: ReadingTable, later: ReadingTable, first: int, second: int) -> bool:
    sides = {str(earlier.side[first]), str(later.side[second])} - {""}
    same = earlier.zone[first] == later.zone[second] and earlier.layer[first] == later.layer[second]
    return bool(same and len(sides) < 2)  # noqa: PLR2004  two sides are two places


def _by_station(earlier: ReadingTable, later: ReadingTable, free: _Mask, other_free: _Mask, tolerance_m: float) -> Rows:
    pairs = [np.empty((0, 2), dtype=np.int64)]
    for rows, others in _shared(earlier, later, free, other_free):
        places = nearest_pairs(
            *(_whole_mm(metres) for metres in (earlier.station_m[rows], later.station_m[others])),
            *(_whole_mm(metres) for metres in (earlier.height_m[rows], later.height_m[others])),
            tolerance=_whole_mm(tolerance_m).item(),
        )
        pairs.append(np.column_stack([rows[places[:, 0]], others[places[:, 1]]]))
    return np.concatenate(pairs)


def _whole_mm(metres: npt.ArrayLike) -> Floats:
    return np.asarray(np.round(rounded(metres, "m") * 1000))


def _shared(earlier: ReadingTable, later: ReadingTable, free: _Mask, other_free: _Mask) -> Iterator[tuple[Rows, Rows]]:
    """Yield the rows of each part of the hull that both surveys read, in order of station, then of height."""
    others = _by_place(later, other_free & ~np.isnan(later.station_m))
    for place, rows in _by_place(earlier, free & ~np.isnan(earlier.station_m)).items():
        if place in others:
            yield _in_order(earlier, rows), _in_order(later, others[place])


def _in_order(table: ReadingTable, rows: Rows) -> Rows:
    return np.asarray(rows[np.lexsort((table.height_m[rows], _whole_mm(table.station_m[rows])))])


def _by_place(table: ReadingTable, which: _Mask) -> dict[_Place, Rows]:
    found: dict[_Place, list[int]] = defaultdict(list)
    for row in np.flatnonzero(which).tolist():
        found[table.zone[row], table.side[row], table.layer[row]].append(row)
    return {place: np.array(rows, dtype=np.int64) for place, rows in found.items()}


def _earlier_reasons(earlier: ReadingTable, later: ReadingTable, taken: Rows, newer: Array, tolerance_m: float) -> Array:
    reasons = _reasons(earlier, later, taken, newer, tolerance_m)
    renewed = set(later.id[later.named & (newer != MayBeNewer.NO)].tolist())
    same_name = earlier.named & np.array([name in renewed for name in earlier.id.tolist()], dtype=bool)
    reasons[same_name & (reasons != Reason.MATCHED)] = Reason.COUNTERPART_MAY_BE_NEWER
    return reasons


def _later_reasons(later: ReadingTable, earlier: ReadingTable, taken: Rows, newer: Array, tolerance_m: float) -> Array:
    reasons = _reasons(later, earlier, taken, np.full(len(earlier), MayBeNewer.NO), tolerance_m)
    reasons[newer == MayBeNewer.YES] = Reason.FITTED_SINCE
    reasons[newer == MayBeNewer.UNKNOWN] = Reason.MAY_BE_FITTED_SINCE
    return reasons


def _reasons(table: ReadingTable, other: ReadingTable, taken: Rows, other_newer: Array, tolerance_m: float) -> Array:
    """Return of each reading why it has no counterpart in another table, some of whose plate may be newer."""
    reasons = np.full(len(table), Reason.MATCHED, dtype=np.int64)
    zones = set(other.zone.tolist())
    layers = set(zip(other.zone.tolist(), other.layer.tolist(), strict=True))
    others = _by_place(other, np.ones(len(other), dtype=bool))
    for place, rows in _by_place(table, _free(table, taken)).items():
        if place[0] not in zones:
            reasons[rows] = Reason.ZONE_NOT_READ
        elif (place[0], place[2]) not in layers:
            reasons[rows] = Reason.LAYER_NOT_READ
        elif place not in others:
            reasons[rows] = Reason.SIDE_NOT_READ
        else:
            reasons[rows] = _station_reasons(table.station_m[rows], other, others[place], other_newer, tolerance_m)
    return reasons


def _station_reasons(station_m: Floats, other: ReadingTable, others: Rows, other_newer: Array, tolerance_m: float) -> Array:
    stationed = others[~np.isnan(other.station_m[others])]
    if not len(stationed):
        return np.where(np.isnan(station_m), Reason.NO_STATION, Reason.NONE_HAS_A_STATION)
    near, near_newer = (
        _any_near(station_m, other.station_m[rows], tolerance_m)
        for rows in (stationed[other_newer[stationed] == MayBeNewer.NO], stationed[other_newer[stationed] != MayBeNewer.NO])
    )
    return np.select(
        [np.isnan(station_m), near, near_newer],
        [Reason.NO_STATION, Reason.COUNTERPARTS_TAKEN, Reason.COUNTERPART_MAY_BE_NEWER],
        Reason.NONE_WITHIN_TOLERANCE,
    )


def _any_near(station_m: Floats, others_m: Floats, tolerance_m: float) -> _Mask:
    begin, end = window(_whole_mm(station_m), np.sort(_whole_mm(others_m)), _whole_mm(tolerance_m).item())
    return np.asarray(end > begin)
