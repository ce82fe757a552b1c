"""What has to be known of a number of anodes: whether it is enough, too many, or no sensible number at all."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from platemargin.anode_needs import Governing
from platemargin.anode_sizing_places import how_many, when
from platemargin.current_demand import density_in, hull_box_m2
from platemargin.declared import Arguments, Finding, Place
from platemargin.electrolyte import FRESH_BEGINS_OHM_M, TEMPERATURE_C
from platemargin.quantities import below

__all__ = ["COUNT_FINDINGS"]


#: Why so many are needed, by what governs, and what helps against that.
_NEEDED_FOR = {
    Governing.MASS: ("the metal that the design life uses up", "coat bare steel, take heavier anodes, or renew them sooner"),
    Governing.INITIAL_CURRENT: (
        "the current that the steel takes at first",
        "coat bare steel, take longer anodes or another metal, or have impressed current designed",
    ),
    Governing.FINAL_CURRENT: (
        "the current when they are used up",
        "coat bare steel, take longer anodes or another metal, renew them sooner, or have impressed current designed",
    ),
}
#: Around this resistivity, where the one gives way to the other, neither of two sources of densities speaks (own rule).
_NEAR_FRESH = 1.5


def _near_fresh(arguments: Arguments, result: Any) -> bool:
    """Tell whether the density that is taken for the water would be another beyond the bound of fresh water."""
    low, high = FRESH_BEGINS_OHM_M / _NEAR_FRESH, FRESH_BEGINS_OHM_M * _NEAR_FRESH
    near = not below(result.resistivity_ohm_m, low, "ohm m") and not below(high, result.resistivity_ohm_m, "ohm m")
    own = arguments["current_density"] or all(surface.get("current_density") for surface in arguments["surfaces"] or [{}])
    return near and not own


def _more_than_box(arguments: Arguments, result: Any) -> Iterable[Place]:
    """Yield a place where the steel that is said to be wet is more than the box around the hull has."""
    hull = arguments["hull"]
    if hull is None:
        return
    box = hull_box_m2(hull["length_m"], hull["beam_m"], hull["draught_m"])
    if below(box, result.wetted_area_m2, "m2"):
        told = "surfaces" if arguments["surfaces"] else "wetted_area_m2"
        yield Place(path=(told,), values={"wetted_area_m2": result.wetted_area_m2, "box_m2": box})


COUNT_FINDINGS = (
    Finding(
        code="no_sensible_count",
        severity="act",
        statement="{count_needed} anodes of this size would be needed for {need}, more than the {densest_count} of the "
        "densest fitting for {wetted_area_m2} m2, whose current is {densest_met_percent} % of what is asked for at worst. No "
        "sensible number of them serves: {cure}.",
        values=("count_needed", "need", "densest_count", "wetted_area_m2", "densest_met_percent", "cure"),
        applies=when(
            lambda _, r: r.count_needed > r.densest_count,
            "anode",
            need=lambda _, r: _NEEDED_FOR[r.governing][0],
            cure=lambda _, r: _NEEDED_FOR[r.governing][1],
        ),
    ),
    Finding(
        code="count_beyond_sensible",
        severity="watch",
        statement="{count} anodes are more than the {densest_count} of the densest fitting for {wetted_area_m2} m2: check the "
        "number, or take larger ones.",
        values=("count", "densest_count", "wetted_area_m2"),
        applies=when(lambda a, r: (a["anode_count"] or 0) > r.densest_count, "anode_count"),
    ),
    Finding(
        code="demand_not_met",
        severity="act",
        statement="Of what the steel takes, {how_many} at worst can give {demand_met_percent} %; {count_needed} would be "
        "needed.",
        values=("how_many", "demand_met_percent", "count_needed"),
        applies=when(
            lambda _, r: bool(below(r.demand_met_percent, 100.0, "%")),
            "anode_count",
            how_many=lambda _, r: how_many(r.count),
        ),
    ),
    Finding(
        code="spacing_leaves_gaps",
        severity="watch",
        statement="With {how_many}, plate lies beyond the reach of any: each reaches {reach_m} m either way, and "
        "{count_by_spacing} are needed along both sides. A pair at bow and stern leaves the middle bare.",
        values=("how_many", "reach_m", "count_by_spacing"),
        applies=when(
            lambda _, r: r.count < (r.count_by_spacing or 0),
            "anode_count",
            how_many=lambda _, r: how_many(r.count),
        ),
    ),
    Finding(
        code="odd_count",
        severity="note",
        statement="With {how_many}, the two sides are not the same: one more makes them so.",
        values=("how_many",),
        applies=when(
            lambda a, r: a["hull"] is not None and r.count % 2 == 1 and r.count <= r.densest_count,
            how_many=lambda _, r: how_many(r.count),
        ),
    ),
    Finding(
        code="fresh_water_varies",
        severity="watch",
        statement="Fresh water is anything from {low_ohm_m} to {high_ohm_m} ohm m, which takes {low_count} to {high_count} "
        "anodes. Have its conductivity measured where the boat lies.",
        values=("low_ohm_m", "high_ohm_m", "low_count", "high_count"),
        applies=when(
            lambda _, r: bool(r.counts_over_range),
            "electrolyte",
            low_ohm_m=lambda _, r: r.counts_over_range[0].resistivity_ohm_m,
            high_ohm_m=lambda _, r: r.counts_over_range[-1].resistivity_ohm_m,
            low_count=lambda _, r: r.counts_over_range[0].count,
            high_count=lambda _, r: r.counts_over_range[-1].count,
        ),
    ),
    Finding(
        code="demand_uncertain_near_fresh",
        severity="watch",
        statement="Up to {fresh_ohm_m} ohm m bare steel is taken to need {salt_a_per_m2} A/m2 on average, as in the sea, and "
        "from there on {fresh_a_per_m2} A/m2: at {resistivity_ohm_m} ohm m it may need anything between, and the number of "
        "anodes with it. A density that was measured decides.",
        values=("fresh_ohm_m", "salt_a_per_m2", "fresh_a_per_m2", "resistivity_ohm_m"),
        applies=when(
            _near_fresh,
            "electrolyte",
            fresh_ohm_m=lambda _, _r: FRESH_BEGINS_OHM_M,
            salt_a_per_m2=lambda a, _: density_in(0.0, a["electrolyte"].get("temperature_c", TEMPERATURE_C)).mean_a_per_m2,
            fresh_a_per_m2=lambda _, _r: density_in(FRESH_BEGINS_OHM_M, TEMPERATURE_C).mean_a_per_m2,
        ),
    ),
    Finding(
        code="area_over_hull",
        severity="watch",
        statement="{wetted_area_m2} m2 of wet steel is more than the {box_m2} m2 of the box around the hull, and no hull has "
        "more: check areas and measures.",
        values=("wetted_area_m2", "box_m2"),
        applies=_more_than_box,
    ),
)
