"""What is to be done about a survey's findings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

__all__ = ["ADVICE", "MOST_REASONS", "Advice", "AdviceRule", "Urgency"]

Urgency: TypeAlias = Literal["before_afloat", "before_cover", "next_docking", "monitor"]

#: So many places of one finding are told as reasons of an advice; the findings tell the rest.
MOST_REASONS = 5


@dataclass(frozen=True, kw_only=True)
class Advice:
    """What to do, how soon, the findings that call for it, and their words with the figures."""

    code: str
    urgency: Urgency
    statement: str
    because: tuple[str, ...]
    reasons: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class AdviceRule:
    """Advice that any of some findings calls for."""

    code: str
    urgency: Urgency
    statement: str
    called_for_by: tuple[str, ...]
    yielding: tuple[str, ...] = ()
    yields_to: tuple[str, ...] = ()

    def because(self, reasons: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
        """Return which of the findings made call for it; those that are `yielding` do not beside one that they yield to."""
        outweighed = self.yielding if any(code in reasons for code in self.yields_to) else ()
        return tuple(code for code in self.called_for_by if code in reasons and code not in outweighed)

    def advice(self, reasons: Mapping[str, Sequence[str]]) -> Advice:
        """Return the advice with its reasons, which are what each finding says, by its code."""
        because = self.because(reasons)
        words = tuple(word for code in because for word in reasons[code])
        return Advice(code=self.code, urgency=self.urgency, statement=self.statement, because=because, reasons=words)


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
            "pit_not_measured_again",
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
        code="stop_the_current",
        urgency="before_afloat",
        statement="Have a qualified marine electrician find and stop stray current before the boat is afloat or on shore "
        "power again: shore power kills.",
        called_for_by=("stray_current_suspected", "stray_current_possible"),
    ),
    AdviceRule(
        code="stop_fast_attack",
        urgency="before_afloat",
        statement="Find and stop what makes the attack so fast before the boat is afloat again.",
        called_for_by=("fast_attack",),
    ),
    AdviceRule(
        code="isolate_shore_power",
        urgency="before_afloat",
        statement="Have a qualified marine electrician see to the isolation of the shore lead's earth before it is connected "
        "again; never cut the earth.",
        called_for_by=("shore_power_without_isolator", "isolator_not_known"),
    ),
    AdviceRule(
        code="take_magnesium_off",
        urgency="before_afloat",
        statement="Take the magnesium anodes off: they are not for that hull, or not for that water.",
        called_for_by=("magnesium_on_aluminium", "magnesium_in_salt_water"),
    ),
    AdviceRule(
        code="put_anodes_right",
        urgency="before_afloat",
        statement="Renew, clean or connect the anodes that do not work or will not last: one metal for the water, bare, in "
        "clean contact with the hull, never painted.",
        called_for_by=(
            "no_anode_works",
            "anode_used_up",
            "anode_used_soon",
            "anode_painted",
            "anode_disconnected",
            "anode_unused",
            "anode_metal_unsuited",
            "mixed_metals",
        ),
    ),
    AdviceRule(
        code="find_the_cause",
        urgency="before_cover",
        statement="Find out what made the plate go faster than over its life before it is covered: anodes, coating, shore "
        "power, a new mooring.",
        called_for_by=("faster_than_over_its_life", "place_lost_fast"),
    ),
    AdviceRule(
        code="settle_the_attack",
        urgency="before_cover",
        statement="Take samples, and make the tests that would settle the form of attack, before anything is washed, blasted "
        "or painted.",
        called_for_by=("no_observations", "nothing_settled", "colour_alone", "several_forms", "profile_contradicts_size"),
    ),
    AdviceRule(
        code="measure_under_tubercles",
        urgency="before_cover",
        statement="Take some tubercles off to the base and measure the pits under them.",
        called_for_by=("pits_under_tubercles_unread",),
    ),
    AdviceRule(
        code="treat_the_attack",
        urgency="before_cover",
        statement="Stop the cause, then treat the attack as its form asks before it is covered: treatment-plan tells the steps "
        "and their cautions. Biocides, blasting and run-off follow local rules.",
        called_for_by=("attack_form_consistent",),
    ),
    AdviceRule(
        code="fit_anodes",
        urgency="before_cover",
        statement="Have anodes fitted where none protects the plate, before it is painted: anode-sizing tells how many. "
        "Welding them on is hot work, with lining, fuel or gas behind the plate, and licensed practice.",
        called_for_by=("no_anodes", "hull_not_protected", "beyond_reach", "fewer_anodes_than_needed"),
        yielding=("no_anodes", "beyond_reach", "fewer_anodes_than_needed"),
        yields_to=("hull_overprotected", "protected_by_something_else"),
    ),
    AdviceRule(
        code="choose_other_anodes",
        urgency="before_cover",
        statement="Do not rely on the anodes that are thought of as they are: choose their metal, size, number or places anew.",
        called_for_by=(
            "material_unsuited",
            "no_sensible_count",
            "demand_not_met",
            "count_beyond_sensible",
            "spacing_leaves_gaps",
            "design_life_beyond_metal",
            "life_short_of_design",
            "self_corrosion_bounds_life",
            "protection_too_weak",
            "shape_outside_formula",
            "stand_off_too_near",
            "anode_mass_does_not_fit",
        ),
    ),
    AdviceRule(
        code="find_what_drives_the_hull",
        urgency="before_cover",
        statement="Find out what uses the anodes up so fast, or drives the hull in their place: shore power, stray current, "
        "bare steel, another boat's anodes.",
        called_for_by=("anode_used_fast", "protected_by_something_else", "hull_overprotected"),
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
        code="measure_potentials",
        urgency="monitor",
        statement="Have the hull's potential measured afloat, shore lead out, against a named electrode, by people who know "
        "how: only that tells whether the steel is protected.",
        called_for_by=(
            "not_measured",
            "read_on_shore_power",
            "shore_power_not_told",
            "potential_implausible",
            "overprotection_possible",
            "potential_overprotects",
            "no_material_suits_well",
        ),
    ),
    AdviceRule(
        code="measure_the_water",
        urgency="monitor",
        statement="Have the conductivity of the water measured where the boat lies, and wherever else it goes.",
        called_for_by=("fresh_water_varies", "moves_between_waters", "demand_uncertain_near_fresh", "waters_contradict"),
    ),
    AdviceRule(
        code="judge_by_fitting_rules",
        urgency="monitor",
        statement="Judge the hull by rules that speak of its material and of all its plate: those used leave some out.",
        called_for_by=(
            "material_not_steel",
            "wet_plate_outside_rules",
            "readings_excluded",
            "rule_unusual",
            "no_rules",
            "hull_size_missing",
        ),
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
