"""What a survey says of each zone that was read, and the life of its thinnest reading to each limit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from platemargin.corrosion_rate import Governing, corrosion_rate
from platemargin.deepest_pit import DeepestPit
from platemargin.mill_tolerance import standard_uncertainty_mm
from platemargin.plate_margin import PlateMargin
from platemargin.quantities import Array, below, rounded
from platemargin.remaining_life import LifeStatus, probability_below
from platemargin.rules import Verdict
from platemargin.survey import Survey, known_or_none
from platemargin.zones import EXPOSURES, Exposure

__all__ = ["ZoneResult", "ZoneThreshold", "zones_of"]


@dataclass(frozen=True, kw_only=True)
class ZoneThreshold:
    """The life of a zone's thinnest reading to one limit; None where there is no finite value."""

    threshold_mm: float
    years: float | None
    years_low: float | None
    years_high: float | None
    years_from_as_of: float | None
    probability_below_now: float
    status: LifeStatus


@dataclass(frozen=True, kw_only=True)
class ZoneResult:
    """One zone that was read; None where the original or the age is unknown."""

    zone: str
    exposure: Exposure
    original_mm: float | None
    readings: int
    pits_measured: int
    thinnest_residual_mm: float
    thinnest_reading: str
    thinnest_reading_index: int
    thinnest_plate_mm: float
    mean_plate_mm: float
    max_pit_depth_mm: float
    max_loss_percent: float | None
    mean_general_loss_mm: float | None
    pitting_factor: float | None
    rate_mm_per_year: float | None
    rate_governing: Governing | None
    short_term_mm_per_year: float | None
    short_term_significant: bool | None
    verdict: Verdict
    thresholds: tuple[ZoneThreshold, ...]
    deepest_pit: DeepestPit | None


def zones_of(survey: Survey) -> tuple[ZoneResult, ...]:
    """Return each zone read, in order of first appearance."""
    table, residual = survey.known.table, rounded(survey.judged.plate.residual_mm, "mm")
    members = table.by_zone(np.arange(len(table)))
    thinnest = {zone: int(rows[np.argmin(residual[rows])]) for zone, rows in members.items()}
    pairs = [
        (index, threshold) for index in thinnest.values() if survey.has_life(index) for threshold in survey.thresholds_at(index)
    ]
    margins = survey.margins(pairs)
    lives = {pair: row for row, pair in enumerate(pairs)}
    verdicts = survey.judged.verdicts
    return tuple(
        _zone(survey, zone, rows, thinnest[zone], Verdict(verdicts[rows].max()), lives, margins)
        for zone, rows in members.items()
    )


def _zone(
    survey: Survey,
    zone: str,
    rows: Array,
    thinnest: int,
    verdict: Verdict,
    lives: Mapping[tuple[int, float], int],
    margins: PlateMargin,
) -> ZoneResult:
    table, plate = survey.known.table, survey.judged.plate
    # What is gone is told of the readings whose original is known: one that is not hides nothing of the others.
    known = rows[~np.isnan(table.original_mm[rows])]
    mean_loss = float(np.mean(plate.general_loss_mm[known])) if known.size else None
    return ZoneResult(
        zone=zone,
        exposure=min(table.exposure[rows], key=EXPOSURES.index),
        original_mm=known_or_none(table.original_mm[thinnest]),
        readings=len(rows),
        pits_measured=int((~np.isnan(table.pit_depth_mm[rows])).sum()),
        thinnest_residual_mm=float(plate.residual_mm[thinnest]),
        thinnest_reading=str(table.id[thinnest]),
        thinnest_reading_index=thinnest,
        thinnest_plate_mm=float(table.plate_mm[rows].min()),
        mean_plate_mm=float(np.mean(table.plate_mm[rows])),
        max_pit_depth_mm=float(plate.pit_depth_mm[rows].max()),
        max_loss_percent=float(np.max(plate.loss_percent[known])) if known.size else None,
        mean_general_loss_mm=mean_loss,
        pitting_factor=_pitting_factor(survey, known, mean_loss),
        **_rates(survey, thinnest),
        verdict=verdict,
        thresholds=tuple(
            _threshold(survey, thinnest, threshold, lives.get((thinnest, threshold)), margins)
            for threshold in survey.thresholds_at(thinnest)
        ),
        deepest_pit=survey.pits[zone].found if zone in survey.pits else None,
    )


def _pitting_factor(survey: Survey, rows: Array, mean_loss: float | None) -> float | None:
    """Return greatest loss over mean general loss; None where the mean is within its standard uncertainty."""
    if mean_loss is None or survey.arguments["hull"]["material"] != "steel":
        return None
    of_mean = survey.gauge["plate_standard_uncertainty_mm"] / np.sqrt(len(rows))
    of_original = np.max(standard_uncertainty_mm(survey.known.table.original_mm[rows]))
    if mean_loss <= np.hypot(of_mean, of_original):
        return None
    return float(np.max(survey.judged.plate.loss_mm[rows])) / mean_loss


def _rates(survey: Survey, index: int) -> dict[str, Any]:
    """Return the rates at a reading; they need no tolerance, so they hold for any material."""
    reading = survey.reading_arguments([index])
    if np.isnan(reading["original_mm"] + reading["years_in_service"])[0]:
        return dict.fromkeys(_RATES)
    rate = corrosion_rate(
        residual_mm=survey.judged.plate.residual_mm[[index]],
        residual_standard_uncertainty_mm=survey.uncertainty_mm[[index]],
        **{name: column for name, column in reading.items() if name not in _OF_THE_READING},
    )
    short_term = known_or_none(rate.short_term_mm_per_year.item())
    told = (
        rate.governing_mm_per_year.item(),
        Governing(rate.governing.item()),
        short_term,
        None if short_term is None else bool(rate.short_term_significant.item()),
    )
    return dict(zip(_RATES, told, strict=True))


_RATES = ("rate_mm_per_year", "rate_governing", "short_term_mm_per_year", "short_term_significant")
#: What of a reading makes up its residual thickness.
_OF_THE_READING = ("plate_mm", "pit_depth_mm")


def _threshold(survey: Survey, index: int, threshold: float, row: int | None, margins: PlateMargin) -> ZoneThreshold:
    """Return the life of a reading to a limit; `row` is its place among the lives that could be followed."""
    residual = survey.judged.plate.residual_mm[index]
    now = probability_below(residual, threshold, survey.uncertainty_mm[index])
    if row is None:
        is_below = bool(below(residual, threshold, "mm"))
        status, years, low, high = (
            LifeStatus.ALREADY_BELOW if is_below else LifeStatus.ABOVE,
            *(3 * [0.0 if is_below else None]),
        )
    else:
        status = LifeStatus(margins.status[row])
        years, low, high = (known_or_none(end[row]) for end in (margins.years, margins.years_low, margins.years_high))
    return ZoneThreshold(
        threshold_mm=threshold,
        years=years,
        years_low=low,
        years_high=high,
        years_from_as_of=survey.from_as_of(years),
        probability_below_now=float(now),
        status=status,
    )
