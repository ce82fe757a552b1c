"""Corrosion rate: which rate governs, whether it may be chance, and what is refused."""

import numpy as np
import pytest

from platemargin.corrosion_rate import FINDINGS, Environment, Governing, corrosion_rate
from platemargin.errors import NotApplicableError

PLATE = {"original_mm": 10.0, "residual_mm": 6.0, "years_in_service": 16.0}


@pytest.mark.parametrize(
    ("change", "code", "field"),
    [
        ({"protected_years": 16.0}, "protected_longer_than_service", "protected_years"),
        ({"protected_years": 15.996}, "protected_longer_than_service", "protected_years"),  # 0.00 years, as declared
        ({"previous_mm": 7.0}, "previous_incomplete", "years_since_previous"),
        ({"years_since_previous": 2.0}, "previous_incomplete", "previous_mm"),
        ({"previous_mm": 7.0, "years_since_previous": 16.01}, "previous_before_service", "years_since_previous"),
    ],
)
def test_refused(change, code, field):
    """What cannot be together is refused, by code, at the argument to change."""
    with pytest.raises(NotApplicableError) as refused:
        corrosion_rate(**{**PLATE, **change})
    ((told_code, path, message),) = refused.value.faults
    assert (told_code, path) == (code, (field,))
    assert "{" not in message


@pytest.mark.parametrize(
    "change", [{"protected_years": 15.99}, {"previous_mm": 7.0, "years_since_previous": 16.0}, {"protected_years": 0.0}]
)
def test_just_not_refused(change):
    """Protection just short of the service, and a previous reading from its first day, are possible."""
    assert np.isfinite(corrosion_rate(**{**PLATE, **change}).governing_mm_per_year)


def test_every_fault_is_told_at_once():
    """A request with two faults is told both."""
    with pytest.raises(NotApplicableError) as refused:
        corrosion_rate(**PLATE, protected_years=20.0, previous_mm=7.0)
    assert {code for code, _, _ in refused.value.faults} == {"protected_longer_than_service", "previous_incomplete"}


def test_without_a_previous_reading():
    """With no previous reading the long-term rate governs, and nothing is said of the short term."""
    rate = corrosion_rate(**PLATE)
    assert rate.governing == Governing.LONG_TERM
    assert rate.governing_mm_per_year == rate.long_term_mm_per_year == 0.25
    short = (
        rate.short_term_mm_per_year,
        rate.short_term_standard_uncertainty_mm_per_year,
        rate.short_term_significant,
    )
    assert np.isnan(short).all()


def test_long_term_governs_a_tie():
    """Equal as declared, the long-term rate governs: it rests on the longer time."""
    tie = corrosion_rate(**PLATE, previous_mm=6.50001, years_since_previous=2.0)
    assert tie.governing == Governing.LONG_TERM


def test_uncertainty_of_the_short_term_rate():
    """GUM 5.1.2: two readings' uncertainties, root of the sum of squares, over the years between."""
    rate = corrosion_rate(
        **PLATE,
        previous_mm=7.0,
        years_since_previous=2.0,
        residual_standard_uncertainty_mm=0.3,
        previous_standard_uncertainty_mm=0.4,
    )
    assert rate.short_term_standard_uncertainty_mm_per_year == pytest.approx(0.5 / 2.0)


#: With 0.25 mm each, two readings differ by more than chance from 1.96 x 0.35355 = 0.69296 mm.
@pytest.mark.parametrize(("previous_mm", "significant"), [(6.692, 0.0), (6.694, 1.0), (5.306, 1.0), (5.308, 0.0), (6.0, 0.0)])
def test_significance(previous_mm, significant):
    """A rate differs from none past 1.96 standard uncertainties, either way (GUM, Table G.1: two-sided 95 %)."""
    rate = corrosion_rate(**PLATE, previous_mm=previous_mm, years_since_previous=1.0)
    assert rate.short_term_significant == significant


def test_significance_is_of_rounded_figures():
    """A rate equal to its bound as declared is not past it."""
    bound = 1.96 * np.hypot(0.25, 0.25)
    rate = corrosion_rate(**PLATE, previous_mm=6.0 + bound + 1e-6, years_since_previous=1.0)
    assert rate.short_term_significant == 0.0


@pytest.mark.parametrize(
    ("previous_mm", "found"),
    [
        (6.6, {"short_term_not_significant"}),
        (6.9, set()),
        (5.9, set()),
        (5.0, {"reading_grew"}),
    ],
)
def test_findings_on_a_pair_of_readings(told, previous_mm, found):
    """A governing rate that may be chance, and a plate that grew by more than chance, are told."""
    answer = told(corrosion_rate, FINDINGS, **PLATE, previous_mm=previous_mm, years_since_previous=1.0)
    assert set(answer.found) == found


@pytest.mark.parametrize(("residual_mm", "found"), [(10.0, True), (10.5, True), (9.999, True), (9.99, False)])
def test_no_measurable_loss(told, residual_mm, found):
    """A governing rate of nothing, as declared, is told."""
    answer = told(corrosion_rate, FINDINGS, **{**PLATE, "residual_mm": residual_mm, "years_in_service": 50.0})
    assert ("no_measurable_loss" in answer.found) is found


@pytest.mark.parametrize(
    ("years", "general_loss_mm", "found"),
    [
        (15.0, 0.35, set()),
        (15.0, 0.3517, set()),  # 1.00, as declared
        (15.0, 0.353, {"loss_over_benchmark"}),
        (100.0, 1.4, set()),
        (101.0, 1.4, {"benchmark_out_of_range"}),
    ],
)
def test_findings_on_the_benchmark(told, years, general_loss_mm, found):
    """EN 1993-5 Table 4-2 (fresh row, from memory): more than it, and an age past its end, are told."""
    answer = told(
        corrosion_rate,
        FINDINGS,
        **{**PLATE, "years_in_service": years},
        general_loss_mm=general_loss_mm,
        environment=Environment.FRESH_WATER,
    )
    assert set(answer.found) == found


def test_no_environment_no_benchmark(told):
    """With no water named there is no benchmark, and nothing is said of one."""
    answer = told(corrosion_rate, FINDINGS, **{**PLATE, "years_in_service": 150.0}, general_loss_mm=3.0)
    assert np.isnan([answer.result.benchmark_loss_mm, answer.result.benchmark_ratio]).all()
    assert answer.found == {}
