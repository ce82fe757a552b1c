"""UNESCO Technical Papers in Marine Science 44 (1983): check values of the practical salinity scale 1978; from memory.

The resistivities are TEOS-10's (gsw 3.6, C_from_SP, surface), another realisation of the same scale.
"""

import pytest

from platemargin.electrolyte import practical_salinity, salt_water_ohm_m


@pytest.mark.parametrize(
    ("ratio", "temperature_c", "salinity"), [(1.0, 15.0, 35.0), (1.0568875, 20.0, 37.245628), (0.81705885, 5.0, 27.995347)]
)
def test_check_values(ratio, temperature_c, salinity):
    """Rt is printed with seven or eight figures, which are a millionth of salinity."""
    assert practical_salinity(ratio, temperature_c) == pytest.approx(salinity, abs=2e-6)


def test_standard_sea_water(sized):
    """C(35, 15, 0) = 42.914 mS/cm: 0.2330 ohm m (Culkin and Smith 1980)."""
    assert 10 / salt_water_ohm_m(35.0, 15.0) == pytest.approx(42.914, abs=5e-4)
    answer = sized(anode={"material": "zinc"}, electrolyte={"salinity": 35.0, "temperature_c": 15.0})
    assert answer["result"]["resistivity_ohm_m"] == 0.2330


#: Resistivity [ohm m] at 5, 10, 15, 20 and 25 C (IPTS-68), by practical salinity.
TEOS_10 = {
    2: (4.2547, 3.7159, 3.2822, 2.9278, 2.6342),
    5: (1.7969, 1.5710, 1.3888, 1.2398, 1.1162),
    10: (0.9423, 0.8247, 0.7298, 0.6520, 0.5875),
    15: (0.6478, 0.5675, 0.5025, 0.4493, 0.4050),
    20: (0.4973, 0.4360, 0.3863, 0.3456, 0.3117),
    25: (0.4055, 0.3558, 0.3154, 0.2823, 0.2547),
    30: (0.3436, 0.3016, 0.2676, 0.2396, 0.2162),
    35: (0.2989, 0.2626, 0.2330, 0.2087, 0.1884),
}


@pytest.mark.parametrize("salinity", TEOS_10)
def test_resistivity_of_sea_and_brackish_water(salinity):
    """To the four decimals that the table has."""
    told = [salt_water_ohm_m(float(salinity), temperature) for temperature in (5.0, 10.0, 15.0, 20.0, 25.0)]
    assert told == pytest.approx(TEOS_10[salinity], abs=5.1e-5)
