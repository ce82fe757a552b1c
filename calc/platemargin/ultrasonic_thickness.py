"""From a transit time, or from what a gauge indicated, to the thickness of the steel, with its budget of uncertainty."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from platemargin.budget import BudgetLine, combined_uncertainty
from platemargin.declared import columns, refuse
from platemargin.quantities import Floats
from platemargin.ultrasonic_declared import ASSUMED, FAULTS, FINDINGS, WORKING
from platemargin.ultrasonic_path import (
    COATING_STANDARD_UNCERTAINTY_UM,
    COATING_VELOCITY_M_PER_S,
    COATING_VELOCITY_STANDARD_UNCERTAINTY_M_PER_S,
    INDICATED_RESOLUTION_MM,
    READINGS_AVERAGED,
    REFERENCE_TEMPERATURE_C,
    REPEATABILITY_STANDARD_UNCERTAINTY_MM,
    TEMPERATURE_STANDARD_UNCERTAINTY_C,
    TRANSIT_TIME_RESOLUTION_US,
    VELOCITY_M_PER_S,
    VELOCITY_STANDARD_UNCERTAINTY_M_PER_S,
    EchoMode,
    Path,
    budget_of,
)

__all__ = ["ASSUMED", "FAULTS", "FINDINGS", "WORKING", "Corrections", "UltrasonicThickness", "ultrasonic_thickness"]

#: Coverage factor of the expanded uncertainty, about 95 %. Reference: gum-budget.
COVERAGE_FACTOR = 2.0


@dataclass(frozen=True, kw_only=True)
class Corrections:
    """What is added to the uncorrected thickness [mm]."""

    velocity_mm: Floats
    temperature_mm: Floats
    coating_mm: Floats


@dataclass(frozen=True, kw_only=True)
class UltrasonicThickness:
    """The thickness of the steel and how well it is known; arrays of the arguments' common shape."""

    thickness_mm: Floats
    uncorrected_mm: Floats
    corrections: Corrections
    velocity_at_temperature_m_per_s: Floats
    coating_as_steel_mm: Floats
    standard_uncertainty_mm: Floats
    standard_uncertainty_percent: Floats
    expanded_uncertainty_mm: Floats
    budget: tuple[BudgetLine, ...]


def ultrasonic_thickness(
    *,
    transit_time_us: npt.ArrayLike = np.nan,
    indicated_mm: npt.ArrayLike = np.nan,
    velocity_m_per_s: npt.ArrayLike = VELOCITY_M_PER_S,
    gauge_velocity_m_per_s: npt.ArrayLike = np.nan,
    temperature_c: npt.ArrayLike = np.nan,
    reference_temperature_c: npt.ArrayLike = REFERENCE_TEMPERATURE_C,
    coating_um: npt.ArrayLike = np.nan,
    coating_velocity_m_per_s: npt.ArrayLike = COATING_VELOCITY_M_PER_S,
    mode: npt.ArrayLike = EchoMode.UNKNOWN,
    transit_time_resolution_us: npt.ArrayLike = TRANSIT_TIME_RESOLUTION_US,
    indicated_resolution_mm: npt.ArrayLike = INDICATED_RESOLUTION_MM,
    repeatability_standard_uncertainty_mm: npt.ArrayLike = REPEATABILITY_STANDARD_UNCERTAINTY_MM,
    readings_averaged: npt.ArrayLike = READINGS_AVERAGED,
    velocity_standard_uncertainty_m_per_s: npt.ArrayLike = VELOCITY_STANDARD_UNCERTAINTY_M_PER_S,
    temperature_standard_uncertainty_c: npt.ArrayLike = TEMPERATURE_STANDARD_UNCERTAINTY_C,
    coating_standard_uncertainty_um: npt.ArrayLike = COATING_STANDARD_UNCERTAINTY_UM,
    coating_velocity_standard_uncertainty_m_per_s: npt.ArrayLike = COATING_VELOCITY_STANDARD_UNCERTAINTY_M_PER_S,
) -> UltrasonicThickness:
    """Take what the gauge got wrong from what it read, and tell how well the rest is known.

    thickness = (h - c / v_c) v (1 - k (T - T_ref)); h, the time one way, is transit time / 2, or indicated thickness / gauge
    velocity; c, the film, counts where a single echo went through it. u^2 = sum of (sensitivity x u(input))^2.

    Parameters
    ----------
    transit_time_us, indicated_mm : scalar or array, optional
        To the back wall and again to the front [us], or what the gauge showed [mm]: one of them.
    velocity_m_per_s : scalar or array, optional
        In this steel, at the reference temperature [m/s].
    gauge_velocity_m_per_s : scalar or array, optional
        What the gauge was set to [m/s]; NaN = the same.
    temperature_c, reference_temperature_c : scalar or array, optional
        Of the plate, and of the velocity or the reference block [degC]; NaN = the plate's is not known.
    coating_um, coating_velocity_m_per_s : scalar or array, optional
        The film that was read through [um] and its velocity [m/s]; NaN = not stated, 0 = bare steel.
    mode : scalar or array, optional
        An `EchoMode`. Multiple echo leaves the film out.
    transit_time_resolution_us, indicated_resolution_mm : scalar or array, optional
        One unit of the last digit [us, mm].
    repeatability_standard_uncertainty_mm : scalar or array, optional
        Of one reading: coupling, rough faces, place of the probe [mm].
    readings_averaged : scalar or array, optional
        Readings of this place of which the mean is sent.
    velocity_standard_uncertainty_m_per_s, temperature_standard_uncertainty_c : scalar or array, optional
        [m/s], [degC].
    coating_standard_uncertainty_um, coating_velocity_standard_uncertainty_m_per_s : scalar or array, optional
        [um], [m/s].

    Returns
    -------
    UltrasonicThickness
        `uncorrected_mm` and the corrections add up to `thickness_mm`; `coating_as_steel_mm`, what the film reads as in a
        single echo, is NaN where no film is stated.

    Raises
    ------
    NotApplicableError
        No reading or both kinds, a gauge's velocity with a time, a film that leaves no steel of the reading.

    Notes
    -----
    Valid for longitudinal waves across a plate with parallel faces, from about 1 mm. The fall of velocity with temperature is a
    rule of thumb, taken as known to a fifth. In an unknown mode a film is not taken off: it counts wholly or not at all, each
    as likely, so that half the film's mean square about the thickness told stands in the budget (GUM F.2.4.5).
    Where no film is stated none is reckoned with.

    Examples
    --------
    >>> float(ultrasonic_thickness(transit_time_us=1.0).thickness_mm)
    2.96
    >>> read = ultrasonic_thickness(indicated_mm=6.0718, velocity_m_per_s=5850.0, gauge_velocity_m_per_s=5920.0)
    >>> float(read.thickness_mm.round(4))
    6.0

    References
    ----------
    astm-e797, gum, gum-budget, ultrasound-in-steel, ultrasound-in-paint, ultrasonic-reading
    """
    given = columns(locals())
    refuse(FAULTS, given)
    path = Path.of(given)
    budget = budget_of(given, path)
    uncertainty = combined_uncertainty([line.contribution_mm for line in budget])
    return UltrasonicThickness(
        thickness_mm=path.thickness_mm,
        uncorrected_mm=path.uncorrected_mm,
        corrections=Corrections(
            velocity_mm=path.nominal_mm - path.uncorrected_mm,
            temperature_mm=path.steel_mm - path.nominal_mm,
            coating_mm=path.thickness_mm - path.steel_mm,
        ),
        velocity_at_temperature_m_per_s=path.velocity_m_per_s,
        coating_as_steel_mm=path.coating_as_steel_mm,
        standard_uncertainty_mm=uncertainty,
        standard_uncertainty_percent=100 * uncertainty / path.thickness_mm,
        expanded_uncertainty_mm=COVERAGE_FACTOR * uncertainty,
        budget=budget,
    )
