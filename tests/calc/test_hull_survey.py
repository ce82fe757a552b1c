"""A whole survey: what it tells of each zone, what withholds a pass, and what stays unknown."""

from datetime import date

import numpy as np
import pytest

from platemargin.errors import NotApplicableError
from platemargin.hull_survey import ASSUMED
from platemargin.plate_margin import plate_margin
from platemargin.reference import INSURER_MINIMUM
from platemargin.remaining_life import LifeStatus
from platemargin.residual_thickness import PlateState, residual_thickness
from platemargin.rules import MinimumContent, Rule, RuleSet, Verdict

BOTTOM = {"zone": "baseplate", "side": "port", "plate_mm": 8.8, "pit_depth_mm": 2.6}
CABIN = {"zone": "cabin-side", "plate_mm": 3.9}


def zone_of(answer, name):
    """Return a zone's result."""
    return {zone.zone: zone for zone in answer.result.zones}[name]


# -- a pass, and what withholds it --


def test_a_whole_sound_survey_passes(survey, whole):
    """Every wet zone read on both sides, nothing below a limit: no limit broken, and nothing withheld."""
    answer = survey(whole)
    assert answer.result.verdict == Verdict.NO_LIMIT_BROKEN
    assert (answer.result.assessed.zones_unread, answer.result.assessed.sides_unread) == ((), ())


@pytest.mark.parametrize("zone", ["baseplate", "side", "chine", "swim", "counter"])
def test_zone_unread(survey, whole, zone):
    """CONTRACT: a plated immersed zone that nobody read makes the whole at best not_judged."""
    answer = survey([reading for reading in whole if reading["zone"] != zone])
    assert answer.result.assessed.zones_unread == (zone,)
    assert answer.result.verdict == Verdict.NOT_JUDGED


@pytest.mark.parametrize("side", ["port", "starboard"])
def test_side_unread(survey, whole, side):
    """CONTRACT: so does a side that nobody read, and a reading above the water does not stand for it."""
    one_sided = [reading for reading in whole if reading["side"] != side]
    answer = survey([*one_sided, {**CABIN, "side": side}])
    assert answer.result.assessed.sides_unread == (side,)
    assert answer.result.verdict == Verdict.NOT_JUDGED


def test_sides_not_stated_are_unread(survey, whole):
    """Readings that do not say their side read neither."""
    answer = survey([{name: value for name, value in reading.items() if name != "side"} for reading in whole])
    assert answer.result.assessed.sides_unread == ("port", "starboard")


@pytest.mark.parametrize(
    ("changes", "unread"),
    [
        ({"plating": [{"zone": "rudder", "original_mm": 8.0}]}, ("rudder",)),
        ({"plating": [{"zone": "bow locker", "original_mm": 8.0}]}, ("bow locker",)),  # unknown: counts as immersed
        ({"plating": [{"zone": "bow locker", "original_mm": 8.0, "exposure": "internal"}]}, ()),
        ({"plating": [{"zone": "roof", "original_mm": 4.0}]}, ()),
        ({"plating": [{"zone": "rudder", "layer": "overplate", "original_mm": 4.0}]}, ()),
        ({"plating": [{"zone": "bow locker", "exposure": "internal"}, {"zone": "bow locker", "side": "port"}]}, ()),
        ({"plating": [{"zone": "bow locker", "exposure": "internal"}, {"zone": "rudder"}]}, ("rudder",)),
        ({"unexamined": [{"zone": "skeg", "reason": "docking_blocks"}]}, ("skeg",)),
        ({"unexamined": [{"zone": "baseplate", "from_m": 2.0, "to_m": 3.0, "reason": "docking_blocks"}]}, ()),
    ],
)
def test_what_counts_as_unread(survey, whole, changes, unread):
    """What is plated under water, or named as not examined, and read nowhere is unread; what is dry is not missed."""
    answer = survey(whole, **changes)
    assert answer.result.assessed.zones_unread == unread
    assert answer.result.verdict == (Verdict.NOT_JUDGED if unread else Verdict.NO_LIMIT_BROKEN)


@pytest.mark.parametrize(
    ("surveyed_on", "as_of", "months", "verdict"),
    [
        (date(2024, 12, 31), date(2026, 12, 31), 24, Verdict.NO_LIMIT_BROKEN),
        (date(2024, 12, 31), date(2027, 1, 1), 24, Verdict.NOT_JUDGED),
        (date(2024, 12, 31), date(2025, 2, 28), 2, Verdict.NO_LIMIT_BROKEN),  # two months on, the month has 28 days
        (date(2024, 12, 31), date(2025, 3, 1), 2, Verdict.NOT_JUDGED),
        (date(2024, 12, 31), date(2024, 12, 31), 1, Verdict.NO_LIMIT_BROKEN),
    ],
)
def test_survey_too_old(survey, whole, surveyed_on, as_of, months, verdict):
    """A survey older than the caller allows passes nothing; on the last day it still does."""
    answer = survey(whole, surveyed_on=surveyed_on, as_of=as_of, max_survey_age_months=months)
    assert answer.result.verdict == verdict
    assert ("survey_too_old" in answer.found) is (verdict == Verdict.NOT_JUDGED)


@pytest.mark.parametrize(
    ("gauge", "found"),
    [
        ({"mode": "single_echo", "through_coating": True}, "single_echo_through_coating"),
        ({"through_coating": True}, "mode_unknown_through_coating"),
        ({"mode": "unknown", "through_coating": True}, "mode_unknown_through_coating"),
        ({"mode": "single_echo", "through_coating": True, "coating_um": 300.0}, "coating_in_readings"),
        ({"mode": "multiple_echo", "through_coating": True}, None),
        ({"mode": "multiple_echo", "through_coating": True, "coating_um": 300.0}, None),
        ({"mode": "single_echo"}, None),
        ({}, None),
    ],
)
def test_coating_in_the_readings(survey, whole, gauge, found):
    """CONTRACT: a single echo through a coating of unknown film never is no_limit_broken; nor is any that may count it."""
    answer = survey(whole, gauge=gauge)
    told = {"single_echo_through_coating", "mode_unknown_through_coating", "coating_in_readings"} & set(answer.found)
    assert told == ({found} if found else set())
    assert answer.result.verdict == (Verdict.NOT_JUDGED if found else Verdict.NO_LIMIT_BROKEN)


def strict(**content):
    """Return an invented rule set that asks for a minimum of content."""
    rule = Rule(
        id="thin", quantity="residual_mm", at_least=4.0, severity="act", statement="Thin.", reference=INSURER_MINIMUM.id
    )
    return RuleSet(
        id="strict",
        version="1.0.0",
        title="Invented terms",
        rules=(rule,),
        references=(INSURER_MINIMUM,),
        minimum_content=MinimumContent(**content),
    )


@pytest.mark.parametrize(
    ("content", "changes", "lacks"),
    [
        ({}, {}, None),
        ({"zones": ("baseplate",), "readings_per_zone": 2}, {}, None),
        ({"zones": ("baseplate",), "readings_per_zone": 3}, {}, "3 readings in baseplate"),
        ({"zones": ("rudder",)}, {}, "1 reading in rudder"),
        ({"both_sides": True}, {}, None),
        ({"inside_seen": True}, {}, "the inside seen"),
        ({"inside_seen": True}, {"inside_seen": False}, "the inside seen"),
        ({"inside_seen": True}, {"inside_seen": True}, None),
    ],
)
def test_minimum_content(survey, whole, content, changes, lacks):
    """A rule set that asks for more than a survey holds passes nothing, and what is lacking is told."""
    answer = survey(whole, rule_sets=[strict(**content)], **changes)
    assert answer.result.verdict == (Verdict.NOT_JUDGED if lacks else Verdict.NO_LIMIT_BROKEN)
    told = [sentence for _, sentence in answer.found.get("minimum_content_missing", [])]
    assert [lacks in sentence for sentence in told] == ([True] if lacks else [])


def test_minimum_content_of_both_sides(survey, whole):
    """A rule set that asks for both sides names that too where one is unread."""
    port = [reading for reading in whole if reading["side"] == "port"]
    answer = survey(port, rule_sets=[strict(both_sides=True)])
    assert "both sides read" in answer.found["minimum_content_missing"][0][1]
    assert "minimum_content_missing" not in survey(port, rule_sets=[strict()]).found


def test_most_zones(survey):
    """Two hundred zones are still parts of a hull; one more is refused (tested with the other faults)."""
    many = [{"zone": f"zone {index}", "plate_mm": 8.0} for index in range(200)]
    assert len(survey(many).result.zones) == 200


PORT, STARBOARD = ({"zone": "side", "side": side, "original_mm": 6.0} for side in ("port", "starboard"))
AFT = {"zone": "baseplate", "from_m": 12.0, "to_m": 15.0, "original_mm": 12.0}


@pytest.mark.parametrize(
    ("plating", "unread"),
    [
        ([PORT, STARBOARD], ["starboard"]),
        ([PORT], []),
        ([AFT], [None]),
        ([{**AFT, "from_m": 3.0}], []),
        ([{**AFT, "layer": "overplate"}], []),
        ([{**AFT, "exposure": "internal"}], []),
    ],
)
def test_part_unread(survey, whole, plating, unread):
    """A part of a zone that is plated apart is read where a reading is stated to be in it, not elsewhere in the zone."""
    sent = [{**reading, "station_m": 4.0} for reading in whole if (reading["zone"], reading["side"]) != ("side", "starboard")]
    answer = survey(sent, plating=plating)
    assert [part.get("side") for part in answer.result.assessed.parts_unread] == unread
    assert answer.result.verdict == (Verdict.NOT_JUDGED if unread else Verdict.NO_LIMIT_BROKEN)


def test_every_hull_has_a_bottom(survey):
    """With nothing stated of the plating, readings at the water line alone pass nothing."""
    sides = [{"zone": "side", "side": side, "plate_mm": 6.0} for side in ("port", "starboard")]
    dry = survey(sides, plating_notation=None)
    assert (dry.result.assessed.immersed_read, dry.result.verdict) == (False, Verdict.NOT_JUDGED)
    wet = survey([*sides, {"zone": "baseplate", "plate_mm": 9.0}], plating_notation=None)
    assert (wet.result.assessed.immersed_read, wet.result.verdict) == (True, Verdict.NO_LIMIT_BROKEN)


def test_overplate_does_not_read_the_shell(survey, whole):
    """A zone of which only the overplate was read is unread."""
    over = [{**reading, "layer": "overplate"} if reading["zone"] == "chine" else reading for reading in whole]
    answer = survey(over)
    assert answer.result.assessed.zones_unread == ("chine",)
    assert answer.result.verdict == Verdict.NOT_JUDGED


@pytest.mark.parametrize(
    ("plate_mm", "verdict"),
    [(20.0, Verdict.NO_LIMIT_BROKEN), (20.1, Verdict.NOT_JUDGED), (42.0, Verdict.NOT_JUDGED), (98.0, Verdict.NOT_JUDGED)],
)
def test_lost_decimal_point(survey, whole, plate_mm, verdict):
    """98 for 9.8 on plate of unknown original passes nothing."""
    assert survey([*whole, {"zone": "rudder", "plate_mm": plate_mm}]).result.verdict == verdict


@pytest.mark.parametrize(("as_of", "verdict"), [(None, Verdict.NO_LIMIT_BROKEN), (date(2026, 1, 1), Verdict.NOT_JUDGED)])
def test_limit_passed_since_the_survey(survey, whole, as_of, verdict):
    """A survey whose thinnest place has reached its limit by now passes nothing."""
    nearly = {"zone": "baseplate", "side": "port", "plate_mm": 4.3}  # 0.84 years above 4.0 mm
    answer = survey([*whole, nearly], as_of=as_of)
    assert answer.result.verdict == verdict
    assert ("limit_passed_since_survey" in answer.found) is (verdict == Verdict.NOT_JUDGED)


@pytest.mark.parametrize(
    ("plate_mm", "verdict"),
    [
        (8.0, Verdict.NOT_JUDGED),
        (4.4, Verdict.NOT_JUDGED),
        (4.0, Verdict.NOT_JUDGED),
        (3.9, Verdict.WATCH),
        (3.4, Verdict.ACT),
    ],
)
def test_coated_readings_can_break_a_limit_but_keep_none(survey, plate_mm, verdict):
    """Steel is never thicker than steel and coating together: what is below a limit all the same is below it."""
    coated = {"mode": "single_echo", "through_coating": True}
    answer = survey([{"zone": "side", "plate_mm": plate_mm}], gauge=coated)
    assert answer.result.readings.verdict.tolist() == [verdict]
    assert {told.years for told in answer.result.zones[0].thresholds} <= {None, 0.0}


def test_wet_plate_that_no_rule_speaks_of(survey, whole, rule):
    """Where no rule speaks of plate at the water line, nothing is passed, though all that they speak of is sound."""
    bottom = rule(exposures=["immersed"])
    answer = survey(whole, rule_sets=[], rules=[bottom])
    assert [told.verdict for told in answer.result.rules] == [Verdict.NO_LIMIT_BROKEN]
    assert answer.result.verdict == Verdict.NOT_JUDGED
    assert len(answer.found["wet_plate_outside_rules"]) == 1
    wet = survey(whole, rule_sets=[], rules=[bottom, rule(id="line", exposures=["waterline"])])
    assert wet.result.verdict == Verdict.NO_LIMIT_BROKEN


@pytest.mark.parametrize("changes", [{}, {"rule_sets": []}])
def test_a_hole_calls_for_action(survey, whole, changes):
    """A hole outranks every rule, and where there is none, silence."""
    answer = survey([*whole, {"id": "hole", "zone": "side", "plate_mm": 5.0, "holed": True}], **changes).result
    assert (answer.verdict, answer.governing_reading, answer.holed_count) == (Verdict.ACT, "hole", 1)


def test_a_hole_under_water_governs_one_above(survey):
    """Of two holes the one that lets the water in governs."""
    holes = [{"zone": "roof", "plate_mm": 4.0, "holed": True}, {"zone": "swim", "plate_mm": 4.0, "holed": True}]
    assert survey(holes).result.governing_zone == "swim"


@pytest.mark.parametrize(("plate_mm", "verdict"), [(3.9, Verdict.WATCH), (3.4, Verdict.ACT)])
def test_a_broken_limit_outranks_what_is_missing(survey, plate_mm, verdict):
    """What is unread never hides what is broken."""
    assert survey([{"zone": "side", "plate_mm": plate_mm}]).result.verdict == verdict


# -- what stays unknown --


def test_unknown_original(survey):
    """CONTRACT: unknown original: loss, rate and life are null, limits still judge."""
    answer = survey([{"zone": "rudder", "plate_mm": 3.4}])
    zone = zone_of(answer, "rudder")
    assert (zone.original_mm, zone.max_loss_percent, zone.mean_general_loss_mm) == (None, None, None)
    assert (zone.pitting_factor, zone.rate_mm_per_year) == (None, None)
    assert answer.result.verdict == Verdict.ACT
    lives = {told.threshold_mm: (told.years, told.status) for told in zone.thresholds}
    assert lives == {4.0: (0.0, LifeStatus.ALREADY_BELOW), 3.5: (0.0, LifeStatus.ALREADY_BELOW)}
    assert "original_unknown" in answer.found


def test_unknown_build_date(survey):
    """CONTRACT: unknown build date: rate and life are null, the loss is not, limits still judge."""
    answer = survey([BOTTOM], built_on=None)
    zone = zone_of(answer, "baseplate")
    assert zone.rate_mm_per_year is None
    assert zone.max_loss_percent == pytest.approx(38.0)
    assert [(told.years, told.years_low, told.years_high, told.status) for told in zone.thresholds] == [
        (None, None, None, LifeStatus.ABOVE)
    ] * 2
    assert answer.result.next_survey_within_years is None
    assert {rule.verdict for rule in answer.result.rules} == {Verdict.NO_LIMIT_BROKEN}
    assert "age_unknown" in answer.found


@pytest.mark.parametrize("material", ["wrought_iron", "aluminium", "other"])
def test_material_other_than_steel(survey, whole, hull, material, rule):
    """CONTRACT: material other than steel: steel tolerances and trade limits are not applicable, told; own rules judge."""
    other = {**hull, "material": material}
    answer = survey([*whole, {"zone": "side", "side": "port", "plate_mm": 3.0}], hull=other)
    assert answer.result.verdict == Verdict.NOT_JUDGED
    assert {told.checked_count for told in answer.result.rules} == {0}
    assert "material_not_steel" in answer.found
    assert {zone.pitting_factor for zone in answer.result.zones} == {None}
    assert {told.years for zone in answer.result.zones for told in zone.thresholds} <= {None}
    assert survey([{"zone": "side", "plate_mm": 3.0}], hull=other, rules=[rule()]).result.verdict == Verdict.ACT


def test_steel_tolerance_is_not_for_aluminium(survey, hull):
    """A plate of aluminium over steel's mill tolerance breaks none."""
    thick = [{"zone": "baseplate", "plate_mm": 12.0}]
    assert "plate_over_mill_tolerance" in survey(thick).found
    assert "plate_over_mill_tolerance" not in survey(thick, hull={**hull, "material": "aluminium"}).found


def test_plate_is_not_all_of_a_riveted_hull(survey, whole, hull):
    """What is not welded alone is told; its plate is judged all the same."""
    answer = survey(whole, hull={**hull, "construction": "riveted"})
    assert "fastenings_not_judged" in answer.found
    assert answer.result.verdict == Verdict.NO_LIMIT_BROKEN


# -- zones --


def test_zones_in_order_of_first_appearance(survey):
    """CONTRACT: one zone for each zone read, in order of first appearance."""
    sent = [CABIN, BOTTOM, {**CABIN, "plate_mm": 4.5}, {"zone": "swim", "plate_mm": 5.0}]
    assert [(zone.zone, zone.readings) for zone in survey(sent).result.zones] == [
        ("cabin-side", 2),
        ("baseplate", 1),
        ("swim", 1),
    ]


def test_figures_of_a_zone(survey):
    """Counts, extremes and means are those of the zone's readings."""
    zone = zone_of(
        survey(
            [
                {**BOTTOM, "id": "a"},
                {"id": "b", "zone": "baseplate", "plate_mm": 8.0},
                {"id": "c", "zone": "baseplate", "plate_mm": 9.6, "pit_depth_mm": 2.9},
                CABIN,
            ]
        ),
        "baseplate",
    )
    assert (zone.exposure, zone.original_mm, zone.readings, zone.pits_measured) == ("immersed", 10.0, 3, 2)
    assert (zone.thinnest_reading, zone.thinnest_reading_index, zone.thinnest_plate_mm) == ("a", 0, 8.0)
    assert zone.thinnest_residual_mm == pytest.approx(6.2)
    assert zone.mean_plate_mm == pytest.approx((8.8 + 8.0 + 9.6) / 3)
    assert zone.max_pit_depth_mm == 2.9
    assert zone.max_loss_percent == pytest.approx(38.0)
    assert zone.mean_general_loss_mm == pytest.approx(10.0 - (8.8 + 8.0 + 9.6) / 3)
    assert zone.rate_mm_per_year == pytest.approx(0.2375)
    assert zone.pitting_factor == pytest.approx(3.8 / 1.2)
    assert (zone.verdict, zone.deepest_pit) == (Verdict.NO_LIMIT_BROKEN, None)


def test_an_unknown_original_hides_nothing_of_the_others(survey):
    """What is gone is told of the readings whose original is known."""
    zone = zone_of(
        survey([{"zone": "rudder", "plate_mm": 5.0}, {"zone": "rudder", "plate_mm": 6.0, "original_mm": 8.0}]), "rudder"
    )
    assert (zone.max_loss_percent, zone.mean_general_loss_mm, zone.pitting_factor) == pytest.approx((25.0, 2.0, 1.0))
    assert (zone.original_mm, zone.rate_mm_per_year) == (None, None)


@pytest.mark.parametrize(
    ("own", "margin_mm"),
    [({"quantity": "plate_mm", "at_least": 9.0}, np.nan), ({"quantity": "residual_mm", "at_most": 9.0}, np.nan), ({}, 2.2)],
)
def test_margin_is_to_a_limit_on_what_is_left(survey, rule, own, margin_mm):
    """A reading's margin is its residual thickness over a least residual thickness; no other limit makes one."""
    told = survey([BOTTOM], rule_sets=[], rules=[rule(**own)]).result.readings.margin_mm
    np.testing.assert_allclose(told, [margin_mm])


def test_thinnest_of_a_tie_is_the_first(survey):
    """Equal as declared, the first reading is the thinnest: 4.6 - 0.6 and 4.0 tie."""
    tie = [{"id": "a", "zone": "side", "plate_mm": 4.0}, {"id": "b", "zone": "side", "plate_mm": 4.6, "pit_depth_mm": 0.6}]
    assert zone_of(survey(tie), "side").thinnest_reading == "a"
    assert zone_of(survey(tie[::-1]), "side").thinnest_reading == "b"


def test_zones_own_verdict(survey):
    """Each zone has the worst verdict of its readings, and where no rule applies none."""
    answer = survey([BOTTOM, {"zone": "side", "plate_mm": 3.9}, {"zone": "side", "plate_mm": 5.0}, CABIN])
    assert {zone.zone: zone.verdict for zone in answer.result.zones} == {
        "baseplate": Verdict.NO_LIMIT_BROKEN,
        "side": Verdict.WATCH,
        "cabin-side": Verdict.NOT_JUDGED,
    }


def test_wettest_exposure_is_the_zones(survey):
    """A zone whose readings stand differently stands where the wettest does."""
    sent = [{"zone": "side", "plate_mm": 6.0, "exposure": exposure} for exposure in ("topside", "waterline")]
    assert zone_of(survey(sent), "side").exposure == "waterline"


def test_pitting_factor_needs_a_mean_beyond_its_uncertainty(survey):
    """CONTRACT: null where the mean is within its uncertainty; here sqrt(0.451^2 + 0.15^2 / n), EN 10029 from memory."""
    for plate_mm, count, told in ((9.53, 1, False), (9.52, 1, True), (9.543, 4, False), (9.542, 4, True)):
        zone = zone_of(survey([{"zone": "baseplate", "plate_mm": plate_mm}] * count), "baseplate")
        assert (zone.pitting_factor is not None) is told


# -- lives --


def test_life_is_that_of_the_thinnest_reading(survey):
    """Every figure of a zone's life is `plate_margin`'s of its thinnest reading."""
    answer = survey([BOTTOM, {"zone": "baseplate", "plate_mm": 9.0}], confidence=0.8)
    for told in zone_of(answer, "baseplate").thresholds:
        alone = plate_margin(
            original_mm=10.0,
            plate_mm=8.8,
            pit_depth_mm=2.6,
            years_in_service=16.0,
            threshold_mm=told.threshold_mm,
            confidence=0.8,
        )
        assert [told.years, told.years_low, told.years_high] == pytest.approx(
            [float(years) for years in (alone.years, alone.years_low, alone.years_high)]
        )


def test_gauge_uncertainty_widens_the_band(survey):
    """The gauge's own uncertainties are used where they are stated, and the trade's where not."""
    gauge = {"plate_standard_uncertainty_mm": 0.05, "pit_standard_uncertainty_mm": 0.05}
    plain, fine = (zone_of(survey([BOTTOM], gauge=told), "baseplate").thresholds[0] for told in (None, gauge))
    assert plain.years_low < fine.years_low < fine.years_high < plain.years_high
    assert zone_of(survey([BOTTOM], gauge={}), "baseplate").thresholds[0] == plain


def test_protected_years_shorten_the_life(survey):
    """Common practice, no source: if a coating kept the steel for the first five years, 4.0 mm is 6.37 years away."""
    kept = [{"zone": "baseplate", "original_mm": 10.0, "protected_years": 5.0}]
    assert round(zone_of(survey([BOTTOM], plating=kept), "baseplate").thresholds[0].years, 2) == 6.37


def test_default_thresholds_are_those_of_the_rules_that_apply(survey, rule):
    """CONTRACT: thresholds_mm default to the chosen rule sets' limits: on what is left, where the rule applies."""
    own = [
        rule(id="plate", quantity="plate_mm", at_least=5.0),
        rule(id="roofs", exposures=["superstructure"], at_least=3.0),
        rule(id="same", at_least=4.0),
    ]
    answer = survey([BOTTOM, CABIN], rules=own)
    assert [told.threshold_mm for told in zone_of(answer, "baseplate").thresholds] == [4.0, 3.5]
    assert [told.threshold_mm for told in zone_of(answer, "cabin-side").thresholds] == [3.0]


def test_thresholds_asked_for(survey):
    """Limits that are asked for are told for every zone, in the order asked, each once."""
    answer = survey([BOTTOM, CABIN], thresholds_mm=[3.0, 5.0, 3.0])
    for zone in answer.result.zones:
        assert [told.threshold_mm for told in zone.thresholds] == [3.0, 5.0]


@pytest.mark.parametrize(
    ("as_of", "passed"), [(None, None), (date(2024, 12, 31), 0.0), (date(2025, 12, 31), 365 / 365.25), (date(2090, 1, 1), 99.0)]
)
def test_years_from_as_of(survey, as_of, passed):
    """CONTRACT: years_from_as_of is what is left of the life at as_of, never below 0; null where none is given."""
    told = zone_of(survey([BOTTOM], as_of=as_of), "baseplate").thresholds[0]
    expected = None if passed is None else max(told.years - passed, 0.0)
    assert told.years_from_as_of == (None if expected is None else pytest.approx(expected))


def test_next_survey_is_the_soonest(survey):
    """The next survey is due when the first zone's is."""
    answer = survey([BOTTOM, {"zone": "side", "plate_mm": 4.6}])
    soonest = min(told.years_low for zone in answer.result.zones for told in zone.thresholds)
    assert answer.result.next_survey_within_years == pytest.approx(soonest / 2)


@pytest.mark.parametrize(
    ("reading", "changes", "due"),
    [
        ({"zone": "side", "plate_mm": 3.6}, {}, 0.0),  # below a limit already
        ({"zone": "side", "plate_mm": 3.6}, {"built_on": None}, 0.0),  # and so it is at any age
        ({"zone": "rudder", "plate_mm": 8.0}, {}, None),  # nobody knows how fast it goes
        ({"zone": "side", "plate_mm": 4.0}, {"built_on": None}, None),  # nor this, and on a limit is not below it
    ],
)
def test_when_the_next_survey_is_due(survey, reading, changes, due):
    """Due now where plate in the water is below a limit, unknown where its life is."""
    assert survey([BOTTOM, reading], **changes).result.next_survey_within_years == due


@pytest.mark.parametrize("changes", [{}, {"thresholds_mm": [4.0]}])
def test_next_survey_is_not_for_the_cabin(survey, changes):
    """Thin plate that keeps no water out, and that no rule speaks of, makes no survey due."""
    bottom, both = (
        survey(sent, **changes).result.next_survey_within_years for sent in ([BOTTOM], [BOTTOM, {**CABIN, "plate_mm": 0.5}])
    )
    assert bottom == both > 0.0


def test_first_to_its_limit(survey):
    """Of all readings in the water, the one whose life to its next limit may be the shortest, thinnest of its zone or not."""
    sent = [
        {"id": "thin", "zone": "baseplate", "plate_mm": 6.0, "original_mm": 6.5},
        {"id": "fast", "zone": "baseplate", "plate_mm": 6.2},
        {"id": "roof", "zone": "roof", "plate_mm": 1.0, "original_mm": 4.0},
    ]
    first = survey(sent, as_of=date(2025, 12, 31)).result.first_to_limit
    assert (first.zone, first.reading, first.reading_index, first.threshold_mm) == ("baseplate", "fast", 1, 4.0)
    alone = plate_margin(original_mm=10.0, plate_mm=6.2, years_in_service=16.0)
    assert [first.years, first.years_low] == pytest.approx([float(alone.years), float(alone.years_low)])
    assert first.years_from_as_of == pytest.approx(first.years - 365 / 365.25)
    assert survey(sent, built_on=None).result.first_to_limit is None
    on_limit = survey([{"zone": "side", "plate_mm": 4.0}]).result.first_to_limit
    assert (on_limit.threshold_mm, on_limit.years) == (4.0, 0.0)


def test_limits_on_the_loss_are_thresholds(survey, rule_sets):
    """A greatest loss leaves a least thickness: 20 and 25 % of 10 mm are 8 and 7.5 mm, to be reached like any other."""
    answer = survey([{"zone": "baseplate", "plate_mm": 9.0}], rule_sets=[rule_sets["loss-fraction"]])
    told = zone_of(answer, "baseplate").thresholds
    assert [limit.threshold_mm for limit in told] == [8.0, 7.5]
    assert [limit.years for limit in told] == pytest.approx([16.0, 24.0])


def test_may_be_below_already(survey):
    """A thinnest reading above a limit by less than its uncertainty covers is told, with the limit."""
    ((path, sentence),) = survey([{"id": "b7", "zone": "baseplate", "plate_mm": 4.1}]).found["may_be_below_already"]
    assert path == ("readings", 0)
    # Phi(-0.1 / 0.15), from a table of the normal distribution: 0.2525.
    for figure in ("baseplate", "b7", "4.1 mm", "4 mm", "0.2525"):
        assert figure in sentence.replace("0.252493", "0.2525")
    assert "may_be_below_already" not in survey([{"zone": "baseplate", "plate_mm": 4.3}]).found


# -- the rest of the answer --


def test_reading_that_governs(survey, rule):
    """The governing reading is of the worst rule broken; else of the smallest margin to its limit."""
    worst = survey([{"zone": "side", "plate_mm": 3.9}, BOTTOM, {"id": "x", "zone": "chine", "plate_mm": 3.3}]).result
    assert (worst.governing_zone, worst.governing_reading, worst.governing_reading_index) == ("chine", "x", 2)
    watched = rule(id="thick", severity="watch", zones=["baseplate"], at_least=9.0)
    worse = survey([BOTTOM, {"id": "z", "zone": "side", "plate_mm": 3.4}], rules=[watched]).result
    assert worse.governing_reading == "z"  # a limit for action by 0.1 mm, before one for watching by 2.8 mm
    nearest = [rule(id="four", zones=["side"]), rule(id="two", zones=["swim"], at_least=2.0)]
    relative = survey([{"zone": "side", "plate_mm": 5.0}, {"zone": "swim", "plate_mm": 2.6}], rule_sets=[], rules=nearest)
    assert relative.result.governing_zone == "side"  # a quarter of its limit is left, of the other three tenths
    sound = survey([BOTTOM, {"id": "y", "zone": "side", "plate_mm": 5.0}, CABIN]).result
    assert (sound.governing_zone, sound.governing_reading) == ("side", "y")


def test_reading_that_governs_where_nothing_is_judged(survey):
    """Where no rule could check anything, the thinnest of the wettest zone governs."""
    answer = survey([CABIN, BOTTOM, {"zone": "side", "plate_mm": 3.0}], rule_sets=[]).result
    assert (answer.verdict, answer.governing_zone) == (Verdict.NOT_JUDGED, "baseplate")


@pytest.mark.parametrize(
    ("reading", "changes", "threshold_mm"),
    [
        ({"zone": "side", "plate_mm": 3.4}, {}, 3.5),  # the worst rule broken
        ({"zone": "side", "plate_mm": 3.9}, {}, 4.0),
        ({"zone": "side", "plate_mm": 5.0}, {}, 4.0),
        ({"zone": "side", "plate_mm": 5.0}, {"thresholds_mm": [3.0, 2.0]}, 3.0),  # the rule's limit was not asked for
        ({"zone": "side", "plate_mm": 5.0}, {"rule_sets": [], "thresholds_mm": [2.5]}, 2.5),
        ({"zone": "side", "plate_mm": 5.0}, {"rule_sets": []}, None),
    ],
)
def test_figures_of_the_reading_that_governs(survey, reading, changes, threshold_mm):
    """The working is of the governing reading against the limit that decides, else the first that is told; or none."""
    governing = survey([BOTTOM, reading] if threshold_mm is None else [reading], **changes).result.governing
    assert governing.arguments.get("threshold_mm") == threshold_mm
    if threshold_mm is not None:
        assert governing.arguments["plate_mm"] == reading["plate_mm"]
        assert governing.margin.margin_mm[0] == pytest.approx(reading["plate_mm"] - threshold_mm)


@pytest.mark.parametrize("changes", [{"built_on": None}, {"plating_notation": None}])
def test_no_life_of_the_reading_that_governs(survey, changes):
    """Where its original or age is unknown the governing reading has no life, and its arguments no NaN."""
    governing = survey([BOTTOM], **changes).result.governing
    assert governing.margin is None
    assert not [name for name, value in governing.arguments.items() if np.isnan(value)]


def assumed(answer):
    """Return what a survey tells of what it assumed: field to value."""
    told = {}
    for assumption in ASSUMED:
        if assumption.when(answer.arguments, answer.result):
            value = assumption.value
            told[assumption.field] = value(answer.arguments, answer.result) if callable(value) else value
    return told


def test_everything_assumed_is_told(survey):
    """CONTRACT: every default used is told, a pit taken as 0 and the notation included."""
    told = assumed(survey([BOTTOM, CABIN]))
    assert told.pop("plating")[0] == {"zone": "baseplate", "original_mm": 10.0}
    assert told == {
        "readings[].layer": "shell",
        "readings[].pit_depth_mm": 0.0,
        "readings[].exposure": {"baseplate": "immersed", "cabin-side": "superstructure"},
        "plating[].protected_years": 0.0,
        "built_on": date(2008, 12, 31),
        "thresholds_mm": [4.0, 3.5],
        "exponent": 1.0,
        "rate_factor": 1.0,
        "years_ahead": 10.0,
        "interval_cap_years": 5.0,
        "original_standard_uncertainty_mm": {"5": 0.4, "10": 0.451},  # EN 10029, from memory
        "gauge.plate_standard_uncertainty_mm": 0.15,  # common practice, no source
        "gauge.pit_standard_uncertainty_mm": 0.20,
        "gauge.through_coating": False,
    }


def test_what_is_said_is_not_assumed(survey, rule):
    """What the caller says, or what is not used, is not told as assumed."""
    stated = [{**BOTTOM, "exposure": "immersed", "layer": "shell"}]
    told = survey(
        stated,
        plating_notation=None,
        plating=[{"zone": "baseplate", "original_mm": 10.0, "protected_years": 0.0}],
        built_on="2008-12-31",
        thresholds_mm=[4.0],
        gauge={"mode": "multiple_echo"},
        rules=[rule(exposures=["immersed"])],
    )
    no_option = {"exponent", "rate_factor", "years_ahead", "interval_cap_years", "original_standard_uncertainty_mm"}
    assert set(assumed(told)) == no_option
    bare = {"through_coating": False}
    unknown = survey(stated, plating_notation=None, built_on=None, thresholds_mm=[4.0], gauge=bare)
    assert assumed(unknown) == {}


def test_what_any_life_rests_on_is_told(survey):
    """What is assumed of a life is told where any life is, also where the governing reading has none."""
    answer = survey([BOTTOM, {"zone": "rudder", "plate_mm": 4.1}])
    assert (answer.result.governing_zone, answer.result.governing.margin) == ("rudder", None)
    assert "exponent" in assumed(answer)


def test_what_else_is_assumed_is_told(survey, rule):
    """An original that its sender assumes, and where the caller's own rule applies, are told too."""
    supposed = [{"zone": "baseplate", "original_mm": 10.0, "original_basis": "assumed"}]
    told = assumed(survey([BOTTOM], plating=supposed, rules=[rule()]))
    assert told["plating[].original_mm"] == {"baseplate": 10.0}
    assert told["rules[].exposures"] == ["immersed", "waterline"]


def test_built_in_the_year_of_the_survey(survey):
    """The last day of the period counts, but none after the survey."""
    assert assumed(survey([BOTTOM], built_on="2024", surveyed_on=date(2024, 6, 1)))["built_on"] == date(2024, 6, 1)


@pytest.mark.parametrize(
    ("readings", "basis"),
    [
        ([BOTTOM, CABIN, {**CABIN, "holed": True}], "no pit was measured at 1 of 3 readings: taken as none"),
        ([BOTTOM, {**CABIN, "holed": True}], None),
    ],
)
def test_pits_taken_as_none_are_counted(survey, readings, basis):
    """The readings whose pit was not measured are counted; of a hole there is nothing to measure."""
    answer = survey(readings)
    (pits,) = (assumption for assumption in ASSUMED if assumption.field == "readings[].pit_depth_mm")
    assert pits.when(answer.arguments, answer.result) is (basis is not None)
    if basis is not None:
        assert pits.basis(answer.arguments, answer.result) == basis


def test_what_if(survey):
    """CONTRACT: the same loss taken from x, for each zone's thinnest reading; more than x is a hole, never less than 0."""
    answer = survey([BOTTOM, CABIN, {"zone": "rudder", "plate_mm": 5.0}], what_if_original_mm=[6.0, 3.0])
    told = {
        (case.zone, case.original_mm): (case.residual_mm, case.plate_state)
        for case in answer.result.what_if
        if case.zone != "rudder"
    }
    assert told[("baseplate", 6.0)] == (pytest.approx(2.2), PlateState.METAL_REMAINS)
    assert told[("baseplate", 3.0)] == (0.0, PlateState.HOLED)
    assert told[("cabin-side", 6.0)] == (pytest.approx(4.9), PlateState.METAL_REMAINS)
    rudder = [case for case in answer.result.what_if if case.zone == "rudder"]
    assert [(case.loss_mm, case.residual_mm, case.plate_state) for case in rudder] == [(None, None, None)] * 2


def test_each_reading_is_told(survey):
    """CONTRACT: readings in order, with residual-thickness's result, margin and verdict of each."""
    answer = survey([BOTTOM, CABIN, {"id": "t", "zone": "side", "plate_mm": 3.9, "station_m": 4.0}]).result.readings
    assert answer.id.tolist() == ["0", "1", "t"]
    assert answer.zone.tolist() == ["baseplate", "cabin-side", "side"]
    assert answer.side.tolist() == ["port", "", ""]
    np.testing.assert_allclose(answer.station_m, [np.nan, np.nan, 4.0])
    np.testing.assert_allclose(answer.original_mm, [10.0, 5.0, 6.0])
    np.testing.assert_allclose(answer.margin_mm, [2.2, np.nan, -0.1])
    assert answer.verdict.tolist() == [Verdict.NO_LIMIT_BROKEN, Verdict.NOT_JUDGED, Verdict.WATCH]
    alone = residual_thickness(original_mm=[10.0, 5.0, 6.0], plate_mm=[8.8, 3.9, 3.9], pit_depth_mm=[2.6, np.nan, np.nan])
    for name, column in vars(alone).items():
        np.testing.assert_array_equal(getattr(answer, name), column, err_msg=name)


def test_area_per_reading(survey):
    """The stated area over the readings in it; null where none is stated."""
    stated = [{"zone": "baseplate", "original_mm": 10.0, "area_m2": 30.0}, {"zone": "rudder", "area_m2": 2.0}]
    assert survey([BOTTOM, BOTTOM, CABIN], plating=stated).result.assessed.area_per_reading_m2 == 15.0
    assert survey([BOTTOM]).result.assessed.area_per_reading_m2 is None


def test_what_later_versions_fill_is_absent(survey):
    """CONTRACT: deepest_pit, attack_forms and anodes are null in this version."""
    answer = survey([BOTTOM]).result
    assert (answer.attack_forms, answer.anodes, answer.zones[0].deepest_pit) == (None, None, None)


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"as_of": date(2024, 12, 30)}, "as_of_before_survey"),
        ({"max_survey_age_months": 12}, "as_of_needed"),
    ],
)
def test_refused(survey, changes, code):
    """A day that is missing or before the survey is refused, at as_of: no clock is read."""
    with pytest.raises(NotApplicableError) as refused:
        survey([BOTTOM], **changes)
    assert [fault[:2] for fault in refused.value.faults] == [(code, ("as_of",))]


def test_arguments_are_not_changed(survey):
    """The survey that was sent is as it was."""
    sent = [dict(BOTTOM), dict(CABIN)]
    plating = [{"zone": "baseplate", "original_mm": 9.0}]
    survey(sent, plating=plating)
    assert sent == [BOTTOM, CABIN]
    assert plating == [{"zone": "baseplate", "original_mm": 9.0}]


def test_twenty_thousand_readings(survey, whole):
    """The most readings that are taken, as a gauge of tenths scatters, are all told, and pass."""
    scatter = np.random.default_rng(2).normal(0, 0.25, 20_000)
    many = [
        {**whole[index % len(whole)], "id": f"r{index}", "plate_mm": round(5.6 + scatter[index], 1)} for index in range(20_000)
    ]
    answer = survey(many).result
    assert (len(answer.readings.id), answer.verdict) == (20_000, Verdict.NO_LIMIT_BROKEN)
