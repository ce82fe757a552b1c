"""Where marks and figures go, so that no mark hides another and no figure runs into the next."""

from __future__ import annotations

from bisect import bisect
from collections.abc import Iterable, Sequence
from itertools import pairwise

__all__ = ["Track", "labelled", "overlapping", "stacked"]


def stacked(across: Sequence[float], pitch: float, most: int) -> list[int]:
    """Return the row of each mark: the first in which it touches none; where all `most` are taken, the one freed longest.

    Examples
    --------
    >>> stacked([0.0, 3.0, 10.0, 3.5], pitch=8.0, most=3)
    [0, 1, 0, 2]
    """
    ends: list[float] = []
    rows = [0] * len(across)
    for index in sorted(range(len(across)), key=across.__getitem__):
        at = across[index]
        row = next((n for n, end in enumerate(ends) if at - end >= pitch), len(ends))
        if row == most:
            row = ends.index(min(ends))
        ends[row:] = [at, *ends[row + 1 :]]
        rows[index] = row
    return rows


def overlapping(across: Sequence[float], rows: Sequence[int], pitch: float) -> int:
    """Return how many marks touch the one before them in their row.

    Examples
    --------
    >>> overlapping([0.0, 3.0, 20.0], [0, 0, 0], pitch=8.0)
    1
    """
    placed = sorted(zip(rows, across, strict=True))
    return sum(row == before and at - last < pitch for (before, last), (row, at) in pairwise(placed))


class Track:
    """A line of figures, none of which touches another."""

    def __init__(self) -> None:
        self._taken: list[tuple[float, float]] = []

    def take(self, start: float, end: float) -> bool:
        """Take a stretch; tell whether it was free."""
        after = bisect(self._taken, (start, end))
        beside = self._taken[max(after - 1, 0) : after + 1]
        if any(start < high and low < end for low, high in beside):
            return False
        self._taken.insert(after, (start, end))
        return True


def labelled(wanted: Iterable[tuple[int, float, float]], tracks: int) -> dict[int, int]:
    """Return which of some figures are printed, and in which track; earlier ones come first.

    Parameters
    ----------
    wanted : iterable of (int, float, float)
        What is labelled, where its middle is and how wide its figure is.
    tracks : int
        How many lines of figures there are.

    Examples
    --------
    >>> labelled([(0, 10.0, 12.0), (1, 15.0, 12.0), (2, 12.0, 12.0), (3, 40.0, 12.0)], tracks=2)
    {0: 0, 1: 1, 3: 0}
    """
    lines = [Track() for _ in range(tracks)]
    printed = {}
    for name, middle, width in wanted:
        track = next((n for n, one in enumerate(lines) if one.take(middle - width / 2, middle + width / 2)), None)
        if track is not None:
            printed[name] = track
    return printed
