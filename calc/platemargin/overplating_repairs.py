"""The three ways to make thin plate good, told beside each other; common practice. Reference: repair-practice."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["REPAIRS", "Repair"]


@dataclass(frozen=True, kw_only=True)
class Repair:
    """One way: when it suits, what it leaves behind, and whether it makes the boat heavier."""

    repair: Literal["pit_welding", "overplating", "crop_and_renew"]
    adds_weight: bool
    suits: str
    leaves: str


REPAIRS = (
    Repair(
        repair="pit_welding",
        adds_weight=False,
        suits="Pits that stand apart in plate that is sound and thick enough between them: cleaned to bright steel, filled "
        "with weld and ground flush.",
        leaves="The plate as thin as it was between the pits; heat may burn through where little is left, and each weld "
        "wants the paint inside made good.",
    ),
    Repair(
        repair="overplating",
        adds_weight=True,
        suits="Plate that is thin over an area but not holed through, where its whole edge can be welded to sound plate "
        "that was measured.",
        leaves="The old plate, and what attacks it from inside, out of sight beneath the new; a boat that is heavier and "
        "deeper.",
    ),
    Repair(
        repair="crop_and_renew",
        adds_weight=False,
        suits="Plate that is holed, thin at its frames, or attacked from inside: cut out to sound plate and replaced in "
        "the same thickness.",
        leaves="A hull of single plate that can be measured from either face; it takes the most work, and the lining must come "
        "out.",
    ),
)
