"""What a number of places read, or a grid of them, can tell of the plate between: the arithmetic of sampling."""

from __future__ import annotations

import math
from decimal import Decimal, localcontext

__all__ = [
    "FEW_CONFIDENCE",
    "FEW_FRACTION",
    "certain_hit_spacing_mm",
    "detection_probability",
    "hit_probability",
    "missed_fraction_upper",
    "readings_needed",
]

#: Readings are few where attack of this fraction can be missed at this confidence: under 29. Reference: few-readings.
FEW_FRACTION = 0.1
FEW_CONFIDENCE = 0.95
#: Digits that keep (1 - p)^n apart from 1 - c for any n that the fields allow, or show that they are equal.
_DIGITS = 60


def readings_needed(attacked_fraction: float, confidence: float) -> int:
    """Return the least n with (1 - p)^n <= 1 - c: readings placed at random of which one at least meets the attack.

    Both figures are taken as they are written, so that the count is exact where the two sides are equal.

    Examples
    --------
    >>> readings_needed(0.1, 0.95), readings_needed(0.5, 0.75), readings_needed(0.1, 0.19)
    (29, 2, 2)
    """
    with localcontext() as context:
        context.prec = _DIGITS
        sound, missed = 1 - Decimal(repr(attacked_fraction)), 1 - Decimal(repr(confidence))
        count = max(math.ceil(math.log(missed) / math.log1p(-attacked_fraction)), 1)
        if count > 1 and sound ** (count - 1) <= missed:
            return count - 1
        return count if sound**count <= missed else count + 1


def missed_fraction_upper(readings: int, confidence: float) -> float:
    """Return the exact binomial (one-sided) upper limit of the attacked fraction after so many clean readings.

    Examples
    --------
    >>> round(missed_fraction_upper(29, 0.95), 4)
    0.0981
    """
    return -math.expm1(math.log1p(-confidence) / readings)


def detection_probability(readings: int, attacked_fraction: float) -> float:
    """Return the probability that one at least of so many readings placed at random meets the attack."""
    return -math.expm1(readings * math.log1p(-attacked_fraction))


def hit_probability(patch_diameter_mm: float, grid_spacing_mm: float) -> float:
    """Return the probability that a square grid of random origin has a point on a round patch.

    It is the share of a cell within the patch's radius of a point of the grid: one circle for each point; past d = s the
    circles of neighbours overlap in a lens, two to a cell; from d = s sqrt(2) they leave nothing uncovered. No three overlap
    before.

    Examples
    --------
    >>> round(hit_probability(500, 1000), 6), hit_probability(1415, 1000)
    (0.19635, 1.0)
    """
    ratio = patch_diameter_mm / grid_spacing_mm
    if ratio >= math.sqrt(2):
        return 1.0
    circle = math.pi * ratio**2 / 4
    if ratio <= 1:
        return circle
    lens = ratio**2 / 2 * math.acos(1 / ratio) - math.sqrt(ratio**2 - 1) / 2
    return min(circle - 2 * lens, 1.0)


def certain_hit_spacing_mm(patch_diameter_mm: float) -> float:
    """Return the widest spacing of a square grid that no patch escapes, d / sqrt(2), rounded down to 0.001 mm."""
    return math.floor(1000 * patch_diameter_mm / math.sqrt(2)) / 1000
