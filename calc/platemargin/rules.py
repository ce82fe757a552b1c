"""What an insurer accepts, as data: a rule is one limit, a rule set is a named, versioned list of them.

Rule sets are plug-ins: a package offers a `RuleSet` as an entry point of the group ``platemargin.rule_sets``, under the
rule set's own id.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from enum import IntEnum
from functools import cached_property
from math import nan
from typing import Any, Literal, TypeAlias

from platemargin.errors import RuleSetError
from platemargin.reference import Reference
from platemargin.zones import EXPOSURES, Exposure

__all__ = [
    "HULL_SIZE",
    "QUANTITIES",
    "RULE_EXPOSURES",
    "ByHull",
    "MinimumContent",
    "Quantity",
    "Rule",
    "RuleSet",
    "Verdict",
]

Quantity: TypeAlias = Literal["residual_mm", "plate_mm", "loss_percent", "pit_depth_mm"]

#: What a rule may limit, and its unit.
QUANTITIES: dict[Quantity, str] = {"residual_mm": "mm", "plate_mm": "mm", "loss_percent": "%", "pit_depth_mm": "mm"}
#: Where a rule applies unless it says otherwise: the plate that keeps the water out.
RULE_EXPOSURES: tuple[Exposure, ...] = ("immersed", "waterline")
#: What a limit may depend on: the members of a hull that tell its size, and from where to where each goes.
HULL_SIZE = {"length_m": (3.0, 150.0), "beam_m": (0.5, 30.0), "draught_m": (0.1, 10.0), "frame_spacing_mm": (100.0, 2000.0)}


class Verdict(IntEnum):
    """What the limits say; the greater outranks, and silence (not judged) is never a pass."""

    NO_LIMIT_BROKEN = 0
    NOT_JUDGED = 1
    WATCH = 2
    ACT = 3


@dataclass(frozen=True, kw_only=True)
class Rule:
    """One limit: on which quantity, where, and for plate of which original thickness.

    Exactly one of `at_least` and `at_most` is given, in the quantity's unit; the limit itself is not broken.

    Raises
    ------
    RuleSetError
        For a rule with no limit or two, an unknown quantity or exposure, or original bounds that exclude everything.
    """

    id: str
    quantity: Quantity
    severity: Literal["watch", "act"]
    statement: str
    reference: str
    at_least: float | None = None
    at_most: float | None = None
    exposures: tuple[Exposure, ...] = RULE_EXPOSURES
    zones: tuple[str, ...] | None = None
    original_at_least_mm: float | None = None
    original_at_most_mm: float | None = None

    def __post_init__(self) -> None:
        if (self.at_least is None) == (self.at_most is None):
            raise RuleSetError(f"rule {self.id!r}: give exactly one of at_least and at_most")
        if self.quantity not in QUANTITIES:
            raise RuleSetError(f"rule {self.id!r}: quantity {self.quantity!r} is none of {', '.join(QUANTITIES)}")
        if self.severity not in ("watch", "act"):
            raise RuleSetError(f"rule {self.id!r}: severity {self.severity!r} is neither watch nor act")
        if unknown := [exposure for exposure in self.exposures if exposure not in EXPOSURES]:
            raise RuleSetError(f"rule {self.id!r}: exposure {unknown[0]!r} is none of {', '.join(EXPOSURES)}")
        low, high = self.original_at_least_mm, self.original_at_most_mm
        if low is not None and high is not None and low > high:
            raise RuleSetError(f"rule {self.id!r}: original_at_least_mm is above original_at_most_mm")

    @property
    def limit(self) -> float:
        """The figure that is not to be passed."""
        limit = self.at_most if self.at_least is None else self.at_least
        assert limit is not None  # noqa: S101  held by __post_init__, told to the type checker
        return limit

    @property
    def unit(self) -> str:
        """The unit of the limit."""
        return QUANTITIES[self.quantity]

    @property
    def without_limit(self) -> Rule:
        """The same rule where nobody knows its limit: NaN, which no reading keeps or breaks."""
        return replace(self, at_least=nan) if self.at_most is None else replace(self, at_most=nan)


@dataclass(frozen=True, kw_only=True)
class MinimumContent:
    """What a survey has to contain before a rule set lets it pass."""

    zones: tuple[str, ...] = ()
    both_sides: bool = False
    readings_per_zone: int = 1
    inside_seen: bool = False


#: What a rule set may say that it need not: one that does not has the digest that it had before it could.
_UNSAID = {"by_hull": None, "may_clear": True}


@dataclass(frozen=True, kw_only=True)
class ByHull:
    """How the limits of a rule set follow from the hull's size [m, mm].

    Parameters
    ----------
    needs : tuple of str
        Members of `HULL_SIZE` without which no limit is known.
    formula : str
        How the limits follow, in words and symbols, for whoever reads the rule set.
    example : mapping
        The hull that the set's own `rules` are told for.
    rules : callable
        From a hull to its rules: of every hull the same ones, with limits of their own.
    outside : callable, optional
        From a hull to why it is none of those that the limits are made for; None where it is one.
    """

    needs: tuple[str, ...]
    formula: str
    example: Mapping[str, float]
    rules: Callable[[Mapping[str, Any]], tuple[Rule, ...]]
    outside: Callable[[Mapping[str, Any]], str | None] = lambda _hull: None

    def lacks(self, hull: Mapping[str, Any] | None) -> tuple[str, ...]:
        """Return what a hull does not tell and the limits need."""
        return tuple(name for name in self.needs if (hull or {}).get(name) is None)


@dataclass(frozen=True, kw_only=True)
class RuleSet:
    """A named, versioned list of rules, with the sources that they cite.

    Limits that depend on the hull are given as `by_hull` in place of `rules`, which are then those of its example. A set
    that is no measure of sound plate has `may_clear` false: its limits raise a verdict, and keeping them passes nothing.

    Raises
    ------
    RuleSetError
        For two rules of one id, no rule, a rule that cites a reference which the set does not bring, or limits by a hull
        whose size does not tell them.
    """

    id: str
    version: str
    title: str
    rules: tuple[Rule, ...] = ()
    references: tuple[Reference, ...]
    materials: tuple[str, ...] = ("steel",)
    minimum_content: MinimumContent | None = None
    by_hull: ByHull | None = None
    may_clear: bool = True

    def __post_init__(self) -> None:
        if self.by_hull is not None:
            self._tell_example(self.by_hull)
        ids = [rule.id for rule in self.rules]
        if not ids:
            raise RuleSetError(f"rule set {self.id!r} has no rule")
        if twice := {rule for rule in ids if ids.count(rule) > 1}:
            raise RuleSetError(f"rule set {self.id!r} has two rules {min(twice)!r}")
        brought = {reference.id for reference in self.references}
        if missing := [rule.reference for rule in self.rules if rule.reference not in brought]:
            raise RuleSetError(f"rule set {self.id!r} cites the reference {missing[0]!r} and does not bring it")

    def _tell_example(self, by_hull: ByHull) -> None:
        if unknown := [name for name in by_hull.needs if name not in HULL_SIZE]:
            raise RuleSetError(f"rule set {self.id!r}: {unknown[0]!r} is none of {', '.join(HULL_SIZE)}")
        if lacks := by_hull.lacks(by_hull.example):
            raise RuleSetError(f"rule set {self.id!r}: its example does not tell {lacks[0]!r}, which it needs")
        example = by_hull.rules(by_hull.example)
        if self.rules not in ((), example):
            raise RuleSetError(f"rule set {self.id!r} has rules of its own and rules by hull")
        object.__setattr__(self, "rules", example)  # the record is frozen, and still being made

    def rules_for(self, hull: Mapping[str, Any] | None) -> tuple[Rule, ...]:
        """Return the rules for a hull; where it does not tell what their limits need, without limits.

        Raises
        ------
        RuleSetError
            Where other rules come than for the example: which they are is no matter of the hull.
        """
        if self.by_hull is None:
            return self.rules
        if self.by_hull.lacks(hull):
            return tuple(rule.without_limit for rule in self.rules)
        rules = self.by_hull.rules(hull or {})
        if [_but_limit(rule) for rule in rules] != [_but_limit(rule) for rule in self.rules]:
            raise RuleSetError(f"rule set {self.id!r}: of another hull come other rules than of its example")
        return rules

    @property
    def content(self) -> dict[str, Any]:
        """What the set says, as data; what it works out is told by its formula and by the rules of its example."""
        content = asdict(self)
        if self.by_hull is not None:
            content["by_hull"] = {name: value for name, value in content["by_hull"].items() if not callable(value)}
        return content

    @cached_property
    def digest(self) -> str:
        """SHA-256 of the content in canonical JSON: two sets of one digest judge alike.

        Of limits by hull it holds the formula's words and the example's limits; who changes the code behind them changes the
        version, too.
        """
        said = {name: value for name, value in self.content.items() if name not in _UNSAID or value != _UNSAID[name]}
        content = json.dumps(said, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        return f"sha-256=:{base64.b64encode(hashlib.sha256(content.encode()).digest()).decode()}:"


def _but_limit(rule: Rule) -> dict[str, Any]:
    """Return all that a rule says but the figure of its limit."""
    return {**asdict(rule), "at_least": rule.at_least is None, "at_most": rule.at_most is None}
