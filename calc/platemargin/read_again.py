"""Which places of a previous survey were read again, of the same plate."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt

from platemargin.declared import Arguments
from platemargin.matching import Matching, matched
from platemargin.nearest_pairs import Rows
from platemargin.plate_margin import PLATE_STANDARD_UNCERTAINTY_MM
from platemargin.plating import Plated, plated
from platemargin.quantities import below
from platemargin.readings import ReadingTable, reading_table
from platemargin.two_surveys import SurveyReadings, years_apart

__all__ = ["ReadAgain", "read_again"]


@dataclass(frozen=True, kw_only=True)
class ReadAgain:
    """Two surveys of one hull, matched; `then` and `now` are the rows of the places that both read of the same plate.

    `of_old_plate` marks the pairs of the matching that are of the same plate: a plate fitted since is another.
    """

    surveyed_on: date
    years_since: float
    plate_standard_uncertainty_mm: float
    earlier: ReadingTable
    later: ReadingTable
    matching: Matching
    of_old_plate: npt.NDArray[np.bool_]

    @property
    def then(self) -> Rows:
        """The rows of the previous survey."""
        return np.asarray(self.matching.earlier[self.of_old_plate])

    @property
    def now(self) -> Rows:
        """The rows of this one, place by place with `then`."""
        return np.asarray(self.matching.later[self.of_old_plate])


def read_again(past: SurveyReadings, known: Plated, arguments: Arguments) -> ReadAgain:
    """Match a previous survey's readings with this one's, as `survey_comparison` matches them."""
    then_on, sent = past["surveyed_on"], past["readings"]
    plating, notation, built_on = (arguments[name] for name in ("plating", "plating_notation", "built_on"))
    earlier = plated(reading_table(sent), sent, plating, notation, built_on, then_on).table
    # An entry of the plating may say that a whole part was renewed.
    later = known.table.with_columns(fitted_on=known.fitted_on)
    gauge = arguments["gauge"] or {}
    years = years_apart(then_on, arguments["surveyed_on"])
    pairs = matched(earlier, later, earlier_on=then_on)
    return ReadAgain(
        surveyed_on=then_on,
        years_since=years,
        plate_standard_uncertainty_mm=gauge.get("plate_standard_uncertainty_mm", PLATE_STANDARD_UNCERTAINTY_MM),
        earlier=earlier,
        later=later,
        matching=pairs,
        of_old_plate=~below(known.years_in_service[pairs.later], years, "year"),
    )
