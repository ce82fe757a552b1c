"""How much plate is left under a pit, and how much is gone of what it started with."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from platemargin.declared import Assumption, Fault, Finding, Step, columns, refuse
from platemargin.mill_tolerance import thickest_mm
from platemargin.quantities import Array, Floats, at_least, below, chosen, rounded

__all__ = [
    "ASSUMED",
    "FAULTS",
    "FINDINGS",
    "WORKING",
    "PlateState",
    "ResidualThickness",
    "over_mill_tolerance",
    "residual_thickness",
]

#: A pit read deeper than the plate beside it by up to this [mm] is a hole; by more, one of the two was misread.
#: The two gauges' expanded uncertainty, 2 x 0.25 mm. Reference: gauge-uncertainty.
HOLE_ALLOWANCE_MM = 0.5
#: What the plate gauge explains of a plate over its mill tolerance [mm]: its expanded uncertainty, 2 x 0.15 mm.
#: Reference: gauge-uncertainty.
PLATE_ALLOWANCE_MM = 0.3


class PlateState(IntEnum):
    """What the reading says of the plate; the greater outranks."""

    METAL_REMAINS = 0
    THICKER_THAN_ORIGINAL = 1
    HOLED = 2


@dataclass(frozen=True, kw_only=True)
class ResidualThickness:
    """What is left and what is gone; arrays of the arguments' common shape."""

    residual_mm: Floats
    loss_mm: Floats
    loss_percent: Floats
    general_loss_mm: Floats
    general_loss_percent: Floats
    pit_depth_mm: Floats
    pit_share_percent: Floats
    plate_state: Array


def over_mill_tolerance(original_mm: Floats, thickness_mm: Floats) -> npt.NDArray[np.bool_]:
    """Tell whether a thickness is more than a mill delivers for a nominal, by more than the gauge explains."""
    return below(thickest_mm(original_mm) + PLATE_ALLOWANCE_MM, thickness_mm, "mm")


FAULTS = (
    Fault(
        field="pit_depth_mm",
        code="pit_deeper_than_plate",
        message="the pit of {pit_depth_mm} mm is deeper than the plate of {plate_mm} mm beside it by more than 0.5 mm; "
        "read both again: the pit depth is measured from the plate surface beside the pit",
        broken=lambda a: rounded(a["pit_depth_mm"] - a["plate_mm"], "mm") > HOLE_ALLOWANCE_MM,
    ),
)

FINDINGS = (
    Finding(
        code="pit_through_plate",
        severity="act",
        statement="The pit of {pit_depth_mm} mm goes through the plate of {plate_mm} mm: it is a hole.",
        field="pit_depth_mm",
        values=("pit_depth_mm", "plate_mm"),
        applies=lambda a, r: (a["pit_depth_mm"] > 0) & (r.plate_state == PlateState.HOLED),
    ),
    Finding(
        code="no_plate_left",
        severity="act",
        statement="No plate is left at this reading: it is a hole.",
        field="plate_mm",
        applies=lambda a, _: rounded(a["plate_mm"], "mm") == 0,
    ),
    Finding(
        code="plate_thicker_than_original",
        severity="note",
        statement="The plate reads {plate_mm} mm where it started with {original_mm} mm: mills roll over the nominal, and a "
        "loss counted from the nominal is then too small.",
        field="plate_mm",
        values=("plate_mm", "original_mm"),
        applies=lambda a, _: below(a["original_mm"], a["plate_mm"], "mm"),
    ),
    Finding(
        code="plate_over_mill_tolerance",
        severity="watch",
        statement="{plate_mm} mm is more than a mill delivers for {original_mm} mm (EN 10029 class A), by more than the "
        "gauge explains: the original thickness or the reading is probably wrong.",
        field="plate_mm",
        values=("plate_mm", "original_mm"),
        applies=lambda a, _: over_mill_tolerance(a["original_mm"], a["plate_mm"]),
    ),
)

ASSUMED = (
    Assumption(
        field="pit_depth_mm",
        value=0.0,
        unit="mm",
        basis="no pit was measured: taken as none",
        when=lambda a, _: np.isnan(a["pit_depth_mm"]),
    ),
)

WORKING = (
    Step(
        symbol="residual_mm",
        formula="max(plate_mm - pit_depth_mm, 0)",
        substituted="max({plate_mm} - {pit_depth_mm}, 0)",
        value="residual_mm",
        unit="mm",
        reference="residual-datum",
    ),
    Step(
        symbol="loss_mm",
        formula="original_mm - residual_mm",
        substituted="{original_mm} - {residual_mm}",
        value="loss_mm",
        unit="mm",
        reference="residual-datum",
    ),
    Step(
        symbol="loss_percent",
        formula="100 * loss_mm / original_mm",
        substituted="100 * {loss_mm} / {original_mm}",
        value="loss_percent",
        unit="%",
        reference="residual-datum",
    ),
    Step(
        symbol="general_loss_mm",
        formula="original_mm - plate_mm",
        substituted="{original_mm} - {plate_mm}",
        value="general_loss_mm",
        unit="mm",
        reference="residual-datum",
    ),
)


def residual_thickness(
    *,
    original_mm: npt.ArrayLike,
    plate_mm: npt.ArrayLike,
    pit_depth_mm: npt.ArrayLike = np.nan,
) -> ResidualThickness:
    """Take the pit from the plate beside it, and what is left from what the plate started with.

    residual = max(plate - pit, 0); loss = original - residual; loss % = 100 loss / original.

    Parameters
    ----------
    original_mm : scalar or array
        What the plate started with [mm], 0.5 to 40; NaN = unknown, then every loss is NaN.
    plate_mm : scalar or array
        Plate beside the pit [mm], 0 to 200.
    pit_depth_mm : scalar or array, optional
        Depth of the pit from the plate surface beside it, paint and scale removed [mm], 0 to 200; NaN = not measured,
        taken as 0.

    Returns
    -------
    ResidualThickness
        `pit_share_percent` is NaN where nothing is lost; a plate thicker than its original has a negative loss.

    Raises
    ------
    NotApplicableError
        Where a pit is deeper than the plate beside it by more than 0.5 mm.

    Notes
    -----
    Valid for plate read from one side with the pit on either; pits opposite each other on both faces are not added up.

    Examples
    --------
    >>> left = residual_thickness(original_mm=10.0, plate_mm=9.8, pit_depth_mm=2.8)
    >>> round(float(left.residual_mm), 3), round(float(left.loss_percent), 2)
    (7.0, 30.0)

    References
    ----------
    residual-datum, gauge-uncertainty, en-10029-class-a
    """
    arguments = columns(locals())
    refuse(FAULTS, arguments)
    original, plate = arguments["original_mm"], arguments["plate_mm"]
    measured = arguments["pit_depth_mm"]
    pit = np.where(np.isnan(measured), 0.0, measured)
    # A difference that rounds to nothing is a hole, not a film of steel that no gauge could read.
    residual = np.where(at_least(pit, plate, "mm"), 0.0, plate - pit)
    loss, general_loss = original - residual, original - plate
    positive = rounded(loss, "mm") > 0
    return ResidualThickness(
        residual_mm=residual,
        loss_mm=loss,
        loss_percent=100 * loss / original,
        general_loss_mm=general_loss,
        general_loss_percent=100 * general_loss / original,
        pit_depth_mm=pit,
        pit_share_percent=100 * (plate - residual) / np.where(positive, loss, np.nan),
        plate_state=chosen(
            (residual == 0, PlateState.HOLED),
            (below(original, plate, "mm"), PlateState.THICKER_THAN_ORIGINAL),
            otherwise=PlateState.METAL_REMAINS,
        ),
    )
