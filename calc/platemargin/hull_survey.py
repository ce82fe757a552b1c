"""A whole survey: every reading, every zone, every limit, the life that is left and what was not looked at."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from platemargin.attack_form import AttackForm
from platemargin.corrosion_rate import PROTECTED_YEARS
from platemargin.dates import days_of
from platemargin.declared import Arguments, Assumption, Fault, Place, as_declared, refuse, stated
from platemargin.fitted_anodes import FittedAnode
from platemargin.judged import Judged, RuleResult, judge
from platemargin.judged_findings import found_in, withheld
from platemargin.mill_tolerance import standard_uncertainty_mm
from platemargin.nested import Part
from platemargin.plate_margin import PIT_STANDARD_UNCERTAINTY_MM, PLATE_STANDARD_UNCERTAINTY_MM
from platemargin.plating import PLATING_FAULTS, Plated, Plating, from_notation, plated, range_fault
from platemargin.quantities import text
from platemargin.readings import READING_ASSUMED, READING_FAULTS, STATION_FAULT, Reading, reading_table
from platemargin.remaining_life import (
    CONFIDENCE,
    EXPONENT,
    INTERVAL_CAP_YEARS,
    RATE_FACTOR,
    YEARS_AHEAD,
    LifeStatus,
)
from platemargin.rules import RuleSet, Verdict
from platemargin.survey import Gauge, Hull, Survey, Unexamined, film_doubt, film_not_stated, gauge_uncertainties
from platemargin.survey_advice import ADVICE, MOST_REASONS, Advice
from platemargin.survey_data_findings import DATA_FINDINGS
from platemargin.survey_findings import FINDINGS as SURVEY_FINDINGS
from platemargin.survey_lives import FirstToLimit, first_to_limit, next_survey_within_years
from platemargin.survey_parts import (
    Assessed,
    Governing,
    ReadingResults,
    WhatIf,
    assessed_of,
    governing_of,
    reading_results_of,
    what_if_of,
)
from platemargin.survey_pits import SampledPits, sampled_pits
from platemargin.survey_previous import PREVIOUS_FAULTS, Previous, previous_of
from platemargin.survey_protection import (
    PROTECTION_ASSUMED,
    PROTECTION_FAULTS,
    PROTECTION_FINDINGS,
    SurveyAnodes,
    anodes_of,
    attack_forms_of,
    protection_of,
)
from platemargin.survey_zones import ZoneResult, zones_of
from platemargin.threshold_check import RULE_ASSUMED, RULE_FAULTS, inline_rules
from platemargin.two_surveys import SurveyReadings, survey_assumed
from platemargin.value_patterns import Patterns, patterns_of

__all__ = ["ASSUMED", "FAULTS", "FINDINGS", "HullSurvey", "hull_survey"]


@dataclass(frozen=True, kw_only=True)
class HullSurvey:
    """The survey's answer."""

    verdict: Verdict
    governing_zone: str
    governing_reading: str
    governing_reading_index: int
    zones: tuple[ZoneResult, ...]
    assessed: Assessed
    readings: ReadingResults
    what_if: tuple[WhatIf, ...]
    rules: tuple[RuleResult, ...]
    holed_count: int
    first_to_limit: FirstToLimit | None
    next_survey_within_years: float | None
    judged: Judged
    known: Plated
    governing: Governing
    previous_survey: Previous | None
    patterns: Patterns
    pits: Mapping[str, SampledPits]
    attack_forms: AttackForm | None
    anodes: SurveyAnodes | None
    parts: Mapping[str, Part]
    advice: tuple[Advice, ...] = ()


def _as_of_early(arguments: Arguments) -> Iterable[Place]:
    if arguments["as_of"] is not None and arguments["as_of"] < arguments["surveyed_on"]:
        yield Place(values={"as_of": arguments["as_of"], "surveyed_on": arguments["surveyed_on"]})


def _no_as_of(arguments: Arguments) -> Iterable[Place]:
    if arguments["as_of"] is None and arguments["max_survey_age_months"] is not None:
        yield Place()


def _counted_from(built_on: str, surveyed_on: date) -> date:
    period = days_of(built_on)
    return min(period[1], surveyed_on) if period else surveyed_on


FAULTS = (
    *READING_FAULTS,
    STATION_FAULT,
    *PLATING_FAULTS,
    range_fault("unexamined"),
    *RULE_FAULTS,
    *PREVIOUS_FAULTS,
    *PROTECTION_FAULTS,
    Fault(
        field="as_of",
        code="as_of_before_survey",
        message="as_of {as_of} is before the survey of {surveyed_on}",
        broken=_as_of_early,
    ),
    Fault(
        field="as_of",
        code="as_of_needed",
        message="max_survey_age_months needs as_of, the day at which the survey's age counts: no clock is read here",
        broken=_no_as_of,
    ),
)


FINDINGS = (*SURVEY_FINDINGS, *DATA_FINDINGS, *PROTECTION_FINDINGS)


def _followed(result: Any) -> bool:
    """Tell whether a life was followed anywhere."""
    return result.governing.margin is not None or any(
        told.years_low is not None and told.status != LifeStatus.ALREADY_BELOW
        for zone in result.zones
        for told in zone.thresholds
    )


def _supposed(arguments: Arguments) -> list[Plating]:
    stated = (entry for entry in arguments["plating"] if entry.get("original_basis") == "assumed")
    return [entry for entry in stated if "original_mm" in entry]


def _original_uncertainties(result: Any) -> dict[str, float]:
    originals = sorted({zone.original_mm for zone in result.zones if zone.original_mm is not None})
    return {text(original): round(standard_uncertainty_mm(original).item(), 3) for original in originals}


ASSUMED = (
    *READING_ASSUMED,
    *survey_assumed("previous_survey"),
    *RULE_ASSUMED,
    Assumption(
        field="plating",
        value=lambda a, _: from_notation(a["plating_notation"]),
        unit="mm",
        basis="the trade's notation: bottom / sides / cabin sides / roof (common practice); entries of plating override it",
        when=lambda a, _: a["plating_notation"] is not None,
    ),
    Assumption(
        field="built_on",
        value=lambda a, _: _counted_from(a["built_on"], a["surveyed_on"]),
        unit=None,
        basis="the last day of the period, not after the survey: the least age that it allows",
        when=lambda a, _: a["built_on"] is not None and len(a["built_on"]) < len("YYYY-MM-DD"),
    ),
    Assumption(
        field="thresholds_mm",
        value=lambda _, r: sorted({told.threshold_mm for zone in r.zones for told in zone.thresholds}, reverse=True),
        unit="mm",
        basis="the limits of the rules that apply to each zone",
        when=lambda a, _: a["thresholds_mm"] is None,
    ),
    Assumption(
        field="plating[].original_mm",
        value=lambda a, _: {entry["zone"]: entry["original_mm"] for entry in _supposed(a)},
        unit="mm",
        basis="assumed by whoever sent it: losses, rates and lives rest on it",
        when=lambda a, _: bool(_supposed(a)),
    ),
    Assumption(
        field="plating[].protected_years",
        value=PROTECTED_YEARS,
        unit="year",
        basis="no coating is known to have kept the steel for a time, where the plating does not say so",
        when=lambda a, r: _followed(r) and any("protected_years" not in entry for entry in a["plating"] or [{}]),
    ),
    *(
        Assumption(field=name, value=value, unit=unit, basis=basis, when=lambda _, r: _followed(r))
        for name, value, unit, basis in (
            ("exponent", EXPONENT, "1", "attack goes on at an even pace"),
            ("rate_factor", RATE_FACTOR, "1", "the future is as the past"),
            ("years_ahead", YEARS_AHEAD, "year", "the forecast in the working is for the time between two or three surveys"),
            ("interval_cap_years", INTERVAL_CAP_YEARS, "year", "common practice"),
        )
    ),
    Assumption(
        field="original_standard_uncertainty_mm",
        value=lambda _, r: _original_uncertainties(r),
        unit="mm",
        basis="of each original, a new plate's by EN 10029:2010 class A",
        when=lambda _, r: _followed(r),
    ),
    *(
        Assumption(
            field=f"gauge.{name}",
            value=value,
            unit="mm",
            basis="common practice for one reading on a hull",
            when=lambda a, _: a["gauge"] is None,
        )
        for name, value in (
            ("plate_standard_uncertainty_mm", PLATE_STANDARD_UNCERTAINTY_MM),
            ("pit_standard_uncertainty_mm", PIT_STANDARD_UNCERTAINTY_MM),
        )
    ),
    Assumption(
        field="gauge.through_coating",
        value=False,
        unit=None,
        basis="readings are of bare steel",
        when=lambda a, _: film_not_stated(a["gauge"]),
    ),
    *PROTECTION_ASSUMED,
)


def hull_survey(
    *,
    hull: Hull,
    surveyed_on: date,
    readings: Sequence[Reading],
    rule_sets: Sequence[RuleSet],
    rules: Sequence[Mapping[str, Any]] = (),
    built_on: str | None = None,
    as_of: date | None = None,
    max_survey_age_months: int | None = None,
    plating: Sequence[Plating] = (),
    plating_notation: str | None = None,
    thresholds_mm: Sequence[float] | None = None,
    confidence: float = CONFIDENCE,
    gauge: Gauge | None = None,
    unexamined: Sequence[Unexamined] = (),
    ashore: bool | None = None,
    inside_seen: bool | None = None,
    what_if_original_mm: Sequence[float] = (),
    previous_survey: SurveyReadings | None = None,
    observations: Mapping[str, Any] | None = None,
    anodes: Sequence[FittedAnode] | None = None,
    potentials: Sequence[Mapping[str, Any]] = (),
    reach_lengths: float | None = None,
    coating: Mapping[str, Any] | None = None,
    anode_sizing: Mapping[str, Any] | None = None,
) -> HullSurvey:
    """Judge a whole survey and follow each zone's thinnest reading to every limit.

    Every figure is that of `residual_thickness`, `corrosion_rate`, `remaining_life` and `threshold_check`;
    verdict = the worst of the rules', and at best *not judged* where something was not looked at;
    pitting factor = greatest loss / mean general loss.

    Parameters
    ----------
    hull : Hull
        Dimensions [m, mm], water, material and construction.
    surveyed_on, as_of : date
        Day of the survey, and the day at which its age counts.
    readings : sequence of Reading, 1 to 20,000
        [mm, m].
    rule_sets : sequence of RuleSet
        Whose limits are checked.
    rules : sequence of mappings, optional
        The caller's own rules.
    built_on : str, optional
        Year, month or day; the last day of the period counts, not after the survey.
    max_survey_age_months : int, optional
        Older than this at `as_of`, a survey passes nothing.
    plating : sequence of Plating, optional
        What each zone, or part of it, was plated with.
    plating_notation : str, optional
        The trade's short form, "10/6/5" [mm].
    thresholds_mm : sequence of float, optional
        Limits for the remaining life [mm]; by default those of the rules that apply to the zone.
    confidence : float, optional
        Of the life's band, two-sided [1].
    gauge : Gauge, optional
        How the plate was read [um, mm].
    unexamined : sequence of Unexamined, optional
        What nobody could read, and why.
    ashore, inside_seen : bool, optional
        Whether the boat is out of the water, and whether the plate was seen from inside.
    what_if_original_mm : sequence of float, optional
        "What would be left had the plate started at x" [mm], for each zone's thinnest reading.
    previous_survey : SurveyReadings, optional
        An earlier survey of the same hull: at a place that both read, the rate since then governs where it is the larger.
    observations : mapping, optional
        What was seen of the attack, as `attack_form` takes it.
    anodes, potentials : sequence of mappings, optional
        What was found of anodes, and read of potentials, as `anode_condition` takes them; no anodes at all is an empty one.
    reach_lengths : float, optional
        How far an anode reaches each way from its centre, in its own lengths.
    coating, anode_sizing : mapping, optional
        The coating of the wet steel, and anodes that are thought of, as `anode_sizing` takes them: for this hull and its water.

    Returns
    -------
    HullSurvey
        None where the original, the age or the material does not allow a figure; limits still judge.

    Raises
    ------
    NotApplicableError
        Two readings of one id, dates out of order, a station beyond the hull, and the faults of the calculations used.

    Notes
    -----
    Valid for steel. For any other material steel's tolerance, benchmark and trade limits are left out and the answer says
    so. It judges the places read, no others, and nothing but plate.

    Examples
    --------
    >>> from platemargin.rule_sets.trade_practice import rule_set
    >>> answer = hull_survey(
    ...     hull={"length_m": 17.5, "beam_m": 2.1, "draught_m": 0.6, "water": "fresh", "material": "steel",
    ...           "construction": "welded"},
    ...     surveyed_on=date(2024, 12, 31), built_on="2008", rule_sets=[rule_set], plating_notation="10/6/5",
    ...     readings=[{"zone": "baseplate", "side": "port", "plate_mm": 8.8, "pit_depth_mm": 2.6}],
    ...     what_if_original_mm=[6.0],
    ... )
    >>> round(answer.zones[0].thresholds[0].years, 2), round(answer.what_if[0].residual_mm, 3), answer.verdict.name
    (9.26, 2.2, 'NOT_JUDGED')

    References
    ----------
    residual-datum, gauge-uncertainty, api-570-rate, api-570-interval, en-10029-class-a, fieller-1954, gum, astm-g46,
    survey-interval, zone-exposure, plating-notation, iso-9224, few-readings, value-patterns, decimal-point, fast-rate,
    station-tolerance, shibata-1994, pivotal-prediction, beside-previous; those of the calculations made within; and those
    that the rule sets bring
    """
    arguments = dict(locals())
    refuse(FAULTS, arguments)
    known = plated(reading_table(readings), readings, plating, plating_notation, built_on, surveyed_on)
    own_rules, material, trusted = inline_rules(rules), hull["material"], film_doubt(gauge) is None
    judged = judge(known.table, rule_sets, own_rules, hull=hull, material=material, trusted=trusted)
    previous = previous_survey and previous_of(
        previous_survey, known, judged.plate.residual_mm, gauge_uncertainties(gauge), own_rules, arguments
    )
    parts = protection_of(arguments)
    survey = Survey(known=known, judged=judged, previous=previous, pits=sampled_pits(known.table, plating), arguments=arguments)
    zones = zones_of(survey)
    governing = governing_of(survey, zones)
    draft = HullSurvey(
        verdict=judged.verdict,
        governing_zone=str(known.table.zone[governing.index]),
        governing_reading=str(known.table.id[governing.index]),
        governing_reading_index=governing.index,
        zones=zones,
        assessed=assessed_of(survey),
        readings=reading_results_of(survey),
        what_if=tuple(what_if_of(survey, zones)),
        rules=judged.rule_results(),
        holed_count=int(judged.holed.sum()),
        first_to_limit=first_to_limit(survey),
        next_survey_within_years=next_survey_within_years(survey),
        judged=judged,
        known=known,
        governing=governing,
        previous_survey=previous,
        patterns=patterns_of(known.table, previous.again if previous else None),
        pits=survey.pits,
        attack_forms=attack_forms_of(parts),
        anodes=anodes_of(parts),
        parts=parts,
    )
    return _concluded(arguments, draft)


def _concluded(arguments: Arguments, draft: HullSurvey) -> HullSurvey:
    """Withhold a pass where a finding says so, and add the advice that the findings call for."""
    found = found_in(FINDINGS, arguments, draft, MOST_REASONS)
    reasons = {
        finding.code: [stated(finding.statement, as_declared(place.values)) for place in places]
        for finding, places in found.items()
    }
    advice = tuple(rule.advice(reasons) for rule in ADVICE if rule.because(reasons))
    return replace(draft, verdict=withheld(draft.verdict, found), advice=advice)
