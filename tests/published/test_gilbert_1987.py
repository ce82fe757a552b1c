"""Gilbert (1987), chapter 10: a circle missed by a square grid. From memory, as read off a chart."""

import math

import pytest

from platemargin.sampling import hit_probability


def test_chart():
    """A circle with a radius of 0.56 of the spacing is missed with a probability of about 0.1 (figure 10.3; from memory)."""
    assert 1 - hit_probability(2 * 0.56, 1.0) == pytest.approx(0.1, abs=0.01)


def test_example():
    """A radius of 45 cm and one chance in ten of missing it ask for a grid of about 80 cm (example of 10.1; from memory)."""
    assert 1 - hit_probability(900.0, 800.0) == pytest.approx(0.1, abs=0.01)


def test_small_circle():
    """While circles about the points of a grid do not touch, they cover pi r^2 of each cell."""
    assert hit_probability(300.0, 400.0) == pytest.approx(math.pi * 150.0**2 / 400.0**2, rel=1e-12)
