"""POST /v1/calculations/minimum-plating."""

from __future__ import annotations

from collections.abc import Sequence

from platemargin.minimum_plating import (
    ASSUMED,
    DOUBLE_HULL,
    FAULTS,
    FINDINGS,
    PLATING_ZONES,
    WORKING,
    MinimumPlatingGoverning,
    minimum_plating,
)
from platemargin.quantities import text
from platemargin.reference import ES_TRIN_3_02, EU_2016_1629, ISO_12215_5, STATIC_HEAD
from platemargin_api.calculation import Calculation, Figures
from platemargin_api.calculations import common, judged
from platemargin_api.fields import Choice, Flag, Number, Request, Response

__all__ = ["MinimumPlatingRequest", "MinimumPlatingResult", "calculation"]


class MinimumPlatingRequest(Request):
    """The hull, the part of it, and what one panel has to bear."""

    length_m = judged.length_m()
    draught_m = judged.draught_m(required=True)
    frame_spacing_mm = judged.frame_spacing_mm(required=True)
    zone = Choice(tuple(PLATING_ZONES), description="Part of the shell.", required=True)
    beam_m = judged.beam_m()
    double_hull = Flag(
        description="Whether it has a double bottom and wing voids whose inner side stands in line with the coaming.",
        default=DOUBLE_HULL,
        basis="one skin, which has to be the thicker",
    )
    panel_length_mm = Number("mm", 50, 30_000, description="Other side of the panel, along the frames; absent = a long one.")
    pressure_kpa = Number("kPa", 0.1, 500, description="Design pressure on the panel; with yield_mpa and ultimate_mpa.")
    yield_mpa = Number("MPa", 100, 1500, description="Yield strength of the steel; with pressure_kpa.")
    ultimate_mpa = Number("MPa", 100, 2000, description="Tensile strength of the steel; with pressure_kpa.")


class MinimumPlatingResult(Response):
    """The least thickness, by each formula."""

    inland_vessel_mm = Number("mm", 3, 50, description="Least thickness of an inland vessel's plate, ES-TRIN 3.02(1)(b).")
    inland_vessel_local_mm = Number("mm", 2, 50, description="The same where plate is thinner locally only: a tenth less.")
    bending_mm = Number(
        "mm", 0, 500, description="What a panel clamped all round needs in bending, ISO 12215-5.", nullable=True
    )
    governing = Choice(
        MinimumPlatingGoverning,
        description="Which figure is the greatest: the article's 3.0 mm (least), its formula of the length, its formula of "
        "draught and frame spacing (draught), or bending.",
    )
    by_length_mm = Number("mm", 3, 50, description="By the formula of the length, at least 3.0 mm.")
    by_draught_mm = Number("mm", 0, 50, description="By the formula of draught and frame spacing.")
    spacing_factor = Number("1", 1, 3, description="f, of the frame spacing.")
    zone_factor = Number("1", 1, 1.25, description="b, of the part of the shell.")
    structure_factor = Number("1", 0.95, 1, description="c, of the structure.")
    panel_width_mm = Number("mm", 50, 2000, description="Shorter side of the panel.", nullable=True)
    panel_aspect = Number("1", 1, 300, description="Longer over shorter side; null where one is not known.", nullable=True)
    k2 = Number("1", 0, 0.5, description="Coefficient of the clamped panel.", nullable=True)
    design_stress_mpa = Number("MPa", 0, 1500, description="Stress that the steel may bear.", nullable=True)
    static_head_kpa = Number("kPa", 0, 100, description="Pressure of still fresh water at the draught.")
    volume_m3 = Number("m3", 0, 50_000, description="Length x beam x draught.", nullable=True)


_BY = {
    "least": "The least that the article's formula of the length gives governs.",
    "length": "The article's formula of the length governs.",
    "draught": "The article's formula of draught and frame spacing governs.",
    "bending": "Bending governs: it asks for more than the article.",
}


def _summary(figures: Figures) -> Sequence[str]:
    least, local = text(figures["inland_vessel_mm"]), text(figures["inland_vessel_local_mm"])
    asked = (
        f"Of an inland vessel of this size ES-TRIN asks at least {least} mm of {figures['zone']} plate, {local} mm where it is "
        "thinner locally only."
    )
    bends = []
    if figures["bending_mm"] is not None:
        needs, pressure = text(figures["bending_mm"]), text(figures["pressure_kpa"])
        bends = [f"A panel of it clamped all round needs {needs} mm to bear {pressure} kPa in bending."]
    return [asked, *bends, _BY[figures["governing"]], "It is a benchmark: leisure craft are probably not bound by it."]


_CAUTIONS = (
    common.ADVICE_ONLY,
    (
        "It is a benchmark for vessels of 20 m and more: the article probably does not bind leisure craft, and no authority "
        "was found for a least thickness of theirs."
    ),
    (
        "Bending under an even pressure says nothing of stiffness, buckling, grounding, impact or fatigue, and nothing of what "
        "will corrode."
    ),
    "Both are of steel; the design stress is of steel as delivered, not of old or heat-damaged plate.",
)

calculation = Calculation(
    id="minimum-plating",
    version="1.0.0",
    title="How thick plating has to be",
    description="The least thickness that the technical standard of inland vessels asks of bottom, side and bilge, as a "
    "benchmark; and what a clamped panel needs in bending under a pressure.",
    request=MinimumPlatingRequest,
    response=MinimumPlatingResult,
    run=minimum_plating,
    faults=FAULTS,
    findings=FINDINGS,
    assumed=ASSUMED,
    working=WORKING,
    summary=_summary,
    references=(ES_TRIN_3_02, EU_2016_1629, ISO_12215_5, STATIC_HEAD),
    cautions=_CAUTIONS,
    example={
        "length_m": 21.3,
        "beam_m": 3.6,
        "draught_m": 0.75,
        "frame_spacing_mm": 600.0,
        "zone": "bottom",
        "panel_length_mm": 900.0,
        "pressure_kpa": 16.0,
        "yield_mpa": 235.0,
        "ultimate_mpa": 360.0,
    },
)
