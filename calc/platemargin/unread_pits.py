"""How probably a pit that nobody read is as deep as the plate, given every depth that was read.

Of the depths read nothing is left out: that the deepest of them is no hole is known, and so is how they lie to each other.
Given that, location and scale less their fit, over the scale fitted, have one distribution for every Gumbel distribution,
and it is the one that the likelihood makes with equal weight for every location and every logarithm of the scale. The
location is integrated in closed form: no draws, and no estimator. Reference: lawless-1973.
"""

from __future__ import annotations

import numpy as np

from platemargin.gumbel import Method, fit
from platemargin.quantities import Floats

__all__ = ["probability_as_deep", "unread_patches"]

#: All patches are read where fewer than half a patch is not (common practice).
_HALF_A_PATCH = 0.5
#: Step of the trapezoidal rule over the scale's logarithm, where so many patches and fewer were read; with more it shrinks as
#: their root grows. Halved, it changes no probability by 1e-14.
_STEP, _STEP_UP_TO = 0.01, 100


def unread_patches(total: float, read: int) -> float:
    """Return how many of all patches nobody read; none where it is less than half a patch.

    Examples
    --------
    >>> unread_patches(100.0, 8), unread_patches(8.4, 8)
    (92.0, 0.0)
    """
    unread = total - read
    return unread if unread >= _HALF_A_PATCH else 0.0


def probability_as_deep(depths: Floats, plate: float, unread: float) -> float:
    """Return the probability that one of the unread patches has a pit as deep as the plate, which no depth read is.

    Given the scale s, the location's integral leaves (1 + unread e^(-plate / s) / sum e^(-depth / s))^-n of no such pit, and
    the scale's logarithm has the density s^(1 - n) e^(-sum depth / s) (sum e^(-depth / s))^-n.

    Parameters
    ----------
    depths : array
        Ascending, two of them different.
    plate : float
        Deeper than all of them.
    unread : float
        How many patches nobody read, 0 or more.

    Examples
    --------
    >>> depths = np.array([0.6, 0.8, 0.9, 1.0, 1.4])
    >>> round(probability_as_deep(depths, 2.0, 95.0), 3), probability_as_deep(depths, 2.0, 0.0)
    (0.583, 0.0)

    References
    ----------
    lawless-1973
    """
    count, over = len(depths), depths - depths[0]
    scale = fit(depths[None], Method.MAXIMUM_LIKELIHOOD).scale * np.exp(_logarithms(count))
    total = np.exp(-over / scale[:, None]).sum(axis=1)
    density = (1 - count) * np.log(scale) - over.sum() / scale - count * np.log(total)
    weight = np.exp(density - density.max())
    deeper = -np.expm1(-count * np.log1p(unread * np.exp(-(plate - depths[0]) / scale) / total))
    return float((weight * deeper).sum() / weight.sum())


def _logarithms(count: int) -> Floats:
    """Return where the scale's logarithm, less its fit, is of any weight: further off is 1 part in 1e17 of it.

    However the depths lie, the density's logarithm at a distance u above the fit is below that at it by at least
    (n - 1) u - n (1 - e^-u), and by more below it: its slope is 1 - n + n (mean - weighted mean) / s, and what is in
    brackets falls as s grows.
    """
    reach = 40 / (count - 1) + np.sqrt(80 / count)
    points = np.ceil(reach / _STEP * np.sqrt(max(count / _STEP_UP_TO, 1)))
    return np.linspace(-reach, reach, 2 * int(points) + 1)
