"""How far a new plate may be from its nominal thickness: EN 10029:2010, class A.

"Original" is mostly the nominal from a builder's list, and a new plate is seldom that: the loss inherits the difference.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from platemargin.quantities import Floats, as_array, looked_up

__all__ = ["THINNEST_MM", "class_a_limits", "spread_and_offset_mm", "standard_uncertainty_mm", "thickest_mm"]

#: Lower ends of the ranges of nominal thickness [mm], and the limits about the nominal [mm]. Reference: en-10029-class-a.
_NOMINAL_FROM_MM = np.array([3.0, 5.0, 8.0, 15.0, 25.0, 40.0])
_LOWER_MM = np.array([-0.3, -0.4, -0.5, -0.6, -0.7, -0.9])
_UPPER_MM = np.array([0.7, 0.8, 0.9, 1.0, 1.3, 1.7])

#: How plates of a range differ, how far their mean is from the nominal, and both together [mm].
_SPREAD_MM, _OFFSET_MM = (_UPPER_MM - _LOWER_MM) / np.sqrt(12), (_LOWER_MM + _UPPER_MM) / 2
_UNCERTAINTY_MM = np.hypot(_SPREAD_MM, _OFFSET_MM)

#: Below this nominal thickness [mm] the standard has no row.
THINNEST_MM = float(_NOMINAL_FROM_MM[0])


def class_a_limits(nominal_mm: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Return the class A limits about a nominal thickness.

    Parameters
    ----------
    nominal_mm : scalar or array
        Nominal thickness [mm], 3 to 80; below 3 mm the row of 3 to 5 mm is taken; NaN gives NaN.

    Returns
    -------
    lower_mm, upper_mm : arrays
        Permitted difference from the nominal [mm].

    Examples
    --------
    >>> lower_mm, upper_mm = class_a_limits(10.0)
    >>> float(lower_mm), float(upper_mm)
    (-0.5, 0.9)

    References
    ----------
    en-10029-class-a
    """
    return _of_range(nominal_mm, _LOWER_MM), _of_range(nominal_mm, _UPPER_MM)


def thickest_mm(nominal_mm: npt.ArrayLike) -> Floats:
    """Return how thick a new plate of a nominal thickness may be [mm].

    Examples
    --------
    >>> float(thickest_mm(10.0))
    10.9

    References
    ----------
    en-10029-class-a
    """
    return as_array(nominal_mm) + _of_range(nominal_mm, _UPPER_MM)


def standard_uncertainty_mm(nominal_mm: npt.ArrayLike) -> Floats:
    """Return the standard uncertainty of a new plate's thickness taken as its nominal.

    u^2 = (b - a)^2 / 12 + ((a + b) / 2)^2: a rectangular distribution between the limits a and b, its mean not corrected.

    Examples
    --------
    >>> round(float(standard_uncertainty_mm(10.0)), 3), round(float(standard_uncertainty_mm(6.0)), 3)
    (0.451, 0.4)

    References
    ----------
    en-10029-class-a, gum
    """
    return _of_range(nominal_mm, _UNCERTAINTY_MM)


def spread_and_offset_mm(nominal_mm: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Return the two parts of that: how plates of one nominal differ, and how far their mean is from it.

    Of many plates the first averages out and the second does not.
    """
    return _of_range(nominal_mm, _SPREAD_MM), _of_range(nominal_mm, _OFFSET_MM)


def _of_range(nominal_mm: npt.ArrayLike, entries: Floats) -> Floats:
    """Return what holds of the range that a nominal thickness is in."""
    nominal = as_array(nominal_mm)
    row = np.maximum(np.searchsorted(_NOMINAL_FROM_MM, nominal, side="right") - 1, 0)
    return np.where(np.isnan(nominal), np.nan, looked_up(entries, row))
