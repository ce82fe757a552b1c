"""Sampling: counts that are exact at their boundaries, and a grid's three regimes against an integration of their own."""

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platemargin.sampling import (
    certain_hit_spacing_mm,
    detection_probability,
    hit_probability,
    missed_fraction_upper,
    readings_needed,
)

every_example = settings(deadline=None, derandomize=True, max_examples=300)


def exact(number):
    return Fraction(str(number))


@every_example
@given(st.integers(1, 99), st.integers(50, 99))
def test_the_count_is_the_least_in_exact_fractions(fraction, confidence):
    """Against the standard library's exact fractions: n clean readings are improbable enough, and n - 1 are not."""
    p, c = fraction / 100, confidence / 100
    needed = readings_needed(p, c)
    assert (1 - exact(p)) ** needed <= 1 - exact(c)
    assert needed == 1 or (1 - exact(p)) ** (needed - 1) > 1 - exact(c)


@pytest.mark.parametrize(
    ("fraction", "confidence", "needed"),
    [(0.5, 0.75, 2), (0.5, 0.5, 1), (0.1, 0.19, 2), (0.1, 0.271, 3), (0.2, 0.36, 2), (0.3, 0.7599, 4), (0.99, 0.999, 2)],
)
def test_equality_is_enough(fraction, confidence, needed):
    """Where (1 - p)^n is 1 - c in decimals, n is enough, whatever binary logarithms say."""
    assert readings_needed(fraction, confidence) == needed


@pytest.mark.parametrize(
    ("fraction", "confidence", "by_logarithms"),
    [(0.05, 0.5123250208844702, 14), (0.1, 0.8499053647030009, 18), (0.7, 0.91, 3), (0.3, 0.657, 4)],
)
def test_where_logarithms_are_one_off_the_count_is_not(fraction, confidence, by_logarithms):
    """Rounded, ln(1 - c) / ln(1 - p) falls just on the wrong side of a whole number: one too few, or one too many."""
    assert math.ceil(math.log(float(1 - exact(confidence))) / math.log1p(-fraction)) == by_logarithms
    needed = readings_needed(fraction, confidence)
    assert abs(needed - by_logarithms) == 1
    assert (1 - exact(fraction)) ** needed <= 1 - exact(confidence) < (1 - exact(fraction)) ** (needed - 1)


@pytest.mark.parametrize("fraction", [7.9e-11, 1e-9, 1e-6, 1e-4])
def test_a_tiny_fraction_takes_about_three_over_it(fraction):
    """-ln(0.05) / p: the rule of three."""
    assert readings_needed(fraction, 0.95) == pytest.approx(-math.log(0.05) / fraction, rel=1e-3)


@every_example
@given(st.floats(1e-5, 0.99), st.floats(0.5, 0.999))
def test_count_and_limit_are_of_one_kind(fraction, confidence):
    """So many clean readings leave no more than the fraction; and they meet it with the confidence."""
    needed = readings_needed(fraction, confidence)
    assert missed_fraction_upper(needed, confidence) <= fraction * (1 + 1e-9)
    assert detection_probability(needed, fraction) >= confidence - 1e-12


def covered(diameter, size=2001):
    """Return the share of a unit cell within a radius of one of its corners, column by column (an oracle of its own)."""
    x = (np.arange(size) + 0.5) / size
    near = np.minimum(x, 1 - x)
    reach = np.sqrt(np.clip(diameter**2 / 4 - near**2, 0, None))
    return float(np.minimum(2 * reach, 1).mean())


@pytest.mark.parametrize("ratio", [0.1, 0.5, 0.9, 1.0, 1.05, 1.1, 1.2, 1.3, 1.4, 1.414, math.sqrt(2), 2.0])
def test_hit_probability_is_the_covered_share_of_a_cell(ratio):
    assert hit_probability(400 * ratio, 400) == pytest.approx(covered(ratio), abs=2e-5)


def test_the_regimes_join():
    for joint in (1.0, math.sqrt(2)):
        assert hit_probability(joint * (1 - 1e-9), 1) == pytest.approx(hit_probability(joint * (1 + 1e-9), 1), abs=1e-8)


@every_example
@given(st.floats(1, 5000))
def test_the_certain_spacing_is_certain_and_hardly_narrower(diameter):
    spacing = certain_hit_spacing_mm(diameter)
    assert hit_probability(diameter, spacing) == 1.0
    assert diameter / math.sqrt(2) - spacing <= 0.001 + 1e-9
