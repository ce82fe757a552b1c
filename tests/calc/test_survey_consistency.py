"""A survey's consistency: what is asked, what is not, and what cannot be."""

import time
from datetime import date
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats
from scipy.integrate import quad

from platemargin import survey_consistency as room
from platemargin.consistency_checks import CONSISTENCY_CHECKS, CONSISTENCY_FINDINGS
from platemargin.declared import filled
from platemargin.faults_told import MOST_TOLD
from platemargin.hull_survey import FAULTS as SURVEY_FAULTS
from platemargin.reading_checks import FEW_READINGS
from platemargin.survey_consistency import Outcome, Standing

HULL = {"length_m": 17.5, "beam_m": 2.1, "draught_m": 0.6, "material": "steel"}
EVERY = {**room.survey_consistency.__kwdefaults__, "built_on": "2008", "plating_notation": "10/6/5"}


def read(zone, values, start=0, **more):
    """Return readings of a zone, by turns of port and starboard, a station a pair."""
    return [
        {
            "id": f"{zone}-{start + index}",
            "zone": zone,
            "side": ("port", "starboard")[index % 2],
            "station_m": float(index // 2 % 17),
            "plate_mm": float(value),
            **more,
        }
        for index, value in enumerate(values)
    ]


def honest(zone, count, around, seed, scatter=0.35):
    return read(zone, np.random.default_rng(seed).normal(around, scatter, count).round(1))


CLEAN = [*honest("baseplate", 40, 9.3, 1), *honest("side", 40, 5.5, 2)]


def ask(readings=CLEAN, **changes):
    """Return the answer, each finding by code as (path, sentence), and each check's outcome by code."""
    given = {"hull": HULL, "surveyed_on": date(2024, 12, 31), "readings": list(readings), **EVERY, **changes}
    result = room.survey_consistency(**given)
    found = {}
    for finding in room.FINDINGS:
        for place in finding.applies(given, result):
            told = filled(finding.statement, {name: place.values[name] for name in finding.values})
            found.setdefault(finding.code, []).append((place.path, told))
    return SimpleNamespace(result=result, found=found, checks={check.code: check for check in result.checks})


def asked(readings=CLEAN, **changes):
    answer = ask(readings, **changes)
    return {code for code in answer.found if answer.checks[code].outcome == Outcome.QUERIED}


# -- the whole --


def test_a_clean_survey_of_enough_readings_has_no_finding():
    answer = ask()
    assert (answer.result.standing, answer.result.consistent, answer.found) == (Standing.NO_QUERY, True, {})


def test_few_readings_are_noted_and_are_no_query():
    """A survey of a narrow boat is a few dozen readings: honest and thin, told apart."""
    answer = ask([*CLEAN[:40], *honest("side", FEW_READINGS - 1, 5.5, 3)])
    assert set(answer.found) == {"few_readings"}
    assert (answer.result.standing, answer.result.consistent) == (Standing.NO_QUERY, True)
    assert answer.checks["few_readings"].outcome == Outcome.NOT_JUDGED
    assert "few_readings" not in ask([*CLEAN[:40], *honest("side", FEW_READINGS, 5.5, 3)]).found


@pytest.mark.parametrize(
    ("readings", "changes"),
    [
        (CLEAN[:12], {}),
        (CLEAN, {"plating_notation": None}),
        (CLEAN, {"hull": {**HULL, "material": "aluminium"}}),
        (read("side", [5.5123, 5.6391, 5.4477, 5.8119] * 10), {}),
        (read("side", [6.0] * 60), {}),
        (read("side", [5.5] * 60), {}),
        (read("side", [5.0, 6.0, 6.0] * 20), {}),
    ],
    ids=["few", "no plating", "not of steel", "at no resolution", "one whole millimetre", "one half", "whole millimetres"],
)
def test_what_cannot_be_judged_is_not_passed(readings, changes):
    """Readings that were held against nothing, or not among themselves, get no good word."""
    answer = ask(readings, **changes)
    assert (answer.result.standing, answer.result.consistent) == (Standing.CANNOT_JUDGE, True)


def test_every_check_is_told_in_a_fixed_order_and_a_reason_with_what_was_not_judged():
    codes = [check.code for check in ask().result.checks]
    assert codes == [check.code for check in ask(CLEAN[:1], built_on="2031").result.checks]
    assert set(codes) == {finding.code for finding in room.FINDINGS} - {"faults_not_listed"}
    for check in ask(CLEAN[:3], plating_notation=None).result.checks:
        assert (check.reason is not None) == (check.outcome == Outcome.NOT_JUDGED)


def test_nothing_is_refused_and_each_fault_of_a_survey_is_a_finding():
    assert room.FAULTS == ()
    assert {fault.code for fault in SURVEY_FAULTS} <= {finding.code for finding in room.FINDINGS}
    assert {finding.code for finding in room.FINDINGS} >= {finding.code for finding in CONSISTENCY_FINDINGS}
    assert len(CONSISTENCY_CHECKS) == len(CONSISTENCY_FINDINGS)


def test_at_most_so_many_places_are_told_and_the_rest_is_counted():
    answer = ask([{**reading, "id": "same"} for reading in CLEAN])
    assert len(answer.found["id_not_unique"]) == MOST_TOLD
    assert answer.found["faults_not_listed"][0][1].startswith(f"{79 - MOST_TOLD} more places")
    assert answer.found["id_not_unique"][0] == (
        ("readings", 1, "id"),
        "Two readings are called same; give each its own id (a reading without one is called by its index).",
    )


# -- single readings --


@pytest.mark.parametrize(
    ("plate_mm", "original", "code"),
    [
        (98.0, 10.0, "decimal_point_lost"),
        (59.0, 6.0, "decimal_point_lost"),
        (72.0, 6.0, "decimal_point_lost"),  # 7.2 is 1.2 times 6
        (73.0, 6.0, "plate_over_mill_tolerance"),
        (0.58, 6.0, "decimal_point_lost"),
        (0.6, 6.0, None),  # a gauge of tenths reads so thin a plate
        (12.0, 6.0, "plate_over_mill_tolerance"),  # twice is not over twice
        (7.1, 6.0, None),  # 6 + 0.8 by EN 10029 class A, and 0.3 that the gauge explains
        (7.2, 6.0, "plate_over_mill_tolerance"),
        (11.2, 10.0, None),
        (11.3, 10.0, "plate_over_mill_tolerance"),
    ],
)
def test_a_reading_beside_its_original(plate_mm, original, code):
    strange = {"id": "x", "zone": "swim", "side": "port", "station_m": 1.0, "plate_mm": plate_mm, "original_mm": original}
    answer = ask([*CLEAN, strange])
    assert asked([*CLEAN, strange]) == ({code} if code else set())
    if code:
        assert answer.found[code][0][0] == ("readings", len(CLEAN))


def test_a_decimal_point_is_looked_for_without_an_original_too():
    """Beside what is usual in its zone, where five readings or more say what that is."""
    slip = read("side", [55.0], 90)
    assert "decimal_point_lost" in asked([*CLEAN, *slip], plating_notation=None)
    assert "decimal_point_lost" not in asked([*read("side", [5.4, 5.5, 5.6]), *slip], plating_notation=None)


@pytest.mark.parametrize("notation", ["10/6/5", None])
def test_inches(notation):
    """A quarter of an inch is 6.35 mm; no hull is plated so thin as 0.8 mm."""
    told = asked(read("side", [0.21, 0.22, 0.2, 0.23]), plating_notation=notation)
    assert told == {"looks_like_inches"}
    assert told == asked(read("side", [0.21, 0.22, 0.2, 0.23]), plating=[{"zone": "side", "original_mm": 0.5}])
    assert "looks_like_inches" not in asked(read("side", [2.1, 2.2, 2.0, 2.3]), plating_notation=notation)


# -- the plating --


def test_zone_unplated():
    plating = [{"zone": "side", "original_mm": 6.0}]
    assert asked(plating_notation=None, plating=plating) == {"zone_unplated"}
    assert asked(plating_notation=None, plating=[*plating, {"zone": "baseplate"}]) == set()  # plated, with what nobody knows
    assert asked([*CLEAN, *read("rudder", [8.0])]) == set()  # the notation never speaks of a rudder
    assert asked([*CLEAN, *read("cabin-side", [4.9])], plating_notation="10/6") == {"zone_unplated"}


@pytest.mark.parametrize(
    ("notation", "contradicted"),
    [("10/6/5", set()), ("6/10/5", {"baseplate"}), ("8/6", {"baseplate"}), ("10/5", set()), ("10/4", {"side"})],
)
def test_notation(notation, contradicted):
    """Sides whose median is 5.5 mm were not plated with 4 mm: 0.7 mm is what a mill delivers over it, 0.3 the gauge."""
    answer = ask(plating_notation=notation)
    told = {sentence.split()[4] for _, sentence in answer.found.get("notation_contradicted", [])}
    assert told == contradicted


def test_evenly_another_figure():
    """A bottom of 10 mm that reads 5.8 to 6.2 everywhere was perhaps plated with the notation's 6."""
    assert "notation_contradicted" in asked(read("baseplate", [5.9, 6.0, 6.1, 5.8, 6.2]))
    assert "notation_contradicted" not in asked(read("baseplate", [5.9, 6.0, 6.1, 5.8, 8.2]))
    stated = [{"zone": "baseplate", "original_mm": 6.0}]
    assert "notation_contradicted" not in asked(read("baseplate", [5.9, 6.0, 6.1, 5.8, 6.2]), plating=stated)


# -- days and ages --


@pytest.mark.parametrize(
    ("built_on", "plate_mm", "fast"),
    [
        ("2022-12-31", 3.1, False),  # 6 - 0.4 (class A) - 0.5 (two gauges) - 3.1 = 2.0 mm in two years
        ("2022-12-31", 3.0, True),
        ("2022", 2.1, False),  # the year's first day gives a year more
        ("2022", 2.0, True),
        (None, 2.0, False),
    ],
)
def test_rate_over_a_millimetre_a_year(built_on, plate_mm, fast):
    thin = read("swim", [plate_mm], original_mm=6.0)
    assert ("rate_very_high" in asked([*CLEAN[40:], *thin], built_on=built_on)) is fast


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"built_on": "2025"}, "day_not_possible"),
        ({"built_on": "2009-02-30"}, "day_not_possible"),
        ({"as_of": date(2024, 12, 30)}, "as_of_before_survey"),
        ({"max_survey_age_months": 12}, "as_of_needed"),
        ({"max_survey_age_months": 12, "as_of": date(2026, 1, 1)}, "survey_too_old"),
        ({"plating": [{"zone": "side", "original_mm": 6.0, "fitted_on": "1999"}]}, "fitted_before_built"),
        ({"plating": [{"zone": "side", "original_mm": 6.0, "fitted_on": "2031"}]}, "day_not_possible"),
        ({"unexamined": [{"zone": "side", "from_m": 5.0, "to_m": 2.0, "reason": "tank"}]}, "range_backwards"),
    ],
)
def test_days_and_parts(changes, code):
    assert asked(**changes) == {code}


# -- what was read --


def test_side_unread():
    port = [reading for reading in CLEAN if reading["side"] == "port"]
    assert asked(port) == {"side_unread"}
    assert "side_unread" not in asked([{**reading, "exposure": "internal"} for reading in port])


def test_a_misspelt_zone():
    assert "unknown_zone" in asked([*CLEAN, *read("basplate", [9.0])])


def test_a_bottom_that_is_stated_to_be_dry():
    assert asked([*CLEAN, *read("baseplate", [9.0], 90, exposure="topside")]) == {"exposure_contradicts_zone"}


def test_area():
    plating = [{"zone": "side", "area_m2": area, "side": side} for side, area in (("port", 40.0), ("starboard", 40.0))]
    assert "few_readings_for_area" not in ask(plating=plating).found  # 2 m2 to each of 40 readings
    plating[0]["area_m2"] = 40.5
    assert "few_readings_for_area" in ask(plating=plating).found


# -- the values among themselves --


def test_repeats():
    typed = read("side", np.random.default_rng(6).choice([5.2, 5.5, 5.6, 5.9], 60))
    answer = ask([*CLEAN[:40], *typed])
    ((path, sentence),) = answer.found["values_repeat"]
    values = [reading["plate_mm"] for reading in typed]
    pairs = sum(values[i] == values[j] for i in range(60) for j in range(i))
    assert path == ("readings", 40)
    assert f"{pairs} equal pairs among 60 readings" in sentence


def test_two_neighbouring_values_alone_repeat_too_often():
    """Too narrow for a shape: 170 of 200 within 0.1 mm, where a gauge repeats so with 0.683 on one spot (0.05 mm, normal)."""
    values = np.repeat([9.4, 9.5], [170, 30])
    answer = ask([*read("baseplate", np.random.default_rng(2).permutation(values)), *CLEAN[40:]])
    ((_, sentence),) = answer.found["values_repeat"]
    same = 2 * stats.norm.cdf(1) - 1
    assert stats.binom.sf(169, 200, same) < 1e-6
    expected = 200 * 199 / 2 * (same**2 + (1 - same) ** 2 / 2)
    assert f"{170 * 169 // 2 + 30 * 29 // 2} equal pairs among 200 readings" in sentence
    assert f"about {expected:.1f} are usual" in sentence


def test_small_zones_are_judged_together():
    """Ten readings of a zone say nothing; the same four values in six zones do."""
    chance = np.random.default_rng(7)
    zones = ("baseplate", "side", "chine", "swim", "counter", "transom")
    typed = [reading for zone in zones for reading in read(zone, chance.choice([5.0, 5.4, 5.8, 6.2], 10))]
    ((path, sentence),) = ask(typed, plating_notation=None).found["values_repeat"]
    assert (path, sentence[:19]) == ((), "In the whole survey")


def test_readings_that_all_say_the_same():
    """Plate that scatters by 0.15 mm reads one value of 0.2 mm with 0.495 at most (scipy.stats.norm).

    One reading says where the others should be: of 15 the other 14 agree with 0.495^14 = 5.3e-5, less than the half of 0.0002
    that one plate and the survey as a whole each get; of 14 the other 13 do not.
    """
    share = float(stats.norm.cdf(0.1 / 0.15) - stats.norm.cdf(-0.1 / 0.15))
    assert share**14 < 0.001 / 5 / 2 < share**13
    assert asked(read("baseplate", [9.4] * 15)) == {"no_spread"}
    assert ask(read("baseplate", [9.4] * 14)).checks["no_spread"].outcome == Outcome.NOT_JUDGED
    answer = ask(read("baseplate", [9.4] * 40))
    assert answer.found["no_spread"][0][0] == ("readings", 0)
    assert "In baseplate 40 of 40 readings" in answer.found["no_spread"][0][1]


@pytest.mark.parametrize("value", [9.43, 9.4, 9.3])
@pytest.mark.parametrize("notation", ["10/6/5", None])
def test_so_many_of_one_value_are_asked_about_whatever_is_known_of_the_plate(value, notation):
    assert asked(read("baseplate", [value] * 40), plating_notation=notation) == {"no_spread"}


@pytest.mark.parametrize("value", [9.5, 9.0, 10.0])
def test_a_hull_read_coarsely_says_the_same_honestly(value):
    """Halves and whole millimetres hide what plate scatters, unless the rest of the survey is read in tenths."""
    assert ask(read("baseplate", [value] * 60)).result.standing == Standing.CANNOT_JUDGE
    assert "no_spread" in asked([*CLEAN[40:], *read("baseplate", [value] * 20)])


def test_nearly_one_value():
    """One other among many changes nothing; a third others is a narrow plate, and honest."""
    assert "no_spread" in asked([*CLEAN[:40], *read("side", [6.0] * 29 + [6.1])])
    assert asked([*CLEAN[:40], *read("side", [6.0] * 22 + [6.1] * 7)]) == set()


def test_one_value_in_each_of_small_zones():
    """Six readings of a zone say nothing; six zones of one value each do: 0.495^30 of the readings beyond each zone's first."""
    zones = ("baseplate", "side", "chine", "swim", "counter", "transom")
    typed = [row for number, zone in enumerate(zones) for row in read(zone, [5.1 + 0.2 * number] * 6)]
    ((path, sentence),) = ask(typed, plating_notation=None).found["no_spread"]
    assert (path, sentence[:37]) == ((), "In the whole survey 36 of 36 readings")
    assert "no_spread" not in asked([{**row, "zone": f"zone {index}"} for index, row in enumerate(typed)])


# -- plate that no hull has --


@pytest.mark.parametrize(
    ("plate_mm", "code"),
    [
        (91.0, "plate_implausible"),
        (42.1, "plate_implausible"),
        (42.0, "plate_unusually_thick"),
        (20.1, "plate_unusually_thick"),
    ],
)
@pytest.mark.parametrize("known", [{"plating_notation": None}, {"plating_notation": None, "plating": [{"zone": "baseplate"}]}])
def test_plate_that_no_hull_has_is_asked_about_where_its_original_is_unknown(plate_mm, code, known):
    """91 for 9.1 everywhere is what is usual in its zone: it is held against what hulls are plated with."""
    assert asked(read("baseplate", [plate_mm] * 8), **known) == {code}


def test_thick_plate_of_a_known_original_is_asked_about_once():
    assert asked([*CLEAN, *read("swim", [73.0], original_mm=6.0)]) == {"plate_over_mill_tolerance"}
    answer = ask([*CLEAN, *read("swim", [73.0], original_mm=6.0)], hull={**HULL, "material": "aluminium"})
    assert "plate_implausible" in answer.found
    assert answer.checks["plate_unusually_thick"].outcome == Outcome.NOT_JUDGED
    assert asked(read("baseplate", [30.0, 30.0], original_mm=30.0)) == set()


# -- beside the survey before --

THEN = date(2020, 12, 31)


def before(readings, **changes):
    return {"previous_survey": {"surveyed_on": THEN, "readings": [{**reading, **changes} for reading in readings]}}


def honest_before(readings=CLEAN, seed=20, lost=0.2):
    """Return the same places as they read before: less worn, by a gauge that repeats within 0.07 mm."""
    chance = np.random.default_rng(seed)
    return before({**row, "plate_mm": round(row["plate_mm"] + lost + chance.normal(0, 0.07), 1)} for row in readings)


BESIDE = {"repeats_previous", "previous_in_other_unit", "lost_too_fast_since_previous", "thicker_than_previous"}


def test_an_honest_survey_before_raises_no_query():
    answer = ask(**honest_before())
    assert (answer.result.standing, answer.result.matched_count, answer.found) == (Standing.NO_QUERY, 80, {})
    assert {answer.checks[code].outcome for code in BESIDE} == {Outcome.PASSED}


def test_without_a_survey_before_nothing_is_held_against_it():
    answer = ask()
    assert answer.result.matched_count is None
    assert {answer.checks[code].reason for code in BESIDE} == {"no previous survey was sent"}


@pytest.mark.parametrize(
    "changes",
    [
        {"surveyed_on": THEN},
        {"readings": [*CLEAN, {**CLEAN[0], "plate_mm": 3.0}]},
        {"previous_survey": {"surveyed_on": THEN, "readings": [*CLEAN, CLEAN[0]]}},
    ],
    ids=["of one day", "an id twice now", "an id twice then"],
)
def test_surveys_that_cannot_be_matched_are_not_judged(changes):
    """What is at fault is a query by itself."""
    answer = ask(**{**honest_before(), **changes})
    assert answer.result.standing == Standing.QUERIES
    assert {answer.checks[code].outcome for code in BESIDE} == {Outcome.NOT_JUDGED}
    assert answer.result.matched_count is None


def test_surveys_of_no_common_place_are_not_judged():
    answer = ask(**before(read("rudder", [8.0])))
    assert (answer.result.matched_count, answer.result.standing) == (0, Standing.CANNOT_JUDGE)
    assert {answer.checks[code].outcome for code in BESIDE} == {Outcome.NOT_JUDGED}


def test_plate_fitted_since_is_not_held_against_what_was_there():
    answer = ask(plating=[{"zone": "side", "original_mm": 6.0, "fitted_on": "2022"}], **before(CLEAN))
    assert answer.result.matched_count == 40


def test_a_survey_that_repeats_the_one_before():
    """A gauge that repeats within 0.05 mm reads a place in the middle of its tenth the same twice with 0.683^2 + 2 x 0.157^2.

    That is 0.517 (scipy.stats.norm), and 0.486 for places anywhere in their tenth (by integration): 13 that all agree are rarer
    than the 1 in 8,000 that the whole gets, 12 are not, and one in twenty that does not agree changes nothing.
    """
    anywhere = quad(lambda apart: 2 * (1 - apart / 0.1) * stats.norm.pdf(apart, scale=0.05 * np.sqrt(2)), 0, 0.1)[0]
    assert anywhere**13 < 0.001 / 8 < anywhere**12
    middle = sum(np.diff(stats.norm.cdf([-3, -1, 1, 3])) ** 2)
    assert middle == pytest.approx(0.517, abs=0.002)
    ((path, sentence),) = ask(**before(CLEAN)).found["repeats_previous"]
    assert path == ("previous_survey",)
    assert "In the whole survey 80 of 80 places" in sentence
    assert ask(CLEAN[:12], **before(CLEAN[:12])).checks["repeats_previous"].outcome == Outcome.NOT_JUDGED
    assert "repeats_previous" in asked(CLEAN[:13], **before(CLEAN[:13]))
    changed = [{**row, "plate_mm": row["plate_mm"] - 0.1 * (index % 20 == 0)} for index, row in enumerate(CLEAN)]
    assert asked(changed, **before(CLEAN)) == {"repeats_previous"}


def test_a_zone_that_repeats_the_survey_before():
    past = honest_before()["previous_survey"]["readings"]
    ((path, sentence),) = ask(**before([*past[:40], *CLEAN[40:]])).found["repeats_previous"]
    assert (path, sentence[:27]) == (("readings", 40), "In side 40 of 40 places rea")


def test_half_of_the_places_may_agree():
    """As many as honest readings of a tenth do, and more: not nearly all."""
    past = honest_before()["previous_survey"]["readings"]
    mixed = [own if index % 4 else other for index, (own, other) in enumerate(zip(CLEAN, past, strict=True))]
    assert not BESIDE & asked(**before(mixed))


@pytest.mark.parametrize("step", [0.5, 1.0])
def test_new_plate_that_was_read_coarsely_twice_is_no_repeat(step):
    coarse = [{**row, "plate_mm": round(round(row["plate_mm"] / step) * step, 1)} for row in CLEAN]
    assert not BESIDE & asked(coarse, **before(coarse))
    assert "too coarsely" in ask(coarse, **before(coarse)).checks["repeats_previous"].reason


@pytest.mark.parametrize(
    ("factor", "words"), [(10, "ten times"), (0.1, "a tenth of"), (25.4, "25.4 times"), (1 / 25.4, "a 25.4th of")]
)
def test_another_unit_than_the_survey_before(factor, words):
    thin = [{**row, "plate_mm": round(row["plate_mm"] * min(factor, 1) * 0.8, 4)} for row in CLEAN]
    past = [{**row, "plate_mm": round(row["plate_mm"] / max(factor, 1), 4)} for row in CLEAN]
    told = ask(thin, plating_notation=None, **before(past)).found
    assert [path for path, _ in told["previous_in_other_unit"]] == [("readings", 0), ("readings", 40)]
    assert f"reads about {words}" in told["previous_in_other_unit"][0][1]
    assert not {"thicker_than_previous", "lost_too_fast_since_previous"} & set(told)


@pytest.mark.parametrize(("plate_mm", "fast"), [(9.1, False), (5.1, False), (4.4, False), (4.3, True)])
def test_lost_faster_than_is_seen(plate_mm, fast):
    """Of 9.1 mm 4.0 may go in four years at 1 mm/year, and 0.75 mm two gauges explain that are read in tenths (scipy)."""
    explained = stats.norm.isf(0.001 / 4) * np.sqrt(2 * 0.15**2 + 2 * 0.1**2 / 12)
    assert explained == pytest.approx(0.75, abs=0.005)
    thin = [{**CLEAN[0], "plate_mm": plate_mm}]
    told = ask(thin, **before(thin, plate_mm=9.1)).found
    assert ("lost_too_fast_since_previous" in told) is fast
    if fast:
        path, sentence = told["lost_too_fast_since_previous"][0]
        assert path == ("readings", 0)
        assert "in the 4 years since the survey of 2020-12-31" in sentence
        assert "4.3 mm where 9.1 mm was read" in sentence


def test_stations_alone_do_not_say_which_of_two_places_was_read_again():
    """A thin place and a sound one 0.2 m apart: by ids the sound one lost 6 mm, by stations it may be the thin one."""
    then = [{**CLEAN[0], "id": name, "station_m": at, "plate_mm": mm} for name, at, mm in (("a", 3.0, 9.1), ("b", 3.2, 3.1))]
    now = [{**then[0], "plate_mm": 3.1}]
    assert "lost_too_fast_since_previous" in asked(now, **before(then))
    assert "lost_too_fast_since_previous" not in asked([{**now[0], "id": "other"}], **before(then))
    far = [then[0], {**then[1], "station_m": 3.3}]
    assert "lost_too_fast_since_previous" in asked([{**now[0], "id": "other"}], **before(far))


def test_plate_of_another_original_is_another_plate():
    """A station noted a little out is beyond a seam; the same values there are the same values still."""
    past = before(read("swim", [9.8] * 6, original_mm=10.0))
    assert not BESIDE & asked([*CLEAN, *read("swim", [4.9] * 6, original_mm=5.0)], **past)
    assert "lost_too_fast_since_previous" in asked([*CLEAN, *read("swim", [4.9] * 6, original_mm=10.0)], **past)
    assert "repeats_previous" in asked(**before(CLEAN, original_mm=8.0))


def test_a_pit_that_was_measured_once_is_no_loss_of_plate():
    pitted = [{**row, "pit_depth_mm": 4.0} for row in CLEAN]
    assert not BESIDE & asked(pitted, **honest_before())


def test_a_hole_since_is_for_the_surveyor_not_the_data():
    holed = [{**CLEAN[0], "plate_mm": 0.0}, *CLEAN[1:]]
    assert not BESIDE & asked(holed, **honest_before())


def test_thicker_than_before():
    """0.4 mm in the mean of 80 places: both gauges' setting, 0.06 mm each, explains some 0.3 mm at one in 8,000."""
    told = ask(**honest_before(lost=-0.4)).found["thicker_than_previous"]
    assert [path for path, _ in told] == [("readings", 0), ("readings", 40)]
    assert "In baseplate plate reads thicker than at the survey of 2020-12-31 at 40 of 40 places" in told[0][1]
    assert not BESIDE & asked(**honest_before(lost=-0.15))
    assert not BESIDE & asked(CLEAN[:3], **honest_before(CLEAN[:3], lost=-2.0))


def test_many_places_thicker_while_others_are_not():
    past = honest_before(lost=0.3)["previous_survey"]["readings"]
    mixed = [{**row, "plate_mm": round(row["plate_mm"] - (1.5 if index % 4 == 0 else 0), 1)} for index, row in enumerate(past)]
    ((path, sentence),) = ask(**before(mixed)).found["thicker_than_previous"]
    assert path == ("previous_survey",)
    assert "In the whole survey" in sentence
    one = [{**row, "plate_mm": round(row["plate_mm"] - (1.5 if index == 0 else 0), 1)} for index, row in enumerate(past)]
    assert not BESIDE & asked(**before(one))


@pytest.mark.parametrize("step", [0.2, 0.5, 1.0])
def test_rounding_by_habit_is_no_query(step):
    rounded = [{**reading, "plate_mm": round(round(reading["plate_mm"] / step) * step, 1)} for reading in CLEAN]
    assert asked(rounded) == set()


def test_plates_of_several_originals_in_a_zone_are_no_query():
    parts = [*honest("side", 30, 5.6, 8, 0.15), *honest("side", 30, 3.7, 9, 0.15), *honest("side", 30, 7.7, 10, 0.15)]
    readings = [{**reading, "id": str(index)} for index, reading in enumerate(parts)]
    assert not {"values_repeat", "last_digits_improbable"} & asked([*CLEAN[:40], *readings], plating_notation=None)


def test_last_digits():
    """Digits of 2 and 7 alone, over three millimetres."""
    typed = read("side", np.random.default_rng(11).choice([4.2, 4.7, 5.2, 5.7, 6.2, 6.7], 60) + 0.0)
    typed = [{**reading, "plate_mm": reading["plate_mm"] + 0.1 * (index % 11 == 0)} for index, reading in enumerate(typed)]
    ((path, sentence),) = ask(typed, plating_notation=None).found["last_digits_improbable"]
    ends = {digit: sum(round(10 * reading["plate_mm"]) % 10 == digit for reading in typed) for digit in (2, 7)}
    assert path == ()
    assert any(f"{digit} ends {count} of 60 readings" in sentence for digit, count in ends.items())


def side_by_side(count, equal, seed=12):
    """Return pairs of readings at one station each, so many of them equal on both sides."""
    port = np.random.default_rng(seed).normal(5.4, 0.4, count).round(1)
    starboard = port + 0.2 * (np.arange(count) >= equal)
    rows = read("side", np.ravel(np.column_stack([port, starboard])).round(1))
    return [{**row, "station_m": 0.5 + index // 2} for index, row in enumerate(rows)]


@pytest.mark.parametrize(("count", "equal", "alike"), [(9, 9, True), (16, 15, True), (5, 5, False), (16, 6, False)])
def test_sides_alike(count, equal, alike):
    told = ask([*CLEAN[:40], *side_by_side(count, equal)]).found
    assert ("sides_alike" in told) is alike
    if alike:
        assert f"at {equal} of {count} places" in told["sides_alike"][0][1]


def test_sides_alike_without_stations():
    rows = [{name: v for name, v in row.items() if name != "station_m"} for row in side_by_side(12, 12)]
    assert "sides_alike" in ask([*CLEAN[:40], *rows]).found


@pytest.mark.parametrize(("length", "alike"), [(18, True), (9, False)])
def test_runs_alike(length, alike):
    """Readings of the chine that are those of the sides, in order, from somewhere in the middle on."""
    copy = [{**row, "zone": "chine", "id": f"c{row['id']}", "side": "port"} for row in CLEAN[40:] if row["side"] == "port"]
    own = [{**row, "zone": "chine", "id": f"d{row['id']}", "side": "port"} for row in honest("chine", 6, 5.4, 13)]
    told = ask([*CLEAN, *own, *copy[:length]]).found
    assert ("runs_alike" in told) is alike
    if alike:
        assert told["runs_alike"][0][1].startswith(f"{length} readings in a row in chine are those of side")


def test_plain_plates_are_not_alike():
    """Two zones of one new plate read 6.0 and 6.1 throughout: nothing is copied."""
    values = [6.0, 6.1, 6.0, 6.0, 6.1, 6.0, 6.0, 6.1] * 3
    assert not {"runs_alike", "sides_alike"} & asked([*CLEAN[:40], *read("side", values), *read("chine", values)])


# -- anything in range --


def test_whatever_is_in_range_is_answered():
    """Eighty absurd surveys, each value drawn from the whole of its range."""
    chance = np.random.default_rng(14)
    days = ["1800", "2099-12-31", "2024-02-30", "2024-06", None]
    for _ in range(80):
        readings = [
            {
                "zone": str(chance.choice(["side", "baseplate", "mast", "rudder"])),
                "plate_mm": float(chance.choice([0.0, 1e-9, 0.3, 6.0, 98.0, 200.0, chance.uniform(0, 200)])),
                "side": str(chance.choice(["port", "starboard", "centreline"])),
                **({"pit_depth_mm": float(chance.uniform(0, 200))} if chance.random() < 0.5 else {}),
                **({"original_mm": float(chance.choice([0.5, 6, 40]))} if chance.random() < 0.3 else {}),
                **({"station_m": float(chance.choice([0, 1, 200]))} if chance.random() < 0.5 else {}),
                **({"fitted_on": "2030"} if chance.random() < 0.1 else {}),
                **({"id": str(chance.choice(["a", "b"]))} if chance.random() < 0.3 else {}),
                **({"holed": True} if chance.random() < 0.1 else {}),
                **({"layer": "overplate"} if chance.random() < 0.1 else {}),
            }
            for _ in range(int(chance.choice([1, 2, 9, 40, 120])))
        ]
        answer = ask(
            readings,
            built_on=chance.choice(days),
            as_of=chance.choice([None, date(1, 1, 1), date(9999, 12, 31)]),
            max_survey_age_months=chance.choice([None, 1, 240]),
            plating_notation=chance.choice([None, "0.5/40/0.5/40", "10/6"]),
            surveyed_on=chance.choice([date(1, 1, 1), date(2024, 6, 1), date(9999, 12, 31)]),
            gauge=chance.choice([None, {"plate_standard_uncertainty_mm": 0.01}, {"plate_standard_uncertainty_mm": 5.0}]),
            previous_survey=chance.choice([None, {"surveyed_on": date(2020, 1, 1), "readings": readings[::-1]}]),
        )
        assert answer.result.checks


def test_a_large_survey_does_not_take_long():
    """20,000 readings of 200 zones, and as many before; measured at 1.6 s of a processor, with room for a slow one."""
    values = np.random.default_rng(15).normal(6, 0.4, 20_000).round(2)
    readings = [{"zone": f"zone {index % 200}", "plate_mm": float(value)} for index, value in enumerate(values)]
    past = {"previous_survey": {"surveyed_on": THEN, "readings": [{**row, "id": str(i)} for i, row in enumerate(readings)]}}
    readings = [{**row, "id": str(index)} for index, row in enumerate(readings)]
    begun = time.process_time()
    room.survey_consistency(**{"hull": HULL, "surveyed_on": date(2024, 12, 31), "readings": readings, **EVERY, **past})
    assert time.process_time() - begun < 10
