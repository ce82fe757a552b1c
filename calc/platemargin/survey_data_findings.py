"""What a survey's answer tells of its data: whether they are believable, and how much of the plate they speak for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import numpy as np

from platemargin.consistency import in_water
from platemargin.consistency_checks import CONSISTENCY_FINDINGS
from platemargin.declared import Arguments, Finding, Place
from platemargin.sampling import FEW_CONFIDENCE, FEW_FRACTION, missed_fraction_upper, readings_needed

__all__ = ["DATA_FINDINGS"]

#: What is asked of the readings themselves: until it is answered they pass nothing.
_OF_THE_VALUES = (
    "decimal_point_lost",
    "looks_like_inches",
    "values_repeat",
    "no_spread",
    "last_digits_improbable",
    "sides_alike",
    "runs_alike",
    "repeats_previous",
    "previous_in_other_unit",
)
#: What is asked of what they were held against: it bears on losses and rates, and no limit on thickness passes by it.
_OF_THE_PLATING = ("notation_contradicted", "zone_unplated", "rate_very_high", "few_readings_for_area")


def _few(_arguments: Arguments, result: Any) -> Iterable[Place]:
    few = readings_needed(FEW_FRACTION, FEW_CONFIDENCE)
    table = result.known.table
    for zone, rows in table.by_zone(np.flatnonzero(in_water(table))).items():
        if len(rows) < few:
            values = {
                "zone": zone,
                "count": len(rows),
                "missed_percent": 100 * missed_fraction_upper(len(rows), FEW_CONFIDENCE),
                "confidence_percent": 100 * FEW_CONFIDENCE,
                "few": few,
                "few_percent": 100 * FEW_FRACTION,
            }
            yield Place(path=("readings", int(rows[0])), values=values)


def _asked(told: Finding) -> Finding:
    if told.code not in _OF_THE_VALUES:
        return told
    return replace(told, statement=f"{told.statement} Nothing is passed until it is answered.", withholds_pass=True)


DATA_FINDINGS = (
    *(_asked(told) for told in CONSISTENCY_FINDINGS if told.code in (*_OF_THE_VALUES, *_OF_THE_PLATING)),
    Finding(
        code="few_readings",
        severity="note",
        statement="{zone} was read at few places (readings: {count}): even were they placed at random and all sound, up to "
        "{missed_percent} % of it could be attacked unseen ({confidence_percent} % confidence); {few} readings bring that to "
        "{few_percent} %.",
        values=("zone", "count", "missed_percent", "confidence_percent", "few", "few_percent"),
        applies=_few,
    ),
)
