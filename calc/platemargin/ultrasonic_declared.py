"""What is refused, found, assumed and shown of an ultrasonic reading."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from platemargin.declared import Arguments, Assumption, Fault, Finding, Step
from platemargin.quantities import as_array, at_least, below, rounded
from platemargin.ultrasonic_path import FALL, FALL_OVER_C, VELOCITY_M_PER_S, EchoMode, Path, Quantity

__all__ = ["ASSUMED", "FAULTS", "FINDINGS", "WORKING"]

#: What mild and low-alloy steel lies between [m/s]. Reference: ultrasound-in-steel.
STEEL_VELOCITIES_M_PER_S = (5700.0, 6100.0)
#: Below this a contact probe cannot tell its echoes apart [mm]. Reference: ultrasonic-reading.
THINNEST_READ_MM = 1.0
#: A reading known to no better than this is no ground for a verdict [%]. Reference: ultrasonic-reading.
LARGE_UNCERTAINTY_PERCENT = 10.0


def _leaves_no_steel(given: Arguments) -> npt.NDArray[np.bool_]:
    path = Path.of(given)
    left = path.steel_mm - path.coating_as_steel_mm
    return as_array((given["mode"] != EchoMode.MULTIPLE_ECHO) & (rounded(left, "mm") <= 0))


FAULTS = (
    Fault(
        field="indicated_mm",
        code="no_reading",
        message="there is no reading: give indicated_mm, what the gauge showed, or transit_time_us",
        broken=lambda a: np.isnan(a["transit_time_us"]) & np.isnan(a["indicated_mm"]),
    ),
    Fault(
        field="transit_time_us",
        code="two_readings",
        message="transit_time_us and indicated_mm are both given: give the one that was read",
        broken=lambda a: ~np.isnan(a["transit_time_us"]) & ~np.isnan(a["indicated_mm"]),
    ),
    Fault(
        field="gauge_velocity_m_per_s",
        code="gauge_velocity_without_indication",
        message="a gauge's velocity says nothing of a transit time: leave gauge_velocity_m_per_s out, or give indicated_mm",
        broken=lambda a: ~np.isnan(a["gauge_velocity_m_per_s"]) & np.isnan(a["indicated_mm"]),
    ),
    Fault(
        field="coating_um",
        code="coating_thicker_than_reading",
        message="{coating_um} um of coating leave no steel of what was read: check both, and their units; where the gauge "
        "left the coating out, send mode multiple_echo",
        broken=_leaves_no_steel,
    ),
)

FINDINGS = (
    Finding(
        code="mode_unknown_through_coating",
        severity="watch",
        statement="The plate was read through {coating_um} um of coating in an unknown mode: up to {coating_as_steel_mm} mm "
        "of the {thickness_mm} mm may be coating. It is not taken off; the uncertainty is widened for it. Say how it was "
        "read, or read it again by multiple echo or on bare steel.",
        field="mode",
        values=("coating_um", "coating_as_steel_mm", "thickness_mm"),
        applies=lambda a, r: (a["mode"] == EchoMode.UNKNOWN) & (rounded(r.coating_as_steel_mm, "mm") > 0),
    ),
    Finding(
        code="coating_not_stated",
        severity="note",
        statement="Whether the plate was read on bare steel was not stated: through a coating a single echo reads too much, "
        "and the uncertainty does not cover that.",
        field="coating_um",
        applies=lambda a, _: (a["mode"] != EchoMode.MULTIPLE_ECHO) & np.isnan(a["coating_um"]),
    ),
    Finding(
        code="coating_taken_off",
        severity="note",
        statement="A single echo read {coating_as_steel_mm} mm of coating as steel; it is taken off. A film thinner than "
        "{coating_um} um would leave more steel, a thicker one less.",
        field="coating_um",
        values=("coating_as_steel_mm", "coating_um"),
        applies=lambda a, r: (a["mode"] == EchoMode.SINGLE_ECHO) & (rounded(r.coating_as_steel_mm, "mm") > 0),
    ),
    Finding(
        code="temperature_not_stated",
        severity="note",
        statement="The plate's temperature was not stated: it is taken as the reference, and a warmer plate is thinner than "
        "told.",
        field="temperature_c",
        applies=lambda a, _: np.isnan(a["temperature_c"]),
    ),
    Finding(
        code="temperature_far_from_reference",
        severity="watch",
        statement="The plate, at {temperature_c} degC, is far from the {reference_temperature_c} degC of the reference: the "
        "correction is a rule of thumb. Read a reference block of the same temperature.",
        field="temperature_c",
        values=("temperature_c", "reference_temperature_c"),
        applies=lambda a, _: below(FALL_OVER_C, np.abs(a["temperature_c"] - a["reference_temperature_c"]), "degC"),
    ),
    Finding(
        code="velocity_not_of_mild_steel",
        severity="watch",
        statement="{velocity_m_per_s} m/s is not the velocity of mild steel (about 5700 to 6100 m/s): the thickness holds "
        "only if it was measured in this plate.",
        field="velocity_m_per_s",
        values=("velocity_m_per_s",),
        applies=lambda a, _: (
            below(a["velocity_m_per_s"], STEEL_VELOCITIES_M_PER_S[0], "m/s")
            | below(STEEL_VELOCITIES_M_PER_S[1], a["velocity_m_per_s"], "m/s")
        ),
    ),
    Finding(
        code="gauge_set_to_another_velocity",
        severity="note",
        statement="The gauge was set to {gauge_velocity_m_per_s} m/s in steel of {velocity_m_per_s} m/s; what it showed, "
        "{indicated_mm} mm, is corrected for it.",
        field="gauge_velocity_m_per_s",
        values=("gauge_velocity_m_per_s", "velocity_m_per_s", "indicated_mm"),
        applies=lambda _, r: rounded(r.corrections.velocity_mm, "mm") != 0,
    ),
    Finding(
        code="gauge_velocity_not_told",
        severity="watch",
        statement="The velocity of this steel, {velocity_m_per_s} m/s, changes nothing of the {indicated_mm} mm shown, because "
        "what the gauge was set to is not told: it is taken to have been the same. Send gauge_velocity_m_per_s.",
        field="gauge_velocity_m_per_s",
        values=("velocity_m_per_s", "indicated_mm"),
        applies=lambda a, _: (
            np.isnan(a["gauge_velocity_m_per_s"])
            & ~np.isnan(a["indicated_mm"])
            & (rounded(a["velocity_m_per_s"], "m/s") != rounded(VELOCITY_M_PER_S, "m/s"))
        ),
    ),
    Finding(
        code="thinner_than_probes_read",
        severity="watch",
        statement="{thickness_mm} mm is thinner than a contact probe reads with certainty (about 1 mm): echoes run together, "
        "and the figure may be a multiple of the thickness or none. Read it with a probe for thin plate.",
        values=("thickness_mm",),
        applies=lambda _, r: below(r.thickness_mm, THINNEST_READ_MM, "mm"),
    ),
    Finding(
        code="uncertainty_large",
        severity="watch",
        statement="The standard uncertainty, {standard_uncertainty_mm} mm, is {standard_uncertainty_percent} % of the "
        "thickness: no limit is judged well by this reading.",
        values=("standard_uncertainty_mm", "standard_uncertainty_percent"),
        applies=lambda _, r: at_least(r.standard_uncertainty_percent, LARGE_UNCERTAINTY_PERCENT, "%"),
    ),
)

ASSUMED = (
    Assumption(
        field="gauge_velocity_m_per_s",
        value=lambda a, _: a["velocity_m_per_s"],
        unit="m/s",
        basis="the gauge is taken to have been set to the velocity of this steel",
        when=lambda a, _: np.isnan(a["gauge_velocity_m_per_s"]) & ~np.isnan(a["indicated_mm"]),
    ),
    Assumption(
        field="temperature_c",
        value=lambda a, _: a["reference_temperature_c"],
        unit="degC",
        basis="the plate is taken to be as warm as the reference",
        when=lambda a, _: np.isnan(a["temperature_c"]),
    ),
    Assumption(
        field="coating_um",
        value=0.0,
        unit="um",
        basis="bare steel, as nobody said otherwise",
        when=lambda a, _: np.isnan(a["coating_um"]) & (a["mode"] != EchoMode.MULTIPLE_ECHO),
    ),
)

WORKING = (
    Step(
        symbol="uncorrected_mm",
        formula="velocity_m_per_s transit_time_us / 2000",
        substituted="{velocity_m_per_s} * {transit_time_us} / 2000",
        value="uncorrected_mm",
        unit="mm",
        reference="astm-e797",
    ),
    Step(
        symbol="velocity_mm",
        formula="indicated_mm (velocity_m_per_s / gauge_velocity_m_per_s - 1)",
        substituted="{indicated_mm} * ({velocity_m_per_s} / {gauge_velocity_m_per_s} - 1)",
        value="velocity_mm",
        unit="mm",
        reference="ultrasound-in-steel",
    ),
    Step(
        symbol="temperature_mm",
        formula=f"-(uncorrected_mm + velocity_mm) {FALL:g} (temperature_c - reference_temperature_c) / {FALL_OVER_C:g}",
        substituted=f"-({{uncorrected_mm}} + {{velocity_mm}}) * {FALL:g} * ({{temperature_c}} - {{reference_temperature_c}}) "
        f"/ {FALL_OVER_C:g}",
        value="temperature_mm",
        unit="mm",
        reference="astm-e797",
    ),
    Step(
        symbol="coating_mm",
        formula="-coating_um velocity_at_temperature_m_per_s / (1000 coating_velocity_m_per_s)",
        substituted="-{coating_um} * {velocity_at_temperature_m_per_s} / (1000 * {coating_velocity_m_per_s})",
        value="coating_mm",
        unit="mm",
        reference="ultrasound-in-paint",
        when=lambda v: v["mode"] == "single_echo",
    ),
    Step(
        symbol="thickness_mm",
        formula="uncorrected_mm + velocity_mm + temperature_mm + coating_mm",
        substituted="{uncorrected_mm} + {velocity_mm} + {temperature_mm} + {coating_mm}",
        value="thickness_mm",
        unit="mm",
        reference="gum-budget",
    ),
    Step(
        symbol="u(thickness_mm)",
        formula="square root of the sum of the squares of the budget's contributions",
        substituted="sqrt(" + " + ".join(f"{{u_{quantity.name.lower()}_mm}}^2" for quantity in Quantity) + ")",
        value="standard_uncertainty_mm",
        unit="mm",
        reference="gum-budget",
    ),
)
