"""Readings of one side, or zone, that are the same as another's, one after another."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import bdtrc, ndtr

from platemargin.quantities import Array, Floats
from platemargin.readings import HULL_SIDES, ReadingTable
from platemargin.smooth_reference import resolution_of

__all__ = ["AlikeRuns", "AlikeSides", "alike_runs", "alike_sides"]

#: Two places that are alike in all else scatter by no less than this [mm, standard deviation] (common practice): gauge and
#: plate together. Their readings are then equal no more often than the share below.
_SCATTER_MM = 0.1
#: Fewer pairs, or a shorter run, are no pattern.
_LEAST_PAIRS = 6
_LEAST_RUN = 8
#: A run of fewer different values is a plain plate, not a pattern.
_LEAST_DIFFERENT = 4


@dataclass(frozen=True, kw_only=True)
class AlikeSides:
    """A zone whose port and starboard readings are equal place by place."""

    zone: str
    row: int
    pairs: int
    equal: int


@dataclass(frozen=True, kw_only=True)
class AlikeRuns:
    """Values of one zone that stand in another in the same order; `row` is the later run's first reading."""

    zone: str
    other: str
    row: int
    length: int


def alike_sides(table: ReadingTable, alpha: float) -> tuple[int, tuple[AlikeSides, ...]]:
    """Return how many zones could be compared, and those whose two sides are equal too often to be two sides."""
    zones = {zone: _pairs(table, rows) for zone, rows in table.by_zone(np.arange(len(table))).items()}
    compared = {zone: pairs for zone, pairs in zones.items() if len(pairs) >= _LEAST_PAIRS}
    found = []
    for zone, pairs in compared.items():
        values = table.plate_mm[pairs]
        equal = int((np.abs(values[:, 0] - values[:, 1]) < 1e-9).sum())  # noqa: PLR2004  mm: binary arithmetic
        if bdtrc(equal - 1, len(pairs), _equal_share(values.ravel())) < alpha / len(compared):
            found.append(AlikeSides(zone=zone, row=int(pairs[0, 1]), pairs=len(pairs), equal=equal))
    return len(compared), tuple(found)


def _pairs(table: ReadingTable, rows: Array) -> Array:
    """Return the readings of a zone that face each other: at one station, or, where none is told, in the order sent."""
    port, starboard = (rows[np.asarray(table.side[rows] == side, dtype=bool)] for side in HULL_SIDES)
    if np.isnan(table.station_m[rows]).all():
        facing = list(zip(port, starboard, strict=True)) if len(port) == len(starboard) else []
    else:
        at = [dict(zip(table.station_m[own].tolist(), own, strict=True)) for own in (port, starboard)]
        facing = [(row, at[1][station]) for station, row in at[0].items() if station in at[1]]
    return np.array(facing, dtype=int).reshape(-1, 2)


def _equal_share(values: Floats) -> float:
    """Return how often two readings are equal at most, by chance: as values of a narrow spread, or as these values are."""
    step = resolution_of(values) or 0.01
    edges = np.arange(-20, 21) * step - step / 2
    narrow = float((np.diff(ndtr(edges / _SCATTER_MM)) ** 2).sum())
    _, counts = np.unique(np.round(values, 6), return_counts=True)
    return min(max(narrow, float((counts * (counts - 1)).sum() / (len(values) * (len(values) - 1)))), 1.0)


def alike_runs(table: ReadingTable, alpha: float) -> tuple[int, tuple[AlikeRuns, ...]]:
    """Return how many columns could be compared, and the runs that two zones share though chance does not explain it."""
    columns = [column for column in _columns(table) if len(column) >= _LEAST_RUN]
    found: dict[tuple[str, str], AlikeRuns] = {}
    if len({table.zone[column[0]] for column in columns}) > 1:
        equal = _equal_share(table.plate_mm[np.concatenate(columns)])
        places = sum(map(len, columns)) ** 2 / 2
        for run, share in _common_runs(table, columns):
            if places * max(equal, share) ** run.length < alpha:
                found.setdefault((run.zone, run.other), run)
    return len(columns) if len(columns) > 1 else 0, tuple(found.values())


def _columns(table: ReadingTable) -> list[Array]:
    """Return the readings of each side of each zone, in the order sent."""
    rows: dict[tuple[str, str], list[int]] = {}
    for row in range(len(table)):
        rows.setdefault((table.zone[row], table.side[row]), []).append(row)
    return [np.array(members) for members in rows.values()]


def _common_runs(table: ReadingTable, columns: Sequence[Array]) -> Iterator[tuple[AlikeRuns, float]]:
    """Yield the runs that two zones share, with how often two values of such a run are equal."""
    texts = [np.round(table.plate_mm[column], 6).tolist() for column in columns]
    first: dict[tuple[float, ...], tuple[int, int]] = {}
    for index, values in enumerate(texts):
        start = 0
        while start + _LEAST_RUN <= len(values):
            window = tuple(values[start : start + _LEAST_RUN])
            other, at = first.setdefault(window, (index, start))
            length = 1
            if table.zone[columns[other][0]] != table.zone[columns[index][0]]:
                length = _common_length(values[start:], texts[other][at:])
                run = values[start : start + length]
                if len(set(run)) >= _LEAST_DIFFERENT:
                    zone, beside = str(table.zone[columns[index][0]]), str(table.zone[columns[other][0]])
                    told = AlikeRuns(zone=zone, other=beside, row=int(columns[index][start]), length=length)
                    yield told, _share_of(run)
            start += length


def _common_length(one: Sequence[float], other: Sequence[float]) -> int:
    return next((i for i, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), min(len(one), len(other)))


def _share_of(run: Sequence[float]) -> float:
    """Return how often two values of a run are equal, each counted with itself: more than they are by chance."""
    _, counts = np.unique(run, return_counts=True)
    return float((counts**2).sum()) / len(run) ** 2
