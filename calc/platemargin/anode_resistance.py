"""What stands between an anode and the water around it: its shape, its resistance new and used up, and what it then gives."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, log, pi, sqrt

from platemargin.anode_materials import AnodeShape

__all__ = [
    "NEAREST_M",
    "NEAR_FACTOR",
    "NEAR_M",
    "AnodeSize",
    "long_flush_ohm",
    "long_stand_off_ohm",
    "mccoy_ohm",
    "resistance_ohm",
    "shape_of",
    "short_stand_off_ohm",
    "used_up",
]

#: An anode that is this many times as long as wide and as thick (flush), or as its radius (stand-off), is a long one.
#: Reference: dnv-rp-b401-design.
_LONG = 4.0
#: McCoy's constant. Reference: mccoy-1970.
_MCCOY = 0.315
#: Part of its length that a slender anode has lost when it is used up, for each part of its mass.
#: Reference: dnv-rp-b401-design.
_SHORTENS = 0.1
#: Of an anode that is said to be used up altogether this part is reckoned with: a rod of no thickness gives nothing.
_LEAST_LEFT = 0.02
#: A stand-off anode feels no steel from this distance on [m], has 1.3 times the resistance down to the nearest, and is out of
#: the formula nearer still. Reference: dnv-rp-b401-stand-off.
NEAR_M, NEAREST_M, NEAR_FACTOR = 0.30, 0.15, 1.3


@dataclass(frozen=True, kw_only=True)
class AnodeSize:
    """What faces the water: a bar along its length, `flush` on the steel or standing off it.

    `radius_m` is of the bar that stands off, perimeter / 2 pi; `exposed_m2` of the one that lies flush: its face, and the
    edges while they are there.
    """

    shape: AnodeShape
    length_m: float
    width_m: float
    radius_m: float
    exposed_m2: float


def shape_of(*, length_m: float, width_m: float, thickness_m: float, flush: bool) -> AnodeSize:
    """Return a new anode's shape and size.

    Examples
    --------
    >>> shape_of(length_m=0.29, width_m=0.14, thickness_m=0.05, flush=True).shape.name
    'SHORT_FLUSH'

    References
    ----------
    dnv-rp-b401-design
    """
    radius = (width_m + thickness_m) / pi
    if flush:
        is_long = length_m >= _LONG * max(width_m, thickness_m)
        shape = AnodeShape.LONG_FLUSH if is_long else AnodeShape.SHORT_FLUSH
    else:
        shape = AnodeShape.LONG_STAND_OFF if length_m >= _LONG * radius else AnodeShape.SHORT_STAND_OFF
    exposed = length_m * width_m + 2 * thickness_m * (length_m + width_m)
    return AnodeSize(shape=shape, length_m=length_m, width_m=width_m, radius_m=radius, exposed_m2=exposed)


def used_up(new: AnodeSize, *, thickness_m: float, utilisation: float) -> AnodeSize:
    """Return what is left of an anode when it is used to its limit, the formula of its shape kept.

    Slender bars end as round rods a tenth shorter for the part that is gone, long flush ones as half-rods, short flush ones
    as the face that lay on the steel.

    References
    ----------
    dnv-rp-b401-design
    """
    if new.shape is AnodeShape.SHORT_FLUSH:
        face = new.length_m * new.width_m
        return AnodeSize(shape=new.shape, length_m=new.length_m, width_m=new.width_m, radius_m=new.radius_m, exposed_m2=face)
    length = new.length_m * (1.0 - _SHORTENS * utilisation)
    section = max(1.0 - utilisation, _LEAST_LEFT) * new.length_m * new.width_m * thickness_m / length
    half_rod = 2.0 * sqrt(2.0 * section / pi)
    return AnodeSize(
        shape=new.shape,
        length_m=length,
        width_m=min(half_rod, new.width_m),
        radius_m=sqrt(section / pi),
        exposed_m2=new.exposed_m2,
    )


def long_stand_off_ohm(resistivity_ohm_m: float, length_m: float, radius_m: float) -> float:
    """Return rho / (2 pi L) (ln(4 L / r) - 1): Dwight's rod, L >= 4 r.

    Examples
    --------
    >>> round(long_stand_off_ohm(0.3, 1.0, 0.05), 5)
    0.16148

    References
    ----------
    dnv-rp-b401-design
    """
    return resistivity_ohm_m / (2 * pi * length_m) * (log(4 * length_m / radius_m) - 1)


def short_stand_off_ohm(resistivity_ohm_m: float, length_m: float, radius_m: float) -> float:
    """Return the same for L < 4 r, where the end of the rod counts too.

    rho / (2 pi L) (ln(2 L / r (1 + q)) + r / 2 L - q), q = sqrt(1 + (r / 2 L)^2).

    Examples
    --------
    >>> round(short_stand_off_ohm(0.3, 0.1, 0.05), 5)
    0.62736

    References
    ----------
    dnv-rp-b401-design
    """
    half = radius_m / (2 * length_m)
    q = hypot(1.0, half)
    return resistivity_ohm_m / (2 * pi * length_m) * (log((1 + q) / half) + half - q)


def long_flush_ohm(resistivity_ohm_m: float, length_m: float, width_m: float) -> float:
    """Return rho / (2 S), S the mean of length and width.

    Examples
    --------
    >>> long_flush_ohm(0.3, 0.5, 0.1)
    0.5

    References
    ----------
    dnv-rp-b401-design
    """
    return resistivity_ohm_m / (length_m + width_m)


def mccoy_ohm(resistivity_ohm_m: float, exposed_m2: float) -> float:
    """Return McCoy's 0.315 rho / sqrt(A), A what faces the water.

    Notes
    -----
    Empirical, from anodes on ships. A disc free on both faces has sqrt(2 pi) / 8 = 0.313 in its place; one that lies on an
    insulating plane, wet on one face, sqrt(pi) / 4 = 0.443: the constant assumes that a hull beside the anode hinders the
    current little, and may tell 40 % too much output where the coating is new.

    Examples
    --------
    >>> round(mccoy_ohm(0.3, 0.06), 4)
    0.3858

    References
    ----------
    mccoy-1970, dnv-rp-b401-design
    """
    return _MCCOY * resistivity_ohm_m / sqrt(exposed_m2)


def resistance_ohm(resistivity_ohm_m: float, anode: AnodeSize) -> float:
    """Return an anode's resistance by the formula of its shape [ohm].

    References
    ----------
    dnv-rp-b401-design, mccoy-1970
    """
    match anode.shape:
        case AnodeShape.LONG_STAND_OFF:
            return long_stand_off_ohm(resistivity_ohm_m, anode.length_m, anode.radius_m)
        case AnodeShape.SHORT_STAND_OFF:
            return short_stand_off_ohm(resistivity_ohm_m, anode.length_m, anode.radius_m)
        case AnodeShape.LONG_FLUSH:
            return long_flush_ohm(resistivity_ohm_m, anode.length_m, anode.width_m)
    return mccoy_ohm(resistivity_ohm_m, anode.exposed_m2)
