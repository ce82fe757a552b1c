"""The survey before this one: what each reading's place read then, and what was thin then and nobody read again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import numpy.typing as npt

from platemargin.declared import Arguments
from platemargin.judged import Judged, judge
from platemargin.matching import STATION_TOLERANCE_M
from platemargin.mean_rates import CALIBRATION_STANDARD_UNCERTAINTY_MM, critical, mean_of
from platemargin.plate_margin import residual_uncertainty_mm
from platemargin.plating import Plated
from platemargin.quantities import Array, Floats, at_least, below
from platemargin.read_again import ReadAgain, read_again
from platemargin.readings import STATION_FAULT, ReadingTable
from platemargin.rules import Rule, Verdict
from platemargin.two_surveys import (
    SurveyReadings,
    between_surveys_faults,
    fitted_faults,
    survey_faults,
    within,
)

__all__ = ["PREVIOUS_FAULTS", "Previous", "previous_of"]

_CROWDED = (
    "{count} pairs of readings could be of one place, more than the {most} that are compared: give readings of one place the "
    "same id in both surveys, or name their zones and sides more narrowly"
)


@dataclass(frozen=True, kw_only=True)
class Previous:
    """What the previous survey says of each reading's place; NaN and "" where it says nothing.

    `judged` is the previous survey by the rules of this one, `unread` the rows of it whose place nobody read again. Of this
    survey's readings `grew` are thicker by more than the gauges and the number of pairs explain, `lost` so much thinner than
    their life would have them, and `zones_grew` are the zones whose mean is thicker by more than the gauges and their setting
    explain. At `pit_not_again` a pit was measured then and none now, at `pit_not_before` one now and none then. `unsettled` are
    the rows of the previous survey that broke a limit, of whose place this one shows neither that plate nor one fitted since.
    """

    again: ReadAgain
    surveyed_on: date
    years_since: float
    reading: Array
    residual_mm: Floats
    standard_uncertainty_mm: Floats
    rate_mm_per_year: Floats
    judged: Judged
    unread: Array
    unsettled: Array
    grew: npt.NDArray[np.bool_]
    lost: npt.NDArray[np.bool_]
    pit_not_again: npt.NDArray[np.bool_]
    pit_not_before: npt.NDArray[np.bool_]
    zones_grew: tuple[str, ...]

    @property
    def readings(self) -> int:
        """How many readings the previous survey has."""
        return len(self.judged.table)

    @property
    def matched(self) -> int:
        """How many of them are of a place that was read again, and of the same plate."""
        return int((~np.isnan(self.residual_mm)).sum())

    @property
    def columns(self) -> dict[str, Floats]:
        """What `plate_margin` needs of the previous reading at each place."""
        matched_here = ~np.isnan(self.residual_mm)
        return {
            "previous_mm": self.residual_mm,
            "years_since_previous": np.where(matched_here, self.years_since, np.nan),
            "previous_standard_uncertainty_mm": self.standard_uncertainty_mm,
        }


def previous_of(
    past: SurveyReadings,
    known: Plated,
    left_mm: Floats,
    gauge: Mapping[str, float],
    rules: Sequence[Rule],
    arguments: Arguments,
) -> Previous:
    """Match a previous survey's readings with this one's, which leave `left_mm`, and judge them by the rules of this one.

    A place whose plate was fitted since is not the same plate: its previous reading says nothing.
    """
    again = read_again(past, known, arguments)
    table, now_table, years, then, now = again.earlier, again.later, again.years_since, again.then, again.now
    hull = arguments["hull"]
    judged = judge(table, arguments["rule_sets"], rules, hull=hull, material=hull["material"])
    residual, uncertainty = np.full(len(known.table), np.nan), np.full(len(known.table), np.nan)
    reading = np.full(len(known.table), "", dtype=object)
    residual[now] = judged.plate.residual_mm[then]
    uncertainty[now] = residual_uncertainty_mm(table.pit_depth_mm[then], **gauge)
    reading[now] = table.id[then]
    both = np.hypot(uncertainty, residual_uncertainty_mm(known.table.pit_depth_mm, **gauge))
    pit_then = np.full(len(known.table), np.nan)
    pit_then[now] = table.pit_depth_mm[then]
    of_both = ~np.isnan(residual) & below(0.0, residual, "mm") & below(0.0, left_mm, "mm")
    grew = below(critical(len(now)) * both, left_mm - residual, "mm")
    over_its_life = (known.table.original_mm - left_mm) / (known.years_in_service - known.protected_years)
    expected = years * np.maximum(np.nan_to_num(over_its_life), 0.0)
    lost = below(critical(len(now)) * both, residual - left_mm - expected, "mm")
    settled = np.concatenate([then[~grew[now]], again.matching.earlier[~again.of_old_plate]])
    newer = (now_table.layer == "insert") | below(known.years_in_service, years, "year")
    renewed = np.flatnonzero(newer & (now_table.layer != "overplate"))
    return Previous(
        again=again,
        surveyed_on=again.surveyed_on,
        years_since=years,
        reading=reading,
        residual_mm=residual,
        standard_uncertainty_mm=uncertainty,
        rate_mm_per_year=(residual - left_mm) / years,
        judged=judged,
        unread=np.setdiff1d(np.arange(len(table)), again.matching.earlier),
        unsettled=_unsettled(judged, settled, now_table, renewed),
        grew=grew,
        lost=lost,
        pit_not_again=of_both & below(0.0, pit_then, "mm") & np.isnan(known.table.pit_depth_mm),
        pit_not_before=of_both & np.isnan(pit_then) & below(0.0, known.table.pit_depth_mm, "mm"),
        zones_grew=_zones_grew(known.table.by_zone(np.sort(now)), left_mm - residual, both),
    )


def _zones_grew(zones: Mapping[str, Array], grown_mm: Floats, uncertainty_mm: Floats) -> tuple[str, ...]:
    """Return the zones whose mean grew by more than chance explains; how both gauges were set does not average out."""
    setting = np.sqrt(2) * CALIBRATION_STANDARD_UNCERTAINTY_MM
    means = {
        zone: mean_of(grown_mm[rows], uncertainty_mm[rows], setting, np.zeros(len(rows), dtype=int))
        for zone, rows in zones.items()
    }
    beyond = critical(len(means))
    return tuple(zone for zone, told in means.items() if below(beyond * told.standard_uncertainty, told.mean, "mm"))


def _unsettled(judged: Judged, settled: Array, now: ReadingTable, renewed: Array) -> Array:
    """Return the rows that broke a limit, are not settled by a reading of that plate, and do not stand where it is renewed."""
    broken = np.setdiff1d(np.flatnonzero(judged.verdicts >= Verdict.WATCH), settled)
    return np.array([row for row in broken.tolist() if not _is_there(judged.table, row, now, renewed)], dtype=int)


def _is_there(table: ReadingTable, row: int, now: ReadingTable, rows: Array) -> bool:
    """Tell whether one of some readings of this survey is of the place of one of the previous, whatever plate it is of."""
    sides = now.side[rows]
    there = (now.zone[rows] == table.zone[row]) & ((sides == table.side[row]) | (sides == "") | (table.side[row] == ""))
    named = now.named[rows] & bool(table.named[row]) & (now.id[rows] == table.id[row])
    near = at_least(STATION_TOLERANCE_M, np.abs(now.station_m[rows] - table.station_m[row]), "m")
    return bool((there & (named | near)).any())


PREVIOUS_FAULTS = (
    *survey_faults("previous_survey"),
    *fitted_faults("previous_survey"),
    within(STATION_FAULT, "previous_survey"),
    # The tolerance is no member of this request: what lies too close is the previous survey's to change.
    *(
        replace(fault, field="previous_survey", message=_CROWDED) if fault.field == "station_tolerance_m" else fault
        for fault in between_surveys_faults("previous_survey", None)
    ),
)
