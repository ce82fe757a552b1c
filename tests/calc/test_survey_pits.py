"""The deepest pit of a zone within a survey: only where plating says how the pits were sampled."""

import pytest

from platemargin.deepest_pit import deepest_pit
from platemargin.rules import Verdict

DEPTHS = [0.6, 0.9, 0.7, 1.2, 0.8, 1.0, 0.9, 1.1, 0.7, 1.4, 0.8, 1.0]


def readings(depths, zone="baseplate", plate_mm=9.6):
    """Return a reading for each patch of a zone."""
    return [
        {"id": f"{zone}{i}", "zone": zone, "side": ("port", "starboard")[i % 2], "plate_mm": plate_mm, "pit_depth_mm": depth}
        for i, depth in enumerate(depths)
    ]


def stated(**changes):
    """Return the plating of a baseplate whose pits were sampled."""
    entry = {
        "zone": "baseplate",
        "original_mm": 10.0,
        "area_m2": 30.0,
        "pit_sampling": "random_patches",
        "pit_patch_area_m2": 0.25,
    }
    return {name: value for name, value in {**entry, **changes}.items() if value is not None}


def deepest(answer):
    """Return the baseplate's deepest pit."""
    return next(zone for zone in answer.result.zones if zone.zone == "baseplate").deepest_pit


def test_is_what_deepest_pit_answers(survey):
    """The zone's figures are those of the calculation of that name, with the stated area and the thinnest plate sampled."""
    own = deepest_pit(pit_depths_mm=DEPTHS, sampling="random_patches", patch_area_m2=0.25, total_area_m2=30.0, plate_mm=9.6)
    found = deepest(survey(readings(DEPTHS), plating=[stated()]))
    assert (found.upper_mm, found.most_likely_mm, found.probability_holed) == (
        own.upper_mm,
        own.most_likely_mm,
        own.probability_holed,
    )


def test_never_from_pits_that_were_merely_noted(survey):
    """CONTRACT: only where plating states pit_sampling and pit_patch_area_m2."""
    assert deepest(survey(readings(DEPTHS), plating=[stated(pit_sampling=None, pit_patch_area_m2=None)])) is None
    assert deepest(survey(readings(DEPTHS))) is None


@pytest.mark.parametrize("name", ["pit_sampling", "pit_patch_area_m2", "area_m2"])
def test_a_half_stated_sample_is_told(survey, name):
    """What is missing is named: nothing is told of the pits."""
    answer = survey(readings(DEPTHS), plating=[stated(**{name: None})])
    assert deepest(answer) is None
    assert name in answer.found["pits_not_extrapolated"][0][1]


def test_pits_picked_by_eye_extrapolate_to_nothing(survey):
    """Their description is told, and that they say nothing of what nobody read."""
    answer = survey(readings(DEPTHS), plating=[stated(pit_sampling="selected_by_eye")])
    assert deepest(answer).upper_mm is None
    assert "pits_selected_not_sampled" in answer.found


def test_too_few_patches(survey):
    """Four patches are no sample."""
    answer = survey(readings(DEPTHS[:4]), plating=[stated()])
    assert deepest(answer) is None
    assert answer.found["pits_not_extrapolated"][0][0] == ("plating", 0)


def test_too_many_patches(survey):
    """More than deepest-pit takes are told, and refuse nothing."""
    answer = survey(readings([round(0.5 + index % 7 / 10, 1) for index in range(5001)]), plating=[stated(area_m2=4000.0)])
    assert deepest(answer) is None
    assert "5001 pits" in answer.found["pits_not_extrapolated"][0][1]


def test_what_deepest_pit_refuses_is_told_and_the_survey_goes_on(survey):
    """Patches of more area than the zone, or without spread, refuse nothing here."""
    for plating, depths in ((stated(area_m2=2.0), DEPTHS), (stated(), 12 * [0.8])):
        answer = survey(readings(depths), plating=[plating])
        assert deepest(answer) is None
        assert "pits_not_extrapolated" in answer.found


def test_entries_of_one_zone_are_one_sample(survey):
    """Two halves of a zone, sampled alike, are one sample of both areas."""
    halves = [stated(side=side, area_m2=15.0) for side in ("port", "starboard")]
    assert (
        deepest(survey(readings(DEPTHS), plating=halves)).upper_mm
        == deepest(survey(readings(DEPTHS), plating=[stated()])).upper_mm
    )


def test_entries_sampled_differently_are_none(survey):
    """Two halves sampled in different ways are no sample of the zone."""
    halves = [stated(side="port", area_m2=15.0), stated(side="starboard", area_m2=15.0, pit_patch_area_m2=1.0)]
    answer = survey(readings(DEPTHS), plating=halves)
    assert deepest(answer) is None
    assert "differ" in answer.found["pits_not_extrapolated"][0][1]


def test_other_layers_pits_are_of_another_plate(survey):
    """Pits of an overplate are none of the shell's sample."""
    over = [{**reading, "layer": "overplate", "pit_depth_mm": 3.0, "id": f"o{i}"} for i, reading in enumerate(readings(DEPTHS))]
    alone, both = (survey(sent, plating=[stated()]) for sent in (readings(DEPTHS), [*readings(DEPTHS), *over]))
    assert deepest(both).upper_mm == deepest(alone).upper_mm


def test_a_pit_that_may_hole_the_plate_withholds_a_pass(survey, whole):
    """Where the deepest pit nobody read may go through, nothing is passed; where it will hardly, the survey passes."""
    sampled = readings([depth / 4 for depth in DEPTHS], plate_mm=5.8)
    # Plate scatters; where every reading says the same, that is asked about first.
    sampled = [{**told, "plate_mm": round(5.6 + 0.1 * (place % 5), 1)} for place, told in enumerate(sampled)]
    mild = survey([*whole, *sampled], plating=[stated()])
    assert mild.result.verdict == Verdict.NO_LIMIT_BROKEN
    assert "unread_pit" in mild.found
    rough = survey([*whole, *readings([0.1, 0.2, 0.1, 1.4, 1.0, 0.3], plate_mm=5.8)], plating=[stated(area_m2=4800.0)])
    assert "unread_pit_may_hole" in rough.found
    assert rough.result.verdict == Verdict.NOT_JUDGED
    assert "measure_more_pits" in [advice.code for advice in rough.result.advice]


def test_every_patch_read_leaves_no_pit_unread(survey, whole):
    """All patches of a zone read: each pit is judged as it was read, and none is told of that nobody read."""
    depths = [0.1, 0.2, 0.1, 1.4, 1.0, 0.3]
    answer = survey([*whole, *readings(depths, plate_mm=5.8)], plating=[stated(area_m2=2.0)])
    assert "every_patch_read" in answer.found
    assert not {"unread_pit", "unread_pit_may_hole", "unread_pit_may_break_limit"} & set(answer.found)
    assert deepest(answer).probability_holed == 0
    assert answer.result.verdict == Verdict.NO_LIMIT_BROKEN
    twice = survey([*whole, *readings(depths, plate_mm=5.8)], plating=[stated(area_m2=4.0)])
    assert "unread_pit_may_break_limit" in twice.found
    assert "of which 50 % was read" in twice.found["unread_pit_may_break_limit"][0][1]
    assert twice.result.verdict == Verdict.NOT_JUDGED


def test_a_pit_that_may_break_a_limit_is_told(survey, whole):
    """Short of a hole, the plate under it may be less than the trade's 4 mm: told, and nothing is passed."""
    answer = survey([*whole, *readings(DEPTHS, plate_mm=5.8)], plating=[stated()])
    assert 0 < 5.8 - deepest(answer).upper_mm < 4.0
    assert "unread_pit_may_break_limit" in answer.found
    assert answer.result.verdict == Verdict.NOT_JUDGED
