"""Readings against limits: what every calculation that judges shares."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from platemargin.declared import Step, as_declared
from platemargin.quantities import Array, Floats, rounded
from platemargin.readings import ReadingTable
from platemargin.residual_thickness import PlateState, ResidualThickness, residual_thickness
from platemargin.rules import RULE_EXPOSURES, Rule, RuleSet, Verdict
from platemargin.zones import DEFAULT_EXPOSURE, nearest_zone

__all__ = ["LIMIT_WORKING", "Judged", "Mask", "Outcome", "RuleResult", "judge"]

Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """One rule against every reading.

    Which it speaks of by exposure and material, which of them it met by zone and original thickness, which of those it could
    check, which broke it, and by what margin (NaN where unchecked). Where keeping it passes nothing, `may_clear` is false.
    """

    rule: Rule
    rule_set: str | None
    may_clear: bool
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
        judged_all = self.may_clear and self.checked.any() and not (self.met & ~self.checked).any()
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
    may_clear: bool
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
        """The worst of the rules', and act for a hole; with no rule that may clear, not judged unless one is broken."""
        if self.holed.any():
            return Verdict.ACT
        # A rule that may not clear speaks only where it is broken: else it says as little beside others as alone.
        spoken = (outcome.verdict for outcome in self.outcomes if outcome.may_clear or outcome.broken.any())
        return max(spoken, default=Verdict.NOT_JUDGED)

    @property
    def verdicts(self) -> Array:
        """Each reading's own verdict; a hole calls for action, and one that no rule checked which may clear is not judged."""
        verdicts = np.full(len(self.table), Verdict.NOT_JUDGED)
        unchecked = np.zeros(len(self.table), dtype=bool)
        for outcome in self.clearing:
            verdicts[outcome.checked & (verdicts == Verdict.NOT_JUDGED)] = Verdict.NO_LIMIT_BROKEN
            unchecked |= outcome.met & ~outcome.checked
        verdicts[unchecked] = Verdict.NOT_JUDGED
        for outcome in self.outcomes:
            verdicts[outcome.broken] = np.maximum(verdicts[outcome.broken], Verdict[outcome.rule.severity.upper()])
        verdicts[self.holed] = Verdict.ACT
        return verdicts

    @property
    def clearing(self) -> tuple[Outcome, ...]:
        """The outcomes of the rules that may clear a reading."""
        return tuple(outcome for outcome in self.outcomes if outcome.may_clear)

    @property
    def met(self) -> Mask:
        """The readings that a rule met."""
        return self._any(self.outcomes, lambda outcome: outcome.met)

    @property
    def outside(self) -> Mask:
        """The readings whose exposure no rule speaks of that may clear them; where there is none such, no rule at all."""
        return ~self._any(self.clearing or self.outcomes, lambda outcome: outcome.speaks)

    @property
    def excluded(self) -> Mask:
        """The readings whose exposure such a rule speaks of, but that every one leaves out by zone or original thickness."""
        return ~self.outside & ~self._any(self.clearing or self.outcomes, lambda outcome: outcome.met)

    def _any(self, outcomes: Sequence[Outcome], mask: Callable[[Outcome], Mask]) -> Mask:
        marked = np.zeros(len(self.table), dtype=bool)
        for outcome in outcomes:
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
        """The outcome that decides and its reading: a hole, else the worst broken rule, else the smallest margin.

        A rule that may not clear comes after those that may, unless it is broken worse.
        """

        def rank(outcome: Outcome) -> tuple[int, bool, float]:
            broken = Verdict[outcome.rule.severity.upper()] if outcome.broken.any() else 0
            return -int(broken), not outcome.may_clear, float(np.nanmin(outcome.margin)) / max(outcome.rule.limit, 1e-9)

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
    hull: Mapping[str, Any] | None = None,
    material: str = "steel",
    trusted: bool = True,
) -> Judged:
    """Check every reading against every rule; limits that depend on the hull are those of `hull`.

    A rule set that does not speak of the material speaks of no reading. Readings that are not `trusted`, because they may
    count a coating as steel, can break a limit but never keep one.
    """
    plate = residual_thickness(original_mm=table.original_mm, plate_mm=table.plate_mm, pit_depth_mm=table.pit_depth_mm)
    told: list[tuple[Rule, RuleSet | None]] = [(rule, found) for found in rule_sets for rule in found.rules_for(hull)]
    told += [(rule, None) for rule in rules]
    # A zone that only a rule which may not clear names takes no reading from the rules that may.
    clearing = _stated([rule for rule, source in told if _may_clear(source)])
    stated = {True: clearing, False: _stated([rule for rule, _ in told])}
    outcomes = []
    for rule, source in told:
        spoken = np.isin(table.exposure, rule.exposures) & (source is None or material in source.materials)
        met = spoken & _named(rule, table, stated[_may_clear(source)]) & _of_original(rule, table)
        outcomes.append(_outcome(rule, source, table, plate, spoken=spoken, met=met, trusted=trusted))
    return Judged(table=table, plate=plate, outcomes=tuple(outcomes))


def _may_clear(source: RuleSet | None) -> bool:
    """Tell whether keeping a rule passes plate: a caller's own does, and a rule set's unless it says otherwise."""
    return source is None or source.may_clear


def _stated(rules: Sequence[Rule]) -> set[str]:
    return {zone for rule in rules for zone in rule.zones or ()}


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
    source: RuleSet | None,
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
    known = ~np.isnan(value) & ~(bounded & np.isnan(table.original_mm)) & ~np.isnan(rule.limit)
    over = rounded(value, rule.unit) - rounded(rule.limit, rule.unit)
    margin = rounded(over if rule.at_most is None else -over, rule.unit)
    checked = met & known & (trusted | (margin < 0))
    margin = np.where(checked, margin, np.nan)
    return Outcome(
        rule=rule,
        rule_set=None if source is None else source.id,
        may_clear=_may_clear(source),
        speaks=spoken,
        met=met,
        checked=checked,
        broken=margin < 0,
        margin=margin,
    )


def _rule_result(outcome: Outcome, table: ReadingTable) -> RuleResult:
    index = outcome.governing
    return RuleResult(
        id=outcome.rule.id,
        rule_set=outcome.rule_set,
        may_clear=outcome.may_clear,
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
