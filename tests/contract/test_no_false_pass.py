"""No survey that was not read, not known, misspelt, excluded or sent in another unit is passed.

One table over HTTP: what is changed in a sound survey, or a sound check of readings, the verdict that comes, and the finding
that says why. The sound ones stand beside it, so that nothing here passes by accident. All data are invented.
"""

import pytest

from platemargin_api.app import create_app

client = create_app().test_client()

READINGS = [
    {"id": "bp", "zone": "baseplate", "side": "port", "station_m": 4.0, "plate_mm": 9.5, "pit_depth_mm": 0.5},
    {"id": "bs", "zone": "baseplate", "side": "starboard", "station_m": 5.0, "plate_mm": 9.5, "pit_depth_mm": 0.5},
    {"id": "sp", "zone": "side", "side": "port", "station_m": 6.0, "plate_mm": 5.8, "pit_depth_mm": 0.1},
    {"id": "ss", "zone": "side", "side": "starboard", "station_m": 7.0, "plate_mm": 5.8, "pit_depth_mm": 0.1},
]
SURVEY = {
    "hull": {"length_m": 17.5, "beam_m": 2.1, "draught_m": 0.6},
    "built_on": "2005",
    "surveyed_on": "2024-06-01",
    "plating": [{"zone": "baseplate", "original_mm": 10.0}, {"zone": "side", "original_mm": 6.0}],
    "gauge": {"mode": "multiple_echo"},
    "inside_seen": True,
    "readings": READINGS,
}
CHECK = {"readings": [{"zone": "side", "plate_mm": 5.8}], "rule_sets": ["trade-practice"]}


def rule(**of):
    """Return an own rule: at least 4 mm is left, unless told otherwise."""
    limit = {} if {"at_least", "at_most"} & set(of) else {"at_least": 4.0}
    return {"id": "own", "quantity": "residual_mm", "severity": "act", "statement": "Own.", "reference": "Own.", **limit, **of}


def also(*more, drop=(), **survey):
    """Return the sound survey with more readings, without some, and with other members."""
    kept = [reading for reading in READINGS if reading["id"] not in drop]
    return {**SURVEY, **survey, "readings": [*kept, *more]}


def plated(*more):
    return [*SURVEY["plating"], *more]


def read(zone, plate_mm, **more):
    return {"zone": zone, "plate_mm": plate_mm, **more}


def before(*readings):
    """Return a survey four years before the sound one."""
    return {"surveyed_on": "2020-12-31", "readings": list(readings)}


BENCHMARK = "inland-vessel-benchmark"
LONG = {"length_m": 21.3, "beam_m": 3.6, "draught_m": 0.75, "frame_spacing_mm": 600.0}
HOLE = read("baseplate", 9.0, holed=True)
THIN = read("baseplate", 1.0)
OVER = [read("baseplate", 5.9, side=side, layer="overplate", original_mm=6.0) for side in ("port", "starboard")]
WITHOUT_BOTTOM = {"drop": ("bp", "bs")}
STREWN = [
    read("side", plate, side="port", station_m=0.5 + place)
    for place, plate in enumerate((5.3, 5.9, 4.8, 5.5, 5.1, 6.0, 5.2, 5.7, 4.9, 5.8, 5.0, 5.6, 5.4, 5.3, 5.8, 5.2))
]

SURVEYS = {
    "a hole under rules that it does not break": (
        also(HOLE, rules=[rule(quantity="plate_mm", at_least=4.0)]), "act", "holed"),
    "a hole under a limit of nothing": (also(HOLE, rules=[rule(quantity="plate_mm", at_least=0.0)]), "act", "holed"),
    "a holed roof": (also(read("roof", 3.0, holed=True)), "act", "holed"),
    "an aluminium hull with a hole": (
        also(HOLE, hull={**SURVEY["hull"], "material": "aluminium"}), "act", "holed"),
    "a bottom read on its overplate only": (also(*OVER, **WITHOUT_BOTTOM), "not_judged", "zone_unread"),
    "a side plated apart and unread": (
        also(drop=("ss",), plating=[SURVEY["plating"][0],
             *({"zone": "side", "side": side, "original_mm": 6.0} for side in ("port", "starboard"))]),
        "not_judged", "part_unread"),
    "a part plated apart and unread": (
        also(plating=plated({"zone": "baseplate", "from_m": 8.0, "to_m": 12.0, "original_mm": 6.0})),
        "not_judged", "part_unread"),
    "a whole side not examined": (
        also(drop=("bs",), unexamined=[{"zone": "baseplate", "side": "starboard", "reason": "tank"}]),
        "not_judged", "part_unread"),
    "sides alone, no plating stated": (also(plating=[], **WITHOUT_BOTTOM), "not_judged", "nothing_read_under_water"),
    "a rudder read and no bottom": (
        also(read("rudder", 8.0, side="port"), plating=[], **WITHOUT_BOTTOM), "not_judged", "nothing_read_under_water"),
    "a zone known only for a range not examined": (
        also(unexamined=[{"zone": "chine", "from_m": 0.0, "to_m": 17.0, "reason": "fouling"}]), "not_judged", "zone_unread"),
    "38 for 3.8, no original known": (also(read("swim", 38.0), plating=[]), "not_judged", "plate_unusually_thick"),
    "one side of the boat": (also(drop=("bs", "ss")), "not_judged", "side_unread"),
    "a plated zone that nobody read": (also(plating=plated({"zone": "chine"})), "not_judged", "zone_unread"),
    "the notation's zones unread": (also(plating=[], plating_notation="10/6/5"), "not_judged", "zone_unread"),
    "rules that leave the bottom out by zone": (also(THIN, rules=[rule(zones=["side"])]), "not_judged", "readings_excluded"),
    "rules that leave the sides out by original": (
        also(read("side", 1.0), rules=[rule(original_at_least_mm=8.0)]), "not_judged", "readings_excluded"),
    "rules for what is above the water": (
        also(read("roof", 4.5), rules=[rule(exposures=["superstructure"])]), "not_judged", "wet_plate_outside_rules"),
    "a rule's zone misspelt": (also(THIN, rules=[rule(zones=["side", "basplate"])]), "act", "unknown_zone"),
    "a reading's zone unlike any": (
        also(read("bottom", 1.0), rules=[rule(zones=["baseplate", "side"])]), "act", "unknown_zone"),
    "a misspelt zone stated to be dry": (
        also(read("basplate", 1.0, exposure="superstructure")), "not_judged", "exposure_contradicts_zone"),
    "a bottom stated to be dry": (
        also(read("baseplate", 1.0, exposure="topside")), "not_judged", "exposure_contradicts_zone"),
    "plating that states the bottom dry": (
        also(plating=[{"zone": "baseplate", "original_mm": 10.0, "exposure": "internal"}, SURVEY["plating"][1]]),
        "not_judged", "exposure_contradicts_zone"),
    "thin at the survey before, and not read again": (
        also(previous_survey=before(read("side", 3.2, side="port", station_m=3.0))), "not_judged", "limit_broken_before"),
    "thin at the survey before, and two millimetres thicker now": (
        also(previous_survey=before({**READINGS[0], "plate_mm": 3.2, "pit_depth_mm": 0.0})),
        "not_judged", "limit_broken_before"),
    "pits sampled that may go through where nobody read": (
        also(*(read("side", 5.8, side="port", pit_depth_mm=pit) for pit in (0.1, 0.2, 0.1, 1.7, 1.1, 0.3)),
             plating=[SURVEY["plating"][0], {"zone": "side", "original_mm": 6.0, "area_m2": 4800.0,
                      "pit_sampling": "random_patches", "pit_patch_area_m2": 0.25}]),
        "not_judged", "unread_pit_may_hole"),
    "four favourite values": (
        also(*(read("side", plate, side="port") for plate in 8 * (5.2, 5.5, 5.5, 5.8, 5.8, 6.0, 5.8, 5.5))),
        "not_judged", "values_repeat"),
    "one value throughout": (
        also(*(read("side", 5.6, side="port") for _ in range(20))), "not_judged", "no_spread"),
    "the survey before once more": (
        also(*STREWN, previous_survey=before(*STREWN)), "not_judged", "repeats_previous"),
    "the survey before in centimetres": (
        also(previous_survey=before(*({**told, "plate_mm": told["plate_mm"] / 10, "pit_depth_mm": 0.0} for told in READINGS))),
        "not_judged", "previous_in_other_unit"),
    "98 for 9.8": (also(read("baseplate", 98.0)), "not_judged", "plate_over_mill_tolerance"),
    "98 for 9.8, no original known": (also(read("baseplate", 98.0), plating=[]), "not_judged", "plate_implausible"),
    "98 for 9.8 on a hull without a mill's tolerance": (
        also(read("baseplate", 98.0), hull={**SURVEY["hull"], "material": "aluminium"}, rules=[rule()]),
        "not_judged", "plate_implausible"),
    "an original too small": (
        also(plating=[{"zone": "baseplate", "original_mm": 8.0}, SURVEY["plating"][1]], rule_sets=["loss-fraction"]),
        "not_judged", "plate_over_mill_tolerance"),
    "a film stated with a single echo": (
        also(gauge={"mode": "single_echo", "coating_um": 400}), "not_judged", "coating_in_readings"),
    "a single echo through an unknown film": (
        also(gauge={"mode": "single_echo", "through_coating": True}), "not_judged", "single_echo_through_coating"),
    "a film stated, the mode unknown": (also(gauge={"coating_um": 400}), "not_judged", "coating_in_readings"),
    "an unknown mode through an unknown film": (
        also(gauge={"through_coating": True}), "not_judged", "mode_unknown_through_coating"),
    "a limit from above on thickness": (also(rules=[rule(at_most=10.0)]), "not_judged", "rule_unusual"),
    "a limit from below on loss": (
        also(rules=[rule(quantity="loss_percent", at_least=0.0)]), "not_judged", "rule_unusual"),
    "a limit in inches": (also(rules=[rule(at_least=0.16)]), "not_judged", "rule_unusual"),
    "a limit reached since": (
        also(read("side", 4.4), as_of="2044-06-01"), "not_judged", "limit_passed_since_survey"),
    "a survey too old": (
        also(as_of="2026-01-01", max_survey_age_months=12), "not_judged", "survey_too_old"),
    "aluminium by the trade's limits": (
        also(hull={**SURVEY["hull"], "material": "aluminium"}), "not_judged", "material_not_steel"),
    "an original unknown to a rule on loss": (
        also(plating=[SURVEY["plating"][0], {"zone": "side", "original_mm": 6.0, "original_basis": "unknown"}],
             rule_sets=["loss-fraction"]),
        "not_judged", "rule_not_judged"),
    "cabin sides alone": (
        also(read("cabin-side", 4.5), drop=("bp", "bs", "sp", "ss"), plating=[]), "not_judged", "nothing_read_under_water"),
    "no rule at all": (also(rule_sets=[]), "not_judged", "no_rules"),
    "a benchmark alone, kept": (also(rule_sets=[BENCHMARK], hull=LONG), "not_judged", "rule_set_passes_nothing"),
    "a benchmark alone, without the frame spacing": (also(rule_sets=[BENCHMARK]), "not_judged", "hull_size_missing"),
    "a benchmark beside a limit that is broken": (
        also(THIN, rule_sets=["trade-practice", BENCHMARK], hull=LONG), "act", "act_limit_broken"),
    "a benchmark that is broken beside limits that are kept": (
        also(read("chine", 3.9), rule_sets=[BENCHMARK], rules=[rule(at_least=3.0)], hull=LONG),
        "watch", "watch_limit_broken"),
    "a benchmark that reads what own rules leave out": (
        also(rule_sets=[BENCHMARK], rules=[rule(zones=["side"])], hull=LONG), "not_judged", "readings_excluded"),
    "a benchmark that speaks of what own rules do not": (
        also(rule_sets=[BENCHMARK], rules=[rule(exposures=["waterline"])], hull=LONG),
        "not_judged", "wet_plate_outside_rules"),
}  # fmt: skip
CHECKS = {
    "a benchmark alone, kept": (
        {"rule_sets": [BENCHMARK], "hull": LONG}, "not_judged", "rule_set_passes_nothing"),
    "a benchmark alone, and no hull": ({"rule_sets": [BENCHMARK]}, "not_judged", "hull_size_missing"),
    "a benchmark beside a limit that is broken": (
        {"readings": [THIN], "rule_sets": [BENCHMARK, "trade-practice"], "hull": LONG}, "act", "act_limit_broken"),
    "a hole": ({"readings": [read("side", 5.8), read("side", 5.0, holed=True)]}, "act", "holed"),
    "a holed roof": ({"readings": [read("side", 5.8), read("roof", 3.0, holed=True)]}, "act", "holed"),
    "an overplate alone": (
        {"readings": [read("baseplate", 5.9, layer="overplate")]}, "not_judged", "shell_unread_under_overplate"),
    "80 for 8.0": ({"readings": [read("side", 80.0, original_mm=8.0)]}, "not_judged", "plate_over_mill_tolerance"),
    "wet plate left out by zone": (
        {"readings": [read("side", 5.8), THIN], "rule_sets": [], "rules": [rule(zones=["side"])]},
        "not_judged", "readings_excluded"),
    "a rule's zone misspelt": (
        {"readings": [THIN], "rule_sets": [], "rules": [rule(zones=["basplate"])]}, "act", "unknown_zone"),
    "a reading's zone unlike any": (
        {"readings": [read("bottom", 1.0)], "rule_sets": [], "rules": [rule(zones=["baseplate"])]}, "act", "unknown_zone"),
    "a limit from above on thickness": (
        {"readings": [read("side", 1.0)], "rule_sets": [], "rules": [rule(at_most=10.0)]}, "not_judged", "rule_unusual"),
    "nothing that a rule speaks of": ({"readings": [read("roof", 4.5)]}, "not_judged", "rule_not_judged"),
    "a pit rule and no pit measured": (
        {"readings": [read("side", 5.8)], "rule_sets": [], "rules": [rule(quantity="pit_depth_mm", at_most=2.0)]},
        "not_judged", "rule_not_judged"),
}  # fmt: skip


def answer(calculation, request):
    response = client.post(f"/v1/calculations/{calculation}", json=request)
    assert response.status_code == 200, response.text
    return response.json


def codes(told):
    return {finding["code"] for finding in told["findings"]}


def test_the_sound_ones_pass():
    """Beside the table stand a survey and a check that are passed, with nothing to act on."""
    for calculation, request in (("hull-survey", SURVEY), ("threshold-check", CHECK)):
        told = answer(calculation, request)
        assert told["result"]["verdict"] == "no_limit_broken", told["findings"]
        assert {finding["severity"] for finding in told["findings"]} <= {"note"}


def test_a_benchmark_that_is_kept_stands_in_the_way_of_no_pass():
    """Beside the trade's limits it leaves the sound ones passed, and the first sentences say the same."""
    sets, size = ["trade-practice", BENCHMARK], {**LONG, "frame_spacing_mm": 600.0}
    for calculation, request in (("hull-survey", SURVEY), ("threshold-check", CHECK)):
        alone, together = (answer(calculation, {**request, "hull": size, "rule_sets": chosen}) for chosen in (sets[:1], sets))
        assert together["result"]["verdict"] == "no_limit_broken", together["findings"]
        assert together["summary"][:3] == alone["summary"][:3]
        assert "hull_size_missing" not in codes(together)


def test_a_benchmark_that_was_asked_for_and_could_not_be_judged_passes_nothing():
    size = {name: value for name, value in LONG.items() if name != "frame_spacing_mm"}
    for calculation, request in (("hull-survey", SURVEY), ("threshold-check", CHECK)):
        told = answer(calculation, {**request, "hull": size, "rule_sets": ["trade-practice", BENCHMARK]})
        assert told["result"]["verdict"] == "not_judged"
        assert "hull_size_missing" in codes(told)


@pytest.mark.parametrize("case", SURVEYS)
def test_a_benchmark_clears_no_survey(case):
    """Added to whatever is not passed, it makes no verdict better."""
    request, verdict, _ = SURVEYS[case]
    sets = request.get("rule_sets", [] if request.get("rules") else ["trade-practice"])
    hull = {"frame_spacing_mm": 450.0, **request["hull"]}
    told = answer("hull-survey", {**request, "hull": hull, "rule_sets": [*sets, BENCHMARK]})
    order = ["no_limit_broken", "not_judged", "watch", "act"]
    assert order.index(told["result"]["verdict"]) >= order.index(verdict)


@pytest.mark.parametrize("case", SURVEYS)
def test_survey_is_not_passed(case):
    """The verdict withholds the pass, a finding says why, and the summary does not deny it."""
    request, verdict, code = SURVEYS[case]
    told = answer("hull-survey", request)
    assert told["result"]["verdict"] == verdict
    assert code in codes(told)
    assert "No limit is broken" not in told["summary"][0]


@pytest.mark.parametrize("case", CHECKS)
def test_check_is_not_passed(case):
    """The same of a check of readings."""
    request, verdict, code = CHECKS[case]
    told = answer("threshold-check", {**CHECK, **request})
    assert told["result"]["verdict"] == verdict
    assert code in codes(told)
    assert "No limit is broken" not in told["summary"][0]


@pytest.mark.parametrize(
    "case",
    [
        "a single echo through an unknown film",
        "an unknown mode through an unknown film",
        "a film stated with a single echo",
        "a film stated, the mode unknown",
    ],
)
def test_a_film_that_may_count_as_steel_passes_no_part(case):
    """Readings that count the coating as steel pass neither a zone, a reading nor a rule, and tell no life."""
    result = answer("hull-survey", SURVEYS[case][0])["result"]
    told = [part["verdict"] for name in ("zones", "readings", "rules") for part in result[name]]
    assert set(told) == {"not_judged"}
    assert {"no_limit_broken"} == {
        part["verdict"] for name in ("zones", "readings", "rules") for part in answer("hull-survey", SURVEY)["result"][name]
    }
    assert result["first_to_limit"] is None
    assert result["next_survey_within_years"] is None


def test_a_hole_decides():
    """It governs, its zone and reading say act, the summary begins with it, and the boat is not refloated."""
    told = answer("hull-survey", SURVEYS["a hole under rules that it does not break"][0])
    result = told["result"]
    assert (result["governing_zone"], result["governing_reading"]) == ("baseplate", "4")
    assert result["readings"][4]["verdict"] == "act"
    assert next(zone for zone in result["zones"] if zone["zone"] == "baseplate")["verdict"] == "act"
    assert "holed" in told["summary"][0]
    assert "Do not refloat or move it until a surveyor has seen it." in [advice["statement"] for advice in result["advice"]]
