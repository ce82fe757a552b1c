"""What a survey's answer has to tell its reader, and what is to be done about it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal, TypeAlias

import numpy as np

from platemargin.declared import Arguments, Finding, Place
from platemargin.judged import JUDGED_FINDINGS
from platemargin.mill_tolerance import class_a_limits
from platemargin.quantities import below, rounded, text
from platemargin.remaining_life import LifeStatus
from platemargin.residual_thickness import PlateState
from platemargin.rules import RULE_EXPOSURES, Verdict

__all__ = ["ADVICE", "FINDINGS", "Advice", "AdviceRule", "Urgency"]

Urgency: TypeAlias = Literal["before_afloat", "before_cover", "next_docking", "monitor"]


@dataclass(frozen=True, kw_only=True)
class Advice:
    """What to do, how soon, and the findings that call for it."""

    code: str
    urgency: Urgency
    statement: str
    because: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class AdviceRule:
    """Advice that any of some findings calls for."""

    code: str
    urgency: Urgency
    statement: str
    called_for_by: tuple[str, ...]

    def because(self, found: set[str]) -> tuple[str, ...]:
        """Return which of the findings made call for it."""
        return tuple(code for code in self.called_for_by if code in found)

    def advice(self, found: set[str]) -> Advice:
        """Return the advice with its reasons."""
        return Advice(code=self.code, urgency=self.urgency, statement=self.statement, because=self.because(found))


_Places: TypeAlias = Iterable[Place]


def _by_zone(mark: Callable[[Any], Any]) -> Callable[[Arguments, Any], _Places]:
    """Return one place for each zone that has a marked reading: the first such reading, and how many there are."""

    def applies(_arguments: Arguments, result: Any) -> _Places:
        marked = np.flatnonzero(mark(result.judged))
        for zone, rows in result.judged.table.by_zone(marked).items():
            yield Place(path=("readings", int(rows[0])), values={"zone": zone, "count": len(rows)})

    return applies


def _once(holds: Callable[[Arguments, Any], bool], *path: str) -> Callable[[Arguments, Any], _Places]:
    """Return one place where something holds of the whole survey."""
    return lambda arguments, result: [Place(path=path)] if holds(arguments, result) else []


def _each(names: Callable[[Any], Iterable[str]], key: str) -> Callable[[Arguments, Any], _Places]:
    return lambda _arguments, result: [Place(values={key: name}) for name in names(result)]


def _gauge(arguments: Arguments) -> dict[str, Any]:
    return arguments["gauge"] or {}


def _film_unknown(arguments: Arguments, *modes: str) -> bool:
    gauge = _gauge(arguments)
    through = gauge.get("through_coating", False) and gauge.get("mode", "unknown") in modes
    return bool(through and "coating_um" not in gauge)


def _film_known(arguments: Arguments, _result: Any) -> _Places:
    gauge = _gauge(arguments)
    if gauge.get("through_coating", False) and gauge.get("mode", "unknown") != "multiple_echo" and "coating_um" in gauge:
        yield Place(path=("gauge", "coating_um"), values={"coating_um": gauge["coating_um"]})


def _older(day: date, as_of: date, months: int) -> bool:
    """Tell whether more than some calendar months have passed since a day."""
    passed = 12 * (as_of.year - day.year) + as_of.month - day.month
    return (passed, as_of.day) > (months, day.day)


def _too_old(arguments: Arguments, _result: Any) -> _Places:
    months = arguments["max_survey_age_months"]
    if months is not None and _older(arguments["surveyed_on"], arguments["as_of"], months):
        values = {"surveyed_on": arguments["surveyed_on"], "as_of": arguments["as_of"], "months": months}
        yield Place(path=("surveyed_on",), values=values)


def _content_missing(arguments: Arguments, result: Any) -> _Places:
    counts = {zone.zone: zone.readings for zone in result.zones}
    for rule_set in arguments["rule_sets"]:
        content = rule_set.minimum_content
        if content is None:
            continue
        missing = [zone for zone in content.zones if counts.get(zone, 0) < content.readings_per_zone]
        lacks = [f"{content.readings_per_zone} readings in {zone}" for zone in missing]
        lacks += ["both sides read"] if content.both_sides and result.assessed.sides_unread else []
        lacks += ["the inside seen"] if content.inside_seen and not arguments["inside_seen"] else []
        if lacks:
            yield Place(values={"rule_set": rule_set.id, "lacks": ", ".join(lacks)})


def _unexamined(arguments: Arguments, _result: Any) -> _Places:
    for index, entry in enumerate(arguments["unexamined"]):
        ends = [text(entry[end]) if end in entry else "the end" for end in ("from_m", "to_m")]
        part = f" from {ends[0]} to {ends[1]} m" if {"from_m", "to_m"} & set(entry) else ""
        values = {"zone": entry["zone"], "part": part, "reason": entry["reason"].replace("_", " ")}
        yield Place(path=("unexamined", index), values=values)


def _without_loss(_arguments: Arguments, result: Any) -> _Places:
    for zone in result.zones:
        if any(threshold.status == LifeStatus.NO_MEASURABLE_LOSS for threshold in zone.thresholds):
            yield Place(path=("readings", zone.thinnest_reading_index), values={"zone": zone.zone})


def _nearly_below(_arguments: Arguments, result: Any) -> _Places:
    for zone in result.zones:
        for threshold in zone.thresholds:
            low = threshold.years_low
            if threshold.status != LifeStatus.ALREADY_BELOW and low is not None and rounded(low, "year") == 0:
                values = {"zone": zone.zone, "threshold_mm": threshold.threshold_mm, "reading": zone.thinnest_reading}
                yield Place(path=("readings", zone.thinnest_reading_index), values=values)


def _not_steel(arguments: Arguments, _result: Any) -> _Places:
    material = arguments["hull"]["material"]
    if material != "steel":
        values = {"material": material.replace("_", " "), "not_applicable": "steel's mill tolerance and the trade's limits"}
        yield Place(path=("hull", "material"), values=values)


def _in_water(judged: Any) -> Any:
    return np.isin(judged.table.exposure, RULE_EXPOSURES)


def _over_tolerance(judged: Any) -> Any:
    originals = judged.table.original_mm
    return below(originals + class_a_limits(originals)[1], judged.table.plate_mm, "mm")


def _over_mill_tolerance(arguments: Arguments, result: Any) -> _Places:
    steel = arguments["hull"]["material"] == "steel"
    return _by_zone(_over_tolerance)(arguments, result) if steel else []


FINDINGS = (
    *JUDGED_FINDINGS,
    Finding(
        code="unsafe_afloat",
        severity="act",
        statement="In {zone}, in the water or at its line, plate is holed or below a limit that calls for action (readings: "
        "{count}).",
        values=("count", "zone"),
        applies=_by_zone(lambda j: _in_water(j) & ((j.verdicts == Verdict.ACT) | (j.plate.plate_state == PlateState.HOLED))),
    ),
    Finding(
        code="may_be_below_already",
        severity="watch",
        statement="The thinnest reading in {zone} ({reading}) is above {threshold_mm} mm by less than the gauges' uncertainty "
        "covers.",
        values=("zone", "threshold_mm", "reading"),
        applies=_nearly_below,
    ),
    Finding(
        code="zone_unread",
        severity="watch",
        statement="Nobody read {zone}: nothing is known of its plate. Read it, or say what it was plated with where the boat "
        "has no such part.",
        values=("zone",),
        applies=_each(lambda r: r.assessed.zones_unread, "zone"),
        withholds_pass=True,
    ),
    Finding(
        code="side_unread",
        severity="watch",
        statement="No reading is stated to be of the {side} side: that side passes nothing.",
        values=("side",),
        applies=_each(lambda r: r.assessed.sides_unread, "side"),
        withholds_pass=True,
    ),
    Finding(
        code="unexamined_part",
        severity="note",
        statement="A part of {zone}{part} was not examined ({reason}): it can hide worse.",
        values=("zone", "part", "reason"),
        applies=_unexamined,
    ),
    Finding(
        code="original_unknown",
        severity="watch",
        statement="What {zone} was plated with is unknown (readings: {count}): their loss, rate and life cannot be told; "
        "limits on thickness still judge.",
        values=("zone", "count"),
        applies=_by_zone(lambda j: np.isnan(j.table.original_mm)),
    ),
    Finding(
        code="age_unknown",
        severity="watch",
        statement="The boat's build date is unknown, or too near the survey to tell a rate: no rate and no life can be told.",
        applies=_once(lambda _, r: any(z.original_mm is not None and z.rate_mm_per_year is None for z in r.zones)),
    ),
    Finding(
        code="plate_thicker_than_original",
        severity="note",
        statement="In {zone} plate is thicker than its original (readings: {count}): mills roll over the nominal, and losses "
        "counted from the nominal are then too small.",
        values=("count", "zone"),
        applies=_by_zone(lambda j: below(j.table.original_mm, j.table.plate_mm, "mm")),
    ),
    Finding(
        code="plate_over_mill_tolerance",
        severity="watch",
        statement="In {zone} plate is thicker than a mill delivers for its original by EN 10029 class A (readings: {count}): "
        "the original or the readings are probably wrong.",
        values=("count", "zone"),
        applies=_over_mill_tolerance,
    ),
    Finding(
        code="no_measurable_loss",
        severity="note",
        statement="No loss is measured at the thinnest reading in {zone}: its life has no finite value.",
        values=("zone",),
        applies=_without_loss,
    ),
    Finding(
        code="pits_unmeasured",
        severity="note",
        statement="No pit was measured in {zone} (readings: {count}): its plate is judged without pits.",
        values=("zone", "count"),
        applies=lambda _, r: [
            Place(path=("readings", zone.thinnest_reading_index), values={"zone": zone.zone, "count": zone.readings})
            for zone in r.zones
            if not zone.pits_measured
        ],
    ),
    Finding(
        code="single_echo_through_coating",
        severity="act",
        statement="The plate was read by a single echo through a coating of unknown film: every reading counts the coating "
        "as steel. Read it again on bare steel or by multiple echo.",
        applies=_once(lambda a, _: _film_unknown(a, "single_echo"), "gauge", "mode"),
        withholds_pass=True,
    ),
    Finding(
        code="mode_unknown_through_coating",
        severity="watch",
        statement="The plate was read through a coating of unknown film in an unknown mode: the readings may count the "
        "coating as steel.",
        applies=_once(lambda a, _: _film_unknown(a, "unknown"), "gauge", "mode"),
        withholds_pass=True,
    ),
    Finding(
        code="coating_in_readings",
        severity="watch",
        statement="The readings are through {coating_um} um of coating, not by multiple echo, and are judged as sent, with the "
        "coating in them: send them corrected, with through_coating false.",
        values=("coating_um",),
        applies=_film_known,
        withholds_pass=True,
    ),
    Finding(
        code="survey_too_old",
        severity="watch",
        statement="The survey of {surveyed_on} is older than {months} months on {as_of}: it passes nothing any more.",
        values=("surveyed_on", "months", "as_of"),
        applies=_too_old,
        withholds_pass=True,
    ),
    Finding(
        code="minimum_content_missing",
        severity="watch",
        statement="The rule set {rule_set} asks for more than this survey holds: {lacks}.",
        values=("rule_set", "lacks"),
        applies=_content_missing,
        withholds_pass=True,
    ),
    Finding(
        code="material_not_steel",
        severity="watch",
        statement="The hull is not of steel ({material}): {not_applicable} are not applicable and were left out, and no life "
        "is told.",
        values=("material", "not_applicable"),
        applies=_not_steel,
    ),
    Finding(
        code="fastenings_not_judged",
        severity="watch",
        statement="The hull is not of welded plate alone: rivets, fastenings and joints are not judged by thickness.",
        applies=_once(lambda a, _: a["hull"]["construction"] != "welded", "hull", "construction"),
    ),
    Finding(
        code="inside_not_seen",
        severity="note",
        statement="The plate was not stated to be seen from inside: attack from there is not ruled out.",
        applies=_once(lambda a, _: not a["inside_seen"], "inside_seen"),
    ),
)

ADVICE = (
    AdviceRule(
        code="do_not_refloat",
        urgency="before_afloat",
        statement="Do not refloat or move it until a surveyor has seen it.",
        called_for_by=("unsafe_afloat",),
    ),
    AdviceRule(
        code="make_good_plate",
        urgency="before_afloat",
        statement="Have the plate below the limit overplated or renewed by a competent yard, to the surveyor's and the "
        "insurer's terms; find out first what lies behind it: hot work near tanks, linings and wiring needs a permit.",
        called_for_by=("holed", "act_limit_broken"),
    ),
    AdviceRule(
        code="read_again_bare",
        urgency="before_afloat",
        statement="Read the plate again on bare steel, or by multiple echo.",
        called_for_by=("single_echo_through_coating", "mode_unknown_through_coating", "coating_in_readings"),
    ),
    AdviceRule(
        code="read_the_unread",
        urgency="before_afloat",
        statement="Read the zones and sides that nobody read while the boat is out of the water.",
        called_for_by=("zone_unread", "side_unread", "minimum_content_missing"),
    ),
    AdviceRule(
        code="read_more_around",
        urgency="before_cover",
        statement="Read more points around the thin places before paint covers them, to find how far the thin plate goes.",
        called_for_by=("watch_limit_broken", "may_be_below_already"),
    ),
    AdviceRule(
        code="tell_the_insurer",
        urgency="next_docking",
        statement="Tell the insurer of the plate below its limit; its own terms decide.",
        called_for_by=("act_limit_broken", "watch_limit_broken"),
    ),
    AdviceRule(
        code="establish_original",
        urgency="monitor",
        statement="Establish what the plate started with from certificate, builder or unattacked plate: without it no loss, "
        "rate or life can be told.",
        called_for_by=("original_unknown", "plate_over_mill_tolerance"),
    ),
    AdviceRule(
        code="survey_again",
        urgency="next_docking",
        statement="Have the hull surveyed again before relying on this survey.",
        called_for_by=("survey_too_old",),
    ),
)
