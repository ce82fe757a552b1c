"""POST /v1/calculations/residual-thickness."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from platemargin.quantities import text
from platemargin.reference import EN_10029, GAUGE_UNCERTAINTY, RESIDUAL_DATUM
from platemargin.residual_thickness import ASSUMED, FAULTS, FINDINGS, WORKING, PlateState, residual_thickness
from platemargin_api.calculation import Calculation, Figures
from platemargin_api.calculations import common
from platemargin_api.fields import Choice, Number, Request, Response

__all__ = [
    "ResidualThicknessRequest",
    "ResidualThicknessResult",
    "calculation",
    "thickness_members",
    "thickness_sentence",
]


class ResidualThicknessRequest(Request):
    """One reading."""

    original_mm = common.original_mm(required=True)
    plate_mm = common.plate_mm()
    pit_depth_mm = common.pit_depth_mm()


def thickness_members(*, nullable: bool = False) -> dict[str, Any]:
    """Return the result's members; `nullable` where the original may be unknown."""
    return {
        "residual_mm": Number("mm", 0, 200, description="Plate that is left under the pit."),
        "loss_mm": Number("mm", -199.5, 40, description="What is gone of the original; negative = thicker.", nullable=nullable),
        "loss_percent": Number("%", -39900, 100, description="Loss over the original.", nullable=nullable),
        "general_loss_mm": Number("mm", -199.5, 40, description="Loss beside the pit.", nullable=nullable),
        "general_loss_percent": Number("%", -39900, 100, description="General loss over the original.", nullable=nullable),
        "pit_depth_mm": Number("mm", 0, 200, description="Depth of the pit; 0 where none was measured."),
        "pit_share_percent": Number(
            "%",
            0,
            1e8,
            description="Pit over loss; over 100 where the plate is thicker than its original.",
            nullable=True,
        ),
        "plate_state": Choice(PlateState, description="What the reading says of the plate."),
    }


ResidualThicknessResult = Response.from_dict(thickness_members(), name="ResidualThicknessResult")


def thickness_sentence(figures: Figures) -> str:
    """Return the sentence on what is left."""
    left, original = text(figures["residual_mm"]), text(figures["original_mm"])
    if figures["plate_state"] == "holed":
        return f"The plate, {original} mm when new, is holed."
    if figures["loss_mm"] <= 0:
        pit = f", though a pit of {text(figures['pit_depth_mm'])} mm is" if figures["pit_depth_mm"] > 0 else ""
        return f"{left} mm is left of a plate of {original} mm: no loss against the original is measured{pit}."
    lost = f"{text(figures['loss_mm'])} mm ({text(figures['loss_percent'])} %)"
    return f"{left} mm is left of a plate of {original} mm: {lost} is gone."


def _summary(figures: Figures) -> Sequence[str]:
    return [thickness_sentence(figures)]


calculation = Calculation(
    id="residual-thickness",
    version="1.0.0",
    title="What is left of a plate under a pit",
    description="Takes the pit from the plate beside it, and what is left from what the plate started with.",
    request=ResidualThicknessRequest,
    response=ResidualThicknessResult,
    run=residual_thickness,
    elementwise=True,
    faults=FAULTS,
    findings=FINDINGS,
    assumed=ASSUMED,
    working=WORKING,
    summary=_summary,
    references=(RESIDUAL_DATUM, GAUGE_UNCERTAINTY, EN_10029),
    cautions=(common.ADVICE_ONLY, common.ONE_PLACE, common.COATED_PLATE, common.NOMINAL_ORIGINAL),
    example={"original_mm": 10.0, "plate_mm": 8.8, "pit_depth_mm": 2.6},
)
