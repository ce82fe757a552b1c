"""A whole survey: every reading, every zone, every limit, the life that is left and what was not looked at."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Literal, NotRequired, TypedDict

import numpy as np

from platemargin.corrosion_rate import corrosion_rate
from platemargin.dates import days_of
from platemargin.declared import Arguments, Assumption, Fault, Finding, Place, refuse
from platemargin.judged import Judged, RuleResult, judge
from platemargin.mill_tolerance import standard_uncertainty_mm
from platemargin.plate_margin import (
    PIT_STANDARD_UNCERTAINTY_MM,
    PLATE_STANDARD_UNCERTAINTY_MM,
    PlateMargin,
    plate_margin,
)
from platemargin.plating import PLATING_FAULTS, Plated, Plating, from_notation, plated, range_fault
from platemargin.quantities import Array, Floats, rounded
from platemargin.readings import (
    LAYER,
    READING_ASSUMED,
    READING_FAULTS,
    STATION_FAULT,
    Reading,
    reading_table,
    zone_exposure,
)
from platemargin.remaining_life import CONFIDENCE, EXPONENT, RATE_FACTOR, YEARS_AHEAD, LifeStatus
from platemargin.residual_thickness import PlateState, residual_thickness
from platemargin.rules import RULE_EXPOSURES, RuleSet, Verdict
from platemargin.survey_advice import ADVICE, FINDINGS, Advice
from platemargin.threshold_check import RULE_FAULTS, inline_rules
from platemargin.zones import EXPOSURES, Exposure

__all__ = [
    "ASSUMED",
    "FAULTS",
    "FINDINGS",
    "Assessed",
    "Gauge",
    "Governing",
    "Hull",
    "HullSurvey",
    "ReadingResults",
    "Unexamined",
    "WhatIf",
    "ZoneResult",
    "ZoneThreshold",
    "hull_survey",
]

_SIDES = ("port", "starboard")


class Hull(TypedDict):
    """The hull [m, mm]."""

    length_m: float
    beam_m: float
    draught_m: float
    water: Literal["fresh", "brackish", "sea"]
    material: Literal["steel", "wrought_iron", "aluminium", "other"]
    construction: Literal["welded", "riveted", "composite"]
    name: NotRequired[str]
    frame_spacing_mm: NotRequired[float]


class Gauge(TypedDict, total=False):
    """How the plate was read [um, mm]."""

    mode: Literal["single_echo", "multiple_echo", "unknown"]
    through_coating: bool
    coating_um: float
    plate_standard_uncertainty_mm: float
    pit_standard_uncertainty_mm: float


class Unexamined(TypedDict):
    """A part of the hull that nobody could read, and why [m]."""

    zone: str
    reason: Literal["docking_blocks", "afloat", "ballast", "lining", "tank", "fouling", "other"]
    side: NotRequired[Literal["port", "starboard", "centreline"]]
    from_m: NotRequired[float]
    to_m: NotRequired[float]


@dataclass(frozen=True, kw_only=True)
class ZoneThreshold:
    """The life of a zone's thinnest reading to one limit; None where there is no finite value."""

    threshold_mm: float
    years: float | None
    years_low: float | None
    years_high: float | None
    years_from_as_of: float | None
    status: LifeStatus


@dataclass(frozen=True, kw_only=True)
class ZoneResult:
    """One zone that was read; None where the original or the age is unknown."""

    zone: str
    exposure: Exposure
    original_mm: float | None
    readings: int
    pits_measured: int
    thinnest_residual_mm: float
    thinnest_reading: str
    thinnest_reading_index: int
    thinnest_plate_mm: float
    mean_plate_mm: float
    max_pit_depth_mm: float
    max_loss_percent: float | None
    mean_general_loss_mm: float | None
    pitting_factor: float | None
    rate_mm_per_year: float | None
    verdict: Verdict
    thresholds: tuple[ZoneThreshold, ...]
    deepest_pit: None = None


@dataclass(frozen=True, kw_only=True)
class Assessed:
    """What was looked at, and what was not."""

    zones_unread: tuple[str, ...]
    sides_unread: tuple[str, ...]
    unexamined: tuple[Unexamined, ...]
    area_per_reading_m2: float | None


@dataclass(frozen=True, kw_only=True)
class ReadingResults:
    """Every reading's own result, as columns in the order sent."""

    id: Array
    zone: Array
    side: Array
    station_m: Floats
    original_mm: Floats
    residual_mm: Floats
    loss_mm: Floats
    loss_percent: Floats
    general_loss_mm: Floats
    general_loss_percent: Floats
    pit_depth_mm: Floats
    pit_share_percent: Floats
    plate_state: Array
    margin_mm: Floats
    verdict: Array


@dataclass(frozen=True, kw_only=True)
class WhatIf:
    """The same loss taken from another original thickness."""

    zone: str
    reading: str
    original_mm: float
    loss_mm: float | None
    residual_mm: float | None
    plate_state: PlateState | None


@dataclass(frozen=True, kw_only=True)
class Governing:
    """The reading that decides, with everything about it; `margin` is None where the original or the age is unknown."""

    index: int
    arguments: Mapping[str, float]
    margin: PlateMargin | None


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
    next_survey_within_years: float | None
    judged: Judged
    governing: Governing
    advice: tuple[Advice, ...] = ()
    attack_forms: None = None
    anodes: None = None


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


ASSUMED = (
    *READING_ASSUMED,
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
        field="exponent",
        value=EXPONENT,
        unit="1",
        basis="attack goes on at an even pace",
        when=lambda _, r: r.governing.margin is not None,
    ),
    Assumption(
        field="original_standard_uncertainty_mm",
        value=lambda _, r: r.governing.margin.base_standard_uncertainty_mm.item(),
        unit="mm",
        basis="at the governing reading: a new plate's by EN 10029:2010 class A",
        when=lambda _, r: r.governing.margin is not None,
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
        when=lambda a, _: a["gauge"] is None,
    ),
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
    survey-interval, zone-exposure, plating-notation, iso-9224; and those that the rule sets bring
    """
    arguments = dict(locals())
    refuse(FAULTS, arguments)
    known = plated(reading_table(readings), readings, plating, plating_notation, built_on, surveyed_on)
    judged = judge(known.table, rule_sets, inline_rules(rules), hull["material"])
    survey = _Survey(known=known, judged=judged, arguments=arguments)
    zones, intervals = survey.zones()
    governing = survey.governing(zones)
    draft = HullSurvey(
        verdict=judged.verdict,
        governing_zone=str(known.table.zone[governing.index]),
        governing_reading=str(known.table.id[governing.index]),
        governing_reading_index=governing.index,
        zones=zones,
        assessed=survey.assessed(),
        readings=survey.reading_results(),
        what_if=tuple(survey.what_if(zones)),
        rules=judged.rule_results(),
        next_survey_within_years=min(intervals, default=None),
        judged=judged,
        governing=governing,
    )
    return _concluded(arguments, draft)


def _concluded(arguments: Arguments, draft: HullSurvey) -> HullSurvey:
    """Withhold a pass where a finding says so, and add the advice that the findings call for."""
    found = {finding.code: finding for finding in FINDINGS if any(True for _ in _places(finding, arguments, draft))}
    withheld = any(finding.withholds_pass for finding in found.values())
    verdict = max(draft.verdict, Verdict.NOT_JUDGED) if withheld else draft.verdict
    concluded = replace(draft, verdict=verdict)
    return replace(concluded, advice=tuple(rule.advice(set(found)) for rule in ADVICE if rule.because(set(found))))


def _places(finding: Finding, arguments: Arguments, draft: HullSurvey) -> Iterable[Place]:
    where: Iterable[Place] = finding.applies(arguments, draft)  # type: ignore[assignment]
    return where


@dataclass(frozen=True, kw_only=True)
class _Survey:
    """The survey at hand: its readings with what is known of each, judged."""

    known: Plated
    judged: Judged
    arguments: Arguments

    @property
    def _gauge(self) -> Mapping[str, float]:
        gauge = self.arguments["gauge"] or {}
        return {
            "plate_standard_uncertainty_mm": gauge.get("plate_standard_uncertainty_mm", PLATE_STANDARD_UNCERTAINTY_MM),
            "pit_standard_uncertainty_mm": gauge.get("pit_standard_uncertainty_mm", PIT_STANDARD_UNCERTAINTY_MM),
        }

    @property
    def _options(self) -> Mapping[str, float]:
        """Return what every life here is followed with."""
        return {
            **self._gauge,
            "confidence": self.arguments["confidence"],
            "exponent": EXPONENT,
            "rate_factor": RATE_FACTOR,
            "years_ahead": YEARS_AHEAD,
        }

    def _has_life(self, index: int) -> bool:
        known = not np.isnan(self.known.table.original_mm[index] + self.known.years_in_service[index])
        return bool(known and self.arguments["hull"]["material"] == "steel")

    def _reading_arguments(self, indices: Sequence[int]) -> dict[str, Floats]:
        """Return what `plate_margin` needs of some readings."""
        rows = np.asarray(indices, dtype=int)
        return {
            "original_mm": self.known.table.original_mm[rows],
            "plate_mm": self.known.table.plate_mm[rows],
            "pit_depth_mm": self.known.table.pit_depth_mm[rows],
            "years_in_service": self.known.years_in_service[rows],
            "protected_years": self.known.protected_years[rows],
        }

    def _margins(self, pairs: Sequence[tuple[int, float]]) -> PlateMargin:
        """Return every figure of some readings, each against a limit, in one call."""
        return plate_margin(
            **self._reading_arguments([index for index, _ in pairs]),
            threshold_mm=np.array([threshold for _, threshold in pairs]),
            **self._options,
        )

    def _thresholds_at(self, index: int) -> list[float]:
        """Return the limits asked for, or those on the residual thickness of the rules that apply to a reading."""
        asked = self.arguments["thresholds_mm"]
        if asked is not None:
            return list(dict.fromkeys(asked))
        limits = {
            outcome.rule.limit
            for outcome in self.judged.outcomes
            if outcome.rule.quantity == "residual_mm" and outcome.rule.at_least is not None and outcome.met[index]
        }
        return sorted(limits, reverse=True)

    def zones(self) -> tuple[tuple[ZoneResult, ...], list[float]]:
        """Return each zone read, in order of first appearance, and the survey intervals that their lives allow."""
        table, residual = self.known.table, rounded(self.judged.plate.residual_mm, "mm")
        members = {zone: np.flatnonzero(table.zone == zone) for zone in dict.fromkeys(table.zone)}
        thinnest = {zone: int(rows[np.argmin(residual[rows])]) for zone, rows in members.items()}
        pairs = [
            (index, threshold)
            for index in thinnest.values()
            if self._has_life(index)
            for threshold in self._thresholds_at(index)
        ]
        margins = self._margins(pairs)
        lives = {pair: row for row, pair in enumerate(pairs)}
        verdicts = self.judged.verdicts
        zones = tuple(
            self._zone(zone, rows, thinnest[zone], Verdict(verdicts[rows].max()), lives, margins)
            for zone, rows in members.items()
        )
        return zones, [float(value) for value in margins.next_survey_within_years]

    def _zone(
        self,
        zone: str,
        rows: Array,
        thinnest: int,
        verdict: Verdict,
        lives: Mapping[tuple[int, float], int],
        margins: PlateMargin,
    ) -> ZoneResult:
        table, plate = self.known.table, self.judged.plate
        general = plate.general_loss_mm[rows]
        mean_loss = _value(np.mean(general))
        return ZoneResult(
            zone=zone,
            exposure=min(table.exposure[rows], key=EXPOSURES.index),
            original_mm=_value(table.original_mm[thinnest]),
            readings=len(rows),
            pits_measured=int((~np.isnan(table.pit_depth_mm[rows])).sum()),
            thinnest_residual_mm=float(plate.residual_mm[thinnest]),
            thinnest_reading=str(table.id[thinnest]),
            thinnest_reading_index=thinnest,
            thinnest_plate_mm=float(table.plate_mm[rows].min()),
            mean_plate_mm=float(np.mean(table.plate_mm[rows])),
            max_pit_depth_mm=float(plate.pit_depth_mm[rows].max()),
            max_loss_percent=_value(np.max(plate.loss_percent[rows])),
            mean_general_loss_mm=mean_loss,
            pitting_factor=self._pitting_factor(rows, mean_loss),
            rate_mm_per_year=self._rate(thinnest),
            verdict=verdict,
            thresholds=tuple(
                self._threshold(thinnest, threshold, lives.get((thinnest, threshold)), margins)
                for threshold in self._thresholds_at(thinnest)
            ),
        )

    def _pitting_factor(self, rows: Array, mean_loss: float | None) -> float | None:
        """Return greatest loss over mean general loss; None where the mean is within its standard uncertainty."""
        if mean_loss is None or self.arguments["hull"]["material"] != "steel":
            return None
        of_mean = self._gauge["plate_standard_uncertainty_mm"] / np.sqrt(len(rows))
        of_original = np.max(standard_uncertainty_mm(self.known.table.original_mm[rows]))
        if mean_loss <= np.hypot(of_mean, of_original):
            return None
        return float(np.max(self.judged.plate.loss_mm[rows])) / mean_loss

    def _rate(self, index: int) -> float | None:
        """Return the governing rate at a reading; it needs no tolerance, so it holds for any material."""
        reading = self._reading_arguments([index])
        if np.isnan(reading["original_mm"] + reading["years_in_service"])[0]:
            return None
        rate = corrosion_rate(
            original_mm=reading["original_mm"],
            residual_mm=self.judged.plate.residual_mm[[index]],
            years_in_service=reading["years_in_service"],
            protected_years=reading["protected_years"],
        )
        return rate.governing_mm_per_year.item()

    def _threshold(self, index: int, threshold: float, row: int | None, margins: PlateMargin) -> ZoneThreshold:
        residual = rounded(self.judged.plate.residual_mm[index], "mm")
        if row is None:
            below = bool(residual < rounded(threshold, "mm"))
            status = LifeStatus.ALREADY_BELOW if below else LifeStatus.ABOVE
            now = 0.0 if below else None
            return ZoneThreshold(
                threshold_mm=threshold, years=now, years_low=now, years_high=now, years_from_as_of=None, status=status
            )
        years = _value(margins.years[row])
        as_of = self.arguments["as_of"]
        passed = None if as_of is None else (as_of - self.arguments["surveyed_on"]).days / 365.25
        return ZoneThreshold(
            threshold_mm=threshold,
            years=years,
            years_low=_value(margins.years_low[row]),
            years_high=_value(margins.years_high[row]),
            years_from_as_of=None if years is None or passed is None else max(years - passed, 0.0),
            status=LifeStatus(margins.status[row]),
        )

    def governing(self, zones: Sequence[ZoneResult]) -> Governing:
        """Return the reading that decides: by the rules, or, where none could be checked, the thinnest under water."""
        outcome, index = self.judged.governing
        if index is None:
            rank = {exposure: place for place, exposure in enumerate(EXPOSURES)}
            index = min(zones, key=lambda z: (rank[z.exposure], z.thinnest_residual_mm)).thinnest_reading_index
        limits = self._thresholds_at(index)
        decides = outcome is not None and outcome.rule.quantity == "residual_mm" and outcome.rule.limit in limits
        threshold = outcome.rule.limit if outcome is not None and decides else next(iter(limits), None)
        values = {name: float(column[0]) for name, column in self._reading_arguments([index]).items()}
        arguments = {**values, **self._options, **({} if threshold is None else {"threshold_mm": threshold})}
        return Governing(
            index=index,
            arguments={name: value for name, value in arguments.items() if not np.isnan(value)},
            margin=self._margins([(index, 0.0 if threshold is None else threshold)]) if self._has_life(index) else None,
        )

    def assessed(self) -> Assessed:
        """Return what was plated, or named as not examined, and read by nobody; and the sides that nobody read."""
        # The notation also plates a transom and a stem, which many boats do not have: only what every hull has, or what
        # lies under water, is missed by its name alone.
        implied = [
            entry
            for entry in from_notation(self.arguments["plating_notation"])
            if entry["zone"] == "side" or zone_exposure(entry["zone"]) == "immersed"
        ]
        shell = [entry for entry in self.arguments["plating"] if entry.get("layer", LAYER) == LAYER]
        named = [*shell, *implied, *self.arguments["unexamined"]]
        read = set(self.known.table.zone)
        wet = np.isin(self.known.table.exposure, RULE_EXPOSURES)
        areas = [entry["area_m2"] for entry in self.arguments["plating"] if "area_m2" in entry and entry["zone"] in read]
        zones = {entry["zone"] for entry in self.arguments["plating"] if "area_m2" in entry}
        count = int(np.isin(self.known.table.zone, list(zones)).sum())
        return Assessed(
            zones_unread=tuple(
                dict.fromkeys(
                    entry["zone"]
                    for entry in named
                    if entry["zone"] not in read and entry.get("exposure", zone_exposure(entry["zone"])) in RULE_EXPOSURES
                )
            ),
            sides_unread=tuple(side for side in _SIDES if not (self.known.table.side[wet] == side).any()),
            unexamined=tuple(self.arguments["unexamined"]),
            area_per_reading_m2=sum(areas) / count if count else None,
        )

    def reading_results(self) -> ReadingResults:
        """Return every reading's own result."""
        table, plate = self.known.table, self.judged.plate
        return ReadingResults(
            id=table.id,
            zone=table.zone,
            side=table.side,
            station_m=table.station_m,
            original_mm=table.original_mm,
            **vars(plate),
            margin_mm=self.judged.margins_mm,
            verdict=self.judged.verdicts,
        )

    def what_if(self, zones: Sequence[ZoneResult]) -> Iterable[WhatIf]:
        """Take each zone's loss at its thinnest reading from other originals."""
        for zone in zones:
            loss = _value(self.judged.plate.loss_mm[zone.thinnest_reading_index])
            for original in self.arguments["what_if_original_mm"]:
                left = None
                if loss is not None:
                    left = residual_thickness(original_mm=original, plate_mm=max(original - loss, 0.0))
                yield WhatIf(
                    zone=zone.zone,
                    reading=zone.thinnest_reading,
                    original_mm=original,
                    loss_mm=loss,
                    residual_mm=None if left is None else left.residual_mm.item(),
                    plate_state=None if left is None else PlateState(left.plate_state.item()),
                )


def _value(number: float | np.floating[Any]) -> float | None:
    return None if np.isnan(number) else float(number)
