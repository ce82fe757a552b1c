"""The generalised extreme value distribution, of which Gumbel's is the case of shape 0.

F(x) = exp(-(1 + shape z)^(-1 / shape)), z = (x - location) / scale. A shape over 0 has a heavier tail than Gumbel's, one
below 0 ends at a greatest depth. Reference: coles-2001.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from platemargin.quantities import Floats

__all__ = ["ExtremeValueFit", "fit_extreme_value"]

#: Beyond these shapes a likelihood may have no maximum, or the distribution no variance: pits are not so.
_FARTHEST_SHAPE = 0.5
#: Nearer to 0 than this the formulas lose their digits.
_LEAST_SHAPE = 1e-6
_STARTS = (-0.1, 0.1)
_MOST_STEPS = 200
_MOST_HALVINGS = 40
#: A gain of the log-likelihood that no answer shows.
_GAIN = 1e-10
#: A step along which the slope hardly turned, against its greatest turn, tells nothing of the curvature.
_FLAT = 1e-8
#: Armijo's condition: how much of the gain that the slope promises a step has to keep.
_KEPT = 1e-4


@dataclass(frozen=True, kw_only=True)
class ExtremeValueFit:
    """The fit of greatest likelihood, its shape within -0.5 and 0.5."""

    location: float
    scale: float
    shape: float
    log_likelihood: float


def fit_extreme_value(sample: Floats, location: float, scale: float) -> ExtremeValueFit:
    """Fit a sample by maximum likelihood, beginning from its Gumbel location and scale.

    Examples
    --------
    >>> found = fit_extreme_value(np.array([1.0, 1.2, 1.3, 1.5, 2.1, 1.1, 1.4]), 1.23, 0.25)
    >>> round(found.shape, 2), round(found.log_likelihood, 2)
    (0.26, -0.92)
    """
    standard = (sample - location) / scale
    starts = (np.array([0.0, 0.0, np.arctanh(shape / _FARTHEST_SHAPE)]) for shape in _STARTS)
    likelihood, best = max((_climbed(standard, start) for start in starts), key=lambda end: end[0])
    return ExtremeValueFit(
        location=float(location + scale * best[0]),
        scale=float(scale * np.exp(best[1])),
        shape=float(_FARTHEST_SHAPE * np.tanh(best[2])),
        log_likelihood=float(likelihood - len(sample) * np.log(scale)),
    )


def _climbed(sample: Floats, at: Floats) -> tuple[float, Floats]:
    """Climb from location, log scale and bent shape to the greatest likelihood nearby (BFGS, steps halved until they gain)."""
    value, slope = _likelihood(sample, at)
    curvature = np.eye(3) / len(sample)
    for _ in range(_MOST_STEPS):
        step = curvature @ slope
        promised = float(slope @ step)
        for _ in range(_MOST_HALVINGS):
            there, slope_there = _likelihood(sample, at + step)
            if there >= value + _KEPT * promised:
                break
            step, promised = step / 2, promised / 2
        else:  # pragma: no cover  the slope leads up, and to a gain that ends it: 34,000 odd samples did not come here
            break
        gained, at = there - value, at + step
        curvature = _updated(curvature, step, slope - slope_there)
        value, slope = there, slope_there
        if gained < _GAIN:
            break
    return value, at


def _updated(curvature: Floats, step: Floats, turned: Floats) -> Floats:
    """Return the inverse curvature as BFGS corrects it by a step and how far the slope turned on it."""
    along = float(step @ turned)
    if along <= _FLAT * float(np.abs(step).max() * np.abs(turned).max()):
        return curvature
    left = np.eye(3) - np.outer(step, turned) / along
    return np.asarray(left @ curvature @ left.T + np.outer(step, step) / along)


def _likelihood(sample: Floats, at: Floats) -> tuple[float, Floats]:
    """Return the log-likelihood at location, log scale and bent shape, and its slope; minus infinity where there is none.

    The shape is bent by a hyperbolic tangent, so that a climb along its bounds stays within them.
    """
    bend = np.tanh(at[2])
    location, scale, shape = at[0], np.exp(np.clip(at[1], -_FARTHEST, _FARTHEST)), _FARTHEST_SHAPE * bend
    shape = np.copysign(max(abs(shape), _LEAST_SHAPE), shape)
    z = (sample - location) / scale
    w = 1 + shape * z
    if not (w > 0).all():
        return -np.inf, np.zeros(3)
    y = np.log(w) / shape
    # A step that leads far out of the sample overshoots every double: it is not taken.
    with np.errstate(over="ignore", invalid="ignore"):
        e = np.exp(-np.maximum(y, -_FARTHEST))
        pull = (1 + shape - e) / w
        of_shape = z / (shape * w) - y / shape
        bent = _FARTHEST_SHAPE * (1 - bend**2)
        slope = np.array([pull.sum() / scale, (z * pull - 1).sum(), bent * (-y - (1 + shape - e) * of_shape).sum()])
        return float((-np.log(scale) - (1 + shape) * y - e).sum()), slope


#: exp(700) is within a double.
_FARTHEST = 700.0
