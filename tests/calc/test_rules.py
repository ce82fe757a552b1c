"""Rules and rule sets as data: what contradicts itself is refused, and a digest is of the content."""

from dataclasses import replace
from math import isnan

import pytest

from platemargin.errors import RuleSetError
from platemargin.reference import REFERENCES, Reference
from platemargin.rule_sets.inland_vessel_benchmark import rule_set as benchmark
from platemargin.rules import ByHull, MinimumContent, Rule, RuleSet, Verdict

SOURCE = Reference(id="terms", title="Terms of an invented insurer", year=2024, clause="3", basis="published")
RULE = Rule(id="thin", quantity="residual_mm", at_least=4.0, severity="act", statement="Thin.", reference="terms")
BY_BEAM = ByHull(
    needs=("beam_m",),
    formula="2 mm and 1 mm for each metre of beam",
    example={"beam_m": 2.0},
    rules=lambda hull: (replace(RULE, at_least=2.0 + hull["beam_m"]),),
)
RULE_SET = RuleSet(id="terms", version="1.0.0", title="Invented terms", rules=(RULE,), references=(SOURCE,))


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"at_least": None}, "exactly one of at_least and at_most"),
        ({"at_most": 5.0}, "exactly one of at_least and at_most"),
        ({"quantity": "weight_kg"}, "quantity 'weight_kg' is none of residual_mm"),
        ({"severity": "note"}, "severity 'note' is neither watch nor act"),
        ({"exposures": ("immersed", "underwater")}, "exposure 'underwater' is none of immersed"),
        ({"original_at_least_mm": 8.0, "original_at_most_mm": 6.0}, "original_at_least_mm is above original_at_most_mm"),
    ],
)
def test_rule_that_contradicts_itself(change, message):
    """A rule that contradicts itself is refused, naming it and what to change."""
    with pytest.raises(RuleSetError, match=message) as refused:
        replace(RULE, **change)
    assert str(refused.value).startswith("rule 'thin': ")


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"rules": ()}, "rule set 'terms' has no rule"),
        ({"rules": (RULE, replace(RULE, at_least=3.0))}, "rule set 'terms' has two rules 'thin'"),
        ({"references": ()}, "rule set 'terms' cites the reference 'terms' and does not bring it"),
    ],
)
def test_rule_set_that_contradicts_itself(change, message):
    """So is a rule set."""
    with pytest.raises(RuleSetError, match=message):
        replace(RULE_SET, **change)


def test_original_bounds_may_meet():
    """A rule may speak of one thickness alone."""
    assert replace(RULE, original_at_least_mm=6.0, original_at_most_mm=6.0).original_at_most_mm == 6.0


@pytest.mark.parametrize(
    ("change", "limit", "unit"),
    [
        ({}, 4.0, "mm"),
        ({"at_least": 0.0}, 0.0, "mm"),
        ({"at_least": None, "at_most": 25.0, "quantity": "loss_percent"}, 25.0, "%"),
    ],
)
def test_limit_and_unit(change, limit, unit):
    """The limit is the one figure given, 0 included, in the quantity's unit."""
    changed = replace(RULE, **change)
    assert (changed.limit, changed.unit) == (limit, unit)


def test_verdicts_outrank():
    """CONTRACT: act before watch before not_judged before no_limit_broken: silence is never a pass."""
    assert Verdict.ACT > Verdict.WATCH > Verdict.NOT_JUDGED > Verdict.NO_LIMIT_BROKEN


def test_digest_is_stable():
    """The same content has the same digest, whenever and wherever: this one was made outside, from
    the canonical JSON written out by hand."""
    assert RULE_SET.digest == "sha-256=:YxpWH8MwkLABtn3Rtf1mgMsvK5QVkwW8q69kDMe5+Zo=:"
    assert replace(RULE_SET).digest == RULE_SET.digest


@pytest.mark.parametrize(
    "change",
    [
        {"id": "other"},
        {"version": "1.0.1"},
        {"title": "Other terms"},
        {"rules": (replace(RULE, at_least=3.9),)},
        {"rules": (replace(RULE, severity="watch"),)},
        {"rules": (replace(RULE, statement="Thinner."),)},
        {"rules": (replace(RULE, zones=("side",)),)},
        {"references": (replace(SOURCE, clause="4"),)},
        {"materials": ("steel", "wrought_iron")},
        {"minimum_content": MinimumContent(both_sides=True)},
        {"may_clear": False},
        {"by_hull": BY_BEAM},
    ],
)
def test_digest_changes_with_the_content(change):
    """Any change of content changes the digest."""
    assert replace(RULE_SET, **change).digest != RULE_SET.digest


def test_shipped_rule_sets(rule_sets):
    """CONTRACT: trade-practice 4.0 watch and 3.5 act; loss-fraction 20 % watch and 25 % act; loss-fraction-light 15 % act."""
    told = {
        name: [(rule.quantity, rule.at_least, rule.at_most, rule.severity) for rule in rule_set.rules]
        for name, rule_set in rule_sets.items()
    }
    told.pop("inland-vessel-benchmark")  # its limits are the hull's: tests/published/test_es_trin.py
    assert told == {
        "trade-practice": [("residual_mm", 4.0, None, "watch"), ("residual_mm", 3.5, None, "act")],
        "loss-fraction": [("loss_percent", None, 20.0, "watch"), ("loss_percent", None, 25.0, "act")],
        "loss-fraction-light": [("loss_percent", None, 15.0, "act")],
    }


def test_shipped_rule_sets_are_of_steel_under_water(rule_sets):
    """CONTRACT: trade limits are of steel, immersed and at the water line; an insurer's 4 mm is common practice."""
    for rule_set in rule_sets.values():
        assert rule_set.materials == ("steel",)
        assert {rule.exposures for rule in rule_set.rules} == {("immersed", "waterline")}
        assert all(reference == REFERENCES[reference.id] for reference in rule_set.references)
    assert {reference.basis for reference in rule_sets["trade-practice"].references} == {"common_practice"}


# -- limits that follow from the hull --


def by_beam(**changes):
    """Return a set whose one limit is the beam's, with some of what it says of that changed."""
    return RuleSet(
        id="terms", version="1.0.0", title="Invented terms", references=(SOURCE,), by_hull=replace(BY_BEAM, **changes)
    )


def test_limits_by_hull_are_the_hulls():
    """The set's own rules are its example's; a hull has its own, and one that does not tell enough has none."""
    told = by_beam()
    assert [rule.limit for rule in told.rules] == [4.0]
    assert [rule.limit for rule in told.rules_for({"beam_m": 3.5, "length_m": 20.0})] == [5.5]
    for hull in (None, {}, {"length_m": 20.0}, {"beam_m": None}):
        (rule,) = told.rules_for(hull)
        assert isnan(rule.limit)
        assert replace(rule, at_least=4.0) == told.rules[0]


def test_a_limit_from_above_may_be_unknown_too():
    """It stays one from above."""
    loss = replace(RULE, quantity="loss_percent", at_least=None, at_most=20.0)
    (rule,) = by_beam(rules=lambda _: (loss,)).rules_for(None)
    assert rule.at_least is None
    assert isnan(rule.at_most)


def test_a_static_set_asks_nothing_of_the_hull():
    """Its rules are those of every hull."""
    assert RULE_SET.rules_for(None) == RULE_SET.rules_for({"beam_m": 3.0}) == RULE_SET.rules


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"needs": ("air_draught_m",)}, "'air_draught_m' is none of length_m, beam_m, draught_m, frame_spacing_mm"),
        ({"needs": ("beam_m", "length_m")}, "its example does not tell 'length_m', which it needs"),
        ({"rules": lambda _: ()}, "rule set 'terms' has no rule"),
        ({"rules": lambda _: (replace(RULE, reference="elsewhere"),)}, "cites the reference 'elsewhere' and does not bring it"),
    ],
)
def test_limits_by_hull_that_cannot_be(change, message):
    """They are refused where they are made, not when somebody's boat is judged."""
    with pytest.raises(RuleSetError, match=message):
        by_beam(**change)


def test_rules_of_its_own_beside_those_by_hull():
    """Which would hold? A copy of a set has both, and they agree."""
    assert replace(by_beam(), version="1.0.1").rules == by_beam().rules
    with pytest.raises(RuleSetError, match="has rules of its own and rules by hull"):
        replace(by_beam(), rules=(replace(RULE, at_least=3.0),))


@pytest.mark.parametrize("other", [{"severity": "watch"}, {"zones": ("side",)}, {"id": "thinner"}])
def test_of_every_hull_come_the_same_rules(other):
    """Only limits are the hull's: what is told of a hull that does not tell enough would else be a guess."""
    told = by_beam(rules=lambda hull: (replace(RULE, **(other if hull["beam_m"] > 3 else {})),))
    with pytest.raises(RuleSetError, match="of another hull come other rules than of its example"):
        told.rules_for({"beam_m": 3.5})


@pytest.mark.parametrize(
    "change",
    [
        {"formula": "2 mm and 1 mm for a metre of beam"},
        {"needs": ("beam_m", "length_m"), "example": {"beam_m": 2.0, "length_m": 9.0}},
        {"example": {"beam_m": 2.1}},
        {"rules": lambda hull: (replace(RULE, at_least=2.1 + hull["beam_m"]),)},
    ],
)
def test_digest_changes_with_limits_by_hull(change):
    """With the words, with what is needed, and with code that gives the example another limit."""
    assert by_beam(**change).digest != by_beam().digest
    assert by_beam().digest == by_beam().digest


def test_the_benchmark():
    """It watches shell plate in the water, of vessels of 20 m and more, and never clears; a rudder is no shell."""
    assert not benchmark.may_clear
    assert {rule.severity for rule in benchmark.rules} == {"watch"}
    zones = [zone for rule in benchmark.rules for zone in rule.zones]
    assert sorted(set(zones)) == ["baseplate", "chine", "counter", "side", "stem", "swim", "transom"]
    assert all(zones.count(zone) == 2 for zone in zones)  # beside the pits, and under them
    assert benchmark.by_hull.needs == ("length_m", "draught_m", "frame_spacing_mm")
    assert benchmark.by_hull.outside({"length_m": 20.0, "draught_m": 0.5, "frame_spacing_mm": 500.0}) is None
