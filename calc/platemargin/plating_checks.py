"""Checks of what a survey says of its boat: the plating, the notation and the days."""

from __future__ import annotations

from typing import Any

import numpy as np

from platemargin import survey_findings
from platemargin.consistency import LEAST_IN_ZONE, Check, Mask, Places, by_zone, table_of
from platemargin.declared import Arguments, Finding, Place
from platemargin.mill_tolerance import class_a_limits
from platemargin.plating import from_notation
from platemargin.quantities import Floats, at_least, below
from platemargin.readings import LAYER
from platemargin.residual_thickness import PLATE_ALLOWANCE_MM, over_mill_tolerance
from platemargin.zones import APPENDAGES

__all__ = ["PLATING_CHECKS"]

#: A zone that lost more than this share everywhere, and evenly to another figure of the notation, was perhaps plated with
#: that other figure (common practice: plate is renewed at a quarter, see nvic-7-68).
_EVEN_LOSS = 0.25
#: What the notation does not plate. Reference: plating-notation.
_NOT_IN_NOTATION = (*APPENDAGES, "tank")
_SURVEY_TELLS = {finding.code: finding for finding in survey_findings.FINDINGS}


def _unplated(arguments: Arguments, result: Any) -> Mask:
    table = table_of(result)
    plating, notation = arguments["plating"], from_notation(arguments["plating_notation"])
    named = {entry["zone"] for entry in (*plating, *notation)} | ({*_NOT_IN_NOTATION} if notation and not plating else set())
    missing = np.array([zone not in named for zone in table.zone], dtype=bool) & np.isnan(table.original_mm)
    return missing if plating or notation else np.zeros(len(table), dtype=bool)


def _no_plating(arguments: Arguments, _result: Any) -> str | None:
    return None if arguments["plating"] or arguments["plating_notation"] else "no plating was stated"


def _no_notation(arguments: Arguments, _result: Any) -> str | None:
    return None if arguments["plating_notation"] else "no plating notation was sent"


def _notation_contradicted(arguments: Arguments, result: Any) -> Places:
    """Yield each zone that is thicker than its figure delivers, or that is worn evenly to another figure."""
    table = table_of(result)
    figures = {entry["zone"]: entry["original_mm"] for entry in from_notation(arguments["plating_notation"])}
    for zone, rows in table.by_zone(np.flatnonzero(table.layer == LAYER)).items():
        figure = figures.get(zone, np.nan)
        # Where an entry of the plating, or a reading, says otherwise, the notation does not speak.
        plate = table.plate_mm[rows[table.original_mm[rows] == figure]]
        if len(plate) < LEAST_IN_ZONE:
            continue
        if over_mill_tolerance(np.asarray(figure), np.median(plate)) or _evenly_another(plate, figure, set(figures.values())):
            values = {"zone": zone, "median_mm": float(np.median(plate)), "original_mm": figure, "count": len(plate)}
            yield Place(path=("plating_notation",), values={**values, "notation": arguments["plating_notation"]})


def _evenly_another(plate: Floats, figure: float, figures: set[float]) -> bool:
    lower, upper = class_a_limits(np.array(sorted(figures)))
    others = np.array(sorted(figures))
    near = at_least(plate.min(), others + lower - PLATE_ALLOWANCE_MM, "mm") & at_least(
        others + upper + PLATE_ALLOWANCE_MM, plate.max(), "mm"
    )
    return bool((near & (others < figure)).any() and below(plate.max(), (1 - _EVEN_LOSS) * figure, "mm"))


def _no_fitting(arguments: Arguments, _result: Any) -> str | None:
    fitted = any("fitted_on" in entry for name in ("plating", "readings") for entry in arguments[name])
    return None if fitted and arguments["built_on"] else "not both of built_on and a fitted_on were sent"


def _no_greatest_age(arguments: Arguments, _result: Any) -> str | None:
    asked = None not in (arguments["max_survey_age_months"], arguments["as_of"])
    return None if asked else "not both of max_survey_age_months and as_of were sent"


def _too_old(arguments: Arguments, result: Any) -> Places:
    return _SURVEY_TELLS["survey_too_old"].applies(arguments, result) if arguments["as_of"] else ()  # type: ignore[return-value]


PLATING_CHECKS = (
    Check(
        finding=Finding(
            code="zone_unplated",
            severity="watch",
            statement="{zone} was read (readings: {count}) and is not in the plating that was stated: ask what it was plated "
            "with.",
            values=("zone", "count"),
            applies=by_zone(_unplated),
        ),
        unjudged=_no_plating,
    ),
    Check(
        finding=Finding(
            code="notation_contradicted",
            severity="watch",
            statement="By the notation {notation} {zone} was plated with {original_mm} mm; half of its {count} readings are "
            "{median_mm} mm or more, as if it were another figure: ask in which order the figures stand.",
            values=("notation", "zone", "original_mm", "count", "median_mm"),
            applies=_notation_contradicted,
        ),
        unjudged=_no_notation,
    ),
    Check(finding=_SURVEY_TELLS["fitted_before_built"], unjudged=_no_fitting),
    Check(
        finding=Finding(
            code="survey_too_old",
            severity="watch",
            statement="The survey of {surveyed_on} is older than {months} months on {as_of}.",
            values=("surveyed_on", "months", "as_of"),
            applies=_too_old,
        ),
        unjudged=_no_greatest_age,
    ),
)
