"""How deep the deepest pit of a whole area is, of which some patches were read: with the fit's own uncertainty inside.

The deepest M of all patches, read or not, less the location fitted, over the scale fitted, has one distribution for every
Gumbel distribution: it depends on the method, on how many patches were read and on how many were not. It is drawn once, from
samples of the standard distribution with a fixed seed, so that the same request has the same answer.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import ndtri

from platemargin.gumbel import Fit, Method, anderson_darling, fit, l_moments_covariance
from platemargin.quantities import Floats

__all__ = ["Prediction", "predicted"]

#: Fits drawn: as many as so many values make, and no more than this; the fewer the patches, the more the tails matter.
_VALUES_DRAWN, _MOST_FITS = 800_000, 40_000
_SEED = 20261125
#: Beyond this many values the estimates are as good as normal, and are drawn so: the studies show it.
_MOST_DRAWN = 200
#: Covariance of location and scale by maximum likelihood for a sample of one, of the scale's square. Reference: gumbel-1958.
_INFORMATION = np.array([[1.0, np.euler_gamma - 1], [np.euler_gamma - 1, (1 - np.euler_gamma) ** 2 + np.pi**2 / 6]])
#: exp(700) is within a double.
_FARTHEST = 700.0
#: How near a quantile is found: far below the last decimal that it is written with.
_NEAR = 1e-9
#: After so many looks halves are taken: where the distribution has steps, false position may creep.
_LOOKS = 16


@dataclass(frozen=True, kw_only=True)
class Prediction:
    """Fits of samples of the standard distribution, and how many patches nobody read."""

    location: Floats
    scale: Floats
    deepest: Floats
    distance: Floats
    count: int
    unread: float

    def not_deeper(self, reduced: float) -> float:
        """Return the probability that M is not over location + reduced x scale.

        The depths of the unread patches are not drawn: what they do to the deepest is known given each fit.
        """
        z = self.location + reduced * self.scale
        unread = np.exp(-self.unread * np.exp(-np.maximum(z, -_FARTHEST)))
        return float(np.where(z >= self.deepest, unread, 0.0).mean())

    def quantile(self, probability: float) -> float:
        """Return the reduced depth that M is not over with a probability.

        It is looked for on Gumbel's reduced scale, on which the distribution is nearly a line.
        """
        wanted = _reduced(probability)
        return _zero(lambda depth: _reduced(self.not_deeper(depth)) - wanted, wanted + float(np.log1p(self.unread)))

    def p_value(self, distance: float) -> float:
        """Return how often a sample of the distribution lies as far from its own fit as this one, or farther."""
        modified = _modified(distance, self.count)
        return float((1 + (self.distance >= modified).sum()) / (1 + len(self.distance)))


def _reduced(probability: float) -> float:
    """Return -ln(-ln p): a probability as a depth of the standard distribution."""
    with np.errstate(divide="ignore"):
        return float(-np.log(-np.log(probability)))


def _zero(rising: Callable[[float], float], near: float) -> float:
    """Return the least number, to `_NEAR`, at which a rising function is not below zero.

    By false position; where one end stays twice, its value counts half (Illinois).
    """
    (low, below), (high, above) = _end(rising, near, -1.0), _end(rising, near, 1.0)
    before, looks = 0.0, 0
    while high - low > _NEAR:
        is_line = looks < _LOOKS and np.isfinite(above - below) and above > below
        share = -below / (above - below) if is_line else 0.5
        at = min(max(low + share * (high - low), low + _NEAR / 2), high - _NEAR / 2)
        told = rising(at)
        if told < 0:
            low, below, above = at, told, above / 2 if before < 0 else above
        else:
            high, above, below = at, told, below / 2 if before > 0 else below
        before, looks = told, looks + 1
    return high


def _end(rising: Callable[[float], float], near: float, step: float) -> tuple[float, float]:
    """Return a place on the way of a step at which a rising function is on that side of zero, and what it is there.

    Each step is twice the last; none is made from beyond what a double's exponential holds.
    """
    at, told = near + step, rising(near + step)
    while (told < 0) is (step > 0) and abs(at) < _FARTHEST:
        step *= 2
        at += step
        told = rising(at)
    return at, told


def predicted(method: Method, count: int, total: float) -> Prediction:
    """Return what is to be expected of `total` patches of which `count` were read and fitted by a method."""
    fits, deepest, distance = _drawn(method, min(count, _MOST_DRAWN))
    if count > _MOST_DRAWN:
        # The deepest of so many says next to nothing of location and scale: read and unread patches are one.
        fits, deepest, unread = _normal(method, count), np.array(-np.inf), total
    else:
        unread = total - count
    return Prediction(
        location=fits.location, scale=fits.scale, deepest=deepest, distance=distance, count=count, unread=max(unread, 0.0)
    )


@lru_cache(maxsize=64)
def _drawn(method: Method, count: int) -> tuple[Fit, Floats, Floats]:
    """Return fits of standard samples, the deepest of each, and how far each lies from its fit."""
    samples = np.sort(-np.log(-np.log(_uniform(_fits(count), count))), axis=1)
    fits = fit(samples, method)
    return fits, samples[:, -1], _modified(anderson_darling(samples, fits), count)


@lru_cache(maxsize=64)
def _normal(method: Method, count: int) -> Fit:
    """Return estimates of the standard distribution drawn from the normal distribution that they tend to."""
    covariance = l_moments_covariance(count) if method == Method.L_MOMENTS else np.linalg.inv(_INFORMATION) / count
    standard = ndtri(_uniform(_fits(_MOST_DRAWN), 2))
    location, scale = (standard @ np.linalg.cholesky(covariance).T).T
    return Fit(location=location, scale=1 + scale)


def _fits(count: int) -> int:
    return min(_VALUES_DRAWN // count, _MOST_FITS)


def _uniform(rows: int, columns: int) -> Floats:
    # numpy keeps this generator's stream as it is for ever: an answer stays the same for years.
    return np.asarray(np.random.RandomState(_SEED).random_sample((rows, columns)))


def _modified(distance: Floats | float, count: int) -> Floats:
    """Return a distance that hardly depends on the count any more. Reference: stephens-1977."""
    return np.asarray(np.asarray(distance) * (1 + 0.2 / np.sqrt(count)))
