"""POST /v1/calculations/plate-margin."""

from __future__ import annotations

from collections.abc import Sequence

from platemargin import plate_margin as room
from platemargin.quantities import text
from platemargin.reference import (
    API_570,
    API_570_INTERVAL,
    EN_1993_5_FRESH,
    EN_1993_5_SEA,
    EN_10029,
    FIELLER,
    GAUGE_UNCERTAINTY,
    GUM,
    INSURER_MINIMUM,
    ISO_9224,
    RESIDUAL_DATUM,
    SURVEY_INTERVAL,
)
from platemargin_api.calculation import Calculation, Figures
from platemargin_api.calculations import common
from platemargin_api.calculations.corrosion_rate import rate_members, rate_sentence
from platemargin_api.calculations.remaining_life import LIFE_CAUTIONS, life_members, life_sentences
from platemargin_api.calculations.residual_thickness import thickness_members, thickness_sentence
from platemargin_api.fields import Number, Request, Response

__all__ = ["PlateMarginRequest", "PlateMarginResult", "calculation"]


class PlateMarginRequest(Request):
    """One reading, its age and the limit."""

    original_mm = common.original_mm(required=True)
    plate_mm = common.plate_mm()
    pit_depth_mm = common.pit_depth_mm()
    years_in_service = common.years_in_service()
    threshold_mm = common.threshold_mm(
        default=room.THRESHOLD_MM, basis="the first limit of the rule set trade-practice; an insurer's own terms decide"
    )
    plate_standard_uncertainty_mm = common.plate_standard_uncertainty_mm()
    pit_standard_uncertainty_mm = common.pit_standard_uncertainty_mm()
    protected_years = common.protected_years()
    previous_mm, years_since_previous = common.previous_members().values()
    previous_standard_uncertainty_mm = common.previous_standard_uncertainty_mm()
    faces, environment = common.benchmark_members().values()
    (
        exponent,
        rate_factor,
        original_standard_uncertainty_mm,
        confidence,
        years_ahead,
        surveyed_on,
        interval_cap_years,
    ) = common.life_members().values()


PlateMarginResult = Response.from_dict(
    {
        **thickness_members(),
        "margin_mm": Number("mm", -40, 200, description="Plate that is left over the limit; negative = below it."),
        **rate_members(),
        **life_members(),
        "residual_standard_uncertainty_mm": Number("mm", 0, 15, description="Standard uncertainty of residual_mm."),
    },
    name="PlateMarginResult",
)


def _margin_sentence(figures: Figures) -> str:
    margin, limit = figures["margin_mm"], text(figures["threshold_mm"])
    if margin == 0:
        return f"That is exactly at the limit of {limit} mm."
    return f"That is {text(abs(margin))} mm {'below' if margin < 0 else 'above'} the limit of {limit} mm."


def _summary(figures: Figures) -> Sequence[str]:
    return [thickness_sentence(figures), _margin_sentence(figures), rate_sentence(figures), *life_sentences(figures)]


calculation = Calculation(
    id="plate-margin",
    version="1.0.1",
    title="Everything about one reading: what is left, how fast it goes, when it passes the limit",
    description="residual-thickness, corrosion-rate and remaining-life of one reading in one call, and its margin to the "
    "limit.",
    request=PlateMarginRequest,
    response=PlateMarginResult,
    run=room.plate_margin,
    elementwise=True,
    faults=room.FAULTS,
    findings=room.FINDINGS,
    assumed=room.ASSUMED,
    working=room.WORKING,
    summary=_summary,
    references=(
        RESIDUAL_DATUM,
        GAUGE_UNCERTAINTY,
        API_570,
        API_570_INTERVAL,
        EN_1993_5_FRESH,
        EN_1993_5_SEA,
        EN_10029,
        ISO_9224,
        FIELLER,
        GUM,
        SURVEY_INTERVAL,
        INSURER_MINIMUM,
    ),
    cautions=(common.ADVICE_ONLY, common.ONE_PLACE, common.COATED_PLATE, common.NOMINAL_ORIGINAL, *LIFE_CAUTIONS),
    example={
        "original_mm": 10.0,
        "plate_mm": 8.8,
        "pit_depth_mm": 2.6,
        "years_in_service": 16.0,
        "environment": "fresh_water",
        "surveyed_on": "2026-05-04",
    },
)
