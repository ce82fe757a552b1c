"""A survey that is sent within a request, and what two surveys of one hull have to keep between them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from typing import Any, TypedDict

from platemargin.dates import days_of, years_between
from platemargin.declared import Arguments, Assumption, Fault, Place
from platemargin.matching import MOST_CANDIDATES, STATION_TOLERANCE_M, candidates
from platemargin.plating import PLATING_FAULTS
from platemargin.quantities import rounded
from platemargin.readings import READING_ASSUMED, READING_FAULTS, Reading, reading_table

__all__ = [
    "SHORTEST_YEARS",
    "SurveyReadings",
    "between_surveys_faults",
    "fitted_faults",
    "survey_assumed",
    "survey_faults",
    "within",
    "years_apart",
]

#: Surveys nearer to each other than this [year] tell gauges apart, not steel.
SHORTEST_YEARS = 0.1


class SurveyReadings(TypedDict):
    """The day of a survey, and its readings."""

    surveyed_on: date
    readings: Sequence[Reading]


def years_apart(earlier_on: date, later_on: date) -> float:
    """Return the time between two surveys [year], rounded as declared so that the working shows the very time used."""
    return float(rounded(years_between(earlier_on, later_on), "year"))


def survey_faults(name: str) -> tuple[Fault, ...]:
    """Return the faults of the readings of a survey sent as `name`."""
    return tuple(within(fault, name) for fault in READING_FAULTS)


def fitted_faults(name: str) -> tuple[Fault, ...]:
    """Return the faults of the days on which the plates of a survey sent as `name` were fitted."""
    fitted = (fault for fault in PLATING_FAULTS if (fault.field, fault.code) == ("readings", "day_not_possible"))
    return tuple(within(fault, name) for fault in fitted)


def survey_assumed(name: str) -> tuple[Assumption, ...]:
    """Return what is assumed of the readings of a survey sent as `name`: their layer, and pits not measured."""
    used = ("readings[].layer", "readings[].pit_depth_mm")
    return tuple(_assumed_within(assumed, name) for assumed in READING_ASSUMED if assumed.field in used)


def within(fault: Fault, name: str) -> Fault:
    """Return a fault of a request's readings as one of the readings of a survey sent as `name`; none where it is not sent."""

    def broken(arguments: Arguments) -> Iterable[Place]:
        survey = arguments[name]
        found: Iterable[Place] = fault.broken({**arguments, **survey}) if survey else ()  # type: ignore[assignment]
        return [Place(path=(fault.field, *place.path), values=place.values) for place in found]

    return replace(fault, field=name, broken=broken)


def _assumed_within(assumed: Assumption, name: str) -> Assumption:
    def basis(arguments: Arguments, result: Any) -> str:
        return assumed.basis(arguments[name], result) if callable(assumed.basis) else assumed.basis

    return replace(
        assumed,
        field=f"{name}.{assumed.field}",
        basis=basis,
        when=lambda arguments, result: bool(arguments[name]) and assumed.when(arguments[name], result),
    )


def between_surveys_faults(earlier: str, later: str | None) -> tuple[Fault, ...]:
    """Return the faults between two surveys sent as `earlier` and `later`; None = the request itself is the later one."""

    def pair(arguments: Arguments) -> tuple[Any, Any] | None:
        return (arguments[earlier], arguments[later] if later else arguments) if arguments[earlier] else None

    def out_of_time(arguments: Arguments) -> Iterable[Place]:
        if (surveys := pair(arguments)) is None:
            return
        before, after = (survey["surveyed_on"] for survey in surveys)
        if years_apart(before, after) < SHORTEST_YEARS:
            yield Place(path=("surveyed_on",), values={"before": before, "after": after, "shortest": SHORTEST_YEARS})

    def built_since(arguments: Arguments) -> Iterable[Place]:
        built_on = arguments.get("built_on")
        period = days_of(built_on) if built_on else None
        if (surveys := pair(arguments)) and period and period[0] > surveys[0]["surveyed_on"]:
            yield Place(values={"built_on": built_on, "before": surveys[0]["surveyed_on"]})

    def crowded(arguments: Arguments) -> Iterable[Place]:
        if (surveys := pair(arguments)) is None:
            return
        tables = (reading_table(survey["readings"]) for survey in surveys)
        tolerance_m = arguments.get("station_tolerance_m", STATION_TOLERANCE_M)
        count = candidates(*tables, earlier_on=surveys[0]["surveyed_on"], station_tolerance_m=tolerance_m)
        if count > MOST_CANDIDATES:
            yield Place(values={"count": count, "most": MOST_CANDIDATES})

    return (
        Fault(
            field=earlier,
            code="surveys_out_of_order",
            message="the earlier survey, of {before}, has to be before the later one, of {after}, by {shortest} years or more: "
            "a rate needs time",
            broken=out_of_time,
        ),
        Fault(
            field="built_on",
            code="built_after_survey",
            message="a boat built in {built_on} was not there to be surveyed on {before}",
            broken=built_since,
        ),
        Fault(
            field="station_tolerance_m",
            code="too_many_candidates",
            message="{count} pairs of readings are within the tolerance of each other, more than {most}: lower "
            "station_tolerance_m, name zones and sides more narrowly, or give the readings ids that both surveys share",
            broken=crowded,
        ),
    )
