"""How a boat comes to lie when weight is put on or taken out: sinkage, trim and heel together."""

from __future__ import annotations

from dataclasses import dataclass
from math import radians, tan

from platemargin.flotation import GREATEST_HEEL_DEGREES, Flotation, heel_degrees
from platemargin.overplating_patches import Added
from platemargin.quantities import below, rounded

__all__ = ["Attitude", "attitude_with"]


@dataclass(frozen=True, kw_only=True)
class Attitude:
    """Trim by the stern and heel to starboard are positive.

    None is what cannot be told: for want of data, or, where `beyond` names it, because it is more than the form holds for.
    `lowered_mm` is of the lowest corner. `gm_used_m` is what the heel was reckoned with.
    """

    sinkage_mm: float
    trim_mm: float | None
    trim_least_mm: float | None
    displacement_kg: float | None
    gm_after_m: float | None
    gm_used_m: float | None
    heel_degrees: float | None
    side_lowered_mm: float | None
    lowered_mm: float | None
    beyond: tuple[str, ...]


def attitude_with(afloat: Flotation, added: Added) -> Attitude:
    """Return how a hull lies with weight added; see `overplating` for the formulas and their range."""
    sinkage = afloat.sinkage_mm(added.net_kg)
    trim, least = _trims(afloat, added.longitudinal_moment_kg_m)
    displacement = None if afloat.displacement_kg is None else afloat.displacement_kg + added.net_kg
    gm_after = _gm_after_m(afloat, added, sinkage)
    gm = afloat.gm_m if gm_after is None else gm_after
    heel = _heel(added.transverse_moment_kg_m, displacement, gm)
    side = _side_lowered_mm(afloat.beam_m, heel)
    trims_too_far = trim is not None and not afloat.is_trim_small(trim)
    heels_too_far = heel is not None and bool(below(GREATEST_HEEL_DEGREES, abs(heel), "degree"))
    capsizes = gm is not None and not below(0.0, gm, "m")
    beyond = tuple(name for name, is_so in (("trim", trims_too_far), ("heel", heels_too_far or capsizes)) if is_so)
    return Attitude(
        sinkage_mm=sinkage,
        trim_mm=None if trims_too_far else trim,
        trim_least_mm=None if trims_too_far else least,
        displacement_kg=displacement,
        gm_after_m=gm_after,
        gm_used_m=gm,
        heel_degrees=None if "heel" in beyond else heel,
        side_lowered_mm=None if "heel" in beyond else side,
        lowered_mm=None if beyond else sinkage + 0.5 * abs(trim or 0.0) + (side or 0.0),
        beyond=beyond,
    )


def _trims(afloat: Flotation, moment: float | None) -> tuple[float | None, float | None]:
    if moment is None:
        return None, None
    return afloat.trim_mm(moment), afloat.trim_mm(moment, least=True)


def _gm_after_m(afloat: Flotation, added: Added, sinkage_mm: float) -> float | None:
    """Return the metacentric height after the work, for upright sides.

    Displacement x GM = water density x I + displacement x (KB - KG): the water that carries a weight w comes in at the
    waterline, T + s / 2 above the keel, and the weight at its own height h, so that it grows by w (T + s / 2 - h).
    """
    gm, draught, displacement, vertical = afloat.gm_m, afloat.draught_m, afloat.displacement_kg, added.vertical_moment_kg_m
    if gm is None or draught is None or displacement is None or vertical is None:
        return None
    carried_at = draught + 0.0005 * sinkage_mm
    return (displacement * gm + added.net_kg * carried_at - vertical) / (displacement + added.net_kg)


def _heel(moment: float, displacement: float | None, gm: float | None) -> float | None:
    if float(rounded(moment, "kg m")) == 0:
        return 0.0
    if displacement is None or gm is None or gm <= 0:
        return None
    return heel_degrees(moment, displacement * gm)


def _side_lowered_mm(beam_m: float, heel: float | None) -> float | None:
    return None if heel is None else 500.0 * beam_m * tan(radians(abs(heel)))
