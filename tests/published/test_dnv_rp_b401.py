"""DNV-RP-B401 (2010, 2017), Cathodic protection design. Constants from memory; factors worked out by its printed equations."""

import pytest

from platemargin.anode_resistance import long_flush_ohm, long_stand_off_ohm, mccoy_ohm, short_stand_off_ohm
from platemargin.current_demand import breakdown_mean


@pytest.mark.parametrize(
    ("category", "years", "final", "mean"),
    [
        ("I", 5.0, 0.6, 0.35),
        ("I", 10.0, 1.0, 0.595),
        ("I", 20.0, 1.0, 0.7975),
        ("I", 25.0, 1.0, 0.838),
        ("II", 5.0, 0.175, 0.1125),
        ("II", 10.0, 0.3, 0.175),
        ("II", 20.0, 0.55, 0.3),
        ("II", 25.0, 0.675, 0.3625),
        ("III", 5.0, 0.08, 0.05),
        ("III", 10.0, 0.14, 0.08),
        ("III", 20.0, 0.26, 0.14),
        ("III", 25.0, 0.32, 0.17),
    ],
)
def test_coating_breakdown(sized, category, years, final, mean):
    """6.4 and Table 10-4, 0 to 30 m of water."""
    (row,) = sized(coating={"category": category}, design_life_years=years)["result"]["surface_demands"]
    assert row["breakdown_final"] == pytest.approx(final, abs=1e-9)
    assert row["breakdown_mean"] == pytest.approx(mean, abs=1e-9)


def test_mean_factor_where_a_category_i_coating_is_gone():
    """a = b = 0.1, t = 9: both equations give 0.55."""
    assert breakdown_mean(0.1, 0.1, 9.0) == pytest.approx(0.55, abs=1e-12)
    assert pytest.approx(0.55, abs=1e-12) == 1 - (1 - 0.1) ** 2 / (2 * 0.1 * 9.0)


@pytest.mark.parametrize(
    ("temperature_c", "initial", "mean", "final"),
    [(25.0, 0.15, 0.07, 0.10), (15.0, 0.17, 0.08, 0.11), (10.0, 0.20, 0.10, 0.13), (5.0, 0.25, 0.12, 0.17)],
)
def test_design_current_densities(sized, temperature_c, initial, mean, final):
    """Tables 10-1 and 10-2, 0 to 30 m: tropical, sub-tropical, temperate, arctic."""
    answer = sized(anode={"material": "zinc"}, electrolyte={"water": "sea", "temperature_c": temperature_c})
    (row,) = answer["result"]["surface_demands"]
    assert (row["initial_a_per_m2"], row["mean_a_per_m2"], row["final_a_per_m2"]) == (initial, mean, final)


@pytest.mark.parametrize(
    ("changes", "utilisation"),
    [
        ({"mounting": "stand_off", "length_m": 1.0}, 0.90),
        ({"mounting": "stand_off", "length_m": 0.2}, 0.85),
        ({"length_m": 1.0}, 0.85),
        ({}, 0.80),
    ],
)
def test_utilisation(sized, changes, utilisation):
    """Table 10-8."""
    (entry,) = [entry for entry in sized(anode=changes)["assumed"] if entry["field"] == "anode.utilisation"]
    assert entry["value"] == utilisation


@pytest.mark.parametrize(("material", "capacity", "volts"), [("aluminium", 2000.0, 0.25), ("zinc", 780.0, 0.20)])
def test_capacity_and_driving_voltage(sized, material, capacity, volts):
    """Table 10-6 in sea water: -1.05 and -1.00 V against a criterion of -0.80 V (5.4.1)."""
    assumed = {
        entry["field"]: entry["value"] for entry in sized(anode={"material": material}, electrolyte={"water": "sea"})["assumed"]
    }
    assert assumed["anode.capacity_ah_per_kg"] == capacity
    assert assumed["anode.driving_voltage_v"] == volts


def test_resistances():
    """Table 10-7 at 0.3 ohm m, worked out from its formulas with the handbook's rods as a check (see test_mil_hdbk_1004_10)."""
    assert long_stand_off_ohm(0.3, 1.0, 0.05) == pytest.approx(0.16148, abs=5e-6)
    assert short_stand_off_ohm(0.3, 0.1, 0.05) == pytest.approx(0.627358, abs=5e-7)
    assert long_flush_ohm(0.3, 0.5, 0.1) == pytest.approx(0.5)
    assert mccoy_ohm(0.3, 0.06) == pytest.approx(0.385795, abs=5e-7)
    assert mccoy_ohm(50.0, 0.06) == pytest.approx(64.299106, abs=5e-7)
