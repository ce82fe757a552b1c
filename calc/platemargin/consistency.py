"""What the checks of a survey's consistency share: a check as data, and the readings that it looks at.

A check asks; it accuses nobody. Its finding's predicate takes the arguments of a survey and a result that has `known`, the
readings with what the plating says of each (`Plated`), and `patterns`, what the values say among themselves (`Patterns`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

from platemargin.declared import Arguments, Finding, Place
from platemargin.quantities import Floats, at_least
from platemargin.readings import ReadingTable
from platemargin.rules import RULE_EXPOSURES

__all__ = [
    "LEAST_IN_ZONE",
    "MM_PER_INCH",
    "MOST_MM_PER_YEAR",
    "NEARLY_ALL",
    "REPEATABILITY_MM",
    "Check",
    "Mask",
    "Places",
    "by_zone",
    "in_water",
    "likely_left",
    "medians",
    "table_of",
]

#: So many readings tell what is usual in a zone (common practice).
LEAST_IN_ZONE = 5
MM_PER_INCH = 25.4
#: More than this [mm/year] is seldom seen (common practice): ask how it was read. Reference: fast-rate.
MOST_MM_PER_YEAR = 1.0
#: So large a share of some readings is nearly all of them (common practice).
NEARLY_ALL = 0.9
#: How closely a gauge repeats on one place [mm, standard deviation]: half a step of a tenth (common practice).
REPEATABILITY_MM = 0.05
#: A slip of unit or decimal point undone, a thickness comes to rest within these shares of what it should be. Reference:
#: decimal-point.
_LIKELY_LEAST, _LIKELY_MOST = 0.5, 1.2

Mask: TypeAlias = npt.NDArray[np.bool_]
Places: TypeAlias = Iterable[Place]


@dataclass(frozen=True, kw_only=True)
class Check:
    """One question to a survey. `unjudged` says why it cannot be asked of this one; None where it can."""

    finding: Finding
    unjudged: Callable[[Arguments, Any], str | None] = lambda _arguments, _result: None


def table_of(result: Any) -> ReadingTable:
    """Return the readings with what the plating says of each."""
    table: ReadingTable = result.known.table
    return table


def in_water(table: ReadingTable) -> Mask:
    """Mark the readings of plate in the water or at its line; an overplate's say nothing of the shell."""
    return np.asarray(np.isin(table.exposure, RULE_EXPOSURES) & (table.layer != "overplate"), dtype=bool)


def by_zone(mark: Callable[[Arguments, Any], Mask], *columns: str) -> Callable[[Arguments, Any], Places]:
    """Return a predicate with one place for each zone that has a marked reading: the first such, and how many there are.

    `columns` are what of that reading is told, by the names of the table's columns.
    """

    def applies(arguments: Arguments, result: Any) -> Places:
        table = table_of(result)
        for zone, rows in table.by_zone(np.flatnonzero(mark(arguments, result))).items():
            row = int(rows[0])
            values = {"zone": zone, "reading": str(table.id[row]), "count": len(rows)}
            values |= {name: float(getattr(table, name)[row]) for name in columns}
            yield Place(path=("readings", row), values=values)

    return applies


def medians(table: ReadingTable, least: int) -> Floats:
    """Return for each reading the median plate of its zone's readings; NaN where the zone has fewer than `least`."""
    found = np.full(len(table), np.nan)
    for rows in table.by_zone(np.arange(len(table))).values():
        if len(rows) >= least:
            found[rows] = np.median(table.plate_mm[rows])
    return found


def likely_left(plate_mm: Floats, usual_mm: Floats) -> Mask:
    """Tell whether a thickness may be what is left, or a little more, of what is usual."""
    return at_least(plate_mm, _LIKELY_LEAST * usual_mm, "mm") & at_least(_LIKELY_MOST * usual_mm, plate_mm, "mm")
