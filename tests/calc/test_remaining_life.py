"""Remaining life: states, dates, intervals, findings. Its band is tested against a simulation beside this file."""

import numpy as np
import pytest

from platemargin.corrosion_rate import Governing
from platemargin.errors import NotApplicableError
from platemargin.remaining_life import ASSUMED, FINDINGS, LifeStatus, may_be_below, remaining_life

PLATE = {"original_mm": 10.0, "residual_mm": 6.2, "years_in_service": 16.0, "threshold_mm": 4.0}


@pytest.mark.parametrize(
    ("residual_mm", "status"),
    [
        (6.2, LifeStatus.ABOVE),
        (4.0, LifeStatus.ABOVE),  # equal to a threshold is not below it
        (3.9996, LifeStatus.ABOVE),  # 4.000 as declared
        (3.999, LifeStatus.ALREADY_BELOW),
        (9.999, LifeStatus.ABOVE),
        (9.9996, LifeStatus.NO_MEASURABLE_LOSS),
        (10.0, LifeStatus.NO_MEASURABLE_LOSS),
        (11.0, LifeStatus.NO_MEASURABLE_LOSS),
    ],
)
def test_status(residual_mm, status):
    """CONTRACT: states compare values rounded as declared, already_below before no_measurable_loss before above."""
    assert remaining_life(**{**PLATE, "residual_mm": residual_mm}).status == status


def test_below_without_loss_is_below():
    """A plate that lost nothing and is below the limit all the same is already below: it outranks."""
    assert remaining_life(**{**PLATE, "original_mm": 3.0, "residual_mm": 3.2}).status == LifeStatus.ALREADY_BELOW


@pytest.mark.parametrize("residual_mm", [3.999, 3.0, 0.0])
def test_already_below_has_no_life(residual_mm):
    """CONTRACT: 0 where already below: years, years_low, years_high and the time to the next survey."""
    life = remaining_life(**{**PLATE, "residual_mm": residual_mm})
    assert (life.years, life.years_low, life.years_high, life.next_survey_within_years) == (0.0, 0.0, 0.0, 0.0)


def test_on_the_limit_has_no_years():
    """On the limit itself the plate is not below it, and passes it at once."""
    assert remaining_life(**{**PLATE, "residual_mm": 4.0}).years == 0.0


def test_no_loss_has_no_finite_life():
    """CONTRACT: null = no finite value; the survey falls due all the same."""
    life = remaining_life(**{**PLATE, "residual_mm": 10.0})
    assert np.isnan([life.years, life.years_high]).all()
    assert life.next_survey_within_years == 5.0


@pytest.mark.parametrize(("exponent", "rate_factor"), [(0.5, 1.0), (1.0, 2.0), (2.0, 0.3), (1.5, 10.0)])
def test_years_solve_the_model(exponent, rate_factor):
    """CONTRACT: `years` solves R = threshold with g(x) = 1 + f(((t+x)/t)^n - 1), R(x) = o + g(r - o)."""
    life = remaining_life(**PLATE, protected_years=4.0, exponent=exponent, rate_factor=rate_factor)
    growth = 1 + rate_factor * (((12.0 + life.years) / 12.0) ** exponent - 1)
    assert 10.0 + growth * (6.2 - 10.0) == pytest.approx(4.0, abs=1e-9)


def test_short_term_rate_is_counted_from_the_previous_reading():
    """CONTRACT: where the short-term rate governs, original, t and its uncertainty are the previous reading's."""
    life = remaining_life(**PLATE, previous_mm=7.4, years_since_previous=3.0, previous_standard_uncertainty_mm=0.2)
    assert life.governing == Governing.SHORT_TERM
    assert (life.base_mm, life.base_years, life.base_standard_uncertainty_mm) == (7.4, 3.0, 0.2)
    assert life.years == pytest.approx((6.2 - 4.0) / ((7.4 - 6.2) / 3.0))


def test_long_term_rate_is_counted_from_the_original():
    """Where the long-term rate governs, they are the original's, a new plate's tolerance by default."""
    life = remaining_life(**PLATE, protected_years=4.0, previous_mm=6.3, years_since_previous=3.0)
    assert life.governing == Governing.LONG_TERM
    assert (life.base_mm, life.base_years) == (10.0, 12.0)
    assert round(float(life.base_standard_uncertainty_mm), 3) == 0.451  # EN 10029:2010 class A, from memory


def test_band_holds_the_life():
    """The band holds the life, and a higher confidence a wider one."""
    narrow, wide = (remaining_life(**PLATE, confidence=confidence) for confidence in (0.5, 0.9))
    assert wide.years_low < narrow.years_low < narrow.years < narrow.years_high < wide.years_high


@pytest.mark.parametrize(("residual_mm", "at_once"), [(4.3, True), (4.42, False)])
def test_band_begins_at_once_where_the_reading_leaves_it_open(residual_mm, at_once):
    """P(R <= 4) is Phi(-0.3 / 0.25) = 11.5 % now, over the 5 % at which the band begins; Phi(-0.42 / 0.25) = 4.6 % is not."""
    life = remaining_life(**{**PLATE, "residual_mm": residual_mm}, residual_standard_uncertainty_mm=0.25, confidence=0.9)
    assert (life.years_low == 0.0, life.growth_low == 1.0, life.next_survey_within_years == 0.0) == (at_once,) * 3
    assert life.years_high > life.years > 0.0


def test_band_where_its_quadratic_is_nearly_none():
    """What was lost is z times the errors of both ends: the square's factor vanishes, and the root that counts stays exact."""
    u_o, u_r = 0.451, 0.25
    z = remaining_life(**PLATE, confidence=0.9).coverage_factor
    lost = z * np.hypot(u_o, u_r)
    for nearly in (1 - 1e-13, 1.0, 1 + 1e-13):
        life = remaining_life(
            original_mm=10.0,
            residual_mm=10.0 - lost * nearly,
            years_in_service=16.0,
            threshold_mm=7.0,
            original_standard_uncertainty_mm=u_o,
            residual_standard_uncertainty_mm=u_r,
            confidence=0.9,
        )
        growth = 1 + life.years_low / 16.0
        short_by = 7.0 - 10.0 + growth * lost
        assert short_by / np.hypot((1 - growth) * u_o, growth * u_r) == pytest.approx(-z, rel=1e-9)


@pytest.mark.parametrize(
    ("probability", "may"),
    [(0.02, False), (0.04, False), (0.0499994, False), (0.0499996, True), (0.05, True), (0.06, True), (0.2, True)],
)
def test_may_be_below_from_the_lower_end_of_the_band_on(probability, may):
    """(1 - 0.9) / 2 = 0.05, compared in six decimals."""
    assert may_be_below(probability, 0.9) == may


def test_the_upper_forecast_is_what_it_is_below_a_millimetre():
    """31 years on, by hand: g = 1 + 31/16, R = 10 - 3.8 g, s^2 = (g - 1)^2 0.451^2 + g^2 0.25^2."""
    life = remaining_life(**PLATE, years_ahead=31.0, residual_standard_uncertainty_mm=0.25, confidence=0.9)
    growth = 1 + 31 / 16
    deviation = np.hypot((growth - 1) * 0.451, growth * 0.25)
    assert life.forecast_mm == 0.0
    assert life.forecast_high_mm == pytest.approx(10 - 3.8 * growth + 1.644854 * deviation, abs=1e-5)
    assert 0.5 < life.forecast_high_mm < 1.0


def test_forecast_is_never_below_nothing():
    """CONTRACT: the forecast and its band are never below 0."""
    life = remaining_life(**PLATE, years_ahead=100.0)
    assert (life.forecast_mm, life.forecast_low_mm) == (0.0, 0.0)


def test_forecast_now_is_the_reading():
    """At no years ahead the forecast is the reading, its band the gauges', its probability that of now."""
    life = remaining_life(**PLATE, years_ahead=0.0, confidence=0.95)
    assert life.forecast_mm == pytest.approx(6.2)
    assert life.forecast_high_mm - life.forecast_low_mm == pytest.approx(2 * 1.959964 * 0.25, rel=1e-6)
    assert life.probability_below == life.probability_below_now


@pytest.mark.parametrize(
    ("surveyed_on", "reached_on"),
    [
        ("2024-12-31", "2034-04-06"),  # 9.263158 years of 365.25 days are 3,383.4 days: the 3,383rd after the survey
        ("9990-09-26", "9999-12-31"),
        ("9990-09-27", "NaT"),  # CONTRACT: null past year 9999
        ("NaT", "NaT"),
    ],
)
def test_day_on_which_the_limit_is_reached(surveyed_on, reached_on):
    """The day is the survey's and as many days as the years hold, told while it has four digits."""
    told_day = remaining_life(**PLATE, surveyed_on=np.datetime64(surveyed_on, "D")).reached_on
    assert str(told_day) == reached_on


def test_day_of_what_is_below_already():
    """What is below already was reached on the day of the survey at the latest."""
    life = remaining_life(**{**PLATE, "residual_mm": 3.0}, surveyed_on=np.datetime64("2024-12-31"))
    assert str(life.reached_on) == "2024-12-31"


def test_no_life_no_day():
    """A life without a finite value has no day."""
    life = remaining_life(**{**PLATE, "residual_mm": 10.0}, surveyed_on=np.datetime64("2024-12-31"))
    assert np.isnat(life.reached_on)


@pytest.mark.parametrize(("cap", "due"), [(50.0, None), (1.0, 1.0)])
def test_next_survey(cap, due):
    """CONTRACT: the lesser of the cap and half of years_low."""
    life = remaining_life(**PLATE, interval_cap_years=cap)
    assert life.next_survey_within_years == pytest.approx(due or life.years_low / 2)


def test_the_same_faults_as_the_rate():
    """What the rate refuses the life refuses."""
    with pytest.raises(NotApplicableError) as refused:
        remaining_life(**PLATE, protected_years=16.0)
    assert refused.value.faults[0][:2] == ("protected_longer_than_service", ("protected_years",))


@pytest.mark.parametrize(
    ("change", "found"),
    [
        ({}, set()),
        ({"residual_mm": 3.9}, {"below_limit"}),
        ({"residual_mm": 4.2}, {"may_be_below_already"}),
        ({"residual_mm": 4.0}, {"may_be_below_already"}),
        ({"residual_mm": 10.0}, {"no_measurable_loss"}),
        ({"residual_mm": 9.5}, {"no_upper_bound"}),
        ({"threshold_mm": 10.0, "residual_mm": 9.0}, {"below_limit", "limit_not_meaningful"}),
        ({"exponent": 0.9}, {"slowing_attack_assumed"}),  # CONTRACT: exponent < 1 is a `watch` finding
        ({"exponent": 1.0, "rate_factor": 0.9}, {"slower_future_assumed"}),
        (
            {"original_mm": 2.9, "residual_mm": 1.5, "threshold_mm": 1.0, "residual_standard_uncertainty_mm": 0.01},
            {"tolerance_extrapolated"},
        ),
        (
            {
                "original_mm": 2.9,
                "residual_mm": 1.5,
                "threshold_mm": 1.0,
                "residual_standard_uncertainty_mm": 0.01,
                "original_standard_uncertainty_mm": 0.1,
            },
            set(),
        ),
        ({"previous_mm": 6.5, "years_since_previous": 1.0}, {"short_term_not_significant", "no_upper_bound"}),
        ({"previous_mm": 5.0, "years_since_previous": 1.0}, {"reading_grew"}),
    ],
)
def test_findings(told, change, found):
    """Each finding is told where it holds, and nowhere else."""
    answer = told(remaining_life, FINDINGS, **{**PLATE, **change})
    assert set(answer.found) == found
    assert not [sentence for sentences in answer.found.values() for _, sentence in sentences if "nan" in sentence]


def test_slowing_attack_is_to_be_watched():
    """CONTRACT: exponent < 1 is a `watch` finding."""
    assert {finding.code: finding.severity for finding in FINDINGS}["slowing_attack_assumed"] == "watch"


def test_tolerance_taken_is_told():
    """The mill tolerance taken for the original is told with its limits, and only where it was taken."""
    (assumed,) = ASSUMED
    taken = {"original_mm": np.array([10.0]), "original_standard_uncertainty_mm": np.array([np.nan])}
    assert assumed.when(taken, None)
    assert assumed.value(taken, None).round(3).tolist() == [0.451]
    assert "-0.5 to +0.9 mm" in assumed.basis(taken, None)
    assert not assumed.when({**taken, "original_standard_uncertainty_mm": np.array([0.1])}, None)


def test_beyond_every_horizon_there_is_no_life():
    """A life of more than a million years is no finite value."""
    life = remaining_life(**{**PLATE, "residual_mm": 9.999, "years_in_service": 200.0}, exponent=0.2)
    assert life.status == LifeStatus.ABOVE
    assert np.isnan(life.years)


@pytest.mark.parametrize(("rate_factor", "finite"), [(9.3e-6, True), (9.2e-6, False), (0.0, False)])
def test_horizon(rate_factor, finite):
    """9.263 years at the rate of the past are 996,000 at 9.3 millionths of it, and past a million at 9.2."""
    assert np.isfinite(remaining_life(**PLATE, rate_factor=rate_factor).years) == finite
