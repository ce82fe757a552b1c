"""What the reader of an overplating's answer has to know, and what was taken where nothing was told."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from platemargin.declared import Arguments, Assumption, Finding, Place, once
from platemargin.flotation import BLOCK_COEFFICIENT, GREATEST_SINKAGE_SHARE, KG_PER_M3, WATER
from platemargin.overplating_patches import STEEL_KG_PER_M3, least_edge_m, lies_to_a_side
from platemargin.quantities import below, rounded
from platemargin.readings import HULL_SIDES
from platemargin.zones import DEFAULT_EXPOSURE, nearest_zone

__all__ = ["ASSUMED", "FINDINGS", "LITTLE_MM", "LOW_OPENING_MM"]

#: An edge or an opening this near the water calls for action [mm]. Reference: freeboard-practice.
LITTLE_MM = 150.0
#: An opening this near the water is watched [mm]. Reference: freeboard-practice.
LOW_OPENING_MM = 250.0


def _lengthwise(arguments: Arguments) -> bool:
    """Tell whether the place along the hull of every weight is told."""
    return all("station_m" in patch for patch in arguments["patches"]) and not _ballast_lacks(arguments, "ballast_station_m")


def _ballast_lacks(arguments: Arguments, name: str) -> bool:
    return bool(arguments["hull"].get("ballast_removed_kg")) and name not in arguments["hull"]


def _left(which: str, low: float, high: float) -> Callable[[Arguments, Any], Iterable[Place]]:
    """Return a predicate: `which` comes to `low` mm or more above the water, and below `high`."""
    path = ("freeboard_mm",) if which == "freeboard_after_mm" else ("hull", "lowest_opening_mm")

    def applies(_: Arguments, result: Any) -> Iterable[Place]:
        left = getattr(result, which)
        if left is not None and bool(below(left, high, "mm")) and not below(left, low, "mm"):
            yield Place(path=path, values={which: left})

    return applies


def _heels(result: Any) -> bool:
    return float(rounded(result.transverse_moment_kg_m, "kg m")) > 0


def _one_sided(arguments: Arguments, result: Any) -> Iterable[Place]:
    sides = {patch.get("side") for patch in arguments["patches"]} & {"port", "starboard"}
    if len(sides) == 1 and _heels(result):
        yield Place(values={"side": next(iter(sides)), "transverse_moment_kg_m": result.transverse_moment_kg_m})


def _side_not_told(arguments: Arguments, _: Any) -> Iterable[Place]:
    for index, patch in enumerate(arguments["patches"]):
        if lies_to_a_side(patch["zone"]) and patch.get("side") not in HULL_SIDES:
            yield Place(path=("patches", index, "side"), values={"zone": patch["zone"]})


def _unknown_zone(arguments: Arguments, _: Any) -> Iterable[Place]:
    for index, patch in enumerate(arguments["patches"]):
        if patch["zone"] not in DEFAULT_EXPOSURE:
            near = nearest_zone(patch["zone"])
            did_you = f" (is {near} meant?)" if near else ""
            yield Place(path=("patches", index, "zone"), values={"zone": patch["zone"], "did_you": did_you})


def _short_edge(arguments: Arguments, _: Any) -> Iterable[Place]:
    for index, patch in enumerate(arguments["patches"]):
        least = least_edge_m(patch["area_m2"])
        if bool(below(patch.get("edge_length_m", least), least, "m")):
            values = {"edge_length_m": patch["edge_length_m"], "least_edge_m": least, "area_m2": patch["area_m2"]}
            yield Place(path=("patches", index, "edge_length_m"), values=values)


def _ballast_out(_: Arguments, result: Any) -> Iterable[Place]:
    if result.added.ballast_removed_kg:
        path = ("hull", "ballast_removed_kg")
        yield Place(path=path, values={"ballast_removed_kg": result.added.ballast_removed_kg})


def _less_stiff(_: Arguments, result: Any) -> Iterable[Place]:
    before, after = result.afloat.gm_m, result.gm_after_m
    if after is not None and below(0.0, after, "m") and below(after, before, "m"):
        yield Place(path=("hull", "gm_m"), values={"gm_m": before, "gm_after_m": after})


def _sinks_far(_: Arguments, result: Any) -> Iterable[Place]:
    if below(1000.0 * GREATEST_SINKAGE_SHARE * result.afloat.beam_m, result.sinkage_mm, "mm"):
        yield Place(values={"sinkage_mm": result.sinkage_mm})


def _no_stability(_: Arguments, result: Any) -> bool:
    return result.gm_after_m is not None and not below(0.0, result.gm_after_m, "m")


def _too_far(_: Arguments, result: Any) -> Iterable[Place]:
    for way in result.attitude.beyond:
        if way == "trim" or not _no_stability({}, result):
            yield Place(values={"way": "trims" if way == "trim" else "heels"})


FINDINGS = (
    Finding(
        code="edge_under_water",
        severity="act",
        statement="The lowest edge of the hull would be at {freeboard_after_mm} mm: under water. It is not to be floated so.",
        values=("freeboard_after_mm",),
        applies=_left("freeboard_after_mm", -1e9, 0.001),
    ),
    Finding(
        code="opening_under_water",
        severity="act",
        statement="The lowest opening would be at {opening_above_water_mm} mm, no longer above the water: the boat floods "
        "through it. It is not to be floated so.",
        values=("opening_above_water_mm",),
        applies=_left("opening_above_water_mm", -1e9, 0.001),
    ),
    Finding(
        code="little_freeboard",
        severity="act",
        statement=f"Only {{freeboard_after_mm}} mm of freeboard would be left: less than {LITTLE_MM:g} mm (common practice).",
        values=("freeboard_after_mm",),
        applies=_left("freeboard_after_mm", 0.001, LITTLE_MM),
    ),
    Finding(
        code="opening_near_water",
        severity="act",
        statement="The lowest opening would be only {opening_above_water_mm} mm above the water: "
        f"less than {LITTLE_MM:g} mm (common practice). Raise it or close it for good before the boat is floated.",
        values=("opening_above_water_mm",),
        applies=_left("opening_above_water_mm", 0.001, LITTLE_MM),
    ),
    Finding(
        code="opening_low",
        severity="watch",
        statement="The lowest opening would be {opening_above_water_mm} mm above the water: "
        f"less than {LOW_OPENING_MM:g} mm (common practice).",
        values=("opening_above_water_mm",),
        applies=_left("opening_above_water_mm", LITTLE_MM, LOW_OPENING_MM),
    ),
    Finding(
        code="no_stability_left",
        severity="act",
        statement="The metacentric height would be {gm_after_m} m: the boat would not stay upright. It is not to be "
        "floated so.",
        values=("gm_after_m",),
        applies=lambda a, r: [Place(values={"gm_after_m": r.gm_after_m})] if _no_stability(a, r) else [],
    ),
    Finding(
        code="beyond_small_angles",
        severity="act",
        statement="The boat {way} further than this arithmetic holds for: no figure is given, and it is not to be floated "
        "so until a naval architect has reckoned it.",
        values=("way",),
        applies=_too_far,
    ),
    Finding(
        code="sinks_far",
        severity="act",
        statement="The boat sinks {sinkage_mm} mm, more than a tenth of its beam: further than this arithmetic holds for. It "
        "is not to be floated so until a naval architect has reckoned it.",
        values=("sinkage_mm",),
        applies=_sinks_far,
    ),
    Finding(
        code="one_side_only",
        severity="watch",
        statement="Everything that lies to one side lies to {side} ({transverse_moment_kg_m} kg m): the boat lists unless "
        "weight is moved.",
        values=("side", "transverse_moment_kg_m"),
        applies=_one_sided,
    ),
    Finding(
        code="heel_not_known",
        severity="watch",
        statement="The boat will list, by how much is not known without gm_m and either draught_m or displacement_kg: what "
        "is left above the water is told as if it stayed upright.",
        applies=once(lambda _, r: _heels(r) and r.heel_degrees is None and not r.attitude.beyond, "hull", "gm_m"),
    ),
    Finding(
        code="trim_not_known",
        severity="watch",
        statement="How the boat trims is not known, because where along the hull a weight lies is not told: what is left "
        "above the water is told as if it stayed level.",
        applies=once(lambda a, _: not _lengthwise(a)),
    ),
    Finding(
        code="side_not_told",
        severity="watch",
        statement="No side is told of a patch on {zone}: it is taken as half to port and half to starboard. On one side "
        "alone it would make the boat list.",
        values=("zone",),
        applies=_side_not_told,
    ),
    Finding(
        code="freeboard_not_told",
        severity="watch",
        statement="Neither the freeboard nor the height of the lowest opening above the water is told: whether "
        "{sinkage_mm} mm is too deep cannot be said.",
        values=("sinkage_mm",),
        applies=lambda a, r: (
            [Place(values={"sinkage_mm": r.sinkage_mm})]
            if r.sinkage_mm > 0 and a["freeboard_mm"] is None and "lowest_opening_mm" not in a["hull"]
            else []
        ),
    ),
    Finding(
        code="opening_not_told",
        severity="watch",
        statement="The height of the lowest opening above the water is not told: boats flood through vents, outlets and "
        "hatches long before their edge is under.",
        applies=once(lambda a, _: a["freeboard_mm"] is not None and "lowest_opening_mm" not in a["hull"], "hull"),
    ),
    Finding(
        code="ballast_removed",
        severity="watch",
        statement="{ballast_removed_kg} kg of ballast taken from low down makes the boat tender as well as lighter: its "
        "stability is a naval architect's matter.",
        values=("ballast_removed_kg",),
        applies=_ballast_out,
    ),
    Finding(
        code="less_stiff",
        severity="watch",
        statement="The metacentric height falls from {gm_m} m to {gm_after_m} m.",
        values=("gm_m", "gm_after_m"),
        applies=_less_stiff,
    ),
    Finding(
        code="metacentric_height_as_before",
        severity="note",
        statement="The heel is reckoned with the metacentric height from before the work: the draught, or the height of a "
        "weight, is not told.",
        applies=once(lambda a, r: "gm_m" in a["hull"] and _heels(r) and r.gm_after_m is None, "hull", "gm_m"),
    ),
    Finding(
        code="edge_not_closed",
        severity="watch",
        statement="{edge_length_m} m of weld does not go round {area_m2} m2, which takes {least_edge_m} m at least: every edge "
        "is welded, or water and rust get behind the plate.",
        values=("edge_length_m", "area_m2", "least_edge_m"),
        applies=_short_edge,
    ),
    Finding(
        code="zone_not_known",
        severity="note",
        statement="{zone} is no zone that is known here{did_you}: its plate is taken to lie at the hull's side.",
        values=("zone", "did_you"),
        applies=_unknown_zone,
    ),
)

ASSUMED = (
    Assumption(
        field="water_kg_per_m3",
        value=lambda a, _: KG_PER_M3[a["hull"].get("water", WATER)],
        unit="kg/m3",
        basis="density of that kind of water",
        when=lambda _a, _r: True,
    ),
    Assumption(
        field="steel_kg_per_m3",
        value=STEEL_KG_PER_M3,
        unit="kg/m3",
        basis="nominal density of steel plate",
        when=lambda _a, _r: True,
    ),
    Assumption(
        field="centre_of_flotation_m",
        value=lambda a, _: 0.5 * a["hull"]["length_m"],
        unit="m",
        basis="amidships: where a boat that is as full forward as aft turns when it trims",
        when=lambda _, r: r.trim_mm is not None,
    ),
    Assumption(
        field="hull.displacement_kg",
        value=lambda _, r: r.afloat.displacement_kg,
        unit="kg",
        basis=f"{BLOCK_COEFFICIENT:g} of length x beam x draught, on the small side so that heel is not understated",
        when=lambda a, r: "displacement_kg" not in a["hull"] and r.afloat.displacement_kg is not None,
    ),
    Assumption(
        field="patches[].side",
        value="both",
        unit=None,
        basis="a patch without a side lies half to port and half to starboard",
        when=lambda a, _: any("side" not in patch for patch in a["patches"]),
    ),
    Assumption(
        field="patches[].offset_m",
        value=lambda a, r: {
            told.zone: float(rounded(told.offset_m, "m"))
            for told, sent in zip(r.patches, a["patches"], strict=True)
            if told.side in HULL_SIDES and "offset_m" not in sent
        },
        unit="m",
        basis="from the centreline: the half beam for plate at the side, half of that for plate of the bottom and the ends",
        when=lambda a, _: any(p.get("side") in HULL_SIDES and "offset_m" not in p for p in a["patches"]),
    ),
    Assumption(
        field="weld_metal_kg",
        value=0.0,
        unit="kg",
        basis="no length of edge is told for some patch: its weld metal is left out, a few hundredths of its weight",
        when=lambda a, _: any("edge_length_m" not in patch for patch in a["patches"]),
    ),
    Assumption(
        field="patches[].edge_length_m",
        value="a fillet as high as the plate is thick",
        unit=None,
        basis="the weld that closes the edge of an overplate",
        when=lambda a, _: any("edge_length_m" in patch for patch in a["patches"]),
    ),
)
