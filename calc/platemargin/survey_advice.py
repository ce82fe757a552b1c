"""What is to be done about a survey's findings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

__all__ = ["ADVICE", "Advice", "AdviceRule", "Urgency"]

Urgency: TypeAlias = Literal["before_afloat", "before_cover", "next_docking", "monitor"]


@dataclass(frozen=True, kw_only=True)
class Advice:
    """What to do, how soon, and the findings that call for it."""

    code: str
    urgency: Urgency
    statement: str
    because: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class AdviceRule:
    """Advice that any of some findings calls for."""

    code: str
    urgency: Urgency
    statement: str
    called_for_by: tuple[str, ...]

    def because(self, found: set[str]) -> tuple[str, ...]:
        """Return which of the findings made call for it."""
        return tuple(code for code in self.called_for_by if code in found)

    def advice(self, found: set[str]) -> Advice:
        """Return the advice with its reasons."""
        return Advice(code=self.code, urgency=self.urgency, statement=self.statement, because=self.because(found))


ADVICE = (
    AdviceRule(
        code="do_not_refloat",
        urgency="before_afloat",
        statement="Do not refloat or move it until a surveyor has seen it.",
        called_for_by=("unsafe_afloat",),
    ),
    AdviceRule(
        code="make_good_plate",
        urgency="before_afloat",
        statement="Have the plate that breaks the limit overplated or renewed by a competent yard, to the surveyor's and the "
        "insurer's terms; find out first what lies behind it: hot work near tanks, linings and wiring needs a permit.",
        called_for_by=("holed", "act_limit_broken"),
    ),
    AdviceRule(
        code="tell_the_insurer_now",
        urgency="before_afloat",
        statement="Tell the insurer before the boat is used: plate is holed or breaks a limit that calls for action.",
        called_for_by=("holed", "act_limit_broken"),
    ),
    AdviceRule(
        code="read_again_bare",
        urgency="before_afloat",
        statement="Read the plate again on bare steel, or by multiple echo.",
        called_for_by=("single_echo_through_coating", "mode_unknown_through_coating", "coating_in_readings"),
    ),
    AdviceRule(
        code="read_the_unread",
        urgency="before_afloat",
        statement="Read what nobody read while the boat is out of the water.",
        called_for_by=(
            "zone_unread",
            "part_unread",
            "side_unread",
            "nothing_read_under_water",
            "shell_unread_under_overplate",
            "minimum_content_missing",
            "limit_broken_before",
        ),
    ),
    AdviceRule(
        code="check_the_readings",
        urgency="before_afloat",
        statement="Check the readings, their units, zones and originals: some cannot be as they were sent.",
        called_for_by=(
            "plate_over_mill_tolerance",
            "plate_implausible",
            "plate_unusually_thick",
            "exposure_contradicts_zone",
            "unknown_zone",
            "fitted_before_built",
            "reading_grew",
            "zone_grew",
            "previous_not_matched",
            "previous_in_other_unit",
            "decimal_point_lost",
            "looks_like_inches",
            "notation_contradicted",
            "rate_very_high",
        ),
    ),
    AdviceRule(
        code="ask_for_the_record",
        urgency="before_afloat",
        statement="Ask whoever sent the readings for the gauge's own record: their values are not as such readings mostly are.",
        called_for_by=(
            "values_repeat",
            "no_spread",
            "last_digits_improbable",
            "sides_alike",
            "runs_alike",
            "repeats_previous",
        ),
    ),
    AdviceRule(
        code="repair_before_next_use",
        urgency="before_afloat",
        statement="Settle with a surveyor when the thinnest plate is made good: it may reach its limit within a year.",
        called_for_by=("limit_soon", "limit_passed_since_survey"),
    ),
    AdviceRule(
        code="survey_again",
        urgency="before_afloat",
        statement="Have the hull surveyed again: this survey passes nothing any more.",
        called_for_by=("survey_too_old", "limit_passed_since_survey"),
    ),
    AdviceRule(
        code="find_the_cause",
        urgency="before_cover",
        statement="Find out what made the plate go faster than over its life before it is covered: anodes, coating, shore "
        "power, a new mooring.",
        called_for_by=("faster_than_over_its_life", "place_lost_fast"),
    ),
    AdviceRule(
        code="measure_more_pits",
        urgency="before_cover",
        statement="Measure the pits of more patches, chosen at random, before paint covers them: what the deepest may be rests "
        "on few.",
        called_for_by=("unread_pit_may_hole", "unread_pit_may_break_limit"),
    ),
    AdviceRule(
        code="read_more_around",
        urgency="before_cover",
        statement="Read more points around the thin places before paint covers them, to find how far the thin plate goes.",
        called_for_by=("watch_limit_broken", "may_be_below_already"),
    ),
    AdviceRule(
        code="tell_the_insurer",
        urgency="next_docking",
        statement="Tell the insurer of the plate that breaks a limit; its own terms decide.",
        called_for_by=("watch_limit_broken",),
    ),
    AdviceRule(
        code="judge_by_fitting_rules",
        urgency="monitor",
        statement="Judge the hull by rules that speak of its material and of all its plate: those used leave some out.",
        called_for_by=("material_not_steel", "wet_plate_outside_rules", "readings_excluded", "rule_unusual", "no_rules"),
    ),
    AdviceRule(
        code="establish_original",
        urgency="monitor",
        statement="Establish what the plate started with, and when, from certificate, builder or unattacked plate: loss, rate "
        "and life rest on it.",
        called_for_by=(
            "original_unknown",
            "original_assumed",
            "age_unknown",
            "plate_over_mill_tolerance",
            "zone_unplated",
            "notation_contradicted",
        ),
    ),
)
