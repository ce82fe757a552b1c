"""Resistance formulas against electrostatics and against each other."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.constants import epsilon_0

from platemargin.anode_materials import AnodeShape
from platemargin.anode_resistance import (
    long_flush_ohm,
    long_stand_off_ohm,
    mccoy_ohm,
    resistance_ohm,
    shape_of,
    short_stand_off_ohm,
    used_up,
)

sizes = st.fixed_dictionaries(
    {
        "length_m": st.floats(0.05, 3),
        "width_m": st.floats(0.02, 1),
        "thickness_m": st.floats(0.01, 0.5),
        "flush": st.booleans(),
    }
)


def test_mccoys_constant_is_near_a_disc_free_on_both_faces():
    """R = eps rho / C (electrostatics); a disc of radius r has C = 8 eps r, wet on both faces A = 2 pi r^2: sqrt(2 pi) / 8."""
    radius, resistivity = 0.1, 0.3
    disc = epsilon_0 * resistivity / (8 * epsilon_0 * radius)
    assert disc == pytest.approx(math.sqrt(2 * math.pi) / 8 * resistivity / math.sqrt(2 * math.pi * radius**2))
    assert mccoy_ohm(resistivity, 2 * math.pi * radius**2) == pytest.approx(disc, rel=0.006)


def test_mccoy_tells_too_little_for_a_plate_on_an_insulating_plane():
    """Half a disc's field: R = rho / 4 r over A = pi r^2 is sqrt(pi) / 4 rho / sqrt(A), 1.41 times McCoy's."""
    radius, resistivity = 0.1, 0.3
    plane = resistivity / (4 * radius)
    assert plane / mccoy_ohm(resistivity, math.pi * radius**2) == pytest.approx(math.sqrt(math.pi) / 4 / 0.315)
    assert math.sqrt(math.pi) / 4 / 0.315 == pytest.approx(1.407, abs=0.001)


@pytest.mark.parametrize(("slender", "within"), [(10, 1e-1), (100, 2e-3), (1000, 1e-4)])
def test_the_short_bar_becomes_the_long_one(slender, within):
    """ln(2 L / r (1 + q)) + r / 2 L - q tends to ln(4 L / r) - 1."""
    short, long = short_stand_off_ohm(0.3, 1.0, 1 / slender), long_stand_off_ohm(0.3, 1.0, 1 / slender)
    assert short / long == pytest.approx(1.0, abs=within)
    assert short > long


def test_a_bar_of_no_length_stands_at_infinity():
    """The short formula stays finite and positive where the long one turns negative."""
    assert long_stand_off_ohm(1.0, 0.1, 0.2) < 0 < short_stand_off_ohm(1.0, 0.1, 0.2)


def test_flush_formulas_agree_on_a_plate_between_long_and_short():
    """Four times as long as wide, thin: the two flush formulas differ by no more than a third."""
    assert long_flush_ohm(1.0, 0.4, 0.1) / mccoy_ohm(1.0, 0.04) == pytest.approx(1.0, abs=0.34)


@pytest.mark.parametrize(
    ("size", "flush", "shape"),
    [
        ((0.40, 0.10, 0.05), True, AnodeShape.LONG_FLUSH),
        ((0.39, 0.10, 0.05), True, AnodeShape.SHORT_FLUSH),
        ((0.40, 0.05, 0.11), True, AnodeShape.SHORT_FLUSH),
        ((1.0, math.pi / 8, math.pi / 8), False, AnodeShape.LONG_STAND_OFF),
        ((0.99, math.pi / 8, math.pi / 8), False, AnodeShape.SHORT_STAND_OFF),
    ],
)
def test_long_is_four_times(size, flush, shape):
    """Four times the width and the thickness (flush), four times the radius = perimeter / 2 pi (stand-off)."""
    length, width, thickness = size
    assert shape_of(length_m=length, width_m=width, thickness_m=thickness, flush=flush).shape is shape


def test_a_round_bar_keeps_its_volume():
    """What is left of a slender bar is a round rod of the volume that is not used, a tenth shorter for the part that is."""
    new = shape_of(length_m=1.0, width_m=0.1, thickness_m=0.08, flush=False)
    left = used_up(new, thickness_m=0.08, utilisation=0.9)
    assert left.length_m == pytest.approx(0.91)
    assert math.pi * left.radius_m**2 * left.length_m == pytest.approx(0.1 * 1.0 * 0.1 * 0.08)


def test_a_long_flush_anode_ends_as_a_half_rod():
    """DNV-RP-B401: pi w^2 / 8 times a length a tenth shorter for the part that is gone is the volume that is not used."""
    new = shape_of(length_m=0.5, width_m=0.1, thickness_m=0.05, flush=True)
    left = used_up(new, thickness_m=0.05, utilisation=0.85)
    assert left.length_m == pytest.approx(0.4575)
    assert math.pi * left.width_m**2 / 8 * left.length_m == pytest.approx(0.15 * 0.5 * 0.1 * 0.05)
    assert (left.shape, left.exposed_m2) == (new.shape, new.exposed_m2)
    # 0.3 over 0.4575 + 0.045687, as rho / (2 S), S the mean of length and width.
    assert resistance_ohm(0.3, left) == pytest.approx(0.596200, abs=1e-6)


def test_a_short_flush_anode_ends_as_the_face_on_the_steel():
    """Face and four edges of 0.29 x 0.14 x 0.05 m: 0.0406 + 2 x 0.05 x 0.43 = 0.0836 m2; used up, the face; no more of it."""
    new = shape_of(length_m=0.29, width_m=0.14, thickness_m=0.05, flush=True)
    assert new.exposed_m2 == pytest.approx(0.0836)
    assert used_up(new, thickness_m=0.05, utilisation=0.8) == replace(new, exposed_m2=pytest.approx(0.0406))


@pytest.mark.parametrize(
    ("length_m", "width_m", "thickness_m", "flush", "ohm"),
    [
        # Stand-off bars of pi x 0.05 = 0.157080 m, half the perimeter: radius 0.05 m.
        (0.5, 0.1, 0.057080, False, 0.256769),  # 0.3 / (2 pi 0.5) (ln 40 - 1)
        (0.1, 0.1, 0.057080, False, 0.627358),  # 0.3 / (2 pi 0.1) (ln(4 x 2.030776) + 0.25 - 1.030776)
        (0.5, 0.1, 0.05, True, 0.5),  # 0.3 / (0.5 + 0.1)
        (0.29, 0.14, 0.05, True, 0.326835),  # 0.315 x 0.3 / sqrt(0.0836)
    ],
)
def test_each_shape_has_its_own_formula(length_m, width_m, thickness_m, flush, ohm):
    """DNV-RP-B401, Table 10-7, worked by hand for 0.3 ohm m: long and short stand-off, long flush, and McCoy's."""
    new = shape_of(length_m=length_m, width_m=width_m, thickness_m=thickness_m, flush=flush)
    assert resistance_ohm(0.3, new) == pytest.approx(ohm, abs=2e-6)


@given(sizes, st.floats(0.1, 1))
def test_an_anode_that_is_used_up_never_gives_more(size, utilisation):
    """For every size and shape the resistance is positive, finite, and grows as the anode goes."""
    new = shape_of(**size)
    left = used_up(new, thickness_m=size["thickness_m"], utilisation=utilisation)
    assert 0 < resistance_ohm(1.0, new) <= resistance_ohm(1.0, left) * (1 + 1e-12) < math.inf


@given(sizes, st.tuples(st.floats(0.05, 2000), st.floats(0.05, 2000)))
def test_resistance_goes_with_resistivity(size, waters):
    """R / rho is of the shape alone."""
    new = shape_of(**size)
    one, other = (resistance_ohm(water, new) / water for water in waters)
    assert one == pytest.approx(other, rel=1e-12)
