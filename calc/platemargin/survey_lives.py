"""How long the boat lasts: the reading that reaches a limit first, and when the next survey is due."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from platemargin.corrosion_rate import Governing
from platemargin.plate_margin import PlateMargin
from platemargin.quantities import rounded
from platemargin.survey import Survey, known_or_none

__all__ = ["FirstToLimit", "first_to_limit", "next_survey_within_years"]


@dataclass(frozen=True, kw_only=True)
class FirstToLimit:
    """Of all readings in the water, or that a rule speaks of, the one whose life to its next limit may be the shortest."""

    zone: str
    reading: str
    reading_index: int
    threshold_mm: float
    years: float | None
    years_low: float
    years_high: float | None
    years_from_as_of: float | None
    governing: Governing
    short_term_significant: bool | None
    arguments: Mapping[str, float]
    margin: PlateMargin


def first_to_limit(survey: Survey) -> FirstToLimit | None:
    """Return the reading that may reach its next limit first; None where none does, or no life can be followed."""
    limits, rows = _next_limits(survey)
    margins = survey.margins([(int(row), float(limits[row])) for row in rows])
    lowest = np.where(np.isnan(margins.years_low), np.inf, margins.years_low)
    if not np.isfinite(lowest).any():
        return None
    first = int(np.lexsort((margins.years, lowest))[0])
    index, threshold = int(rows[first]), float(limits[rows[first]])
    years = known_or_none(margins.years[first])
    return FirstToLimit(
        zone=str(survey.known.table.zone[index]),
        reading=str(survey.known.table.id[index]),
        reading_index=index,
        threshold_mm=threshold,
        years=years,
        years_low=float(lowest[first]),
        years_high=known_or_none(margins.years_high[first]),
        years_from_as_of=survey.from_as_of(years),
        governing=Governing(margins.governing[first]),
        short_term_significant=None if np.isnan(weight := margins.short_term_significant[first]) else bool(weight),
        arguments=survey.arguments_at(index) | {"threshold_mm": threshold},
        margin=survey.margins([(index, threshold)]),
    )


def next_survey_within_years(survey: Survey) -> float | None:
    """Return when the next survey is due: now where a limit is passed, and unknown where a life is."""
    residual, limits = rounded(survey.judged.plate.residual_mm, "mm"), rounded(survey.limits_mm, "mm")
    limited = survey.relevant & ~np.isnan(limits).all(axis=0)
    if (limited & (limits > residual).any(axis=0)).any():
        return 0.0
    if not limited.any() or (limited & ~survey.with_life).any():
        return None
    highest, rows = _next_limits(survey)
    return float(np.min(survey.margins([(int(row), float(highest[row])) for row in rows]).next_survey_within_years))


def _next_limits(survey: Survey) -> tuple[np.ndarray, np.ndarray]:
    """Return the highest limit that each reading is not below, and the readings whose life to it can be followed."""
    residual, limits = rounded(survey.judged.plate.residual_mm, "mm"), rounded(survey.limits_mm, "mm")
    highest = np.where(limits <= residual, limits, -np.inf).max(axis=0, initial=-np.inf)
    return highest, np.flatnonzero(survey.relevant & survey.with_life & np.isfinite(highest))
