"""Readings that all say the same: plate scatters, and a gauge that reads finely shows it.

Readings of plate that scatters by 0.15 mm (standard deviation) and are rounded to 0.2 mm fall on one value with a probability
of at most 0.495, that of a value in the middle of its step; rounded to a tenth with 0.261. One value tells no finer step than
its own: 9.4 may be of tenths or of fifths, so the larger is reckoned with. 9.5 may be of halves and 9.0 of whole millimetres,
which hide what plate scatters: of those nothing is asked, unless the rest of the survey is read more finely.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import bdtrc, ndtr

from platemargin.consistency import NEARLY_ALL
from platemargin.quantities import Array
from platemargin.readings import ReadingTable
from platemargin.smooth_reference import resolution_of

__all__ = ["NoSpread", "without_spread"]

#: How little plate scatters at least, over some readings of it [mm, standard deviation] (common practice).
_SCATTER_MM = 0.15
#: The most often read are judged, no more: the cost is bounded.
_MOST_PLATES = 200
#: A coarser step [mm] than this hides it.
_COARSEST_MM = 0.2
_WHOLE = "the whole survey"
#: How often at most readings of such plate fall on one value of that step.
_ONE_VALUE = float(ndtr(_COARSEST_MM / 2 / _SCATTER_MM) - ndtr(-_COARSEST_MM / 2 / _SCATTER_MM))


@dataclass(frozen=True, kw_only=True)
class NoSpread:
    """Readings that are all or nearly all of one value; `row` is the first one's, None where they are of several plates."""

    where: str
    row: int | None
    rows: frozenset[int]
    readings: int
    equal: int


@dataclass(frozen=True, kw_only=True)
class _Plate:
    """Readings of one zone, layer and original, and how many of them have the commonest value."""

    zone: str
    rows: Array
    equal: int


def without_spread(table: ReadingTable, alpha: float) -> tuple[int, tuple[NoSpread, ...]]:
    """Return how many readings could be judged, and where they do not scatter though plate does.

    Of each plate one reading says where the others should be; the others tell whether they scatter.
    """
    plates = _fine(table)
    half = alpha / 2
    often = [plate for plate in plates if _ONE_VALUE ** (len(plate.rows) - 1) < half]
    each = half / max(len(often), 1)
    tested = [plate for plate in often if _ONE_VALUE ** (len(plate.rows) - 1) < each]
    told = [plate for plate in tested if _same(len(plate.rows), plate.equal, 1, each)]
    readings, equal = sum(len(plate.rows) for plate in plates), sum(plate.equal for plate in plates)
    judged = sum(len(plate.rows) for plate in tested)
    if told:
        return judged, tuple(_told(plate.zone, int(plate.rows[0]), [plate]) for plate in told)
    if _ONE_VALUE ** (readings - len(plates)) >= half:
        return judged, ()
    return readings, (_told(_WHOLE, None, plates),) if _same(readings, equal, len(plates), half) else ()


def _same(readings: int, equal: int, plates: int, alpha: float) -> bool:
    others = readings - plates
    return equal >= NEARLY_ALL * readings and bool(bdtrc(equal - plates - 1, others, _ONE_VALUE) < alpha)


def _told(where: str, row: int | None, plates: list[_Plate]) -> NoSpread:
    rows = frozenset(int(row) for plate in plates for row in plate.rows)
    return NoSpread(where=where, row=row, rows=rows, readings=len(rows), equal=sum(plate.equal for plate in plates))


def _fine(table: ReadingTable) -> list[_Plate]:
    """Return the plates that were read finely enough: by their own values, or by those of the rest of the survey."""
    metal = np.flatnonzero(table.plate_mm > 0)
    finest = resolution_of(table.plate_mm[metal]) or 0.0 if len(metal) else np.inf
    found: dict[tuple[str, str, float], list[int]] = {}
    for row, original in zip(metal.tolist(), np.nan_to_num(table.original_mm[metal], nan=-1.0).tolist(), strict=True):
        found.setdefault((table.zone[row], table.layer[row], original), []).append(row)
    plates = []
    for (zone, _, _), rows in sorted(found.items(), key=lambda item: -len(item[1]))[:_MOST_PLATES]:
        values = table.plate_mm[rows]
        if min(finest, resolution_of(values) or 0.0) <= _COARSEST_MM:
            equal = int(np.unique(np.round(values, 6), return_counts=True)[1].max())
            plates.append(_Plate(zone=zone, rows=np.array(rows), equal=equal))
    return plates
