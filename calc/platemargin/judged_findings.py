"""What is told of readings against limits, and what of it withholds a pass."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import islice
from typing import Any

import numpy as np

from platemargin.declared import Arguments, Finding, Place
from platemargin.judged import Judged, Mask
from platemargin.quantities import at_least, below, rounded
from platemargin.readings import READING_FINDINGS, ReadingTable
from platemargin.residual_thickness import over_mill_tolerance
from platemargin.rules import RuleSet, Verdict

__all__ = ["JUDGED_FINDINGS", "by_zone", "found_in", "implausible", "unusually_thick", "withheld"]

#: Inland hulls are seldom plated thicker than this [mm] (common practice): a reading over it, whose original nobody knows,
#: may have lost its decimal point or its unit.
UNUSUAL_MM = 20.0
#: No original over 40 mm is accepted here, and its mill tolerance and the gauge explain 2 mm more: a reading over it has.
IMPLAUSIBLE_MM = 42.0
#: A limit on thickness below this [mm] is no limit but a slip of the unit: no gauge reads so thin a plate.
LEAST_LIMIT_MM = 0.5

_THICKNESSES = ("residual_mm", "plate_mm")


def _judged(result: object) -> Judged:
    judged: Judged = result.judged  # type: ignore[attr-defined]
    return judged


def _broken(severity: str, result: object) -> Iterable[Place]:
    judged = _judged(result)
    for outcome in judged.outcomes:
        index = outcome.governing
        if outcome.rule.severity != severity or index is None or not outcome.broken.any():
            continue
        sign = 1 if outcome.rule.at_most is None else -1
        value = rounded(outcome.rule.limit, outcome.rule.unit) + sign * outcome.margin[index]
        values = {
            "rule": outcome.rule.id,
            "broken_count": int(outcome.broken.sum()),
            "checked_count": int(outcome.checked.sum()),
            "quantity": outcome.rule.quantity,
            "value": float(rounded(value, outcome.rule.unit)),
            "unit": outcome.rule.unit,
            "bound": "below" if outcome.rule.at_most is None else "over",
            "limit": outcome.rule.limit,
            "reading": str(judged.table.id[index]),
            "zone": str(judged.table.zone[index]),
            "meaning": outcome.rule.statement,
        }
        yield Place(path=("readings", index), values=values)


_BROKEN_VALUES = (
    "rule",
    "broken_count",
    "checked_count",
    "quantity",
    "value",
    "unit",
    "bound",
    "limit",
    "reading",
    "zone",
    "meaning",
)
_BROKEN_STATEMENT = (
    "Readings {bound} the limit of {limit} {unit} ({rule}): {broken_count} of {checked_count}; the worst is {value} {unit}, "
    "reading {reading} in {zone}. {meaning}"
)


def _not_judged(_arguments: Arguments, result: object) -> Iterable[Place]:
    # What a rule that may not clear leaves unjudged withholds nothing.
    for outcome in _judged(result).clearing:
        missed = int((outcome.met & ~outcome.checked).sum())
        if not missed and outcome.checked.any():
            continue
        if missed and np.isnan(outcome.rule.limit):
            why = "its limit depends on the hull, and what it needs of that was not told"
        elif missed:
            why = f"it could not check {missed} of its readings for want of the original, a measured pit or bare steel"
        elif not outcome.speaks.any():
            why = f"nothing was read that it speaks of: it speaks of plate that is {' or '.join(outcome.rule.exposures)}"
        else:
            why = "nothing was read in the zones, or of the original thickness, that it speaks of"
        yield Place(values={"rule": outcome.rule.id, "why": why})


def _unusual(_arguments: Arguments, result: object) -> Iterable[Place]:
    for outcome in _judged(result).outcomes:
        rule = outcome.rule
        thickness = rule.quantity in _THICKNESSES
        if thickness != (rule.at_least is not None):
            why = "limits the good side: thickness has a least, loss and pits have a most"
        elif thickness and rule.limit < LEAST_LIMIT_MM:
            why = "is thinner than any gauge reads: is its unit mm?"
        else:
            continue
        yield Place(values={"rule": rule.id, "limit": rule.limit, "unit": rule.unit, "why": why})


def _holes(_arguments: Arguments, result: object) -> Iterable[Place]:
    judged = _judged(result)
    for zone, rows in judged.table.by_zone(np.flatnonzero(judged.holed)).items():
        reading = str(judged.table.id[rows[0]])
        yield Place(path=("readings", int(rows[0])), values={"reading": reading, "zone": zone, "count": len(rows)})


def _meaningless(_arguments: Arguments, result: object) -> Iterable[Place]:
    judged = _judged(result)
    for outcome in judged.outcomes:
        if outcome.rule.at_least is None or outcome.rule.quantity not in _THICKNESSES:
            continue
        originals = judged.table.original_mm
        marked = np.flatnonzero(outcome.checked & at_least(outcome.rule.at_least, originals, "mm"))
        for zone, rows in judged.table.by_zone(marked).items():
            index = int(rows[0])
            values = {"rule": outcome.rule.id, "limit": outcome.rule.limit, "zone": zone}
            yield Place(path=("readings", index), values={**values, "original_mm": float(originals[index])})


def _outside(_arguments: Arguments, result: object) -> Iterable[Place]:
    judged = _judged(result)
    if judged.outcomes and (count := int(judged.outside.sum())):
        yield Place(values={"count": count, "readings": len(judged.table)})


def _speaking(arguments: Arguments) -> Iterable[RuleSet]:
    """Yield the rule sets that speak of the hull's material."""
    material = (arguments["hull"] or {}).get("material", "steel")
    return (found for found in arguments["rule_sets"] if material in found.materials)


def _size_missing(arguments: Arguments, _result: object) -> Iterable[Place]:
    for found in _speaking(arguments):
        lacks = found.by_hull.lacks(arguments["hull"]) if found.by_hull else ()
        if lacks:
            yield Place(path=("hull", lacks[0]), values={"rule_set": found.id, "lacks": ", ".join(lacks)})


def _out_of_scope(arguments: Arguments, _result: object) -> Iterable[Place]:
    for found in _speaking(arguments):
        if found.by_hull is None or found.by_hull.lacks(arguments["hull"]):
            continue
        why = found.by_hull.outside(arguments["hull"] or {})
        if why is not None:
            yield Place(path=("hull",), values={"rule_set": found.id, "scope": why})


def _passing_nothing(arguments: Arguments, _result: object) -> Iterable[Place]:
    return (Place(values={"rule_set": found.id}) for found in arguments["rule_sets"] if not found.may_clear)


def by_zone(mark: Callable[[Judged], Mask]) -> Callable[[Arguments, Any], Iterable[Place]]:
    """Return a predicate with one place for each zone that has a marked reading: the first such, and how many there are."""

    def applies(_arguments: Arguments, result: object) -> Iterable[Place]:
        judged = _judged(result)
        for zone, rows in judged.table.by_zone(np.flatnonzero(mark(judged))).items():
            yield Place(path=("readings", int(rows[0])), values={"zone": zone, "count": len(rows)})

    return applies


def _too_thick(arguments: Arguments, result: object) -> Iterable[Place]:
    """Yield the zones with plate over its mill tolerance; a hull of another material knows no such tolerance."""
    if (arguments["hull"] or {}).get("material", "steel") != "steel":
        return []
    return by_zone(lambda judged: over_mill_tolerance(judged.table.original_mm, judged.table.plate_mm))(arguments, result)


def implausible(table: ReadingTable) -> Mask:
    """Mark plate that is too thick for any hull here."""
    return below(IMPLAUSIBLE_MM, table.plate_mm, "mm")


def unusually_thick(table: ReadingTable) -> Mask:
    """Mark thick plate whose original nobody knows, and that is not too thick for any hull."""
    thick = below(UNUSUAL_MM, table.plate_mm, "mm") & ~implausible(table)
    return np.asarray(thick & np.isnan(table.original_mm))


def _overplated(judged: Judged, *, shell_read: bool) -> Mask:
    """Mark the readings of an overplate in zones whose shell was read too, or in those where it was not."""
    over = judged.table.layer == "overplate"
    shell = set(judged.table.zone[~over])
    return np.asarray(over & np.array([(zone in shell) == shell_read for zone in judged.table.zone], dtype=bool))


JUDGED_FINDINGS = (
    Finding(
        code="holed",
        severity="act",
        statement="In {zone} the plate is holed (readings: {count}, the first {reading}).",
        values=("reading", "zone", "count"),
        applies=_holes,
    ),
    Finding(
        code="act_limit_broken",
        severity="act",
        statement=_BROKEN_STATEMENT,
        values=_BROKEN_VALUES,
        applies=lambda _, result: _broken("act", result),
    ),
    Finding(
        code="watch_limit_broken",
        severity="watch",
        statement=_BROKEN_STATEMENT,
        values=_BROKEN_VALUES,
        applies=lambda _, result: _broken("watch", result),
    ),
    Finding(
        code="rule_not_judged",
        severity="watch",
        statement="The rule {rule} could not judge all that it should: {why}.",
        values=("rule", "why"),
        applies=_not_judged,
    ),
    Finding(
        code="rule_unusual",
        severity="watch",
        statement="The limit of {limit} {unit} ({rule}) {why}. Nothing is passed by it.",
        values=("rule", "limit", "unit", "why"),
        applies=_unusual,
        withholds_pass=True,
    ),
    Finding(
        code="hull_size_missing",
        severity="watch",
        statement="The limits of the rule set {rule_set} depend on the hull: send {lacks} of it. Without, none of them is "
        "judged, and nothing is passed.",
        values=("rule_set", "lacks"),
        applies=_size_missing,
        withholds_pass=True,
    ),
    Finding(
        code="hull_outside_rule_set",
        severity="watch",
        statement="The rule set {rule_set} was not made for this hull: {scope}. What it says here is a comparison, no "
        "requirement.",
        values=("rule_set", "scope"),
        applies=_out_of_scope,
    ),
    Finding(
        code="rule_set_passes_nothing",
        severity="note",
        statement="The rule set {rule_set} can raise a verdict and passes nothing: where its limits are kept it is silent.",
        values=("rule_set",),
        applies=_passing_nothing,
    ),
    Finding(
        code="no_rules",
        severity="watch",
        statement="No rule was asked for: nothing is judged.",
        applies=lambda _, result: [] if _judged(result).outcomes else [Place()],
    ),
    Finding(
        code="limit_not_meaningful",
        severity="watch",
        statement="The limit of {limit} mm ({rule}) is not below the {original_mm} mm that the plate in {zone} started with: "
        "it says nothing of wear there.",
        values=("rule", "limit", "zone", "original_mm"),
        applies=_meaningless,
    ),
    Finding(
        code="readings_outside_rules",
        severity="note",
        statement="{count} of {readings} readings are of plate whose exposure no rule that could pass it speaks of: they are "
        "not judged.",
        values=("count", "readings"),
        applies=_outside,
    ),
    Finding(
        code="readings_excluded",
        severity="watch",
        statement="In {zone} every rule that could pass plate leaves it out by its zones or original thickness (readings: "
        "{count}): nothing is passed.",
        values=("zone", "count"),
        applies=by_zone(lambda judged: judged.excluded),
        withholds_pass=True,
    ),
    Finding(
        code="plate_over_mill_tolerance",
        severity="watch",
        statement="In {zone} plate is thicker than a mill delivers for its original by EN 10029 class A, by more than the "
        "gauge explains (readings: {count}): the original or the readings are probably wrong.",
        values=("zone", "count"),
        applies=_too_thick,
        withholds_pass=True,
    ),
    Finding(
        code="plate_implausible",
        severity="watch",
        statement="In {zone} plate reads over 42 mm (readings: {count}): no hull here is plated so. Look for a lost decimal "
        "point or another unit.",
        values=("zone", "count"),
        applies=by_zone(lambda judged: implausible(judged.table)),
    ),
    Finding(
        code="plate_unusually_thick",
        severity="watch",
        statement="In {zone} plate reads over 20 mm where nobody knows its original (readings: {count}): inland hulls are "
        "seldom plated so. Look for a lost decimal point or another unit.",
        values=("zone", "count"),
        applies=by_zone(lambda judged: unusually_thick(judged.table)),
    ),
    Finding(
        code="overplate_hides_shell",
        severity="watch",
        statement="In {zone} an overplate was read (readings: {count}): that says nothing of the shell beneath it.",
        values=("zone", "count"),
        applies=by_zone(lambda judged: _overplated(judged, shell_read=True)),
    ),
    Finding(
        code="shell_unread_under_overplate",
        severity="watch",
        statement="In {zone} only the overplate was read (readings: {count}): nothing is known of the shell beneath it.",
        values=("zone", "count"),
        applies=by_zone(lambda judged: _overplated(judged, shell_read=False)),
        withholds_pass=True,
    ),
    *READING_FINDINGS,
)


def found_in(findings: Iterable[Finding], arguments: Arguments, draft: object, most: int = 1) -> dict[Finding, list[Place]]:
    """Return the findings that a draft of a result calls for, with the first places of each."""
    first = ((finding, list(islice(_places(finding, arguments, draft), most))) for finding in findings)
    return {finding: places for finding, places in first if places}


def _places(finding: Finding, arguments: Arguments, draft: object) -> Iterable[Place]:
    where: Iterable[Place] = finding.applies(arguments, draft)  # type: ignore[assignment]
    return where


def withheld(verdict: Verdict, found: Iterable[Finding]) -> Verdict:
    """Return the verdict, at best *not judged* where a finding withholds a pass."""
    return max(verdict, Verdict.NOT_JUDGED) if any(finding.withholds_pass for finding in found) else verdict
