"""Readings against the limits of rule sets and of the caller's own rules."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from platemargin.declared import Arguments, Assumption, Fault, Place, refuse
from platemargin.errors import RuleSetError
from platemargin.judged import LIMIT_WORKING, Judged, RuleResult, judge
from platemargin.judged_findings import JUDGED_FINDINGS, found_in, withheld
from platemargin.readings import READING_ASSUMED, READING_FAULTS, STATION_FAULT, Reading, reading_table
from platemargin.residual_thickness import WORKING as THICKNESS_WORKING
from platemargin.rules import RULE_EXPOSURES, Rule, RuleSet, Verdict

__all__ = [
    "ASSUMED",
    "FAULTS",
    "FINDINGS",
    "RULE_ASSUMED",
    "RULE_FAULTS",
    "WORKING",
    "ThresholdCheck",
    "inline_rules",
    "threshold_check",
]


@dataclass(frozen=True, kw_only=True)
class ThresholdCheck:
    """The verdict, rule by rule."""

    verdict: Verdict
    rules: tuple[RuleResult, ...]
    readings_count: int
    outside_count: int
    holed_count: int
    judged: Judged


def inline_rules(rules: Sequence[Mapping[str, Any]]) -> tuple[Rule, ...]:
    """Return the caller's own rules.

    Raises
    ------
    RuleSetError
        For one that contradicts itself.
    """
    return tuple(
        Rule(
            **{
                **rule,
                "exposures": tuple(rule.get("exposures", RULE_EXPOSURES)),
                "zones": None if rule.get("zones") is None else tuple(rule["zones"]),
            }
        )
        for rule in rules
    )


def _contradicting_rules(arguments: Arguments) -> Iterable[Place]:
    for index, rule in enumerate(arguments["rules"]):
        try:
            inline_rules([rule])
        except RuleSetError as error:
            yield Place(path=(index,), values={"error": str(error)})


def _rules_of_one_id(arguments: Arguments) -> Iterable[Place]:
    ids = [rule["id"] for rule in arguments["rules"]]
    for index, name in enumerate(ids):
        if name in ids[:index]:
            yield Place(path=(index, "id"), values={"id": name})


RULE_FAULTS = (
    Fault(field="rules", code="rule_contradicts_itself", message="{error}", broken=_contradicting_rules),
    Fault(
        field="rules",
        code="id_not_unique",
        message="two rules are called {id}; give each its own id",
        broken=_rules_of_one_id,
    ),
)
FAULTS = (*READING_FAULTS, STATION_FAULT, *RULE_FAULTS)
FINDINGS = JUDGED_FINDINGS
RULE_ASSUMED = (
    Assumption(
        field="rules[].exposures",
        value=list(RULE_EXPOSURES),
        unit=None,
        basis="a rule speaks of the plate that keeps the water out unless it says otherwise",
        when=lambda a, _: any("exposures" not in rule for rule in a["rules"]),
    ),
)
ASSUMED = (*READING_ASSUMED, *RULE_ASSUMED)
WORKING = (*THICKNESS_WORKING, *LIMIT_WORKING)


def threshold_check(
    *,
    readings: Sequence[Reading],
    rule_sets: Sequence[RuleSet],
    rules: Sequence[Mapping[str, Any]] = (),
    hull: Mapping[str, Any] | None = None,
) -> ThresholdCheck:
    """Check every reading against every limit that speaks of it.

    verdict = the worst of the rules': act, watch, not judged, no limit broken; a hole calls for action under any rule, and
    plate that every rule leaves out, or that cannot be as it was read, passes nothing. Values and limits are compared
    rounded as declared; a limit itself is not broken.

    Parameters
    ----------
    readings : sequence of Reading, 1 to 20,000
        [mm, m]; an original thickness, where one is needed, is the reading's own.
    rule_sets : sequence of RuleSet
        Whose limits are checked.
    rules : sequence of mappings, optional
        The caller's own rules, with the fields of `Rule`.
    hull : mapping, optional
        Its size [m, mm]: no station may lie beyond its `length_m`, and some limits depend on it.

    Returns
    -------
    ThresholdCheck
        A rule that met no reading, or met one that it could not check, is *not judged*.

    Raises
    ------
    NotApplicableError
        Two readings or rules of one id, a pit much deeper than its plate, a station beyond the hull, a rule that
        contradicts itself.

    Notes
    -----
    Valid for the places read, no others. A zone that nobody knows counts as under water.

    Examples
    --------
    >>> from platemargin.rule_sets.trade_practice import rule_set
    >>> check = threshold_check(readings=[{"zone": "side", "plate_mm": 4.6, "pit_depth_mm": 0.6}], rule_sets=[rule_set])
    >>> check.verdict.name
    'NO_LIMIT_BROKEN'

    References
    ----------
    residual-datum, gauge-uncertainty, zone-exposure; and those that the rule sets bring
    """
    arguments = dict(locals())
    refuse(FAULTS, arguments)
    judged = judge(reading_table(readings), rule_sets, inline_rules(rules), hull=hull)
    draft = ThresholdCheck(
        verdict=judged.verdict,
        rules=judged.rule_results(),
        readings_count=len(judged.table),
        outside_count=int(judged.outside.sum()),
        holed_count=int(judged.holed.sum()),
        judged=judged,
    )
    return replace(draft, verdict=withheld(draft.verdict, found_in(FINDINGS, arguments, draft)))
