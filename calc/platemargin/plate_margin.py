"""One reading in, everything about it out: what is left, how fast it goes, when it passes the limit."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from platemargin import corrosion_rate as rate_room
from platemargin import remaining_life as life_room
from platemargin import residual_thickness as thickness_room
from platemargin.corrosion_rate import CorrosionRate, corrosion_rate
from platemargin.declared import Step, columns, refuse
from platemargin.quantities import Floats, rounded
from platemargin.remaining_life import RemainingLife, life_at_rate
from platemargin.residual_thickness import ResidualThickness, residual_thickness
from platemargin.rule_sets.trade_practice import rule_set as trade_practice

__all__ = ["ASSUMED", "FAULTS", "FINDINGS", "WORKING", "PlateMargin", "plate_margin", "residual_uncertainty_mm"]

#: Standard uncertainty [mm] of one plate reading and of one pit reading. Reference: gauge-uncertainty.
PLATE_STANDARD_UNCERTAINTY_MM = 0.15
PIT_STANDARD_UNCERTAINTY_MM = 0.20
#: The limit asked about unless the caller names one: the first that the trade watches.
THRESHOLD_MM = trade_practice.rules[0].limit


@dataclass(frozen=True, kw_only=True)
class PlateMargin(RemainingLife, CorrosionRate, ResidualThickness):
    """The union of the three results, and the margin to the limit; arrays of the arguments' common shape."""

    margin_mm: Floats
    residual_standard_uncertainty_mm: Floats


FAULTS = (*thickness_room.FAULTS, *rate_room.FAULTS)
FINDINGS = (
    *thickness_room.FINDINGS,
    *rate_room.BENCHMARK_FINDINGS,
    # What is left is no argument here: what is told of it is told of the plate that was read, and once.
    *(
        replace(told, field="plate_mm") if told.field == "residual_mm" else told
        for told in life_room.FINDINGS
        if told.code != "residual_over_mill_tolerance"
    ),
)
ASSUMED = (*thickness_room.ASSUMED, *life_room.ASSUMED)
WORKING = (
    *thickness_room.WORKING,
    Step(
        symbol="margin_mm",
        formula="residual_mm - threshold_mm",
        substituted="{residual_mm} - {threshold_mm}",
        value="margin_mm",
        unit="mm",
        reference="residual-datum",
    ),
    Step(
        symbol="residual_standard_uncertainty_mm",
        formula="sqrt(plate_standard_uncertainty_mm^2 + pit_standard_uncertainty_mm^2)",
        substituted="sqrt({plate_standard_uncertainty_mm}^2 + {pit_standard_uncertainty_mm}^2)",
        value="residual_standard_uncertainty_mm",
        unit="mm",
        reference="gauge-uncertainty",
        when=lambda v: v["residual_standard_uncertainty_mm"] != v["plate_standard_uncertainty_mm"],
    ),
    *rate_room.WORKING,
    *life_room.WORKING,
)


def plate_margin(
    *,
    original_mm: npt.ArrayLike,
    plate_mm: npt.ArrayLike,
    years_in_service: npt.ArrayLike,
    pit_depth_mm: npt.ArrayLike = np.nan,
    threshold_mm: npt.ArrayLike = THRESHOLD_MM,
    plate_standard_uncertainty_mm: npt.ArrayLike = PLATE_STANDARD_UNCERTAINTY_MM,
    pit_standard_uncertainty_mm: npt.ArrayLike = PIT_STANDARD_UNCERTAINTY_MM,
    protected_years: npt.ArrayLike = rate_room.PROTECTED_YEARS,
    previous_mm: npt.ArrayLike = np.nan,
    years_since_previous: npt.ArrayLike = np.nan,
    previous_standard_uncertainty_mm: npt.ArrayLike = rate_room.RESIDUAL_STANDARD_UNCERTAINTY_MM,
    faces: npt.ArrayLike = rate_room.FACES,
    environment: npt.ArrayLike = rate_room.ABSENT,
    exponent: npt.ArrayLike = life_room.EXPONENT,
    rate_factor: npt.ArrayLike = life_room.RATE_FACTOR,
    original_standard_uncertainty_mm: npt.ArrayLike = np.nan,
    confidence: npt.ArrayLike = life_room.CONFIDENCE,
    years_ahead: npt.ArrayLike = life_room.YEARS_AHEAD,
    surveyed_on: npt.ArrayLike = life_room.UNKNOWN_DAY,
    interval_cap_years: npt.ArrayLike = life_room.INTERVAL_CAP_YEARS,
) -> PlateMargin:
    """Answer `residual_thickness`, `corrosion_rate` and `remaining_life` for one reading, and its margin to the limit.

    margin = residual - threshold; u(residual)^2 = u(plate)^2 + u(pit)^2 where a pit was measured, else u(plate)^2.

    Parameters
    ----------
    original_mm, plate_mm, pit_depth_mm : scalar or array
        As for `residual_thickness` [mm].
    threshold_mm : scalar or array, optional
        The limit [mm], 0 to 40; by default the first that the rule set `trade-practice` watches.
    plate_standard_uncertainty_mm, pit_standard_uncertainty_mm : scalar or array, optional
        Of one reading of each gauge [mm].
    years_in_service, protected_years, previous_mm, years_since_previous : scalar or array
        As for `corrosion_rate` [year, mm]; `previous_mm` is a residual thickness.
    previous_standard_uncertainty_mm, faces, environment : scalar or array, optional
        As for `corrosion_rate`; the general loss compared with the benchmark is original - plate.
    exponent, rate_factor, original_standard_uncertainty_mm, confidence : scalar or array, optional
        As for `remaining_life`.
    years_ahead, surveyed_on, interval_cap_years : scalar or array, optional
        As for `remaining_life`.

    Returns
    -------
    PlateMargin
        Every figure of the three; the margin is of values rounded as declared.

    Raises
    ------
    NotApplicableError
        As `residual_thickness` and `corrosion_rate`.

    Notes
    -----
    Valid for one place on the plate; it says nothing of the places that nobody read.

    Examples
    --------
    >>> answer = plate_margin(original_mm=10.0, plate_mm=8.8, pit_depth_mm=2.6, years_in_service=16.0)
    >>> round(float(answer.margin_mm), 3), round(float(answer.years), 2)
    (2.2, 9.26)

    References
    ----------
    residual-datum, gauge-uncertainty, api-570-rate, api-570-interval, en-1993-5-fresh, en-1993-5-sea, en-10029-class-a,
    iso-9224, fieller-1954, gum, survey-interval, insurer-minimum
    """
    given = columns(locals())
    refuse(FAULTS, given)
    plate = residual_thickness(**_of(given, "original_mm", "plate_mm", "pit_depth_mm"))
    u_residual = residual_uncertainty_mm(**_of(given, "pit_depth_mm", *_GAUGES))
    reading = {"residual_mm": plate.residual_mm, "residual_standard_uncertainty_mm": u_residual}
    shared = _of(given, *_SHARED)
    rate = corrosion_rate(**reading, **shared, general_loss_mm=plate.general_loss_mm, **_of(given, "faces", "environment"))
    life = life_at_rate(rate, {**given, **reading})
    return PlateMargin(
        **{**vars(plate), **vars(rate), **vars(life)},
        margin_mm=rounded(plate.residual_mm, "mm") - rounded(given["threshold_mm"], "mm"),
        residual_standard_uncertainty_mm=u_residual,
    )


def residual_uncertainty_mm(
    pit_depth_mm: npt.ArrayLike,
    plate_standard_uncertainty_mm: npt.ArrayLike,
    pit_standard_uncertainty_mm: npt.ArrayLike,
) -> Floats:
    """Return u(residual): both gauges' where a pit was measured, else the plate gauge's [mm]."""
    both = np.hypot(plate_standard_uncertainty_mm, pit_standard_uncertainty_mm)
    return np.where(np.isnan(pit_depth_mm), plate_standard_uncertainty_mm, both)


_GAUGES = ("plate_standard_uncertainty_mm", "pit_standard_uncertainty_mm")
_SHARED = (
    "original_mm",
    "years_in_service",
    "protected_years",
    "previous_mm",
    "years_since_previous",
    "previous_standard_uncertainty_mm",
)


def _of(given: dict[str, npt.NDArray[np.generic]], *names: str) -> dict[str, npt.NDArray[np.generic]]:
    return {name: given[name] for name in names}
