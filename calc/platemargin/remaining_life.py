"""When a plate passes a limit, with the band that measurement and mill tolerance leave open."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr, ndtri

from platemargin.corrosion_rate import (
    FAULTS,
    PREVIOUS_FINDINGS,
    PROTECTED_YEARS,
    RESIDUAL_STANDARD_UNCERTAINTY_MM,
    CorrosionRate,
    Governing,
    corrosion_rate,
)
from platemargin.declared import Arguments, Assumption, Finding, Step, columns, refuse
from platemargin.mill_tolerance import THINNEST_MM, class_a_limits, standard_uncertainty_mm
from platemargin.quantities import Array, Floats, as_array, at_least, below, chosen, rounded, text
from platemargin.residual_thickness import over_mill_tolerance

__all__ = [
    "ASSUMED",
    "FAULTS",
    "FINDINGS",
    "LONGEST_TOLD_YEARS",
    "WORKING",
    "LifeStatus",
    "RemainingLife",
    "life_at_rate",
    "may_be_below",
    "probability_below",
    "remaining_life",
]

#: Attack goes on at an even pace.
EXPONENT = 1.0
#: The future is as the past.
RATE_FACTOR = 1.0
#: Two-sided confidence of the band.
CONFIDENCE = 0.9
#: The date at which the forecast is told [year from the survey].
YEARS_AHEAD = 10.0
#: Reference: survey-interval.
INTERVAL_CAP_YEARS = 5.0
#: Beyond this [year] the model says nothing, and no life is told: steel boats have no such history.
_HORIZON_YEARS = 1e6
#: A longer life [year] than a steel boat has is told by its lower end alone (common practice).
LONGEST_TOLD_YEARS = 100
_DAYS_PER_YEAR = 365.25
#: The last day that ISO 8601 writes with four digits.
_LAST_DAY = np.datetime64("9999-12-31", "D")
#: No day is given.
UNKNOWN_DAY = np.datetime64("NaT", "D")


class LifeStatus(IntEnum):
    """Where the plate stands towards the limit; the greater outranks."""

    ABOVE = 0
    NO_MEASURABLE_LOSS = 1
    ALREADY_BELOW = 2


@dataclass(frozen=True, kw_only=True)
class RemainingLife:
    """Life to the limit and the forecast; arrays of the arguments' common shape."""

    years: Floats
    years_low: Floats
    years_high: Floats
    status: Array
    reached_on: Array
    forecast_mm: Floats
    forecast_low_mm: Floats
    forecast_high_mm: Floats
    probability_below: Floats
    probability_below_now: Floats
    next_survey_within_years: Floats
    governing: Array
    short_term_mm_per_year: Floats
    short_term_standard_uncertainty_mm_per_year: Floats
    short_term_significant: Floats
    base_mm: Floats
    base_years: Floats
    base_standard_uncertainty_mm: Floats
    coverage_factor: Floats
    growth_low: Floats
    growth_high: Floats


def probability_below(thickness_mm: npt.ArrayLike, limit_mm: npt.ArrayLike, uncertainty_mm: npt.ArrayLike) -> Floats:
    """Return the probability that a thickness read with a standard uncertainty is below a limit."""
    return as_array(ndtr((as_array(limit_mm) - as_array(thickness_mm)) / as_array(uncertainty_mm)))


def may_be_below(probability: npt.ArrayLike, confidence: npt.ArrayLike) -> npt.NDArray[np.bool_]:
    """Tell whether a probability of being below reaches what the confidence leaves to the lower end of its band."""
    return at_least(probability, (1 - as_array(confidence)) / 2, "probability")


FINDINGS = (
    Finding(
        code="below_limit",
        severity="act",
        statement="{residual_mm} mm is left, below the limit of {threshold_mm} mm.",
        field="residual_mm",
        values=("residual_mm", "threshold_mm"),
        applies=lambda _, r: r.status == LifeStatus.ALREADY_BELOW,
    ),
    Finding(
        code="may_be_below_already",
        severity="watch",
        statement="{residual_mm} mm is not below the limit of {threshold_mm} mm, but the gauges' uncertainty leaves a "
        "probability of {probability_below_now} that the plate is.",
        field="residual_mm",
        values=("residual_mm", "threshold_mm", "probability_below_now"),
        applies=lambda a, r: (r.status != LifeStatus.ALREADY_BELOW) & may_be_below(r.probability_below_now, a["confidence"]),
    ),
    Finding(
        code="no_measurable_loss",
        severity="note",
        statement="No loss is measured: the life to {threshold_mm} mm has no finite value.",
        values=("threshold_mm",),
        applies=lambda _, r: r.status == LifeStatus.NO_MEASURABLE_LOSS,
    ),
    Finding(
        code="residual_over_mill_tolerance",
        severity="watch",
        statement="{residual_mm} mm is left where a mill delivers {original_mm} mm (EN 10029 class A): one of the two is "
        "probably wrong.",
        field="residual_mm",
        values=("residual_mm", "original_mm"),
        applies=lambda a, _: over_mill_tolerance(a["original_mm"], a["residual_mm"]),
    ),
    Finding(
        code="limit_not_reached",
        severity="note",
        statement="With the rate factor of {rate_factor} and the exponent of {exponent} the limit of {threshold_mm} mm is "
        "never reached, or not within any time that can be told.",
        values=("rate_factor", "exponent", "threshold_mm"),
        applies=lambda _, r: (r.status == LifeStatus.ABOVE) & np.isnan(r.years),
    ),
    Finding(
        code="slowing_restarts",
        severity="watch",
        statement="The rate since the previous reading governs and is taken to slow from that day on (exponent {exponent}): "
        "the life is longer than the plate's whole history supports.",
        field="exponent",
        values=("exponent",),
        applies=lambda a, r: (r.governing == Governing.SHORT_TERM) & (rounded(a["exponent"], "1") < 1),
    ),
    Finding(
        code="no_upper_bound",
        severity="note",
        statement="The life of {years} years has no upper bound at the confidence asked: the loss is not clearly above its "
        "uncertainty, or the assumed future is too mild.",
        values=("years",),
        applies=lambda _, r: ~np.isnan(r.years) & np.isnan(r.years_high),
    ),
    Finding(
        code="limit_not_meaningful",
        severity="watch",
        statement="The limit of {threshold_mm} mm is not below the {original_mm} mm that the plate started with: it says "
        "nothing of wear.",
        field="threshold_mm",
        values=("threshold_mm", "original_mm"),
        applies=lambda a, _: at_least(a["threshold_mm"], a["original_mm"], "mm"),
    ),
    Finding(
        code="slowing_attack_assumed",
        severity="watch",
        statement="An exponent of {exponent} says that attack slows with time: the life is longer than at an even pace and "
        "needs its own evidence.",
        field="exponent",
        values=("exponent",),
        applies=lambda a, _: rounded(a["exponent"], "1") < 1,
    ),
    Finding(
        code="slower_future_assumed",
        severity="watch",
        statement="A rate factor of {rate_factor} says that the future is milder than the past: the life rests on that.",
        field="rate_factor",
        values=("rate_factor",),
        applies=lambda a, _: rounded(a["rate_factor"], "1") < 1,
    ),
    Finding(
        code="tolerance_extrapolated",
        severity="note",
        statement="EN 10029 begins at 3 mm: for {original_mm} mm the tolerance of 3 to 5 mm is taken.",
        field="original_mm",
        values=("original_mm",),
        applies=lambda a, _: below(a["original_mm"], THINNEST_MM, "mm") & np.isnan(a["original_standard_uncertainty_mm"]),
    ),
    *PREVIOUS_FINDINGS,
)


def _tolerance_basis(arguments: Arguments, _result: object) -> str:
    return _tolerance_words(arguments["original_mm"].item())


# Boats are built of a few nominal thicknesses.
@lru_cache(maxsize=64)
def _tolerance_words(original_mm: float) -> str:
    lower, upper = class_a_limits(original_mm)
    return (
        f"a new plate is within {text(lower.item())} to +{text(upper.item())} mm of its nominal (EN 10029:2010 class A), "
        "evenly spread"
    )


ASSUMED = (
    Assumption(
        field="original_standard_uncertainty_mm",
        value=lambda a, _: standard_uncertainty_mm(a["original_mm"]),
        unit="mm",
        basis=_tolerance_basis,
        when=lambda a, _: np.isnan(a["original_standard_uncertainty_mm"]),
    ),
)

_GROWTH_AT_YEARS_AHEAD = "1 + {rate_factor} * ((({base_years} + {years_ahead}) / {base_years})^{exponent} - 1)"
_LINEAR_PART = "({base_mm} - {residual_mm})"
_A = (
    f"({_LINEAR_PART}^2 - {{coverage_factor}}^2 * "
    "({base_standard_uncertainty_mm}^2 + {residual_standard_uncertainty_mm}^2))"
)
_B = f"(({{threshold_mm}} - {{base_mm}}) * {_LINEAR_PART} + {{coverage_factor}}^2 * {{base_standard_uncertainty_mm}}^2)"
_C = "(({threshold_mm} - {base_mm})^2 - {coverage_factor}^2 * {base_standard_uncertainty_mm}^2)"
_FIELLER = (
    "(-B -+ sqrt(B^2 - A C)) / A; A = (o - r)^2 - z^2 (u_o^2 + u_r^2), B = (h - o)(o - r) + z^2 u_o^2, "
    "C = (h - o)^2 - z^2 u_o^2; o base_mm, r residual_mm, h threshold_mm, u_o base_standard_uncertainty_mm, "
    "u_r residual_standard_uncertainty_mm, z coverage_factor"
)
_TIME = "base_years * ((1 + (growth - 1) / rate_factor)^(1 / exponent) - 1)"


def _time(growth: str) -> str:
    return f"{{base_years}} * ((1 + ({growth} - 1) / {{rate_factor}})^(1 / {{exponent}}) - 1)"


WORKING = (
    Step(
        symbol="years",
        formula="(residual_mm - threshold_mm) / ((base_mm - residual_mm) / base_years * rate_factor)",
        substituted="({residual_mm} - {threshold_mm}) / (({base_mm} - {residual_mm}) / {base_years} * {rate_factor})",
        value="years",
        unit="year",
        reference="api-570-rate",
        when=lambda v: v["status"] == "above" and v["exponent"] == 1,
    ),
    Step(
        symbol="years",
        formula=_TIME.replace("growth", "(base_mm - threshold_mm) / (base_mm - residual_mm)"),
        substituted=_time("({base_mm} - {threshold_mm}) / ({base_mm} - {residual_mm})"),
        value="years",
        unit="year",
        reference="iso-9224",
        when=lambda v: v["status"] == "above" and v["exponent"] != 1,
    ),
    *(
        step
        for end, sign in (("low", "-"), ("high", "+"))
        for step in (
            Step(
                symbol=f"growth_{end}",
                formula=_FIELLER.replace("-+", sign),
                substituted=f"(-{_B} {sign} sqrt({_B}^2 - {_A} * {_C})) / {_A}",
                value=f"growth_{end}",
                unit="1",
                reference="fieller-1954",
                when=lambda v, end=end: v["status"] == "above" and v[f"growth_{end}"] > 1,  # type: ignore[misc]
            ),
            Step(
                symbol=f"years_{end}",
                formula=_TIME.replace("growth", f"growth_{end}"),
                substituted=_time(f"{{growth_{end}}}"),
                value=f"years_{end}",
                unit="year",
                reference="fieller-1954",
                when=lambda v, end=end: v["status"] == "above" and v[f"growth_{end}"] > 1,  # type: ignore[misc]
            ),
        )
    ),
    Step(
        symbol="years_low",
        formula="0 where residual_mm - coverage_factor residual_standard_uncertainty_mm <= threshold_mm: already possible",
        substituted="max({residual_mm} - {coverage_factor} * {residual_standard_uncertainty_mm} - {threshold_mm}, 0)",
        value="years_low",
        unit="year",
        reference="fieller-1954",
        when=lambda v: v["status"] == "above" and v["growth_low"] == 1,
    ),
    Step(
        symbol="forecast_mm",
        formula="max(base_mm + (1 + rate_factor (((base_years + years_ahead) / base_years)^exponent - 1)) "
        "(residual_mm - base_mm), 0)",
        substituted=f"max({{base_mm}} + ({_GROWTH_AT_YEARS_AHEAD}) * ({{residual_mm}} - {{base_mm}}), 0)",
        value="forecast_mm",
        unit="mm",
        reference="iso-9224",
    ),
    Step(
        symbol="probability_below",
        formula="Phi((threshold_mm - R) / sqrt((1 - g)^2 base_standard_uncertainty_mm^2 + g^2 "
        "residual_standard_uncertainty_mm^2)), g and R = base_mm + g (residual_mm - base_mm) at years_ahead",
        substituted=f"Phi(({{threshold_mm}} - ({{base_mm}} + ({_GROWTH_AT_YEARS_AHEAD}) * ({{residual_mm}} - {{base_mm}}))) / "
        f"sqrt((1 - ({_GROWTH_AT_YEARS_AHEAD}))^2 * {{base_standard_uncertainty_mm}}^2 + ({_GROWTH_AT_YEARS_AHEAD})^2 * "
        "{residual_standard_uncertainty_mm}^2))",
        value="probability_below",
        unit="probability",
        reference="gum",
    ),
    Step(
        symbol="next_survey_within_years",
        formula="min(interval_cap_years, years_low / 2)",
        substituted="min({interval_cap_years}, {years_low} / 2)",
        value="next_survey_within_years",
        unit="year",
        reference="api-570-interval",
    ),
    Step(
        symbol="probability_below_now",
        formula="Phi((threshold_mm - residual_mm) / residual_standard_uncertainty_mm)",
        substituted="Phi(({threshold_mm} - {residual_mm}) / {residual_standard_uncertainty_mm})",
        value="probability_below_now",
        unit="probability",
        reference="gum",
    ),
)


def remaining_life(
    *,
    original_mm: npt.ArrayLike,
    residual_mm: npt.ArrayLike,
    years_in_service: npt.ArrayLike,
    threshold_mm: npt.ArrayLike,
    protected_years: npt.ArrayLike = PROTECTED_YEARS,
    previous_mm: npt.ArrayLike = np.nan,
    years_since_previous: npt.ArrayLike = np.nan,
    exponent: npt.ArrayLike = EXPONENT,
    rate_factor: npt.ArrayLike = RATE_FACTOR,
    residual_standard_uncertainty_mm: npt.ArrayLike = RESIDUAL_STANDARD_UNCERTAINTY_MM,
    previous_standard_uncertainty_mm: npt.ArrayLike = RESIDUAL_STANDARD_UNCERTAINTY_MM,
    original_standard_uncertainty_mm: npt.ArrayLike = np.nan,
    confidence: npt.ArrayLike = CONFIDENCE,
    years_ahead: npt.ArrayLike = YEARS_AHEAD,
    surveyed_on: npt.ArrayLike = UNKNOWN_DAY,
    interval_cap_years: npt.ArrayLike = INTERVAL_CAP_YEARS,
) -> RemainingLife:
    """Follow the loss into the future until the limit, with its band in closed form.

    With o the thickness and t the time that the governing rate is counted from, r the residual, n the exponent and f the
    rate factor: growth g(x) = 1 + f (((t + x) / t)^n - 1); thickness R(x) = o + g (r - o);
    var R = (1 - g)^2 u_o^2 + g^2 u_r^2. `years` solves R = threshold. `years_low` and `years_high` are the first x at which
    P(R <= threshold) reaches (1 - c) / 2 and (1 + c) / 2: a quadratic in g.

    Parameters
    ----------
    original_mm, residual_mm, years_in_service, protected_years, previous_mm, years_since_previous : scalar or array
        As for `corrosion_rate`. Where the short-term rate governs, o, t and u_o are those of the previous reading.
    threshold_mm : scalar or array
        The limit [mm], 0 to 40.
    exponent : scalar or array, optional
        n [1], 0.2 to 2; 1 is an even pace, below 1 attack slows.
    rate_factor : scalar or array, optional
        f [1], 0 to 10: the future rate over the past.
    residual_standard_uncertainty_mm, previous_standard_uncertainty_mm : scalar or array, optional
        u_r and, where the short-term rate governs, u_o [mm].
    original_standard_uncertainty_mm : scalar or array, optional
        u_o [mm]; NaN = that of a new plate by EN 10029:2010 class A.
    confidence : scalar or array, optional
        c [1], two-sided, 0.5 to 0.999.
    years_ahead : scalar or array, optional
        When the forecast is told [year], 0 to 200.
    surveyed_on : scalar or array of datetime64[D], optional
        Day of the reading.
    interval_cap_years : scalar or array, optional
        Longest time to the next survey [year].

    Returns
    -------
    RemainingLife
        NaN (NaT) where there is no finite value; lives are 0 where the plate is below the limit already.

    Raises
    ------
    NotApplicableError
        As `corrosion_rate`.

    Notes
    -----
    The band covers measurement and mill tolerance only: not a change of rate, nor places unread. Each end of the band is an
    exact probability of the model, not an approximation; where the loss is not clearly positive the upper end does not
    exist and NaN says so.

    Examples
    --------
    >>> life = remaining_life(original_mm=10.0, residual_mm=6.2, years_in_service=16.0, threshold_mm=4.0)
    >>> round(float(life.years), 2)
    9.26

    References
    ----------
    api-570-rate, api-570-interval, iso-9224, fieller-1954, en-10029-class-a, gum, survey-interval
    """
    given = columns(locals())
    refuse(FAULTS, given)
    return life_at_rate(corrosion_rate(**{name: given[name] for name in _RATE_ARGUMENTS}), given)


def life_at_rate(rate: CorrosionRate, given: Mapping[str, Array]) -> RemainingLife:
    """Return the life of a plate whose rate is known, from the arguments of `remaining_life` as columns."""
    r, limit, u_r = given["residual_mm"], given["threshold_mm"], given["residual_standard_uncertainty_mm"]
    by_short_term = rate.governing == Governing.SHORT_TERM
    o = np.where(by_short_term, given["previous_mm"], given["original_mm"])
    t = np.where(by_short_term, given["years_since_previous"], given["years_in_service"] - given["protected_years"])
    u_new = given["original_standard_uncertainty_mm"]
    # What is derived here is rounded as declared before use, so that the working shows the very figures that were used.
    u_new = np.where(np.isnan(u_new), rounded(standard_uncertainty_mm(given["original_mm"]), "mm"), u_new)
    u_o = np.where(by_short_term, given["previous_standard_uncertainty_mm"], u_new)

    ahead = 1 + given["rate_factor"] * (((t + given["years_ahead"]) / t) ** given["exponent"] - 1)
    forecast = o + ahead * (r - o)
    deviation = np.hypot((1 - ahead) * u_o, ahead * u_r)
    z = rounded(ndtri((1 + given["confidence"]) / 2), "1")

    gone = below(r, limit, "mm")
    loss = rounded(o - r, "mm")
    status = chosen(
        (gone, LifeStatus.ALREADY_BELOW),
        (loss <= 0, LifeStatus.NO_MEASURABLE_LOSS),
        otherwise=LifeStatus.ABOVE,
    )
    lost = np.where(loss > 0, o - r, np.nan)
    growth = np.maximum((o - limit) / lost, 1.0)
    low, high = _first_growths(o - r, limit - o, u_o, u_r, z)
    growth, low, high = (np.where(gone, 1.0, reached) for reached in (growth, low, high))
    years, years_low, years_high = (
        _years(reached, t, given["rate_factor"], given["exponent"]) for reached in (growth, low, high)
    )
    half_of_low = np.where(np.isnan(years_low), np.inf, years_low / 2)
    return RemainingLife(
        years=years,
        years_low=years_low,
        years_high=years_high,
        status=status,
        reached_on=_day_after(given["surveyed_on"], years),
        forecast_mm=np.maximum(forecast, 0.0),
        forecast_low_mm=np.maximum(forecast - z * deviation, 0.0),
        forecast_high_mm=np.maximum(forecast + z * deviation, 0.0),
        probability_below=ndtr((limit - forecast) / deviation),
        probability_below_now=probability_below(r, limit, u_r),
        next_survey_within_years=np.minimum(given["interval_cap_years"], half_of_low),
        governing=rate.governing,
        short_term_mm_per_year=rate.short_term_mm_per_year,
        short_term_standard_uncertainty_mm_per_year=rate.short_term_standard_uncertainty_mm_per_year,
        short_term_significant=rate.short_term_significant,
        base_mm=o,
        base_years=t,
        base_standard_uncertainty_mm=u_o,
        coverage_factor=z,
        growth_low=np.where(np.isnan(years_low), np.nan, low),
        growth_high=np.where(np.isnan(years_high), np.nan, high),
    )


_RATE_ARGUMENTS = (
    "original_mm",
    "residual_mm",
    "years_in_service",
    "protected_years",
    "previous_mm",
    "years_since_previous",
    "residual_standard_uncertainty_mm",
    "previous_standard_uncertainty_mm",
)


def _first_growths(lost: Floats, short: Floats, u_o: Floats, u_r: Floats, z: Floats) -> list[Floats]:
    """Return the first g >= 1 at which (limit - R(g)) / s(g) reaches -z, and that at which it reaches z; NaN where never.

    With N(g) = short + g lost and s^2 = (1 - g)^2 u_o^2 + g^2 u_r^2, N = z s is a root of
    A g^2 + 2 B g + C = 0. A root is of N = z s, not of N = -z s, where N has the sign of z; the first one counts, because
    the probability may fall before it rises (where the limit is at or above what the plate started with).
    """
    a = lost**2 - z**2 * (u_o**2 + u_r**2)
    b = short * lost + z**2 * u_o**2
    c = short**2 - z**2 * u_o**2
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        # The larger root in magnitude first, the other from the product: neither loses digits, and a = 0 needs no branch.
        q = -(b + np.copysign(np.sqrt(b**2 - a * c), b))
        roots = [(g, g >= 1, short + g * lost) for g in (q / a, c / q)]
        before, after = (
            np.minimum(*(np.where(later & (ahead * end >= 0), g, np.inf) for g, later, ahead in roots)) for end in (-z, z)
        )
    now = short + lost
    return [
        np.where(now >= end * u_r, 1.0, np.where(first < np.inf, first, np.nan)) for first, end in ((before, -z), (after, z))
    ]


def _years(growth: Floats, t: Floats, rate_factor: Floats, exponent: Floats) -> Floats:
    """Return the x at which g(x) is `growth`; NaN where it is never reached or lies beyond every horizon."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        ratio = np.where(growth > 1, (growth - 1) / rate_factor, growth - 1)
        years = t * ((1 + ratio) ** (1 / exponent) - 1)
    return np.where(years <= _HORIZON_YEARS, years, np.nan)


def _day_after(day: Array, years: Floats) -> Array:
    """Return the day `years` after `day`; NaT where either is unknown or the year has five digits."""
    to_the_last = (_LAST_DAY - day).astype("timedelta64[D]").astype(np.float64)
    days = np.floor(years * _DAYS_PER_YEAR)
    within = ~np.isnat(day) & (days <= to_the_last)
    step = np.where(within, days, 0).astype(np.int64).astype("timedelta64[D]")
    return np.where(within, day + step, UNKNOWN_DAY)
