"""The way of an ultrasonic echo: through steel of a temperature, and through a coating where a single echo counts it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from platemargin.budget import BudgetLine, budget_line
from platemargin.declared import Arguments
from platemargin.quantities import Array, Floats

__all__ = ["EchoMode", "Path", "Quantity", "budget_of"]

#: Longitudinal velocity in mild steel, and how much plates differ (standard) [m/s]. Reference: ultrasound-in-steel.
VELOCITY_M_PER_S = 5920.0
VELOCITY_STANDARD_UNCERTAINTY_M_PER_S = 30.0
#: In a cured paint film [m/s]. Reference: ultrasound-in-paint.
COATING_VELOCITY_M_PER_S = 2500.0
COATING_VELOCITY_STANDARD_UNCERTAINTY_M_PER_S = 250.0
#: The velocity falls by this fraction over so many degrees [degC]. Reference: astm-e797.
FALL, FALL_OVER_C = 0.01, 55.0
#: Standard uncertainty of that rule of thumb, as a fraction of it: "about". Reference: ultrasonic-reading.
FALL_RELATIVE_UNCERTAINTY = 0.2
#: Temperature that a velocity or a reference block is taken at [degC], and how well the wall's is known.
#: Reference: ultrasonic-reading.
REFERENCE_TEMPERATURE_C = 20.0
TEMPERATURE_STANDARD_UNCERTAINTY_C = 5.0
#: Last digits, repeatability, film. Reference: ultrasonic-reading.
TRANSIT_TIME_RESOLUTION_US = 0.01
INDICATED_RESOLUTION_MM = 0.1
REPEATABILITY_STANDARD_UNCERTAINTY_MM = 0.1
READINGS_AVERAGED = 1
COATING_STANDARD_UNCERTAINTY_UM = 25.0

_MM_PER_US = 1e-3  # of 1 m/s
_MM_PER_UM = 1e-3


class EchoMode(IntEnum):
    """Which echoes the gauge timed."""

    SINGLE_ECHO = 0
    MULTIPLE_ECHO = 1
    UNKNOWN = 2


class Quantity(IntEnum):
    """The inputs whose uncertainty counts, in the budget's order."""

    READING = 0
    REPEATABILITY = 1
    VELOCITY = 2
    TEMPERATURE = 3
    TEMPERATURE_COEFFICIENT = 4
    COATING_THICKNESS = 5
    COATING_VELOCITY = 6
    ECHO_MODE = 7


@dataclass(frozen=True, kw_only=True)
class Path:
    """The thickness step by step: as read, at the steel's velocity, at its temperature, without the film."""

    uncorrected_mm: Floats
    nominal_mm: Floats
    steel_mm: Floats
    thickness_mm: Floats
    velocity_m_per_s: Floats
    degrees_over_c: Floats
    coating_as_steel_mm: Floats

    @classmethod
    def of(cls, given: Arguments) -> Path:
        """Follow the echo."""
        velocity, film = given["velocity_m_per_s"], given["coating_um"]
        from_time = given["transit_time_us"] / 2 * velocity * _MM_PER_US
        uncorrected = np.where(np.isnan(given["indicated_mm"]), from_time, given["indicated_mm"])
        gauge = np.where(np.isnan(given["gauge_velocity_m_per_s"]), velocity, given["gauge_velocity_m_per_s"])
        over = np.nan_to_num(given["temperature_c"] - given["reference_temperature_c"])
        at_temperature = velocity * (1 - FALL / FALL_OVER_C * over)
        nominal = uncorrected * velocity / gauge
        steel = nominal * at_temperature / velocity
        as_steel = film * _MM_PER_UM * at_temperature / given["coating_velocity_m_per_s"]
        counted = np.where(given["mode"] == EchoMode.SINGLE_ECHO, np.nan_to_num(as_steel), 0.0)
        return cls(
            uncorrected_mm=uncorrected,
            nominal_mm=nominal,
            steel_mm=steel,
            thickness_mm=steel - counted,
            velocity_m_per_s=at_temperature,
            degrees_over_c=over,
            coating_as_steel_mm=as_steel,
        )


def budget_of(given: Arguments, path: Path) -> tuple[BudgetLine, ...]:
    """Return the lines of the budget, in the order of `Quantity`; what has no part in a reading contributes 0."""
    return (*_reading_lines(given, path), *_steel_lines(given, path), *_coating_lines(given, path))


def _reading_lines(given: Arguments, path: Path) -> tuple[BudgetLine, ...]:
    timed = np.isnan(given["indicated_mm"])
    digit = np.where(timed, given["transit_time_resolution_us"], given["indicated_resolution_mm"])
    read = np.where(timed, given["transit_time_us"], given["indicated_mm"])
    repeated = given["repeatability_standard_uncertainty_mm"] / np.sqrt(given["readings_averaged"])
    return (
        _line(Quantity.READING, digit / np.sqrt(12), np.where(timed, "us", "mm"), path.steel_mm / read, path),
        _line(Quantity.REPEATABILITY, repeated, "mm", 1.0, path),
    )


def _steel_lines(given: Arguments, path: Path) -> tuple[BudgetLine, ...]:
    per_nominal = path.thickness_mm * given["velocity_m_per_s"] / path.velocity_m_per_s
    velocity, degrees = given["velocity_standard_uncertainty_m_per_s"], given["temperature_standard_uncertainty_c"]
    coefficient = FALL / FALL_OVER_C
    u_coefficient = FALL_RELATIVE_UNCERTAINTY * coefficient
    return (
        _line(Quantity.VELOCITY, velocity, "m/s", path.thickness_mm / given["velocity_m_per_s"], path),
        _line(Quantity.TEMPERATURE, degrees, "degC", -coefficient * per_nominal, path),
        _line(Quantity.TEMPERATURE_COEFFICIENT, u_coefficient, "1/degC", -path.degrees_over_c * per_nominal, path),
    )


def _coating_lines(given: Arguments, path: Path) -> tuple[BudgetLine, ...]:
    as_steel = np.nan_to_num(path.coating_as_steel_mm)
    film = given["coating_um"] > 0
    taken_off = np.where(film & (given["mode"] == EchoMode.SINGLE_ECHO), 1.0, 0.0)
    of_film = -_MM_PER_UM * path.velocity_m_per_s / given["coating_velocity_m_per_s"]
    of_velocity = as_steel / given["coating_velocity_m_per_s"]
    u_film, u_velocity = given["coating_standard_uncertainty_um"], given["coating_velocity_standard_uncertainty_m_per_s"]
    # The film counts wholly or not at all: half its mean square about a thickness that takes none off (GUM F.2.4.5).
    mean_square = as_steel**2 + np.where(film, (of_film * u_film) ** 2 + (of_velocity * u_velocity) ** 2, 0.0)
    doubtful = np.where(given["mode"] == EchoMode.UNKNOWN, np.sqrt(mean_square / 2), 0.0)
    return (
        _line(Quantity.COATING_THICKNESS, u_film, "um", taken_off * of_film, path),
        _line(Quantity.COATING_VELOCITY, u_velocity, "m/s", taken_off * of_velocity, path),
        _line(Quantity.ECHO_MODE, doubtful, "mm", 1.0, path),
    )


def _line(
    quantity: Quantity, uncertainty: npt.ArrayLike, unit: Array | str, sensitivity: Array | float, path: Path
) -> BudgetLine:
    return budget_line(quantity, uncertainty, unit, sensitivity, like=path.thickness_mm)
