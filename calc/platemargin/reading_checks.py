"""Checks of what was read, how often, and of the values among themselves."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any

import numpy as np

from platemargin.consistency import Check, Places, in_water, table_of
from platemargin.declared import Arguments, Finding, Place
from platemargin.readings import HULL_SIDES, READING_FINDINGS, contradicted_exposures
from platemargin.sampling import FEW_CONFIDENCE, FEW_FRACTION, readings_needed
from platemargin.value_patterns import LEAST_JUDGED

__all__ = ["FEW_READINGS", "READING_CHECKS"]

#: If a tenth of a zone is attacked, so many readings at places taken at random meet it with 95 %. Reference: few-readings.
FEW_READINGS = readings_needed(FEW_FRACTION, FEW_CONFIDENCE)
#: More area than this [m2] to a reading is thin cover (common practice).
MOST_M2_PER_READING = 2.0
_READINGS_TELL = {finding.code: finding for finding in READING_FINDINGS}


def _dry(_arguments: Arguments, result: Any) -> str | None:
    return None if in_water(table_of(result)).any() else "nothing was read in the water"


def _sides_unread(_arguments: Arguments, result: Any) -> Places:
    table = table_of(result)
    wet = in_water(table)
    return [Place(values={"side": side}) for side in HULL_SIDES if wet.any() and side not in table.side[wet]]


def _few(_arguments: Arguments, result: Any) -> Places:
    table = table_of(result)
    for zone, rows in table.by_zone(np.flatnonzero(in_water(table))).items():
        if len(rows) < FEW_READINGS:
            yield Place(path=("readings", int(rows[0])), values={"zone": zone, "count": len(rows), "few": FEW_READINGS})


def _few_for_area(arguments: Arguments, result: Any) -> Places:
    """Yield each zone of stated area that has fewer readings than the area asks for; its parts are added up."""
    table = table_of(result)
    areas: dict[str, float] = {}
    for entry in arguments["plating"]:
        areas[entry["zone"]] = areas.get(entry["zone"], 0.0) + entry.get("area_m2", 0.0)
    for zone, rows in table.by_zone(np.flatnonzero(in_water(table))).items():
        if areas.get(zone, 0.0) > MOST_M2_PER_READING * len(rows):
            values = {"zone": zone, "area_m2": areas[zone], "count": len(rows)}
            yield Place(path=("readings", int(rows[0])), values={**values, "most": MOST_M2_PER_READING})


def _no_area(arguments: Arguments, _result: Any) -> str | None:
    return None if any("area_m2" in entry for entry in arguments["plating"]) else "no area was stated"


def _patterns(name: str, *values: str) -> Callable[[Arguments, Any], Places]:
    """Return one place for each pattern of a kind, with some of its members."""

    def applies(_arguments: Arguments, result: Any) -> Places:
        for found in _as_many(getattr(result.patterns, name)):
            row = getattr(found, "row", None)
            told = {value: getattr(found, value) for value in values}
            told |= {name: round(value, 1) for name, value in told.items() if isinstance(value, float)}
            yield Place(path=() if row is None else ("readings", row), values=told)

    return applies


def _as_many(found: Any) -> Iterable[Any]:
    return found if isinstance(found, tuple) else [found] if found else []


def _too_few(name: str, least: int, why: str) -> Callable[[Arguments, Any], str | None]:
    return lambda _arguments, result: why if getattr(result.patterns, name) < least else None


READING_CHECKS = (
    Check(
        finding=Finding(
            code="side_unread",
            severity="watch",
            statement="No reading in the water is stated to be of the {side} side: ask for that side, or for the sides.",
            values=("side",),
            applies=_sides_unread,
        ),
        unjudged=_dry,
    ),
    Check(finding=_READINGS_TELL["unknown_zone"]),
    Check(
        finding=replace(
            _READINGS_TELL["exposure_contradicts_zone"],
            statement="{zone} is stated to be {exposure} (readings: {count}), but {meant} is under water: ask which of the two "
            "is right.",
            applies=lambda _, result: contradicted_exposures(table_of(result)),
        ),
    ),
    Check(
        finding=Finding(
            code="values_repeat",
            severity="watch",
            statement="In {where} the same values repeat more often than readings of that spread and resolution do: "
            "{pairs} equal pairs among {readings} readings, where about {pairs_expected} are usual. Ask for the gauge's own "
            "record.",
            values=("where", "pairs", "readings", "pairs_expected"),
            applies=_patterns("repeats", "where", "pairs", "readings", "pairs_expected"),
        ),
        unjudged=_too_few(
            "readings_judged",
            LEAST_JUDGED,
            f"fewer than {LEAST_JUDGED} readings stand in groups whose spread can be judged at its resolution",
        ),
    ),
    Check(
        finding=Finding(
            code="no_spread",
            severity="watch",
            statement="In {where} {equal} of {readings} readings have the commonest value of their zone's plate: plate "
            "scatters more, and so fine a reading shows it. Ask for the gauge's own record, and how many places were read.",
            values=("where", "equal", "readings"),
            applies=_patterns("no_spread", "where", "equal", "readings"),
        ),
        unjudged=_too_few(
            "spread_judged", 1, "no plate was read often and finely enough (0.2 mm or finer) for its readings to show scatter"
        ),
    ),
    Check(
        finding=Finding(
            code="last_digits_improbable",
            severity="watch",
            statement="The last digits are not as those of a smooth spread of readings: {digit} ends {count} of {readings} "
            "readings, where about {count_expected} are usual. Ask for the gauge's own record.",
            values=("digit", "count", "readings", "count_expected"),
            applies=_patterns("last_digits", "digit", "count", "readings", "count_expected"),
        ),
        unjudged=_too_few(
            "digits_judged",
            LEAST_JUDGED,
            f"fewer than {LEAST_JUDGED} readings are in groups of which digits can be judged",
        ),
    ),
    Check(
        finding=Finding(
            code="sides_alike",
            severity="watch",
            statement="In {zone} port and starboard read the same at {equal} of {pairs} places: plate on two sides seldom "
            "does. Ask whether one side was copied from the other.",
            values=("zone", "equal", "pairs"),
            applies=_patterns("sides", "zone", "equal", "pairs"),
        ),
        unjudged=_too_few("sides_judged", 1, "no zone was read at enough places on both sides"),
    ),
    Check(
        finding=Finding(
            code="runs_alike",
            severity="watch",
            statement="{length} readings in a row in {zone} are those of {other}, in the same order: ask whether one was "
            "copied from the other.",
            values=("length", "zone", "other"),
            applies=_patterns("runs", "length", "zone", "other"),
        ),
        unjudged=_too_few("runs_judged", 1, "no two zones have enough readings in a row"),
    ),
    Check(
        finding=Finding(
            code="few_readings",
            severity="note",
            statement="{zone} was read at few places (readings: {count}): under {few} they miss attack on a tenth of it too "
            "often (common practice).",
            values=("zone", "count", "few"),
            applies=_few,
        ),
        unjudged=_dry,
    ),
    Check(
        finding=Finding(
            code="few_readings_for_area",
            severity="note",
            statement="{zone} was read at few places for its {area_m2} m2 (readings: {count}): over {most} m2 to a reading is "
            "thin cover (common practice).",
            values=("zone", "count", "area_m2", "most"),
            applies=_few_for_area,
        ),
        unjudged=_no_area,
    ),
)
