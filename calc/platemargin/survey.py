"""A survey at hand: its hull and gauge as they are sent, its readings with what is known of each, judged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, NotRequired, TypedDict

import numpy as np

from platemargin.declared import Arguments
from platemargin.judged import Judged
from platemargin.plate_margin import (
    PIT_STANDARD_UNCERTAINTY_MM,
    PLATE_STANDARD_UNCERTAINTY_MM,
    PlateMargin,
    plate_margin,
)
from platemargin.plating import Plated
from platemargin.quantities import Floats
from platemargin.remaining_life import EXPONENT, RATE_FACTOR, YEARS_AHEAD

__all__ = ["Gauge", "Hull", "Survey", "Unexamined", "known_or_none"]


class Hull(TypedDict):
    """The hull [m, mm]."""

    length_m: float
    beam_m: float
    draught_m: float
    water: Literal["fresh", "brackish", "sea"]
    material: Literal["steel", "wrought_iron", "aluminium", "other"]
    construction: Literal["welded", "riveted", "composite"]
    name: NotRequired[str]
    frame_spacing_mm: NotRequired[float]


class Gauge(TypedDict, total=False):
    """How the plate was read [um, mm]."""

    mode: Literal["single_echo", "multiple_echo", "unknown"]
    through_coating: bool
    coating_um: float
    plate_standard_uncertainty_mm: float
    pit_standard_uncertainty_mm: float


class Unexamined(TypedDict):
    """A part of the hull that nobody could read, and why [m]."""

    zone: str
    reason: Literal["docking_blocks", "afloat", "ballast", "lining", "tank", "fouling", "other"]
    side: NotRequired[Literal["port", "starboard", "centreline"]]
    from_m: NotRequired[float]
    to_m: NotRequired[float]


@dataclass(frozen=True, kw_only=True)
class Survey:
    """The survey at hand: its readings with what is known of each, judged."""

    known: Plated
    judged: Judged
    arguments: Arguments

    @property
    def gauge(self) -> Mapping[str, float]:
        """Return the uncertainties of the gauges, as sent or as the trade takes them."""
        gauge = self.arguments["gauge"] or {}
        return {
            "plate_standard_uncertainty_mm": gauge.get("plate_standard_uncertainty_mm", PLATE_STANDARD_UNCERTAINTY_MM),
            "pit_standard_uncertainty_mm": gauge.get("pit_standard_uncertainty_mm", PIT_STANDARD_UNCERTAINTY_MM),
        }

    @property
    def options(self) -> Mapping[str, float]:
        """Return what every life here is followed with."""
        return {
            **self.gauge,
            "confidence": self.arguments["confidence"],
            "exponent": EXPONENT,
            "rate_factor": RATE_FACTOR,
            "years_ahead": YEARS_AHEAD,
        }

    def has_life(self, index: int) -> bool:
        """Tell whether a reading's life can be followed: its original and age are known, and it is of steel."""
        known = not np.isnan(self.known.table.original_mm[index] + self.known.years_in_service[index])
        return bool(known and self.arguments["hull"]["material"] == "steel")

    def reading_arguments(self, indices: Sequence[int]) -> dict[str, Floats]:
        """Return what `plate_margin` needs of some readings."""
        rows = np.asarray(indices, dtype=int)
        return {
            "original_mm": self.known.table.original_mm[rows],
            "plate_mm": self.known.table.plate_mm[rows],
            "pit_depth_mm": self.known.table.pit_depth_mm[rows],
            "years_in_service": self.known.years_in_service[rows],
            "protected_years": self.known.protected_years[rows],
        }

    def margins(self, pairs: Sequence[tuple[int, float]]) -> PlateMargin:
        """Return every figure of some readings, each against a limit, in one call."""
        return plate_margin(
            **self.reading_arguments([index for index, _ in pairs]),
            threshold_mm=np.array([threshold for _, threshold in pairs]),
            **self.options,
        )

    def thresholds_at(self, index: int) -> list[float]:
        """Return the limits asked for, or those on the residual thickness of the rules that apply to a reading."""
        asked = self.arguments["thresholds_mm"]
        if asked is not None:
            return list(dict.fromkeys(asked))
        limits = {
            outcome.rule.limit
            for outcome in self.judged.outcomes
            if outcome.rule.quantity == "residual_mm" and outcome.rule.at_least is not None and outcome.met[index]
        }
        return sorted(limits, reverse=True)


def known_or_none(number: float | np.floating[Any]) -> float | None:
    """Return a number, or None for NaN."""
    return None if np.isnan(number) else float(number)
