"""Checks of a survey's readings against what the boat was plated with, its age and its own dates."""

from __future__ import annotations

from typing import Any

import numpy as np

from platemargin import survey_findings
from platemargin.consistency import Check, Mask, Places, by_zone, medians, table_of
from platemargin.declared import Arguments, Finding, Place
from platemargin.mill_tolerance import class_a_limits
from platemargin.plating import from_notation
from platemargin.quantities import Floats, at_least, below, rounded
from platemargin.readings import LAYER, ReadingTable
from platemargin.residual_thickness import HOLE_ALLOWANCE_MM, PLATE_ALLOWANCE_MM, over_mill_tolerance, residual_thickness
from platemargin.smooth_reference import keeps_to, resolution_of
from platemargin.zones import APPENDAGES

__all__ = ["PLATE_CHECKS"]

#: A reading over twice what it should be, or below a fifth and finer than the gauge reads, has its decimal point looked for:
#: by a factor of ten it comes to rest within these shares of what it should be. Reference: decimal-point.
_FAR_TOO_THICK, _FAR_TOO_THIN = 2.0, 0.2
_LIKELY_LEAST, _LIKELY_MOST = 0.5, 1.2
#: So many readings tell what is usual in a zone (common practice).
_LEAST_IN_ZONE = 5
_MM_PER_INCH = 25.4
#: No hull is plated thinner than this [mm] (common practice): a survey whose median is below it is in another unit.
_THINNEST_HULL_MM = 0.8
#: More than this [mm/year] is seldom seen (common practice): ask for the original and the age.
MOST_MM_PER_YEAR = 1.0
#: How long a period is [year], by the length of its text: a year, a month, a day.
_PERIOD_YEARS = {4: 1.0, 7: 1 / 12, 10: 0.0}
#: A zone that lost more than this share everywhere, and evenly to another figure of the notation, was perhaps plated with
#: that other figure (common practice: plate is renewed at a quarter, see nvic-7-68).
_EVEN_LOSS = 0.25
#: What the notation does not plate. Reference: plating-notation.
_NOT_IN_NOTATION = (*APPENDAGES, "tank")
_SURVEY_TELLS = {finding.code: finding for finding in survey_findings.FINDINGS}


def _no_original(_arguments: Arguments, result: Any) -> str | None:
    return "no original thickness is known" if np.isnan(table_of(result).original_mm).all() else None


# -- over the mill's tolerance, a lost decimal point, inches --


def _usual(table: ReadingTable) -> Floats:
    """Return what each reading should be near: its original, or what is usual in its zone."""
    return np.where(np.isnan(table.original_mm), medians(table, _LEAST_IN_ZONE), table.original_mm)


def _decimal_lost(_arguments: Arguments, result: Any) -> Mask:
    table = table_of(result)
    plate, usual = table.plate_mm, _usual(table)
    # Plate does wear as thin as a tenth; a gauge of tenths does not read it as 0.58.
    too_thin = (plate < _FAR_TOO_THIN * usual) & ~keeps_to(plate, resolution_of(plate))
    shifted = np.where(plate > _FAR_TOO_THICK * usual, plate / 10, np.where(too_thin, plate * 10, np.nan))
    return np.asarray((shifted >= _LIKELY_LEAST * usual) & (shifted <= _LIKELY_MOST * usual) & (plate > 0))


def _over_mill(arguments: Arguments, result: Any) -> Mask:
    table = table_of(result)
    return over_mill_tolerance(table.original_mm, table.plate_mm) & ~_decimal_lost(arguments, result)


def _mill_unjudged(arguments: Arguments, result: Any) -> str | None:
    if arguments["hull"]["material"] != "steel":
        return "the hull is not of steel: no mill tolerance is known"
    return _no_original(arguments, result)


def _too_thick(arguments: Arguments, result: Any) -> Places:
    if arguments["hull"]["material"] != "steel":
        return ()
    return by_zone(_over_mill, "plate_mm", "original_mm")(arguments, result)


def _no_usual(_arguments: Arguments, result: Any) -> str | None:
    none = np.isnan(_usual(table_of(result))).all()
    return f"no original is known and no zone has {_LEAST_IN_ZONE} readings" if none else None


def _in_inches(_arguments: Arguments, result: Any) -> Mask:
    """Mark the readings of zones whose median is what is plated, in inches; of the whole survey where it is that thin."""
    table = table_of(result)
    all_thin = 0 < np.median(table.plate_mm) < _THINNEST_HULL_MM
    inches = medians(table, 1) * _MM_PER_INCH / table.original_mm
    thin = np.isnan(table.original_mm) & all_thin
    return np.asarray(((inches >= _LIKELY_LEAST) & (inches <= _LIKELY_MOST)) | thin)


# -- the plating --


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
        if len(plate) < _LEAST_IN_ZONE:
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


# -- the age --


def _too_fast(arguments: Arguments, result: Any) -> Mask:
    """Mark what is lost faster even where the mill delivered the least that it may and both gauges read too little.

    Ages are counted from the last day of a period; here the plate is given the whole of the longest that was sent.
    """
    known, table = result.known, table_of(result)
    left = residual_thickness(
        original_mm=table.original_mm,
        plate_mm=table.plate_mm,
        # A pit deeper than its plate is asked about by its own check.
        pit_depth_mm=np.minimum(table.pit_depth_mm, table.plate_mm),
    )
    years = known.years_in_service - known.protected_years + _longest_period(arguments)
    least_loss = left.loss_mm + class_a_limits(table.original_mm)[0] - HOLE_ALLOWANCE_MM
    return np.asarray(rounded(least_loss - MOST_MM_PER_YEAR * np.where(years > 0, years, np.nan), "mm") > 0)


def _longest_period(arguments: Arguments) -> float:
    """Return the longest period that a day of building or fitting was told by [year]."""
    told = [entry.get("fitted_on") for name in ("plating", "readings") for entry in arguments[name]]
    return max(_PERIOD_YEARS[len(text)] for text in ("YYYY-MM-DD", arguments["built_on"], *told) if text)


def _no_age(_arguments: Arguments, result: Any) -> str | None:
    none = np.isnan(result.known.years_in_service + table_of(result).original_mm).all()
    return "no reading has both an original and an age" if none else None


def _no_fitting(arguments: Arguments, _result: Any) -> str | None:
    fitted = any("fitted_on" in entry for name in ("plating", "readings") for entry in arguments[name])
    return None if fitted and arguments["built_on"] else "not both of built_on and a fitted_on were sent"


def _no_greatest_age(arguments: Arguments, _result: Any) -> str | None:
    asked = None not in (arguments["max_survey_age_months"], arguments["as_of"])
    return None if asked else "not both of max_survey_age_months and as_of were sent"


def _too_old(arguments: Arguments, result: Any) -> Places:
    return _SURVEY_TELLS["survey_too_old"].applies(arguments, result) if arguments["as_of"] else ()  # type: ignore[return-value]


PLATE_CHECKS = (
    Check(
        finding=Finding(
            code="plate_over_mill_tolerance",
            severity="watch",
            statement="In {zone} plate is thicker than a mill delivers for its original by EN 10029 class A, by more than the "
            "gauge explains (readings: {count}, the first {reading}: {plate_mm} mm of {original_mm} mm): ask for the original "
            "and for the readings' unit.",
            values=("zone", "reading", "count", "plate_mm", "original_mm"),
            applies=_too_thick,
        ),
        unjudged=_mill_unjudged,
    ),
    Check(
        finding=Finding(
            code="decimal_point_lost",
            severity="watch",
            statement="In {zone} reading {reading} is {plate_mm} mm: moved by one decimal place it would be as the plate there "
            "(readings: {count}). Ask where its decimal point was.",
            values=("zone", "reading", "plate_mm", "count"),
            applies=by_zone(_decimal_lost, "plate_mm"),
        ),
        unjudged=_no_usual,
    ),
    Check(
        finding=Finding(
            code="looks_like_inches",
            severity="watch",
            statement="In {zone} the readings look like inches (readings: {count}, the first {reading}: {plate_mm}): ask for "
            "their unit.",
            values=("zone", "reading", "plate_mm", "count"),
            applies=by_zone(_in_inches, "plate_mm"),
        ),
    ),
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
    Check(
        finding=Finding(
            code="rate_very_high",
            severity="watch",
            statement="In {zone} plate went faster than 1 mm a year (readings: {count}, the first {reading}), even from the "
            "thinnest plate that a mill delivers: ask for the original and the age.",
            values=("zone", "reading", "count"),
            applies=by_zone(_too_fast),
        ),
        unjudged=_no_age,
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
