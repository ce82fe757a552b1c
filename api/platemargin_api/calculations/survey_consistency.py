"""POST /v1/calculations/survey-consistency."""

from __future__ import annotations

from collections.abc import Sequence

from platemargin.reference import (
    BESIDE_PREVIOUS,
    BONFERRONI,
    DECIMAL_POINT,
    EN_10029,
    FAST_RATE,
    FEW_READINGS,
    GAUGE_CALIBRATION,
    GAUGE_UNCERTAINTY,
    PLATING_NOTATION,
    RESIDUAL_DATUM,
    STATION_TOLERANCE,
    VALUE_PATTERNS,
    ZONE_EXPOSURE,
)
from platemargin.survey_consistency import ASSUMED, FAULTS, FINDINGS, Outcome, Standing, survey_consistency
from platemargin_api.calculation import Calculation, Figures
from platemargin_api.calculations import common, judged
from platemargin_api.calculations.hull_survey_request import HullSurveyRequest
from platemargin_api.fields import Choice, Flag, Integer, Response, Rows, Text

__all__ = ["SurveyConsistencyRequest", "SurveyConsistencyResult", "calculation"]

_MOST_CHECKS = 100
_STANDINGS = {
    "queries": "There is something to ask before this survey is relied on; a query is a question, not a judgement of anybody.",
    "cannot_judge": "Too little could be judged to say whether these data are believable; what could be raises no query.",
    "no_query": "No check raises a query; data without a query can still be wrong.",
}


class SurveyConsistencyRequest(HullSurveyRequest):
    """A whole survey, as hull-survey takes it; only types and bounds are refused."""


class CheckOutcomeResponse(Response):
    """One check's outcome."""

    code = Text(1, 80, description="The check: the code of the finding that it makes.")
    outcome = Choice(Outcome, description="What it says.")
    reason = Text(1, 200, description="Why it was not judged.", nullable=True)


class SurveyConsistencyResult(Response):
    """The checks' answer."""

    standing = Choice(
        Standing,
        description="queries: a finding says watch or act; cannot_judge: else, where readings could not be held against what "
        "was plated, not among themselves, or not against a previous survey that was sent; no_query: else.",
    )
    consistent = Flag(description="No finding says watch or act; true also where too little could be judged.")
    readings_count = Integer(1, judged.MOST_READINGS, description="Readings sent.")
    zones_count = Integer(1, judged.MOST_READINGS, description="Zones that they are of.")
    queried_count = Integer(0, _MOST_CHECKS, description="Checks that raise a query.")
    passed_count = Integer(0, _MOST_CHECKS, description="Checks that raise none.")
    not_judged_count = Integer(0, _MOST_CHECKS, description="Checks that could not be made.")
    matched_count = Integer(
        0,
        judged.MOST_READINGS,
        description="Places whose plate the previous survey read too; null where none was sent or the two cannot be matched.",
        nullable=True,
    )
    checks = Rows(CheckOutcomeResponse, 1, _MOST_CHECKS, description="Every check, in a fixed order.")


def _words(figures: Figures, outcome: str) -> str:
    return ", ".join(check["code"].replace("_", " ") for check in figures["checks"] if check["outcome"] == outcome)


def _summary(figures: Figures) -> Sequence[str]:
    counts = (
        f"Readings: {figures['readings_count']}, zones: {figures['zones_count']}; checks that raise a query: "
        f"{figures['queried_count']}, that raise none: {figures['passed_count']}, that could not be made: "
        f"{figures['not_judged_count']}."
    )
    matched = figures["matched_count"]
    beside = [] if matched is None else [f"Places whose plate the previous survey read too: {matched}."]
    queried = [f"Queries: {_words(figures, 'queried')}."] if figures["queried_count"] else []
    return [_STANDINGS[figures["standing"]], counts, *beside, *queried]


_A_QUESTION = (
    "A query is a question to whoever sent the data: honest surveys have some. It is no judgement of a person and is not to be "
    "published as one."
)

calculation = Calculation(
    id="survey-consistency",
    version="1.0.0",
    title="Whether a survey's data are believable",
    description="Asks of a whole survey what a careful reader would ask before relying on data from a stranger: every "
    "contradiction, every slip of unit or decimal point, values that do not scatter as readings do, and a survey before it "
    "that reads as no earlier one would.",
    request=SurveyConsistencyRequest,
    response=SurveyConsistencyResult,
    run=survey_consistency,
    faults=FAULTS,
    findings=FINDINGS,
    assumed=ASSUMED,
    summary=_summary,
    references=(
        FEW_READINGS,
        VALUE_PATTERNS,
        FAST_RATE,
        DECIMAL_POINT,
        EN_10029,
        GAUGE_UNCERTAINTY,
        PLATING_NOTATION,
        ZONE_EXPOSURE,
        RESIDUAL_DATUM,
        BESIDE_PREVIOUS,
        STATION_TOLERANCE,
        GAUGE_CALIBRATION,
        BONFERRONI,
    ),
    cautions=(
        _A_QUESTION,
        "Data without a query can still be wrong, incomplete or invented; what was not read is not seen here.",
        "It says nothing of the plate: whether the boat is sound is asked of hull-survey, and of a surveyor.",
        common.ADVICE_ONLY,
    ),
    example={
        "hull": {"name": "Example", "length_m": 17.5, "beam_m": 2.1, "draught_m": 0.65},
        "built_on": "2008",
        "surveyed_on": "2024-12-31",
        "plating_notation": "10/6/5",
        "readings": [
            {"id": "b1", "zone": "baseplate", "side": "port", "station_m": 4.0, "plate_mm": 9.4, "pit_depth_mm": 1.2},
            {"id": "b2", "zone": "baseplate", "side": "starboard", "station_m": 9.0, "plate_mm": 98, "pit_depth_mm": 0.8},
            {"id": "s1", "zone": "side", "side": "port", "station_m": 6.0, "plate_mm": 5.6, "pit_depth_mm": 0.4},
            {"id": "s2", "zone": "side", "side": "starboard", "station_m": 19.0, "plate_mm": 5.7},
        ],
    },
)
