"""Which places of a previous survey were read again, of the same plate, and what each survey read there."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import numpy.typing as npt

from platemargin.declared import Arguments
from platemargin.matching import Matching, matched
from platemargin.nearest_pairs import Rows
from platemargin.plate_margin import PLATE_STANDARD_UNCERTAINTY_MM
from platemargin.plating import Plated, plated
from platemargin.quantities import Array, Floats, below
from platemargin.readings import ReadingTable, reading_table
from platemargin.two_surveys import SurveyReadings, years_apart

__all__ = ["PlacesAgain", "ReadAgain", "places_again", "read_again"]


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


@dataclass(frozen=True, kw_only=True)
class PlacesAgain:
    """The places that both surveys read, of metal: this survey's rows and ids, and what each survey read [mm].

    `one_plate` is false where the two say that the plate started with another thickness: a station noted a little out may be
    beyond a seam. `then` are the previous survey's rows.
    """

    row: Array
    reading: Array
    zone: Array
    previous_mm: Floats
    plate_mm: Floats
    one_plate: npt.NDArray[np.bool_]
    then: Rows
    by_id: npt.NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.row)

    def only(self, which: Array) -> PlacesAgain:
        """Return some of the places."""
        return PlacesAgain(**{name: column[which] for name, column in vars(self).items()})

    @property
    def by_zone(self) -> dict[str, Array]:
        """The places of each zone."""
        found: dict[str, list[int]] = {}
        for place, zone in enumerate(self.zone.tolist()):
            found.setdefault(zone, []).append(place)
        return {zone: np.array(members) for zone, members in found.items()}

    def told(self, place: int) -> dict[str, Any]:
        """Return what is told of one place: its reading, and what each survey read there."""
        return {
            "row": int(self.row[place]),
            "reading": str(self.reading[place]),
            "plate_mm": float(self.plate_mm[place]),
            "previous_mm": float(self.previous_mm[place]),
        }


def places_again(again: ReadAgain) -> PlacesAgain:
    """Return the places in the order in which this survey read them; a hole has no thickness to compare."""
    order = np.argsort(again.now)
    then, now = again.then[order], again.now[order]
    places = PlacesAgain(
        row=now,
        reading=again.later.id[now],
        zone=again.later.zone[now],
        previous_mm=again.earlier.plate_mm[then],
        plate_mm=again.later.plate_mm[now],
        one_plate=~(np.abs(again.earlier.original_mm[then] - again.later.original_mm[now]) > 0),
        then=then,
        by_id=again.matching.by_id[again.of_old_plate][order],
    )
    return places.only((places.previous_mm > 0) & (places.plate_mm > 0))
