"""What a survey's answer has to tell its reader: each finding with its condition and its words."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import date
from typing import Any, TypeAlias

import numpy as np

from platemargin.dates import days_of
from platemargin.declared import Arguments, Finding, Place, once
from platemargin.judged_findings import JUDGED_FINDINGS, by_zone
from platemargin.quantities import at_least, below, rounded, text
from platemargin.remaining_life import LifeStatus, may_be_below
from platemargin.rules import Verdict
from platemargin.survey import film_doubt, film_not_stated
from platemargin.survey_pit_findings import PIT_FINDINGS
from platemargin.survey_previous_findings import PREVIOUS_SURVEY_FINDINGS

__all__ = ["FINDINGS"]

#: A limit that may be reached sooner than this [year] is told apart (common practice).
SOON_YEARS = 1.0


_Places: TypeAlias = Iterable[Place]


def _each(names: Callable[[Any], Iterable[str]], key: str) -> Callable[[Arguments, Any], _Places]:
    return lambda _arguments, result: [Place(values={key: name}) for name in names(result)]


def _film(doubt: str) -> Callable[[Arguments, Any], _Places]:
    """Return one place where readings may count a coating as steel for one reason."""

    def applies(arguments: Arguments, _result: Any) -> _Places:
        if film_doubt(arguments["gauge"]) == doubt:
            yield Place(path=("gauge",), values={"coating_um": arguments["gauge"].get("coating_um")})

    return applies


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
        least = content.readings_per_zone
        missing = [zone for zone in content.zones if counts.get(zone, 0) < least]
        lacks = [f"{least} {'reading' if least == 1 else 'readings'} in {zone}" for zone in missing]
        lacks += ["both sides read"] if content.both_sides and result.assessed.sides_unread else []
        lacks += ["the inside seen"] if content.inside_seen and not arguments["inside_seen"] else []
        if lacks:
            yield Place(values={"rule_set": rule_set.id, "lacks": ", ".join(lacks)})


def _part(entry: Mapping[str, Any]) -> str:
    """Say which part of a zone is meant."""
    sides = [entry["side"]] if "side" in entry else []
    words = {"from_m": "from {} m", "to_m": "to {} m"}
    ends = [words[end].format(text(entry[end])) for end in words if end in entry]
    return " ".join(["", *sides, *ends])


def _unexamined(arguments: Arguments, _result: Any) -> _Places:
    for index, entry in enumerate(arguments["unexamined"]):
        values = {"zone": entry["zone"], "part": _part(entry), "reason": entry["reason"].replace("_", " ")}
        yield Place(path=("unexamined", index), values=values)


def _at_thinnest(told: Callable[[Any, Any], bool], *names: str) -> Callable[[Arguments, Any], _Places]:
    """Return one place for each limit on a zone's thinnest reading of which something holds."""

    def applies(_arguments: Arguments, result: Any) -> _Places:
        for zone in result.zones:
            for limit in zone.thresholds:
                if told(zone, limit):
                    values = {"zone": zone.zone, "reading": zone.thinnest_reading, "residual_mm": zone.thinnest_residual_mm}
                    values |= {"threshold_mm": limit.threshold_mm, "original_mm": zone.original_mm}
                    values |= {"probability_below_now": round(limit.probability_below_now, 6)}
                    yield Place(path=("readings", zone.thinnest_reading_index), values={name: values[name] for name in names})

    return applies


def _nearly_below(arguments: Arguments, result: Any) -> _Places:
    return _at_thinnest(
        lambda _, limit: (
            limit.status != LifeStatus.ALREADY_BELOW
            and bool(may_be_below(limit.probability_below_now, arguments["confidence"]))
        ),
        *_NEARLY_BELOW,
    )(arguments, result)


_NEARLY_BELOW = ("zone", "reading", "residual_mm", "threshold_mm", "probability_below_now")


def _asked_and_below(arguments: Arguments, result: Any) -> _Places:
    if arguments["thresholds_mm"] is None:
        return []
    return _at_thinnest(lambda _, limit: limit.status == LifeStatus.ALREADY_BELOW, *_BELOW_ASKED)(arguments, result)


_BELOW_ASKED = ("zone", "reading", "residual_mm", "threshold_mm")


def _asked_and_meaningless(arguments: Arguments, result: Any) -> _Places:
    if arguments["thresholds_mm"] is None:
        return []
    return _at_thinnest(
        lambda zone, limit: zone.original_mm is not None and bool(at_least(limit.threshold_mm, zone.original_mm, "mm")),
        "zone",
        "threshold_mm",
        "original_mm",
    )(arguments, result)


def _soon(_arguments: Arguments, result: Any) -> _Places:
    first = result.first_to_limit
    if first is not None and rounded(first.years_low, "year") < SOON_YEARS:
        values = {"zone": first.zone, "reading": first.reading, "threshold_mm": first.threshold_mm}
        yield Place(path=("readings", first.reading_index), values={**values, "years_low": first.years_low})


def _passed_since(arguments: Arguments, result: Any) -> _Places:
    first = result.first_to_limit
    if first is not None and first.years_from_as_of == 0:
        values = {"zone": first.zone, "reading": first.reading, "threshold_mm": first.threshold_mm}
        yield Place(path=("readings", first.reading_index), values={**values, "as_of": arguments["as_of"]})


def _not_steel(arguments: Arguments, _result: Any) -> _Places:
    material = arguments["hull"]["material"]
    if material != "steel":
        values = {"material": material.replace("_", " "), "not_applicable": "steel's mill tolerance and the trade's limits"}
        yield Place(path=("hull", "material"), values=values)


def _supposed(arguments: Arguments, _result: Any) -> _Places:
    for index, entry in enumerate(arguments["plating"]):
        if entry.get("original_basis") == "assumed" and "original_mm" in entry:
            values = {"zone": entry["zone"], "original_mm": entry["original_mm"]}
            yield Place(path=("plating", index, "original_basis"), values=values)


def _fitted_before_built(arguments: Arguments, _result: Any) -> _Places:
    built = days_of(arguments["built_on"]) if arguments["built_on"] else None
    for name in ("plating", "readings"):
        for index, entry in enumerate(arguments[name]):
            fitted = days_of(entry["fitted_on"]) if "fitted_on" in entry else None
            if built and fitted and fitted[1] < built[0]:
                values = {"fitted_on": entry["fitted_on"], "built_on": arguments["built_on"], "zone": entry["zone"]}
                yield Place(path=(name, index, "fitted_on"), values=values)


def _of_unknown_age(_arguments: Arguments, result: Any) -> _Places:
    unknown = np.isnan(result.known.years_in_service) & ~np.isnan(result.known.table.original_mm)
    for zone, rows in result.judged.table.by_zone(np.flatnonzero(unknown)).items():
        yield Place(path=("readings", int(rows[0])), values={"zone": zone, "count": len(rows)})


def _wet_and_outside(judged: Any) -> Any:
    return judged.wet & judged.outside & bool(judged.outcomes)


#: What a check of readings only tells of, a whole survey does not pass with.
_PASSES_NOTHING = ("plate_implausible", "plate_unusually_thick")

FINDINGS = (
    *(replace(told, withholds_pass=True) if told.code in _PASSES_NOTHING else told for told in JUDGED_FINDINGS),
    Finding(
        code="unsafe_afloat",
        severity="act",
        statement="In {zone}, in the water or at its line, plate is holed or breaks a limit that calls for action (readings: "
        "{count}).",
        values=("zone", "count"),
        applies=by_zone(lambda judged: judged.wet & (judged.verdicts == Verdict.ACT)),
    ),
    Finding(
        code="may_be_below_already",
        severity="watch",
        statement="The thinnest reading in {zone} ({reading}), {residual_mm} mm, is not below {threshold_mm} mm, but the "
        "gauges' uncertainty leaves a probability of {probability_below_now} that the plate is.",
        values=_NEARLY_BELOW,
        applies=_nearly_below,
    ),
    Finding(
        code="below_asked_limit",
        severity="watch",
        statement="The thinnest reading in {zone} ({reading}), {residual_mm} mm, is below the {threshold_mm} mm that was asked "
        "about.",
        values=_BELOW_ASKED,
        applies=_asked_and_below,
    ),
    Finding(
        code="asked_limit_not_meaningful",
        severity="watch",
        statement="The {threshold_mm} mm that was asked about is not below the {original_mm} mm that {zone} started with: it "
        "says nothing of wear there.",
        values=("zone", "threshold_mm", "original_mm"),
        applies=_asked_and_meaningless,
    ),
    Finding(
        code="limit_soon",
        severity="watch",
        statement="Reading {reading} in {zone} may reach {threshold_mm} mm within a year of the survey: the lower end of its "
        "life is {years_low} years.",
        values=("zone", "reading", "threshold_mm", "years_low"),
        applies=_soon,
    ),
    Finding(
        code="limit_passed_since_survey",
        severity="watch",
        statement="By {as_of} reading {reading} in {zone} is reckoned to have reached {threshold_mm} mm: the survey passes "
        "nothing any more.",
        values=("zone", "reading", "threshold_mm", "as_of"),
        applies=_passed_since,
        withholds_pass=True,
    ),
    Finding(
        code="zone_unread",
        severity="watch",
        statement="Nobody read the shell of {zone} in the water: nothing is known of it. Read it; where the boat has no such "
        "part, state its plating zone by zone instead of by the notation.",
        values=("zone",),
        applies=_each(lambda r: r.assessed.zones_unread, "zone"),
        withholds_pass=True,
    ),
    Finding(
        code="part_unread",
        severity="watch",
        statement="Nobody read the part of {zone} that is plated or named apart:{part}. Read it: it passes nothing.",
        values=("zone", "part"),
        applies=lambda _, r: [Place(values={"zone": part["zone"], "part": _part(part)}) for part in r.assessed.parts_unread],
        withholds_pass=True,
    ),
    Finding(
        code="nothing_read_under_water",
        severity="watch",
        statement="No reading is of the shell under water: every hull has a bottom, and nothing is passed without it.",
        applies=once(lambda _, r: not r.assessed.immersed_read),
        withholds_pass=True,
    ),
    Finding(
        code="wet_plate_outside_rules",
        severity="watch",
        statement="In {zone} no rule that could pass it speaks of plate in the water or at its line (readings: {count}): it is "
        "not judged, and nothing is passed.",
        values=("zone", "count"),
        applies=by_zone(_wet_and_outside),
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
        statement="Not examined: {zone}{part} ({reason}). It can hide worse.",
        values=("zone", "part", "reason"),
        applies=_unexamined,
    ),
    Finding(
        code="original_unknown",
        severity="watch",
        statement="What {zone} was plated with is unknown (readings: {count}): their loss, rate and life cannot be told; "
        "limits on thickness still judge.",
        values=("zone", "count"),
        applies=by_zone(lambda judged: np.isnan(judged.table.original_mm)),
    ),
    Finding(
        code="original_assumed",
        severity="watch",
        statement="That {zone} was plated with {original_mm} mm is assumed: its losses, rates and lives rest on it.",
        values=("zone", "original_mm"),
        applies=_supposed,
    ),
    Finding(
        code="age_unknown",
        severity="watch",
        statement="The age of the plate in {zone} is unknown, or too short to tell a rate (readings: {count}): their rate and "
        "life cannot be told.",
        values=("zone", "count"),
        applies=_of_unknown_age,
    ),
    Finding(
        code="fitted_before_built",
        severity="watch",
        statement="Plate in {zone} is stated to be fitted in {fitted_on}, before the boat was built in {built_on}: its rate "
        "and life rest on the earlier day.",
        values=("zone", "fitted_on", "built_on"),
        applies=_fitted_before_built,
    ),
    Finding(
        code="plate_thicker_than_original",
        severity="note",
        statement="In {zone} plate is thicker than its original (readings: {count}): mills roll over the nominal, and losses "
        "counted from the nominal are then too small.",
        values=("zone", "count"),
        applies=by_zone(lambda judged: below(judged.table.original_mm, judged.table.plate_mm, "mm")),
    ),
    Finding(
        code="no_measurable_loss",
        severity="note",
        statement="No loss is measured at the thinnest reading in {zone}: its life to {threshold_mm} mm has no finite value.",
        values=("zone", "threshold_mm"),
        applies=_at_thinnest(lambda _, limit: limit.status == LifeStatus.NO_MEASURABLE_LOSS, "zone", "threshold_mm"),
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
        applies=_film("unknown_film"),
        withholds_pass=True,
    ),
    Finding(
        code="mode_unknown_through_coating",
        severity="watch",
        statement="The plate was read through a coating of unknown film in an unknown mode: the readings may count the "
        "coating as steel.",
        applies=_film("unknown_mode"),
        withholds_pass=True,
    ),
    Finding(
        code="coating_in_readings",
        severity="watch",
        statement="The readings are through {coating_um} um of coating, not by multiple echo: they count the coating as steel. "
        "Send them corrected, with through_coating false.",
        values=("coating_um",),
        applies=_film("known_film"),
        withholds_pass=True,
    ),
    Finding(
        code="coating_not_stated",
        severity="note",
        statement="Whether the plate was read on bare steel was not stated: through a coating a single echo reads too much.",
        applies=once(lambda a, _: film_not_stated(a["gauge"]), "gauge"),
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
        applies=once(lambda a, _: a["hull"]["construction"] != "welded", "hull", "construction"),
    ),
    Finding(
        code="inside_not_seen",
        severity="note",
        statement="The plate was not stated to be seen from inside: attack from there is not ruled out.",
        applies=once(lambda a, _: not a["inside_seen"], "inside_seen"),
    ),
    *PREVIOUS_SURVEY_FINDINGS,
    *PIT_FINDINGS,
)
