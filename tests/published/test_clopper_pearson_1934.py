"""Clopper and Pearson (1934), from memory: the exact binomial upper limit, with scipy's as the second opinion."""

import pytest
from scipy import stats

from platemargin.sampling import missed_fraction_upper, readings_needed


@pytest.mark.parametrize("readings", [1, 2, 5, 10, 29, 59, 299, 100_000])
@pytest.mark.parametrize("confidence", [0.5, 0.9, 0.95, 0.999])
def test_upper_limit_after_clean_readings(readings, confidence):
    """A one-sided limit at c is the upper end of a two-sided interval at 2c - 1; scipy.stats.binomtest, method exact."""
    result = stats.binomtest(0, readings, alternative="less").proportion_ci(confidence, method="exact")
    assert missed_fraction_upper(readings, confidence) == pytest.approx(result.high, rel=1e-9)


@pytest.mark.parametrize(("readings", "upper"), [(10, 0.2589), (20, 0.1391), (30, 0.0950)])
def test_tabulated_limits(readings, upper):
    """One-sided 95 % limits of 0 in n, as tables of the binomial print them; from memory."""
    assert missed_fraction_upper(readings, 0.95) == pytest.approx(upper, abs=5e-5)


@pytest.mark.parametrize(
    ("fraction", "confidence", "needed"),
    [(0.1, 0.95, 29), (0.05, 0.95, 59), (0.01, 0.95, 299), (0.1, 0.9, 22), (0.01, 0.99, 459)],
)
def test_success_run(fraction, confidence, needed):
    """Sizes of a sample without a failure (29, 59, 299, 22, 459), as tables of them print; from memory."""
    assert readings_needed(fraction, confidence) == needed
