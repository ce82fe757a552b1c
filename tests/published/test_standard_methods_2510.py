"""Standard Methods 2510 B: k25 = k / (1 + 0.0191 (t - 25)); from memory. ISO 7888 has 1.116 at 20 C, about 1 % more."""

import pytest


@pytest.mark.parametrize(("temperature_c", "factor"), [(20.0, 1.1056), (15.0, 1.2361), (10.0, 1.4015)])
def test_factors_to_25_degrees(sized, temperature_c, factor):
    """Colder water conducts less by the factor, and resists more."""
    cold, warm = (
        sized(electrolyte={"conductivity_us_per_cm": 500.0, "temperature_c": t})["result"]["resistivity_ohm_m"]
        for t in (temperature_c, 25.0)
    )
    assert cold / warm == pytest.approx(factor, abs=1e-3)
    if temperature_c == 20.0:
        assert cold / warm == pytest.approx(1.116, rel=0.011)  # ISO 7888:1985
