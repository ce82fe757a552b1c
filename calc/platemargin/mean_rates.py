"""What the pairs of two surveys say together: mean loss and rate with its band, against none and against the long term.

Of a reading's standard uncertainty one part is its own and averages out over the readings; the other, how the gauge was set, is
common to the survey's readings and does not. A plate's original thickness is common to all the readings of that plate.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import chdtrc, ndtri

from platemargin.quantities import Array, Floats, below

__all__ = ["CALIBRATION_STANDARD_UNCERTAINTY_MM", "LEVEL", "Compared", "Mean", "MeanRate", "critical", "mean_of", "mean_rate"]

#: How well a gauge is set on the day of a survey [mm], standard. Reference: gauge-calibration.
CALIBRATION_STANDARD_UNCERTAINTY_MM = 0.06
#: How often chance alone may make a survey's pairs, or its zones, differ where nothing does: two-sided. Reference: gum.
LEVEL = 0.05
#: Pairs that scatter so that the gauges alone would do it more seldom than this scatter for another reason; the mean's
#: uncertainty is then widened by the ratio of the two scatters. Reference: birge-1932.
_SCATTER_LEVEL = 0.01


@dataclass(frozen=True, kw_only=True)
class Compared:
    """What is known of each pair, as columns [mm, year], and of the two surveys; NaN = unknown.

    `zone` and `plate` are numbers: of the zones, and of the plates whose original is common. `calibration_mm` is the standard
    uncertainty of a calibration.
    """

    loss_mm: Floats
    plate_loss_mm: Floats
    earlier_own_mm: Floats
    later_own_mm: Floats
    later_residual_mm: Floats
    original_mm: Floats
    original_spread_mm: Floats
    original_offset_mm: Floats
    unprotected_years: Floats
    zone: Array
    plate: Array
    years: float
    calibration_mm: float

    @property
    def long_term_mm_per_year(self) -> Floats:
        """The rate of each pair's place over its unprotected life."""
        return (self.original_mm - self.later_residual_mm) / self.unprotected_years


@dataclass(frozen=True, kw_only=True)
class Mean:
    """A mean with its standard uncertainty, the part of it that averages out, and how the values scatter."""

    mean: float
    standard_uncertainty: float
    own: float
    scatter_ratio: float
    scattered: bool


@dataclass(frozen=True, kw_only=True)
class AgainstLife:
    """The rate between the surveys against that over the life, at the places where both are known; None = nowhere."""

    long_term_pairs: int = 0
    long_term_mm_per_year: float | None = None
    difference_mm_per_year: float | None = None
    difference_standard_uncertainty_mm_per_year: float | None = None
    differs_from_long_term: bool | None = None


@dataclass(frozen=True, kw_only=True)
class MeanRate(AgainstLife):
    """What some pairs say together [mm, mm/year]; None = unknown."""

    pairs: int
    mean_loss_mm: float
    mean_loss_standard_uncertainty_mm: float
    mean_plate_loss_mm: float
    mean_rate_mm_per_year: float
    mean_rate_standard_uncertainty_mm_per_year: float
    rate_low_mm_per_year: float
    rate_high_mm_per_year: float
    differs_from_zero: bool
    least_to_show_mm_per_year: float
    scatter_ratio: float | None
    scattered: bool
    averaged_standard_uncertainty_mm: float

    @property
    def grew(self) -> bool:
        """Whether the places as a whole read thicker than before, by more than measurement explains."""
        return self.differs_from_zero and self.mean_loss_mm < 0


def critical(tests: int) -> float:
    """Return how many standard uncertainties one of several tests has to exceed so that all of them keep the level.

    Bonferroni's inequality; one test alone is at 1.96.

    Examples
    --------
    >>> round(critical(1), 2), round(critical(100), 2)
    (1.96, 3.48)

    References
    ----------
    bonferroni
    """
    return float(ndtri(1 - LEVEL / (2 * max(tests, 1))))


def mean_of(values: Floats, own: Floats, common: float, group: Array) -> Mean:
    """Return the plain mean of values with standard uncertainties of their own and one that is common to all.

    Their scatter is that within their groups: that one zone loses more than another is no doubt about either.
    """
    weights = 1 / own**2
    centre = np.bincount(group, weights * values)[group] / np.bincount(group, weights)[group]
    squares, free = float((weights * (values - centre) ** 2).sum()), len(values) - len(np.unique(group))
    ratio = np.sqrt(squares / free) if free else np.nan
    scattered = free > 0 and bool(chdtrc(free, squares) < _SCATTER_LEVEL)
    averaged = float(np.sqrt((own**2).sum()) / len(values) * (ratio if scattered else 1.0))
    return Mean(
        mean=float(values.mean()),
        standard_uncertainty=float(np.hypot(averaged, common)),
        own=averaged,
        scatter_ratio=float(ratio),
        scattered=scattered,
    )


def mean_rate(pairs: Compared, rows: npt.NDArray[np.int64], confidence: float, tests: int) -> MeanRate:
    """Return what some pairs say together, where so many such means are tested."""
    own = np.hypot(pairs.earlier_own_mm[rows], pairs.later_own_mm[rows])
    loss = mean_of(pairs.loss_mm[rows], own, np.sqrt(2) * pairs.calibration_mm, pairs.zone[rows])
    beyond = critical(tests)
    rate, uncertainty = loss.mean / pairs.years, loss.standard_uncertainty / pairs.years
    half = float(ndtri((1 + confidence) / 2)) * uncertainty
    return MeanRate(
        pairs=len(rows),
        mean_loss_mm=loss.mean,
        mean_loss_standard_uncertainty_mm=loss.standard_uncertainty,
        mean_plate_loss_mm=float(pairs.plate_loss_mm[rows].mean()),
        mean_rate_mm_per_year=rate,
        mean_rate_standard_uncertainty_mm_per_year=uncertainty,
        rate_low_mm_per_year=rate - half,
        rate_high_mm_per_year=rate + half,
        differs_from_zero=bool(below(beyond * loss.standard_uncertainty, abs(loss.mean), "mm")),
        least_to_show_mm_per_year=beyond * uncertainty,
        scatter_ratio=None if np.isnan(loss.scatter_ratio) else loss.scatter_ratio,
        scattered=loss.scattered,
        averaged_standard_uncertainty_mm=loss.own,
        **vars(_against_life(pairs, rows[~np.isnan(pairs.long_term_mm_per_year[rows])], beyond)),
    )


def _against_life(pairs: Compared, rows: npt.NDArray[np.int64], beyond: float) -> AgainstLife:
    """Compare the two rates of the same places.

    short - long = e / dt - l (1 / dt - 1 / t) - o / t: the later reading is in both, and the original is the plate's.
    """
    if not len(rows):
        return AgainstLife()
    long_term = pairs.long_term_mm_per_year[rows]
    of_earlier, of_later = 1 / pairs.years, 1 / pairs.years - 1 / pairs.unprotected_years[rows]
    own = np.hypot(pairs.earlier_own_mm[rows] * of_earlier, pairs.later_own_mm[rows] * of_later)
    calibrations = pairs.calibration_mm * np.hypot(of_earlier, of_later.mean())
    common = float(np.hypot(calibrations, _originals(pairs, rows)))
    difference = mean_of(pairs.loss_mm[rows] / pairs.years - long_term, own, common, pairs.zone[rows])
    return AgainstLife(
        long_term_pairs=len(rows),
        long_term_mm_per_year=float(long_term.mean()),
        difference_mm_per_year=difference.mean,
        difference_standard_uncertainty_mm_per_year=difference.standard_uncertainty,
        differs_from_long_term=bool(below(beyond * difference.standard_uncertainty, abs(difference.mean), "mm/year")),
    )


def _originals(pairs: Compared, rows: npt.NDArray[np.int64]) -> float:
    """Return what the originals bring to the uncertainty of a mean long-term rate.

    Each plate's spread is one error for all its readings; how far the mills' mean is from the nominal is one for all plates.
    """
    weights = 1 / pairs.unprotected_years[rows] / len(rows)
    spread = np.bincount(pairs.plate[rows], weights=pairs.original_spread_mm[rows] * weights)
    return float(np.hypot(np.sqrt((spread**2).sum()), (pairs.original_offset_mm[rows] * weights).sum()))
