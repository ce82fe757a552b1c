"""What the values of a survey say among themselves: repeats, last digits, a side or a zone that reads like another."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np
from scipy.special import bdtrc, ndtr

from platemargin.consistency import REPEATABILITY_MM
from platemargin.copied_runs import AlikeRuns, AlikeSides, alike_runs, alike_sides
from platemargin.no_spread import NoSpread, without_spread
from platemargin.previous_patterns import PreviousPatterns, previous_patterns
from platemargin.quantities import Floats
from platemargin.read_again import ReadAgain
from platemargin.readings import ReadingTable
from platemargin.smooth_reference import Draws, Spread, draws_of, resolution_of, spread_of, tail_probability

__all__ = ["ALPHA", "LEAST_JUDGED", "LastDigits", "Patterns", "Repeats", "patterns_of"]

#: An honest survey is asked about its values at most this often, and about those of a survey before it once more; each of the
#: tests of a kind gets an equal part of it.
ALPHA = 0.001
_ALPHA_OF_EACH = ALPHA / 5
#: Groups of fewer readings say nothing of a spread; a survey of fewer in groups says nothing of repeats (common practice).
_LEAST_IN_GROUP, LEAST_JUDGED = 8, 29
#: The largest groups are judged, no more: the draws' cost is bounded, and no hull has more kinds of plate.
_MOST_GROUPS = 30
#: Of a larger group so many readings are judged, evenly taken: enough to see a pattern, too few to see what the smooth
#: reference itself leaves out.
_MOST_IN_GROUP = 300
#: Resolutions whose steps are last digits [mm].
_DECIMAL_MM = (1.0, 0.1, 0.01)


@dataclass(frozen=True, kw_only=True)
class Repeats:
    """Where the same values repeat more often than those of a smooth spread; `row` is the first reading's index."""

    where: str
    row: int | None
    readings: int
    pairs: int
    pairs_expected: float


@dataclass(frozen=True, kw_only=True)
class LastDigits:
    """The last digit that stands out most."""

    digit: int
    count: int
    count_expected: float
    readings: int


@dataclass(frozen=True, kw_only=True)
class Patterns:
    """What is asked about the values, and how many readings, zones and columns could be.

    `previous` is what they say beside those of a survey before; None where there is none to hold them against.
    """

    readings_judged: int
    spread_judged: int
    digits_judged: int
    sides_judged: int
    runs_judged: int
    repeats: tuple[Repeats, ...]
    no_spread: tuple[NoSpread, ...]
    last_digits: LastDigits | None
    sides: tuple[AlikeSides, ...]
    runs: tuple[AlikeRuns, ...]
    previous: PreviousPatterns | None


@dataclass(frozen=True, kw_only=True)
class _Group:
    """Readings of one zone, layer and original."""

    zone: str
    row: int
    spread: Spread
    draws: Draws | None
    same_step: float

    @property
    def judged(self) -> bool:
        """Tell whether any values of so many readings could be asked about: whole millimetres of one plate never are."""
        return self.draws is not None or self.same_step**self.spread.size < _ALPHA_OF_EACH


def patterns_of(table: ReadingTable, again: ReadAgain | None = None) -> Patterns:
    """Return what is to be asked about the plate readings of a survey, among themselves and beside those of one before."""
    groups = list(_groups(table))
    spread_judged, no_spread = without_spread(table, _ALPHA_OF_EACH)
    shaped = [group for group in groups if group.draws is not None]
    decimal = [group for group in shaped if group.spread.resolution_mm in _DECIMAL_MM]
    digits_judged = sum(group.spread.size for group in decimal)
    sides_judged, sides = alike_sides(table, _ALPHA_OF_EACH)
    runs_judged, runs = alike_runs(table, _ALPHA_OF_EACH)
    return Patterns(
        readings_judged=sum(group.spread.size for group in groups if group.judged),
        spread_judged=spread_judged,
        digits_judged=digits_judged,
        sides_judged=sides_judged,
        runs_judged=runs_judged,
        repeats=tuple(_repeats([group for group in groups if not any(group.row in told.rows for told in no_spread)])),
        no_spread=no_spread,
        last_digits=_last_digits(decimal) if digits_judged >= LEAST_JUDGED else None,
        sides=sides,
        runs=runs,
        previous=previous_patterns(again, ALPHA) if again else None,
    )


def _groups(table: ReadingTable) -> Iterator[_Group]:
    found: dict[tuple[str, str, float], list[int]] = {}
    originals = np.nan_to_num(table.original_mm, nan=-1.0)
    finest = resolution_of(table.plate_mm) or np.inf
    for row in np.flatnonzero(table.plate_mm > 0).tolist():
        found.setdefault((table.zone[row], table.layer[row], originals[row]), []).append(row)
    largest = sorted(found.items(), key=lambda item: -len(item[1]))[:_MOST_GROUPS]
    for (zone, _, _), members in largest:
        rows = members[:: ceil(len(members) / _MOST_IN_GROUP)]
        spread = spread_of(table.plate_mm[rows]) if len(rows) >= _LEAST_IN_GROUP else None
        if spread is not None and spread.size >= _LEAST_IN_GROUP:
            draws = draws_of(spread) if spread.wide_enough else None
            same_step = _same_step(min(finest, spread.resolution_mm))
            yield _Group(zone=zone, row=rows[0], spread=spread, draws=draws, same_step=same_step)


def _repeats(groups: Sequence[_Group]) -> Iterator[Repeats]:
    """Yield the groups that repeat improbably; where none does, the survey as a whole if it does."""
    tested = [group for group in groups if group.spread.size >= LEAST_JUDGED]
    alpha = _ALPHA_OF_EACH / (len(tested) + 1)
    told = [group for group in tested if _repeat_probability(group) < alpha]
    yield from (
        Repeats(
            where=group.zone,
            row=group.row,
            readings=group.spread.size,
            pairs=group.spread.pairs,
            pairs_expected=_pairs_expected(group),
        )
        for group in told
    )
    shaped = [group for group in groups if group.draws is not None]
    readings = sum(group.spread.size for group in shaped)
    if not told and readings >= LEAST_JUDGED:
        excess = np.sum([group.draws.excess for group in shaped if group.draws], axis=0)
        if tail_probability(excess[0], excess[1:]) < alpha:
            pairs = sum(group.spread.pairs for group in shaped)
            expected = sum(map(_pairs_expected, shaped))
            yield Repeats(where="the whole survey", row=None, readings=readings, pairs=pairs, pairs_expected=expected)


def _repeat_probability(group: _Group) -> float:
    if group.draws is not None:
        return tail_probability(group.draws.excess[0], group.draws.excess[1:])
    # Too narrow for a shape: is it narrower than a gauge repeats on a single spot?
    size, most = group.spread.size, int(group.spread.counts.max())
    return float(bdtrc(most - 1, size, group.same_step))


def _same_step(resolution_mm: float) -> float:
    """Return the greatest share of one value that a gauge's own repeatability allows where the survey is read so finely."""
    half = resolution_mm / 2 / REPEATABILITY_MM
    return float(ndtr(half) - ndtr(-half))


def _pairs_expected(group: _Group) -> float:
    if group.draws is not None:
        return group.draws.pairs_expected
    same, size = group.same_step, group.spread.size
    return size * (size - 1) / 2 * (same**2 + (1 - same) ** 2 / 2)


def _last_digits(groups: Sequence[_Group]) -> LastDigits | None:
    """Return the last digit that stands out, where the last digits as a whole are improbable."""
    draws = [group.draws for group in groups if group.draws]
    strays: Floats = np.sum([each.digits for each in draws], axis=0)
    expected: Floats = np.sum([each.digits_expected for each in draws], axis=0)
    # One is added so that a digit which nobody expects does not decide alone.
    distance = (strays**2 / (expected + 1)).sum(axis=1)
    if tail_probability(distance[0], distance[1:]) >= _ALPHA_OF_EACH:
        return None
    digit = int(np.argmax(strays[0] / np.sqrt(expected[0] + 1)))
    return LastDigits(
        digit=digit,
        count=round(float(strays[0, digit] + expected[0, digit])),
        count_expected=float(expected[0, digit]),
        readings=sum(group.spread.size for group in groups),
    )
