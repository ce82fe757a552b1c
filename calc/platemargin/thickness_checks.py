"""Checks of single readings: against their original, what is usual in their zone, and their age."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from platemargin.consistency import (
    LEAST_IN_ZONE,
    MM_PER_INCH,
    MOST_MM_PER_YEAR,
    Check,
    Mask,
    by_zone,
    likely_left,
    medians,
    table_of,
)
from platemargin.declared import Arguments, Finding
from platemargin.judged_findings import JUDGED_FINDINGS, implausible, unusually_thick
from platemargin.mill_tolerance import class_a_limits
from platemargin.quantities import Floats, below, rounded
from platemargin.readings import ReadingTable
from platemargin.residual_thickness import HOLE_ALLOWANCE_MM, over_mill_tolerance, residual_thickness
from platemargin.smooth_reference import keeps_to, resolution_of

__all__ = ["THICKNESS_CHECKS"]

#: A reading over twice what it should be, or below a fifth and finer than the gauge reads, has its decimal point looked for.
#: Reference: decimal-point.
_FAR_TOO_THICK, _FAR_TOO_THIN = 2.0, 0.2
#: No hull is plated thinner than this [mm] (common practice): a survey whose median is below it is in another unit.
_THINNEST_HULL_MM = 0.8
#: How long a period is [year], by the length of its text: a year, a month, a day.
_PERIOD_YEARS = {4: 1.0, 7: 1 / 12, 10: 0.0}
_JUDGED_TELL = {finding.code: finding for finding in JUDGED_FINDINGS}


def _no_original(_arguments: Arguments, result: Any) -> str | None:
    return "no original thickness is known" if np.isnan(table_of(result).original_mm).all() else None


def _usual(table: ReadingTable) -> Floats:
    """Return what each reading should be near: its original, or what is usual in its zone."""
    return np.where(np.isnan(table.original_mm), medians(table, LEAST_IN_ZONE), table.original_mm)


def _decimal_lost(_arguments: Arguments, result: Any) -> Mask:
    table = table_of(result)
    plate, usual = table.plate_mm, _usual(table)
    # Plate does wear as thin as a tenth; a gauge of tenths does not read it as 0.58.
    too_thin = below(plate, _FAR_TOO_THIN * usual, "mm") & ~keeps_to(plate, resolution_of(plate))
    shifted = np.where(below(_FAR_TOO_THICK * usual, plate, "mm"), plate / 10, np.where(too_thin, plate * 10, np.nan))
    return likely_left(shifted, usual)


def _over_mill(arguments: Arguments, result: Any) -> Mask:
    table, of_steel = table_of(result), arguments["hull"]["material"] == "steel"
    over = over_mill_tolerance(table.original_mm, table.plate_mm) & ~_decimal_lost(arguments, result)
    return np.asarray(over & of_steel)


def _mill_unjudged(arguments: Arguments, result: Any) -> str | None:
    if arguments["hull"]["material"] != "steel":
        return "the hull is not of steel: no mill tolerance is known"
    return _no_original(arguments, result)


def _implausible(arguments: Arguments, result: Any) -> Mask:
    told = _decimal_lost(arguments, result) | _over_mill(arguments, result)
    return implausible(table_of(result)) & ~told


def _unusually_thick(arguments: Arguments, result: Any) -> Mask:
    return unusually_thick(table_of(result)) & ~_decimal_lost(arguments, result)


def _all_original(_arguments: Arguments, result: Any) -> str | None:
    none = not np.isnan(table_of(result).original_mm).any()
    return "every original is known: readings are held against it" if none else None


def _no_usual(_arguments: Arguments, result: Any) -> str | None:
    none = np.isnan(_usual(table_of(result))).all()
    return f"no original is known and no zone has {LEAST_IN_ZONE} readings" if none else None


def _in_inches(_arguments: Arguments, result: Any) -> Mask:
    """Mark the readings of zones whose median is what is plated, in inches; of every zone where the survey is that thin."""
    table = table_of(result)
    all_thin = 0 < np.median(table.plate_mm) < _THINNEST_HULL_MM
    inches = medians(table, 1) * MM_PER_INCH
    return likely_left(inches, table.original_mm) | bool(all_thin)


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


THICKNESS_CHECKS = (
    Check(
        finding=Finding(
            code="plate_over_mill_tolerance",
            severity="watch",
            statement="In {zone} plate is thicker than a mill delivers for its original by EN 10029 class A, by more than the "
            "gauge explains (readings: {count}, the first {reading}: {plate_mm} mm of {original_mm} mm): ask for the original "
            "and for the readings' unit.",
            values=("zone", "reading", "count", "plate_mm", "original_mm"),
            applies=by_zone(_over_mill, "plate_mm", "original_mm"),
        ),
        unjudged=_mill_unjudged,
    ),
    Check(
        finding=Finding(
            code="decimal_point_lost",
            severity="watch",
            statement="In {zone} reading {reading} is {plate_mm} mm: moved by one decimal place it would be as the plate there "
            "(readings: {count}). Ask where its decimal point was, or its original's.",
            values=("zone", "reading", "plate_mm", "count"),
            applies=by_zone(_decimal_lost, "plate_mm"),
        ),
        unjudged=_no_usual,
    ),
    # What is usual in a zone says nothing where all of it was slipped alike.
    Check(finding=replace(_JUDGED_TELL["plate_implausible"], applies=by_zone(_implausible))),
    Check(
        finding=replace(_JUDGED_TELL["plate_unusually_thick"], applies=by_zone(_unusually_thick)),
        unjudged=_all_original,
    ),
    Check(
        finding=Finding(
            code="looks_like_inches",
            severity="watch",
            statement="In {zone} the readings look like inches, or another unit than mm (readings: {count}, the first "
            "{reading}: {plate_mm}): ask for their unit.",
            values=("zone", "reading", "plate_mm", "count"),
            applies=by_zone(_in_inches, "plate_mm"),
        ),
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
)
