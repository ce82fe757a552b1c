"""POST /v1/calculations/remaining-life."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from platemargin.quantities import text
from platemargin.reference import (
    API_570,
    API_570_INTERVAL,
    EN_10029,
    FIELLER,
    GAUGE_UNCERTAINTY,
    GUM,
    ISO_9224,
    SURVEY_INTERVAL,
)
from platemargin.remaining_life import ASSUMED, FAULTS, FINDINGS, LONGEST_TOLD_YEARS, WORKING, LifeStatus, remaining_life
from platemargin_api.calculation import Calculation, Figures
from platemargin_api.calculations import common
from platemargin_api.calculations.corrosion_rate import rate_members
from platemargin_api.fields import Choice, Day, Number, Request, Response
from platemargin_api.renderings.thickness_curve import thickness_curve

__all__ = [
    "LIFE_CAUTIONS",
    "RemainingLifeRequest",
    "RemainingLifeResult",
    "calculation",
    "life_members",
    "life_sentences",
]

LIFE_CAUTIONS = (
    "The band covers measurement and mill tolerance only: not a change of rate, nor places that nobody read.",
    "A rate of the past is no promise: a lost anode, a changed mooring or shore power can multiply it.",
)


class RemainingLifeRequest(Request):
    """What is left, what it started with, the time between, and the limit."""

    original_mm = common.original_mm(required=True)
    residual_mm = common.residual_mm()
    years_in_service = common.years_in_service()
    threshold_mm = common.threshold_mm(required=True)
    protected_years = common.protected_years()
    previous_mm, years_since_previous = common.previous_members().values()
    residual_standard_uncertainty_mm = common.residual_standard_uncertainty_mm()
    previous_standard_uncertainty_mm = common.previous_standard_uncertainty_mm()
    (
        exponent,
        rate_factor,
        original_standard_uncertainty_mm,
        confidence,
        years_ahead,
        surveyed_on,
        interval_cap_years,
    ) = common.life_members().values()


#: What of corrosion-rate's answer tells which rate the life follows, and whether to trust it.
_OF_THE_RATE = (
    "short_term_mm_per_year",
    "short_term_standard_uncertainty_mm_per_year",
    "short_term_significant",
    "governing",
)


def life_members() -> dict[str, Any]:
    """Return the result's members."""
    thickness: dict[str, Any] = {"unit": "mm", "minimum": 0, "maximum": 1e13}
    years: dict[str, Any] = {"unit": "year", "minimum": 0, "maximum": 1e6, "nullable": True}
    return {
        "years": Number(**years, description="Years from the survey until the limit."),
        "years_low": Number(**years, description="Lower end of the band."),
        "years_high": Number(**years, description="Upper end of the band; null where there is none."),
        "status": Choice(LifeStatus, description="Where the plate stands towards the limit."),
        "reached_on": Day(description="Day on which the limit is reached.", nullable=True),
        "forecast_mm": Number(**thickness, description="What is left at years_ahead."),
        "forecast_low_mm": Number(**thickness, description="Lower end of its band."),
        "forecast_high_mm": Number(**thickness, description="Upper end of its band."),
        "probability_below": Number("probability", 0, 1, description="That it is below the limit at years_ahead."),
        "probability_below_now": Number("probability", 0, 1, description="That it is below the limit already."),
        "next_survey_within_years": Number("year", 0, 50, description="The lesser of the cap and half of years_low."),
        **{name: member for name, member in rate_members().items() if name in _OF_THE_RATE},
        "base_mm": Number("mm", 0, 200, description="Thickness that the life's rate is counted from."),
        "base_years": Number("year", 0, 200, description="Time that the life's rate is counted over."),
        "base_standard_uncertainty_mm": Number("mm", 0, 10, description="Standard uncertainty of base_mm."),
        "coverage_factor": Number("1", 0, 4, description="Standard deviations in half the band."),
        "growth_low": Number("1", 1, 1e18, description="Loss at years_low over the loss today.", nullable=True),
        "growth_high": Number("1", 1, 1e18, description="Loss at years_high over the loss today.", nullable=True),
    }


RemainingLifeResult = Response.from_dict(life_members(), name="RemainingLifeResult")


def band_words(life: Figures, confidence: float) -> str:
    """Return a life and its band in words; one so long that nobody can know it is told by its lower end alone."""
    low, years, high = life["years_low"], life["years"], life["years_high"]
    percent = text(round(100 * confidence, 1))
    if low is not None and (years is None or years > LONGEST_TOLD_YEARS):
        return f"not before {text(low)} years (lower end at {percent} % confidence)"
    band = f"{text(low)} or more" if high is None else f"{text(low)} to {text(high)}"
    return f"in {text(years)} years ({band} at {percent} % confidence)"


def life_sentences(figures: Figures) -> list[str]:
    """Return the sentences on the life that is left."""
    limit, due = text(figures["threshold_mm"]), figures["next_survey_within_years"]
    if figures["status"] == "already_below":
        return [f"It is below the limit of {limit} mm already."]
    survey = f"The next survey is due within {text(due)} years." if due else "The next survey is due now."
    if figures["years"] is None and figures["years_low"] is None:
        return [f"The life to {limit} mm has no finite value.", survey]
    if figures["years"] == 0:
        return [f"It is at the limit of {limit} mm now.", survey]
    return [f"It reaches {limit} mm {band_words(figures, figures['confidence'])}.", survey]


def _summary(figures: Figures) -> Sequence[str]:
    left, limit = text(figures["residual_mm"]), text(figures["threshold_mm"])
    return [f"{left} mm is left, to be compared with the limit of {limit} mm.", *life_sentences(figures)]


calculation = Calculation(
    id="remaining-life",
    version="1.0.1",
    title="When the plate passes a limit",
    description="Follows the governing loss into the future until the limit, with the band that measurement and mill "
    "tolerance leave open, in closed form.",
    request=RemainingLifeRequest,
    response=RemainingLifeResult,
    run=remaining_life,
    elementwise=True,
    faults=FAULTS,
    findings=FINDINGS,
    assumed=ASSUMED,
    working=WORKING,
    summary=_summary,
    references=(
        API_570,
        API_570_INTERVAL,
        ISO_9224,
        FIELLER,
        EN_10029,
        GUM,
        GAUGE_UNCERTAINTY,
        SURVEY_INTERVAL,
    ),
    cautions=(common.ADVICE_ONLY, common.ONE_PLACE, *LIFE_CAUTIONS),
    example={
        "original_mm": 10.0,
        "residual_mm": 6.2,
        "years_in_service": 16.0,
        "threshold_mm": 4.0,
        "surveyed_on": "2026-05-04",
    },
    renderings={"image/svg+xml": thickness_curve},
)
