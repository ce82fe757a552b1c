"""The deepest pit that a zone may hide, where its plating says how the patches were chosen in which pits were read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from platemargin.deepest_pit import CONFIDENCE, METHOD, DeepestPit, deepest_pit
from platemargin.errors import NotApplicableError
from platemargin.plating import Plating, covered
from platemargin.quantities import Array
from platemargin.readings import LAYER, ReadingTable

__all__ = ["SampledPits", "sampled_pits"]

#: Fewer patches than this are no sample; more are none that `deepest_pit` takes.
FEWEST_PATCHES, MOST_PATCHES = 5, 5000
#: What an entry of plating has to say for its pits to be a sample.
_OF_A_SAMPLE = ("pit_sampling", "pit_patch_area_m2", "area_m2")


@dataclass(frozen=True, kw_only=True)
class SampledPits:
    """A zone whose pits are stated to be a sample: the entry that says so, what follows from it, or why nothing does."""

    zone: str
    plating_index: int
    asked: Mapping[str, Any] = field(default_factory=dict)
    found: DeepestPit | None = None
    why_not: str | None = None


def sampled_pits(table: ReadingTable, plating: Sequence[Plating]) -> dict[str, SampledPits]:
    """Return by zone what its sampled pits say; pits of any other zone were merely noted, and say nothing of those unread."""
    rows = table.by_zone(np.arange(len(table)))
    entries: dict[str, list[int]] = {}
    for index, entry in enumerate(plating):
        if entry["zone"] in rows and {"pit_sampling", "pit_patch_area_m2"} & set(entry):
            entries.setdefault(entry["zone"], []).append(index)
    return {zone: _of_zone(zone, indices, table, plating, rows) for zone, indices in entries.items()}


def _of_zone(
    zone: str, indices: Sequence[int], table: ReadingTable, plating: Sequence[Plating], rows: Mapping[str, Array]
) -> SampledPits:
    stated = [plating[index] for index in indices]
    of_zone = SampledPits(zone=zone, plating_index=indices[0])
    own = _patches(stated, table, rows)
    if why_not := _no_sample(stated, len(own)):
        return replace(of_zone, why_not=why_not)
    asked = {
        "pit_depths_mm": table.pit_depth_mm[own].tolist(),
        "sampling": stated[0]["pit_sampling"],
        "patch_area_m2": stated[0]["pit_patch_area_m2"],
        "total_area_m2": sum(entry["area_m2"] for entry in stated),
        # The thinnest of the patches' plate: what a pit goes through first.
        "plate_mm": float(np.min(table.plate_mm[own])),
        "method": METHOD,
        "confidence": CONFIDENCE,
    }
    try:
        return replace(of_zone, asked=asked, found=deepest_pit(**asked))
    except NotApplicableError as error:
        return replace(of_zone, why_not="; ".join(told for _, _, told in error.faults))


def _no_sample(stated: Sequence[Plating], patches: int) -> str | None:
    """Say why what is stated of a zone makes no sample of its pits; None where it does."""
    if missing := next((name for name in _OF_A_SAMPLE for entry in stated if name not in entry), None):
        return f"its plating does not state {missing}"
    if len({(entry["pit_sampling"], entry["pit_patch_area_m2"]) for entry in stated}) > 1:
        return "its entries of plating differ in how pits were sampled"
    if patches < FEWEST_PATCHES:
        return f"pits of {patches} patches were measured, and {FEWEST_PATCHES} are the fewest that say anything"
    if patches > MOST_PATCHES:
        return f"{patches} pits were measured, and {MOST_PATCHES} patches are the most that are taken"
    return None


def _patches(stated: Sequence[Plating], table: ReadingTable, rows: Mapping[str, Array]) -> Array:
    """Return the readings of the parts stated, of their layer, at which a pit was measured: each is a patch's deepest."""
    own: Iterable[int] = {
        int(row) for entry in stated for row in covered(entry, table, rows) if table.layer[row] == entry.get("layer", LAYER)
    }
    return np.array([row for row in sorted(own) if not np.isnan(table.pit_depth_mm[row])], dtype=int)
