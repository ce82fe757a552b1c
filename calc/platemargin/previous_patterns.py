"""What the readings of two surveys say beside each other: the same values, another unit, too fast a loss, growth.

Only the plate is compared: a pit that was measured once, or another pit of the same place, is no fault of the data.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

import numpy as np

from platemargin.consistency import LEAST_IN_ZONE, MM_PER_INCH, likely_left
from platemargin.previous_losses import Thicker, TooFast, thicker, too_fast
from platemargin.previous_repeats import Repeated, repeated
from platemargin.quantities import Floats
from platemargin.read_again import PlacesAgain, ReadAgain, places_again

__all__ = ["InOtherUnit", "PreviousPatterns", "previous_patterns"]

#: What a slip of unit or decimal point makes of a value, in words.
_SLIPS = {
    10.0: "ten times",
    0.1: "a tenth of",
    MM_PER_INCH: "25.4 times (as mm are of inches)",
    1 / MM_PER_INCH: "a 25.4th of (as inches are of mm)",
}


@dataclass(frozen=True, kw_only=True)
class InOtherUnit:
    """A zone whose values are those of the previous survey times a figure that a slip makes; the first of them."""

    zone: str
    row: int
    reading: str
    count: int
    times: str
    plate_mm: float
    previous_mm: float


@dataclass(frozen=True, kw_only=True)
class PreviousPatterns:
    """What is to be asked about two surveys of one hull, and at how many places it could be."""

    surveyed_on: date
    places: int
    repeated_judged: int
    thicker_judged: int
    repeated: tuple[Repeated, ...]
    in_other_unit: tuple[InOtherUnit, ...]
    too_fast: tuple[TooFast, ...]
    thicker: tuple[Thicker, ...]


def previous_patterns(again: ReadAgain, alpha: float) -> PreviousPatterns:
    """Return what is to be asked about two surveys; an honest pair is asked about at most so often."""
    each = alpha / 4
    places = places_again(again)
    slips = _slips(places)
    in_unit = places.only((slips == 0) & places.one_plate)
    repeated_judged, told = repeated(places, each)
    return PreviousPatterns(
        surveyed_on=again.surveyed_on,
        places=len(places),
        repeated_judged=repeated_judged,
        thicker_judged=len(in_unit) if len(in_unit) >= LEAST_IN_ZONE else 0,
        repeated=told,
        in_other_unit=tuple(_in_other_unit(places, slips)),
        too_fast=tuple(too_fast(in_unit, again, each)),
        thicker=tuple(thicker(in_unit, again, each)),
    )


def _slips(places: PlacesAgain) -> Floats:
    """Return for each place the figure by which the previous reading was multiplied; 0 where it was not."""
    told = np.zeros(len(places))
    for times in _SLIPS:
        told[likely_left(places.plate_mm / times, places.previous_mm)] = times
    return told


def _in_other_unit(places: PlacesAgain, slips: Floats) -> Iterator[InOtherUnit]:
    for zone, rows in places.by_zone.items():
        for times, words in _SLIPS.items():
            slipped = rows[slips[rows] == times]
            if len(slipped):
                yield InOtherUnit(zone=zone, count=len(slipped), times=words, **places.told(int(slipped[0])))
