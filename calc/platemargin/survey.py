"""A survey at hand: its hull and gauge as they are sent, its readings with what is known of each, judged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal, NotRequired, TypedDict

import numpy as np
import numpy.typing as npt

from platemargin.dates import years_between
from platemargin.declared import Arguments
from platemargin.judged import Judged
from platemargin.plate_margin import (
    PIT_STANDARD_UNCERTAINTY_MM,
    PLATE_STANDARD_UNCERTAINTY_MM,
    PlateMargin,
    plate_margin,
    residual_uncertainty_mm,
)
from platemargin.plating import Part, Plated
from platemargin.quantities import Floats, rounded
from platemargin.remaining_life import EXPONENT, INTERVAL_CAP_YEARS, RATE_FACTOR, YEARS_AHEAD
from platemargin.survey_pits import SampledPits
from platemargin.survey_previous import Previous

__all__ = ["Gauge", "Hull", "Survey", "Unexamined", "film_doubt", "film_not_stated", "gauge_uncertainties", "known_or_none"]


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


class Unexamined(Part):
    """A part of the hull that nobody could read, and why."""

    reason: Literal["docking_blocks", "afloat", "ballast", "lining", "tank", "fouling", "other"]


def film_doubt(gauge: Gauge | None) -> Literal["unknown_film", "unknown_mode", "known_film"] | None:
    """Return why readings may count a coating as steel; None where they do not.

    A film that is stated is one that was read through, unless it is said that it was not.
    """
    gauge = gauge or {}
    mode = gauge.get("mode", "unknown")
    film = gauge.get("coating_um")
    if mode == "multiple_echo" or not gauge.get("through_coating", bool(film)):
        return None
    if film is not None:
        return "known_film"
    return "unknown_film" if mode == "single_echo" else "unknown_mode"


def film_not_stated(gauge: Gauge | None) -> bool:
    """Tell whether a coating would count in the readings and nobody said whether there was one: it is taken as none."""
    gauge = gauge or {}
    return gauge.get("mode") != "multiple_echo" and not {"through_coating", "coating_um"} & set(gauge)


def gauge_uncertainties(gauge: Gauge | None) -> Mapping[str, float]:
    """Return the uncertainties of a survey's gauges, as sent or as the trade takes them."""
    gauge = gauge or {}
    return {
        "plate_standard_uncertainty_mm": gauge.get("plate_standard_uncertainty_mm", PLATE_STANDARD_UNCERTAINTY_MM),
        "pit_standard_uncertainty_mm": gauge.get("pit_standard_uncertainty_mm", PIT_STANDARD_UNCERTAINTY_MM),
    }


@dataclass(frozen=True, kw_only=True)
class Survey:
    """The survey at hand: its readings with what is known of each, judged."""

    known: Plated
    judged: Judged
    previous: Previous | None
    pits: Mapping[str, SampledPits]
    arguments: Arguments

    @property
    def gauge(self) -> Mapping[str, float]:
        """Return the uncertainties of the gauges, as sent or as the trade takes them."""
        return gauge_uncertainties(self.arguments["gauge"])

    @property
    def options(self) -> Mapping[str, float]:
        """Return what every life here is followed with."""
        return {
            **self.gauge,
            "confidence": self.arguments["confidence"],
            "exponent": EXPONENT,
            "rate_factor": RATE_FACTOR,
            "years_ahead": YEARS_AHEAD,
            "interval_cap_years": INTERVAL_CAP_YEARS,
        }

    @property
    def uncertainty_mm(self) -> Floats:
        """The standard uncertainty of each reading's residual thickness."""
        return residual_uncertainty_mm(self.known.table.pit_depth_mm, **self.gauge)

    def from_as_of(self, years: float | None) -> float | None:
        """Return years from the survey as years from `as_of`, not below 0; None where either is unknown."""
        as_of = self.arguments["as_of"]
        if years is None or as_of is None:
            return None
        return max(years - years_between(self.arguments["surveyed_on"], as_of), 0.0)

    def has_life(self, index: int) -> bool:
        """Tell whether a reading's life can be followed: it is of steel alone, and its original and age are known."""
        return bool(self.with_life[index])

    @property
    def with_life(self) -> npt.NDArray[np.bool_]:
        """The readings whose life can be followed."""
        known = ~np.isnan(self.known.table.original_mm + self.known.years_in_service)
        of_steel_alone = self.arguments["hull"]["material"] == "steel" and film_doubt(self.arguments["gauge"]) is None
        return np.asarray(known & of_steel_alone)

    def reading_arguments(self, indices: Sequence[int]) -> dict[str, Floats]:
        """Return what `plate_margin` needs of some readings, and of the same places at the previous survey."""
        rows = np.asarray(indices, dtype=int)
        previous = {} if self.previous is None else self.previous.columns
        return {
            **{name: column[rows] for name, column in previous.items()},
            "original_mm": self.known.table.original_mm[rows],
            "plate_mm": self.known.table.plate_mm[rows],
            "pit_depth_mm": self.known.table.pit_depth_mm[rows],
            "years_in_service": self.known.years_in_service[rows],
            "protected_years": self.known.protected_years[rows],
        }

    def arguments_at(self, index: int) -> dict[str, float]:
        """Return all that a reading's life is followed with; what is unknown is left out."""
        values = {name: float(column[0]) for name, column in self.reading_arguments([index]).items()}
        return {name: value for name, value in {**values, **self.options}.items() if not np.isnan(value)}

    def margins(self, pairs: Sequence[tuple[int, float]]) -> PlateMargin:
        """Return every figure of some readings, each against a limit, in one call."""
        return plate_margin(
            **self.reading_arguments([index for index, _ in pairs]),
            threshold_mm=np.array([threshold for _, threshold in pairs]),
            **self.options,
        )

    @property
    def relevant(self) -> npt.NDArray[np.bool_]:
        """The readings that decide how long the boat lasts: of plate in the water, or that a rule speaks of."""
        return self.judged.wet | self.judged.met

    @cached_property
    def limits_mm(self) -> Floats:
        """The limits on each reading's residual thickness, one row a limit; NaN where it does not apply.

        Those asked for, or those of the rules: a greatest loss leaves a least thickness of the original.
        """
        table, asked = self.known.table, self.arguments["thresholds_mm"]
        if asked is not None:
            return np.array([np.full(len(table), limit) for limit in asked])
        rows = [np.full(len(table), np.nan)]
        for outcome in self.judged.outcomes:
            rule = outcome.rule
            if rule.quantity == "residual_mm" and rule.at_least is not None:
                rows.append(np.where(outcome.met, rounded(rule.at_least, "mm"), np.nan))
            elif rule.quantity == "loss_percent" and rule.at_most is not None:
                rows.append(np.where(outcome.met, rounded(table.original_mm * (1 - rule.at_most / 100), "mm"), np.nan))
        return np.array(rows)

    def thresholds_at(self, index: int) -> list[float]:
        """Return the limits on a reading's residual thickness, the highest first; those asked for as they were asked."""
        limits = [float(limit) for limit in self.limits_mm[:, index] if not np.isnan(limit)]
        return list(dict.fromkeys(limits if self.arguments["thresholds_mm"] is not None else sorted(limits, reverse=True)))


def known_or_none(number: float | np.floating[Any]) -> float | None:
    """Return a number, or None for NaN."""
    return None if np.isnan(number) else float(number)
