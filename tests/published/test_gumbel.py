"""Extreme values: what textbooks and tables say of the Gumbel distribution, and scipy as an independent fit.

The annual maxima of the sea at Port Pirie are Example 1.1 of S. Coles, An Introduction to Statistical Modeling of Extreme
Values (2001); the fits are printed in his 3.4.1 (Gumbel 3.87 with standard error 0.03, 0.195 with 0.019, log-likelihood 4.22;
the generalised distribution 3.87, 0.198, -0.050, log-likelihood 4.34). The further digits were recomputed with other programs.
"""

import numpy as np
import pytest
from scipy import integrate, optimize, stats

from platemargin import pit_prediction
from platemargin.deepest_pit import deepest_pit
from platemargin.extreme_value import fit_extreme_value
from platemargin.gumbel import (
    Fit,
    Method,
    anderson_darling,
    covariance_of,
    fit,
    l_moments_covariance,
    log_likelihood,
    standard_errors,
)
from platemargin.lieblein import LOCATION_WEIGHTS, SCALE_WEIGHTS, VARIANCES
from platemargin.pit_prediction import Prediction, predicted
from platemargin.unread_pits import probability_as_deep

ML, LM, LIEBLEIN = Method
#: Annual maxima in m, 1923 to 1987.
PORT_PIRIE = [
    *(4.03, 3.83, 3.65, 3.88, 4.01, 4.08, 4.18, 3.80, 4.36, 3.96, 3.98, 4.69, 3.85, 3.96, 3.85, 3.93, 3.75, 3.63, 3.57, 4.25),
    *(3.97, 4.05, 4.24, 4.22, 3.73, 4.37, 4.06, 3.71, 3.96, 4.06, 4.55, 3.79, 3.89, 4.11, 3.85, 3.86, 3.86, 4.21, 4.01, 4.11),
    *(4.24, 3.96, 4.21, 3.74, 3.85, 3.88, 3.66, 4.11, 3.71, 4.18, 3.90, 3.78, 3.91, 3.72, 4.00, 3.66, 3.62, 4.33, 4.55, 3.75),
    *(4.08, 3.90, 3.88, 3.94, 4.33),
]


def fitted(values, method):
    """Return location and scale of one sample."""
    found = fit(np.sort(np.array(values, dtype=float))[None], method)
    return float(found.location[0]), float(found.scale[0])


def test_port_pirie_by_maximum_likelihood():
    """Coles (2001) 3.4.1: 3.87 (0.03), 0.195 (0.019), log-likelihood 4.22; unrounded 3.86944, 0.19489, 4.2177."""
    location, scale = fitted(PORT_PIRIE, ML)
    errors = standard_errors(np.sort(PORT_PIRIE), location, scale, ML)
    assert (round(location, 5), round(scale, 5)) == (3.86944, 0.19489)
    assert (round(errors[0], 2), round(errors[1], 3)) == (0.03, 0.019)
    assert round(log_likelihood(np.sort(PORT_PIRIE), location, scale), 4) == 4.2177


def test_port_pirie_by_l_moments():
    """The L-moments of the same series, 3.980615 and 0.134644, give 3.868491 and 0.194251 (recomputed)."""
    assert fitted(PORT_PIRIE, LM) == (pytest.approx(3.868491, abs=1e-6), pytest.approx(0.194251, abs=1e-6))


def test_first_ten_years_of_port_pirie():
    """Its first ten years: Lieblein 3.87449, 0.19133; maximum likelihood 3.88414, 0.17353 (recomputed)."""
    assert fitted(PORT_PIRIE[:10], LIEBLEIN) == (pytest.approx(3.87449, abs=5e-6), pytest.approx(0.19133, abs=5e-6))
    assert fitted(PORT_PIRIE[:10], ML) == (pytest.approx(3.88414, abs=5e-6), pytest.approx(0.17353, abs=5e-6))


def test_port_pirie_by_the_generalised_distribution():
    """Coles (2001) 3.4.1: 3.87, 0.198, -0.050, log-likelihood 4.34: no clear gain over Gumbel's."""
    found = fit_extreme_value(np.sort(PORT_PIRIE), *fitted(PORT_PIRIE, ML))
    told = (round(found.location, 2), round(found.scale, 3), round(found.shape, 3), round(found.log_likelihood, 2))
    assert told == (3.87, 0.198, -0.050, 4.34)


@pytest.mark.parametrize("seed", range(40))
def test_maximum_likelihood_is_scipys(seed):
    """scipy.stats.gumbel_r.fit, to 1e-10, on samples of any place, scale and size."""
    random = np.random.default_rng(seed)
    sample = stats.gumbel_r.rvs(
        random.uniform(-5, 50), 10 ** random.uniform(-2, 1), size=random.integers(5, 400), random_state=random
    )
    assert fitted(sample, ML) == pytest.approx(stats.gumbel_r.fit(sample), rel=1e-10, abs=1e-10)


@pytest.mark.parametrize("seed", range(12))
def test_generalised_fit_is_as_likely_as_scipys(seed):
    """scipy.stats.genextreme (whose shape is minus ours), its likelihood climbed by scipy.optimize from two starts."""
    random = np.random.default_rng(seed)
    sample = np.sort(stats.genextreme.rvs(random.uniform(-0.3, 0.3), 2, 0.5, size=random.choice([8, 40]), random_state=random))
    location, scale = fitted(sample, ML)

    def unlikely(at):
        with np.errstate(all="ignore"):
            value = -stats.genextreme.logpdf(sample, -at[2], at[0], np.exp(at[1])).sum()
        return value if np.isfinite(value) and abs(at[2]) <= 0.5 else 1e9

    starts = ([location, np.log(scale), shape] for shape in (-0.1, 0.1))
    options = {"maxiter": 4000, "xatol": 1e-8, "fatol": 1e-9}
    climbed = (optimize.minimize(unlikely, start, method="Nelder-Mead", options=options) for start in starts)
    best, found = min(climbed, key=lambda end: end.fun), fit_extreme_value(sample, location, scale)
    assert found.log_likelihood == pytest.approx(-best.fun, abs=1e-4)
    assert (found.location, found.scale, found.shape) == pytest.approx((best.x[0], np.exp(best.x[1]), best.x[2]), abs=2e-3)


@pytest.mark.parametrize(
    ("sample", "shape"),
    [
        ([*np.linspace(-0.45, 0.45, 11), 200.0], 0.5),
        ([0.0, *np.linspace(199.55, 200.45, 11)], -0.5),
        (np.geomspace(0.001, 200, 5), 0.5),
    ],
)
def test_generalised_fit_of_a_hard_sample_is_as_likely_as_scipys(sample, shape):
    """The first steps lead far out of these samples, and their likelihood still grows at the bound of the shape.

    scipy.stats.genextreme again, its location and scale climbed by scipy.optimize at each of five shapes.
    """
    sample = np.array(sample)
    middle = np.median(sample)

    def unlikely(at, shape):
        with np.errstate(all="ignore"):
            value = -stats.genextreme.logpdf(sample, -shape, middle + np.sinh(at[0]), np.exp(at[1])).sum()
        return value if np.isfinite(value) else 1e9

    climbed = {
        at: optimize.minimize(unlikely, [0.0, 2.0], (at,), method="Nelder-Mead", options={"xatol": 1e-6, "fatol": 1e-7}).fun
        for at in (-0.5, -0.25, 0.0, 0.25, 0.5)
    }
    found = fit_extreme_value(sample, *fitted(sample, ML))
    assert found.log_likelihood == pytest.approx(-min(climbed.values()), abs=1e-4)
    assert found.shape == pytest.approx(shape, abs=1e-6)
    assert min(climbed, key=climbed.get) == shape


@pytest.mark.parametrize("count", range(5, 17))
def test_lieblein_is_unbiased(count):
    """What makes the weights of Lieblein (1974) unbiased: of the ordered standard sample's means they make 0 and 1.

    The means are integrated here from the density of each order statistic.
    """
    means = np.array([_mean_of_order(i, count) for i in range(1, count + 1)])
    assert LOCATION_WEIGHTS[count].sum() == pytest.approx(1, abs=4e-6)
    assert SCALE_WEIGHTS[count].sum() == pytest.approx(0, abs=4e-6)
    assert LOCATION_WEIGHTS[count] @ means == pytest.approx(0, abs=1e-5)
    assert SCALE_WEIGHTS[count] @ means == pytest.approx(1, abs=1e-5)


def _mean_of_order(place, count):
    order = stats.beta(place, count + 1 - place)
    mean, _ = integrate.quad(lambda p: -np.log(-np.log(p)) * order.pdf(p), 0, 1, limit=200)
    return mean


def test_lieblein_at_ten():
    """Lieblein (1974) Table 1, ten values: the greatest weights of each estimator, and its variances."""
    assert LOCATION_WEIGHTS[10][:2].tolist() == [0.222867, 0.162308]
    assert SCALE_WEIGHTS[10][:2].tolist() == [-0.34783, -0.091157]
    assert (VARIANCES[10][0][0], VARIANCES[10][1][1]) == (0.112973, 0.071573)


#: Where the ordered sample's moments are added up: they tend to nothing so fast at the ends that steps this wide are exact.
DEPTHS, RATIOS = np.arange(-4.5, 42, 0.1), np.arange(-40, 40, 0.2)


def _ordered(count):
    """Return means and covariance of the ordered standard sample.

    The j-th least of n has a probability p that is Beta(j, n + 1 - j), and the i-th below it p times a Beta(i, j - i): both
    are taken by the rule of trapezes, over x = -ln(-ln p) and over the logarithm of the odds.
    """
    p, q = -np.exp(-DEPTHS), np.log(-np.expm1(-np.exp(-DEPTHS)))  # ln p and ln(1 - p)
    t, u = -np.log1p(np.exp(-RATIOS)), -np.log1p(np.exp(RATIOS))  # the same of the ratio
    below = -np.log(-(p[:, None] + t))
    means, products = np.empty(count), np.empty((count, count))
    for j in range(1, count + 1):
        weight = np.exp(j * p + (count - j) * q - DEPTHS)
        weight /= weight.sum()
        means[j - 1], products[j - 1, j - 1] = weight @ DEPTHS, weight @ DEPTHS**2
        for i in range(1, j):
            ratio = np.exp(i * t + (j - i) * u)
            products[i - 1, j - 1] = products[j - 1, i - 1] = (weight * DEPTHS) @ (below @ (ratio / ratio.sum()))
    return means, products - np.outer(means, means)


@pytest.mark.parametrize("count", range(5, 17))
def test_lieblein_is_the_best(count):
    """Every weight and every variance of Lieblein (1974), Table 1: the least squares of Gauss and Markov, worked anew here.

    With A of ones and means and S the covariance of the ordered sample, (A' S^-1 A)^-1 and that times A' S^-1.
    """
    means, spread = _ordered(count)
    design = np.column_stack([np.ones(count), means])
    variances = np.linalg.inv(design.T @ np.linalg.solve(spread, design))
    weights = variances @ np.linalg.solve(spread, design).T
    assert np.array([LOCATION_WEIGHTS[count], SCALE_WEIGHTS[count]]) == pytest.approx(weights, abs=2e-6)
    assert np.array(VARIANCES[count]) == pytest.approx(variances, abs=1e-6)


@pytest.mark.parametrize(
    ("count", "mean", "deviation"),
    [(8, 0.4843, 0.9043), (10, 0.4952, 0.9496), (20, 0.5236, 1.0628), (50, 0.5485, 1.1607), (100, 0.56, 1.2065)],
)
def test_reduced_variates(count, mean, deviation):
    """Gumbel (1958), table of the reduced mean and deviation at the plotting positions i / (n + 1)."""
    found = deepest_pit(
        pit_depths_mm=np.linspace(1, 2, count).tolist(), sampling="random_patches", patch_area_m2=0.1, total_area_m2=100.0
    )
    variates = found.plot.reduced_variate
    assert (variates.mean(), variates.std()) == (pytest.approx(mean, abs=6e-5), pytest.approx(deviation, abs=6e-5))


def test_area_extrapolation():
    """Location 1.2, scale 0.35, T = 100: five questions (derived from the distribution; Shibata 1994 for the first)."""
    location, scale, patches = 1.2, 0.35, 100.0
    whole = stats.gumbel_r(location + scale * np.log(patches), scale)
    assert location + scale * np.log(patches) == pytest.approx(2.81181, abs=5e-6)
    assert stats.gumbel_r(location, scale).ppf(1 - 1 / patches) == pytest.approx(2.81005, abs=5e-6)
    assert whole.mean() == pytest.approx(3.01384, abs=5e-6)
    assert whole.ppf(0.95) == pytest.approx(3.85138, abs=5e-6)
    assert whole.sf(4.0) == pytest.approx(0.032990, abs=5e-7)
    found = _at(location, scale, patches)
    told = (found.most_likely_mm, found.quantile_mm, found.expected_mm, found.upper_if_parameters_known_mm)
    assert told == pytest.approx((2.81181, 2.81005, 3.01384, 3.85138), abs=5e-6)
    # Of the 80 that nobody read alone: that the 20 read have no hole is known.
    unread = stats.gumbel_r(location + scale * np.log(patches - 20), scale)
    assert found.probability_holed_if_parameters_known == pytest.approx(unread.sf(4.0), abs=5e-7)


@pytest.mark.parametrize(("count", "unread", "place"), [(5, 2.0, 0.5), (8, 92.0, 1.5), (20, 480.0, 3.0), (60, 5.0, 0.1)])
def test_probability_of_a_hole_is_that_of_the_likelihood(count, unread, place):
    """Lawless (1973): the conditional distribution is the likelihood's with equal weight for location and log scale.

    Here both are integrated numerically, with scipy's density, far beyond where it is of any weight.
    """
    sample = np.sort(stats.gumbel_r.rvs(1.2, 0.35, size=count, random_state=count))
    location, scale = fitted(sample, ML)
    plate = sample[-1] + place * scale
    most, off = stats.gumbel_r.logpdf(sample, location, scale).sum(), np.linspace(-8, 8, 801)
    weights, holed = [], []
    for s in scale * np.exp(np.linspace(-2.5, 4.5, 281)):
        at = location + s * off
        weight = s * np.exp(stats.gumbel_r.logpdf(sample[:, None], at, s).sum(axis=0) - most)
        weights.append(integrate.simpson(weight, x=off))
        holed.append(integrate.simpson(weight * -np.expm1(unread * stats.gumbel_r.logcdf(plate, at, s)), x=off))
    told = probability_as_deep(sample, plate, unread)
    assert told == pytest.approx(integrate.simpson(holed) / integrate.simpson(weights), rel=1e-5)


def test_probability_of_a_hole_where_very_many_were_read():
    """The same integral for 5,000 depths, whose likelihood is narrow: over 7 standard errors to each side, where it lies.

    The errors are those of Gumbel's information, sqrt(1 + 6 (1 - gamma)^2 / pi^2) and sqrt(6) / pi over sqrt(n), of the scale.
    """
    sample = stats.gumbel_r.ppf((np.arange(5000) + 0.5) / 5000, 1.2, 0.35)
    location, scale = fitted(sample, ML)
    plate, unread = location + 15 * scale, 1e6
    steps = np.linspace(-7, 7, 41)
    of_location = np.sqrt((1 + 6 * (1 - np.euler_gamma) ** 2 / np.pi**2) / 5000)
    at, most = location + steps * of_location * scale, stats.gumbel_r.logpdf(sample, location, scale).sum()
    weights, holed = [], []
    for s in scale * np.exp(steps * np.sqrt(6 / 5000) / np.pi):
        weight = np.exp(stats.gumbel_r.logpdf(sample[:, None], at, s).sum(axis=0) - most)
        weights.append(integrate.simpson(weight, x=steps))
        holed.append(integrate.simpson(weight * -np.expm1(unread * stats.gumbel_r.logcdf(plate, at, s)), x=steps))
    told = probability_as_deep(sample, plate, unread)
    assert told == pytest.approx(integrate.simpson(holed) / integrate.simpson(weights), rel=1e-5)


def _at(location, scale, patches):
    """Return what is answered to depths whose fit by L-moments is exactly of this location and scale."""
    positions = np.linspace(1, 2, 20)
    mean, spread = fitted(positions, LM)
    depths = location + (positions - mean) * scale / spread
    return deepest_pit(
        pit_depths_mm=depths.tolist(),
        sampling="random_patches",
        patch_area_m2=1.0,
        total_area_m2=patches,
        plate_mm=4.0,
        method="l_moments",
    )


@pytest.mark.parametrize(("level", "critical"), [(0.10, 0.637), (0.05, 0.757), (0.025, 0.877), (0.01, 1.038)])
def test_anderson_darling_levels(level, critical):
    """Stephens (1977), as scipy.stats.anderson has them: critical values of A2 (1 + 0.2 / sqrt n)."""
    for count in (10, 50, 200):
        drawn = predicted(ML, count, 1000.0).p_value(critical / (1 + 0.2 / np.sqrt(count)))
        assert drawn == pytest.approx(level, abs=0.15 * level + 0.004)


@pytest.mark.parametrize(
    ("sample", "distance"),
    [
        # ln F(0) = -1 and ln(1 - F(0)) = ln(1 - 1 / e) = -0.4586751 in each; the other depth by its tail.
        ([0.0, 1000.0], 499.188013),  # ln(1 - F) = -1000: -2 + ((1 + 1000) + 3 x 0.4586751) / 2
        ([-6.0, 0.0], 201.443735),  # ln F = -e^6 = -403.4287935: -2 + ((403.4287935 + 0.4586751) + 3 x 1) / 2
        ([-1000.0, 0.0], 349.729338),  # no more than impossible, ln F = -700: -2 + ((700 + 0.4586751) + 3 x 1) / 2
    ],
)
def test_anderson_darling_in_the_tails_by_hand(sample, distance):
    """A2 = -n - sum (2 i - 1) (ln F(x_i) + ln(1 - F(x_(n + 1 - i)))) / n, of two depths and the standard distribution."""
    standard = Fit(location=np.zeros(1), scale=np.ones(1))
    assert anderson_darling(np.array([sample]), standard)[0] == pytest.approx(distance, abs=1e-6)


def test_anderson_darling_is_scipys():
    """The statistic itself, against scipy.stats.anderson with its own fit."""
    sample = np.sort(stats.gumbel_r.rvs(1, 0.3, size=30, random_state=3))
    own = anderson_darling(sample[None], fit(sample[None], ML))[0]
    assert own == pytest.approx(stats.anderson(sample, "gumbel_r", method="interpolate").statistic, abs=1e-6)


@pytest.mark.parametrize("count", [5, 20, 100])
def test_l_moments_variances(count):
    """Phien (1987): (0.8046 n - 0.1855) / (n (n - 1)) for the scale.

    From memory, to four digits; and against 100,000 seeded samples.
    """
    covariance = l_moments_covariance(count)
    assert covariance[1, 1] == pytest.approx((0.8046 * count - 0.1855) / (count * (count - 1)), rel=1e-3)
    samples = np.sort(stats.gumbel_r.rvs(size=(100_000, count), random_state=7), axis=1)
    drawn = fit(samples, LM)
    assert np.cov(drawn.location, drawn.scale) == pytest.approx(covariance, rel=0.02, abs=0.001)


@pytest.mark.parametrize("count", [5, 10, 16])
def test_l_moments_covariance_is_that_of_the_ordered_sample(count):
    """The estimates are sums of the ordered sample (Hosking 1990), so that its covariance gives theirs: nothing is drawn."""
    place, even = np.arange(count), np.full(count, 1 / count)
    of_scale = (2 * place / (count * (count - 1)) - even) / np.log(2)
    weights = np.array([even - np.euler_gamma * of_scale, of_scale])
    _, spread = _ordered(count)
    assert l_moments_covariance(count) == pytest.approx(weights @ spread @ weights.T, abs=1e-8)


@pytest.mark.parametrize("method", Method)
def test_errors_grow_with_the_scale(method):
    """A location-scale family: depths five times as far apart have estimates five times as uncertain."""
    sample = np.sort(PORT_PIRIE[:10])
    errors, wider = (standard_errors(by * sample, *fitted(by * sample, method), method) for by in (1, 5))
    assert wider == pytest.approx([5 * error for error in errors], rel=1e-9)


@pytest.mark.parametrize("count", [5, 12, 65])
def test_information_is_the_curvature_of_scipys_likelihood(count):
    """Coles (2001) 2.6.4: the inverse of minus the second derivatives, here by central differences of scipy's density."""
    sample = np.sort(PORT_PIRIE[:count])
    location, scale = fitted(sample, ML)
    step = 1e-3 * scale

    def likely(*at):
        return stats.gumbel_r.logpdf(sample, *at).sum()

    second = np.empty((2, 2))
    steps = np.eye(2) * step
    for row in range(2):
        for column in range(2):
            around = [
                likely(*(np.array([location, scale]) + sign * steps[row] + other * steps[column]))
                for sign, other in ((1, 1), (1, -1), (-1, 1), (-1, -1))
            ]
            second[row, column] = (around[0] - around[1] - around[2] + around[3]) / (4 * step**2)
    assert covariance_of(sample, location, scale, ML) == pytest.approx(np.linalg.inv(-second), rel=1e-4)


def test_lieblein_variances_are_those_of_samples():
    """The variances printed beside the weights, against 100,000 seeded samples."""
    samples = np.sort(stats.gumbel_r.rvs(size=(100_000, 8), random_state=7), axis=1)
    drawn = fit(samples, LIEBLEIN)
    assert np.cov(drawn.location, drawn.scale) == pytest.approx(covariance_of(samples[0], 0.0, 1.0, LIEBLEIN), rel=0.02)


@pytest.mark.parametrize("method", [ML, LM, LIEBLEIN])
def test_many_samples_are_each_fitted_as_alone(method):
    samples = np.sort(np.random.default_rng(8).gumbel([[1.0], [50.0], [0.02]], [[0.2], [9.0], [0.01]], (3, 12)), axis=1)
    together = fit(samples, method)
    for row, sample in enumerate(samples):
        assert (together.location[row], together.scale[row]) == pytest.approx(fitted(sample, method), rel=1e-9)


@pytest.mark.parametrize(("count", "total"), [(12, 12), (12, 30), (30, 45), (300, 2000)])
def test_what_is_predicted_is_how_often_it_happens(count, total):
    """Beside draws by numpy, fitted by the sample's own L-moments (Hosking 1990, 2.12), of 20,000 hulls of so many patches."""
    draws = np.random.default_rng(11)
    read = np.sort(draws.gumbel(size=(20_000, count)), axis=1)
    mean = read.mean(axis=1)
    scale = ((2 * np.arange(1, count + 1) - count - 1) * read).sum(axis=1) / (count * (count - 1)) / np.log(2)
    # The deepest of so many unread ones, at once: its distribution function is exp(-n exp(-z)) (Gumbel 1958).
    unread = np.full(len(read), -np.inf) if total == count else np.log(total - count) + draws.gumbel(size=len(read))
    deepest = np.maximum(read[:, -1], unread)
    reduced = (deepest - (mean - np.euler_gamma * scale)) / scale
    for probability in (0.1, 0.5, 0.9, 0.95):
        told = predicted(LM, count, total).quantile(probability)
        assert (reduced <= told).mean() == pytest.approx(probability, abs=0.015)


@pytest.mark.parametrize("probability", [0.5, 0.9, 0.95, 0.999])
@pytest.mark.parametrize(("count", "total"), [(5, 5), (5, 1e7), (8, 8.2), (12, 100), (200, 201), (300, 300), (5000, 1e6)])
@pytest.mark.parametrize("method", [ML, LM])
def test_a_quantile_is_where_the_distribution_first_comes_to_its_probability(method, count, total, probability):
    """Its definition; where every patch is read the distribution has steps, some of them at the very probability."""
    expected = predicted(method, count, total)
    told = expected.quantile(probability)
    assert expected.not_deeper(told) >= probability > expected.not_deeper(told - 2e-9)


@pytest.mark.parametrize(("deepest", "wanted"), [([-5.0, 5.0], -5.0), ([-5.0, 0.5], -5.0), ([0.25, 0.25], 0.25)])
def test_a_quantile_at_which_the_distribution_stays_for_long_is_the_least(deepest, wanted):
    """Its definition: the least depth at which a distribution, here of one step or two, comes to a half."""
    ones = np.ones(2)
    steps = Prediction(location=0 * ones, scale=ones, deepest=np.array(deepest), distance=ones, count=5, unread=0.0)
    assert steps.quantile(0.5) == pytest.approx(wanted, abs=1e-9)


def test_the_spread_of_many_is_the_methods_own():
    """Phien (1987) for L-moments; 6 / pi^2 of the scale's square over n by maximum likelihood (Gumbel 1958)."""
    by_moments, likeliest = (np.std(predicted(method, 300, 2000).scale) for method in (LM, ML))
    assert by_moments == pytest.approx(np.sqrt(l_moments_covariance(300)[1, 1]), rel=0.02)
    assert likeliest == pytest.approx(np.sqrt(6 / np.pi**2 / 300), rel=0.02)


def test_a_share_of_draws_counts_the_sample_itself():
    """(1 + r) / (1 + n), Davison and Hinkley, Bootstrap Methods (1997), 4.2.2 (from memory)."""
    expected = predicted(ML, 12, 100.0)
    draws = len(expected.distance)
    assert [expected.p_value(distance) for distance in (1e9, -1.0)] == [1 / (1 + draws), 1.0]
    assert predicted(ML, 200, 1000.0).deepest.shape == predicted(ML, 200, 1000.0).location.shape


def test_what_is_drawn_is_the_same_in_another_process():
    told = predicted(ML, 12, 100.0).quantile(0.9)
    pit_prediction._drawn.cache_clear()
    assert predicted(ML, 12, 100.0).quantile(0.9) == told
