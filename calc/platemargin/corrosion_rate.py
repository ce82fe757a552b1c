"""How fast the steel goes: over its whole life, since the last survey, and against a published benchmark."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from platemargin.declared import Fault, Finding, Step, columns, refuse
from platemargin.quantities import Array, Floats, below, chosen, looked_up, rounded

__all__ = ["FAULTS", "FINDINGS", "WORKING", "CorrosionRate", "Environment", "Governing", "corrosion_rate"]

#: Standard uncertainty [mm] of a residual thickness: pit gauge and plate gauge together. Reference: gauge-uncertainty.
RESIDUAL_STANDARD_UNCERTAINTY_MM = 0.25
#: The service life [year] that kept no coating: none, unless the caller knows better.
PROTECTED_YEARS = 0.0
#: Faces of the plate that are attacked.
FACES = 1
#: A rate differs from none when it exceeds this many standard uncertainties (two-sided, 95 %). Reference: gum, Table G.1.
SIGNIFICANT = 1.96
#: What an enumeration holds where the caller named none.
ABSENT = -1


class Environment(IntEnum):
    """The waters of EN 1993-5 Table 4-2, in the order of `_BENCHMARK_MM`."""

    FRESH_WATER = 0
    POLLUTED_FRESH_WATER = 1
    SEA_SPLASH = 2
    SEA_IMMERSED = 3


class Governing(IntEnum):
    """Which rate is the larger."""

    LONG_TERM = 0
    SHORT_TERM = 1


#: Loss of thickness per face [mm] at the ages of the table [year]. References: en-1993-5-fresh (rows 1 and 2),
#: en-1993-5-sea (rows 3, low water and splash zone, and 4, permanent immersion).
_BENCHMARK_YEARS = np.array([0.0, 5.0, 25.0, 50.0, 75.0, 100.0])
_BENCHMARK_MM = np.array(
    [
        [0.0, 0.15, 0.55, 0.90, 1.15, 1.40],
        [0.0, 0.30, 1.30, 2.30, 3.30, 4.30],
        [0.0, 0.55, 1.90, 3.75, 5.60, 7.50],
        [0.0, 0.25, 0.90, 1.75, 2.60, 3.50],
    ]
)


@dataclass(frozen=True, kw_only=True)
class CorrosionRate:
    """Rates and their benchmark; arrays of the arguments' common shape."""

    long_term_mm_per_year: Floats
    short_term_mm_per_year: Floats
    short_term_standard_uncertainty_mm_per_year: Floats
    short_term_significant: Floats
    governing_mm_per_year: Floats
    governing: Array
    benchmark_loss_mm: Floats
    benchmark_ratio: Floats


FAULTS = (
    Fault(
        field="protected_years",
        code="protected_longer_than_service",
        message="{protected_years} years of protection leave none of the {years_in_service} years in service in which the "
        "steel could corrode; give the years in which a coating kept the steel, less than years_in_service",
        broken=lambda a: rounded(a["years_in_service"] - a["protected_years"], "year") <= 0,
    ),
    Fault(
        field="years_since_previous",
        code="previous_incomplete",
        message="previous_mm is given without years_since_previous: give both or neither",
        broken=lambda a: ~np.isnan(a["previous_mm"]) & np.isnan(a["years_since_previous"]),
    ),
    Fault(
        field="previous_mm",
        code="previous_incomplete",
        message="years_since_previous is given without previous_mm: give both or neither",
        broken=lambda a: np.isnan(a["previous_mm"]) & ~np.isnan(a["years_since_previous"]),
    ),
    Fault(
        field="years_since_previous",
        code="previous_before_service",
        message="the previous reading, {years_since_previous} years ago, is older than the plate's {years_in_service} "
        "years in service",
        broken=lambda a: below(a["years_in_service"], a["years_since_previous"], "year"),
    ),
)

#: What holds of a pair of readings, for every calculation that uses the rate.
PREVIOUS_FINDINGS = (
    Finding(
        code="reading_grew",
        severity="watch",
        statement="The plate reads {residual_mm} mm where {previous_mm} mm was read before: more than the gauges' "
        "uncertainty explains. One of the two readings, or its place, is wrong.",
        field="previous_mm",
        values=("residual_mm", "previous_mm"),
        applies=lambda _, r: (r.short_term_mm_per_year < 0) & (r.short_term_significant == 1),
    ),
    Finding(
        code="short_term_not_significant",
        severity="watch",
        statement="The rate since the previous reading, {short_term_mm_per_year} mm/year, governs but is within the "
        "uncertainty of two readings ({short_term_standard_uncertainty_mm_per_year} mm/year, standard): it may be "
        "chance.",
        field="previous_mm",
        values=("short_term_mm_per_year", "short_term_standard_uncertainty_mm_per_year"),
        applies=lambda _, r: (r.governing == Governing.SHORT_TERM) & (r.short_term_significant == 0),
    ),
)
BENCHMARK_FINDINGS = (
    Finding(
        code="benchmark_out_of_range",
        severity="note",
        statement="The benchmark's table ends at 100 unprotected years: none is given for {years_in_service} years in "
        "service, {protected_years} of them protected.",
        field="environment",
        values=("years_in_service", "protected_years"),
        applies=lambda a, r: (a["environment"] != ABSENT) & np.isnan(r.benchmark_loss_mm),
    ),
    Finding(
        code="loss_over_benchmark",
        severity="watch",
        statement="The general loss is {benchmark_ratio} times the {benchmark_loss_mm} mm that EN 1993-5 expects in this "
        "water: beyond what mill tolerance explains, look for a cause other than ordinary corrosion.",
        field="environment",
        values=("benchmark_ratio", "benchmark_loss_mm"),
        applies=lambda _, r: rounded(r.benchmark_ratio, "ratio") > 1,
    ),
)
FINDINGS = (
    *PREVIOUS_FINDINGS,
    *BENCHMARK_FINDINGS,
    Finding(
        code="no_measurable_loss",
        severity="note",
        statement="No loss is measured ({governing_mm_per_year} mm/year).",
        values=("governing_mm_per_year",),
        applies=lambda _, r: rounded(r.governing_mm_per_year, "mm/year") <= 0,
    ),
)

WORKING = (
    Step(
        symbol="long_term_mm_per_year",
        formula="(original_mm - residual_mm) / (years_in_service - protected_years)",
        substituted="({original_mm} - {residual_mm}) / ({years_in_service} - {protected_years})",
        value="long_term_mm_per_year",
        unit="mm/year",
        reference="api-570-rate",
    ),
    Step(
        symbol="short_term_mm_per_year",
        formula="(previous_mm - residual_mm) / years_since_previous",
        substituted="({previous_mm} - {residual_mm}) / {years_since_previous}",
        value="short_term_mm_per_year",
        unit="mm/year",
        reference="api-570-rate",
    ),
    Step(
        symbol="u(short_term_mm_per_year)",
        formula="sqrt(residual_standard_uncertainty_mm^2 + previous_standard_uncertainty_mm^2) / years_since_previous",
        substituted="sqrt({residual_standard_uncertainty_mm}^2 + {previous_standard_uncertainty_mm}^2) "
        "/ {years_since_previous}",
        value="short_term_standard_uncertainty_mm_per_year",
        unit="mm/year",
        reference="gum",
    ),
    Step(
        symbol="governing_mm_per_year",
        formula="max(long_term_mm_per_year, short_term_mm_per_year)",
        substituted="max({long_term_mm_per_year}, {short_term_mm_per_year})",
        value="governing_mm_per_year",
        unit="mm/year",
        reference="api-570-rate",
    ),
    Step(
        symbol="benchmark_ratio",
        formula="general_loss_mm / benchmark_loss_mm",
        substituted="{general_loss_mm} / {benchmark_loss_mm}",
        value="benchmark_ratio",
        unit="ratio",
        reference="en-1993-5-fresh",
        when=lambda v: "fresh" in v["environment"],
    ),
    Step(
        symbol="benchmark_ratio",
        formula="general_loss_mm / benchmark_loss_mm",
        substituted="{general_loss_mm} / {benchmark_loss_mm}",
        value="benchmark_ratio",
        unit="ratio",
        reference="en-1993-5-sea",
        when=lambda v: "sea" in v["environment"],
    ),
)


def corrosion_rate(
    *,
    original_mm: npt.ArrayLike,
    residual_mm: npt.ArrayLike,
    years_in_service: npt.ArrayLike,
    protected_years: npt.ArrayLike = PROTECTED_YEARS,
    previous_mm: npt.ArrayLike = np.nan,
    years_since_previous: npt.ArrayLike = np.nan,
    general_loss_mm: npt.ArrayLike = np.nan,
    faces: npt.ArrayLike = FACES,
    environment: npt.ArrayLike = ABSENT,
    residual_standard_uncertainty_mm: npt.ArrayLike = RESIDUAL_STANDARD_UNCERTAINTY_MM,
    previous_standard_uncertainty_mm: npt.ArrayLike = RESIDUAL_STANDARD_UNCERTAINTY_MM,
) -> CorrosionRate:
    """Divide what is gone by the time it took; the larger of the long-term and the short-term rate governs.

    long term = (original - residual) / (years in service - protected years);
    short term = (previous - residual) / years since previous;
    benchmark loss = faces x EN 1993-5 Table 4-2, linear between its ages.

    Parameters
    ----------
    original_mm : scalar or array
        What the plate started with [mm], 0.5 to 40.
    residual_mm : scalar or array
        What is left [mm], 0 to 200.
    years_in_service : scalar or array
        [year], 0.1 to 200.
    protected_years : scalar or array, optional
        Years in which a coating kept the steel [year], less than `years_in_service`.
    previous_mm, years_since_previous : scalar or array, optional
        Residual thickness at the previous survey [mm] and its age [year]; both or neither.
    general_loss_mm : scalar or array, optional
        Loss beside the pits [mm]; compared with the benchmark, which is a uniform loss and never a pit's.
    faces : scalar or array, optional
        Attacked faces of the plate, 1 or 2.
    environment : scalar or array, optional
        An `Environment`; -1 = none.
    residual_standard_uncertainty_mm, previous_standard_uncertainty_mm : scalar or array, optional
        Of each reading [mm].

    Returns
    -------
    CorrosionRate
        NaN where a rate or benchmark does not apply; `short_term_significant` is 1, 0 or NaN.

    Raises
    ------
    NotApplicableError
        Protection that outlasts the service, half a previous reading, or one from before the service.

    Notes
    -----
    Valid where attack was steady in the time named. The benchmark is the loss at the water line of quiet fresh or temperate
    sea water over the unprotected years, up to 100; past that it is NaN.

    Examples
    --------
    >>> rate = corrosion_rate(original_mm=7.8, residual_mm=3.24, years_in_service=15.0)  # worksheet in API 570 form
    >>> round(float(rate.governing_mm_per_year), 3)
    0.304

    References
    ----------
    api-570-rate, en-1993-5-fresh, en-1993-5-sea, gauge-uncertainty, gum
    """
    given = columns(locals())
    refuse(FAULTS, given)
    residual, previous, since = given["residual_mm"], given["previous_mm"], given["years_since_previous"]
    exposed = given["years_in_service"] - given["protected_years"]
    long_term = (given["original_mm"] - residual) / exposed
    short_term = (previous - residual) / since
    uncertainty = np.hypot(given["residual_standard_uncertainty_mm"], given["previous_standard_uncertainty_mm"]) / since
    by_short_term = rounded(short_term, "mm/year") > rounded(long_term, "mm/year")
    significant = rounded(np.abs(short_term), "mm/year") > rounded(SIGNIFICANT * uncertainty, "mm/year")
    benchmark = given["faces"] * _benchmark_mm(given["environment"], exposed)
    return CorrosionRate(
        long_term_mm_per_year=long_term,
        short_term_mm_per_year=short_term,
        short_term_standard_uncertainty_mm_per_year=uncertainty + 0 * short_term,
        short_term_significant=np.where(np.isnan(short_term), np.nan, significant),
        governing_mm_per_year=np.where(by_short_term, short_term, long_term),
        governing=chosen((by_short_term, Governing.SHORT_TERM), otherwise=Governing.LONG_TERM),
        benchmark_loss_mm=benchmark,
        benchmark_ratio=given["general_loss_mm"] / benchmark,
    )


def _benchmark_mm(environment: Array, years: Floats) -> Floats:
    """Return the loss of one face [mm] at an age, NaN past the table's last or where no environment is named."""
    piece = np.searchsorted(_BENCHMARK_YEARS[1:-1], years, side="left") + 1
    start, end = looked_up(_BENCHMARK_YEARS, piece - 1), looked_up(_BENCHMARK_YEARS, piece)
    # The table's rows stand one after the other; ABSENT is in the last, and left out below.
    end_of_piece = environment * len(_BENCHMARK_YEARS) + piece
    low, high = looked_up(_BENCHMARK_MM.ravel(), end_of_piece - 1), looked_up(_BENCHMARK_MM.ravel(), end_of_piece)
    loss = low + (high - low) * (years - start) / (end - start)
    inside = (environment != ABSENT) & ~below(_BENCHMARK_YEARS[-1], years, "year")
    return np.where(inside, loss, np.nan)
