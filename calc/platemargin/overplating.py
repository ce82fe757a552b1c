"""Plate welded over plate: what it weighs, and how the boat floats with it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from platemargin.attitude import Attitude, attitude_with
from platemargin.declared import Step, refuse
from platemargin.flotation import Flotation, floats
from platemargin.overplating_faults import FAULTS
from platemargin.overplating_patches import Added, Patch, PatchResult, added_of, patch_results
from platemargin.overplating_repairs import REPAIRS, Repair
from platemargin.quantities import rounded

__all__ = ["FAULTS", "WORKING", "Overplating", "overplating"]


@dataclass(frozen=True, kw_only=True)
class Overplating:
    """What the plate weighs, and how the boat floats with it; None where what was sent does not tell."""

    steel_kg: float
    weld_metal_kg: float
    net_added_kg: float
    added_percent: float | None
    patches: tuple[PatchResult, ...]
    waterplane_area_m2: float
    tonnes_per_cm: float
    sinkage_mm: float
    trim_moment_t_m_per_cm: float
    trim_mm: float | None
    trim_least_mm: float | None
    trim_by: Literal["bow", "stern"] | None
    displacement_after_kg: float | None
    transverse_moment_kg_m: float
    gm_after_m: float | None
    heel_degrees: float | None
    heel_to: Literal["port", "starboard"] | None
    side_lowered_mm: float | None
    lowered_mm: float | None
    freeboard_after_mm: float | None
    opening_above_water_mm: float | None
    beyond_range: tuple[str, ...]
    afloat: Flotation
    added: Added
    attitude: Attitude
    repairs: tuple[Repair, ...] = REPAIRS


WORKING = (
    Step(
        symbol="heaviest_patch_kg",
        formula="density x area_m2 x thickness_mm / 1000",
        substituted="7850 * {area_m2} * {thickness_mm} / 1000",
        value="heaviest_patch_kg",
        unit="kg",
        reference="steel-density",
    ),
    Step(
        symbol="net_added_kg",
        formula="steel_kg + weld_metal_kg - ballast_removed_kg",
        substituted="{steel_kg} + {weld_metal_kg} - {ballast_removed_kg}",
        value="net_added_kg",
        unit="kg",
        reference="initial-stability",
    ),
    Step(
        symbol="waterplane_area_m2",
        formula="waterplane_coefficient x length_m x beam_m",
        substituted="{waterplane_coefficient} * {length_m} * {beam_m}",
        value="waterplane_area_m2",
        unit="m2",
        reference="hull-form-practice",
    ),
    Step(
        symbol="tonnes_per_cm",
        formula="waterplane_area_m2 x water density / 100 000",
        substituted="{waterplane_area_m2} * {kg_per_m3} / 100000",
        value="tonnes_per_cm",
        unit="t/cm",
        reference="initial-stability",
    ),
    Step(
        symbol="sinkage_mm",
        formula="1000 x net_added_kg / (waterplane_area_m2 x water density)",
        substituted="1000 * {net_added_kg} / ({waterplane_area_m2} * {kg_per_m3})",
        value="sinkage_mm",
        unit="mm",
        reference="initial-stability",
    ),
    Step(
        symbol="trim_moment_t_m_per_cm",
        formula="water density x waterplane_coefficient^3 x beam_m x length_m^2 / 1 200 000",
        substituted="{kg_per_m3} * {waterplane_coefficient}^3 * {beam_m} * {length_m}^2 / 1200000",
        value="trim_moment_t_m_per_cm",
        unit="t m/cm",
        reference="initial-stability",
    ),
    Step(
        symbol="trim_mm",
        formula="longitudinal moment / (100 x trim_moment_t_m_per_cm)",
        substituted="{longitudinal_moment_kg_m} / (100 * {trim_moment_t_m_per_cm})",
        value="trim_mm",
        unit="mm",
        reference="initial-stability",
    ),
    Step(
        symbol="heel_degrees",
        formula="atan(transverse_moment_kg_m / (displacement_after_kg x metacentric height)) x 180 / pi",
        substituted="atan({transverse_moment_kg_m} / ({displacement_after_kg} * {gm_used_m})) * 180 / 3.14159265359",
        value="heel_degrees",
        unit="degree",
        reference="initial-stability",
    ),
    Step(
        symbol="side_lowered_mm",
        formula="500 x beam_m x transverse_moment_kg_m / (displacement_after_kg x metacentric height)",
        substituted="500 * {beam_m} * {transverse_moment_kg_m} / ({displacement_after_kg} * {gm_used_m})",
        value="side_lowered_mm",
        unit="mm",
        reference="initial-stability",
    ),
    Step(
        symbol="lowered_mm",
        formula="sinkage_mm + trim_mm / 2 + side_lowered_mm, as far as they are known",
        substituted="{sinkage_mm} + {trim_counted_mm} / 2 + {side_counted_mm}",
        value="lowered_mm",
        unit="mm",
        reference="hull-form-practice",
    ),
    Step(
        symbol="freeboard_after_mm",
        formula="freeboard_mm - lowered_mm",
        substituted="{freeboard_mm} - {lowered_mm}",
        value="freeboard_after_mm",
        unit="mm",
        reference="hull-form-practice",
    ),
    Step(
        symbol="opening_above_water_mm",
        formula="lowest_opening_mm - lowered_mm",
        substituted="{lowest_opening_mm} - {lowered_mm}",
        value="opening_above_water_mm",
        unit="mm",
        reference="hull-form-practice",
    ),
)


def overplating(*, patches: Sequence[Patch], hull: Mapping[str, Any], freeboard_mm: float | None = None) -> Overplating:
    """Weigh the patches, and float the boat with them.

    steel = density x area x thickness; tonnes per centimetre = waterplane area x water density / 100;
    sinkage = net weight / tonnes per centimetre; trim = longitudinal moment / moment to trim one centimetre;
    heel = atan(transverse moment / (displacement x metacentric height)).

    Parameters
    ----------
    patches : sequence of mappings, 1 to 200
        Zone, `area_m2` [m2], `thickness_mm` [mm]; station from the stem, side, height above the baseplate, offset from the
        centreline and length of the edge that is welded [m], where they are known.
    hull : mapping
        Length and beam [m]; waterplane coefficient, water, draught [m], displacement [kg], metacentric height before the work
        [m], the lowest opening above the water [mm], ballast taken out [kg] and where [m], as far as they are known.
    freeboard_mm : float, optional
        Least freeboard before the work [mm].

    Returns
    -------
    Overplating
        None where what was sent does not tell. Lowered is the lowest corner: sinkage, half the trim and the heel at the half
        beam together, as far as they are known.

    Raises
    ------
    NotApplicableError
        More plate than hull, a place off the hull, ballast or a displacement of more than the boat, a metacentric height that
        no hull of this beam has.

    Notes
    -----
    Valid for upright sides and small changes: sinkage to a tenth of the beam, heel to 10 degrees, trim to a twentieth of the
    length; beyond the latter two is None. The
    centre of flotation is taken amidships. The trim is the greatest that a waterplane of this coefficient allows (its
    inertia that of a box shortened to the same area) and the least stands beside it; longitudinal metacentric height is taken
    as the metacentric radius. The metacentric height after the work is exact for upright sides where the draught and each
    height is known: displacement x GM grows by each weight times its depth below the new mid-layer of water; otherwise the
    one sent is used.

    Examples
    --------
    >>> floats_with = overplating(
    ...     patches=[{"zone": "baseplate", "area_m2": 25.0, "thickness_mm": 6.0}],
    ...     hull={"length_m": 20.0, "beam_m": 2.0, "waterplane_coefficient": 1.0},
    ... )
    >>> round(floats_with.steel_kg, 1), round(floats_with.tonnes_per_cm, 3), round(floats_with.sinkage_mm, 1)
    (1177.5, 0.4, 29.4)

    References
    ----------
    steel-density, water-density, initial-stability, hull-form-practice, repair-practice, freeboard-practice
    """
    arguments = dict(locals())
    refuse(FAULTS, arguments)
    afloat = floats(hull)
    results = patch_results(patches, hull["beam_m"])
    added = added_of(patches, results, hull)
    attitude = attitude_with(afloat, added)
    return Overplating(
        steel_kg=added.steel_kg,
        weld_metal_kg=added.weld_metal_kg,
        net_added_kg=added.net_kg,
        added_percent=None if afloat.displacement_kg is None else 100.0 * added.net_kg / afloat.displacement_kg,
        patches=results,
        waterplane_area_m2=afloat.waterplane_area_m2,
        tonnes_per_cm=afloat.tonnes_per_cm,
        sinkage_mm=attitude.sinkage_mm,
        trim_moment_t_m_per_cm=afloat.trim_moment_t_m_per_cm(),
        trim_mm=_size(attitude.trim_mm),
        trim_least_mm=_size(attitude.trim_least_mm),
        trim_by=_way(attitude.trim_mm, "mm", "bow", "stern"),
        displacement_after_kg=attitude.displacement_kg,
        transverse_moment_kg_m=abs(added.transverse_moment_kg_m),
        gm_after_m=attitude.gm_after_m,
        heel_degrees=_size(attitude.heel_degrees),
        heel_to=_way(attitude.heel_degrees, "degree", "port", "starboard"),
        side_lowered_mm=attitude.side_lowered_mm,
        lowered_mm=attitude.lowered_mm,
        freeboard_after_mm=_after(freeboard_mm, attitude.lowered_mm),
        opening_above_water_mm=_after(hull.get("lowest_opening_mm"), attitude.lowered_mm),
        beyond_range=attitude.beyond,
        afloat=afloat,
        added=added,
        attitude=attitude,
    )


def _size(value: float | None) -> float | None:
    return None if value is None else abs(value)


def _way(value: float | None, unit: str, negative: str, positive: str) -> Any:
    """Return the name of the way that a change goes; None where there is none as it is written."""
    size = 0.0 if value is None else float(rounded(value, unit))
    return None if size == 0 else negative if size < 0 else positive


def _after(before: float | None, lowered: float | None) -> float | None:
    return None if before is None or lowered is None else before - lowered
