"""POST /v1/calculations/hull-survey."""

from __future__ import annotations

from platemargin.hull_survey import ASSUMED, FAULTS, FINDINGS, hull_survey
from platemargin.judged import LIMIT_WORKING
from platemargin.plate_margin import WORKING
from platemargin.reference import (
    API_570,
    API_570_INTERVAL,
    ASTM_G46,
    BESIDE_PREVIOUS,
    DECIMAL_POINT,
    EN_10029,
    FAST_RATE,
    FEW_READINGS,
    FIELLER,
    GAUGE_UNCERTAINTY,
    GUM,
    INSURER_MINIMUM,
    ISO_9224,
    PIVOTAL_PREDICTION,
    PLATING_NOTATION,
    RESIDUAL_DATUM,
    SHIBATA,
    STATION_TOLERANCE,
    SURVEY_INTERVAL,
    VALUE_PATTERNS,
    ZONE_EXPOSURE,
)
from platemargin_api.calculation import Brought, Calculation
from platemargin_api.calculations import anode_condition, anode_sizing, attack_form, common
from platemargin_api.calculations.hull_survey_request import HullSurveyRequest
from platemargin_api.calculations.hull_survey_result import HullSurveyResult
from platemargin_api.calculations.hull_survey_words import summary, working_figures
from platemargin_api.calculations.remaining_life import LIFE_CAUTIONS
from platemargin_api.media import HTML, PDF, pdf_is_set
from platemargin_api.renderings.plate_map import plate_map
from platemargin_api.renderings.report import survey_report, survey_report_pdf

__all__ = ["calculation"]

_NOT_A_CONDITION_SURVEY = (
    "These are calculations on plate readings, not a condition survey: they say nothing of welds, skin fittings, stern gear, "
    "openings, gas, fuel or electrics."
)
_SAFETY = (
    "Plate is read under a hull that is safely shored, by people who know how; blasting, hot work near tanks and linings, and "
    "work in confined spaces follow local codes and licensed practice."
)
calculation = Calculation(
    id="hull-survey",
    version="2.0.2",
    title="A whole hull survey",
    description="Every reading, every zone, every limit, the life that is left at the thinnest places, what was not looked "
    "at and what to do.",
    request=HullSurveyRequest,
    response=HullSurveyResult,
    run=hull_survey,
    faults=FAULTS,
    findings=FINDINGS,
    assumed=ASSUMED,
    # The benchmark is not part of a survey: its steps have nothing to show.
    working=(
        *(step for step in WORKING if step.value != "benchmark_ratio"),
        *LIMIT_WORKING,
        *anode_condition.calculation.working,
        *anode_sizing.calculation.working,
    ),
    working_figures=working_figures,
    summary=summary,
    brought={
        member: Brought(references=made.references, cautions=made.cautions)
        for member, made in (
            ("observations", attack_form.calculation),
            ("anodes", anode_condition.calculation),
            ("anode_sizing", anode_sizing.calculation),
        )
    },
    references=(
        RESIDUAL_DATUM,
        GAUGE_UNCERTAINTY,
        API_570,
        API_570_INTERVAL,
        EN_10029,
        FIELLER,
        GUM,
        ISO_9224,
        ASTM_G46,
        SURVEY_INTERVAL,
        ZONE_EXPOSURE,
        PLATING_NOTATION,
        FEW_READINGS,
        VALUE_PATTERNS,
        DECIMAL_POINT,
        FAST_RATE,
        STATION_TOLERANCE,
        SHIBATA,
        PIVOTAL_PREDICTION,
        BESIDE_PREVIOUS,
        INSURER_MINIMUM,
    ),
    cautions=(
        _NOT_A_CONDITION_SURVEY,
        common.ADVICE_ONLY,
        common.PLACES_READ,
        *LIFE_CAUTIONS,
        _SAFETY,
    ),
    example={
        "hull": {"name": "Example", "length_m": 17.5, "beam_m": 2.1, "draught_m": 0.65},
        "built_on": "2008",
        "surveyed_on": "2024-12-31",
        "as_of": "2025-03-01",
        "plating_notation": "10/6/5",
        "readings": [
            {"id": "b1", "zone": "baseplate", "side": "port", "station_m": 4.0, "plate_mm": 8.8, "pit_depth_mm": 2.6},
            {
                "id": "b2",
                "zone": "baseplate",
                "side": "starboard",
                "station_m": 9.0,
                "plate_mm": 9.8,
                "pit_depth_mm": 2.8,
            },
            {"id": "c1", "zone": "chine", "side": "starboard", "station_m": 9.0, "plate_mm": 5.6},
            {"id": "s1", "zone": "side", "side": "port", "station_m": 6.0, "plate_mm": 5.4, "pit_depth_mm": 0.8},
            {"id": "w1", "zone": "swim", "side": "starboard", "station_m": 16.0, "plate_mm": 5.5},
        ],
        "gauge": {"mode": "multiple_echo", "through_coating": True, "coating_um": 250},
        "unexamined": [{"zone": "baseplate", "from_m": 7.8, "to_m": 8.0, "reason": "docking_blocks"}],
        "ashore": True,
        "inside_seen": False,
        "what_if_original_mm": [6.0],
    },
    renderings={"image/svg+xml": plate_map, HTML: survey_report} | ({PDF: survey_report_pdf} if pdf_is_set() else {}),
)
