"""Members and cautions that several calculations share."""

from __future__ import annotations

from typing import Any

from platemargin import corrosion_rate, plate_margin, remaining_life
from platemargin.corrosion_rate import Environment
from platemargin_api.fields import Choice, Day, Integer, Number

__all__ = [
    "ADVICE_ONLY",
    "COATED_PLATE",
    "NOMINAL_ORIGINAL",
    "ONE_PLACE",
    "PLACES_READ",
    "benchmark_members",
    "confidence",
    "hull_material",
    "life_members",
    "original_mm",
    "pit_depth_mm",
    "pit_standard_uncertainty_mm",
    "plate_mm",
    "plate_standard_uncertainty_mm",
    "previous_members",
    "previous_standard_uncertainty_mm",
    "protected_years",
    "residual_mm",
    "residual_standard_uncertainty_mm",
    "threshold_mm",
    "uncertainty_mm",
    "years_in_service",
]

ADVICE_ONLY = "This is arithmetic on what was sent, and advice: a surveyor signs, an insurer decides."
PLACES_READ = "It speaks of the places that were read, not of the plate between them."
ONE_PLACE = "It speaks of the place that was read, not of the plate beside it."
NOMINAL_ORIGINAL = (
    "A new plate is seldom exactly its nominal thickness: a loss counted from the nominal inherits the mill's tolerance."
)
COATED_PLATE = "Readings are of bare steel, or by multiple echo: a single echo counts the coating as steel."

_GAUGES = "common practice for one reading on a hull"


def original_mm(**kwargs: Any) -> Number:
    """Return what the plate started with."""
    return Number("mm", 0.5, 40, description="What the plate started with.", **kwargs)


def hull_material() -> Choice:
    """Return the material of the shell."""
    return Choice(
        ("steel", "wrought_iron", "aluminium", "other"),
        description="Material of the shell.",
        default="steel",
        basis="what inland hulls are mostly built of",
    )


def plate_mm() -> Number:
    """Return the plate beside the pit."""
    return Number("mm", 0, 200, description="Plate that is left beside the pit, on bare steel.", required=True)


def pit_depth_mm() -> Number:
    """Return the pit's depth."""
    description = "Depth of the pit from the plate surface beside it, paint and scale removed; absent = not measured."
    return Number("mm", 0, 200, description=description)


def residual_mm() -> Number:
    """Return what is left under the pit."""
    return Number("mm", 0, 200, description="Plate that is left under the pit.", required=True)


def years_in_service() -> Number:
    """Return the plate's age."""
    return Number("year", 0.1, 200, description="Age of the plate.", required=True)


def protected_years() -> Number:
    """Return the years in which a coating kept the steel."""
    return Number(
        "year",
        0,
        200,
        description="Years of its age in which a coating kept the steel; less than its age.",
        default=corrosion_rate.PROTECTED_YEARS,
        basis="no coating is known to have kept the steel for a time",
    )


def threshold_mm(**kwargs: Any) -> Number:
    """Return the limit."""
    return Number("mm", 0, 40, description="The least thickness that is accepted.", **kwargs)


def confidence() -> Number:
    """Return the confidence of the band."""
    return Number(
        "probability",
        0.5,
        0.999,
        description="Two-sided confidence of the band.",
        default=remaining_life.CONFIDENCE,
        basis="nine in ten",
    )


def uncertainty_mm(description: str, default: float, basis: str = _GAUGES) -> Number:
    """Return a standard uncertainty that has a default."""
    return Number("mm", 0.001, 10, description=description, default=default, basis=basis)


def plate_standard_uncertainty_mm() -> Number:
    """Return the plate gauge's uncertainty."""
    return uncertainty_mm("Standard uncertainty of a plate reading.", plate_margin.PLATE_STANDARD_UNCERTAINTY_MM)


def pit_standard_uncertainty_mm() -> Number:
    """Return the pit gauge's uncertainty."""
    return uncertainty_mm("Standard uncertainty of a pit reading.", plate_margin.PIT_STANDARD_UNCERTAINTY_MM)


def residual_standard_uncertainty_mm() -> Number:
    """Return both gauges' uncertainty together."""
    return uncertainty_mm(
        "Standard uncertainty of residual_mm.",
        corrosion_rate.RESIDUAL_STANDARD_UNCERTAINTY_MM,
        "common practice for pit gauge and plate gauge together; send 0.15 for a plain plate reading",
    )


def previous_standard_uncertainty_mm() -> Number:
    """Return the uncertainty of the previous reading."""
    return uncertainty_mm(
        "Standard uncertainty of previous_mm.",
        corrosion_rate.RESIDUAL_STANDARD_UNCERTAINTY_MM,
        "common practice for pit gauge and plate gauge together",
    )


def previous_members() -> dict[str, Any]:
    """Return what a previous survey read; both or neither."""
    return {
        "previous_mm": Number("mm", 0, 200, description="What was left at the previous survey; with years_since_previous."),
        "years_since_previous": Number("year", 0.1, 200, description="Age of the previous survey; with previous_mm."),
    }


def benchmark_members() -> dict[str, Any]:
    """Return what the published benchmark needs."""
    return {
        "faces": Integer(
            1,
            2,
            description="Attacked faces of the plate.",
            default=corrosion_rate.FACES,
            basis="attack from one face",
        ),
        "environment": Choice(Environment, description="Water, for the benchmark of EN 1993-5; absent = no benchmark."),
    }


def life_members() -> dict[str, Any]:
    """Return the options of the remaining life."""
    return {
        "exponent": Number(
            "1",
            0.2,
            2,
            description="Power of time that the loss follows; 1 = even pace, below 1 it slows.",
            default=remaining_life.EXPONENT,
            basis="attack goes on at an even pace",
        ),
        "rate_factor": Number(
            "1",
            0,
            10,
            description="Future rate over past rate.",
            default=remaining_life.RATE_FACTOR,
            basis="the future is as the past",
        ),
        "original_standard_uncertainty_mm": Number(
            "mm",
            0.001,
            10,
            description="Standard uncertainty of original_mm; absent = a new plate's by EN 10029 class A.",
        ),
        "confidence": confidence(),
        "years_ahead": Number(
            "year",
            0,
            200,
            description="When the forecast is told, from the survey.",
            default=remaining_life.YEARS_AHEAD,
            basis="a forecast for the time between two or three surveys",
        ),
        "surveyed_on": Day(description="Day of the reading; gives reached_on."),
        "interval_cap_years": Number(
            "year",
            0.1,
            50,
            description="Longest time to the next survey.",
            default=remaining_life.INTERVAL_CAP_YEARS,
            basis="common practice",
        ),
    }
