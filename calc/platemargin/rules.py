"""What an insurer accepts, as data: a rule is one limit, a rule set is a named, versioned list of them.

Rule sets are plug-ins: a package offers a `RuleSet` as an entry point of the group ``platemargin.rule_sets``, under the
rule set's own id.
"""

from __future__ import annotations

import base64
import hashlib
import json
from dataclasses import asdict, dataclass
from enum import IntEnum
from typing import Literal, TypeAlias

from platemargin.errors import RuleSetError
from platemargin.reference import Reference
from platemargin.zones import EXPOSURES, Exposure

__all__ = ["QUANTITIES", "RULE_EXPOSURES", "MinimumContent", "Quantity", "Rule", "RuleSet", "Verdict"]

Quantity: TypeAlias = Literal["residual_mm", "plate_mm", "loss_percent", "pit_depth_mm"]

#: What a rule may limit, and its unit.
QUANTITIES: dict[Quantity, str] = {"residual_mm": "mm", "plate_mm": "mm", "loss_percent": "%", "pit_depth_mm": "mm"}
#: Where a rule applies unless it says otherwise: the plate that keeps the water out.
RULE_EXPOSURES: tuple[Exposure, ...] = ("immersed", "waterline")


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


@dataclass(frozen=True, kw_only=True)
class MinimumContent:
    """What a survey has to contain before a rule set lets it pass."""

    zones: tuple[str, ...] = ()
    both_sides: bool = False
    readings_per_zone: int = 1
    inside_seen: bool = False


@dataclass(frozen=True, kw_only=True)
class RuleSet:
    """A named, versioned list of rules, with the sources that they cite.

    Raises
    ------
    RuleSetError
        For two rules of one id, no rule, or a rule that cites a reference which the set does not bring.
    """

    id: str
    version: str
    title: str
    rules: tuple[Rule, ...]
    references: tuple[Reference, ...]
    materials: tuple[str, ...] = ("steel",)
    minimum_content: MinimumContent | None = None

    def __post_init__(self) -> None:
        ids = [rule.id for rule in self.rules]
        if not ids:
            raise RuleSetError(f"rule set {self.id!r} has no rule")
        if twice := {rule for rule in ids if ids.count(rule) > 1}:
            raise RuleSetError(f"rule set {self.id!r} has two rules {min(twice)!r}")
        brought = {reference.id for reference in self.references}
        if missing := [rule.reference for rule in self.rules if rule.reference not in brought]:
            raise RuleSetError(f"rule set {self.id!r} cites the reference {missing[0]!r} and does not bring it")

    @property
    def digest(self) -> str:
        """SHA-256 of the content in canonical JSON: two sets of one digest judge alike."""
        content = json.dumps(asdict(self), sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        return f"sha-256=:{base64.b64encode(hashlib.sha256(content.encode()).digest()).decode()}:"
