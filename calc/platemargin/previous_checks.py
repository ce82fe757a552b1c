"""Checks of a survey beside the one before it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from platemargin.consistency import Check, Places
from platemargin.declared import Arguments, Finding, Place

__all__ = ["PREVIOUS_CHECKS"]


def _told(name: str, *values: str) -> Callable[[Arguments, Any], Places]:
    """Return one place for each pattern of a kind, with some of its members and the day of the previous survey."""

    def applies(_arguments: Arguments, result: Any) -> Places:
        previous = result.patterns.previous
        for found in getattr(previous, name, ()):
            path = ("previous_survey",) if found.row is None else ("readings", found.row)
            yield Place(path=path, values={"past": previous.surveyed_on, **{value: getattr(found, value) for value in values}})

    return applies


def _unjudged(name: str, why: str) -> Callable[[Arguments, Any], str | None]:
    def unjudged(arguments: Arguments, result: Any) -> str | None:
        previous = result.patterns.previous
        if not arguments["previous_survey"]:
            return "no previous survey was sent"
        if previous is None:
            return "the two surveys cannot be matched as they were sent; what is at fault is told"
        return None if getattr(previous, name) else why

    return unjudged


_NONE_MATCHED = "no plate of the previous survey was read again at the same place"

PREVIOUS_CHECKS = (
    Check(
        finding=Finding(
            code="repeats_previous",
            severity="watch",
            statement="In {where} {equal} of {places} places read exactly as at the survey of {past}: a gauge does not repeat "
            "itself so often. Ask whether one survey's readings were sent for the other's.",
            values=("where", "equal", "places", "past"),
            applies=_told("repeated", "where", "equal", "places"),
        ),
        unjudged=_unjudged("repeated_judged", "too few places were read again, or too coarsely, to tell repeats from chance"),
    ),
    Check(
        finding=Finding(
            code="previous_in_other_unit",
            severity="watch",
            statement="In {zone} plate reads about {times} what the survey of {past} read there (readings: {count}, the first "
            "{reading}: {plate_mm} mm where {previous_mm} mm was read): ask for the unit and the decimal points of both.",
            values=("zone", "times", "past", "count", "reading", "plate_mm", "previous_mm"),
            applies=_told("in_other_unit", "zone", "times", "count", "reading", "plate_mm", "previous_mm"),
        ),
        unjudged=_unjudged("places", _NONE_MATCHED),
    ),
    Check(
        finding=Finding(
            code="lost_too_fast_since_previous",
            severity="watch",
            statement="In {zone} plate was lost faster than 1 mm a year in the {years} years since the survey of {past}, by "
            "more than gauges explain (readings: {count}, the most at {reading}: {plate_mm} mm where {previous_mm} mm was "
            "read). Ask whether both read the same place, and the same plate.",
            values=("zone", "years", "past", "count", "reading", "plate_mm", "previous_mm"),
            applies=_told("too_fast", "zone", "years", "count", "reading", "plate_mm", "previous_mm"),
        ),
        unjudged=_unjudged("places", _NONE_MATCHED),
    ),
    Check(
        finding=Finding(
            code="thicker_than_previous",
            severity="watch",
            statement="In {where} plate reads thicker than at the survey of {past} at {count} of {places} places, there by "
            "{thicker_mm} mm in the mean: more than the gauges and their setting explain, and steel does not grow. Ask how "
            "each survey was read, and whether plate was renewed.",
            values=("where", "past", "count", "places", "thicker_mm"),
            applies=_told("thicker", "where", "count", "places", "thicker_mm"),
        ),
        unjudged=_unjudged("thicker_judged", "too few places were read again in one unit to tell growth from single slips"),
    ),
)
