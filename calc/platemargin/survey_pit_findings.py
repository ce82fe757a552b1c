"""What a survey's answer tells of the pits that nobody measured."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from enum import IntEnum
from typing import Any

from platemargin import deepest_pit as room
from platemargin.declared import Arguments, Finding, Place
from platemargin.quantities import at_least, below

__all__ = ["PIT_FINDINGS"]


def _of_zones(told: Finding) -> Finding:
    """Turn a finding of one sample of pits into the same of each zone that has one."""

    def applies(_arguments: Arguments, result: Any) -> Iterable[Place]:
        for zone, sampled in result.pits.items():
            if sampled.found is not None:
                for place in told.applies(sampled.asked, sampled.found):  # type: ignore[union-attr]
                    yield Place(path=("plating", sampled.plating_index), values={"zone": zone, **place.values})

    statement = "The pits sampled in {zone}: " + told.statement
    return replace(told, statement=statement, values=("zone", *told.values), field=None, applies=applies)


class _Reach(IntEnum):
    """How far the deepest pit may go into the plate."""

    KEEPS_LIMITS = 0
    BREAKS_A_LIMIT = 1
    HOLES = 2


def _extrapolated(reach: _Reach) -> Callable[[Arguments, Any], Iterable[Place]]:
    """Return a place for each zone whose deepest pit, read or not, may reach so far into its plate and no further.

    Where every patch was read, each pit is judged as it was read, and nothing more is to be told.
    """

    def applies(_arguments: Arguments, result: Any) -> Iterable[Place]:
        for zone in result.zones:
            found = zone.deepest_pit
            if found is None or found.upper_mm is None or found.unread_patches == 0:
                continue
            sampled = result.pits[zone.zone]
            left = max(sampled.asked["plate_mm"] - found.upper_mm, 0.0)
            limit = max((told.threshold_mm for told in zone.thresholds), default=0.0)
            if _reach(left, limit) == reach:
                values = {
                    "zone": zone.zone,
                    "inspected_percent": found.inspected_percent,
                    "most_likely_mm": found.most_likely_mm,
                    "upper_mm": found.upper_mm,
                    "plate_mm": sampled.asked["plate_mm"],
                    "left_mm": left,
                    "limit_mm": limit,
                    "confidence_percent": 100 * sampled.asked["confidence"],
                    "probability_holed": round(found.probability_holed, 6),
                }
                yield Place(path=("plating", sampled.plating_index), values=values)

    return applies


def _reach(left_mm: float, limit_mm: float) -> _Reach:
    if at_least(0.0, left_mm, "mm"):
        return _Reach.HOLES
    return _Reach.BREAKS_A_LIMIT if below(left_mm, limit_mm, "mm") else _Reach.KEEPS_LIMITS


def _none(_arguments: Arguments, result: Any) -> Iterable[Place]:
    for zone, sampled in result.pits.items():
        if sampled.found is None:
            yield Place(path=("plating", sampled.plating_index), values={"zone": zone, "why": sampled.why_not})


#: What a survey tells of its holes, and of the deepest pit above, is not told again.
_TOLD_ALREADY = ("pit_through_plate", "may_be_holed")
_OF_THE_DEEPEST = (
    "zone",
    "inspected_percent",
    "most_likely_mm",
    "upper_mm",
    "plate_mm",
    "confidence_percent",
    "probability_holed",
)
_DEEPEST = (
    "The deepest pit in {zone}, of which {inspected_percent} % was read, is most likely {most_likely_mm} mm deep and at "
    "{confidence_percent} % confidence not over {upper_mm} mm, in plate of {plate_mm} mm where it was thinnest"
)

PIT_FINDINGS = (
    Finding(
        code="unread_pit_may_hole",
        severity="watch",
        statement=f"{_DEEPEST}: it may go through (probability {{probability_holed}}). Nothing is passed.",
        values=_OF_THE_DEEPEST,
        applies=_extrapolated(_Reach.HOLES),
        withholds_pass=True,
    ),
    Finding(
        code="unread_pit_may_break_limit",
        severity="watch",
        statement=f"{_DEEPEST}: what is left under it, {{left_mm}} mm, may be below the limit of {{limit_mm}} mm "
        "(probability of a hole {probability_holed}). Nothing is passed.",
        values=(*_OF_THE_DEEPEST, "left_mm", "limit_mm"),
        applies=_extrapolated(_Reach.BREAKS_A_LIMIT),
        withholds_pass=True,
    ),
    Finding(
        code="unread_pit",
        severity="note",
        statement=f"{_DEEPEST} (probability of a hole {{probability_holed}}).",
        values=_OF_THE_DEEPEST,
        applies=_extrapolated(_Reach.KEEPS_LIMITS),
    ),
    Finding(
        code="pits_not_extrapolated",
        severity="note",
        statement="Of the pits sampled in {zone} nothing is told: {why}.",
        values=("zone", "why"),
        applies=_none,
    ),
    *(_of_zones(told) for told in room.FINDINGS if told.code not in _TOLD_ALREADY),
)
