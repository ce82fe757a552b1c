"""A survey with the one before it: which rate governs where, what was thin then, and what cannot be compared."""

from datetime import date

import pytest

from platemargin.corrosion_rate import Governing
from platemargin.errors import NotApplicableError
from platemargin.plate_margin import plate_margin
from platemargin.rules import Verdict

BEFORE = date(2020, 12, 31)
#: Four years of 365.25 days, between two 31 December with one leap day in them, and rounded as declared.
YEARS = 4.0


def past(*readings, **changes):
    """Return a previous survey."""
    return {"surveyed_on": BEFORE, "readings": list(readings), **changes}


def zone_of(answer, name):
    """Return a zone's result."""
    return {zone.zone: zone for zone in answer.result.zones}[name]


B1 = {"id": "b1", "zone": "baseplate", "side": "port", "station_m": 4.0, "plate_mm": 8.8}


def test_the_larger_rate_governs(survey):
    """API 570: 10.0 in sixteen years to 8.8 is 0.075 mm/year; 9.8 four years ago is 0.25 mm/year: the short-term governs."""
    answer = survey([B1], previous_survey=past({**B1, "plate_mm": 9.8}))
    zone = zone_of(answer, "baseplate")
    assert (zone.rate_governing, zone.short_term_significant) == (Governing.SHORT_TERM, True)
    assert zone.rate_mm_per_year == pytest.approx(0.25)
    assert "faster_than_over_its_life" in answer.found


def test_the_life_is_that_of_plate_margin(survey):
    """One reading's life is what plate-margin says of it, previous reading and all."""
    answer = survey([{**B1, "pit_depth_mm": 1.0}], previous_survey=past({**B1, "plate_mm": 9.4, "pit_depth_mm": 0.2}))
    own = plate_margin(
        original_mm=10.0,
        plate_mm=8.8,
        pit_depth_mm=1.0,
        years_in_service=16.0,
        previous_mm=9.2,
        years_since_previous=YEARS,
        threshold_mm=4.0,
    )
    first = answer.result.first_to_limit
    assert (first.years, first.years_low) == (pytest.approx(own.years.item()), pytest.approx(own.years_low.item()))
    assert first.governing == Governing.SHORT_TERM


def test_a_plain_reading_is_less_uncertain(survey):
    """Where no pit was measured at the previous survey either, its uncertainty is the plate gauge's alone: 0.15 mm twice."""
    answer = survey([B1], previous_survey=past({**B1, "plate_mm": 9.25}))
    assert zone_of(answer, "baseplate").short_term_significant is True  # 0.45 mm > 1.96 x 0.212 mm = 0.416 mm
    with_pit = survey([B1], previous_survey=past({**B1, "plate_mm": 9.35, "pit_depth_mm": 0.1}))
    assert zone_of(with_pit, "baseplate").short_term_significant is False  # 0.45 mm < 1.96 x 0.292 mm = 0.571 mm


def test_a_weak_rate_is_said_to_be_weak(survey):
    """Within the uncertainty of two readings the larger rate still governs, and the answer says that it may be chance."""
    answer = survey([B1], previous_survey=past({**B1, "plate_mm": 9.2}))
    assert zone_of(answer, "baseplate").rate_governing == Governing.SHORT_TERM
    assert "short_term_not_significant" in answer.found
    assert "faster_than_over_its_life" not in answer.found


def test_the_slower_short_term_changes_nothing(survey):
    """Where the long-term rate is the larger, every figure is as without the previous survey."""
    alone, compared = survey([B1]), survey([B1], previous_survey=past({**B1, "plate_mm": 8.9}))
    assert zone_of(compared, "baseplate").thresholds == zone_of(alone, "baseplate").thresholds
    assert zone_of(compared, "baseplate").rate_governing == Governing.LONG_TERM


def test_other_readings_keep_their_long_term_rate(survey):
    """A place that the previous survey did not read is followed over its life."""
    other = {"id": "s1", "zone": "side", "side": "port", "station_m": 6.0, "plate_mm": 5.4}
    answer = survey([B1, other], previous_survey=past({**B1, "plate_mm": 9.8}))
    assert zone_of(answer, "side").short_term_mm_per_year is None
    assert answer.result.readings.previous_reading.tolist() == ["b1", ""]
    assert (answer.result.previous_survey.readings, answer.result.previous_survey.matched) == (1, 1)


def test_plate_fitted_since_is_another_plate(survey):
    """An insert of last year is not compared with what was there before it."""
    insert = {**B1, "layer": "insert", "fitted_on": "2023", "plate_mm": 8.0}
    answer = survey([insert], previous_survey=past({**B1, "layer": "insert", "plate_mm": 9.8}))
    assert zone_of(answer, "baseplate").short_term_mm_per_year is None


def test_plate_fitted_since_by_its_plating_is_another_plate(survey):
    """So where the plating says when it was fitted: its own years are fewer than those since the previous survey."""
    plating = [{"zone": "baseplate", "original_mm": 8.0, "fitted_on": "2022"}]
    answer = survey([B1 | {"plate_mm": 7.8}], plating=plating, previous_survey=past({**B1, "plate_mm": 9.8}))
    assert zone_of(answer, "baseplate").short_term_mm_per_year is None
    assert answer.result.previous_survey.matched == 0


def test_thin_before_and_not_read_now(survey, whole):
    """Steel does not grow: a place that broke a limit and was not read again keeps the hull from passing."""
    thin = {"id": "x9", "zone": "baseplate", "side": "port", "station_m": 12.0, "plate_mm": 3.8}
    answer = survey(whole, previous_survey=past(*whole, thin))
    assert answer.found["limit_broken_before"][0][0] == ("previous_survey", "readings", 10)
    assert answer.result.verdict == Verdict.NOT_JUDGED
    assert [advice.code for advice in answer.result.advice if "limit_broken_before" in advice.because] == ["read_the_unread"]


def test_thin_before_and_read_now_is_judged_by_what_is_read(survey, whole):
    """Where the place was read again, within the gauges' uncertainty, this survey's reading is what counts."""
    now = [{**whole[0], "plate_mm": 4.3, "pit_depth_mm": 0.0}, *whole[1:]]
    answer = survey(now, previous_survey=past({**now[0], "plate_mm": 3.9}))
    assert "limit_broken_before" not in answer.found
    assert answer.result.verdict == Verdict.NO_LIMIT_BROKEN


def test_thin_before_and_far_thicker_now_is_not_settled(survey, whole):
    """Steel does not grow: plate that broke a limit and now reads two millimetres more is another place, or a wrong reading."""
    answer = survey(whole, previous_survey=past({**whole[0], "plate_mm": 3.9, "pit_depth_mm": 0.0}))
    assert {"limit_broken_before", "reading_grew"} <= set(answer.found)
    assert answer.result.verdict == Verdict.NOT_JUDGED


@pytest.mark.parametrize(
    "new",
    [
        {"layer": "insert", "fitted_on": "2022"},
        {"layer": "insert"},
        {"fitted_on": "2022"},
        {"layer": "insert", "id": "other"},
    ],
)
def test_thin_before_and_renewed_since_is_settled(survey, whole, new):
    """An insert there, or plate fitted since, is what a limit asks about now."""
    place = {"station_m": 12.0, "zone": "side", "side": "port"}
    thin = {"id": "x", **place, "plate_mm": 3.2}
    answer = survey(
        [*whole, {"id": "x", **place, "plate_mm": 5.9, "pit_depth_mm": 0.0, **new}], previous_survey=past(*whole, thin)
    )
    assert "limit_broken_before" not in answer.found
    assert answer.result.verdict == Verdict.NO_LIMIT_BROKEN


def test_thin_before_and_overplated_since_is_not_settled(survey, whole):
    """An overplate says nothing of the shell beneath."""
    place = {"station_m": 12.0, "zone": "side", "side": "port", "id": "x"}
    over = {**place, "plate_mm": 5.9, "layer": "overplate", "original_mm": 6.0, "fitted_on": "2022"}
    answer = survey([*whole, over], previous_survey=past(*whole, {**place, "plate_mm": 3.2}))
    assert answer.result.verdict == Verdict.NOT_JUDGED


def test_a_whole_survey_thinner_before_passes_nothing(survey, whole):
    """Half a millimetre more steel everywhere is a gauge set wrong, though no single reading shows it."""
    many = [{**one, "id": f"{one['id']}{n}", "station_m": float(n)} for one in whole for n in range(6)]
    answer = survey(many, previous_survey=past(*({**one, "plate_mm": one["plate_mm"] - 0.5} for one in many)))
    assert "reading_grew" not in answer.found
    assert {path for path, _ in answer.found["zone_grew"]} == {("previous_survey",)}
    assert answer.result.verdict == Verdict.NOT_JUDGED


def test_a_fast_place_beside_the_thinnest_is_told(survey):
    """1.8 mm/year where the plate is still thick is told, at its own reading."""
    fast = {"id": "f", "zone": "baseplate", "side": "port", "station_m": 9.0, "plate_mm": 9.4}
    before_it = past({**B1, "plate_mm": 8.8}, {**fast, "plate_mm": 10.0}, surveyed_on=date(2024, 8, 31))
    answer = survey([{**B1, "plate_mm": 8.8}, {**fast, "plate_mm": 9.0}], previous_survey=before_it)
    assert answer.found["place_lost_fast"][0][0] == ("readings", 1)


def test_nothing_matched(survey):
    """A previous survey of other places is told, and changes nothing."""
    elsewhere = {"zone": "side", "side": "port", "station_m": 1.0, "plate_mm": 5.9}
    alone, compared = survey([B1]), survey([B1], previous_survey=past(elsewhere))
    assert "previous_not_matched" in compared.found
    assert compared.result.zones == alone.result.zones


def test_some_not_read_again(survey):
    """How many places of the previous survey nobody read again is told."""
    elsewhere = {"zone": "side", "side": "port", "station_m": 1.0, "plate_mm": 5.9}
    answer = survey([B1], previous_survey=past({**B1, "plate_mm": 9.0}, elsewhere))
    assert answer.found["previous_places_unread"][0][1].startswith("1 of 2 readings")


@pytest.mark.parametrize(
    ("changes", "code", "path"),
    [
        ({"surveyed_on": date(2024, 12, 31)}, "surveys_out_of_order", ("previous_survey", "surveyed_on")),
        ({"surveyed_on": date(2024, 12, 1)}, "surveys_out_of_order", ("previous_survey", "surveyed_on")),
        ({"surveyed_on": date(2007, 12, 31)}, "built_after_survey", ("built_on",)),
        (
            {"readings": [{**B1, "pit_depth_mm": 9.4}]},
            "pit_deeper_than_plate",
            ("previous_survey", "readings", 0, "pit_depth_mm"),
        ),
        ({"readings": [B1, B1]}, "id_not_unique", ("previous_survey", "readings", 1, "id")),
        ({"readings": [{**B1, "station_m": 18}]}, "station_beyond_hull", ("previous_survey", "readings", 0, "station_m")),
        ({"readings": [{**B1, "fitted_on": "2021"}]}, "day_not_possible", ("previous_survey", "readings", 0, "fitted_on")),
    ],
)
def test_refused(survey, changes, code, path):
    """A previous survey is held to what this one is, at its own place in the request."""
    with pytest.raises(NotApplicableError) as refused:
        survey([B1], previous_survey=past(B1, **changes))
    assert [(fault[0], fault[1]) for fault in refused.value.faults] == [(code, path)]
