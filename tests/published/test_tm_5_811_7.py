"""TM 5-811-7 (1985), Electrical design: cathodic protection, reissued as UFC 3-570-02A (2005); its text was read."""

import pytest

LB = 0.45359237
#: 8.8 lb/A year as Ah/kg.
MAGNESIUM = 8760 / (8.8 * LB)


def test_appendix_c_underground_tank(sized, raw):
    """Equation C-1: 0.7 A for 15 years, 8.8 lb/A year at 50 %: 184.8 lb, 10.9 anodes of 17 lb (the source takes 12, for "
    "symmetry)."""
    answer = sized(
        anode={"capacity_ah_per_kg": MAGNESIUM, "utilisation": 0.5, "net_mass_kg": 17 * LB},
        current_density={"initial_a_per_m2": 0.07, "mean_a_per_m2": 0.07, "final_a_per_m2": 0.07},
        design_life_years=15.0,
    )
    assert answer["result"]["net_mass_required_kg"] / LB == pytest.approx(184.8, abs=0.05)
    assert raw(answer, "mass") == pytest.approx(10.9, abs=0.05)
    assert answer["result"]["count_by_mass"] == 11


@pytest.mark.parametrize(("structure_v", "factor"), [(-0.70, 1.6), (-0.80, 1.2), (-0.85, 1.0), (-0.90, 0.8), (-1.00, 0.4)])
def test_table_c_5_zinc(sized, structure_v, factor):
    """Output goes with the driving voltage: of zinc at -1.10 V CSE (which the table implies), 0.25 V to -0.85 V is one."""
    outputs = [
        sized(anode={"material": "zinc", "driving_voltage_v": potential + 1.10})["result"]["output_initial_a"]
        for potential in (structure_v, -0.85)
    ]
    assert outputs[0] / outputs[1] == pytest.approx(factor, abs=0.005)
