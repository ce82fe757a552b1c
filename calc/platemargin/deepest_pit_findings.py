"""What is told of a sample of pits, and of what follows from it for those that nobody read."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from platemargin.declared import Arguments, Finding, Place, once
from platemargin.quantities import at_least, below, rounded

__all__ = ["ENOUGH_TO_SHOW", "FINDINGS", "POOR_FIT"]

#: How often chance alone may call a sample of a Gumbel distribution none (common practice).
POOR_FIT = 0.01
#: With fewer patches than this a wrong distribution shows in one sample of four at the best (the studies; common practice).
ENOUGH_TO_SHOW = 30
#: Fewer patches than this leave the scale uncertain by a third and more (common practice).
_FEW_PATCHES = 10
#: Further than this many patches a Gumbel tail is taken on trust (common practice).
_FAR = 500.0
#: Less of the area read than this [%] (common practice).
_LITTLE_PERCENT = 3.0
#: From this probability on a hole is one that may be, whatever the confidence asked for (common practice).
_MAY_BE = 0.05

_Places = Iterable[Place]


def _extrapolates(result: Any) -> bool:
    return result.most_likely_mm is not None


def _may_be_holed(arguments: Arguments, result: Any) -> bool:
    plate = arguments["plate_mm"]
    if plate is None or not _extrapolates(result) or result.unread_patches == 0:
        return False
    # The confidence is the caller's, and may be low: the probability is asked too.
    likely = at_least(result.upper_mm, plate, "mm") or at_least(result.probability_holed, _MAY_BE, "probability")
    return bool(below(result.deepest_read_mm, plate, "mm") and likely)


def _without_pit(arguments: Arguments, _result: Any) -> _Places:
    count = int((rounded(arguments["pit_depths_mm"], "mm") == 0).sum())
    if count:
        yield Place(path=("pit_depths_mm",), values={"count": count, "patches": len(arguments["pit_depths_mm"])})


def _coarse(arguments: Arguments, _result: Any) -> _Places:
    depths = rounded(arguments["pit_depths_mm"], "mm")
    different = len(np.unique(depths))
    if 2 * different < len(depths):
        yield Place(path=("pit_depths_mm",), values={"different": different, "patches": len(depths)})


def _other_shape(_arguments: Arguments, result: Any) -> _Places:
    quality = result.fit
    if rounded(quality.likelihood_ratio_p_value, "probability") < POOR_FIT:
        heavier = quality.shape > 0
        values = {
            "shape": round(quality.shape, 3),
            "meaning": "a heavier tail: a pit that nobody read may be deeper than is told here"
            if heavier
            else "an end to the depths: what is told here is on the safe side",
        }
        yield Place(path=("pit_depths_mm",), values=values)


FINDINGS = (
    Finding(
        code="pits_selected_not_sampled",
        severity="watch",
        statement="The pits were picked by eye, or nobody says how: the deepest that somebody found say nothing of those that "
        "nobody read. Only the fit is described.",
        applies=once(lambda _, r: not _extrapolates(r), "sampling"),
    ),
    Finding(
        code="pit_through_plate",
        severity="act",
        statement="The pit of {deepest_read_mm} mm goes through the plate of {plate_mm} mm: it is a hole.",
        values=("deepest_read_mm", "plate_mm"),
        applies=once(
            lambda a, r: a["plate_mm"] is not None and bool(at_least(r.deepest_read_mm, a["plate_mm"], "mm")),
            "pit_depths_mm",
            names=("deepest_read_mm", "plate_mm"),
        ),
    ),
    Finding(
        code="may_be_holed",
        severity="watch",
        statement="A pit that nobody read may hole the plate of {plate_mm} mm: the upper depth is {upper_mm} mm, and the "
        "probability of a hole {probability_holed}.",
        values=("upper_mm", "plate_mm", "probability_holed"),
        applies=once(_may_be_holed, "plate_mm", names=("upper_mm", "plate_mm", "probability_holed")),
    ),
    Finding(
        code="few_patches",
        severity="watch",
        statement="{patches} patches are few: of an area not read whole the upper depth is far above the most likely one "
        "because so little is known, and a wrong distribution would not show.",
        values=("patches",),
        applies=once(
            lambda a, r: _extrapolates(r) and len(a["pit_depths_mm"]) < _FEW_PATCHES, "pit_depths_mm", names=("patches",)
        ),
    ),
    Finding(
        code="far_extrapolation",
        severity="watch",
        statement="The area is {return_period} patches, of which {patches} were read: so far out the Gumbel tail is taken on "
        "trust.",
        values=("return_period", "patches"),
        applies=once(
            lambda _, r: _extrapolates(r) and r.return_period > _FAR, "total_area_m2", names=("return_period", "patches")
        ),
    ),
    Finding(
        code="little_inspected",
        severity="watch",
        statement="{inspected_percent} % of the area was read: little to stand for the rest.",
        values=("inspected_percent",),
        applies=once(
            lambda _, r: _extrapolates(r) and bool(below(r.inspected_percent, _LITTLE_PERCENT, "%")),
            "total_area_m2",
            names=("inspected_percent",),
        ),
    ),
    Finding(
        code="patches_not_the_whole_area",
        severity="watch",
        statement="Every patch is said to have been read, but {patches} patches are {inspected_percent} % of the area: they "
        "are taken as drawn at random from it.",
        values=("patches", "inspected_percent"),
        applies=once(
            lambda a, r: a["sampling"] == "deepest_of_every_patch" and r.unread_patches > 0,
            "sampling",
            names=("patches", "inspected_percent"),
        ),
    ),
    Finding(
        code="every_patch_read",
        severity="note",
        statement="All {patches} patches of the area were read: its deepest pit is the {deepest_read_mm} mm that was read. The "
        "other depths are of an area like it.",
        values=("patches", "deepest_read_mm"),
        applies=once(
            lambda _, r: _extrapolates(r) and r.unread_patches == 0,
            "total_area_m2",
            names=("patches", "deepest_read_mm"),
        ),
    ),
    Finding(
        code="deepest_read_over_most_likely",
        severity="note",
        statement="The deepest pit read, {deepest_read_mm} mm, is deeper than the {most_likely_mm} mm most likely of the whole "
        "area: the whole area's is at least what was read.",
        values=("deepest_read_mm", "most_likely_mm"),
        applies=once(
            lambda _, r: _extrapolates(r) and r.unread_patches > 0 and bool(below(r.most_likely_mm, r.deepest_read_mm, "mm")),
            "pit_depths_mm",
            names=("deepest_read_mm", "most_likely_mm"),
        ),
    ),
    Finding(
        code="poor_fit",
        severity="watch",
        statement="The depths are hardly those of a Gumbel distribution (Anderson-Darling, probability {p_value}): what is "
        "told of deeper pits may be wrong.",
        values=("p_value",),
        applies=lambda _, r: (
            [Place(path=("pit_depths_mm",), values={"p_value": round(r.fit.p_value, 6)})] if r.fit.p_value < POOR_FIT else []
        ),
    ),
    Finding(
        code="other_shape_fits_better",
        severity="watch",
        statement="An extreme value distribution of shape {shape} fits clearly better than Gumbel's: {meaning}.",
        values=("shape", "meaning"),
        applies=_other_shape,
    ),
    Finding(
        code="patches_without_pit",
        severity="watch",
        statement="{count} of {patches} patches have no pit: a depth of 0 is no pit's, and the fit is told as if it were. Take "
        "larger patches.",
        values=("count", "patches"),
        applies=_without_pit,
    ),
    Finding(
        code="depths_coarse",
        severity="note",
        statement="The {patches} depths have {different} different values: rounded so, they may look like a poor fit.",
        values=("patches", "different"),
        applies=_coarse,
    ),
)
