"""What a survey tells of attack, anodes and waters, where its parts speak of one another."""

import pytest

from platemargin.survey_protection import PROTECTION_ASSUMED

SOUND = {"id": "a", "zone": "baseplate", "side": "port", "plate_mm": 8.0, "pit_depth_mm": 0.5}
ANODE = {
    "id": "one",
    "station_m": 4.0,
    "side": "port",
    "material": "magnesium",
    "original_mass_kg": 4.0,
    "remaining_percent": 60.0,
    "years_fitted": 2.0,
    "length_m": 0.29,
}


def paths(answer, code):
    return [path for path, _ in answer.found.get(code, ())]


@pytest.mark.parametrize(("anodes", "where"), [([], [("anodes",)]), ([ANODE], []), (None, [])])
def test_anodes_that_were_sent_say_whether_any_are_fitted(survey, anodes, where):
    """The observations leave it open, and what was sent of anodes does not."""
    answer = survey([SOUND], observations={"setting": {"shore_power": False}}, anodes=anodes)
    assert paths(answer, "no_anodes") == where
    said = [each.field for each in PROTECTION_ASSUMED if each.when(answer.arguments, answer.result)]
    assert ("observations.setting.anodes_fitted" in said) == (anodes is not None)


def test_the_observations_say_it_where_no_anodes_were_sent(survey):
    answer = survey([SOUND], observations={"setting": {"anodes_fitted": False}})
    assert paths(answer, "no_anodes") == [("observations", "setting", "anodes_fitted")]


@pytest.mark.parametrize(("observed", "contradicts"), [("sea", True), ("fresh", False), (None, False)])
def test_waters_that_contradict_each_other_are_told(survey, hull, observed, contradicts):
    setting = {"shore_power": False} if observed is None else {"water": observed}
    answer = survey([SOUND], hull={**hull, "water": "fresh"}, observations={"setting": setting})
    assert (("observations", "setting", "water") in paths(answer, "waters_contradict")) == contradicts


def test_what_is_assumed_of_attack_within_a_survey_is_what_it_is_alone(survey):
    """A pit whose profile nobody gave: its depth and width say, and the place leads into the observations."""
    answer = survey([SOUND], observations={"pits": [{"depth_mm": 3.0, "width_mm": 2.0}]})
    (profile,) = [each for each in PROTECTION_ASSUMED if "profile" in each.field]
    assert profile.field == "observations.pits[].profile"
    assert profile.when(answer.arguments, answer.result)
    value, basis = (of(answer.arguments, answer.result) if callable(of) else of for of in (profile.value, profile.basis))
    assert value == {"0": "narrow_deep"}
    assert basis.startswith("depth over width")
    plain = survey([SOUND])
    assert not profile.when(plain.arguments, plain.result)
