"""Whether values repeat, or end, as readings from a smooth spread do.

Readings of one plate, rounded to a tenth, repeat honestly: against uniform digits every survey would look odd. So the
values are held against a smooth distribution of their own spread, at their own resolution: a kernel estimate whose
window is a few steps of the resolution. Several plates in a zone, or the worst places picked, are smooth still; a handful
of favourite values, or a comb of halves, is not. How much a statistic strays by chance is found by drawing from that smooth
distribution, each draw smoothed again as the readings were, with a fixed seed.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import comb

import numpy as np
import numpy.typing as npt
from scipy.special import gammaincc, ndtr

from platemargin.quantities import Floats

__all__ = ["Draws", "Spread", "draws_of", "keeps_to", "resolution_of", "spread_of", "tail_probability"]

#: What gauges read in and people round to [mm], the coarsest first (common practice).
RESOLUTIONS_MM = (1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01)
#: Share of the values that a resolution must explain; one value typed otherwise does not change it.
_EXPLAINED = 0.95
#: Standard deviation of the window [steps of the resolution, mm], the larger: a tenth of a millimetre is less than plates
#: scatter, so that two plates in one zone stay two.
_WINDOW_STEPS, _WINDOW_MM = 1.2, 0.1
#: How often what a window takes off is smoothed back on: the reference then keeps the shape of a spread of 0.15 mm at tenths.
_TURNS = 4
#: A spread that is narrower than this [steps, standard deviation] has no shape to judge at its resolution.
_NARROWEST_STEPS = 1.2
#: A spread over more steps than this, at a window of some ten steps, costs much and repeats little.
MOST_STEPS = 300
#: Values this many interquartile ranges beyond the quartiles are slips, not spread: other checks ask about them.
_FAR = 3.0
_DRAWS, _SEED = 400, 20_100
#: A skewness below this is none.
_NO_SKEW = 0.05


@dataclass(frozen=True, kw_only=True)
class Spread:
    """Values as counts of steps of their resolution; `first` is the lowest step."""

    resolution_mm: float
    first: int
    counts: Floats

    @property
    def size(self) -> int:
        """Return how many values there are."""
        return int(self.counts.sum())

    @property
    def pairs(self) -> int:
        """Return how many pairs of values are equal."""
        return int((self.counts * (self.counts - 1)).sum() / 2)

    @property
    def wide_enough(self) -> bool:
        """Tell whether the spread has a shape at its resolution."""
        steps = np.arange(len(self.counts))
        mean = np.average(steps, weights=self.counts)
        return bool(np.sqrt(np.average((steps - mean) ** 2, weights=self.counts)) >= _NARROWEST_STEPS)


@dataclass(frozen=True, kw_only=True)
class Draws:
    """What a spread says, and what draws from its smooth reference say: row 0 is the spread's own.

    `excess` is equal pairs over those expected, `digits` the count of each last step less the expected one.
    """

    pairs_expected: float
    excess: Floats
    digits: Floats
    digits_expected: Floats


def resolution_of(values: Floats) -> float | None:
    """Return the coarsest resolution that nearly all values keep to [mm]; None where none of the usual ones does.

    Examples
    --------
    >>> resolution_of(np.array([5.8, 6.1, 5.9])), resolution_of(np.array([5.5, 6.0, 6.5]))
    (0.1, 0.5)
    """
    return next((step for step in RESOLUTIONS_MM if keeps_to(values, step).mean() >= _EXPLAINED), None)


def keeps_to(values: Floats, step: float | None) -> npt.NDArray[np.bool_]:
    """Tell which values are whole steps; None is no step, to which each keeps."""
    if step is None:
        return np.ones(len(values), dtype=bool)
    return np.asarray(np.abs(values / step - np.round(values / step)) < 1e-6)  # noqa: PLR2004  of a step: binary arithmetic


def spread_of(values: Floats) -> Spread | None:
    """Return values as counts of steps, without slips; None where they keep to no resolution or are strewn too widely."""
    resolution = resolution_of(values)
    if resolution is None:
        return None
    steps = np.round(values[keeps_to(values, resolution)] / resolution).astype(int)
    low, high = np.quantile(steps, [0.25, 0.75])
    reach = _FAR * max(high - low, 2.0)
    steps = steps[(steps >= low - reach) & (steps <= high + reach)]
    counts = np.bincount(steps - steps.min()).astype(np.float64)
    return Spread(resolution_mm=resolution, first=int(steps.min()), counts=counts) if len(counts) <= MOST_STEPS else None


def draws_of(spread: Spread) -> Draws:
    """Return a spread's statistics, and those of draws from its smooth reference."""
    window = max(_WINDOW_STEPS, _WINDOW_MM / spread.resolution_mm)
    own = spread.counts[None]
    reference = _smooth(own, window)[0]
    drawn = np.random.default_rng(_SEED).multinomial(spread.size, reference, size=_DRAWS).astype(np.float64)
    rows = np.concatenate([np.pad(own, ((0, 0), (_margin(window),) * 2)), drawn])
    expected = _smooth(rows, window)
    # The draws' smooth references reach beyond the reference that they were drawn from; nothing is counted there.
    rows = np.pad(rows, ((0, 0), (_margin(window),) * 2))
    pairs = (rows * (rows - 1)).sum(axis=1) / 2
    pairs_expected = spread.size * (spread.size - 1) / 2 * (expected**2).sum(axis=1)
    digit = np.eye(10)[(spread.first - 2 * _margin(window) + np.arange(rows.shape[1])) % 10]
    digits_expected = spread.size * expected @ digit
    return Draws(
        pairs_expected=float(pairs_expected[0]),
        excess=pairs - pairs_expected,
        digits=rows @ digit - digits_expected,
        digits_expected=digits_expected,
    )


def _margin(window: float) -> int:
    return int(np.ceil(4.5 * window))


def _smooth(counts: Floats, window: float) -> Floats:
    """Return each row's smooth distribution, a margin wider on either side."""
    weights = _window_steps(window)
    size = counts.shape[1] + len(weights) - 1
    dense = np.fft.irfft(np.fft.rfft(counts, size) * np.fft.rfft(weights, size), size)
    # A window of high order dips below nothing beside its peak.
    dense = np.clip(dense, 0, None)
    return np.asarray(dense / dense.sum(axis=1, keepdims=True))


@cache
def _window_steps(window: float) -> Floats:
    """Return a window of high order: what remains of a density after it is 1 - (1 - a normal window's share) ^ turns."""
    edges = np.arange(-_margin(window), _margin(window) + 2) - 0.5
    weights = np.zeros(len(edges) - 1)
    for turn in range(1, _TURNS + 1):
        weights -= (-1) ** turn * comb(_TURNS, turn) * np.diff(ndtr(edges / (window * np.sqrt(turn))))
    return np.asarray(weights / weights.sum())


def tail_probability(own: float, drawn: Floats) -> float:
    """Return the probability of a statistic as large as this, from draws: Pearson's type III by their three moments.

    Examples
    --------
    >>> round(tail_probability(1.96, np.array([-1.0, 1.0])), 3)
    0.025
    """
    spread = float(drawn.std())
    if spread == 0:
        return 1.0
    distance = (own - float(drawn.mean())) / spread
    skewness = float(((drawn - drawn.mean()) ** 3).mean()) / spread**3
    if skewness < _NO_SKEW:
        return float(ndtr(-distance))
    shape = 4 / skewness**2
    return float(gammaincc(shape, max(shape + distance * np.sqrt(shape), 0.0)))
