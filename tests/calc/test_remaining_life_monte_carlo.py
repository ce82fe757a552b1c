"""The life's closed form against a simulation of the model that it stands for.

The oracle knows the model alone: o and r are independent normals, growth g(x) = 1 + f (((t + x) / t)^n - 1), thickness
R(x) = o + g(x) (r - o). It draws a million of each and counts how many are at or below the limit. With N draws a count's
share has the binomial standard error sqrt(p (1 - p) / N); every comparison is allowed FIVE of them, 0.0011 at p = 0.05
and 0.0025 at p = 0.5 (of some 300 comparisons one would fail by chance in 10,000 runs; the draws are seeded).
"""

from dataclasses import dataclass

import numpy as np
import pytest
from scipy import stats

from platemargin.remaining_life import LifeStatus, remaining_life

DRAWS = 1_000_000
STANDARD_ERRORS = 5.0
NORMALS = np.random.default_rng(20241231).standard_normal((2, DRAWS))


@dataclass(frozen=True)
class Case:
    """A request, and what it comes to in the model's own symbols: o, t, u_o."""

    request: dict
    o: float
    t: float
    u_o: float
    #: Which of years, years_low and years_high have a finite value.
    finite: tuple = (True, True, True)
    status: LifeStatus = LifeStatus.ABOVE
    #: Which ends are reached before any time passes.
    now: tuple = (False, False, False)

    @property
    def all(self):
        """Return the request with the defaults that the model needs."""
        defaults = {
            "exponent": 1.0,
            "rate_factor": 1.0,
            "residual_standard_uncertainty_mm": 0.25,
            "confidence": 0.9,
            "years_ahead": 10.0,
        }
        return {**defaults, **self.request}


#: u of a new plate by EN 10029:2010 class A, from its limits: -0.5..0.9 about 10 mm, -0.4..0.8 about 6, -0.3..0.7 about 4.
U_10 = np.hypot(1.4 / np.sqrt(12), 0.2)
U_6 = np.hypot(1.2 / np.sqrt(12), 0.2)
U_4 = np.hypot(1.0 / np.sqrt(12), 0.2)


def of(original, residual, years, threshold, **options):
    """Return a request."""
    named = {"original_mm": original, "residual_mm": residual, "years_in_service": years, "threshold_mm": threshold}
    return {**named, **options}


CASES = {
    "plain": Case(of(10.0, 6.2, 16.0, 4.0), 10.0, 16.0, U_10),
    "well measured": Case(
        of(6.0, 5.1, 20.0, 4.0, residual_standard_uncertainty_mm=0.05, original_standard_uncertainty_mm=0.05),
        6.0,
        20.0,
        0.05,
    ),
    "protected": Case(of(10.0, 6.2, 16.0, 4.0, protected_years=5.0), 10.0, 11.0, U_10),
    "slowing": Case(of(10.0, 6.2, 16.0, 4.0, exponent=0.6), 10.0, 16.0, U_10),
    "quickening": Case(of(10.0, 7.0, 12.0, 4.0, exponent=1.5, confidence=0.95), 10.0, 12.0, U_10),
    "faster future": Case(of(6.0, 5.0, 12.0, 3.5, rate_factor=3.0, confidence=0.5), 6.0, 12.0, U_6),
    "slowing and faster": Case(of(10.0, 7.5, 9.0, 4.0, exponent=0.5, rate_factor=2.5, confidence=0.8), 10.0, 9.0, U_10),
    "milder future": Case(of(10.0, 6.2, 16.0, 4.0, rate_factor=0.4), 10.0, 16.0, U_10),
    "stopped": Case(of(10.0, 6.2, 16.0, 4.0, rate_factor=0.0), 10.0, 16.0, U_10, finite=(False, False, False)),
    "stopped at the limit": Case(
        of(10.0, 4.1, 16.0, 4.0, rate_factor=0.0), 10.0, 16.0, U_10, finite=(False, True, False), now=(False, True, False)
    ),
    "short term governs": Case(
        of(10.0, 6.2, 16.0, 4.0, previous_mm=7.4, years_since_previous=3.0, previous_standard_uncertainty_mm=0.2),
        7.4,
        3.0,
        0.2,
    ),
    "short term governs, quickening": Case(
        of(10.0, 6.2, 16.0, 4.0, previous_mm=7.4, years_since_previous=3.0, exponent=1.3, rate_factor=0.7, confidence=0.6),
        7.4,
        3.0,
        0.25,
    ),
    "long term governs over a reading that grew": Case(
        of(10.0, 6.2, 16.0, 4.0, previous_mm=6.0, years_since_previous=3.0), 10.0, 16.0, U_10
    ),
    "near the limit": Case(of(10.0, 4.2, 16.0, 4.0), 10.0, 16.0, U_10, now=(False, True, False)),
    "on the limit": Case(of(6.0, 4.0, 16.0, 4.0), 6.0, 16.0, U_6, now=(True, True, False)),
    "unbounded above": Case(of(10.0, 9.6, 16.0, 4.0), 10.0, 16.0, U_10, finite=(True, True, False)),
    "unbounded above, confident": Case(of(6.0, 5.0, 16.0, 4.0, confidence=0.999), 6.0, 16.0, U_6, finite=(True, True, False)),
    "no loss": Case(
        of(6.0, 6.0, 16.0, 4.0),
        6.0,
        16.0,
        U_6,
        finite=(False, True, False),
        status=LifeStatus.NO_MEASURABLE_LOSS,
    ),
    "gain": Case(
        of(6.0, 6.3, 16.0, 4.0),
        6.0,
        16.0,
        U_6,
        finite=(False, True, False),
        status=LifeStatus.NO_MEASURABLE_LOSS,
    ),
    "gain beyond doubt": Case(
        of(6.0, 7.5, 16.0, 4.0),
        6.0,
        16.0,
        U_6,
        finite=(False, False, False),
        status=LifeStatus.NO_MEASURABLE_LOSS,
    ),
    # The limit is above the original and the reading above both: as time goes on the model's plate grows, and its
    # uncertainty with it; the probability first falls, then rises past where it began.
    "probability first falls": Case(
        of(5.0, 5.3, 16.0, 5.1, confidence=0.52, original_standard_uncertainty_mm=0.4),
        5.0,
        16.0,
        0.4,
        finite=(False, True, False),
        status=LifeStatus.NO_MEASURABLE_LOSS,
    ),
    "probability first falls, and never gets there": Case(
        of(5.0, 5.3, 16.0, 5.1, confidence=0.5, original_standard_uncertainty_mm=0.25),
        5.0,
        16.0,
        0.25,
        finite=(False, False, False),
        status=LifeStatus.NO_MEASURABLE_LOSS,
    ),
    "already below": Case(of(4.0, 3.4, 30.0, 3.5), 4.0, 30.0, U_4, status=LifeStatus.ALREADY_BELOW, now=(True, True, True)),
    "already far below": Case(
        of(10.0, 2.0, 16.0, 4.0), 10.0, 16.0, U_10, status=LifeStatus.ALREADY_BELOW, now=(True, True, True)
    ),
}
NAMED = [pytest.param(case, id=name) for name, case in CASES.items()]


def life_of(case):
    """Return the closed form's answer as plain floats."""
    return {
        name: float(value)
        for name, value in vars(remaining_life(**case.request)).items()
        if not np.issubdtype(np.asarray(value).dtype, np.datetime64)
    }


def probability(case, years):
    """Return the share of the draws that are at or below the limit after some years."""
    given = case.all
    started = case.o + case.u_o * NORMALS[0]
    read = given["residual_mm"] + given["residual_standard_uncertainty_mm"] * NORMALS[1]
    growth = 1 + given["rate_factor"] * (((case.t + years) / case.t) ** given["exponent"] - 1)
    return np.mean(started + growth * (read - started) <= given["threshold_mm"])


def tolerance(expected):
    """Return the five standard errors of a share of a million draws."""
    return STANDARD_ERRORS * np.sqrt(max(expected * (1 - expected), 1 / DRAWS) / DRAWS)


def ends(case):
    """Return each life's name and the probability that defines it."""
    c = case.all["confidence"]
    return {"years": 0.5, "years_low": (1 - c) / 2, "years_high": (1 + c) / 2}


@pytest.mark.parametrize("case", NAMED)
def test_grid_is_what_it_says(case):
    """Every case has the status, the finite values and the ends reached at once for which it is in the grid."""
    life = life_of(case)
    assert life["status"] == case.status
    assert tuple(np.isfinite(life[name]) for name in ends(case)) == case.finite
    assert tuple(life[name] == 0 for name in ends(case)) == case.now


@pytest.mark.parametrize("case", NAMED)
def test_probability_now_and_ahead(case):
    """The probabilities of being below now and at years_ahead are the simulation's."""
    life = life_of(case)
    for name, years in (("probability_below_now", 0.0), ("probability_below", case.all["years_ahead"])):
        assert probability(case, years) == pytest.approx(life[name], abs=tolerance(life[name]))


@pytest.mark.parametrize("case", NAMED)
def test_forecast_band(case):
    """At years_ahead the forecast is the model's median and its band holds the confidence asked, down to no plate."""
    life, c = life_of(case), case.all["confidence"]
    limits = {"forecast_mm": 0.5, "forecast_low_mm": (1 - c) / 2, "forecast_high_mm": (1 + c) / 2}
    for name, expected in limits.items():
        against = Case({**case.request, "threshold_mm": life[name]}, case.o, case.t, case.u_o)
        share = probability(against, case.all["years_ahead"])
        if life[name] > 0:
            assert share == pytest.approx(expected, abs=tolerance(expected))
        else:
            assert share >= expected - tolerance(expected)


@pytest.mark.parametrize("case", NAMED)
def test_probability_at_the_ends(case):
    """Where an end lies ahead, the probability there is the one that defines it; where it is now, it is reached now."""
    life = life_of(case)
    for name, expected in ends(case).items():
        if life[name] > 0:
            assert probability(case, life[name]) == pytest.approx(expected, abs=tolerance(expected))
        elif life[name] == 0 and case.status != LifeStatus.ALREADY_BELOW:
            assert probability(case, 0.0) >= expected - tolerance(expected)


@pytest.mark.parametrize("case", NAMED)
def test_ends_are_the_first_crossings(case):
    """From now until an end the probability stays below the one that defines it, and it is smaller just before."""
    life = life_of(case)
    for name, expected in ends(case).items():
        if not life[name] > 0:
            continue
        before = np.linspace(0.0, 0.98, 15) * life[name]
        shares = [probability(case, years) for years in before]
        assert max(shares) < expected + tolerance(expected)
        assert shares[-1] < probability(case, life[name])


@pytest.mark.parametrize("case", [case for case in NAMED if not all(case.values[0].finite)])
def test_an_end_that_does_not_exist_is_never_reached(case):
    """Where there is no finite end, the probability stays below the one that would define it, however long one waits."""
    life = life_of(case)
    ages = np.concatenate([[0.0], case.t * np.geomspace(1e-3, 1e9, 24)])
    highest = max(probability(case, years) for years in ages)
    for name, expected in ends(case).items():
        # A plate that loses nothing on the whole tends to one half, and never reaches it.
        if np.isnan(life[name]) and name != "years":
            assert highest < expected
        elif np.isnan(life[name]):
            assert highest < expected + tolerance(expected)


def test_probability_falls_first():
    """The grid holds a case in which the probability falls with time before it rises to the end of the band."""
    case = CASES["probability first falls"]
    life = life_of(case)
    lowest = min(probability(case, years) for years in np.linspace(0.0, life["years_low"], 30))
    assert lowest < probability(case, 0.0) - tolerance(0.25) < ends(case)["years_low"]


@pytest.mark.parametrize("name", ["already below", "already far below"])
def test_already_below_is_zero(name):
    """Below the limit already, by values rounded as declared: all three lives are 0 whatever the band says."""
    life = life_of(CASES[name])
    assert (life["years"], life["years_low"], life["years_high"]) == (0.0, 0.0, 0.0)


def test_coverage_of_the_model():
    """With every draw taken as a reading of its own, the band's ends hold the truth as often as the confidence says.

    Plate of 10(0.3) mm of which 6.0(0.2) mm is left after 20 years: the true life is that of the true thicknesses. Each
    end is an exact probability of the model given the readings, so over readings scattered about the truth it is exceeded
    with that probability: Fieller's argument. Tolerance as above, for 100,000 readings.
    """
    count, u_o, u_r = 100_000, 0.3, 0.2
    truth = (10.0 - 4.0) / (10.0 - 6.0) * 20.0 - 20.0
    life = remaining_life(
        original_mm=10.0 + u_o * NORMALS[0, :count],
        residual_mm=6.0 + u_r * NORMALS[1, :count],
        years_in_service=20.0,
        threshold_mm=4.0,
        original_standard_uncertainty_mm=u_o,
        residual_standard_uncertainty_mm=u_r,
        confidence=0.8,
    )
    allowed = STANDARD_ERRORS * np.sqrt(0.1 * 0.9 / count)
    assert np.mean(life.years_low > truth) == pytest.approx(0.1, abs=allowed)
    assert np.mean(life.years_high < truth) == pytest.approx(0.1, abs=allowed)


def test_normals_are_normal():
    """The oracle's draws are standard normals, unrelated to each other (Kolmogorov's test, and the correlation's error)."""
    assert all(stats.kstest(row[:50_000], "norm").pvalue > 0.001 for row in NORMALS)
    assert abs(np.corrcoef(NORMALS)[0, 1]) < STANDARD_ERRORS / np.sqrt(DRAWS)
