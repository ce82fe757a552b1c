"""What is asked of the plates of inland vessels, held beside the plate of any inland hull."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from platemargin.minimum_plating import PlatingZone, minimum_plating, outside_scope
from platemargin.quantities import rounded
from platemargin.reference import ES_TRIN_3_02, EU_2016_1629
from platemargin.rules import ByHull, Rule, RuleSet

__all__ = ["rule_set"]

#: Which part of the shell each zone is. Zones that keep the water out and are no shell, such as a rudder, are none.
_ZONES: dict[PlatingZone, tuple[str, ...]] = {
    "bottom": ("baseplate", "swim", "counter"),
    "bilge": ("chine",),
    "side": ("side", "transom", "stem"),
}
_NEEDS = ("length_m", "draught_m", "frame_spacing_mm")


def _rules(hull: Mapping[str, Any]) -> tuple[Rule, ...]:
    return tuple(rule for zone in _ZONES for rule in _of_zone(zone, hull))


def _of_zone(zone: PlatingZone, hull: Mapping[str, Any]) -> Iterable[Rule]:
    length_m, draught_m, frame_spacing_mm = (hull[name] for name in _NEEDS)
    least = minimum_plating(length_m=length_m, draught_m=draught_m, frame_spacing_mm=frame_spacing_mm, zone=zone)
    yield Rule(
        id=f"inland-vessel-{zone}",
        quantity="plate_mm",
        at_least=float(rounded(least.inland_vessel_mm, "mm")),
        zones=_ZONES[zone],
        severity="watch",
        statement=f"An inland vessel of this size would have thicker {zone} plates: a benchmark, which leisure craft are "
        "probably not bound by.",
        reference=ES_TRIN_3_02.id,
    )
    yield Rule(
        id=f"inland-vessel-{zone}-local",
        quantity="residual_mm",
        at_least=float(rounded(least.inland_vessel_local_mm, "mm")),
        zones=_ZONES[zone],
        severity="watch",
        statement=f"Not even locally would an inland vessel of this size have so thin {zone} plate: a benchmark, which leisure "
        "craft are probably not bound by.",
        reference=ES_TRIN_3_02.id,
    )


rule_set = RuleSet(
    id="inland-vessel-benchmark",
    version="1.0.0",
    title="Least plate of inland vessels of 20 m and more, as a benchmark",
    by_hull=ByHull(
        needs=_NEEDS,
        formula="Plate beside the pits: the greater of f b (1.5 + 0.06 L), above L = 40 m f b (2.3 + 0.04 L), at least 3.0 mm, "
        "and 0.005 a sqrt(T); what is left under a pit: nine tenths of it. L length_m, T draught_m, a frame_spacing_mm, "
        "f = 1 + 0.0013 (a - 500) and not below 1, b = 1.25 of the chine, else 1. A double hull, which may be thinner, is not "
        "supposed.",
        example={"length_m": 21.336, "beam_m": 3.6, "draught_m": 0.75, "frame_spacing_mm": 600.0},
        rules=_rules,
        outside=lambda hull: outside_scope(hull["length_m"], hull.get("beam_m"), hull["draught_m"]),
    ),
    references=(ES_TRIN_3_02, EU_2016_1629),
    may_clear=False,
)
