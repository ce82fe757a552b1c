"""What a survey says besides its zones: what was looked at, each reading, other originals, the reading that decides."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from platemargin.plate_margin import PlateMargin
from platemargin.plating import from_notation
from platemargin.quantities import Array, Floats
from platemargin.readings import LAYER, zone_exposure
from platemargin.residual_thickness import PlateState, residual_thickness
from platemargin.rules import RULE_EXPOSURES
from platemargin.survey import Survey, Unexamined, known_or_none
from platemargin.survey_zones import ZoneResult
from platemargin.zones import EXPOSURES

__all__ = [
    "Assessed",
    "Governing",
    "ReadingResults",
    "WhatIf",
    "assessed_of",
    "governing_of",
    "reading_results_of",
    "what_if_of",
]

_SIDES = ("port", "starboard")


@dataclass(frozen=True, kw_only=True)
class Assessed:
    """What was looked at, and what was not."""

    zones_unread: tuple[str, ...]
    sides_unread: tuple[str, ...]
    unexamined: tuple[Unexamined, ...]
    area_per_reading_m2: float | None


@dataclass(frozen=True, kw_only=True)
class ReadingResults:
    """Every reading's own result, as columns in the order sent."""

    id: Array
    zone: Array
    side: Array
    station_m: Floats
    original_mm: Floats
    residual_mm: Floats
    loss_mm: Floats
    loss_percent: Floats
    general_loss_mm: Floats
    general_loss_percent: Floats
    pit_depth_mm: Floats
    pit_share_percent: Floats
    plate_state: Array
    margin_mm: Floats
    verdict: Array


@dataclass(frozen=True, kw_only=True)
class WhatIf:
    """The same loss taken from another original thickness."""

    zone: str
    reading: str
    original_mm: float
    loss_mm: float | None
    residual_mm: float | None
    plate_state: PlateState | None


@dataclass(frozen=True, kw_only=True)
class Governing:
    """The reading that decides, with everything about it; `margin` is None where the original or the age is unknown."""

    index: int
    arguments: Mapping[str, float]
    margin: PlateMargin | None


def governing_of(survey: Survey, zones: Sequence[ZoneResult]) -> Governing:
    """Return the reading that decides: by the rules, or, where none could be checked, the thinnest under water."""
    outcome, index = survey.judged.governing
    if index is None:
        rank = {exposure: place for place, exposure in enumerate(EXPOSURES)}
        index = min(zones, key=lambda z: (rank[z.exposure], z.thinnest_residual_mm)).thinnest_reading_index
    limits = survey.thresholds_at(index)
    decides = outcome is not None and outcome.rule.quantity == "residual_mm" and outcome.rule.limit in limits
    threshold = outcome.rule.limit if outcome is not None and decides else next(iter(limits), None)
    values = {name: float(column[0]) for name, column in survey.reading_arguments([index]).items()}
    arguments = {**values, **survey.options, **({} if threshold is None else {"threshold_mm": threshold})}
    # Without a limit the figures that need none are still told: the answer leaves out the others.
    return Governing(
        index=index,
        arguments={name: value for name, value in arguments.items() if not np.isnan(value)},
        margin=survey.margins([(index, 0.0 if threshold is None else threshold)]) if survey.has_life(index) else None,
    )


def assessed_of(survey: Survey) -> Assessed:
    """Return what was plated, or named as not examined, and read by nobody; and the sides that nobody read."""
    # The notation also plates a transom and a stem, which many boats do not have: only what every hull has, or what
    # lies under water, is missed by its name alone.
    implied = [
        entry
        for entry in from_notation(survey.arguments["plating_notation"])
        if entry["zone"] == "side" or zone_exposure(entry["zone"]) == "immersed"
    ]
    shell = [entry for entry in survey.arguments["plating"] if entry.get("layer", LAYER) == LAYER]
    named = [*shell, *implied, *survey.arguments["unexamined"]]
    read = set(survey.known.table.zone)
    wet = np.isin(survey.known.table.exposure, RULE_EXPOSURES)
    areas = [entry["area_m2"] for entry in survey.arguments["plating"] if "area_m2" in entry and entry["zone"] in read]
    zones = {entry["zone"] for entry in survey.arguments["plating"] if "area_m2" in entry}
    count = int(np.isin(survey.known.table.zone, list(zones)).sum())
    return Assessed(
        zones_unread=tuple(
            dict.fromkeys(
                entry["zone"]
                for entry in named
                if entry["zone"] not in read and entry.get("exposure", zone_exposure(entry["zone"])) in RULE_EXPOSURES
            )
        ),
        sides_unread=tuple(side for side in _SIDES if not (survey.known.table.side[wet] == side).any()),
        unexamined=tuple(survey.arguments["unexamined"]),
        area_per_reading_m2=sum(areas) / count if count else None,
    )


def reading_results_of(survey: Survey) -> ReadingResults:
    """Return every reading's own result."""
    table, plate = survey.known.table, survey.judged.plate
    return ReadingResults(
        id=table.id,
        zone=table.zone,
        side=table.side,
        station_m=table.station_m,
        original_mm=table.original_mm,
        **vars(plate),
        margin_mm=survey.judged.margins_mm,
        verdict=survey.judged.verdicts,
    )


def what_if_of(survey: Survey, zones: Sequence[ZoneResult]) -> Iterable[WhatIf]:
    """Take each zone's loss at its thinnest reading from other originals."""
    for zone in zones:
        loss = known_or_none(survey.judged.plate.loss_mm[zone.thinnest_reading_index])
        for original in survey.arguments["what_if_original_mm"]:
            left = None
            if loss is not None:
                left = residual_thickness(original_mm=original, plate_mm=max(original - loss, 0.0))
            yield WhatIf(
                zone=zone.zone,
                reading=zone.thinnest_reading,
                original_mm=original,
                loss_mm=loss,
                residual_mm=None if left is None else left.residual_mm.item(),
                plate_state=None if left is None else PlateState(left.plate_state.item()),
            )
