"""Patches of plate welded over plate, and ballast taken out: masses, and where they act."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum, pi, sqrt
from typing import Any

from platemargin.readings import Side

__all__ = ["STEEL_KG_PER_M3", "Added", "Patch", "PatchResult", "added_of", "least_edge_m", "lies_to_a_side", "patch_results"]

#: A patch or a hull, as it is sent.
Patch = Mapping[str, Any]

#: Reference: steel-density.
STEEL_KG_PER_M3 = 7850.0
#: How far from the centreline a zone's plate lies, as a share of the half beam; any other zone's lies at the hull's side.
#: Reference: hull-form-practice.
_LEVER = {
    "baseplate": 0.5,
    "swim": 0.5,
    "counter": 0.5,
    "transom": 0.5,
    "roof": 0.5,
    "tank": 0.5,
    "weed-hatch": 0.0,
    "stem": 0.0,
    "skeg": 0.0,
    "rudder": 0.0,
}
_SIGN = {"port": -1.0, "starboard": 1.0}


@dataclass(frozen=True, kw_only=True)
class PatchResult:
    """One patch: what it weighs, and how far from the centreline; `side` is None where it was not told."""

    zone: str
    side: Side | None
    area_m2: float
    thickness_mm: float
    steel_kg: float
    weld_metal_kg: float | None
    offset_m: float
    least_edge_m: float


@dataclass(frozen=True, kw_only=True)
class Added:
    """What goes on and what comes out [kg], and moments [kg m]: by the stern, to starboard, and above the baseplate.

    A moment is None where a place that it needs is not told.
    """

    steel_kg: float
    weld_metal_kg: float
    ballast_removed_kg: float
    longitudinal_moment_kg_m: float | None
    transverse_moment_kg_m: float
    vertical_moment_kg_m: float | None

    @property
    def net_kg(self) -> float:
        """The weight that the boat carries more, or, where negative, less."""
        return self.steel_kg + self.weld_metal_kg - self.ballast_removed_kg


def patch_results(patches: Sequence[Patch], beam_m: float) -> tuple[PatchResult, ...]:
    """Return what each patch weighs: area x thickness x density, and along its edge a fillet as high as it is thick."""
    return tuple(
        PatchResult(
            zone=patch["zone"],
            side=patch.get("side"),
            area_m2=patch["area_m2"],
            thickness_mm=patch["thickness_mm"],
            steel_kg=STEEL_KG_PER_M3 * patch["area_m2"] * patch["thickness_mm"] / 1000.0,
            weld_metal_kg=_weld_metal_kg(patch),
            offset_m=_offset_m(patch, beam_m),
            least_edge_m=least_edge_m(patch["area_m2"]),
        )
        for patch in patches
    )


def added_of(patches: Sequence[Patch], results: Sequence[PatchResult], hull: Patch) -> Added:
    """Return what goes on and comes out, and its moments; ballast comes out evenly from both sides."""
    weights = [one.steel_kg + (one.weld_metal_kg or 0.0) for one in results]
    ballast = hull.get("ballast_removed_kg", 0.0)
    masses = [*weights, *([-ballast] if ballast else [])]
    stations = [*(patch.get("station_m") for patch in patches), *([hull.get("ballast_station_m")] if ballast else [])]
    heights = [*(patch.get("height_m") for patch in patches), *([hull.get("ballast_height_m")] if ballast else [])]
    levers = [None if station is None else station - 0.5 * hull["length_m"] for station in stations]
    offsets = [one.offset_m * _SIGN.get(one.side or "", 0.0) for one in results]
    return Added(
        steel_kg=fsum(one.steel_kg for one in results),
        weld_metal_kg=fsum(one.weld_metal_kg or 0.0 for one in results),
        ballast_removed_kg=ballast,
        longitudinal_moment_kg_m=_moment(masses, levers),
        transverse_moment_kg_m=_moment(weights, offsets) or 0.0,
        vertical_moment_kg_m=_moment(masses, heights),
    )


def least_edge_m(area_m2: float) -> float:
    """Return the shortest edge that goes round an area: a circle's."""
    return 2.0 * sqrt(pi * area_m2)


def lies_to_a_side(zone: str) -> bool:
    """Tell whether a zone's plate is at the hull's side, so that a patch on it is on one side or the other."""
    return zone not in _LEVER


def _weld_metal_kg(patch: Patch) -> float | None:
    edge = patch.get("edge_length_m")
    return None if edge is None else STEEL_KG_PER_M3 * edge * 0.5 * (patch["thickness_mm"] / 1000.0) ** 2


def _offset_m(patch: Patch, beam_m: float) -> float:
    if patch.get("side") not in _SIGN:
        return 0.0
    told = patch.get("offset_m")
    return float(0.5 * beam_m * _LEVER.get(patch["zone"], 1.0) if told is None else told)


def _moment(masses: Sequence[float], levers: Sequence[float | None]) -> float | None:
    known = [lever for lever in levers if lever is not None]
    return fsum(mass * lever for mass, lever in zip(masses, known, strict=True)) if len(known) == len(levers) else None
