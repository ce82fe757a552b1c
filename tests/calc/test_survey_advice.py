"""Findings and advice: each is told where it holds, in a sentence that is filled, and calls for what it should."""

from dataclasses import replace
from datetime import date
from string import Formatter

import numpy as np
import pytest

from platemargin import corrosion_rate, hull_survey, plate_margin, remaining_life, residual_thickness, threshold_check
from platemargin.errors import NotApplicableError
from platemargin.hull_survey import FINDINGS
from platemargin.rule_sets import inland_vessel_benchmark, trade_practice
from platemargin.rules import MinimumContent, RuleSet
from platemargin.survey_advice import ADVICE

HOLED = {"zone": "baseplate", "plate_mm": 8.0, "holed": True}
SOUND = {"zone": "baseplate", "side": "port", "plate_mm": 8.0, "pit_depth_mm": 0.5}
COATED = {"through_coating": True}
OWN_RULE = {"id": "own", "quantity": "residual_mm", "at_least": 4.0, "severity": "act", "statement": "Own.", "reference": "own"}
ASKS_MUCH = RuleSet(
    id="asks-much",
    version="1.0.0",
    title="Invented terms",
    rules=trade_practice.rule_set.rules,
    references=trade_practice.rule_set.references,
    minimum_content=MinimumContent(inside_seen=True),
)

PLACED = {**SOUND, "id": "p", "station_m": 4.0}
DEPTHS = (0.4, 0.5, 0.45, 0.5, 0.4, 0.6)


def sampled(**changes):
    """Return what plating says of a zone whose pits are a sample."""
    entry = {"zone": "side", "area_m2": 20.0, "pit_sampling": "random_patches", "pit_patch_area_m2": 0.25, "original_mm": 6.0}
    return {"plating": [{**entry, **changes}]}


SAMPLED = sampled()


def before(*readings):
    """Return what says that a survey came before this one, four years ago."""
    return {"previous_survey": {"surveyed_on": date(2020, 12, 31), "readings": list(readings)}}


def pits(*depths):
    """Return a reading of a zone's 5.8 mm plate for each pit."""
    return [{"zone": "side", "side": "port", "plate_mm": 5.8, "pit_depth_mm": depth} for depth in depths]


BENCHMARK = {"rule_sets": [inland_vessel_benchmark.rule_set]}
SHORT = {"length_m": 17.5, "draught_m": 0.6, "frame_spacing_mm": 500.0, "material": "steel", "construction": "welded"}


def rows(zone, values, start=0):
    """Return readings of a zone in a row, by turns of port and starboard."""
    return [
        {
            "id": f"{zone}{start + place}",
            "zone": zone,
            "side": ("port", "starboard")[place % 2],
            "station_m": 0.5 + place // 2 % 17,
            "plate_mm": float(value),
        }
        for place, value in enumerate(values)
    ]


CHANCE = np.random.default_rng(6)
TYPED = rows("side", CHANCE.choice([5.2, 5.5, 5.6, 5.9], 60))
DIGITS = rows("side", CHANCE.choice([4.2, 4.7, 5.2, 5.7, 6.2, 6.7], 60))
PLAIN = CHANCE.normal(5.4, 0.4, 60).round(1)

#: A survey in which each finding is told.
PROVOKED = {
    "holed": ([HOLED], {}),
    "act_limit_broken": ([{"zone": "side", "plate_mm": 3.4}], {}),
    "watch_limit_broken": ([{"zone": "side", "plate_mm": 3.9}], {}),
    "rule_not_judged": ([{"zone": "roof", "plate_mm": 3.9}], {}),
    "no_rules": ([SOUND], {"rule_sets": []}),
    "hull_size_missing": ([SOUND], BENCHMARK),
    "hull_outside_rule_set": ([SOUND], {**BENCHMARK, "hull": SHORT}),
    "rule_set_passes_nothing": ([SOUND], BENCHMARK),
    "limit_not_meaningful": ([{"zone": "side", "plate_mm": 3.9, "original_mm": 4.0}], {}),
    "readings_outside_rules": ([SOUND, {"zone": "roof", "plate_mm": 3.9}], {}),
    "rule_unusual": ([SOUND], {"rules": [{**OWN_RULE, "at_least": 0.2}]}),
    "readings_excluded": ([SOUND], {"rule_sets": [], "rules": [{**OWN_RULE, "zones": ["side"]}]}),
    "plate_unusually_thick": ([{"zone": "rudder", "plate_mm": 24.0}], {}),
    "plate_implausible": ([{"zone": "rudder", "plate_mm": 88.0}], {}),
    "overplate_hides_shell": ([SOUND, {**SOUND, "layer": "overplate"}], {}),
    "shell_unread_under_overplate": ([{**SOUND, "layer": "overplate"}], {}),
    "exposure_contradicts_zone": ([{**SOUND, "exposure": "topside"}], {}),
    "below_asked_limit": ([SOUND], {"thresholds_mm": [9.0]}),
    "asked_limit_not_meaningful": ([SOUND], {"thresholds_mm": [10.0]}),
    "limit_soon": ([{"zone": "baseplate", "plate_mm": 4.3}], {}),
    "limit_passed_since_survey": ([{"zone": "baseplate", "plate_mm": 4.3}], {"as_of": date(2026, 12, 31)}),
    "part_unread": ([SOUND], {"plating": [{"zone": "baseplate", "side": "starboard", "from_m": 3.0, "original_mm": 10.0}]}),
    "nothing_read_under_water": ([{"zone": "side", "plate_mm": 6.0}], {}),
    "wet_plate_outside_rules": ([SOUND], {"rule_sets": [], "rules": [{**OWN_RULE, "exposures": ["waterline"]}]}),
    "original_assumed": (
        [SOUND],
        {"plating": [{"zone": "baseplate", "original_mm": 10.0, "original_basis": "assumed"}]},
    ),
    "fitted_before_built": ([{**SOUND, "fitted_on": "2001"}], {}),
    "coating_not_stated": ([SOUND], {}),
    "unknown_zone": ([{"zone": "basplate", "plate_mm": 8.0}], {}),
    "unsafe_afloat": ([HOLED], {}),
    "may_be_below_already": ([{"zone": "baseplate", "plate_mm": 4.1}], {}),
    "zone_unread": ([SOUND], {}),
    "side_unread": ([SOUND], {}),
    "unexamined_part": ([SOUND], {"unexamined": [{"zone": "baseplate", "from_m": 2.0, "reason": "docking_blocks"}]}),
    "original_unknown": ([{"zone": "rudder", "plate_mm": 8.0}], {}),
    "age_unknown": ([SOUND], {"built_on": None}),
    "plate_thicker_than_original": ([{"zone": "baseplate", "plate_mm": 10.2}], {}),
    "plate_over_mill_tolerance": ([{"zone": "baseplate", "plate_mm": 11.3}], {}),
    "no_measurable_loss": ([{"zone": "baseplate", "plate_mm": 10.0}], {}),
    "pits_unmeasured": ([{"zone": "baseplate", "plate_mm": 8.0}], {}),
    "single_echo_through_coating": ([SOUND], {"gauge": {**COATED, "mode": "single_echo"}}),
    "mode_unknown_through_coating": ([SOUND], {"gauge": COATED}),
    "coating_in_readings": ([SOUND], {"gauge": {**COATED, "coating_um": 250.0}}),
    "survey_too_old": ([SOUND], {"as_of": date(2030, 1, 1), "max_survey_age_months": 48}),
    "minimum_content_missing": ([SOUND], {"rule_sets": [ASKS_MUCH]}),
    "material_not_steel": ([SOUND], {"hull": {"length_m": 9.0, "material": "aluminium", "construction": "welded"}}),
    "fastenings_not_judged": ([SOUND], {"hull": {"length_m": 9.0, "material": "steel", "construction": "riveted"}}),
    "inside_not_seen": ([SOUND], {}),
    "faster_than_over_its_life": ([PLACED], before({**PLACED, "plate_mm": 9.5})),
    "short_term_not_significant": ([PLACED], before({**PLACED, "plate_mm": 8.65, "pit_depth_mm": 0.5})),
    "reading_grew": ([PLACED], before({**PLACED, "plate_mm": 7.0})),
    "zone_grew": ([PLACED], before({**PLACED, "plate_mm": 7.0})),
    "pit_not_measured_again": ([{**PLACED, "pit_depth_mm": None}], before({**PLACED, "plate_mm": 8.2})),
    "pit_not_measured_before": ([PLACED], before({name: PLACED[name] for name in PLACED if name != "pit_depth_mm"})),
    "place_lost_fast": ([PLACED, {**PLACED, "id": "q", "plate_mm": 7.5}], before({**PLACED, "plate_mm": 9.9})),
    "limit_broken_before": ([SOUND], before({**PLACED, "plate_mm": 3.9})),
    "previous_places_unread": ([PLACED], before(PLACED, {**PLACED, "id": "q"})),
    "previous_not_matched": ([SOUND], before(PLACED)),
    "unread_pit_may_hole": (pits(0.2, 0.9, 0.3, 0.4, 3.0, 0.3), SAMPLED),
    "unread_pit_may_break_limit": (pits(0.4, 0.9, 0.5, 0.6, 1.0, 0.7), SAMPLED),
    "unread_pit": (pits(0.4, 0.5, 0.45, 0.5, 0.4, 0.45), SAMPLED),
    "decimal_point_lost": ([{**SOUND, "plate_mm": 98.0, "pit_depth_mm": 0.0}], {}),
    "looks_like_inches": (rows("side", [0.22, 0.21, 0.23, 0.22, 0.21, 0.22]), {}),
    "rate_very_high": ([{"zone": "baseplate", "plate_mm": 4.0, "fitted_on": "2022"}], {}),
    "zone_unplated": ([SOUND], {"plating_notation": None, "plating": [{"zone": "side", "original_mm": 6.0}]}),
    "notation_contradicted": (rows("side", [8.4] * 6), {}),
    "values_repeat": (TYPED, {}),
    "no_spread": (rows("side", [5.6] * 15), {}),
    "repeats_previous": (rows("side", PLAIN[:20]), before(*rows("side", PLAIN[:20]))),
    "previous_in_other_unit": ([PLACED], before({**PLACED, "plate_mm": 0.8, "pit_depth_mm": 0.0})),
    "last_digits_improbable": (DIGITS, {"plating_notation": None}),
    "sides_alike": (rows("side", np.repeat(PLAIN[:12], 2)), {}),
    "runs_alike": ([*rows("side", PLAIN), *rows("chine", PLAIN)], {}),
    "few_readings": ([SOUND], {}),
    "few_readings_for_area": ([SOUND], {"plating": [{"zone": "baseplate", "area_m2": 30.0}]}),
    "pits_not_extrapolated": (pits(0.4, 0.5), SAMPLED),
    "pits_selected_not_sampled": (pits(*DEPTHS), sampled(pit_sampling="selected_by_eye")),
    "few_patches": (pits(*DEPTHS), SAMPLED),
    "far_extrapolation": (pits(*DEPTHS), sampled(area_m2=1000.0)),
    "little_inspected": (pits(*DEPTHS), sampled(area_m2=1000.0)),
    "patches_not_the_whole_area": (pits(*DEPTHS), sampled(pit_sampling="deepest_of_every_patch")),
    "every_patch_read": (pits(*DEPTHS), sampled(pit_sampling="deepest_of_every_patch", area_m2=1.5)),
    "deepest_read_over_most_likely": (pits(0.4, 0.5, 0.4, 0.5, 0.4, 3.0), sampled(area_m2=2.0)),
    "poor_fit": (pits(*(10 * [0.4]), *(10 * [0.5]), 3.0), SAMPLED),
    "other_shape_fits_better": (pits(*(10 * [0.4]), *(10 * [0.5]), 3.0), SAMPLED),
    "patches_without_pit": (pits(0.0, *DEPTHS), SAMPLED),
    "depths_coarse": (pits(*(10 * [0.4]), *(10 * [0.5]), 3.0), SAMPLED),
}

ANODE = {
    "station_m": 3.0,
    "side": "port",
    "material": "magnesium",
    "original_mass_kg": 4.5,
    "remaining_percent": 60.0,
    "years_fitted": 3.0,
    "length_m": 0.3,
}
CELL = {"station_m": 8.0, "side": "port", "potential_v": -0.9, "reference_electrode": "cse", "shore_power": False}
WANTED = {
    "material": "magnesium",
    "net_mass_kg": 4.0,
    "length_m": 0.29,
    "width_m": 0.14,
    "thickness_m": 0.06,
    "mounting": "flush",
}
BAR = {**WANTED, "mounting": "stand_off", "length_m": 0.15, "width_m": 0.1, "thickness_m": 0.1, "net_mass_kg": 2.6}
ZINC = {**WANTED, "material": "zinc", "net_mass_kg": 14.0}
NARROW = {"profile": "narrow_deep", "outline": "round"}
SLUDGE = {"deposit": "orange_over_black", "smell": "bad_eggs_with_acid"}


def hull(**changes):
    """Return the invented hull in another water, or of another material."""
    sound = {"length_m": 17.5, "beam_m": 2.1, "draught_m": 0.6, "water": "fresh", "material": "steel", "construction": "welded"}
    return {"hull": {**sound, **changes}}


def fitted(**changes):
    """Return what says that one anode is fitted."""
    return {"anodes": [{**ANODE, **changes}]}


def sized(anode=WANTED, coating="II", **changes):
    """Return what asks for anodes; in water of 20 ohm m where nothing else is said."""
    told = {"design_life_years": 4.0, "anode": anode, "electrolyte": {"resistivity_ohm_m": 20.0}, **changes}
    return {"anode_sizing": told, "coating": coating and {"category": coating}}


def observed(*pits, **more):
    """Return what says how pits, and what is about them, look."""
    return {"observations": {"pits": list(pits), **more}}


PARTS = [
    {"name": "bottom", "area_m2": 36.0, "coating": {"category": "bare"}},
    {"name": "sides", "area_m2": 22.0, "coating": {"initial_breakdown": 0.05, "breakdown_per_year": 0.02}},
]
SALT = {"electrolyte": {"resistivity_ohm_m": 0.3}}
AFT = {"setting": {"dissimilar_metals_near": True}}

#: What is sent beside sound plate, and what it makes of attack, anodes and sizing.
PROTECTED = (
    ({"observations": {}}, "no_observations"),
    (observed({**NARROW, "location": "near_propeller"}, **AFT), "attack_form_consistent", "next_observation"),
    (observed({**NARROW, "location": "near_propeller"}, **AFT), "practice_and_literature_differ"),
    (observed({**NARROW, "edge": "sharp"}, tests={"dc_leakage_to_hull": True}), "stray_current_suspected"),
    (observed(setting={"stray_current_source_near": True}), "stray_current_possible"),
    (observed(setting={"shore_power": True, "galvanic_isolator": False}), "shore_power_without_isolator"),
    (observed(setting={"shore_power": True}), "isolator_not_known", "nothing_settled"),
    (observed({**SLUDGE, "rate_mm_per_year": 0.75}), "fast_attack"),
    (observed(tubercles={"seen": True}), "pits_under_tubercles_unread"),
    (observed({"profile": "narrow_deep", "depth_mm": 1.0, "width_mm": 30.0}), "profile_contradicts_size"),
    (observed(SLUDGE, {**NARROW, "location": "near_propeller"}, **AFT), "several_forms"),
    (observed({**NARROW, **SLUDGE}, tests={"sulphide_in_deposit": False}), "contradictory_evidence"),
    (observed({"colours": ["bright_silvery", "yellow_brown"]}), "colour_alone"),
    ({"anodes": []}, "no_anodes"),
    ({"anodes": [], "potentials": [CELL]}, "protected_by_something_else"),
    ({"anodes": [], "potentials": [{**CELL, "shore_power": None}]}, "shore_power_not_told"),
    (fitted(painted=True), "anode_painted", "no_anode_works"),
    (fitted(continuity_ohm=5.0), "anode_disconnected"),
    (fitted(material="zinc"), "anode_metal_unsuited"),
    (fitted(remaining_percent=5.0), "anode_used_up"),
    (fitted(remaining_percent=99.9), "anode_unused"),
    (fitted(remaining_percent=100.0, years_fitted=0.2), "anode_new"),
    (fitted(remaining_percent=40.0), "anode_used_soon", "beyond_reach", "not_measured"),
    (fitted(years_fitted=0.4), "anode_used_fast"),
    (fitted(remaining_percent=98.7, material="aluminium") | hull(water="sea"), "anode_life_not_told"),
    (fitted() | hull(material="aluminium") | {"potentials": [CELL]}, "magnesium_on_aluminium", "potential_not_judged"),
    (fitted() | hull(water="sea"), "magnesium_in_salt_water"),
    ({"anodes": [ANODE, {**ANODE, "material": "zinc"}]}, "mixed_metals"),
    (fitted() | {"potentials": [CELL]}, "beyond_reach_yet_protected"),
    (fitted() | {"potentials": [{**CELL, "potential_v": -0.7}]}, "hull_not_protected"),
    (fitted() | {"potentials": [{**CELL, "potential_v": -1.4}]}, "hull_overprotected"),
    (fitted() | {"potentials": [{**CELL, "shore_power": True}]}, "read_on_shore_power"),
    (fitted() | {"potentials": [{**CELL, "potential_v": 0.9}]}, "potential_implausible"),
    (sized(ZINC), "material_unsuited", "passive_life_unknown", "categories_are_of_paint"),
    (sized(electrolyte={"resistivity_ohm_m": 4.0}), "no_material_suits_well", "overprotection_possible"),
    (sized(moves_to="sea"), "moves_between_waters"),
    (sized(coating="bare"), "no_sensible_count"),
    (sized(electrolyte={"resistivity_ohm_m": 9.0}), "demand_uncertain_near_fresh"),
    (sized(anode_count=5000), "count_beyond_sensible"),
    (sized(wetted_area_m2=500.0), "area_over_hull"),
    (sized(design_life_years=25.0), "design_life_beyond_metal"),
    (sized(electrolyte={"water": "sea"}), "waters_contradict"),
    (fitted() | sized(coating="III"), "fewer_anodes_than_needed"),
    (sized(anode_count=3), "demand_not_met", "spacing_leaves_gaps", "odd_count"),
    (sized(electrolyte={"water": "fresh"}), "fresh_water_varies"),
    (sized(coating="III", anode_count=9), "self_corrosion_bounds_life"),
    (sized(ZINC, coating="bare", anode_count=12, design_life_years=20.0, **SALT), "life_short_of_design"),
    (sized(protection_potential_v=-0.95, reference_electrode="cse"), "driving_voltage_cut"),
    (sized(protection_potential_v=-0.40, reference_electrode="she"), "protection_too_weak"),
    (sized(protection_potential_v=-0.20, reference_electrode="zinc"), "potential_overprotects"),
    (sized({**WANTED, "width_m": 0.05, "thickness_m": 0.1}), "shape_outside_formula"),
    (sized({**BAR, "stand_off_m": 0.05}), "stand_off_too_near"),
    (sized({**WANTED, "net_mass_kg": 40.0}), "anode_mass_does_not_fit"),
    (sized(ZINC, coating="I", design_life_years=15.0, **SALT), "coating_counts_as_gone"),
    (sized(coating=None, surfaces=PARTS), "bare_surface_takes_current"),
    ({"coating": {"category": "I"}}, "coating_not_used"),
)
PROVOKED |= {code: ([SOUND], sent) for sent, *codes in PROTECTED for code in codes}

#: So many readings of one place that they cannot be told apart by where they are.
_CROWD = 5001 * [{**SOUND, "station_m": 4.0}]

#: A survey that is refused for each fault, and where.
REFUSED = {
    ("readings", "id_not_unique"): ([{**SOUND, "id": "a"}] * 2, {}),
    ("readings", "pit_deeper_than_plate"): ([{**SOUND, "pit_depth_mm": 9.0}], {}),
    ("readings", "station_beyond_hull"): ([{**SOUND, "station_m": 20.0}], {}),
    ("readings", "too_many_zones"): ([{"zone": f"zone {index}", "plate_mm": 8.0} for index in range(201)], {}),
    ("readings", "day_not_possible"): ([{**SOUND, "fitted_on": "2030"}], {}),
    ("readings", "protected_longer_than_service"): (
        [{**SOUND, "fitted_on": "2023"}],
        {"plating": [{"zone": "baseplate", "protected_years": 5.0}]},
    ),
    ("built_on", "day_not_possible"): ([SOUND], {"built_on": "2030"}),
    ("plating", "day_not_possible"): ([SOUND], {"plating": [{"zone": "side", "fitted_on": "2030"}]}),
    ("plating", "range_backwards"): ([SOUND], {"plating": [{"zone": "side", "from_m": 2.0, "to_m": 1.0}]}),
    ("plating", "plating_stated_twice"): ([SOUND], {"plating": [{"zone": "side"}] * 2}),
    ("plating", "protected_longer_than_service"): ([SOUND], {"plating": [{"zone": "side", "protected_years": 20.0}]}),
    ("unexamined", "range_backwards"): (
        [SOUND],
        {"unexamined": [{"zone": "side", "reason": "afloat", "from_m": 2.0, "to_m": 1.0}]},
    ),
    ("rules", "rule_contradicts_itself"): ([SOUND], {"rules": [{**OWN_RULE, "at_most": 5.0}]}),
    ("rules", "id_not_unique"): ([SOUND], {"rules": [OWN_RULE, OWN_RULE]}),
    ("as_of", "as_of_before_survey"): ([SOUND], {"as_of": date(2024, 1, 1)}),
    ("as_of", "as_of_needed"): ([SOUND], {"max_survey_age_months": 12}),
    ("previous_survey", "id_not_unique"): ([SOUND], before(PLACED, PLACED)),
    ("previous_survey", "pit_deeper_than_plate"): ([SOUND], before({**SOUND, "pit_depth_mm": 9.0})),
    ("previous_survey", "station_beyond_hull"): ([SOUND], before({**SOUND, "station_m": 20.0})),
    ("previous_survey", "too_many_zones"): ([SOUND], before(*({"zone": f"zone {i}", "plate_mm": 8.0} for i in range(201)))),
    ("previous_survey", "day_not_possible"): ([SOUND], before({**SOUND, "fitted_on": "2022"})),
    ("previous_survey", "surveys_out_of_order"): ([SOUND], {**before(SOUND), "surveyed_on": date(2020, 12, 31)}),
    ("built_on", "built_after_survey"): ([SOUND], {**before(SOUND), "built_on": "2021"}),
    ("previous_survey", "too_many_candidates"): (_CROWD, before(*_CROWD)),
}
REFUSED |= {
    ("observations", "id_not_unique"): ([SOUND], observed({"id": "a"}, {"id": "a"})),
    ("observations", "tubercles_described_and_none"): ([SOUND], observed(tubercles={"seen": False, "diameter_mm": 40.0})),
    ("observations", "tubercles_not_described"): ([SOUND], observed(tubercles={})),
    ("observations", "bacteria_found_and_none"): ([SOUND], observed(tests={"bacteria_found": ["none", "iron_oxidising"]})),
    ("observations", "anodes_contradicted"): ([SOUND], fitted() | observed(setting={"anodes_fitted": False})),
    ("anodes", "station_beyond_hull"): ([SOUND], fitted(station_m=18.0)),
    ("anodes", "capacity_over_faraday"): ([SOUND], fitted(capacity_ah_per_kg=2900.0)),
    ("potentials", "station_beyond_hull"): ([SOUND], fitted() | {"potentials": [{**CELL, "station_m": 18.0}]}),
    ("potentials", "anodes_needed"): ([SOUND], {"potentials": [CELL]}),
    ("coating", "coating_missing"): ([SOUND], sized(coating=None)),
    ("coating", "coating_given_twice"): ([SOUND], sized(surfaces=PARTS)),
    ("coating", "coating_contradicts_itself"): ([SOUND], sized() | {"coating": {"category": "I", "initial_breakdown": 0.1}}),
    ("anode_sizing", "area_given_twice"): ([SOUND], sized(coating=None, surfaces=PARTS, wetted_area_m2=50.0)),
    ("anode_sizing", "coating_of_surface_contradicts_itself"): (
        [SOUND],
        sized(coating=None, surfaces=[{**PARTS[0], "coating": {}}]),
    ),
    ("anode_sizing", "name_not_unique"): ([SOUND], sized(coating=None, surfaces=[PARTS[0]] * 2)),
    ("anode_sizing", "water_not_told_once"): ([SOUND], sized(electrolyte={"water": "fresh", "salinity": 5.0})),
    ("anode_sizing", "potential_without_electrode"): ([SOUND], sized(reference_electrode="cse")),
    ("anode_sizing", "driving_voltage_given_twice"): (
        [SOUND],
        sized({**WANTED, "driving_voltage_v": 0.6}, protection_potential_v=-0.9, reference_electrode="cse"),
    ),
    ("anode_sizing", "anode_too_weak"): ([SOUND], sized(ZINC, protection_potential_v=-1.2, reference_electrode="ag_agcl")),
    ("hull", "hull_not_of_steel"): ([SOUND], sized() | hull(material="aluminium")),
    ("anode_sizing", "potential_not_of_steel"): (
        [SOUND],
        sized(protection_potential_v=0.85, reference_electrode="cse"),
    ),
    ("anode_sizing", "moves_to_same_water"): ([SOUND], sized(electrolyte={"water": "sea"}, moves_to="sea")),
    ("anode_sizing", "capacity_over_faraday"): ([SOUND], sized({**WANTED, "capacity_ah_per_kg": 2900.0})),
    ("anode_sizing", "flush_anode_stands_off"): ([SOUND], sized({**WANTED, "stand_off_m": 0.3})),
}
ROOMS = (residual_thickness, corrosion_rate, remaining_life, plate_margin)


def placeholders(template):
    """Return the names that a template needs."""
    return {name for _, name, _, _ in Formatter().parse(template) if name is not None}


# -- every template is filled --


def test_every_finding_has_a_survey_that_shows_it():
    """The table here and the findings of a survey are the same: no finding is declared that nothing shows."""
    assert set(PROVOKED) == {finding.code for finding in FINDINGS}
    assert len(FINDINGS) == len(PROVOKED)


@pytest.mark.parametrize("code", PROVOKED)
def test_finding_is_told_and_filled(survey, code):
    """Each finding is told in the survey that shows it, its template filled from the values that it declares."""
    readings, changes = PROVOKED[code]
    answer = survey(readings, **changes)
    for path, sentence in answer.found[code]:
        assert "{" not in sentence
        assert not {"None", "nan", "NaN"} & set(sentence.split())
        assert path == () or path[0] in answer.arguments


@pytest.mark.parametrize("finding", FINDINGS, ids=lambda finding: finding.code)
def test_finding_needs_only_what_it_declares(finding):
    """What a sentence needs is among the values that the finding declares."""
    assert placeholders(finding.statement) <= set(finding.values)


@pytest.mark.parametrize("room", ROOMS, ids=lambda room: room.__name__)
def test_elementwise_templates_are_provided(room):
    """What the sentences, faults and workings of an elementwise calculation name is an argument or a result of it."""
    name = room.__name__.rpartition(".")[2]
    run = getattr(room, name)
    result = getattr(room, "".join(part.title() for part in name.split("_")))
    known = set(run.__kwdefaults__ or ()) | set(run.__annotations__) - {"return"}
    figures = known | set(result.__dataclass_fields__)
    for finding in room.FINDINGS:
        assert placeholders(finding.statement) == set(finding.values)
        assert set(finding.values) <= figures
        assert finding.field is None or finding.field in known
    for fault in room.FAULTS:
        assert placeholders(fault.message) <= known
        assert fault.field in known
    for step in room.WORKING:
        assert placeholders(step.substituted) | {step.value} <= figures


@pytest.mark.parametrize(
    ("code", "readings", "changes"),
    [
        ("fitted_before_built", [{**SOUND, "fitted_on": "2008-01-01"}], {"built_on": "2008-01-01"}),
        ("fitted_before_built", [{**SOUND, "fitted_on": "2008"}], {"built_on": "2008-06"}),
        ("unknown_zone", [{"zone": "locker", "plate_mm": 5.0}], {"plating": [{"zone": "locker", "exposure": "internal"}]}),
        ("original_assumed", [SOUND], {"plating": [{"zone": "baseplate", "original_basis": "assumed"}]}),
        ("coating_not_stated", [SOUND], {"gauge": {"through_coating": False}}),
        ("coating_not_stated", [SOUND], {"gauge": {"mode": "multiple_echo"}}),
        ("inside_not_seen", [SOUND], {"inside_seen": True}),
        ("limit_soon", [{"zone": "baseplate", "plate_mm": 4.9}], {}),
    ],
)
def test_finding_is_not_told(survey, code, readings, changes):
    """A finding that does not hold is not told."""
    assert code not in survey(readings, **changes).found


def test_every_fault_has_a_survey_that_it_refuses():
    """The table here and the faults of a survey are the same."""
    assert set(REFUSED) == {(fault.field, fault.code) for fault in hull_survey.FAULTS}


@pytest.mark.parametrize(("field", "code"), REFUSED)
def test_fault_is_told_and_filled(survey, field, code):
    """Each fault refuses the survey that has it, alone, in a message with the figures, at a member that was sent."""
    readings, changes = REFUSED[(field, code)]
    with pytest.raises(NotApplicableError) as refused:
        survey(readings, **changes)
    ((told_code, path, message),) = refused.value.faults
    assert (path[0], told_code) == (field, code)
    assert "{" not in message
    assert not {"None", "nan"} & set(message.split())


def test_threshold_check_shares_its_findings_and_faults():
    """What a check and a survey both tell they tell in the same words; a survey may withhold a pass for more."""
    surveys = {finding.code: finding for finding in FINDINGS}
    for finding in threshold_check.FINDINGS:
        assert surveys[finding.code] in (finding, replace(finding, withholds_pass=True))
    assert set(threshold_check.FAULTS) <= set(hull_survey.FAULTS)


@pytest.mark.parametrize(
    ("code", "severity"),
    [
        ("single_echo_through_coating", "act"),  # CONTRACT
        ("holed", "act"),
        ("unsafe_afloat", "act"),
        ("act_limit_broken", "act"),
        ("watch_limit_broken", "watch"),
        ("plate_thicker_than_original", "note"),
    ],
)
def test_severity(code, severity):
    """What calls for action is told so."""
    assert {finding.code: finding.severity for finding in FINDINGS}[code] == severity


# -- advice --


def advice(answer):
    """Return the advice given by code."""
    return {told.code: told for told in answer.result.advice}


@pytest.mark.parametrize(
    ("reading", "given"),
    [
        ({"zone": "baseplate", "plate_mm": 8.0, "holed": True}, True),
        ({"zone": "side", "plate_mm": 6.0, "holed": True}, True),
        ({"zone": "baseplate", "plate_mm": 3.4}, True),
        ({"zone": "misspelt", "plate_mm": 3.4}, True),
        ({"zone": "baseplate", "plate_mm": 3.6}, False),  # a watch limit alone
        ({"zone": "roof", "plate_mm": 4.0, "holed": True}, False),
        ({"zone": "baseplate", "plate_mm": 8.0}, False),
    ],
)
def test_do_not_refloat(survey, reading, given):
    """CONTRACT: holed or below an act limit while immersed: do not refloat or move it until a surveyor has seen it."""
    told = advice(survey([reading]))
    assert ("do_not_refloat" in told) is given
    if given:
        assert told["do_not_refloat"].urgency == "before_afloat"
        assert "not refloat or move it until a surveyor has seen it" in told["do_not_refloat"].statement


@pytest.mark.parametrize(
    "changes", [{"rule_sets": []}, {"hull": {"length_m": 9.0, "material": "aluminium", "construction": "welded"}}]
)
def test_do_not_refloat_a_hole_that_no_limit_judged(survey, changes):
    """A hole under water calls for it also where no limit speaks of the plate."""
    assert "do_not_refloat" in advice(survey([HOLED], **changes))


def test_advice_says_why(survey):
    """Advice names the findings made that call for it, and no others."""
    answer = survey([{"zone": "baseplate", "plate_mm": 3.4}])
    for told in answer.result.advice:
        assert told.because
        assert set(told.because) <= set(answer.found)
    assert advice(answer)["make_good_plate"].because == ("act_limit_broken",)


def test_no_advice_without_cause(survey, whole):
    """A whole sound survey calls for nothing to be done to its plate."""
    assert advice(survey(whole, inside_seen=True)) == {}


def test_advice_is_called_for_by_findings_that_exist():
    """Every code that advice waits for is a finding's, and every advice has one."""
    codes = {finding.code for finding in FINDINGS}
    assert all(rule.called_for_by and set(rule.called_for_by) <= codes for rule in ADVICE)


@pytest.mark.parametrize("code", [finding.code for finding in FINDINGS if finding.withholds_pass])
def test_what_withholds_a_pass_says_what_to_do(code):
    """Whatever keeps a survey from passing has advice on how to get past it."""
    assert any(code in rule.called_for_by for rule in ADVICE)
