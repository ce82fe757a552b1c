"""Readings against limits: what every calculation that judges shares."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from platemargin.declared import Arguments, Finding, Place
from platemargin.quantities import Array, Floats, at_least, rounded
from platemargin.readings import READING_FINDINGS, ReadingTable
from platemargin.residual_thickness import PlateState, ResidualThickness, residual_thickness
from platemargin.rules import Rule, RuleSet, Verdict
from platemargin.zones import DEFAULT_EXPOSURE, nearest_zone

__all__ = ["JUDGED_FINDINGS", "Judged", "Outcome", "RuleResult", "judge"]

Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """One rule against every reading: which it met, which it could check, which broke it, by what margin (NaN unchecked)."""

    rule: Rule
    rule_set: str | None
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
    quantity: str
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
    def verdict(self) -> Verdict:
        """The worst of the rules'; with no rule, not judged."""
        return max((outcome.verdict for outcome in self.outcomes), default=Verdict.NOT_JUDGED)

    @property
    def verdicts(self) -> Array:
        """Each reading's own verdict; one that no rule checked is not judged."""
        verdicts = np.full(len(self.table), Verdict.NOT_JUDGED)
        unchecked = np.zeros(len(self.table), dtype=bool)
        for outcome in self.outcomes:
            verdicts[outcome.checked & (verdicts == Verdict.NOT_JUDGED)] = Verdict.NO_LIMIT_BROKEN
            unchecked |= outcome.met & ~outcome.checked
        verdicts[unchecked] = Verdict.NOT_JUDGED
        for outcome in self.outcomes:
            verdicts[outcome.broken] = np.maximum(verdicts[outcome.broken], Verdict[outcome.rule.severity.upper()])
        return verdicts

    @property
    def outside(self) -> Mask:
        """The readings that no rule met."""
        outside = np.ones(len(self.table), dtype=bool)
        for outcome in self.outcomes:
            outside &= ~outcome.met
        return outside

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
        """The outcome that decides and its reading: the worst broken rule, else the smallest margin to its limit."""

        def rank(outcome: Outcome) -> tuple[int, float]:
            broken = Verdict[outcome.rule.severity.upper()] if outcome.broken.any() else 0
            return -int(broken), float(np.nanmin(outcome.margin)) / max(outcome.rule.limit, 1e-9)

        checked = [outcome for outcome in self.outcomes if outcome.checked.any()]
        governing = min(checked, key=rank, default=None)
        return governing, governing.governing if governing else None

    def rule_results(self) -> tuple[RuleResult, ...]:
        """Return every rule's outcome, in the order of the rules."""
        return tuple(_rule_result(outcome, self.table) for outcome in self.outcomes)


def judge(table: ReadingTable, rule_sets: Sequence[RuleSet], rules: Sequence[Rule], material: str = "steel") -> Judged:
    """Check every reading against every rule; a rule set that does not speak of the material meets no reading."""
    plate = residual_thickness(original_mm=table.original_mm, plate_mm=table.plate_mm, pit_depth_mm=table.pit_depth_mm)
    named = [(rule, found.id, material in found.materials) for found in rule_sets for rule in found.rules]
    told = [*named, *((rule, None, True) for rule in rules)]
    meant = _meant_zones(table) if any(rule.zones is not None for rule, _, _ in told) else table.zone
    outcomes = tuple(_outcome(rule, source, table, plate, meant, speaks=speaks) for rule, source, speaks in told)
    return Judged(table=table, plate=plate, outcomes=outcomes)


def _meant_zones(table: ReadingTable) -> Array:
    """Return each reading's zone, a name that nobody knows as the known one most like it: misspelt, it escapes no limit."""
    unknown = dict.fromkeys(zone for zone in table.zone if zone not in DEFAULT_EXPOSURE)
    meant = {zone: nearest_zone(zone) or zone for zone in unknown}
    return np.array([meant.get(zone, zone) for zone in table.zone], dtype=object)


def _outcome(
    rule: Rule, source: str | None, table: ReadingTable, plate: ResidualThickness, meant: Array, *, speaks: bool
) -> Outcome:
    met = np.isin(table.exposure, rule.exposures) & speaks
    if rule.zones is not None:
        named = set(rule.zones)
        met &= np.array([not named.isdisjoint(pair) for pair in zip(table.zone, meant, strict=True)], dtype=bool)
    low = -np.inf if rule.original_at_least_mm is None else rule.original_at_least_mm
    high = np.inf if rule.original_at_most_mm is None else rule.original_at_most_mm
    unknown = np.isnan(table.original_mm)
    original = rounded(table.original_mm, "mm")
    met &= unknown | ((original >= low) & (original <= high))
    # A pit that nobody measured is no evidence of a shallow one.
    value = table.pit_depth_mm if rule.quantity == "pit_depth_mm" else getattr(plate, rule.quantity, table.plate_mm)
    checked = met & ~np.isnan(value) & ~(unknown & bool(np.isfinite(low) or np.isfinite(high)))
    over = rounded(value, rule.unit) - rounded(rule.limit, rule.unit)
    margin = rounded(np.where(checked, over if rule.at_most is None else -over, np.nan), rule.unit)
    return Outcome(rule=rule, rule_set=source, met=met, checked=checked, broken=margin < 0, margin=margin)


def _rule_result(outcome: Outcome, table: ReadingTable) -> RuleResult:
    index = outcome.governing
    return RuleResult(
        id=outcome.rule.id,
        rule_set=outcome.rule_set,
        verdict=outcome.verdict,
        quantity=outcome.rule.quantity,
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
        if outcome.verdict == Verdict.NOT_JUDGED:
            missed = int((outcome.met & ~outcome.checked).sum())
            why = (
                f"{missed} of the readings that it speaks of lack what it needs (the original thickness, or a measured pit)"
                if missed
                else "it met no reading that it speaks of"
            )
            yield Place(values={"rule": outcome.rule.id, "why": why})


def _holes(_arguments: Arguments, result: object) -> Iterable[Place]:
    judged = _judged(result)
    for index in map(int, np.flatnonzero(judged.plate.plate_state == PlateState.HOLED)):
        values = {"reading": str(judged.table.id[index]), "zone": str(judged.table.zone[index])}
        yield Place(path=("readings", index), values=values)


def _meaningless(_arguments: Arguments, result: object) -> Iterable[Place]:
    judged = _judged(result)
    for outcome in judged.outcomes:
        if outcome.rule.at_least is None or outcome.rule.quantity not in ("residual_mm", "plate_mm"):
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


def _overplates(_arguments: Arguments, result: object) -> Iterable[Place]:
    table = _judged(result).table
    for zone, rows in table.by_zone(np.flatnonzero(table.layer == "overplate")).items():
        yield Place(path=("readings", int(rows[0])), values={"zone": zone, "count": len(rows)})


JUDGED_FINDINGS = (
    Finding(
        code="holed",
        severity="act",
        statement="The plate is holed at reading {reading} in {zone}.",
        values=("reading", "zone"),
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
        statement="The rule {rule} passed no verdict: {why}.",
        values=("rule", "why"),
        applies=_not_judged,
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
        statement="{count} of {readings} readings are where no rule applies: they are not judged.",
        values=("count", "readings"),
        applies=_outside,
    ),
    Finding(
        code="overplate_hides_shell",
        severity="watch",
        statement="In {zone} an overplate was read (readings: {count}): that says nothing of the shell beneath it.",
        values=("zone", "count"),
        applies=_overplates,
    ),
    *READING_FINDINGS,
)
