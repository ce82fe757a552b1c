"""Where anodes go along a hull: how far one reaches, how many that takes, and their stations along each side."""

from __future__ import annotations

from math import ceil

__all__ = ["REACH_LENGTHS", "SPACING_M", "count_by_spacing", "densest_count", "reach_m", "stations_m"]

#: An anode reaches so many times its length each way from its centre, and hulls are fitted so often [m].
#: Reference: anode-practice.
REACH_LENGTHS = 7.0
SPACING_M = 4.0
SIDES = 2
#: The densest fitting that was published for a hull: two anodes on 100 ft2 of bare steel. Reference: tb-43-0144.
_DENSEST_M2 = 100.0 * 0.3048**2 / 2


def reach_m(length_m: float, reach_lengths: float) -> float:
    """Return how far an anode reaches each way from its centre [m].

    Examples
    --------
    >>> round(reach_m(0.29, 7.0), 2)
    2.03

    References
    ----------
    anode-practice
    """
    return reach_lengths * length_m


def count_by_spacing(hull_length_m: float, spacing_m: float, reach: float) -> int:
    """Return how many anodes leave no gap along either side: one every `spacing_m`, or nearer where they reach less.

    Examples
    --------
    >>> count_by_spacing(17.5, 4.0, 2.03)
    10

    References
    ----------
    anode-practice
    """
    return SIDES * ceil(round(hull_length_m / min(spacing_m, 2 * reach), 6))


def stations_m(hull_length_m: float, count: int) -> tuple[float, ...]:
    """Return the stations of the anodes along each side, from the stem: each in the middle of an equal part of the length.

    Examples
    --------
    >>> stations_m(16.0, 8)
    (2.0, 6.0, 10.0, 14.0)
    """
    each_side = ceil(count / SIDES)
    return tuple((index + 0.5) * hull_length_m / each_side for index in range(each_side))


def densest_count(area_m2: float) -> int:
    """Return how many anodes the densest published rule for a hull would fit: with more, another way is needed.

    Examples
    --------
    >>> densest_count(60.0)
    13

    References
    ----------
    tb-43-0144
    """
    return max(2, ceil(round(area_m2 / _DENSEST_M2, 6)))
