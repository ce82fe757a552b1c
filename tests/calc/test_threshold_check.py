"""Verdicts: what a limit judges, what it does not, and that silence is never a pass."""

from dataclasses import replace
from math import isnan
from string import Formatter

import pytest

from platemargin.declared import substituted
from platemargin.errors import NotApplicableError
from platemargin.judged import LIMIT_WORKING, judge
from platemargin.readings import reading_table
from platemargin.rules import Verdict
from platemargin.threshold_check import inline_rules

SOUND, WATCHED, THIN = 4.0, 3.9, 3.4


def reading(plate_mm, zone="side", **members):
    """Return a reading."""
    return {"zone": zone, "plate_mm": plate_mm, **members}


# -- the limit --


@pytest.mark.parametrize(
    ("plates", "verdict"),
    [
        ([SOUND], Verdict.NO_LIMIT_BROKEN),
        ([SOUND, WATCHED], Verdict.WATCH),
        ([3.5], Verdict.WATCH),
        ([THIN, SOUND, WATCHED], Verdict.ACT),
    ],
)
def test_the_worst_rule_decides(check, plates, verdict):
    """The verdict is the worst of the rules', whatever the others say."""
    assert check(*(reading(plate) for plate in plates)).result.verdict == verdict


@pytest.mark.parametrize(
    ("quantity", "bound", "members", "broken"),
    [
        ("residual_mm", {"at_least": 4.0}, {"plate_mm": 4.6, "pit_depth_mm": 0.6}, False),
        ("residual_mm", {"at_least": 4.0}, {"plate_mm": 4.6, "pit_depth_mm": 0.7}, True),
        ("plate_mm", {"at_least": 4.6}, {"plate_mm": 4.6, "pit_depth_mm": 2.0}, False),
        ("plate_mm", {"at_least": 4.7}, {"plate_mm": 4.6, "pit_depth_mm": 2.0}, True),
        ("plate_mm", {"at_most": 4.5}, {"plate_mm": 4.6}, True),
        ("pit_depth_mm", {"at_most": 2.0}, {"plate_mm": 4.6, "pit_depth_mm": 2.0}, False),
        ("pit_depth_mm", {"at_most": 1.9}, {"plate_mm": 4.6, "pit_depth_mm": 2.0}, True),
        ("loss_percent", {"at_most": 20.0}, {"plate_mm": 4.8, "original_mm": 6.0}, False),
        ("loss_percent", {"at_most": 20.0}, {"plate_mm": 4.799, "original_mm": 6.0}, True),
    ],
)
def test_a_limit_itself_is_not_broken(check, rule, quantity, bound, members, broken):
    """CONTRACT: at_least and at_most include the limit, on every quantity."""
    answer = check({"zone": "side", **members}, rules=[rule(quantity=quantity, **bound)], rule_sets=[]).result
    assert answer.verdict == (Verdict.ACT if broken else Verdict.NO_LIMIT_BROKEN)
    assert (answer.rules[0].margin < 0) is broken


def test_margin_and_reading_that_governs(check):
    """CONTRACT: the governing reading has the smallest margin, ties to the first."""
    answer = check(reading(5.0), reading(3.8, id="a"), reading(3.8, id="b"), reading(4.4, pit_depth_mm=0.6, id="c")).result
    first = answer.rules[0]
    assert (first.margin, first.governing_reading, first.governing_reading_index) == (-0.2, "a", 1)
    assert (first.checked_count, first.broken_count) == (4, 3)


def test_a_tie_in_binary_alone_goes_to_the_first(check):
    """4.6 - 0.6 is 3.9999999999999996 and 4.0 is 4.0: as declared they tie, and the first governs."""
    answer = check(reading(4.0, id="first"), reading(4.6, pit_depth_mm=0.6, id="second")).result
    assert answer.rules[0].governing_reading == "first"


def test_rules_are_told_in_order_with_their_source(check, rule):
    """Every rule is told: those of the rule sets in order, then the caller's own, with no rule set."""
    answer = check(reading(5.0), rules=[rule(id="mine")]).result
    assert [(told.id, told.rule_set) for told in answer.rules] == [
        ("least-plate-watch", "trade-practice"),
        ("least-plate-act", "trade-practice"),
        ("mine", None),
    ]


@pytest.mark.parametrize(
    ("limit", "unit"),
    [
        ({"quantity": "residual_mm", "at_least": 4.0}, "mm"),
        ({"quantity": "plate_mm", "at_least": 4.0}, "mm"),
        ({"quantity": "pit_depth_mm", "at_most": 0.9}, "mm"),
        ({"quantity": "loss_percent", "at_most": 40.0}, "%"),
    ],
)
def test_a_rule_is_told_as_it_was_sent(check, rule, limit, unit):
    """Its words, source, quantity and limit come back with the outcome; the unit is its quantity's. A caller's may clear."""
    sent = rule(**limit, id="mine", severity="watch", statement="Look again.", reference="survey terms")
    (told,) = check(reading(4.8, pit_depth_mm=1.0, original_mm=6.0), rules=[sent], rule_sets=[]).result.rules
    (bound,) = limit.keys() - {"quantity"}
    assert (told.id, told.severity, told.statement, told.reference) == ("mine", "watch", "Look again.", "survey terms")
    assert (told.quantity, told.bound, told.limit, told.unit) == (limit["quantity"], bound, limit[bound], unit)
    assert told.may_clear is True


# -- where it applies --


def test_cabin_side_breaks_no_underwater_limit(check):
    """Issue: a 4 mm cabin side at 3.9 mm breaks no underwater limit."""
    answer = check(reading(3.9, zone="cabin-side", original_mm=4.0), reading(5.0))
    assert answer.result.verdict == Verdict.NO_LIMIT_BROKEN
    ((_, sentence),) = answer.found["readings_outside_rules"]
    assert sentence.startswith("1 of 2 readings ")


def test_cabin_side_alone_is_not_judged(check):
    """CONTRACT: readings outside every rule's exposures are counted and told; nothing else read: not_judged."""
    answer = check(reading(3.9, zone="cabin-side"), reading(2.0, zone="roof")).result
    assert (answer.verdict, answer.outside_count) == (Verdict.NOT_JUDGED, 2)
    assert {told.verdict for told in answer.rules} == {Verdict.NOT_JUDGED}
    assert {(told.margin, told.governing_reading, told.governing_reading_index) for told in answer.rules} == {
        (None, None, None)
    }


@pytest.mark.parametrize("zone", ["cabinside", "roofs", "Cabin-Side", "basepalte", "mystery"])
def test_misspelt_zone_counts_as_immersed(check, zone):
    """CONTRACT: a misspelt zone never escapes a limit, whatever it may have meant, and is told."""
    answer = check(reading(3.4, zone=zone))
    assert answer.result.verdict == Verdict.ACT
    assert "unknown_zone" in answer.found


def test_misspelt_zone_does_not_escape_a_rule_of_that_zone(check, rule):
    """CONTRACT: nor does it escape a limit on the one zone that it is most like."""
    own = rule(zones=["baseplate"])
    answer = check(reading(6.0, zone="baseplate"), reading(2.0, zone="basepalte"), rules=[own], rule_sets=[]).result
    assert answer.verdict == Verdict.ACT
    assert answer.rules[0].checked_count == 2


def test_a_rule_of_one_zone_leaves_others_out(check, rule):
    """A rule on named zones judges those alone, the caller's own names with them; what it leaves out passes nothing."""
    own = rule(zones=["baseplate", "bow locker"])
    named = [reading(6.0, zone="baseplate"), reading(5.0, zone="bow locker", exposure="immersed")]
    alone = check(*named, rules=[own], rule_sets=[]).result
    assert (alone.verdict, alone.rules[0].checked_count) == (Verdict.NO_LIMIT_BROKEN, 2)
    answer = check(*named, reading(2.0, zone="side"), rules=[own], rule_sets=[])
    assert (answer.result.verdict, answer.result.rules[0].checked_count) == (Verdict.NOT_JUDGED, 2)
    assert [path for path, _ in answer.found["readings_excluded"]] == [("readings", 2)]


@pytest.mark.parametrize(
    ("named", "read", "met"),
    [
        ("baseplate", "basepalte", True),  # the reading is misspelt
        ("basepalte", "baseplate", True),  # the rule is
        ("basepalte", "basepalte", True),
        ("baseplate", "mystery", True),  # like nothing known: it may be
        ("baseplate", "siide", False),  # like another
        ("baseplate", "side", False),
        ("bow locker", "bow locker", True),
        ("bow locker", "side", False),
    ],
)
def test_whom_a_rule_of_one_zone_meets(check, rule, named, read, met):
    """CONTRACT: a misspelt zone, the rule's or the reading's, never escapes the limit of the zone that it may be."""
    answer = check(reading(2.0, zone=read), rules=[rule(zones=[named])], rule_sets=[]).result
    assert answer.verdict == (Verdict.ACT if met else Verdict.NOT_JUDGED)


def test_a_zone_that_another_rule_names_is_not_misspelt(check, rule):
    """A name that any rule states is the caller's own: rules on other zones leave it to that one."""
    rules = [rule(id="bottom", zones=["baseplate"]), rule(id="locker", zones=["locker"], at_least=2.0)]
    answer = check(
        reading(3.0, zone="locker", exposure="immersed"), reading(6.0, zone="baseplate"), rules=rules, rule_sets=[]
    ).result
    assert [told.checked_count for told in answer.rules] == [1, 1]
    assert answer.verdict == Verdict.NO_LIMIT_BROKEN


@pytest.mark.parametrize(
    ("exposure", "verdict"),
    [
        ("immersed", Verdict.ACT),
        ("waterline", Verdict.ACT),
        ("topside", Verdict.NOT_JUDGED),
        ("superstructure", Verdict.NOT_JUDGED),
        ("internal", Verdict.NOT_JUDGED),
    ],
)
def test_a_readings_own_exposure_overrides_its_zones(check, exposure, verdict):
    """A reading says itself where it stands; a name so explained is not unknown."""
    answer = check(reading(3.0, zone="bow locker", exposure=exposure))
    assert answer.result.verdict == verdict
    assert "unknown_zone" not in answer.found


def test_a_rule_may_speak_of_other_exposures(check, rule):
    """A caller's rule applies where it says: here above the water."""
    own = rule(exposures=["superstructure"], at_least=3.0)
    answer = check(reading(2.9, zone="roof"), reading(2.0), rules=[own], rule_sets=[]).result
    assert (answer.verdict, answer.rules[0].governing_reading_index) == (Verdict.ACT, 0)


# -- what cannot be judged --


def test_a_rule_that_met_no_reading_is_not_judged(check, rule):
    """CONTRACT: a rule that met no reading is not_judged, and not_judged outranks no_limit_broken."""
    answer = check(reading(9.0), rules=[rule(zones=["rudder"])])
    assert answer.result.verdict == Verdict.NOT_JUDGED
    assert answer.result.rules[-1].verdict == Verdict.NOT_JUDGED
    ((_, sentence),) = answer.found["rule_not_judged"]
    assert "rule own " in sentence
    assert "nothing was read" in sentence


def test_no_rule_judges_nothing(check):
    """No rule at all: not judged, and told."""
    answer = check(reading(9.0), rule_sets=[])
    assert (answer.result.verdict, answer.result.rules) == (Verdict.NOT_JUDGED, ())
    assert "no_rules" in answer.found


def test_unknown_original(check, rule_sets):
    """CONTRACT: original_mm unknown: rules that need it are not_judged, absolute ones still judge."""
    both = [rule_sets["trade-practice"], rule_sets["loss-fraction"]]
    answer = check(reading(5.0), rule_sets=both).result
    assert [told.verdict for told in answer.rules] == [
        Verdict.NO_LIMIT_BROKEN,
        Verdict.NO_LIMIT_BROKEN,
        Verdict.NOT_JUDGED,
        Verdict.NOT_JUDGED,
    ]
    assert answer.verdict == Verdict.NOT_JUDGED
    assert check(reading(3.0), rule_sets=both).result.verdict == Verdict.ACT


def test_one_unknown_original_among_many(check, rule_sets):
    """One reading that a rule met and could not check keeps it from passing; one that breaks it is not silenced."""
    known = reading(9.0, original_mm=10.0)
    limits = [rule_sets["loss-fraction-light"]]
    assert check(known, rule_sets=limits).result.verdict == Verdict.NO_LIMIT_BROKEN
    unsure = check(known, reading(9.0), rule_sets=limits)
    assert unsure.result.verdict == Verdict.NOT_JUDGED
    assert (unsure.result.rules[0].checked_count, unsure.result.rules[0].not_checked_count) == (1, 1)
    assert "1 of its readings" in unsure.found["rule_not_judged"][0][1]
    assert check(reading(8.0, original_mm=10.0), reading(9.0), rule_sets=limits).result.verdict == Verdict.ACT


@pytest.mark.parametrize(
    ("original_mm", "verdict"),
    [
        (5.999, Verdict.NOT_JUDGED),
        (6.0, Verdict.ACT),
        (8.0, Verdict.ACT),
        (8.001, Verdict.NOT_JUDGED),
        (None, Verdict.NOT_JUDGED),
    ],
)
def test_rule_for_an_original_thickness(check, rule, original_mm, verdict):
    """A rule may speak of plate of some thicknesses alone, ends included; of unknown plate it cannot say."""
    own = rule(original_at_least_mm=6.0, original_at_most_mm=8.0)
    told = {} if original_mm is None else {"original_mm": original_mm}
    answer = check(reading(3.0, **told), rules=[own], rule_sets=[]).result
    assert answer.verdict == verdict
    assert answer.rules[0].not_checked_count == (original_mm is None)


@pytest.mark.parametrize("bound", [{"original_at_least_mm": 6.0}, {"original_at_most_mm": 8.0}])
def test_rule_for_a_bounded_original_cannot_judge_unknown_plate(check, rule, bound):
    """One bound is enough: whether the rule speaks of plate of unknown original nobody knows."""
    answer = check(reading(9.0), rules=[rule(**bound)], rule_sets=[]).result
    assert (answer.verdict, answer.rules[0].not_checked_count) == (Verdict.NOT_JUDGED, 1)


@pytest.mark.parametrize(
    ("own", "why"),
    [
        ({"exposures": ["superstructure"]}, "superstructure"),
        ({"zones": ["rudder"]}, "zones"),
        ({"original_at_most_mm": 4.0}, "original thickness"),
    ],
)
def test_why_a_rule_judged_nothing(check, rule, own, why):
    """A rule that met nothing is told why: by what it speaks of it leaves the readings out."""
    told = check(reading(9.0, original_mm=10.0), rules=[rule(**own)]).found["rule_not_judged"]
    assert why in told[0][1]


def test_an_unmeasured_pit_is_no_shallow_one(check, rule):
    """A pit that nobody measured does not pass a limit on pits."""
    own = rule(quantity="pit_depth_mm", at_most=2.0)
    measured, unmeasured = reading(6.0, pit_depth_mm=1.0), reading(6.0)
    assert check(measured, rules=[own], rule_sets=[]).result.verdict == Verdict.NO_LIMIT_BROKEN
    assert check(unmeasured, rules=[own], rule_sets=[]).result.verdict == Verdict.NOT_JUDGED
    assert check(measured, unmeasured, rules=[own], rule_sets=[]).result.verdict == Verdict.NOT_JUDGED


@pytest.mark.parametrize(
    ("plate_mm", "checked", "verdict"),
    [(3.999, 1, Verdict.ACT), (4.0, 0, Verdict.NOT_JUDGED), (4.5, 0, Verdict.NOT_JUDGED), (9.0, 0, Verdict.NOT_JUDGED)],
)
def test_readings_that_may_be_too_thick_break_a_limit_and_keep_none(rule, plate_mm, checked, verdict):
    """Where a coating may count as steel, less than the limit is less; the limit itself, or more, says nothing."""
    judged = judge(reading_table([reading(plate_mm)]), [], inline_rules([rule()]), trusted=False)
    assert (judged.verdict, judged.rule_results()[0].checked_count) == (verdict, checked)


def test_each_readings_own_verdict(check, rule_sets):
    """Each reading has its own: the worst that it breaks, else not judged where any rule met it and could not check it."""
    limits = [rule_sets["trade-practice"], rule_sets["loss-fraction"]]
    sent = [
        reading(5.0, original_mm=6.0),
        reading(3.9, original_mm=4.0),
        reading(3.0, original_mm=3.2),
        reading(5.0),
        reading(3.0, zone="roof"),
        reading(3.9),
    ]
    assert list(check(*sent, rule_sets=limits).result.judged.verdicts) == [
        Verdict.NO_LIMIT_BROKEN,
        Verdict.WATCH,
        Verdict.ACT,
        Verdict.NOT_JUDGED,
        Verdict.NOT_JUDGED,
        Verdict.WATCH,
    ]


# -- what is told --


@pytest.mark.parametrize(("original_mm", "found"), [(4.0, True), (3.8, True), (4.001, False)])
def test_limit_that_is_not_meaningful(check, original_mm, found):
    """CONTRACT: a limit at or above the original is a `limit_not_meaningful` finding."""
    assert ("limit_not_meaningful" in check(reading(3.8, original_mm=original_mm)).found) is found


def test_a_limit_in_percent_is_not_compared_with_a_thickness(check, rule):
    """A limit on a loss is no thickness: 20 % is not above an original of 10 mm."""
    own = rule(quantity="loss_percent", at_least=20.0)
    assert "limit_not_meaningful" not in check(reading(5.0, original_mm=10.0), rules=[own], rule_sets=[]).found


def test_limit_above_the_water_is_not_compared(check):
    """A limit is compared with the original of plate that it judges, no other."""
    answer = check(reading(3.9, zone="cabin-side", original_mm=4.0), reading(5.0, original_mm=6.0))
    assert "limit_not_meaningful" not in answer.found


def test_sentence_on_a_broken_limit(check):
    """The sentence has the counts, the limit, the worst value and where it is."""
    (act,) = check(reading(3.4, id="s7", pit_depth_mm=0.3), reading(3.2), reading(9.0)).found["act_limit_broken"]
    assert act[0] == ("readings", 0)
    for figure in ("below the limit of 3.5 mm", "(least-plate-act)", "2 of 3", "3.1 mm", "reading s7 in side", "renewed"):
        assert figure in act[1]


def test_sentence_on_a_loss(check, rule_sets):
    """So it has for a loss: over its limit, in percent."""
    told = check(reading(7.0, original_mm=10.0), rule_sets=[rule_sets["loss-fraction-light"]]).found["act_limit_broken"]
    for figure in ("over the limit of 15 %", "(local-loss-light-act)", "1 of 1", "30 %"):
        assert figure in told[0][1]


def test_worst_value_is_the_readings_own(check, rule):
    """The worst value told is the reading's, also where the limit has more decimals than are declared."""
    told = check(reading(3.9), rules=[rule(at_least=4.0005)], rule_sets=[]).found["act_limit_broken"]
    assert "the worst is 3.9 mm" in told[0][1]


@pytest.mark.parametrize("changes", [{}, {"rule_sets": []}])
@pytest.mark.parametrize("zone", ["baseplate", "side", "roof"])
def test_hole(check, zone, changes):
    """A reading said to be holed has nothing left, whatever its plate reads: it calls for action under any rule, or none."""
    answer = check(reading(6.0), reading(6.0, zone=zone, holed=True), **changes)
    assert (answer.result.verdict, answer.result.holed_count) == (Verdict.ACT, 1)
    assert answer.result.judged.plate.residual_mm.tolist() == [6.0, 0.0]
    assert answer.result.judged.verdicts[1] == Verdict.ACT
    assert [path for path, _ in answer.found["holed"]] == [("readings", 1)]


def test_overplate(check):
    """CONTRACT: an overplate's reading says nothing of the shell beneath, told once for a zone."""
    over, shell = reading(5.0, layer="overplate"), reading(5.0)
    both = check(over, over, shell)
    assert [path for path, _ in both.found["overplate_hides_shell"]] == [("readings", 0)]
    assert "readings: 2" in both.found["overplate_hides_shell"][0][1]
    assert both.result.verdict == Verdict.NO_LIMIT_BROKEN


def test_overplate_alone_passes_nothing(check):
    """Where only the overplate was read nothing is known of the shell: silence is never a pass."""
    alone = check(reading(5.0, layer="overplate"), reading(5.0, zone="swim"))
    assert alone.result.verdict == Verdict.NOT_JUDGED
    assert {"shell_unread_under_overplate"} <= set(alone.found)
    assert "overplate_hides_shell" not in alone.found


@pytest.mark.parametrize(
    ("members", "code"),
    [
        ({"plate_mm": 11.201, "original_mm": 10.0}, "plate_over_mill_tolerance"),  # EN 10029 class A, and 2 x 0.15 mm
        ({"plate_mm": 11.2, "original_mm": 10.0}, None),
        ({"plate_mm": 9.0, "zone": "baseplate", "exposure": "superstructure"}, "exposure_contradicts_zone"),
        ({"plate_mm": 9.0, "zone": "basepalte", "exposure": "internal"}, "exposure_contradicts_zone"),
        ({"plate_mm": 9.0, "zone": "side", "exposure": "topside"}, None),
    ],
)
def test_reading_that_cannot_be_as_sent(check, members, code):
    """What cannot be as it was read or named passes nothing, and is told."""
    answer = check(reading(5.0), {"zone": "side", **members})
    assert {"plate_over_mill_tolerance", "exposure_contradicts_zone"} & set(answer.found) == ({code} if code else set())
    assert answer.result.verdict == (Verdict.NOT_JUDGED if code else Verdict.NO_LIMIT_BROKEN)


@pytest.mark.parametrize(
    ("members", "code"),
    [
        ({"plate_mm": 20.0}, None),
        ({"plate_mm": 20.1}, "plate_unusually_thick"),
        ({"plate_mm": 24.0, "original_mm": 25.0}, None),  # its original is known: it is as thick as that
        ({"plate_mm": 42.0}, "plate_unusually_thick"),
        ({"plate_mm": 42.1}, "plate_implausible"),
        ({"plate_mm": 98.0}, "plate_implausible"),
    ],
)
def test_plate_of_no_inland_hull(check, members, code):
    """A lost decimal point makes no thick plate: it is told."""
    answer = check({"zone": "side", **members})
    assert {"plate_unusually_thick", "plate_implausible"} & set(answer.found) == ({code} if code else set())


@pytest.mark.parametrize(
    ("limit", "unusual"),
    [
        ({"quantity": "residual_mm", "at_least": 4.0}, False),
        ({"quantity": "residual_mm", "at_least": 0.4}, True),
        ({"quantity": "residual_mm", "at_least": 0.5}, False),
        ({"quantity": "residual_mm", "at_most": 9.0}, True),
        ({"quantity": "loss_percent", "at_least": 5.0}, True),
        ({"quantity": "loss_percent", "at_most": 90.0}, False),
        ({"quantity": "pit_depth_mm", "at_least": 0.1}, True),
    ],
)
def test_unusual_limit(check, rule, limit, unusual):
    """A limit on the good side, or too thin for any gauge, is a slip: it is told, and nothing is passed by it."""
    sound = reading(5.0, original_mm=6.0, pit_depth_mm=0.2)
    answer = check(sound, rules=[rule(**limit)], rule_sets=[])
    assert ("rule_unusual" in answer.found) is unusual
    assert answer.result.verdict == (Verdict.NOT_JUDGED if unusual else Verdict.NO_LIMIT_BROKEN)


def test_unknown_zone_is_told_once(check):
    """An unknown name is told at its first reading, with the nearest known one where there is one."""
    told = check(reading(9.0, zone="siide"), reading(9.0, zone="siide"), reading(9.0, zone="mast")).found["unknown_zone"]
    assert [path for path, _ in told] == [("readings", 0, "zone"), ("readings", 2, "zone")]
    assert "the nearest known name is side" in told[0][1]
    assert "nearest" not in told[1][1]


@pytest.mark.parametrize(
    ("limit", "unit", "value", "margin"),
    [
        ({"quantity": "residual_mm", "at_least": 4.0}, "mm", 3.8, -0.2),
        ({"quantity": "plate_mm", "at_least": 4.0}, "mm", 4.8, 0.8),
        ({"quantity": "pit_depth_mm", "at_most": 0.9}, "mm", 1.0, -0.1),
        ({"quantity": "loss_percent", "at_most": 40.0}, "%", 36.67, 3.33),
    ],
)
def test_working_of_the_limit_that_governs(check, rule, limit, unit, value, margin):
    """One line works the margin of the governing reading from its value and the limit, citing the rule's own source."""
    answer = check(reading(4.8, pit_depth_mm=1.0, original_mm=6.0), rules=[rule(**limit)], rule_sets=[]).result
    outcome, index = answer.judged.governing
    figures = answer.judged.figures(index, outcome)
    (line,) = (
        step
        for step in LIMIT_WORKING
        if {name for _, name, _, _ in Formatter().parse(step.substituted) if name} <= set(figures) and step.when(figures)
    )
    left, _, right = substituted(line, figures).partition(" - ")
    assert float(left) - float(right) == pytest.approx(figures[line.value]) == pytest.approx(margin)
    assert (line.unit, figures["rule_value"], line.reference(figures)) == (unit, value, "own")


def test_figures_of_a_reading_and_of_the_rule_that_judged_it(check, rule):
    """By hand: 4.8 - 1.0 = 3.8 mm of 6 mm; 2.2 mm lost, 36.67 %, 1.2 mm (20 %) generally and 45.45 % of it by the pit."""
    plate = {"original_mm": 6.0, "plate_mm": 4.8, "residual_mm": 3.8, "loss_mm": 2.2, "loss_percent": 36.67}
    parts = {"general_loss_mm": 1.2, "general_loss_percent": 20.0, "pit_depth_mm": 1.0, "pit_share_percent": 45.45}
    limit = {"rule_value": 3.8, "rule_margin": -0.2, "rule_at_least": 4.0, "rule_unit": "mm", "rule_reference": "own"}
    judged = check(reading(4.8, pit_depth_mm=1.0, original_mm=6.0), rules=[rule()], rule_sets=[]).result.judged
    assert judged.figures(0, None) == plate | parts
    assert judged.figures(0, judged.outcomes[0]) == plate | parts | limit


def test_figures_of_a_reading_have_no_gaps(check):
    """What is unknown of a reading is left out of its figures."""
    answer = check(reading(4.8)).result
    figures = answer.judged.figures(0, None)
    assert figures == {"plate_mm": 4.8, "residual_mm": 4.8, "pit_depth_mm": 0.0}


# -- what is refused --


@pytest.mark.parametrize(
    ("readings", "changes", "code", "path"),
    [
        ([reading(5.0, id="a"), reading(5.0, id="a")], {}, "id_not_unique", ("readings", 1, "id")),
        ([reading(5.0, id="1"), reading(5.0)], {}, "id_not_unique", ("readings", 1, "id")),  # its index is its name
        ([reading(5.0, pit_depth_mm=5.6)], {}, "pit_deeper_than_plate", ("readings", 0, "pit_depth_mm")),
        ([reading(5.0, station_m=17.6)], {"hull": {"length_m": 17.5}}, "station_beyond_hull", ("readings", 0, "station_m")),
    ],
)
def test_refused_readings(check, readings, changes, code, path):
    """Readings that cannot be are refused, by code, at the member to change."""
    with pytest.raises(NotApplicableError) as refused:
        check(*readings, **changes)
    assert [fault[:2] for fault in refused.value.faults] == [(code, path)]


def test_refused_rules(check, rule):
    """So are rules of one name, and rules that contradict themselves, all at once."""
    twice = [rule(), rule(), rule(id="both", at_most=5.0, at_least=4.0)]
    with pytest.raises(NotApplicableError) as refused:
        check(reading(5.0), rules=twice)
    assert {fault[:2] for fault in refused.value.faults} == {
        ("id_not_unique", ("rules", 1, "id")),
        ("rule_contradicts_itself", ("rules", 2)),
    }


def test_station_at_the_stern_is_on_the_hull(check):
    """The stern itself is on the hull."""
    assert check(reading(5.0, station_m=17.5), hull={"length_m": 17.5}).result.readings_count == 1


# -- limits that follow from the hull, and that never clear --

#: 3.142 mm of bottom and side, 3.927 of the chine; locally 2.827 and 3.534 (tests/published/test_es_trin.py).
LONG = {"length_m": 21.336, "draught_m": 0.75, "frame_spacing_mm": 600.0}
#: The hull tells what the limits need, or it does not.
TOLD = [{}, {"frame_spacing_mm": None}]


@pytest.fixture
def benchmark(rule_sets):
    """Return the benchmark that ships."""
    return rule_sets["inland-vessel-benchmark"]


@pytest.mark.parametrize(
    ("zone", "members", "broken"),
    [
        ("side", {"plate_mm": 3.142}, []),
        ("side", {"plate_mm": 3.141}, ["inland-vessel-side"]),
        ("transom", {"plate_mm": 3.2, "pit_depth_mm": 0.373}, []),
        ("stem", {"plate_mm": 3.2, "pit_depth_mm": 0.374}, ["inland-vessel-side-local"]),
        ("baseplate", {"plate_mm": 3.0, "pit_depth_mm": 0.5}, ["inland-vessel-bottom", "inland-vessel-bottom-local"]),
        ("counter", {"plate_mm": 3.5}, []),
        ("swim", {"plate_mm": 3.1}, ["inland-vessel-bottom"]),
        ("chine", {"plate_mm": 3.927}, []),
        ("chine", {"plate_mm": 3.926}, ["inland-vessel-bilge"]),
        ("chine", {"plate_mm": 4.0, "pit_depth_mm": 0.467}, ["inland-vessel-bilge-local"]),
        ("rudder", {"plate_mm": 2.0}, []),
        ("roof", {"plate_mm": 2.0}, []),
        ("side", {"plate_mm": 3.0, "exposure": "topside"}, []),
        ("chnie", {"plate_mm": 3.9}, ["inland-vessel-bilge"]),
        ("mystery", {"plate_mm": 3.9}, ["inland-vessel-bilge"]),
    ],
)
def test_which_plate_breaks_the_benchmark(check, benchmark, zone, members, broken):
    """Beside the pits the whole thickness, under them nine tenths; a zone that nobody knows escapes none of its limits."""
    answer = check({"zone": zone, **members}, rule_sets=[benchmark], hull=LONG)
    assert [told.id for told in answer.result.rules if told.broken_count] == broken
    assert answer.result.verdict == (Verdict.WATCH if broken else Verdict.NOT_JUDGED)
    assert ("watch_limit_broken" in answer.found) == bool(broken)


@pytest.mark.parametrize("plate_mm", [3.2, 5.8, 40.0])
@pytest.mark.parametrize("changes", TOLD)
def test_a_benchmark_alone_clears_nothing(check, benchmark, plate_mm, changes):
    """Kept, or not known: not judged, of the whole, of every rule and of every reading; and the answer says why."""
    answer = check(reading(plate_mm), reading(plate_mm, "chine"), rule_sets=[benchmark], hull={**LONG, **changes})
    result = answer.result
    broken = plate_mm < 3.9 and not changes
    assert result.verdict == (Verdict.WATCH if broken else Verdict.NOT_JUDGED)
    assert {told.verdict for told in result.rules} <= {Verdict.NOT_JUDGED, Verdict.WATCH}
    assert Verdict.NO_LIMIT_BROKEN not in result.judged.verdicts
    assert not any(told.may_clear for told in result.rules)
    assert "rule_set_passes_nothing" in answer.found
    assert "rule_not_judged" not in answer.found


@pytest.mark.parametrize("changes", TOLD)
@pytest.mark.parametrize("plates", [[5.8], [3.9, 5.8], [3.4], [4.0, 4.0]])
def test_a_benchmark_beside_other_limits_adds_only_what_breaks_it(check, rule_sets, benchmark, plates, changes):
    """Where it is kept every verdict is what it was; where it cannot judge it withholds a pass; the same reading governs."""
    readings = [reading(plate, pit_depth_mm=0.1) for plate in plates]
    without = check(*readings).result
    together = check(*readings, rule_sets=[rule_sets["trade-practice"], benchmark], hull={**LONG, **changes}).result
    assert together.verdict == max(without.verdict, Verdict.NOT_JUDGED if changes else Verdict.NO_LIMIT_BROKEN)
    assert list(together.judged.verdicts) == list(without.judged.verdicts)
    assert together.rules[: len(without.rules)] == without.rules
    (alone, first), (beside, second) = without.judged.governing, together.judged.governing
    assert (alone.rule, first) == (beside.rule, second)


def test_a_benchmark_that_is_kept_decides_nothing_however_near_it_is(check, rule_sets, benchmark):
    """Plate 0.26 mm over its 5.339 mm, and 1.5 mm over the trade's 4 mm: that is what passed it."""
    sets = [benchmark, rule_sets["trade-practice"]]
    large = {"length_m": 38.0, "draught_m": 1.6, "frame_spacing_mm": 600.0}
    result = check(reading(5.6, "chine", pit_depth_mm=0.1), rule_sets=sets, hull=large).result
    assert result.verdict == Verdict.NO_LIMIT_BROKEN
    assert min(told.margin for told in result.rules if told.checked_count) == 0.261
    assert result.judged.governing[0].rule.id == "least-plate-watch"


@pytest.mark.parametrize("first", [True, False])
def test_a_benchmark_raises_what_other_limits_pass(check, rule, rule_sets, benchmark, first):
    """Plate of 2.9 mm that own terms pass is watched, in whichever order the sets are named."""
    own = [rule(at_least=2.0)]
    assert check(reading(2.9), rules=own, rule_sets=[]).result.verdict == Verdict.NO_LIMIT_BROKEN
    sets = [benchmark, rule_sets["loss-fraction"]] if first else [rule_sets["loss-fraction"], benchmark]
    answer = check(reading(2.9, original_mm=3.0), reading(5.0, original_mm=5.1), rules=own, rule_sets=sets, hull=LONG).result
    assert answer.verdict == Verdict.WATCH
    assert list(answer.judged.verdicts) == [Verdict.WATCH, Verdict.NO_LIMIT_BROKEN]
    assert answer.judged.governing[0].rule.id == "inland-vessel-side"


def test_what_other_rules_leave_out_stays_out_though_a_benchmark_reads_it(check, rule, benchmark):
    """Own terms for sides alone pass no bottom, however well the benchmark is kept there."""
    sides = [rule(zones=["side"])]
    readings = [reading(5.8), reading(9.0, "baseplate")]
    for sets in ([], [benchmark]):
        answer = check(*readings, rules=sides, rule_sets=sets, hull=LONG)
        assert answer.result.verdict == Verdict.NOT_JUDGED
        assert "readings_excluded" in answer.found
    waterline = [rule(exposures=["waterline"])]
    counts = [check(*readings, rules=waterline, rule_sets=sets, hull=LONG).result.outside_count for sets in ([], [benchmark])]
    assert counts == [1, 1]


def test_a_zone_that_only_a_benchmark_names_takes_no_reading_from_other_rules(check, rule, benchmark):
    """A name that nobody knows is met by every rule of zones; that a benchmark knows it makes it no sounder."""
    own = [rule(zones=["baseplate"])]
    of_the_bow = replace(benchmark.by_hull, rules=lambda _: (replace(benchmark.rules[0], zones=("bow",)),))
    names_it = replace(benchmark, rules=(), by_hull=of_the_bow)
    for sets in ([], [names_it]):
        assert check(reading(2.0, "bow"), rules=own, rule_sets=sets, hull=LONG).result.verdict == Verdict.ACT


def test_a_zone_that_a_benchmark_names_is_known_to_its_other_rules(check, benchmark):
    """Its limit on the baseplate says nothing of the bow, on which it has a lower one: 3.0 mm there breaks neither."""
    bottom, bow = (replace(benchmark.rules[0], id=zone, zones=(zone,)) for zone in ("baseplate", "bow"))
    limits = (replace(bottom, at_least=4.0), replace(bow, at_least=2.0))
    own = replace(benchmark, rules=(), by_hull=replace(benchmark.by_hull, rules=lambda _: limits))
    told = check(reading(3.0, "bow"), reading(3.0, "baseplate"), rule_sets=[own], hull=LONG).result.rules
    assert [(one.id, one.checked_count, one.broken_count) for one in told] == [("baseplate", 1, 1), ("bow", 1, 0)]


@pytest.mark.parametrize(
    ("hull", "lacks", "path"),
    [
        (None, "length_m, draught_m, frame_spacing_mm", ("hull", "length_m")),
        ({"length_m": 21.3}, "draught_m, frame_spacing_mm", ("hull", "draught_m")),
        ({"length_m": 21.3, "draught_m": 0.7, "frame_spacing_mm": None}, "frame_spacing_mm", ("hull", "frame_spacing_mm")),
    ],
)
def test_what_the_hull_does_not_tell(check, benchmark, hull, lacks, path):
    """What to send is told, once; no limit is made up, and none is told."""
    answer = check(reading(1.0), rule_sets=[benchmark], hull=hull)
    ((told, sentence),) = answer.found["hull_size_missing"]
    assert told == path
    assert f"send {lacks} of it" in sentence
    assert answer.result.verdict == Verdict.NOT_JUDGED
    assert all(isnan(rule.limit) and rule.checked_count == 0 and rule.margin is None for rule in answer.result.rules)
    assert "hull_outside_rule_set" not in answer.found


def test_limits_by_hull_that_may_clear_are_not_judged_where_the_hull_does_not_tell(check, benchmark):
    """A rule set of anybody's by hull that may clear passes nothing without it, and what it keeps with it."""
    own = replace(benchmark, id="own", may_clear=True)
    readings = [reading(5.8, zone) for zone in ("side", "baseplate", "chine")]
    assert check(*readings, rule_sets=[own], hull=LONG).result.verdict == Verdict.NO_LIMIT_BROKEN
    answer = check(*readings, rule_sets=[own])
    assert answer.result.verdict == Verdict.NOT_JUDGED
    assert "its limit depends on the hull" in answer.found["rule_not_judged"][0][1]
    assert "rule_set_passes_nothing" not in answer.found


@pytest.mark.parametrize(
    ("hull", "outside"),
    [
        ({}, 0),
        ({"length_m": 17.5}, 1),
        ({"length_m": 17.5, "beam_m": 2.1}, 1),
        ({"length_m": 19.0, "beam_m": 5.2, "draught_m": 1.2}, 0),
    ],
)
def test_a_hull_that_the_limits_are_not_made_for_is_told(check, benchmark, hull, outside):
    """Once, however many rules there are."""
    found = check(reading(5.8), rule_sets=[benchmark], hull={**LONG, **hull}).found
    assert len(found.get("hull_outside_rule_set", [])) == outside
