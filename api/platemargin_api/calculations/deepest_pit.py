"""POST /v1/calculations/deepest-pit."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, get_args

from platemargin.deepest_pit import (
    CONFIDENCE,
    FAULTS,
    FINDINGS,
    METHOD,
    WORKING,
    MethodName,
    PitSampling,
    deepest_pit,
)
from platemargin.quantities import odds, text
from platemargin.reference import (
    COLES,
    GAUGE_UNCERTAINTY,
    GUMBEL,
    HOSKING,
    LAWLESS,
    LIEBLEIN,
    PHIEN,
    PIVOTAL_PREDICTION,
    SHIBATA,
    STEPHENS,
)
from platemargin_api.calculation import Calculation, Figures
from platemargin_api.calculations import common
from platemargin_api.fields import Choice, List, Number, Object, Request, Response, Rows, Text
from platemargin_api.renderings.probability_plot import probability_plot

__all__ = ["DeepestPitRequest", "DeepestPitResult", "calculation", "patch_area_m2", "sampling"]

_MOST_PATCHES = 5000
#: No more than any in-range request comes to: the scale of 200 mm of spread, 5e7 patches and all of a fit's uncertainty.
_DEEPEST_MM = 1e6


def sampling(**kwargs: Any) -> Choice:
    """Return how patches were chosen."""
    return Choice(
        get_args(PitSampling),
        description="How the patches were chosen whose deepest pits these are; picked by eye they say nothing of the rest.",
        **kwargs,
    )


def patch_area_m2(**kwargs: Any) -> Number:
    """Return the area of one patch."""
    description = "Area of one patch; below 0.001 m2 (10 cm2) it would not hold several pits, of which the deepest is sent."
    return Number("m2", 0.001, 1000, description=description, **kwargs)


def _depth(description: str) -> Number:
    return Number("mm", -_DEEPEST_MM, _DEEPEST_MM, description=description, nullable=True)


class DeepestPitRequest(Request):
    """The deepest pit of each of some equal patches."""

    pit_depths_mm = List(
        Number("mm", 0, 200, description="The deepest pit of a patch."),
        5,
        _MOST_PATCHES,
        description="The deepest pit of each patch.",
        required=True,
    )
    sampling = sampling(required=True)
    patch_area_m2 = patch_area_m2(required=True)
    total_area_m2 = Number("m2", 0.005, 50_000, description="Area of all that the patches stand for.", required=True)
    plate_mm = Number("mm", 0, 200, description="Thickness of the plate.")
    method = Choice(
        get_args(MethodName),
        description="How location and scale are estimated; lieblein for 16 patches at the most.",
        default=METHOD,
        basis="the estimator of least uncertainty for any number of patches",
    )
    confidence = Number(
        "1",
        0.5,
        0.999,
        description="Confidence of the upper depths, one-sided.",
        default=CONFIDENCE,
        basis="common practice: one in twenty",
    )


class FitResponse(Response):
    """How well the depths fit."""

    statistic = Number("1", 0, 1e9, description="Anderson and Darling's distance from the fit.")
    p_value = Number("probability", 0, 1, description="How often depths of a Gumbel distribution lie as far from their fit.")
    statement = Text(1, 300, description="What that means.")
    shape = Number("1", -0.5, 0.5, description="Shape of the extreme value distribution that fits best; 0 is Gumbel's.")
    likelihood_ratio_statistic = Number("1", 0, 1e9, description="Twice the log-likelihood that the shape gains.")
    likelihood_ratio_p_value = Number("probability", 0, 1, description="How often chance gains as much.")


class PlotPointResponse(Response):
    """One point of a probability plot."""

    reduced_variate = Number("1", -3, 10, description="-ln(-ln(i / (n + 1))) of the i-th of n depths.")
    depth_mm = Number("mm", 0, 200, description="That depth.")


class DeepestPitResult(Response):
    """The fit, and the deepest pit of the whole area."""

    location_mm = Number("mm", -400, 400, description="Location of the Gumbel distribution of a patch's deepest pit.")
    scale_mm = Number("mm", 0, 400, description="Its scale.")
    location_se_mm = Number("mm", 0, 400, description="Standard error of the location.")
    scale_se_mm = Number("mm", 0, 400, description="Standard error of the scale.")
    return_period = Number("ratio", 5, 5e7, description="T: how many patches the area has.")
    unread_patches = Number(
        "ratio",
        0,
        5e7,
        description="How many of them nobody read; 0 where it is less than half a patch: nothing is extrapolated.",
    )
    inspected_percent = Number("%", 0, 100, description="How much of the area the patches are.")
    deepest_read_mm = Number("mm", 0, 200, description="The deepest pit that was read.")
    most_likely_mm = _depth("The most likely depth of the deepest pit of the whole area.")
    quantile_mm = _depth("The depth that one patch in T exceeds.")
    expected_mm = _depth("The mean of the deepest pit over many areas like this.")
    upper_mm = _depth(
        "The depth that the deepest pit is not over at the confidence asked, the fit's own uncertainty inside; where every "
        "patch was read the deepest of them, but never below the next."
    )
    upper_if_parameters_known_mm = _depth("The same were location and scale known: too low for few patches.")
    upper_reduced = Number(
        "1",
        -700,
        1e4,
        description="(upper_mm - location) / scale, from samples as large, drawn and fitted alike; the deepest read's where "
        "every patch was read.",
        nullable=True,
    )
    probability_holed = Number(
        "probability",
        0,
        1,
        description="That a pit is as deep as the plate in a patch that nobody read, given every depth that was read, the "
        "fit's own uncertainty inside; 1 where one that was read is, 0 where every patch was read and none is.",
        nullable=True,
    )
    probability_holed_if_parameters_known = Number(
        "probability", 0, 1, description="The same were location and scale known.", nullable=True
    )
    fit = Object(FitResponse, description="How well the depths fit.")
    plot = Rows(PlotPointResponse, 5, _MOST_PATCHES, description="Points of a probability plot, ascending.")


def _upper_sentence(figures: Figures) -> str:
    percent, upper = text(100 * figures["confidence"]), text(figures["upper_mm"])
    known = text(figures["upper_if_parameters_known_mm"])
    return f"At {percent} % confidence it is not over {upper} mm; {known} mm were the fit itself certain."


def _whole_sentences(figures: Figures) -> list[str]:
    """Say what the deepest pit of an area is of which every patch was read."""
    deepest, likely = text(figures["deepest_read_mm"]), text(figures["most_likely_mm"])
    return [
        f"Every patch was read: the deepest pit of the area is the {deepest} mm read.",
        f"The other depths are of an area like it, where {likely} mm is most likely.",
    ]


def _deepest_sentences(figures: Figures) -> list[str]:
    """Say what the deepest pit of an area is of which some patches were read."""
    deepest, mode = text(figures["deepest_read_mm"]), text(figures["most_likely_mm"])
    likely = f"The deepest of the whole area is most likely {mode} mm."
    if figures["most_likely_mm"] < figures["deepest_read_mm"]:
        likely = f"The deepest of the whole area is at least the {deepest} mm read; of areas like it {mode} mm is most likely."
    return [likely, _upper_sentence(figures)]


def _holed_sentence(figures: Figures) -> list[str]:
    plate, probability = figures.get("plate_mm"), figures["probability_holed"]
    if probability is None:
        return []
    if figures["deepest_read_mm"] >= plate:
        return [f"A pit goes through the plate of {text(plate)} mm already."]
    if figures["unread_patches"] == 0:
        return [f"No pit goes through the plate of {text(plate)} mm."]
    # Rounded to 0 or 1, it is neither.
    told = {0: "is next to impossible by this fit", 1: "is next to certain by this fit"}
    likely = told.get(probability, f"has a probability of {odds(probability)}")
    return [
        f"That a pit that nobody read goes through the plate of {text(plate)} mm {likely}, none that was read being as deep."
    ]


def _summary(figures: Figures) -> Sequence[str]:
    count, fits = len(figures["pit_depths_mm"]), figures["fit"]["statement"]
    deepest, percent = text(figures["deepest_read_mm"]), text(figures["inspected_percent"])
    read = f"The deepest pit read is {deepest} mm, of {count} patches that are {percent} % of the area."
    if figures["most_likely_mm"] is None:
        return [read, "How they were chosen says nothing of the pits that nobody read: none is told.", fits]
    told = _deepest_sentences(figures) if figures["unread_patches"] else _whole_sentences(figures)
    return [read, *told, *_holed_sentence(figures), fits]


_ALIKE = (
    "Patches are alike, equal and drawn at random, or the figures mean nothing: a bottom that is attacked aft alone is two "
    "areas."
)
_ONE_FACE = (
    "It is of one face of the plate and of the day of the survey: pits of the other face, welds, edges and the time to come "
    "are no part of it."
)

calculation = Calculation(
    id="deepest-pit",
    version="1.0.2",
    title="The pit that nobody measured",
    description="From the deepest pit of each of some equal patches to the deepest of the whole area: five answers to five "
    "questions, the probability of a hole, and how well the depths fit.",
    request=DeepestPitRequest,
    response=DeepestPitResult,
    run=deepest_pit,
    faults=FAULTS,
    findings=FINDINGS,
    working=WORKING,
    summary=_summary,
    references=(
        SHIBATA,
        GUMBEL,
        COLES,
        HOSKING,
        LIEBLEIN,
        STEPHENS,
        PHIEN,
        PIVOTAL_PREDICTION,
        LAWLESS,
        GAUGE_UNCERTAINTY,
    ),
    cautions=(
        common.ADVICE_ONLY,
        _ALIKE,
        _ONE_FACE,
        "A standard error of few patches covers less than a normal distribution says; the upper depth covers what it says.",
        "Extrapolation does not replace reading: a place that may be holed is found by looking.",
    ),
    example={
        "pit_depths_mm": [0.6, 0.9, 0.7, 1.2, 0.8, 1.0, 0.9, 1.1, 0.7, 1.4, 0.8, 1.0],
        "sampling": "random_patches",
        "patch_area_m2": 0.25,
        "total_area_m2": 30.0,
        "plate_mm": 5.6,
    },
    renderings={"image/svg+xml": probability_plot},
)
