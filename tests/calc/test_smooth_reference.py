"""The smooth reference: against exact normal shares, scipy's distributions, and draws of its own kind."""

import numpy as np
import pytest
from scipy import stats

from platemargin.smooth_reference import MOST_STEPS, draws_of, keeps_to, resolution_of, spread_of, tail_probability


def drawn(count, scatter, seed, step=0.1, around=6.03):
    return np.round(np.round(np.random.default_rng(seed).normal(around, scatter, count) / step) * step, 3)


@pytest.mark.parametrize(
    ("values", "step"),
    [
        ([5.8, 6.1, 5.9], 0.1),
        ([5.5, 6.0, 6.5], 0.5),
        ([5.0, 6.0, 8.0], 1.0),
        ([5.2, 5.4, 6.8], 0.2),
        ([5.25, 5.4, 6.8], 0.05),
        ([5.23, 5.4, 6.8], 0.01),
        ([5.237, 5.4, 6.8], None),
        ([9.3, 0.1 + 0.2, 4.6 - 0.6], 0.1),  # binary arithmetic
        ([5.8, 6.1, 5.9] * 10 + [5.83], 0.1),  # one of 31 typed otherwise
        ([5.8, 6.1, 5.9] * 3 + [5.83], 0.01),
    ],
)
def test_resolution(values, step):
    """The coarsest usual step that at least 95 % of the values keep to."""
    assert resolution_of(np.array(values)) == step


def test_no_step_is_kept_by_all():
    assert keeps_to(np.array([1.2345, 0.1]), None).all()


def test_slips_are_no_spread():
    """98 for 9.8 among readings of 9.8 does not stretch the spread; a strewn column is not judged at all."""
    values = drawn(60, 0.3, 1, around=9.5)
    assert len(spread_of(np.append(values, 98.0)).counts) == len(spread_of(values).counts)
    assert spread_of(np.random.default_rng(2).uniform(0, MOST_STEPS * 0.02, 300).round(2)) is None


@pytest.mark.parametrize(("scatter", "step"), [(0.15, 0.1), (0.3, 0.1), (0.5, 0.1), (0.3, 0.05), (0.3, 0.01)])
def test_pairs_expected_are_those_of_the_distribution_drawn_from(scatter, step):
    """Against the exact share of equal pairs of a rounded normal, by scipy.stats.norm; kernel noise adds a little."""
    steps = np.arange(0, 12 + step, step)
    shares = np.diff(stats.norm(6.03, scatter).cdf(np.append(steps, 12 + 2 * step) - step / 2))
    exact = 100 * 99 / 2 * (shares**2).sum()
    told = [draws_of(spread_of(drawn(100, scatter, seed, step))).pairs_expected for seed in range(30)]
    assert np.mean(told) == pytest.approx(exact, rel=0.12)


def test_digits_expected_are_those_of_the_distribution_drawn_from():
    """By scipy.stats.norm: at a scatter of 0.3 mm about 6.03 mm the digits 9, 0 and 1 are usual, 5 is rare."""
    edges = np.arange(0, 13, 0.1)
    shares = np.diff(stats.norm(6.03, 0.3).cdf(np.append(edges, 13.0) - 0.05))
    exact = np.bincount(np.arange(len(shares)) % 10, weights=shares)
    told = np.mean([draws_of(spread_of(drawn(200, 0.3, seed))).digits_expected[0] / 200 for seed in range(60)], axis=0)
    assert told == pytest.approx(exact, abs=0.012)


@pytest.mark.parametrize(("scatter", "step"), [(0.15, 0.1), (0.4, 0.1), (0.4, 0.2), (0.3, 0.05)])
def test_honest_values_are_as_improbable_as_is_said(scatter, step):
    """Of 120 honest samples no more than binomial chance (scipy.stats.binom) allows are below 1 %."""
    low = 0
    for seed in range(120):
        spread = spread_of(drawn(60, scatter, seed, step))
        if spread is not None and spread.wide_enough:
            draws = draws_of(spread)
            low += tail_probability(draws.excess[0], draws.excess[1:]) < 0.01
    assert low <= stats.binom.isf(0.001, 120, 0.01)


def test_a_comb_is_improbable():
    """Values on every other half are not of a smooth spread of that width."""
    values = np.random.default_rng(3).choice([5.0, 5.3, 5.5, 5.8, 6.0], 80)
    draws = draws_of(spread_of(values))
    assert tail_probability(draws.excess[0], draws.excess[1:]) < 1e-6


def test_the_same_values_draw_the_same():
    values = drawn(60, 0.3, 4)
    one, again = draws_of(spread_of(values)), draws_of(spread_of(values))
    assert np.array_equal(one.excess, again.excess)
    assert np.array_equal(one.digits, again.digits)


@pytest.mark.parametrize("distance", [-1.5, 0.0, 1.0, 2.5, 4.0])
@pytest.mark.parametrize("shape", [1.5, 4.0, 30.0])
def test_tail_is_pearsons_third(shape, distance):
    """scipy.stats.pearson3 of the draws' own moments."""
    draws = np.random.default_rng(5).gamma(shape, size=400)
    own = draws.mean() + distance * draws.std()
    reference = stats.pearson3(stats.skew(draws), draws.mean(), draws.std()).sf(own)
    assert tail_probability(own, draws) == pytest.approx(reference, rel=1e-9, abs=1e-300)


def test_tail_without_skewness_or_spread():
    assert tail_probability(2.0, np.array([-1.0, 1.0])) == pytest.approx(stats.norm.sf(2.0))
    assert tail_probability(5.0, np.array([3.0, 3.0])) == 1.0
