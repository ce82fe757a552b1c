"""Two surveys of one hull: which readings are of one place, what each lost between them, and what that says of each zone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from typing import Any

import numpy as np

from platemargin.comparison_findings import FINDINGS
from platemargin.comparison_pairs import Pairs, ZoneChange, compared_of, pairs_of, residual_mm, zones_of
from platemargin.declared import Arguments, Assumption, Fault, Place, Step, refuse
from platemargin.matching import STATION_TOLERANCE_M, Matching, Reason, matched
from platemargin.mean_rates import CALIBRATION_STANDARD_UNCERTAINTY_MM, LEVEL, MeanRate, mean_rate
from platemargin.plate_margin import PIT_STANDARD_UNCERTAINTY_MM, PLATE_STANDARD_UNCERTAINTY_MM, residual_uncertainty_mm
from platemargin.plating import PLATING_FAULTS, Plating, plated
from platemargin.quantities import Array, Floats
from platemargin.readings import Reading, ReadingTable, reading_table
from platemargin.remaining_life import CONFIDENCE
from platemargin.two_surveys import (
    SurveyReadings,
    between_surveys_faults,
    fitted_faults,
    survey_assumed,
    survey_faults,
    within,
    years_apart,
)

__all__ = ["ASSUMED", "FAULTS", "FINDINGS", "WORKING", "Pace", "SurveyComparison", "survey_comparison"]


class Pace(IntEnum):
    """How the rate between the surveys, of all pairs together, stands to that over the life."""

    UNKNOWN = 0
    NO_DIFFERENCE_SHOWN = 1
    SLOWER = 2
    FASTER = 3


@dataclass(frozen=True, kw_only=True)
class Unmatched:
    """Readings of one survey that have no counterpart in the other, as columns in the order sent, and why."""

    id: Array
    index: Array
    zone: Array
    side: Array
    station_m: Floats
    reason: Array


@dataclass(frozen=True, kw_only=True)
class SurveyComparison:
    """The pairs, what they say zone by zone and together, and what could not be matched."""

    pace: Pace
    years_between: float
    earlier_count: int
    later_count: int
    matched_count: int
    matched_by_id_count: int
    significant_count: int
    significant_by_chance: float
    grew_count: int
    grew_beyond_chance_count: int
    holed_count: int
    calibration_standard_uncertainty_mm: float
    overall: MeanRate | None
    worst_pair_index: int | None
    pairs: Pairs
    zones: tuple[ZoneChange, ...]
    unmatched_earlier: Unmatched
    unmatched_later: Unmatched
    earlier: ReadingTable
    later: ReadingTable
    earlier_uncertainty_mm: Floats
    later_uncertainty_mm: Floats
    later_residual_mm: Floats
    matching: Matching


def _calibration_over_reading(arguments: Arguments) -> list[Place]:
    stated, least = arguments["calibration_standard_uncertainty_mm"], _least_uncertainty_mm(arguments)
    return [Place(values={"stated": stated, "least": least})] if stated is not None and stated >= least else []


def _of_later(fault: Fault) -> Fault:
    """Return a fault of a survey's plating as one of the later survey's."""
    if fault.field == "readings":
        return within(fault, "later")
    return replace(fault, broken=lambda arguments: fault.broken({**arguments, **arguments["later"]}))


FAULTS = (
    *survey_faults("earlier"),
    *fitted_faults("earlier"),
    *survey_faults("later"),
    *between_surveys_faults("earlier", "later"),
    *map(_of_later, PLATING_FAULTS),
    Fault(
        field="calibration_standard_uncertainty_mm",
        code="calibration_over_reading",
        message="a calibration's uncertainty of {stated} mm cannot be a part of a reading's, which is {least} mm at the least: "
        "it has to be less",
        broken=_calibration_over_reading,
    ),
)
ASSUMED = (
    *survey_assumed("earlier"),
    *survey_assumed("later"),
    Assumption(
        field="standard_uncertainty_mm",
        value=lambda _, __: {
            "plate_mm": PLATE_STANDARD_UNCERTAINTY_MM,
            "pit_depth_mm": PIT_STANDARD_UNCERTAINTY_MM,
        },
        unit="mm",
        basis="common practice for one reading on a hull; both together where a pit was measured",
        when=lambda a, _: a["standard_uncertainty_mm"] is None,
    ),
    Assumption(
        field="calibration_standard_uncertainty_mm",
        value=lambda _, r: r.calibration_standard_uncertainty_mm,
        unit="mm",
        basis="common practice for a gauge set on a step block: the part of a reading's uncertainty that is common to its "
        "survey, at most half of it",
        when=lambda a, _: a["calibration_standard_uncertainty_mm"] is None,
    ),
    Assumption(
        field="plating[].protected_years",
        value=0.0,
        unit="year",
        basis="no coating is known to have kept the steel for a time, where the plating does not say so",
        when=lambda a, r: _has_long_term(r) and any("protected_years" not in entry for entry in a["plating"] or [{}]),
    ),
    Assumption(
        field="plating",
        value=lambda a, _: a["plating_notation"],
        unit=None,
        basis="common practice: the notation's figures are the bottom, the sides, the cabin sides and the roof",
        when=lambda a, _: a["plating_notation"] is not None,
    ),
)


def _has_long_term(result: SurveyComparison) -> bool:
    return bool((~np.isnan(result.pairs.long_term_mm_per_year)).any())


WORKING = (
    Step(
        symbol="loss_mm",
        formula="earlier_residual_mm - later_residual_mm",
        substituted="{earlier_residual_mm} - {later_residual_mm}",
        value="loss_mm",
        unit="mm",
        reference="residual-datum",
    ),
    Step(
        symbol="u(loss_mm)",
        formula="sqrt(earlier_uncertainty_mm^2 + later_uncertainty_mm^2)",
        substituted="sqrt({earlier_uncertainty_mm}^2 + {later_uncertainty_mm}^2)",
        value="loss_standard_uncertainty_mm",
        unit="mm",
        reference="gum",
    ),
    Step(
        symbol="rate_mm_per_year",
        formula="loss_mm / years_between",
        substituted="{loss_mm} / {years_between}",
        value="rate_mm_per_year",
        unit="mm/year",
        reference="api-570-rate",
    ),
    Step(
        symbol="mean_rate_mm_per_year",
        formula="mean_loss_mm / years_between",
        substituted="{mean_loss_mm} / {years_between}",
        value="mean_rate_mm_per_year",
        unit="mm/year",
        reference="api-570-rate",
    ),
    Step(
        symbol="u(mean_rate_mm_per_year)",
        formula="sqrt(averaged_standard_uncertainty_mm^2 + 2 * calibration_standard_uncertainty_mm^2) / years_between",
        substituted="sqrt({averaged_standard_uncertainty_mm}^2 + 2 * {calibration_standard_uncertainty_mm}^2) "
        "/ {years_between}",
        value="mean_rate_standard_uncertainty_mm_per_year",
        unit="mm/year",
        reference="gum",
    ),
)


def survey_comparison(
    *,
    earlier: SurveyReadings,
    later: SurveyReadings,
    station_tolerance_m: float = STATION_TOLERANCE_M,
    standard_uncertainty_mm: float | None = None,
    calibration_standard_uncertainty_mm: float | None = None,
    confidence: float = CONFIDENCE,
    built_on: str | None = None,
    plating: Sequence[Plating] = (),
    plating_notation: str | None = None,
) -> SurveyComparison:
    """Match the readings of two surveys and divide what went between them by the time between.

    loss = earlier residual - later residual; rate = loss / years between; u(loss)^2 = u(earlier)^2 + u(later)^2;
    u(mean loss)^2 = sum of the readings' own parts / n^2 + 2 u(calibration)^2.

    Parameters
    ----------
    earlier, later : SurveyReadings
        Day and readings [mm, m] of each, 1 to 20,000 readings.
    station_tolerance_m : float, optional
        How far apart two readings of one place may be noted [m], 0 to 5.
    standard_uncertainty_mm : float, optional
        Of every residual thickness of both surveys [mm]; by default the gauges' common practice.
    calibration_standard_uncertainty_mm : float, optional
        The part of it that is common to all readings of one survey [mm].
    confidence : float, optional
        Of the band around each mean rate, two-sided [1].
    built_on : str, optional
        Year, month or day; the last day of the period counts, not after the later survey.
    plating : sequence of Plating, optional
        What each zone, or part of it, was plated with; for the long-term rate.
    plating_notation : str, optional
        The trade's short form, "10/6/5" [mm].

    Returns
    -------
    SurveyComparison
        Every reading of both surveys is in a pair or among the unmatched. The long-term figures are None where the original
        or the age is unknown.

    Raises
    ------
    NotApplicableError
        The faults of a survey's readings and of the plating, surveys out of order or less than 0.1 years apart, a calibration
        that is no part of the reading, more candidates for a pair than can be matched.

    Notes
    -----
    Valid for the places that both surveys read, and for gauges whose errors are as stated. A pair is significant where its
    loss exceeds 1.96 standard uncertainties, whatever the number of pairs; beyond chance where it exceeds what the largest
    of so many pairs may reach by chance (Bonferroni). The zones' tests share their level in the same way. Where the pairs
    scatter within their zones more than the gauges do, the mean's uncertainty is widened by that ratio (Birge).

    Examples
    --------
    >>> from datetime import date
    >>> told = survey_comparison(
    ...     earlier={"surveyed_on": date(2016, 5, 2),
    ...              "readings": [{"zone": "baseplate", "side": "port", "station_m": 4.0, "plate_mm": 9.1}]},
    ...     later={"surveyed_on": date(2024, 5, 2),
    ...            "readings": [{"zone": "baseplate", "side": "port", "station_m": 4.1, "plate_mm": 8.3}]},
    ... )
    >>> round(float(told.pairs.loss_mm[0]), 3), round(float(told.pairs.rate_mm_per_year[0]), 4)
    (0.8, 0.1)

    References
    ----------
    residual-datum, gauge-uncertainty, gauge-calibration, station-tolerance, api-570-rate, gum, en-10029-class-a, birge-1932,
    bonferroni, fast-rate, few-matched, plating-notation
    """
    arguments = dict(locals())
    refuse(FAULTS, arguments)
    of_plating = plating, plating_notation, built_on, later["surveyed_on"]
    known = plated(reading_table(later["readings"]), later["readings"], *of_plating)
    # An entry of the plating may say that a whole part was renewed.
    tables = reading_table(earlier["readings"]), known.table.with_columns(fitted_on=known.fitted_on)
    matching = matched(*tables, earlier_on=earlier["surveyed_on"], station_tolerance_m=station_tolerance_m)
    completed = _completed(earlier["readings"], later["readings"], matching)
    known = plated(reading_table(completed), completed, *of_plating)
    calibration = _calibration_mm(arguments)
    uncertainties = tuple(_uncertainty_mm(table, standard_uncertainty_mm) for table in tables)
    years = years_apart(earlier["surveyed_on"], later["surveyed_on"])
    compared = compared_of(tables, known, matching, uncertainties, years, calibration)
    pairs = pairs_of(tables, matching, compared, uncertainties)
    left = residual_mm(tables[1])
    overall = mean_rate(compared, np.arange(len(pairs)), confidence, 1) if len(pairs) else None
    zones = zones_of(tables[0], compared, pairs, confidence)
    return SurveyComparison(
        pace=_pace(overall, zones),
        years_between=years,
        earlier_count=len(tables[0]),
        later_count=len(tables[1]),
        matched_count=len(pairs),
        matched_by_id_count=int(matching.by_id.sum()),
        significant_count=int(pairs.significant.sum()),
        significant_by_chance=LEVEL * len(pairs),
        grew_count=int(pairs.grew.sum()),
        grew_beyond_chance_count=int((pairs.grew & pairs.beyond_chance).sum()),
        holed_count=int((left == 0).sum()),
        calibration_standard_uncertainty_mm=calibration,
        overall=overall,
        worst_pair_index=pairs.worst if len(pairs) else None,
        pairs=pairs,
        zones=zones,
        unmatched_earlier=_unmatched(tables[0], matching.earlier_reason),
        unmatched_later=_unmatched(tables[1], matching.later_reason),
        earlier=tables[0],
        later=tables[1],
        earlier_uncertainty_mm=uncertainties[0],
        later_uncertainty_mm=uncertainties[1],
        later_residual_mm=left,
        matching=matching,
    )


def _pace(overall: MeanRate | None, zones: Sequence[ZoneChange]) -> Pace:
    """Return the pace; where plate as a whole reads thicker than before, no rate can be relied on."""
    if overall is None or overall.difference_mm_per_year is None or any(mean.grew for mean in (overall, *zones)):
        return Pace.UNKNOWN
    if not overall.differs_from_long_term:
        return Pace.NO_DIFFERENCE_SHOWN
    return Pace.FASTER if overall.difference_mm_per_year > 0 else Pace.SLOWER


def _completed(earlier: Sequence[Reading], later: Sequence[Reading], matching: Matching) -> list[Reading]:
    """Return the later readings with what only the earlier survey says of their plate: its original, and when it was fitted."""
    completed = list(later)
    for first, second in zip(matching.earlier.tolist(), matching.later.tolist(), strict=True):
        told: Any = {name: value for name, value in earlier[first].items() if name in ("original_mm", "fitted_on")}
        if told:
            completed[second] = {**told, **later[second]}
    return completed


def _uncertainty_mm(table: ReadingTable, stated_mm: float | None) -> Floats:
    if stated_mm is not None:
        return np.full(len(table), stated_mm)
    return residual_uncertainty_mm(table.pit_depth_mm, PLATE_STANDARD_UNCERTAINTY_MM, PIT_STANDARD_UNCERTAINTY_MM)


def _least_uncertainty_mm(arguments: Arguments) -> float:
    stated: float | None = arguments["standard_uncertainty_mm"]
    return PLATE_STANDARD_UNCERTAINTY_MM if stated is None else stated


def _calibration_mm(arguments: Arguments) -> float:
    stated: float | None = arguments["calibration_standard_uncertainty_mm"]
    return min(CALIBRATION_STANDARD_UNCERTAINTY_MM, _least_uncertainty_mm(arguments) / 2) if stated is None else stated


def _unmatched(table: ReadingTable, reasons: Array) -> Unmatched:
    rows = np.flatnonzero(reasons != Reason.MATCHED)
    return Unmatched(
        id=table.id[rows],
        index=rows,
        zone=table.zone[rows],
        side=table.side[rows],
        station_m=table.station_m[rows],
        reason=np.array([Reason(reason).name.lower() for reason in reasons[rows]], dtype=object),
    )
