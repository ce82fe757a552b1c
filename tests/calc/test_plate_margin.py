"""Plate margin: the three calculations in one, with the gauges' uncertainties combined."""

import numpy as np
import pytest

from platemargin.corrosion_rate import Environment, corrosion_rate
from platemargin.errors import NotApplicableError
from platemargin.plate_margin import FAULTS, FINDINGS, WORKING, plate_margin
from platemargin.remaining_life import remaining_life
from platemargin.residual_thickness import residual_thickness

READING = {"original_mm": 10.0, "plate_mm": 8.8, "pit_depth_mm": 2.6, "years_in_service": 16.0}


def test_it_is_the_three_calculations():
    """Every figure is that of `residual_thickness`, `corrosion_rate` or `remaining_life` of the same reading."""
    answer = plate_margin(**READING, threshold_mm=4.0, environment=Environment.FRESH_WATER, protected_years=2.0)
    left = residual_thickness(original_mm=10.0, plate_mm=8.8, pit_depth_mm=2.6)
    common = {"original_mm": 10.0, "residual_mm": left.residual_mm, "years_in_service": 16.0, "protected_years": 2.0}
    rate = corrosion_rate(**common, general_loss_mm=left.general_loss_mm, environment=Environment.FRESH_WATER)
    # 0.15 mm for the plate and 0.20 mm for the pit make 0.25 mm together (common practice, no source).
    life = remaining_life(**common, threshold_mm=4.0, residual_standard_uncertainty_mm=0.25)
    for part in (left, rate, life):
        for name, value in vars(part).items():
            if np.asarray(value).dtype.kind != "M":
                np.testing.assert_allclose(getattr(answer, name), value, rtol=1e-12, err_msg=name)


def test_the_faces_attacked_reach_the_benchmark():
    """EN 1993-5 Table 4-2 (fresh rows from memory) at 16 years: 0.15 + 0.40 x 11 / 20 = 0.37 mm a face, 0.74 mm of two."""
    one, two = (plate_margin(**READING, environment=Environment.FRESH_WATER, faces=faces) for faces in (1, 2))
    assert (one.benchmark_loss_mm, two.benchmark_loss_mm) == (pytest.approx(0.37, abs=1e-12), pytest.approx(0.74, abs=1e-12))


@pytest.mark.parametrize(("pit_depth_mm", "uncertainty_mm"), [(2.6, 0.25), (0.0, 0.25), (np.nan, 0.15)])
def test_uncertainty_of_what_is_left(pit_depth_mm, uncertainty_mm):
    """CONTRACT: the two gauges' uncertainties are combined where a pit was measured; a plain plate reading has its own."""
    answer = plate_margin(**{**READING, "pit_depth_mm": pit_depth_mm})
    assert answer.residual_standard_uncertainty_mm == pytest.approx(uncertainty_mm)


def test_margin_is_of_rounded_values():
    """CONTRACT: margin_mm = residual - threshold, of values rounded as declared: 4.6 - 0.6 has none over 4.0."""
    assert plate_margin(**{**READING, "plate_mm": 4.6, "pit_depth_mm": 0.6}).margin_mm == 0.0
    assert plate_margin(**READING, threshold_mm=6.5).margin_mm == pytest.approx(-0.3, abs=1e-12)


def test_default_limit_is_that_of_the_trade(rule_sets):
    """CONTRACT: threshold_mm? = 4, which stands in the rule set trade-practice and nowhere else."""
    assert plate_margin(**READING).margin_mm == pytest.approx(6.2 - 4.0)
    assert rule_sets["trade-practice"].rules[0].limit == 4.0


def test_faults_of_the_parts():
    """What a part refuses the whole refuses, all at once."""
    with pytest.raises(NotApplicableError) as refused:
        plate_margin(**{**READING, "pit_depth_mm": 9.4}, protected_years=16.0, previous_mm=7.0)
    assert {path for _, path, _ in refused.value.faults} == {
        ("pit_depth_mm",),
        ("protected_years",),
        ("years_since_previous",),
    }


def test_each_finding_and_fault_once():
    """The union tells nothing twice: its codes are each declared once."""
    codes = [finding.code for finding in FINDINGS]
    assert len(codes) == len(set(codes))
    assert len(FAULTS) == len(set(FAULTS))


SUBSTITUTED = {
    "plain": {},
    "no pit": {"pit_depth_mm": np.nan},
    "not even": {"exponent": 0.7, "rate_factor": 1.4, "protected_years": 3.0},
    "previous": {"previous_mm": 7.0, "years_since_previous": 2.5},
    "fresh": {"environment": Environment.FRESH_WATER},
    "sea": {"environment": Environment.SEA_IMMERSED},
}


@pytest.mark.parametrize("change", SUBSTITUTED.values(), ids=SUBSTITUTED)
def test_working_comes_to_its_value(change, step_value):
    """Every line of working, its names filled with the figures, comes to the value that it names."""
    given = {**READING, **change}
    lines = step_value(plate_margin, WORKING, given)
    assert {"residual_mm", "margin_mm", "years", "growth_low", "years_low", "forecast_mm"} <= set(lines)
    for symbol, (worked, value, _) in lines.items():
        assert worked == pytest.approx(value, rel=1e-9, abs=1e-12), symbol


@pytest.mark.parametrize(
    ("environment", "cited"),
    [
        (Environment.FRESH_WATER, "en-1993-5-fresh"),
        (Environment.POLLUTED_FRESH_WATER, "en-1993-5-fresh"),
        (Environment.SEA_SPLASH, "en-1993-5-sea"),
        (Environment.SEA_IMMERSED, "en-1993-5-sea"),
    ],
)
def test_benchmark_cites_the_row_that_it_is_from(environment, cited, step_value):
    """The fresh rows are from memory and the sea rows are not: the working cites the one used."""
    assert step_value(plate_margin, WORKING, {**READING, "environment": environment})["benchmark_ratio"][2] == cited


@pytest.mark.parametrize("plate_mm", [5.0, 12.6])
def test_no_band_is_worked_where_there_is_none(plate_mm, step_value):
    """Below already, or with nothing lost, no life and no band are worked out."""
    lines = step_value(plate_margin, WORKING, {**READING, "plate_mm": plate_mm})
    assert not {"years", "growth_low", "growth_high", "years_low", "years_high"} & set(lines)
    assert "forecast_mm" in lines


def test_every_line_of_working_is_shown_somewhere(step_value):
    """No line of working is declared that no request shows."""
    shown = {symbol for change in SUBSTITUTED.values() for symbol in step_value(plate_margin, WORKING, {**READING, **change})}
    assert shown == {step.symbol for step in WORKING}
