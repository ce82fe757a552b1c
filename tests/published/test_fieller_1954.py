"""E. C. Fieller, Some problems in interval estimation, J. R. Stat. Soc. B 16(2), 175 (1954). From memory.

The life's band and the interval of the loss as a fraction of the original are one calculation. With o what the plate
started with and r what is left, the thickness at growth g is o + g (r - o). Against a limit of nothing, it is gone at
g = o / (o - r): one over the loss fraction. So the growths at the ends of the band are one over the ends of Fieller's
interval of the loss fraction, the low end of one at the high end of the other.
"""

import numpy as np
import pytest
from uncertainties import ufloat

from platemargin.remaining_life import remaining_life


def loss_percent_band(uncertainty_mm, confidence):
    """Return the interval of the loss of 6.0 mm to 4.5 mm [%]."""
    life = remaining_life(
        original_mm=6.0,
        residual_mm=4.5,
        years_in_service=10.0,
        threshold_mm=0.0,
        original_standard_uncertainty_mm=uncertainty_mm,
        residual_standard_uncertainty_mm=uncertainty_mm,
        confidence=confidence,
    )
    # An even pace: the growth is the time from new to the end of the band over the time to now.
    ends = [(10.0 + float(years)) / 10.0 for years in (life.years_low, life.years_high)]
    assert ends == pytest.approx([float(life.growth_low), float(life.growth_high)])
    return sorted(100 / growth for growth in ends)


def test_interval_of_the_loss():
    """6.0(0.1) to 4.5(0.1) mm: 25.0 % lost, Fieller 95 % from 20.834 to 29.006 % (derived)."""
    assert [round(end, 3) for end in loss_percent_band(0.1, 0.95)] == [20.834, 29.006]


def test_standard_uncertainty_of_the_loss():
    """GUM 5.1.2: 6.0(0.1) to 4.5(0.1) mm is 25.0 % with u 2.083 %; the interval tends to it as the gauges get better."""
    started, left = ufloat(6.0, 0.1), ufloat(4.5, 0.1)
    loss = 100 * (started - left) / started
    assert (loss.nominal_value, round(loss.std_dev, 3)) == (25.0, 2.083)
    low, high = loss_percent_band(0.001, 0.95)
    assert (high - low) / 2 / 1.959964 == pytest.approx(loss.std_dev / 100, rel=1e-4)


def test_interval_solves_fieller_equation():
    """At the ends of the interval the loss fraction p obeys |r - (1 - p) o| = z sqrt(u_r^2 + (1 - p)^2 u_o^2)."""
    for end in loss_percent_band(0.1, 0.95):
        kept = 1 - end / 100
        assert abs(4.5 - kept * 6.0) == pytest.approx(1.959964 * 0.1 * np.sqrt(1 + kept**2), rel=1e-6)
