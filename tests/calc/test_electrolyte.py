"""Resistivity of water from whatever is known of it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from platemargin.electrolyte import (
    FRESH_RANGE_OHM_M,
    conductivity_at,
    kind_of_water,
    practical_salinity,
    resistivity_of,
    salt_water_ohm_m,
)

salinities, temperatures = st.floats(2, 42), st.floats(0, 35)


@given(salinities, temperatures)
def test_salinity_and_resistivity_are_inverse(salinity, temperature):
    """The polynomial that was solved gives the salinity back, over the whole range of PSS-78."""
    conducts = 1 / salt_water_ohm_m(salinity, temperature)
    pure = 1 / salt_water_ohm_m(35.0, temperature)
    assert practical_salinity(conducts / pure, temperature) == pytest.approx(salinity, abs=1e-8)


@given(st.tuples(salinities, salinities).map(sorted), st.tuples(temperatures, temperatures).map(sorted))
def test_salt_and_warmth_conduct(salts, warmths):
    """More salt and more warmth never raise the resistivity."""
    assert salt_water_ohm_m(salts[1], warmths[0]) <= salt_water_ohm_m(salts[0], warmths[0])
    assert salt_water_ohm_m(salts[0], warmths[1]) <= salt_water_ohm_m(salts[0], warmths[0])


def test_a_meter_is_read_at_25_degrees():
    """200 uS/cm is 50 ohm m at 25 C, and more in colder water."""
    assert resistivity_of({"conductivity_us_per_cm": 200.0, "temperature_c": 25.0}) == pytest.approx(50.0)
    assert resistivity_of({"conductivity_us_per_cm": 200.0}) == pytest.approx(50.0 / (1 - 0.0191 * 15))
    assert conductivity_at(200.0, 25.0) == 200.0


def test_kinds_of_water_lie_where_they_belong():
    """Sea below brackish below fresh; what is reckoned for fresh water lies in its range."""
    sea, brackish, fresh = (resistivity_of({"water": water}) for water in ("sea", "brackish", "fresh"))
    assert sea == salt_water_ohm_m(35.0, 10.0)
    assert brackish == salt_water_ohm_m(5.0, 10.0)
    assert sea < brackish < FRESH_RANGE_OHM_M[0] < fresh < FRESH_RANGE_OHM_M[1]
    assert resistivity_of({"resistivity_ohm_m": 21.5, "temperature_c": 30.0}) == 21.5


@pytest.mark.parametrize(
    ("resistivity", "kind"),
    [
        (0.26, "sea"),
        (0.5, "sea"),
        (0.50004, "sea"),  # 0.5000 as it is told
        (0.5001, "brackish"),
        (9.999, "brackish"),
        (9.9996, "fresh"),  # 10.00 as it is told
        (10.0, "fresh"),
        (100.0, "fresh"),
    ],
)
def test_the_kind_of_water_by_what_it_conducts(resistivity, kind):
    """Own rule at 0.5 ohm m, no source; fresh from 10 ohm m on, 1000 uS/cm (common practice, no source): limits as told."""
    assert kind_of_water(resistivity) == kind


@pytest.mark.parametrize("water", ["sea", "brackish", "fresh"])
def test_water_of_a_kind_is_of_that_kind(water):
    assert kind_of_water(resistivity_of({"water": water})) == water
