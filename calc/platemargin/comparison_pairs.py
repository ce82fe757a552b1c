"""The pairs of two surveys: what each place lost between them, and what the pairs of each zone say together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from platemargin.corrosion_rate import SIGNIFICANT
from platemargin.matching import Matching
from platemargin.mean_rates import Compared, MeanRate, critical, mean_rate
from platemargin.mill_tolerance import spread_and_offset_mm
from platemargin.plating import Plated
from platemargin.quantities import Array, Floats, below, rounded
from platemargin.readings import ReadingTable
from platemargin.residual_thickness import residual_thickness

__all__ = ["Pairs", "ZoneChange", "compared_of", "pairs_of", "residual_mm", "zones_of"]


@dataclass(frozen=True, kw_only=True)
class Pairs:
    """Each place that both surveys read, as columns in the order of the earlier survey; NaN and "" are absent."""

    earlier_id: Array
    earlier_index: Array
    later_id: Array
    later_index: Array
    matched_by: Array
    station_distance_m: Floats
    zone: Array
    side: Array
    earlier_residual_mm: Floats
    later_residual_mm: Floats
    loss_mm: Floats
    loss_standard_uncertainty_mm: Floats
    rate_mm_per_year: Floats
    rate_standard_uncertainty_mm_per_year: Floats
    significant: Array
    beyond_chance: Array
    grew: Array
    loss_is_at_least: Array
    plate_loss_mm: Floats
    pit_growth_mm: Floats
    original_mm: Floats
    long_term_mm_per_year: Floats

    def __len__(self) -> int:
        return len(self.zone)

    @property
    def worst(self) -> int:
        """The pair that lost the most, ties to the first."""
        return int(np.argmax(rounded(self.loss_mm, "mm")))


@dataclass(frozen=True, kw_only=True)
class ZoneChange(MeanRate):
    """What the pairs of a zone say together, and the pair of it that lost the most."""

    zone: str
    worst_pair_index: int
    worst_earlier_id: str
    worst_later_id: str
    worst_loss_mm: float
    worst_rate_mm_per_year: float


def compared_of(
    tables: tuple[ReadingTable, ReadingTable],
    known: Plated,
    matching: Matching,
    uncertainties: tuple[Floats, ...],
    years: float,
    calibration: float,
) -> Compared:
    """Return what is known of each pair; a reading's own uncertainty is what the calibration's leaves of it."""
    rows = matching.earlier, matching.later
    residuals = [residual_mm(table)[row] for table, row in zip(tables, rows, strict=True)]
    own = [np.sqrt((u[row] - calibration) * (u[row] + calibration)) for u, row in zip(uncertainties, rows, strict=True)]
    original = known.table.original_mm[rows[1]]
    # A least age counted from the end of a period may fall short of the earlier survey, which found the plate there.
    exposed = np.maximum(known.years_in_service[rows[1]], years) - known.protected_years[rows[1]]
    spread, offset = spread_and_offset_mm(original)
    return Compared(
        loss_mm=residuals[0] - residuals[1],
        plate_loss_mm=tables[0].plate_mm[rows[0]] - tables[1].plate_mm[rows[1]],
        earlier_own_mm=own[0],
        later_own_mm=own[1],
        later_residual_mm=residuals[1],
        original_mm=original,
        original_spread_mm=spread,
        original_offset_mm=offset,
        unprotected_years=np.where(rounded(exposed, "year") > 0, exposed, np.nan),
        zone=_numbered(known.table.zone[rows[1]]),
        plate=_numbered(known.table.zone[rows[1]], known.table.layer[rows[1]], rounded(original, "mm")),
        years=years,
        calibration_mm=calibration,
    )


def residual_mm(table: ReadingTable) -> Floats:
    """Return what is left at each reading; 0 is a hole."""
    return residual_thickness(original_mm=np.nan, plate_mm=table.plate_mm, pit_depth_mm=table.pit_depth_mm).residual_mm


def _numbered(*columns: Array) -> Array:
    """Return a number for each row, equal where every column is."""
    names = list(zip(*(column.tolist() for column in columns), strict=True))
    numbers = {name: number for number, name in enumerate(dict.fromkeys(names))}
    return np.array([numbers[name] for name in names], dtype=np.int64)


def pairs_of(
    tables: tuple[ReadingTable, ReadingTable], matching: Matching, compared: Compared, uncertainties: tuple[Floats, ...]
) -> Pairs:
    """Return each pair's loss and rate, and whether gauges and chance explain it."""
    (earlier, later), (first, second) = tables, (matching.earlier, matching.later)
    uncertainty = np.hypot(uncertainties[0][first], uncertainties[1][second])
    rate, of_rate = compared.loss_mm / compared.years, uncertainty / compared.years
    significant = below(SIGNIFICANT * of_rate, np.abs(rate), "mm/year")
    beyond = below(critical(len(matching)) * of_rate, np.abs(rate), "mm/year")
    pits = [np.where(table.plate_mm == table.pit_depth_mm, np.nan, table.pit_depth_mm) for table in tables]
    earlier_residual = compared.later_residual_mm + compared.loss_mm
    return Pairs(
        earlier_id=earlier.id[first],
        earlier_index=first,
        later_id=later.id[second],
        later_index=second,
        matched_by=np.where(matching.by_id, "id", "station").astype(object),
        station_distance_m=rounded(np.abs(earlier.station_m[first] - later.station_m[second]), "m"),
        zone=later.zone[second],
        side=np.where(later.side[second] == "", earlier.side[first], later.side[second]),
        earlier_residual_mm=earlier_residual,
        later_residual_mm=compared.later_residual_mm,
        loss_mm=compared.loss_mm,
        loss_standard_uncertainty_mm=uncertainty,
        rate_mm_per_year=rate,
        rate_standard_uncertainty_mm_per_year=of_rate,
        significant=significant,
        beyond_chance=significant & beyond,
        grew=significant & (rate < 0),
        loss_is_at_least=(compared.later_residual_mm == 0) & below(0, earlier_residual, "mm"),
        plate_loss_mm=compared.plate_loss_mm,
        pit_growth_mm=pits[1][second] - pits[0][first],
        original_mm=compared.original_mm,
        long_term_mm_per_year=compared.long_term_mm_per_year,
    )


def zones_of(table: ReadingTable, compared: Compared, pairs: Pairs, confidence: float) -> tuple[ZoneChange, ...]:
    """Return what the pairs of each zone say, in the order in which the earlier survey read the zones."""
    order = {zone: place for place, zone in enumerate(dict.fromkeys(table.zone.tolist()))}
    by_zone: dict[str, list[int]] = {}
    for place, zone in enumerate(pairs.zone.tolist()):
        by_zone.setdefault(zone, []).append(place)
    told = []
    for zone in sorted(by_zone, key=order.__getitem__):
        rows = np.array(by_zone[zone], dtype=np.int64)
        worst = int(rows[np.argmax(rounded(pairs.loss_mm[rows], "mm"))])
        told.append(
            ZoneChange(
                zone=zone,
                worst_pair_index=worst,
                worst_earlier_id=str(pairs.earlier_id[worst]),
                worst_later_id=str(pairs.later_id[worst]),
                worst_loss_mm=float(pairs.loss_mm[worst]),
                worst_rate_mm_per_year=float(pairs.rate_mm_per_year[worst]),
                **vars(mean_rate(compared, rows, confidence, len(by_zone))),
            )
        )
    return tuple(told)
