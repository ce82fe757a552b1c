"""What a survey says besides its zones: what was looked at, each reading, other originals, the reading that decides."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from platemargin.plate_margin import PlateMargin
from platemargin.plating import Part, Plating, covered, from_notation
from platemargin.quantities import Array, Floats, rounded
from platemargin.readings import HULL_SIDES, LAYER, zone_exposure
from platemargin.residual_thickness import PlateState, residual_thickness
from platemargin.rules import RULE_EXPOSURES
from platemargin.survey import Survey, Unexamined, known_or_none
from platemargin.survey_zones import ZoneResult
from platemargin.zones import APPENDAGES, EXPOSURES, Exposure

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


@dataclass(frozen=True, kw_only=True)
class Assessed:
    """What was looked at, and what was not."""

    zones_unread: tuple[str, ...]
    parts_unread: tuple[Part, ...]
    sides_unread: tuple[str, ...]
    unexamined: tuple[Unexamined, ...]
    immersed_read: bool
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
    previous_reading: Array
    previous_mm: Floats
    short_term_mm_per_year: Floats


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
    """The reading that decides, its own figures and its rule's; `margin` is None where its life cannot be followed."""

    index: int
    arguments: Mapping[str, float]
    figures: Mapping[str, object]
    margin: PlateMargin | None


def governing_of(survey: Survey, zones: Sequence[ZoneResult]) -> Governing:
    """Return the reading that decides: by a hole or the rules, or, where none could be checked, the thinnest under water."""
    outcome, index = survey.judged.governing
    if index is None:
        rank = {exposure: place for place, exposure in enumerate(EXPOSURES)}
        index = min(zones, key=lambda z: (rank[z.exposure], z.thinnest_residual_mm)).thinnest_reading_index
    limits = survey.thresholds_at(index)
    own = float(rounded(outcome.rule.limit, "mm")) if outcome and outcome.rule.quantity == "residual_mm" else None
    threshold = own if own in limits else next(iter(limits), None)
    limit = {} if threshold is None else {"threshold_mm": threshold}
    # Without a limit the figures that need none are still told: the answer leaves out the others.
    return Governing(
        index=index,
        arguments=survey.arguments_at(index) | limit,
        figures=survey.judged.figures(index, outcome),
        margin=survey.margins([(index, 0.0 if threshold is None else threshold)]) if survey.has_life(index) else None,
    )


def assessed_of(survey: Survey) -> Assessed:
    """Return what was plated, or named as not examined, and read by nobody; and the sides that nobody read."""
    table = survey.known.table
    # A reading counts where it is of the shell, in the water: an overplate's says nothing of the plate beneath it.
    read = table.by_zone(np.flatnonzero(survey.judged.wet & (table.layer != "overplate")))
    unread = [part for part in _named_parts(survey) if not covered(part, table, read).size]
    named = [entry for entry in survey.arguments["plating"] if "area_m2" in entry and entry["zone"] in read]
    zones = {entry["zone"] for entry in named}
    count = sum(len(rows) for zone, rows in read.items() if zone in zones)
    sides = {side for rows in read.values() for side in table.side[rows].tolist()}
    return Assessed(
        zones_unread=tuple(dict.fromkeys(part["zone"] for part in unread if part["zone"] not in read)),
        parts_unread=tuple(part for part in unread if part["zone"] in read),
        sides_unread=tuple(side for side in HULL_SIDES if side not in sides),
        unexamined=tuple(survey.arguments["unexamined"]),
        immersed_read=any((table.exposure[rows] == "immersed").any() for zone, rows in read.items() if zone not in APPENDAGES),
        area_per_reading_m2=sum(entry["area_m2"] for entry in named) / count if count else None,
    )


def _named_parts(survey: Survey) -> Iterable[Part]:
    """Yield every part of the shell in the water that plating states or implies, or that is named as not examined at all."""
    # The notation also plates a transom and a stem, which many boats do not have: only what every hull has, or what
    # lies under water, is missed by its name alone.
    stated = survey.arguments["plating"]
    for entry in from_notation(survey.arguments["plating_notation"]):
        if entry["zone"] == "side" or zone_exposure(entry["zone"]) == "immersed":
            yield entry
    # A range that could not be read, such as a block's, needs no reading of its own; its zone does.
    unexamined = (
        {"zone": entry["zone"]} if {"from_m", "to_m"} & set(entry) else entry for entry in survey.arguments["unexamined"]
    )
    for entry in (*stated, *unexamined):
        if entry.get("layer", LAYER) != "overplate" and _exposure(entry, stated) in RULE_EXPOSURES:
            yield {name: entry[name] for name in ("zone", "side", "from_m", "to_m") if name in entry}  # type: ignore[misc]


def _exposure(entry: Mapping[str, Any], plating: Sequence[Plating]) -> Exposure:
    """Return where a part stands towards the water: as it says, as the plating of its zone says, or by its name."""
    of_zone = [entry, *(other for other in plating if other["zone"] == entry["zone"])]
    stated: list[Exposure] = [other["exposure"] for other in of_zone if "exposure" in other]
    return stated[0] if stated else zone_exposure(entry["zone"])


def reading_results_of(survey: Survey) -> ReadingResults:
    """Return every reading's own result."""
    table, plate, previous = survey.known.table, survey.judged.plate, survey.previous
    unknown = np.full(len(table), np.nan)
    return ReadingResults(
        id=table.id,
        zone=table.zone,
        side=table.side,
        station_m=table.station_m,
        original_mm=table.original_mm,
        **vars(plate),
        margin_mm=survey.judged.margins_mm,
        verdict=survey.judged.verdicts,
        previous_reading=np.full(len(table), "", dtype=object) if previous is None else previous.reading,
        previous_mm=unknown if previous is None else previous.residual_mm,
        short_term_mm_per_year=unknown if previous is None else previous.rate_mm_per_year,
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
