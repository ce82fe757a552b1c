"""The best pairs of readings on two lines of stations: as many as there can be, of these the least total distance."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from platemargin.quantities import Array, Floats

__all__ = ["Rows", "nearest_pairs", "window"]

Rows: TypeAlias = "npt.NDArray[np.int64]"

_ALONG, _UP, _PAIR = 0, 1, 2


def nearest_pairs(station: Floats, other_station: Floats, height: Floats, other_height: Floats, *, tolerance: float) -> Rows:
    """Return the best pairs of two lines of stations, each sorted by station, then by height, as places in them.

    The most pairs within the tolerance, of these the least total distance, of these the least total difference of height
    (NaN = unknown); every figure a whole number [mm]. An assignment on a line that is best in pairs and distance need not
    cross, so that a dynamic programme finds it: best(i, j), of the first i and j readings, is the best of best(i - 1, j),
    best(i, j - 1) and best(i - 1, j - 1) with this pair; it is kept for j within the tolerance of i alone. A value is a
    complex number, which numpy orders by its real part, then by its imaginary part: pairs and distance in the one,
    difference of height in the other.
    """
    low, high = window(station, other_station, tolerance)
    # One pair more outweighs every distance.
    pair = tolerance * min(len(station), len(other_station)) + 1
    best, start = np.zeros(1, dtype=np.complex128), 0
    steps = []
    for row, (begin, end) in enumerate(zip(low.tolist(), high.tolist(), strict=True)):
        above = np.full(end - begin + 1, best[-1])
        kept = best[begin - start :]
        above[: len(kept)] = kept
        best, start = above.copy(), begin
        apart = np.abs(other_station[begin:end] - station[row])
        higher = np.nan_to_num(np.abs(other_height[begin:end] - height[row]))
        best[1:] = np.maximum(best[1:], above[:-1] + (pair - apart) - 1j * higher)
        best = np.maximum.accumulate(best)
        steps.append(_steps(best, above))
    return _followed_back(steps, low, len(other_station))


def _steps(best: Array, above: Array) -> Array:
    """Return where each best value came from: the row above, the place before, or this pair."""
    steps = np.full(len(best), _PAIR, dtype=np.int8)
    steps[1:][best[1:] == best[:-1]] = _ALONG
    steps[best == above] = _UP
    return steps


def _followed_back(steps: list[Array], low: Rows, count: int) -> Rows:
    pairs = []
    place = count
    for row in range(len(steps) - 1, -1, -1):
        place = min(place, int(low[row]) + len(steps[row]) - 1)
        while steps[row][place - low[row]] == _ALONG:
            place -= 1
        if steps[row][place - low[row]] == _PAIR:
            place -= 1
            pairs.append((row, place))
    return np.array(pairs[::-1], dtype=np.int64).reshape(-1, 2)


def window(station: Floats, other_station: Floats, tolerance: float) -> tuple[Rows, Rows]:
    """Return, for each of some stations, where those of a sorted line within the tolerance begin and end."""
    return np.searchsorted(other_station, station - tolerance, "left"), np.searchsorted(
        other_station, station + tolerance, "right"
    )
