"""POST /v1/calculations/corrosion-rate."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from platemargin.corrosion_rate import FAULTS, FINDINGS, WORKING, Governing, corrosion_rate
from platemargin.quantities import text
from platemargin.reference import API_570, EN_1993_5_FRESH, EN_1993_5_SEA, GAUGE_UNCERTAINTY, GUM
from platemargin_api.calculation import Calculation, Figures
from platemargin_api.calculations import common
from platemargin_api.fields import Choice, Flag, Number, Request, Response

__all__ = ["CorrosionRateRequest", "CorrosionRateResult", "calculation", "rate_members", "rate_sentence"]


class CorrosionRateRequest(Request):
    """What is left, what it started with, and the time between."""

    original_mm = common.original_mm(required=True)
    residual_mm = common.residual_mm()
    years_in_service = common.years_in_service()
    protected_years = common.protected_years()
    previous_mm, years_since_previous = common.previous_members().values()
    general_loss_mm = Number("mm", -199.5, 40, description="Loss beside the pits, for the benchmark: original less plate.")
    faces, environment = common.benchmark_members().values()
    residual_standard_uncertainty_mm = common.residual_standard_uncertainty_mm()
    previous_standard_uncertainty_mm = common.previous_standard_uncertainty_mm()


def rate_members() -> dict[str, Any]:
    """Return the result's members."""
    return {
        "long_term_mm_per_year": Number("mm/year", -4e4, 8e3, description="Loss over the unprotected years."),
        "short_term_mm_per_year": Number(
            "mm/year", -2e3, 2e3, description="Loss since the previous reading over the years since.", nullable=True
        ),
        "short_term_standard_uncertainty_mm_per_year": Number(
            "mm/year", 0, 200, description="Standard uncertainty of the short-term rate.", nullable=True
        ),
        "short_term_significant": Flag(
            description="Whether it differs from none by more than 1.96 standard uncertainties.", nullable=True
        ),
        "governing_mm_per_year": Number("mm/year", -4e4, 8e3, description="The larger of the two."),
        "governing": Choice(Governing, description="Which one that is."),
        "benchmark_loss_mm": Number(
            "mm", 0, 20, description="Uniform loss that EN 1993-5 expects of that age in that water.", nullable=True
        ),
        "benchmark_ratio": Number("ratio", -1e7, 1e7, description="General loss over the benchmark.", nullable=True),
    }


CorrosionRateResult = Response.from_dict(rate_members(), name="CorrosionRateResult")


def rate_sentence(figures: Figures) -> str:
    """Return the sentence on how fast it goes; a hole was there before anybody read it."""
    rate, by_short_term = figures["governing_mm_per_year"], figures["governing"] == "short_term"
    if rate <= 0:
        return "No rate of loss can be told: none is measured, or one that rounds to none."
    since = "since the previous reading" if by_short_term else "over its unprotected life"
    weak = " (within the gauges' uncertainty)" if by_short_term and not figures["short_term_significant"] else ""
    least = "at least " if figures["residual_mm"] == 0 else ""
    return f"The plate loses {least}{text(rate)} mm/year {since}{weak}."


def benchmark_sentences(figures: Figures) -> list[str]:
    """Return the sentence on the benchmark, where there is one."""
    if figures["benchmark_ratio"] is None:
        return []
    ratio, expected = text(figures["benchmark_ratio"]), text(figures["benchmark_loss_mm"])
    if figures["benchmark_ratio"] <= 0:
        return [f"No general loss is measured, where EN 1993-5 expects {expected} mm in this water."]
    return [f"The general loss is {ratio} times the {expected} mm that EN 1993-5 expects in this water."]


def _summary(figures: Figures) -> Sequence[str]:
    return [rate_sentence(figures), *benchmark_sentences(figures)]


calculation = Calculation(
    id="corrosion-rate",
    version="1.0.0",
    title="How fast the plate goes",
    description="Long-term and short-term rate, the larger governs; and the loss that a published table expects.",
    request=CorrosionRateRequest,
    response=CorrosionRateResult,
    run=corrosion_rate,
    elementwise=True,
    faults=FAULTS,
    findings=FINDINGS,
    working=WORKING,
    summary=_summary,
    references=(API_570, EN_1993_5_FRESH, EN_1993_5_SEA, GAUGE_UNCERTAINTY, GUM),
    cautions=(
        common.ADVICE_ONLY,
        common.ONE_PLACE,
        "A rate of the past is no promise: a lost anode, a changed mooring or shore power can multiply it.",
        "The benchmark is a uniform loss at the water line; a pit is never compared with it.",
    ),
    example={
        "original_mm": 10.0,
        "residual_mm": 6.2,
        "years_in_service": 16.0,
        "general_loss_mm": 1.2,
        "environment": "fresh_water",
    },
)
