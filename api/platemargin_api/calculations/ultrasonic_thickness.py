"""POST /v1/calculations/ultrasonic-thickness."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from platemargin import ultrasonic_path as path
from platemargin.quantities import text
from platemargin.reference import ASTM_E797, GUM, GUM_BUDGET, ULTRASONIC_READING, ULTRASOUND_IN_PAINT, ULTRASOUND_IN_STEEL
from platemargin.ultrasonic_path import EchoMode, Quantity
from platemargin.ultrasonic_thickness import ASSUMED, FAULTS, FINDINGS, WORKING, ultrasonic_thickness
from platemargin_api.calculation import Calculation, Figures
from platemargin_api.calculations import common
from platemargin_api.fields import Choice, Integer, Number, Object, Request, Response, Rows, Text

__all__ = ["UltrasonicThicknessRequest", "UltrasonicThicknessResult", "calculation"]

_READING = "common practice for one reading on a hull"


class UltrasonicThicknessRequest(Request):
    """What the gauge read, how it was set, and what it read through."""

    transit_time_us = Number("us", 0.05, 80, description="Time to the back wall and again to the front; or indicated_mm.")
    indicated_mm = Number("mm", 0.1, 200, description="What the gauge showed; or transit_time_us.")
    velocity_m_per_s = Number(
        "m/s",
        4000,
        7000,
        description="Longitudinal velocity in this steel at the reference temperature.",
        default=path.VELOCITY_M_PER_S,
        basis="mild steel, common practice",
    )
    gauge_velocity_m_per_s = Number("m/s", 4000, 7000, description="What the gauge was set to; absent = velocity_m_per_s.")
    temperature_c = Number("degC", -40, 150, description="Temperature of the plate.")
    reference_temperature_c = Number(
        "degC",
        -40,
        150,
        description="Temperature that the velocity, or the reference block, holds for.",
        default=path.REFERENCE_TEMPERATURE_C,
        basis="a workshop's",
    )
    coating_um = Number("um", 0, 5000, description="Film that was read through; 0 = bare steel, absent = not stated.")
    coating_velocity_m_per_s = Number(
        "m/s",
        1000,
        4000,
        description="Velocity in the film.",
        default=path.COATING_VELOCITY_M_PER_S,
        basis="cured paint, common practice",
    )
    mode = Choice(
        EchoMode,
        description="Which echoes the gauge timed: a single echo counts a coating as steel, multiple echo leaves it out.",
        default="unknown",
        basis="the mode was not stated",
    )
    transit_time_resolution_us = Number(
        "us",
        0.0001,
        1,
        description="One unit of the last digit of transit_time_us.",
        default=path.TRANSIT_TIME_RESOLUTION_US,
        basis=_READING,
    )
    indicated_resolution_mm = common.uncertainty_mm(
        "One unit of the last digit of indicated_mm.", path.INDICATED_RESOLUTION_MM, _READING
    )
    repeatability_standard_uncertainty_mm = common.uncertainty_mm(
        "Standard uncertainty of one reading from coupling, rough faces and the place of the probe.",
        path.REPEATABILITY_STANDARD_UNCERTAINTY_MM,
        _READING,
    )
    readings_averaged = Integer(
        1,
        100,
        description="Readings of this place of which the mean is sent.",
        default=path.READINGS_AVERAGED,
        basis="one reading was taken",
    )
    velocity_standard_uncertainty_m_per_s = Number(
        "m/s",
        0,
        300,
        description="Standard uncertainty of velocity_m_per_s.",
        default=path.VELOCITY_STANDARD_UNCERTAINTY_M_PER_S,
        basis="steels differ so much, common practice; send less where it was measured in this plate",
    )
    temperature_standard_uncertainty_c = Number(
        "degC",
        0,
        50,
        description="Standard uncertainty of the plate's temperature against the reference.",
        default=path.TEMPERATURE_STANDARD_UNCERTAINTY_C,
        basis=_READING,
    )
    coating_standard_uncertainty_um = Number(
        "um",
        0,
        1000,
        description="Standard uncertainty of coating_um.",
        default=path.COATING_STANDARD_UNCERTAINTY_UM,
        basis=_READING,
    )
    coating_velocity_standard_uncertainty_m_per_s = Number(
        "m/s",
        0,
        1000,
        description="Standard uncertainty of coating_velocity_m_per_s.",
        default=path.COATING_VELOCITY_STANDARD_UNCERTAINTY_M_PER_S,
        basis="cured paints differ so much, common practice",
    )


class UltrasonicCorrections(Response):
    """What was added to the uncorrected thickness."""

    velocity_mm = Number("mm", -200, 200, description="For a gauge set to another velocity.")
    temperature_mm = Number("mm", -20, 20, description="For a plate warmer or colder than the reference.")
    coating_mm = Number("mm", -40, 0, description="For a film that a single echo counted as steel.")


class UltrasonicBudgetLine(Response):
    """What one input contributes to the uncertainty."""

    quantity = Choice(Quantity, description="The input.")
    standard_uncertainty = Number("as quantity", 0, 1000, decimals=6, description="Its standard uncertainty, in unit.")
    unit = Text(1, 10, description="The unit of that.")
    sensitivity = Number(
        "mm per unit", -1e5, 1e5, decimals=6, description="How much the thickness changes with one unit of it."
    )
    contribution_mm = Number("mm", 0, 500, description="The product of both, without its sign.")


class UltrasonicThicknessResult(Response):
    """The thickness of the steel, what was corrected, and how well it is known."""

    thickness_mm = Number("mm", 0.001, 500, description="Thickness of the steel.")
    uncorrected_mm = Number("mm", 0, 500, description="As indicated, or at velocity_m_per_s from the time.")
    corrections = Object(UltrasonicCorrections, description="What was added to uncorrected_mm.")
    velocity_at_temperature_m_per_s = Number("m/s", 3000, 8000, description="Velocity in the steel as warm as it was.")
    coating_as_steel_mm = Number(
        "mm", 0, 40, description="What the film reads as in a single echo; null where none is stated.", nullable=True
    )
    standard_uncertainty_mm = Number("mm", 0, 500, description="Combined standard uncertainty of thickness_mm.")
    standard_uncertainty_percent = Number("%", 0, 1e8, description="The same as a share of thickness_mm.")
    expanded_uncertainty_mm = Number("mm", 0, 1000, description="Twice the standard uncertainty: about 95 %.")
    budget = Rows(
        UltrasonicBudgetLine, len(Quantity), len(Quantity), description="What each input contributes, in a fixed order."
    )


def _working_figures(figures: Figures, _result: object) -> Sequence[Figures]:
    """Return the figures with those of the corrections, and of the budget as u_(quantity)_mm."""
    budget: dict[str, Any] = {f"u_{line['quantity']}_mm": line["contribution_mm"] for line in figures["budget"]}
    return [{**figures, **figures["corrections"], **budget}]


def _summary(figures: Figures) -> Sequence[str]:
    thickness, uncertainty = text(figures["thickness_mm"]), text(figures["expanded_uncertainty_mm"])
    told = [f"The steel is {thickness} mm thick, to within {uncertainty} mm (twice its standard uncertainty)."]
    if figures["thickness_mm"] != figures["uncorrected_mm"]:
        told.append(f"Uncorrected, the reading is {text(figures['uncorrected_mm'])} mm.")
    if figures["mode"] == "unknown" and figures["coating_as_steel_mm"]:
        told.append(f"Up to {text(figures['coating_as_steel_mm'])} mm of it may be coating: how it was read is not known.")
    elif figures["mode"] != "multiple_echo" and figures["coating_as_steel_mm"] is None:
        told.append("That holds for bare steel; whether it was bare was not stated.")
    return told


calculation = Calculation(
    id="ultrasonic-thickness",
    version="1.0.0",
    title="From an ultrasonic reading to the thickness of the steel",
    description="Corrects a transit time or an indicated thickness for velocity, temperature and coating, with its "
    "uncertainty.",
    request=UltrasonicThicknessRequest,
    response=UltrasonicThicknessResult,
    run=ultrasonic_thickness,
    elementwise=True,
    faults=FAULTS,
    findings=FINDINGS,
    assumed=ASSUMED,
    working=WORKING,
    working_figures=_working_figures,
    summary=_summary,
    references=(ASTM_E797, GUM, GUM_BUDGET, ULTRASOUND_IN_STEEL, ULTRASOUND_IN_PAINT, ULTRASONIC_READING),
    cautions=(
        common.ADVICE_ONLY,
        common.ONE_PLACE,
        "A gauge is checked on a step block of known thickness before and after; this is no substitute for it.",
        "Laminations, hanging scale and faces that are not parallel mislead any echo: see the trace where a figure surprises.",
    ),
    example={
        "indicated_mm": 6.8,
        "velocity_m_per_s": 5900.0,
        "gauge_velocity_m_per_s": 5920.0,
        "temperature_c": 31.0,
        "coating_um": 250.0,
        "mode": "single_echo",
    },
)
