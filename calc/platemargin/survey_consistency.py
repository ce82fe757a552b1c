"""Whether a survey's data are believable: what to ask before they are relied on."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import IntEnum
from typing import Any

from platemargin.consistency import Check
from platemargin.consistency_checks import CONSISTENCY_CHECKS
from platemargin.declared import Arguments, Fault
from platemargin.faults_told import faults_as_findings
from platemargin.fitted_anodes import FittedAnode
from platemargin.hull_survey import ASSUMED as SURVEY_ASSUMED
from platemargin.hull_survey import FAULTS as SURVEY_FAULTS
from platemargin.plating import Plated, Plating, plated
from platemargin.read_again import ReadAgain, read_again
from platemargin.readings import Reading, reading_table
from platemargin.remaining_life import CONFIDENCE
from platemargin.rules import RuleSet
from platemargin.survey import Gauge, Hull, Unexamined
from platemargin.two_surveys import SurveyReadings
from platemargin.value_patterns import Patterns, patterns_of

__all__ = ["ASSUMED", "FAULTS", "FINDINGS", "CheckOutcome", "Outcome", "Standing", "SurveyConsistency", "survey_consistency"]


class Standing(IntEnum):
    """What the checks say together; the greater outranks."""

    NO_QUERY = 0
    CANNOT_JUDGE = 1
    QUERIES = 2


class Outcome(IntEnum):
    """What one check says."""

    PASSED = 0
    NOT_JUDGED = 1
    QUERIED = 2


@dataclass(frozen=True, kw_only=True)
class CheckOutcome:
    """One check's outcome; `reason` says why it was not judged."""

    code: str
    outcome: Outcome
    reason: str | None = None


@dataclass(frozen=True, kw_only=True)
class SurveyConsistency:
    """The checks' answer."""

    standing: Standing
    consistent: bool
    readings_count: int
    zones_count: int
    queried_count: int
    passed_count: int
    not_judged_count: int
    matched_count: int | None
    checks: tuple[CheckOutcome, ...]
    known: Plated
    patterns: Patterns


#: Nothing is refused: what a survey is refused for is a finding here.
FAULTS: tuple[Fault, ...] = ()
#: What of a reading a fault of readings looks at: where none has it, the fault was not looked for.
_LOOKS_AT = {
    "station_beyond_hull": "station_m",
    "pit_deeper_than_plate": "pit_depth_mm",
    "day_not_possible": "fitted_on",
    "protected_longer_than_service": "fitted_on",
}


def _nothing_sent(code: str) -> Any:
    """Return what says why a fault was not looked for: nothing was sent that could have it."""
    fields = {fault.field for fault in SURVEY_FAULTS if fault.code == code}

    def unjudged(arguments: Arguments, _result: object) -> str | None:
        member = _LOOKS_AT.get(code)
        sent = any(member in reading for reading in arguments["readings"]) if member else "readings" in fields
        sent = sent or any(arguments[field] not in (None, (), []) for field in fields - {"readings"})
        return None if sent else "nothing was sent that it could find at fault"

    return unjudged


_FAULTS_TOLD = faults_as_findings(SURVEY_FAULTS)
_CHECKS = (
    *(Check(finding=finding, unjudged=_nothing_sent(finding.code)) for finding in _FAULTS_TOLD[:-1]),
    *CONSISTENCY_CHECKS,
)
FINDINGS = (*_FAULTS_TOLD, *(check.finding for check in CONSISTENCY_CHECKS))
ASSUMED = tuple(told for told in SURVEY_ASSUMED if told.field.startswith("readings[]") or told.field in ("plating", "built_on"))
#: What is wrong with two surveys that cannot be matched.
_UNMATCHABLE = tuple(
    fault
    for fault in SURVEY_FAULTS
    if (fault.field == "previous_survey" and fault.code in ("id_not_unique", "surveys_out_of_order", "too_many_candidates"))
    or (fault.field == "readings" and fault.code == "id_not_unique")
)
#: Without these two no survey stands: readings held against what was plated, and among themselves.
_NEEDED = ("plate_over_mill_tolerance", "values_repeat")
#: And where a previous survey was sent, nothing stands that could not be held against it at any place.
_NEEDED_BESIDE = "previous_in_other_unit"


def survey_consistency(
    *,
    hull: Hull,
    surveyed_on: date,
    readings: Sequence[Reading],
    rule_sets: Sequence[RuleSet] = (),
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
) -> SurveyConsistency:
    """Ask of a survey what a careful reader would ask before relying on it.

    Every relation for which `hull_survey` refuses a survey is a finding here, and so is what is in order one by one but
    hard to believe together. standing = *queries* where a finding says watch or act; else *cannot judge* where readings
    could not be held against what was plated, not among themselves, or not against a previous survey that was sent; else
    *no query*.

    Parameters
    ----------
    hull : Hull
        Dimensions [m, mm] and material.
    surveyed_on, as_of : date
        Day of the survey, and the day at which its age counts.
    readings : sequence of Reading, 1 to 20,000
        [mm, m], in the order in which they were read.
    rule_sets, rules, thresholds_mm, confidence, gauge, unexamined, ashore, inside_seen : optional
        As `hull_survey` takes them; what contradicts itself in them is a finding.
    what_if_original_mm, observations, anodes, potentials, reach_lengths, coating, anode_sizing : optional
        The same.
    previous_survey : SurveyReadings, optional
        The survey before: its plate readings are held against this one's at each place that both read.
    built_on : str, optional
        Year, month or day.
    max_survey_age_months : int, optional
        The survey is asked to be no older than this at `as_of`.
    plating : sequence of Plating, optional
        What each zone, or part of it, was plated with.
    plating_notation : str, optional
        The trade's short form, "10/6/5" [mm].

    Returns
    -------
    SurveyConsistency
        Every check in a fixed order, with why it could not be made where it could not.

    Raises
    ------
    Nothing; what is in range is answered.

    Notes
    -----
    A query is a question to whoever sent the data, never a judgement of a person; data without a query can still be wrong.
    Values are held against a smooth distribution of their own spread at their own resolution, at a level of 0.001 for the
    whole survey: an honest surveyor's rounding, and his choice of the worst spots, are no query. Invented values that keep
    to a smooth spread are not found. A previous survey's plate is held against this one's where `survey_comparison` would
    match them, at a level of 0.001 once more; its pits are not: two surveyors seldom measure the same pit.

    Examples
    --------
    >>> answer = survey_consistency(
    ...     hull={"length_m": 17.5, "beam_m": 2.1, "draught_m": 0.6, "water": "fresh", "material": "steel",
    ...           "construction": "welded"},
    ...     surveyed_on=date(2024, 12, 31), plating_notation="10/6/5",
    ...     readings=[{"id": "b1", "zone": "baseplate", "side": "port", "plate_mm": 98.0, "station_m": 18.0}],
    ... )
    >>> answer.standing.name, [check.code for check in answer.checks if check.outcome == Outcome.QUERIED]
    ('QUERIES', ['station_beyond_hull', 'decimal_point_lost', 'side_unread'])

    References
    ----------
    few-readings, value-patterns, fast-rate, decimal-point, en-10029-class-a, gauge-uncertainty, plating-notation,
    zone-exposure, residual-datum, beside-previous, station-tolerance, gauge-calibration, bonferroni
    """
    arguments = dict(locals())
    table = reading_table(readings)
    known = plated(table, readings, plating, plating_notation, built_on, surveyed_on)
    patterns = patterns_of(known.table, _again(known, arguments))
    draft = SurveyConsistency(
        standing=Standing.CANNOT_JUDGE,
        consistent=True,
        readings_count=len(table),
        zones_count=len(set(table.zone)),
        queried_count=0,
        passed_count=0,
        not_judged_count=0,
        matched_count=patterns.previous.places if patterns.previous else None,
        checks=(),
        known=known,
        patterns=patterns,
    )
    return _concluded(arguments, draft)


def _again(known: Plated, arguments: Arguments) -> ReadAgain | None:
    """Match the previous survey; None where none was sent, or the two cannot be matched as they are, which is told."""
    past = arguments["previous_survey"]
    return read_again(past, known, arguments) if past and not any(map(_broken(arguments), _UNMATCHABLE)) else None


def _broken(arguments: Arguments) -> Callable[[Fault], bool]:
    def broken(fault: Fault) -> bool:
        found: Any = fault.broken(arguments)
        return any(True for _ in found)

    return broken


def _concluded(arguments: Arguments, draft: SurveyConsistency) -> SurveyConsistency:
    checks = tuple(_outcome(check, arguments, draft) for check in _CHECKS)
    counts = {outcome: sum(check.outcome == outcome for check in checks) for outcome in Outcome}
    judged = {check.code for check in checks if check.outcome != Outcome.NOT_JUDGED}
    needed = (*_NEEDED, _NEEDED_BESIDE) if arguments["previous_survey"] else _NEEDED
    standing = Standing.NO_QUERY if judged.issuperset(needed) else Standing.CANNOT_JUDGE
    return replace(
        draft,
        standing=Standing.QUERIES if counts[Outcome.QUERIED] else standing,
        consistent=not counts[Outcome.QUERIED],
        queried_count=counts[Outcome.QUERIED],
        passed_count=counts[Outcome.PASSED],
        not_judged_count=counts[Outcome.NOT_JUDGED],
        checks=checks,
    )


def _outcome(check: Check, arguments: Arguments, draft: SurveyConsistency) -> CheckOutcome:
    """Return what a check says; what it only notes is a gap in the survey, not a question to it."""
    finding = check.finding
    found: Any = finding.applies(arguments, draft)
    if any(True for _ in found):
        if finding.severity != "note":
            return CheckOutcome(code=finding.code, outcome=Outcome.QUERIED)
        return CheckOutcome(code=finding.code, outcome=Outcome.NOT_JUDGED, reason="too few readings, as its finding tells")
    reason = check.unjudged(arguments, draft)
    outcome = Outcome.PASSED if reason is None else Outcome.NOT_JUDGED
    return CheckOutcome(code=finding.code, outcome=outcome, reason=reason)
