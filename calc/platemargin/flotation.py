"""How deep and how level a boat floats, and how far it heels: small changes to a hull with upright sides."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import atan, degrees
from typing import Any

from platemargin.quantities import rounded

__all__ = [
    "BLOCK_COEFFICIENT",
    "GREATEST_HEEL_DEGREES",
    "GREATEST_SINKAGE_SHARE",
    "GREATEST_TRIM_SHARE",
    "KG_PER_M3",
    "WATER",
    "WATERPLANE_COEFFICIENT",
    "Flotation",
    "depth_bound_m",
    "floats",
    "heel_degrees",
]

#: Density of the water [kg/m3]. Reference: water-density.
KG_PER_M3 = {"fresh": 1000.0, "brackish": 1010.0, "sea": 1025.0}
#: The water of an inland boat.
WATER = "fresh"
#: Waterplane area over length times beam: a parallel body with short ends. Reference: hull-form-practice.
WATERPLANE_COEFFICIENT = 0.9
#: Volume under water over length x beam x draught: on the small side, so that heel is rather over- than understated.
#: Reference: hull-form-practice.
BLOCK_COEFFICIENT = 0.75
#: Beyond this heel one metacentric height no longer says where the boat comes to rest. Reference: initial-stability.
GREATEST_HEEL_DEGREES = 10.0
#: Beyond this trim, over the length, the ends are no longer in the water as they were. Reference: hull-form-practice.
GREATEST_TRIM_SHARE = 0.05

#: A sinkage of more than this share of the beam is no small change. Reference: hull-form-practice.
GREATEST_SINKAGE_SHARE = 0.1


@dataclass(frozen=True, kw_only=True)
class Flotation:
    """A hull afloat; displacement, draught and metacentric height are None where they are not known."""

    length_m: float
    beam_m: float
    coefficient: float
    kg_per_m3: float
    draught_m: float | None
    displacement_kg: float | None
    gm_m: float | None

    @property
    def waterplane_area_m2(self) -> float:
        """The area that the hull cuts from the water's surface."""
        return self.coefficient * self.length_m * self.beam_m

    @property
    def tonnes_per_cm(self) -> float:
        """What sinks the hull one centimetre."""
        return self.waterplane_area_m2 * self.kg_per_m3 / 100_000.0

    def sinkage_mm(self, added_kg: float) -> float:
        """Return how much deeper it floats."""
        return 10.0 * added_kg / (1000.0 * self.tonnes_per_cm)

    def trim_moment_t_m_per_cm(self, *, most: bool = False) -> float:
        """Return the moment that trims it one centimetre from end to end.

        A waterplane that is widest amidships has at least the inertia of a box shortened to its area, and at most that of one
        narrowed to it: coefficient cubed, or plain, times B L^3 / 12.
        """
        share = self.coefficient if most else self.coefficient**3
        return self.kg_per_m3 * share * self.beam_m * self.length_m**2 / (12.0 * 100_000.0)

    def trim_mm(self, moment_kg_m: float, *, least: bool = False) -> float:
        """Return the trim from end to end, signed as the moment is: the greatest that the form allows, or the least."""
        return 10.0 * moment_kg_m / (1000.0 * self.trim_moment_t_m_per_cm(most=least))

    def is_trim_small(self, trim_mm: float) -> bool:
        """Tell whether the form holds for such a trim."""
        return bool(rounded(abs(trim_mm), "mm") <= rounded(1000.0 * GREATEST_TRIM_SHARE * self.length_m, "mm"))


def floats(hull: Mapping[str, Any]) -> Flotation:
    """Return a hull afloat; where its displacement is not told, by its block coefficient from its draught."""
    kg_per_m3 = KG_PER_M3[hull.get("water", WATER)]
    draught = hull.get("draught_m")
    displacement = hull.get("displacement_kg")
    if displacement is None and draught is not None:
        displacement = kg_per_m3 * BLOCK_COEFFICIENT * hull["length_m"] * hull["beam_m"] * draught
    return Flotation(
        length_m=hull["length_m"],
        beam_m=hull["beam_m"],
        coefficient=hull.get("waterplane_coefficient", WATERPLANE_COEFFICIENT),
        kg_per_m3=kg_per_m3,
        draught_m=draught,
        displacement_kg=displacement,
        gm_m=hull.get("gm_m"),
    )


def depth_bound_m(hull: Mapping[str, Any]) -> float:
    """Return a draught that the hull does not exceed: its own, or its beam where none is told."""
    return float(hull.get("draught_m") or hull["beam_m"])


def heel_degrees(moment_kg_m: float, righting_kg_m: float) -> float:
    """Return the heel under a transverse moment: atan(moment / (displacement x metacentric height)).

    Examples
    --------
    >>> round(heel_degrees(200.0, 16_000.0 * 0.5), 3)
    1.432
    """
    return degrees(atan(moment_kg_m / righting_kg_m))
