"""What anodes reach along a hull, and what they leave: intervals of its length, one side at a time."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from platemargin.quantities import below
from platemargin.readings import HullSide

__all__ = ["Interval", "Measured", "Stretch", "gaps_between", "parts_within", "united"]

Measured: TypeAlias = Literal["protected", "not_protected"] | None
#: From and to [m].
Interval: TypeAlias = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Stretch:
    """A stretch of one side's length, from the stem; `measured` is what potentials tell of it, where any was read there."""

    side: HullSide
    from_m: float
    to_m: float
    measured: Measured = None


def united(intervals: Iterable[Interval], length_m: float) -> tuple[Interval, ...]:
    """Return the union of intervals within the hull, in order; those that touch as they are written are one.

    Examples
    --------
    >>> united([(3.0, 6.0), (-1.0, 2.0), (5.0, 7.0)], 6.5)
    ((0.0, 2.0), (3.0, 6.5))
    """
    merged: list[Interval] = []
    for low, high in sorted((max(low, 0.0), min(high, length_m)) for low, high in intervals):
        if merged and not below(merged[-1][1], low, "m"):
            merged[-1] = (merged[-1][0], max(merged[-1][1], high))
        else:
            merged.append((low, high))
    return tuple(merged)


def gaps_between(covered: Sequence[Interval], length_m: float) -> tuple[Interval, ...]:
    """Return what a union leaves of the hull's length; a gap that is none as it is written is none.

    Examples
    --------
    >>> gaps_between([(0.0, 2.0), (3.0, 6.5)], 8.0)
    ((2.0, 3.0), (6.5, 8.0))
    """
    starts = [0.0, *(high for _, high in covered)]
    ends = [*(low for low, _ in covered), length_m]
    return tuple((low, high) for low, high in zip(starts, ends, strict=True) if below(low, high, "m"))


def parts_within(gap: Interval, shown: Sequence[Interval]) -> tuple[tuple[float, float, bool], ...]:
    """Return a gap in parts, in order: from, to, and whether that part lies within a union.

    Examples
    --------
    >>> parts_within((2.0, 9.0), [(0.0, 3.0), (5.0, 6.0)])
    ((2.0, 3.0, True), (3.0, 5.0, False), (5.0, 6.0, True), (6.0, 9.0, False))
    """
    low, high = gap
    parts: list[tuple[float, float, bool]] = []
    for start, end in shown:
        first, last = max(start, low), min(end, high)
        if below(first, last, "m"):
            if below(low, first, "m"):
                parts.append((low, first, False))
            parts.append((first, last, True))
            low = last
    return (*parts, (low, high, False)) if below(low, high, "m") else tuple(parts)
