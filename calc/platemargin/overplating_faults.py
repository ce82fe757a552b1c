"""What a request for overplating cannot be: plate off the hull, or a hull that does not float as it says."""

from __future__ import annotations

from collections.abc import Iterable
from math import fsum

from platemargin.declared import Arguments, Fault, Place
from platemargin.flotation import depth_bound_m, floats
from platemargin.quantities import below
from platemargin.readings import zone_exposure
from platemargin.rules import RULE_EXPOSURES

__all__ = ["FAULTS"]


def _beyond_hull(arguments: Arguments) -> Iterable[Place]:
    length = arguments["hull"]["length_m"]
    for index, patch in enumerate(arguments["patches"]):
        if bool(below(length, patch.get("station_m", 0.0), "m")):
            yield Place(path=(index, "station_m"), values={"station_m": patch["station_m"], "length_m": length})


def _ballast_beyond_hull(arguments: Arguments) -> Iterable[Place]:
    hull = arguments["hull"]
    if bool(below(hull["length_m"], hull.get("ballast_station_m", 0.0), "m")):
        values = {"ballast_station_m": hull["ballast_station_m"], "length_m": hull["length_m"]}
        yield Place(path=("ballast_station_m",), values=values)


def _offset_nowhere(arguments: Arguments) -> Iterable[Place]:
    half = 0.5 * arguments["hull"]["beam_m"]
    for index, patch in enumerate(arguments["patches"]):
        if "offset_m" in patch and (patch.get("side") in (None, "centreline") or below(half, patch["offset_m"], "m")):
            yield Place(path=(index, "offset_m"), values={"offset_m": patch["offset_m"], "half_beam_m": half})


def _more_than_the_hull(arguments: Arguments) -> Iterable[Place]:
    """Yield where the patches cover more than a box around the hull has, and where all of them would cover it twice."""
    hull, patches = arguments["hull"], arguments["patches"]
    depth = max(hull["beam_m"], hull.get("draught_m", 0.0) + (arguments["freeboard_mm"] or 0.0) / 1000.0)
    box = hull["length_m"] * hull["beam_m"] + 2.0 * (hull["length_m"] + hull["beam_m"]) * depth
    wet = fsum(patch["area_m2"] for patch in patches if zone_exposure(patch["zone"]) in RULE_EXPOSURES)
    area, most = (wet, box) if below(box, wet, "m2") else (fsum(patch["area_m2"] for patch in patches), 2.0 * box)
    if below(most, area, "m2"):
        yield Place(values={"area_m2": area, "box_m2": most})


def _more_bottom_than_the_hull(arguments: Arguments) -> Iterable[Place]:
    hull = arguments["hull"]
    area, most = fsum(p["area_m2"] for p in arguments["patches"] if p["zone"] == "baseplate"), hull["length_m"] * hull["beam_m"]
    if below(most, area, "m2"):
        yield Place(values={"area_m2": area, "bottom_m2": most})


def _heavier_than_its_box(arguments: Arguments) -> Iterable[Place]:
    hull, told = arguments["hull"], arguments["hull"].get("displacement_kg")
    box = floats(hull).kg_per_m3 * hull["length_m"] * hull["beam_m"] * depth_bound_m(hull)
    if told is not None and below(box, told, "kg"):
        yield Place(path=("displacement_kg",), values={"displacement_kg": told, "box_kg": box})


def _all_ballast(arguments: Arguments) -> Iterable[Place]:
    hull = arguments["hull"]
    afloat = floats(hull)
    most = afloat.displacement_kg or afloat.kg_per_m3 * hull["length_m"] * hull["beam_m"] * depth_bound_m(hull)
    if not below(hull.get("ballast_removed_kg", 0.0), most, "kg"):
        yield Place(
            path=("ballast_removed_kg",), values={"ballast_removed_kg": hull["ballast_removed_kg"], "displacement_kg": most}
        )


def _stiffer_than_a_box(arguments: Arguments) -> Iterable[Place]:
    """Yield where the metacentre would be above that of a box: I / V over the keel's centre of buoyancy at the waterline."""
    hull = floats(arguments["hull"])
    if hull.gm_m is None or hull.draught_m is None or hull.displacement_kg is None:
        return
    most = hull.kg_per_m3 * hull.length_m * hull.beam_m**3 / (12.0 * hull.displacement_kg) + hull.draught_m
    if below(most, hull.gm_m, "m"):
        yield Place(path=("gm_m",), values={"gm_m": hull.gm_m, "most_m": most})


FAULTS = (
    Fault(
        field="patches",
        code="station_beyond_hull",
        message="station {station_m} m lies beyond the hull of {length_m} m",
        broken=_beyond_hull,
    ),
    Fault(
        field="hull",
        code="station_beyond_hull",
        message="ballast at {ballast_station_m} m lies beyond the hull of {length_m} m",
        broken=_ballast_beyond_hull,
    ),
    Fault(
        field="patches",
        code="offset_off_hull",
        message="{offset_m} m is counted from the centreline to port or starboard, as side says, and at most the half beam of "
        "{half_beam_m} m; give such a side and an offset within the hull",
        broken=_offset_nowhere,
    ),
    Fault(
        field="patches",
        code="patches_over_hull",
        message="the patches cover {area_m2} m2, more than the {box_m2} m2 of a box round the hull: check areas and hull",
        broken=_more_than_the_hull,
    ),
    Fault(
        field="patches",
        code="patches_over_bottom",
        message="the patches on the baseplate cover {area_m2} m2, more than length times beam, {bottom_m2} m2",
        broken=_more_bottom_than_the_hull,
    ),
    Fault(
        field="hull",
        code="displacement_over_box",
        message="{displacement_kg} kg is more than a box of the hull's length, beam and draught displaces, {box_kg} kg",
        broken=_heavier_than_its_box,
    ),
    Fault(
        field="hull",
        code="ballast_over_displacement",
        message="{ballast_removed_kg} kg of ballast is not less than the whole boat's {displacement_kg} kg",
        broken=_all_ballast,
    ),
    Fault(
        field="hull",
        code="gm_over_box",
        message="a metacentric height of {gm_m} m is more than the {most_m} m that even a box of this beam could have",
        broken=_stiffer_than_a_box,
    ),
)
