"""EN 10029:2010, Table 1, class A: limits about the nominal thickness. From memory."""

import numpy as np
import pytest

from platemargin.mill_tolerance import class_a_limits, spread_and_offset_mm, standard_uncertainty_mm, thickest_mm

#: Nominal thickness from, below [mm]; lower and upper limit [mm]. From memory.
CLASS_A = [
    (3.0, 5.0, -0.3, 0.7),
    (5.0, 8.0, -0.4, 0.8),
    (8.0, 15.0, -0.5, 0.9),
    (15.0, 25.0, -0.6, 1.0),
    (25.0, 40.0, -0.7, 1.3),
    (40.0, 80.0, -0.9, 1.7),
]


@pytest.mark.parametrize(("start", "end", "lower", "upper"), CLASS_A)
def test_limits(start, end, lower, upper):
    """Every row holds from its first thickness to just below the next row's."""
    for nominal in (start, (start + end) / 2, np.nextafter(end, start)):
        assert [float(limit) for limit in class_a_limits(nominal)] == [lower, upper]
        assert float(thickest_mm(nominal)) == nominal + upper


@pytest.mark.parametrize(("start", "end", "lower", "upper"), CLASS_A)
def test_standard_uncertainty(start, end, lower, upper):
    """GUM 4.3.7 and F.2.4.5: an even spread between the limits, its mean not corrected for."""
    spread, bias = (upper - lower) / np.sqrt(12), (upper + lower) / 2
    assert standard_uncertainty_mm((start + end) / 2) == pytest.approx(np.hypot(spread, bias), rel=1e-12)
    assert spread_and_offset_mm((start + end) / 2) == pytest.approx((spread, bias), rel=1e-12)


@pytest.mark.parametrize(("nominal_mm", "uncertainty_mm"), [(10.0, 0.451), (6.0, 0.400)])
def test_printed_figures(nominal_mm, uncertainty_mm):
    """0.451 mm for a plate of 10 mm and 0.400 mm for one of 6 mm (derived from the limits)."""
    assert round(float(standard_uncertainty_mm(nominal_mm)), 3) == uncertainty_mm


def test_uncertainty_is_that_of_an_even_spread():
    """The second moment about the nominal of an even spread between the limits, by quadrature."""
    lower, upper = -0.5, 0.9
    x = np.linspace(lower, upper, 200_001)
    assert standard_uncertainty_mm(10.0) == pytest.approx(np.sqrt(np.trapezoid(x**2, x) / (upper - lower)), rel=1e-9)
