"""The Gumbel distribution of deepest values: three fits with their standard errors, and how well it fits.

F(x) = exp(-exp(-z)), z = (x - location) / scale. Every function takes rows of samples, so that the fit of one sample and of
the many that its uncertainty is drawn from are one code. Adding a depth to a sample, or stretching it, does the same to every
estimate: that is why draws of the standard distribution tell the uncertainty of any.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from platemargin.lieblein import LOCATION_WEIGHTS, SCALE_WEIGHTS, VARIANCES
from platemargin.quantities import Floats

__all__ = ["Fit", "Method", "anderson_darling", "fit", "log_likelihood", "standard_errors"]

#: One part in 1e12 of the scale, and more than any sample needs: Newton's steps double the digits.
_TOLERANCE = 1e-12
_MOST_STEPS = 100
_LN2 = float(np.log(2))
#: Variance of the scale's estimate by L-moments, (a n - b) / (n (n - 1)) of the scale's square: Gini's mean difference of
#: the Gumbel distribution as a U-statistic, its two constants by numerical integration. Reference: phien-1987.
_L_SCALE = (0.804620860147, 0.185526977757)


class Method(IntEnum):
    """How location and scale are estimated."""

    MAXIMUM_LIKELIHOOD = 0
    L_MOMENTS = 1
    LIEBLEIN = 2


@dataclass(frozen=True, kw_only=True)
class Fit:
    """Location and scale, one for each sample [the sample's unit]."""

    location: Floats
    scale: Floats


def fit(samples: Floats, method: Method) -> Fit:
    """Fit each row of samples, ascending along it, by a method.

    Examples
    --------
    >>> found = fit(np.array([[1.0, 1.2, 1.3, 1.5, 2.1]]), Method.L_MOMENTS)
    >>> [round(float(value), 4) for value in (found.location[0], found.scale[0])]
    [1.2118, 0.3607]

    References
    ----------
    coles-2001, hosking-1990, lieblein-1974
    """
    return _FITS[method](samples)


def _by_maximum_likelihood(samples: Floats) -> Fit:
    """Solve scale = mean - sum x e^(-x/scale) / sum e^(-x/scale) by Newton, from the moments' scale."""
    least = samples[:, :1]
    over = samples - least
    mean = over.mean(axis=1)
    scale = np.sqrt(6) / np.pi * over.std(axis=1)
    for _ in range(_MOST_STEPS):  # pragma: no branch  a bound, and no sample that takes a tenth of it is known
        weights = np.exp(-over / scale[:, None])
        total = weights.sum(axis=1)
        first, second = (over * weights).sum(axis=1) / total, (over**2 * weights).sum(axis=1) / total
        # The slope is 1 or more, so that the only zero is found; a step never goes below half of where it stands.
        step = (scale - mean + first) / (1 + (second - first**2) / scale**2)
        scale, before = np.maximum(scale - step, scale / 2), scale
        if (np.abs(scale - before) <= _TOLERANCE * scale).all():
            break
    location = least[:, 0] - scale * np.log(np.exp(-over / scale[:, None]).mean(axis=1))
    return Fit(location=location, scale=scale)


def _by_l_moments(samples: Floats) -> Fit:
    count = samples.shape[1]
    first = samples.mean(axis=1)
    second = 2 * (samples * np.arange(count)).sum(axis=1) / (count * (count - 1)) - first
    scale = second / _LN2
    return Fit(location=first - np.euler_gamma * scale, scale=scale)


def _by_lieblein(samples: Floats) -> Fit:
    count = samples.shape[1]
    return Fit(location=samples @ LOCATION_WEIGHTS[count], scale=samples @ SCALE_WEIGHTS[count])


_FITS: dict[Method, Callable[[Floats], Fit]] = {
    Method.MAXIMUM_LIKELIHOOD: _by_maximum_likelihood,
    Method.L_MOMENTS: _by_l_moments,
    Method.LIEBLEIN: _by_lieblein,
}


def standard_errors(sample: Floats, location: float, scale: float, method: Method) -> tuple[float, float]:
    """Return the standard errors of location and scale: by the observed information, or by the estimates' own variances.

    References
    ----------
    coles-2001, phien-1987, lieblein-1974
    """
    covariance = covariance_of(sample, location, scale, method)
    return float(np.sqrt(covariance[0, 0])), float(np.sqrt(covariance[1, 1]))


def covariance_of(sample: Floats, location: float, scale: float, method: Method) -> Floats:
    """Return the covariance of location and scale."""
    count = len(sample)
    if method == Method.LIEBLEIN:
        return scale**2 * np.array(VARIANCES[count])
    if method == Method.L_MOMENTS:
        return scale**2 * l_moments_covariance(count)
    z = (sample - location) / scale
    e = np.exp(-z)
    cross = (1 - e + z * e).sum()
    of_scale = (-1 + 2 * z * (1 - e) + z**2 * e).sum()
    return np.asarray(np.linalg.inv(np.array([[e.sum(), cross], [cross, of_scale]])) * scale**2)


def l_moments_covariance(count: int) -> Floats:
    """Return the covariance of location and scale by L-moments, of the scale's square; exact for any count."""
    a, b = _L_SCALE
    of_scale = (a * count - b) / (count * (count - 1))
    # Mean and scale are correlated as Gini's mean difference is with the mean: ln 2 / n.
    cross = _LN2 / count - np.euler_gamma * of_scale
    of_location = np.pi**2 / 6 / count - 2 * np.euler_gamma * _LN2 / count + np.euler_gamma**2 * of_scale
    return np.array([[of_location, cross], [cross, of_scale]])


def log_likelihood(sample: Floats, location: float, scale: float) -> float:
    """Return the logarithm of the density of a sample."""
    z = (sample - location) / scale
    return float(-len(sample) * np.log(scale) - z.sum() - np.exp(-z).sum())


def anderson_darling(samples: Floats, fitted: Fit) -> Floats:
    """Return Anderson and Darling's distance of each row, ascending along it, from its fit: the tails weigh most.

    References
    ----------
    stephens-1977
    """
    count = samples.shape[1]
    # ln F = -e and ln (1 - F) = ln (-expm1(-e)): neither loses digits in its tail. A depth far below the fit is no more than
    # impossible; far above it ln (1 - F) is -z.
    below = -(samples - fitted.location[:, None]) / fitted.scale[:, None]
    e = np.exp(np.clip(below, -_LEAST, np.log(_LEAST)))
    deeper = np.log(-np.expm1(-e)) + np.minimum(below + _LEAST, 0)
    weights = 2 * np.arange(1, count + 1) - 1
    return np.asarray(-count - ((-e + deeper[:, ::-1]) * weights).sum(axis=1) / count)


#: exp(-700) is the least that a double holds without losing digits.
_LEAST = 700.0
