"""Rules and rule sets as data: what contradicts itself is refused, and a digest is of the content."""

from dataclasses import replace

import pytest

from platemargin.errors import RuleSetError
from platemargin.reference import REFERENCES, Reference
from platemargin.rules import MinimumContent, Rule, RuleSet, Verdict

SOURCE = Reference(id="terms", title="Terms of an invented insurer", year=2024, clause="3", basis="published")
RULE = Rule(id="thin", quantity="residual_mm", at_least=4.0, severity="act", statement="Thin.", reference="terms")
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
