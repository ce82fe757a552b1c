"""Coating breakdown and current, against what they are integrals and products of."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from platemargin.current_demand import (
    CATEGORIES,
    breakdown_final,
    breakdown_mean,
    density_in,
    hull_box_m2,
    surface_demand,
)

parts, per_year, lives = st.floats(0.005, 1), st.floats(0, 1), st.floats(0.5, 50)


@given(parts, per_year, lives)
def test_the_mean_is_the_mean(initial, rate, years):
    """The mean of min(1, a + b t) by the rule of trapezes over 20,001 points."""
    at = np.linspace(0, years, 20_001)
    mean = np.trapezoid(np.minimum(1, initial + rate * at), at) / years
    assert breakdown_mean(initial, rate, years) == pytest.approx(mean, abs=1e-6)


@given(st.floats(0.005, 0.99), st.floats(0.001, 1))
def test_the_mean_is_continuous_where_the_coating_is_gone(initial, rate):
    """At a + b t = 1 both of its formulas give (1 + a) / 2."""
    gone = (1 - initial) / rate
    assume(0.001 <= gone <= 1000)
    before, after = (breakdown_mean(initial, rate, gone * (1 + nudge)) for nudge in (-1e-9, 1e-9))
    assert before == pytest.approx((1 + initial) / 2, abs=1e-8)
    assert after == pytest.approx(before, abs=1e-8)


@given(parts, per_year, lives)
def test_initial_mean_and_final_are_in_order(initial, rate, years):
    """A coating only goes."""
    assert initial <= breakdown_mean(initial, rate, years) + 1e-12
    assert breakdown_mean(initial, rate, years) <= breakdown_final(initial, rate, years) + 1e-12 <= 1 + 1e-12


def test_a_better_category_is_better_at_every_age():
    """bare > I > II > III."""
    for years in (0.5, 5.0, 20.0, 50.0):
        means = [breakdown_mean(*CATEGORIES[name], years) for name in ("bare", "I", "II", "III")]
        assert means == sorted(means, reverse=True)


@pytest.mark.parametrize(
    ("resistivity", "temperature", "initial"),
    [(0.3, 21, 0.15), (0.3, 20, 0.15), (0.3, 19.9, 0.17), (0.3, 10, 0.20), (0.3, 6, 0.25), (9.999, 10, 0.20), (50, 10, 0.0431)],
)
def test_density_by_water(resistivity, temperature, initial):
    """The sea's by temperature in all that is salt, the still fresh water's from 10 ohm m on."""
    assert density_in(resistivity, temperature).initial_a_per_m2 == pytest.approx(initial, abs=5e-5)


def test_box_around_a_hull():
    """L B + 2 T (L + B), by the faces: bottom, two sides, two ends."""
    assert hull_box_m2(17.5, 2.1, 0.6) == pytest.approx(17.5 * 2.1 + 2 * 17.5 * 0.6 + 2 * 2.1 * 0.6)


def test_a_coating_of_its_own_constants_by_hand():
    """12 m2, 5 % gone at first and 2 % a year: 25 % on average and 45 % at the end of 20 years, in a sea of 20 degC or more.

    DNV-RP-B401 gives bare steel there 0.15, 0.07 and 0.10 A/m2: 12 x 0.05 x 0.15, 12 x 0.25 x 0.07 and 12 x 0.45 x 0.10.
    """
    coating = {"initial_breakdown": 0.05, "breakdown_per_year": 0.02}
    told = surface_demand({"name": "rudder", "area_m2": 12.0, "coating": coating}, density_in(0.25, 21.0), 20.0)
    assert told.name == "rudder"
    assert (told.breakdown_initial, told.breakdown_per_year) == (0.05, 0.02)
    assert (told.breakdown_mean, told.breakdown_final) == pytest.approx((0.25, 0.45))
    assert (told.current_initial_a, told.current_mean_a, told.current_final_a) == pytest.approx((0.09, 0.21, 0.54))
