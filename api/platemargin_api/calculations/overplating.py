"""POST /v1/calculations/overplating."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from platemargin.flotation import KG_PER_M3, WATER, WATERPLANE_COEFFICIENT
from platemargin.overplating import FAULTS, WORKING, overplating
from platemargin.overplating_findings import ASSUMED, FINDINGS
from platemargin.overplating_repairs import REPAIRS
from platemargin.quantities import text
from platemargin.reference import (
    FREEBOARD_PRACTICE,
    HULL_FORM_PRACTICE,
    INITIAL_STABILITY,
    REPAIR_PRACTICE,
    STEEL_DENSITY,
    WATER_DENSITY,
)
from platemargin_api.calculation import Calculation, Figures
from platemargin_api.calculations import common, judged
from platemargin_api.fields import Choice, Flag, List, Member, Number, Object, Request, Response, Rows, Text

__all__ = ["OverplatingRequest", "OverplatingResult", "calculation"]

MOST_PATCHES = 200


def _metres(most: float, description: str, least: float = 0) -> Number:
    return Number("m", least, most, description=description)


class PatchRequest(Member):
    """A patch of plate that is welded over the shell."""

    zone = judged.zone(required=True)
    area_m2 = Number("m2", 0.01, 5000, description="Area of the patch.", required=True)
    thickness_mm = Number("mm", 1, 40, description="Thickness of the new plate.", required=True)
    station_m = judged.station_m("Middle of the patch, from the stem.")
    side = judged.side()
    height_m = _metres(20, "Height of its middle above the baseplate.")
    offset_m = _metres(15, "Distance of its middle from the centreline; absent = by its zone.")
    edge_length_m = _metres(1000, "Length of edge that is welded, for the weld metal.", 0.01)


class OverplatedHullRequest(Member):
    """The hull, before the work."""

    length_m = Number("m", 3, 150, description="Length at the water line.", required=True)
    beam_m = Number("m", 0.5, 30, description="Beam at the water line.", required=True)
    draught_m = _metres(10, "Draught.", 0.1)
    displacement_kg = Number("kg", 100, 5e7, description="What the boat weighs; absent = by its draught, where that is sent.")
    waterplane_coefficient = Number(
        "1",
        0.5,
        1,
        description="Waterplane area over length times beam; 1 is a box.",
        default=WATERPLANE_COEFFICIENT,
        basis="common practice for an inland hull; a lower one sinks it deeper",
    )
    water = Choice(tuple(KG_PER_M3), description="Water it lies in.", default=WATER, basis="an inland boat")
    gm_m = Number("m", 0.01, 20, description="Metacentric height, from an inclining test or a stability book.")
    lowest_opening_mm = Number("mm", 0, 10_000, description="Lowest edge of the lowest opening above the water.")
    ballast_removed_kg = Number(
        "kg", 0, 5e7, description="Ballast taken out, evenly from both sides.", default=0.0, basis="no ballast is taken out"
    )
    ballast_station_m = judged.station_m("Where it is taken out, from the stem.")
    ballast_height_m = _metres(20, "Height of the ballast above the baseplate.")


class OverplatingRequest(Request):
    """The patches, and the hull that carries them."""

    patches = Rows(PatchRequest, 1, MOST_PATCHES, description="The patches.", required=True)
    hull = Object(OverplatedHullRequest, description="The hull, before the work.", required=True)
    freeboard_mm = Number("mm", 0, 10_000, description="Least freeboard before the work.")


class PatchResponse(Response):
    """One patch."""

    zone = judged.zone()
    side = judged.side(nullable=True)
    area_m2 = Number("m2", 0.01, 5000, description="Its area.")
    thickness_mm = Number("mm", 1, 40, description="Its thickness.")
    steel_kg = Number("kg", 0, 2e6, description="Its plate.")
    weld_metal_kg = Number("kg", 0, 1e4, description="Weld metal along its edge; null where no edge is told.", nullable=True)
    offset_m = _metres(15, "Distance of its middle from the centreline that the heel is reckoned with.")
    least_edge_m = _metres(300, "The shortest edge that goes round its area.")


class RepairResponse(Response):
    """One way to make thin plate good."""

    repair = Choice(tuple(told.repair for told in REPAIRS), description="The way.")
    adds_weight = Flag(description="Whether it makes the boat heavier to speak of.")
    suits = Text(1, 500, description="When it suits.")
    leaves = Text(1, 500, description="What it leaves behind.")


def _nullable_mm(least: float, most: float, description: str) -> Number:
    return Number("mm", least, most, description=description, nullable=True)


class OverplatingResult(Response):
    """What the plate weighs, and how the boat floats with it."""

    steel_kg = Number("kg", 0, 5e7, description="All plates.")
    weld_metal_kg = Number("kg", 0, 2e6, description="Weld metal, of the patches whose edge is told.")
    net_added_kg = Number("kg", -5e7, 5e7, description="Plates and weld metal less ballast taken out.")
    added_percent = Number("%", -100, 1e6, description="That over the displacement.", nullable=True)
    patches = Rows(PatchResponse, 1, MOST_PATCHES, description="Each patch, in order.")
    waterplane_area_m2 = Number("m2", 0.75, 4500, description="Area that the hull cuts from the water's surface.")
    tonnes_per_cm = Number("t/cm", 0, 50, description="What sinks the boat one centimetre.")
    sinkage_mm = Number("mm", -1e5, 1e6, description="How much deeper it floats; negative = higher.")
    trim_moment_t_m_per_cm = Number("t m/cm", 0, 1e4, description="Moment that trims it one centimetre, at the least.")
    trim_mm = _nullable_mm(0, 7500, "Change of trim from end to end, at the most; null where not known or too large.")
    trim_least_mm = _nullable_mm(0, 7500, "The same at the least that the waterplane's coefficient allows.")
    trim_by = Choice(("bow", "stern"), description="Which end goes down; null where none is known to.", nullable=True)
    displacement_after_kg = Number("kg", 0, 1e8, description="What the boat weighs after the work.", nullable=True)
    transverse_moment_kg_m = Number("kg m", 0, 5e8, description="Moment that heels it.")
    gm_after_m = Number("m", -1e4, 1e4, description="Metacentric height after the work.", nullable=True)
    heel_degrees = Number("degree", 0, 10, description="List; null where not known or too large.", nullable=True)
    heel_to = Choice(("port", "starboard"), description="Which side goes down; null where none is known to.", nullable=True)
    side_lowered_mm = _nullable_mm(0, 3000, "How far the list lowers the side.")
    lowered_mm = _nullable_mm(-1e5, 1e6, "How far the lowest corner goes down: sinkage, half the trim, and the list.")
    freeboard_after_mm = _nullable_mm(-1e6, 2e5, "Freeboard that is left at the lowest corner.")
    opening_above_water_mm = _nullable_mm(-1e6, 2e5, "What the lowest opening is left above the water.")
    beyond_range = List(
        Choice(("trim", "heel"), description="The change."), 0, 2, description="Changes too large for a figure to hold."
    )
    repairs = Rows(RepairResponse, 3, 3, description="This repair beside the two others.")


def _working_figures(figures: Figures, result: Any) -> Sequence[Figures]:
    """Return the figures of the heaviest patch and of the whole; what is not known counts nothing in what is lowered."""
    heaviest = max(result.patches, key=lambda patch: patch.steel_kg)
    return [
        {
            **figures["hull"],
            **figures,
            "area_m2": heaviest.area_m2,
            "thickness_mm": heaviest.thickness_mm,
            "heaviest_patch_kg": heaviest.steel_kg,
            "kg_per_m3": result.afloat.kg_per_m3,
            "longitudinal_moment_kg_m": abs(result.added.longitudinal_moment_kg_m or 0.0),
            "gm_used_m": result.attitude.gm_used_m if figures["heel_degrees"] else None,
            "trim_counted_mm": abs(result.attitude.trim_mm or 0.0),
            "side_counted_mm": result.side_lowered_mm or 0.0,
        }
    ]


def _weight_sentence(figures: Figures) -> str:
    welds = f" and {text(figures['weld_metal_kg'])} kg of weld metal" if figures["weld_metal_kg"] else ""
    return f"The patches are {text(figures['steel_kg'])} kg of steel{welds}."


def _depth_sentence(figures: Figures) -> str:
    sinkage, ballast = figures["sinkage_mm"], figures["hull"]["ballast_removed_kg"]
    less = f" Less {text(ballast)} kg of ballast, the boat" if ballast else " The boat"
    way = "deeper" if sinkage >= 0 else "higher"
    return f"{less.strip()} floats {text(abs(sinkage))} mm {way} ({text(figures['tonnes_per_cm'])} t/cm)."


def _attitude_sentence(figures: Figures) -> list[str]:
    told = []
    if figures["trim_by"]:
        told.append(f"trims by the {figures['trim_by']} by up to {text(figures['trim_mm'])} mm from end to end")
    if figures["heel_to"]:
        told.append(f"lists {text(figures['heel_degrees'])} degrees to {figures['heel_to']}")
    told += [f"{way}s further than this arithmetic holds for, and is not to be floated so" for way in figures["beyond_range"]]
    return [f"It {' and '.join(told)}."] if told else []


def _left_sentence(figures: Figures) -> list[str]:
    named = (("freeboard_after_mm", "the edge"), ("opening_above_water_mm", "the lowest opening"))
    told = [
        f"{words} is {text(abs(figures[name]))} mm {'above' if figures[name] > 0 else 'under'} the water"
        for name, words in named
        if figures[name] is not None
    ]
    known = figures["trim_mm"] is not None and figures["heel_degrees"] is not None
    where = "At the lowest corner" if known else "As far as trim and list are known, at the lowest corner"
    return [f"{where} {' and '.join(told)} after the work."] if told else []


def _summary(figures: Figures) -> Sequence[str]:
    return [
        _weight_sentence(figures),
        _depth_sentence(figures),
        *_attitude_sentence(figures),
        *_left_sentence(figures),
        "Pit welding, or cropping and renewing, would add next to no weight.",
    ]


calculation = Calculation(
    id="overplating",
    version="1.0.0",
    title="What overplating weighs, and how the boat floats with it",
    description="Mass of the plates, sinkage, trim, list, and what is left above the water; the other two repairs beside it.",
    request=OverplatingRequest,
    response=OverplatingResult,
    run=overplating,
    faults=FAULTS,
    findings=FINDINGS,
    assumed=ASSUMED,
    working=WORKING,
    working_figures=_working_figures,
    summary=_summary,
    references=(STEEL_DENSITY, WATER_DENSITY, INITIAL_STABILITY, HULL_FORM_PRACTICE, REPAIR_PRACTICE, FREEBOARD_PRACTICE),
    cautions=(
        common.ADVICE_ONLY,
        "Cure the cause first: plate over an attack that goes on hides it, and the new plate is attacked as the old one was.",
        "Every edge is welded all round to sound plate that was measured; plate that is thin there burns through or tears off.",
        (
            "Hot work: foam, linings, fuel, gas and batteries behind the plate are cleared and the space is tested and "
            "watched, by licensed people under local codes; spray foam burns with poisonous smoke."
        ),
        (
            "A gauge on an overplated hull reads the new plate alone: mark the patches on the survey's plan, for the plate "
            "beneath is out of sight for good."
        ),
        (
            "No limit to how much of a hull may be overplated was found published: none is claimed here, the insurer's own "
            "terms decide."
        ),
        (
            "Stability is a naval architect's matter: this is sinkage, trim and list by first principles for small changes, "
            "from the boat lying upright and level."
        ),
    ),
    example={
        "patches": [
            {
                "zone": "baseplate",
                "area_m2": 18.0,
                "thickness_mm": 6.0,
                "station_m": 8.5,
                "side": "centreline",
                "height_m": 0.0,
                "edge_length_m": 22.0,
            },
            {
                "zone": "chine",
                "area_m2": 2.4,
                "thickness_mm": 5.0,
                "station_m": 11.0,
                "side": "port",
                "height_m": 0.1,
                "edge_length_m": 13.0,
            },
        ],
        "hull": {
            "length_m": 16.8,
            "beam_m": 2.08,
            "draught_m": 0.62,
            "water": "fresh",
            "gm_m": 0.42,
            "lowest_opening_mm": 290.0,
            "ballast_removed_kg": 350.0,
            "ballast_station_m": 8.0,
            "ballast_height_m": 0.1,
        },
        "freeboard_mm": 610.0,
    },
)
