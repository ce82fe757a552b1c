"""Ultrasonic thickness: identities of time, velocity and thickness; ASTM E797 on temperature, from memory."""

import numpy as np
import pytest

from platemargin.ultrasonic_thickness import ultrasonic_thickness


def test_a_microsecond():
    """At 5920 m/s 1.000 us there and back is 2.960 mm (arithmetic)."""
    assert ultrasonic_thickness(transit_time_us=1.0, velocity_m_per_s=5920.0).thickness_mm == pytest.approx(2.960, abs=1e-12)


def test_a_gauge_set_to_another_velocity():
    """A gauge set to 5920 m/s shows 6.0718 mm of 6.000 mm of steel of 5850 m/s (arithmetic)."""
    read = ultrasonic_thickness(indicated_mm=6.0718, velocity_m_per_s=5850.0, gauge_velocity_m_per_s=5920.0)
    assert round(float(read.thickness_mm), 3) == 6.000


@pytest.mark.parametrize("indicated_mm", [3.0, 8.0, 20.0])
def test_a_hot_plate_reads_high(indicated_mm):
    """ASTM E797, from memory: about 1 % high for every 55 degC (100 degF)."""
    read = ultrasonic_thickness(indicated_mm=indicated_mm, temperature_c=75.0, reference_temperature_c=20.0)
    assert read.thickness_mm == pytest.approx(0.99 * indicated_mm)
    assert np.allclose(read.corrections.temperature_mm, -0.01 * indicated_mm)
