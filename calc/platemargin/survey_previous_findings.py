"""What a survey's answer tells of the survey before it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from platemargin.corrosion_rate import Governing
from platemargin.declared import Arguments, Finding, Place

__all__ = ["PREVIOUS_SURVEY_FINDINGS"]


def _governed(*, significant: bool) -> Any:
    """Return a place for each zone whose thinnest reading is governed by the rate since the previous survey."""

    def applies(_arguments: Arguments, result: Any) -> Iterable[Place]:
        for zone in result.zones:
            if zone.rate_governing == Governing.SHORT_TERM and zone.short_term_significant == significant:
                values = {"zone": zone.zone, "reading": zone.thinnest_reading, "rate_mm_per_year": zone.rate_mm_per_year}
                yield Place(path=("readings", zone.thinnest_reading_index), values=values)

    return applies


def _readings(of: str) -> Any:
    """Return a place for each zone with readings of which something holds beside the previous survey, at the first of them."""

    def applies(_arguments: Arguments, result: Any) -> Iterable[Place]:
        table, previous = result.judged.table, result.previous_survey
        if previous is None:
            return
        for zone, rows in table.by_zone(np.flatnonzero(getattr(previous, of))).items():
            first = int(rows[0])
            yield Place(path=("readings", first), values={"zone": zone, "count": len(rows), "reading": str(table.id[first])})

    return applies


def _zones_grown(_arguments: Arguments, result: Any) -> Iterable[Place]:
    previous = result.previous_survey
    for zone in previous.zones_grew if previous else ():
        yield Place(path=("previous_survey",), values={"zone": zone, "past": previous.surveyed_on})


def _lost_fast(_arguments: Arguments, result: Any) -> Iterable[Place]:
    """Yield each zone with places, not its thinnest, that lost more since than their life and chance explain."""
    previous, table = result.previous_survey, result.judged.table
    if previous is None:
        return
    rate = previous.rate_mm_per_year
    thinnest = [zone.thinnest_reading_index for zone in result.zones]
    fast = np.setdiff1d(np.flatnonzero(previous.lost), thinnest)
    for zone, rows in table.by_zone(fast).items():
        worst = int(rows[np.argmax(rate[rows])])
        values = {"zone": zone, "count": len(rows), "reading": str(table.id[worst]), "rate_mm_per_year": float(rate[worst])}
        yield Place(path=("readings", worst), values=values)


def _broken_before(_arguments: Arguments, result: Any) -> Iterable[Place]:
    previous = result.previous_survey
    if previous is None:
        return
    for zone, rows in previous.judged.table.by_zone(previous.unsettled).items():
        first = int(rows[np.argmin(previous.judged.plate.residual_mm[rows])])
        values = {
            "zone": zone,
            "count": len(rows),
            "reading": str(previous.judged.table.id[first]),
            "residual_mm": float(previous.judged.plate.residual_mm[first]),
            "past": previous.surveyed_on,
        }
        yield Place(path=("previous_survey", "readings", first), values=values)


def _unread(_arguments: Arguments, result: Any) -> Iterable[Place]:
    previous = result.previous_survey
    if previous is not None and 0 < len(previous.unread) < len(previous.judged.table):
        values = {"count": len(previous.unread), "readings": len(previous.judged.table), "past": previous.surveyed_on}
        yield Place(path=("previous_survey",), values=values)


def _none_matched(_arguments: Arguments, result: Any) -> Iterable[Place]:
    previous = result.previous_survey
    if previous is not None and len(previous.unread) == len(previous.judged.table):
        yield Place(path=("previous_survey",), values={"past": previous.surveyed_on})


_OF_A_RATE = ("zone", "reading", "rate_mm_per_year")

PREVIOUS_SURVEY_FINDINGS = (
    Finding(
        code="faster_than_over_its_life",
        severity="watch",
        statement="The thinnest plate in {zone} (reading {reading}) has lost {rate_mm_per_year} mm/year since the previous "
        "survey, more than over its life and more than the gauges explain: look for what changed.",
        values=_OF_A_RATE,
        applies=_governed(significant=True),
    ),
    Finding(
        code="short_term_not_significant",
        severity="watch",
        statement="The rate since the previous survey, {rate_mm_per_year} mm/year, governs at the thinnest plate in {zone} "
        "(reading {reading}) but is within the uncertainty of two readings: it may be chance.",
        values=_OF_A_RATE,
        applies=_governed(significant=False),
    ),
    Finding(
        code="reading_grew",
        severity="watch",
        statement="In {zone} plate reads thicker than at the previous survey, by more than the gauges explain (readings: "
        "{count}, the first {reading}): one of the two readings, or its place, is wrong.",
        values=("zone", "count", "reading"),
        applies=_readings("grew"),
    ),
    Finding(
        code="zone_grew",
        severity="watch",
        statement="In {zone} the plate as a whole reads thicker than at the survey of {past}, by more than the gauges and "
        "their setting explain: one of the two surveys reads wrong. Nothing is passed until that is settled.",
        values=("zone", "past"),
        applies=_zones_grown,
        withholds_pass=True,
    ),
    Finding(
        code="pit_not_measured_again",
        severity="watch",
        statement="In {zone} a pit was measured at the previous survey and none now (readings: {count}, the first {reading}): "
        "a pit does not heal. Measure it, or send a depth of 0 where it was filled. Nothing is passed until then.",
        values=("zone", "count", "reading"),
        applies=_readings("pit_not_again"),
        withholds_pass=True,
    ),
    Finding(
        code="pit_not_measured_before",
        severity="note",
        statement="In {zone} a pit was measured now and none at the previous survey (readings: {count}, the first {reading}): "
        "the rate since then sets a pit against plate, and may be too high.",
        values=("zone", "count", "reading"),
        applies=_readings("pit_not_before"),
    ),
    Finding(
        code="place_lost_fast",
        severity="watch",
        statement="In {zone} plate that is not its thinnest went faster since the previous survey than over its life "
        "(readings: {count}, the fastest {reading} at {rate_mm_per_year} mm/year), by more than the gauges "
        "explain: look for what changed there.",
        values=("zone", "count", "reading", "rate_mm_per_year"),
        applies=_lost_fast,
    ),
    Finding(
        code="limit_broken_before",
        severity="watch",
        statement="In {zone} the survey of {past} read plate that breaks a limit (readings: {count}, the thinnest {reading} "
        "with {residual_mm} mm), and this one shows there neither that plate nor one fitted since: nothing is passed until "
        "that is settled.",
        values=("zone", "past", "count", "reading", "residual_mm"),
        applies=_broken_before,
        withholds_pass=True,
    ),
    Finding(
        code="previous_places_unread",
        severity="note",
        statement="{count} of {readings} readings of the survey of {past} are of places that were not read now, or whose plate "
        "is another.",
        values=("count", "readings", "past"),
        applies=_unread,
    ),
    Finding(
        code="previous_not_matched",
        severity="watch",
        statement="No reading of the survey of {past} is of a place read now: give readings of one place the same id in both, "
        "or zone, side and station. No rate since then is told.",
        values=("past",),
        applies=_none_matched,
    ),
)
