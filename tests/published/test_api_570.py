"""API 570, Piping Inspection Code (2016), and API 510 of the same form: rates, remaining life, interval."""

from datetime import date

import pytest

from platemargin.corrosion_rate import Governing, corrosion_rate
from platemargin.remaining_life import remaining_life
from platemargin.survey_comparison import survey_comparison


def test_worksheet():
    """Worksheet in API 570 form: 7.8 mm to 3.24 mm in 15 years is 0.304 mm/year."""
    rate = corrosion_rate(original_mm=7.8, residual_mm=3.24, years_in_service=15.0)
    assert rate.long_term_mm_per_year == pytest.approx(0.304, abs=1e-12)


def test_long_term_rate():
    """API 570: long-term rate = (t_initial - t_actual) / years between them."""
    rate = corrosion_rate(original_mm=9.0, residual_mm=6.0, years_in_service=12.0)
    assert rate.long_term_mm_per_year == pytest.approx((9.0 - 6.0) / 12.0)


def test_short_term_rate():
    """API 570: short-term rate = (t_previous - t_actual) / years between them."""
    rate = corrosion_rate(original_mm=9.0, residual_mm=6.0, years_in_service=12.0, previous_mm=6.8, years_since_previous=2.0)
    assert rate.short_term_mm_per_year == pytest.approx((6.8 - 6.0) / 2.0)


def test_short_term_rate_of_two_surveys():
    """API 570: the short-term rate of each place that two surveys read, and beside it the long-term rate."""
    told = survey_comparison(
        earlier={"surveyed_on": date(2022, 1, 1), "readings": [{"id": "a", "zone": "side", "plate_mm": 6.8}]},
        later={
            "surveyed_on": date(2024, 1, 1),
            "readings": [{"id": "a", "zone": "side", "plate_mm": 6.0, "original_mm": 9.0, "fitted_on": "2012-01-01"}],
        },
    )
    assert told.pairs.rate_mm_per_year[0] == pytest.approx((6.8 - 6.0) / 2.0)
    assert told.pairs.long_term_mm_per_year[0] == pytest.approx((9.0 - 6.0) / 12.0)


@pytest.mark.parametrize(
    ("previous_mm", "governing", "rate_mm_per_year"), [(6.8, Governing.SHORT_TERM, 0.4), (6.2, Governing.LONG_TERM, 0.25)]
)
def test_the_larger_rate_governs(previous_mm, governing, rate_mm_per_year):
    """API 570: of the long-term and the short-term rate the larger governs."""
    rate = corrosion_rate(
        original_mm=9.0, residual_mm=6.0, years_in_service=12.0, previous_mm=previous_mm, years_since_previous=2.0
    )
    assert rate.governing == governing
    assert rate.governing_mm_per_year == pytest.approx(rate_mm_per_year)


@pytest.mark.parametrize("previous", [{}, {"previous_mm": 6.8, "years_since_previous": 2.0}])
def test_remaining_life(previous):
    """API 570: remaining life = (t_actual - t_required) / corrosion rate, for either governing rate."""
    given = {"original_mm": 9.0, "residual_mm": 6.0, "years_in_service": 12.0, **previous}
    rate = corrosion_rate(**given).governing_mm_per_year
    assert remaining_life(**given, threshold_mm=4.0).years == pytest.approx((6.0 - 4.0) / rate)


def test_interval_is_half_the_life():
    """API 570, from memory: the next inspection is due at half the remaining life, here the least life of the band."""
    life = remaining_life(original_mm=9.0, residual_mm=6.0, years_in_service=12.0, threshold_mm=4.0, interval_cap_years=50.0)
    assert life.next_survey_within_years == pytest.approx(life.years_low / 2)


def test_interval_is_capped():
    """Common practice, no source: no longer than five years between surveys out of the water."""
    life = remaining_life(original_mm=9.0, residual_mm=8.9, years_in_service=50.0, threshold_mm=2.0)
    assert life.years_low > 10.0
    assert life.next_survey_within_years == 5.0
