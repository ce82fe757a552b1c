"""Readings against limits: what every calculation that judges shares."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from platemargin.declared import Arguments, Finding, Place, Step, as_declared
from platemargin.quantities import Array, Floats, at_least, below, rounded
from platemargin.readings import READING_FINDINGS, ReadingTable
from platemargin.residual_thickness import PlateState, ResidualThickness, over_mill_tolerance, residual_thickness
from platemargin.rules import RULE_EXPOSURES, Rule, RuleSet, Verdict
from platemargin.zones import DEFAULT_EXPOSURE, nearest_zone

__all__ = ["JUDGED_FINDINGS", "LIMIT_WORKING", "Judged", "Outcome", "RuleResult", "by_zone", "found_in", "judge", "withheld"]

#: Inland hulls are seldom plated thicker than this [mm] (common practice): a reading over it, whose original nobody knows,
#: may have lost its decimal point or its unit.
UNUSUAL_MM = 20.0
#: No original over 40 mm is accepted here, and its mill tolerance and the gauge explain 2 mm more: a reading over it has.
IMPLAUSIBLE_MM = 42.0
#: A limit on thickness below this [mm] is no limit but a slip of the unit: no gauge reads so thin a plate.
LEAST_LIMIT_MM = 0.5

_THICKNESSES = ("residual_mm", "plate_mm")

Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """One rule against every reading.

    Which it speaks of by exposure and material, which of them it met by zone and original thickness, which of those it could
    check, which broke it, and by what margin (NaN where unchecked).
    """

    rule: Rule
    rule_set: str | None
    speaks: Mask
    met: Mask
    checked: Mask
    broken: Mask
    margin: Floats

    @property
    def verdict(self) -> Verdict:
        """What the rule says of the whole; a reading that it met and could not check is not silently passed."""
        if self.broken.any():
            return Verdict[self.rule.severity.upper()]
        judged_all = self.checked.any() and not (self.met & ~self.checked).any()
        return Verdict.NO_LIMIT_BROKEN if judged_all else Verdict.NOT_JUDGED

    @property
    def governing(self) -> int | None:
        """The reading with the smallest margin, ties to the first."""
        return int(np.nanargmin(self.margin)) if self.checked.any() else None


@dataclass(frozen=True, kw_only=True)
class RuleResult:
    """One rule's outcome, as it is told."""

    id: str
    rule_set: str | None
    verdict: Verdict
    severity: str
    statement: str
    reference: str
    quantity: str
    bound: Literal["at_least", "at_most"]
    limit: float
    unit: str
    checked_count: int
    broken_count: int
    not_checked_count: int
    margin: float | None
    governing_reading: str | None
    governing_reading_index: int | None


@dataclass(frozen=True, kw_only=True)
class Judged:
    """A table of readings, what is left of each, and every rule's outcome."""

    table: ReadingTable
    plate: ResidualThickness
    outcomes: tuple[Outcome, ...]

    @property
    def holed(self) -> Mask:
        """The readings of a hole: no limit need be asked about those."""
        return np.asarray(self.plate.plate_state == PlateState.HOLED)

    @property
    def wet(self) -> Mask:
        """The readings of plate that keeps the water out."""
        return np.isin(self.table.exposure, RULE_EXPOSURES)

    @property
    def verdict(self) -> Verdict:
        """The worst of the rules', and act for a hole; with no rule, not judged."""
        if self.holed.any():
            return Verdict.ACT
        return max((outcome.verdict for outcome in self.outcomes), default=Verdict.NOT_JUDGED)

    @property
    def verdicts(self) -> Array:
        """Each reading's own verdict; a hole calls for action, and one that no rule checked is not judged."""
        verdicts = np.full(len(self.table), Verdict.NOT_JUDGED)
        unchecked = np.zeros(len(self.table), dtype=bool)
        for outcome in self.outcomes:
            verdicts[outcome.checked & (verdicts == Verdict.NOT_JUDGED)] = Verdict.NO_LIMIT_BROKEN
            unchecked |= outcome.met & ~outcome.checked
        verdicts[unchecked] = Verdict.NOT_JUDGED
        for outcome in self.outcomes:
            verdicts[outcome.broken] = np.maximum(verdicts[outcome.broken], Verdict[outcome.rule.severity.upper()])
        verdicts[self.holed] = Verdict.ACT
        return verdicts

    @property
    def met(self) -> Mask:
        """The readings that a rule met."""
        return self._any(lambda outcome: outcome.met)

    @property
    def outside(self) -> Mask:
        """The readings whose exposure no rule speaks of."""
        return ~self._any(lambda outcome: outcome.speaks)

    @property
    def excluded(self) -> Mask:
        """The readings whose exposure a rule speaks of, but that every such rule leaves out by zone or original thickness."""
        return ~self.outside & ~self.met

    def _any(self, mask: Callable[[Outcome], Mask]) -> Mask:
        marked = np.zeros(len(self.table), dtype=bool)
        for outcome in self.outcomes:
            marked |= mask(outcome)
        return marked

    @property
    def margins_mm(self) -> Floats:
        """Each reading's residual thickness over the highest limit on it that applies; NaN where none does."""
        margins = np.full(len(self.table), np.nan)
        for outcome in self.outcomes:
            if outcome.rule.quantity == "residual_mm" and outcome.rule.at_least is not None:
                margins = np.fmin(margins, outcome.margin)
        return margins

    @property
    def governing(self) -> tuple[Outcome | None, int | None]:
        """The outcome that decides and its reading: a hole, else the worst broken rule, else the smallest margin."""

        def rank(outcome: Outcome) -> tuple[int, float]:
            broken = Verdict[outcome.rule.severity.upper()] if outcome.broken.any() else 0
            return -int(broken), float(np.nanmin(outcome.margin)) / max(outcome.rule.limit, 1e-9)

        if self.holed.any():
            in_water = np.flatnonzero(self.holed & self.wet)
            return None, int(in_water[0] if in_water.size else np.flatnonzero(self.holed)[0])
        checked = [outcome for outcome in self.outcomes if outcome.checked.any()]
        governing = min(checked, key=rank, default=None)
        return governing, governing.governing if governing else None

    def figures(self, index: int, outcome: Outcome | None) -> dict[str, object]:
        """Return one reading's figures as sent, and what is left of it and a rule's, rounded; the unknown is left out."""
        sent = {"original_mm": float(self.table.original_mm[index]), "plate_mm": float(self.table.plate_mm[index])}
        plate = {name: float(column[index]) for name, column in vars(self.plate).items() if name != "plate_state"}
        figures = {**sent, **as_declared(plate)}
        if outcome is not None and outcome.checked[index]:
            rule, margin = outcome.rule, float(outcome.margin[index])
            value = rule.limit + (margin if rule.at_most is None else -margin)
            figures |= {"rule_value": float(rounded(value, rule.unit)), "rule_margin": margin}
            figures |= {"rule_at_most" if rule.at_least is None else "rule_at_least": rule.limit}
            return {**_known(figures), "rule_unit": rule.unit, "rule_reference": rule.reference}
        return _known(figures)

    def rule_results(self) -> tuple[RuleResult, ...]:
        """Return every rule's outcome, in the order of the rules."""
        return tuple(_rule_result(outcome, self.table) for outcome in self.outcomes)


def _known(figures: dict[str, float]) -> dict[str, object]:
    return {name: value for name, value in figures.items() if not np.isnan(value)}


def judge(
    table: ReadingTable,
    rule_sets: Sequence[RuleSet],
    rules: Sequence[Rule],
    *,
    material: str = "steel",
    trusted: bool = True,
) -> Judged:
    """Check every reading against every rule.

    A rule set that does not speak of the material speaks of no reading. Readings that are not `trusted`, because they may
    count a coating as steel, can break a limit but never keep one.
    """
    plate = residual_thickness(original_mm=table.original_mm, plate_mm=table.plate_mm, pit_depth_mm=table.pit_depth_mm)
    told: list[tuple[Rule, str | None, bool]] = [
        (rule, found.id, material in found.materials) for found in rule_sets for rule in found.rules
    ]
    told += [(rule, None, True) for rule in rules]
    stated = {zone for rule, _, _ in told for zone in rule.zones or ()}
    outcomes = []
    for rule, source, speaks in told:
        spoken = np.isin(table.exposure, rule.exposures) & speaks
        met = spoken & _named(rule, table, stated) & _of_original(rule, table)
        outcomes.append(_outcome(rule, source, table, plate, spoken=spoken, met=met, trusted=trusted))
    return Judged(table=table, plate=plate, outcomes=tuple(outcomes))


def _named(rule: Rule, table: ReadingTable, stated: set[str]) -> Mask:
    """Tell which readings are of the zones that a rule names; a misspelt zone, its own or a reading's, escapes no limit."""
    if rule.zones is None:
        return np.ones(len(table), dtype=bool)
    named = set(rule.zones) | {nearest_zone(zone) for zone in rule.zones if zone not in DEFAULT_EXPOSURE}
    meant = {zone: _is_meant(zone, named, stated) for zone in dict.fromkeys(table.zone)}
    return np.array([meant[zone] for zone in table.zone], dtype=bool)


def _is_meant(zone: str, named: set[str | None], stated: set[str]) -> bool:
    if zone in named:
        return True
    if zone in DEFAULT_EXPOSURE or zone in stated:
        return False
    near = nearest_zone(zone)
    return near is None or near in named


def _of_original(rule: Rule, table: ReadingTable) -> Mask:
    """Tell which readings are of plate that started as a rule asks; where nobody knows, it may have."""
    low = -np.inf if rule.original_at_least_mm is None else rule.original_at_least_mm
    high = np.inf if rule.original_at_most_mm is None else rule.original_at_most_mm
    original = rounded(table.original_mm, "mm")
    return np.isnan(original) | ((original >= low) & (original <= high))


def _outcome(
    rule: Rule,
    source: str | None,
    table: ReadingTable,
    plate: ResidualThickness,
    *,
    spoken: Mask,
    met: Mask,
    trusted: bool,
) -> Outcome:
    # A pit that nobody measured is no evidence of a shallow one.
    value = table.pit_depth_mm if rule.quantity == "pit_depth_mm" else getattr(plate, rule.quantity, table.plate_mm)
    bounded = rule.original_at_least_mm is not None or rule.original_at_most_mm is not None
    known = ~np.isnan(value) & ~(bounded & np.isnan(table.original_mm))
    over = rounded(value, rule.unit) - rounded(rule.limit, rule.unit)
    margin = rounded(over if rule.at_most is None else -over, rule.unit)
    checked = met & known & (trusted | (margin < 0))
    margin = np.where(checked, margin, np.nan)
    return Outcome(rule=rule, rule_set=source, speaks=spoken, met=met, checked=checked, broken=margin < 0, margin=margin)


def _rule_result(outcome: Outcome, table: ReadingTable) -> RuleResult:
    index = outcome.governing
    return RuleResult(
        id=outcome.rule.id,
        rule_set=outcome.rule_set,
        verdict=outcome.verdict,
        severity=outcome.rule.severity,
        statement=outcome.rule.statement,
        reference=outcome.rule.reference,
        quantity=outcome.rule.quantity,
        bound="at_most" if outcome.rule.at_least is None else "at_least",
        limit=outcome.rule.limit,
        unit=outcome.rule.unit,
        checked_count=int(outcome.checked.sum()),
        broken_count=int(outcome.broken.sum()),
        not_checked_count=int((outcome.met & ~outcome.checked).sum()),
        margin=None if index is None else float(outcome.margin[index]),
        governing_reading=None if index is None else str(table.id[index]),
        governing_reading_index=index,
    )


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
    for outcome in _judged(result).outcomes:
        missed = int((outcome.met & ~outcome.checked).sum())
        if not missed and outcome.checked.any():
            continue
        if missed:
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


def _thicker_than(least_mm: float, most_mm: float) -> Callable[[Judged], Mask]:
    """Return a mark of readings within two thicknesses whose original nobody knows."""

    def mark(judged: Judged) -> Mask:
        plate = judged.table.plate_mm
        within = below(least_mm, plate, "mm") & ~below(most_mm, plate, "mm")
        return np.asarray(within & np.isnan(judged.table.original_mm))

    return mark


def _overplated(judged: Judged, *, shell_read: bool) -> Mask:
    """Mark the readings of an overplate in zones whose shell was read too, or in those where it was not."""
    over = judged.table.layer == "overplate"
    shell = set(judged.table.zone[~over])
    return np.asarray(over & np.array([(zone in shell) == shell_read for zone in judged.table.zone], dtype=bool))


#: The step from a reading to a rule's limit; its figures are those of `Judged.figures`.
LIMIT_WORKING = tuple(
    Step(
        symbol="margin",
        formula=formula,
        substituted=substituted,
        value="rule_margin",
        unit=unit,
        reference=lambda v: str(v["rule_reference"]),
        when=lambda v, unit=unit: v["rule_unit"] == unit,  # type: ignore[misc]
    )
    for unit in ("mm", "%")
    for formula, substituted in (
        ("value - at_least", "{rule_value} - {rule_at_least}"),
        ("at_most - value", "{rule_at_most} - {rule_value}"),
    )
)

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
        statement="{count} of {readings} readings are of plate that no rule speaks of by its exposure: they are not judged.",
        values=("count", "readings"),
        applies=_outside,
    ),
    Finding(
        code="readings_excluded",
        severity="watch",
        statement="In {zone} every rule leaves plate out by its zones or original thickness (readings: {count}): it is not "
        "judged, and nothing is passed.",
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
        applies=by_zone(_thicker_than(IMPLAUSIBLE_MM, np.inf)),
    ),
    Finding(
        code="plate_unusually_thick",
        severity="watch",
        statement="In {zone} plate reads over 20 mm where nobody knows its original (readings: {count}): inland hulls are "
        "seldom plated so. Look for a lost decimal point or another unit.",
        values=("zone", "count"),
        applies=by_zone(_thicker_than(UNUSUAL_MM, IMPLAUSIBLE_MM)),
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


def found_in(findings: Iterable[Finding], arguments: Arguments, draft: object) -> dict[str, Finding]:
    """Return the findings that a draft of a result calls for, by code."""
    return {finding.code: finding for finding in findings if any(True for _ in _places(finding, arguments, draft))}


def _places(finding: Finding, arguments: Arguments, draft: object) -> Iterable[Place]:
    where: Iterable[Place] = finding.applies(arguments, draft)  # type: ignore[assignment]
    return where


def withheld(verdict: Verdict, found: Iterable[Finding]) -> Verdict:
    """Return the verdict, at best *not judged* where a finding withholds a pass."""
    return max(verdict, Verdict.NOT_JUDGED) if any(finding.withholds_pass for finding in found) else verdict
