"""What a surveyor works out by hand on the slipway. Common practice, no source."""

from datetime import date

import pytest

from platemargin.hull_survey import hull_survey
from platemargin.plate_margin import plate_margin
from platemargin.reading_checks import FEW_READINGS
from platemargin.remaining_life import remaining_life
from platemargin.residual_thickness import residual_thickness
from platemargin.rule_sets.trade_practice import rule_set


@pytest.mark.parametrize(
    ("plate_mm", "pit_depth_mm", "residual_mm", "loss_percent"),
    [(9.8, 2.8, 7.0, 30.0), (8.8, 2.6, 6.2, 38.0)],  # common practice, no source
)
def test_pit_is_taken_from_the_plate_beside_it(plate_mm, pit_depth_mm, residual_mm, loss_percent):
    """Plate beside the pit less the pit is what is left; the loss is counted from the original 10 mm."""
    left = residual_thickness(original_mm=10.0, plate_mm=plate_mm, pit_depth_mm=pit_depth_mm)
    assert left.residual_mm == pytest.approx(residual_mm, abs=1e-12)
    assert left.loss_percent == pytest.approx(loss_percent, abs=1e-12)


def test_the_same_loss_from_thinner_plate():
    """38 % of 10 mm, taken from a plate of 6 mm, would leave 2.2 mm (common practice, no source)."""
    answer = hull_survey(
        hull={
            "length_m": 18.0,
            "beam_m": 2.1,
            "draught_m": 0.6,
            "water": "fresh",
            "material": "steel",
            "construction": "welded",
        },
        surveyed_on=date(2024, 12, 31),
        rule_sets=[rule_set],
        plating_notation="10/6",
        readings=[{"zone": "baseplate", "plate_mm": 8.8, "pit_depth_mm": 2.6}],
        what_if_original_mm=[6.0],
    )
    (what_if,) = answer.what_if
    assert what_if.residual_mm == pytest.approx(2.2, abs=1e-12)


def test_rate_over_sixteen_years():
    """3.8 mm in 16 years is 0.2375 mm/year (common practice, no source)."""
    answer = plate_margin(original_mm=10.0, plate_mm=8.8, pit_depth_mm=2.6, years_in_service=16.0)
    assert answer.governing_mm_per_year == pytest.approx(0.2375, abs=1e-12)


@pytest.mark.parametrize(("protected_years", "years"), [(0.0, 9.26), (5.0, 6.37)])  # common practice, no source
def test_years_to_four_millimetres(protected_years, years):
    """Linear life to 4.0 mm; a coating that kept the steel for the first five years makes the rate higher."""
    life = remaining_life(
        original_mm=10.0, residual_mm=6.2, years_in_service=16.0, protected_years=protected_years, threshold_mm=4.0
    )
    assert round(float(life.years), 2) == years


def test_readings_that_meet_a_tenth_attacked():
    """29 is the least n for which 1 - 0.9^n is 0.95 or more (common practice, no source), counted one by one."""
    assert next(n for n in range(1, 100) if 1 - 0.9**n >= 0.95) == FEW_READINGS == 29
