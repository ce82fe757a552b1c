"""A lane of the plate map: where its marks and figures go, and what it looks like."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from xml.etree import ElementTree as ET

from platemargin_api.renderings.colours import FAINT, INK, QUIET, UNREAD
from platemargin_api.renderings.map_marks import reading_mark, rings
from platemargin_api.renderings.placing import labelled, overlapping, stacked
from platemargin_api.renderings.svg import Point, drawn, group, line, words_at
from platemargin_api.renderings.unfolded import Lane
from platemargin_api.renderings.words import plain, shortened, tenths, width_of

__all__ = ["LEFT", "RIGHT", "Placed", "Stations", "Thinnest", "lane_drawing", "placed", "radius_for"]

#: Between which the hull is drawn, and from where names are.
LEFT, RIGHT, NAMES = 88.0, 590.0, 10.0
_FIGURE = 9.0
_TRACK = 12.0
_EDGE = 4.0
_LEAST_HEIGHT = 27.0
#: The largest mark whose rows stay few is taken; beyond `_MOST_ROWS` of the smallest, marks of one place overlap.
_RADII = (4.0, 3.2, 2.4, 1.7)
_FEW_ROWS, _MOST_ROWS = 5, 40
_APART = 2.2
_READ = "#f3f5f7"


@dataclass(frozen=True)
class Stations:
    """From stations [m] to across the picture."""

    length_m: float

    def across(self, station_m: float) -> float:
        """Return where a station is."""
        return LEFT + (RIGHT - LEFT) * station_m / self.length_m


@dataclass(frozen=True)
class Thinnest:
    """The readings that are ringed: the thinnest of each zone, and the one that decides."""

    decides: int
    of_zones: frozenset[int]

    def rank(self, index: int) -> int:
        """Return how soon a reading's figure is printed: a lower rank comes first."""
        return 0 if index == self.decides else 1 if index in self.of_zones else 2


@dataclass(frozen=True)
class Placed:
    """A lane with every mark's place [user units from its top], and the figures that are printed."""

    lane: Lane
    height: float
    radius: float
    marks: Mapping[int, Point]
    figures: Mapping[int, Point]
    overlapping: int


def radius_for(lanes: Sequence[Lane], readings: Sequence[Mapping[str, Any]], stations: Stations) -> float:
    """Return the radius of all marks: the largest that leaves every lane few rows."""
    across = [[stations.across(readings[index]["station_m"]) for index in lane.readings] for lane in lanes]

    def rows(radius: float) -> int:
        return max(max(stacked(one, _APART * radius, _MOST_ROWS), default=0) for one in across) + 1

    return next((radius for radius in _RADII if rows(radius) <= _FEW_ROWS), _RADII[-1])


def placed(lane: Lane, readings: Sequence[Mapping[str, Any]], stations: Stations, radius: float, thinnest: Thinnest) -> Placed:
    """Return where a lane's marks and figures go."""
    across = {index: stations.across(readings[index]["station_m"]) for index in lane.readings}
    pitch = _APART * radius
    rows = dict(zip(across, stacked(list(across.values()), pitch, _MOST_ROWS), strict=True))
    printed = _printed(across, readings, thinnest)
    above, below = (_TRACK if track in printed.values() or not track else 0.0 for track in (0, 1))
    deep = pitch * (max(rows.values(), default=0) + 1)
    middle = (max(rows.values(), default=0) // 2) * pitch
    spare = max(_LEAST_HEIGHT - (above + below + deep + 2 * _EDGE), 0.0) / 2
    top = _EDGE + spare + above
    marks = {index: (across[index], top + middle + pitch * (_from_middle(row) + 0.5)) for index, row in rows.items()}
    lines = (top - 3.9, top + deep + _FIGURE + 0.7)
    figures = {index: (_within(across[index], readings[index]), lines[track]) for index, track in printed.items()}
    touching = overlapping(list(across.values()), list(rows.values()), pitch)
    return Placed(lane, top + deep + below + _EDGE + spare, radius, marks, figures, touching)


def _from_middle(row: int) -> int:
    """Return how many rows a row lies below the middle one: 0, 1, -1, 2, -2 and so on."""
    return (row + 1) // 2 if row % 2 else -(row // 2)


def _printed(across: Mapping[int, float], readings: Sequence[Mapping[str, Any]], thinnest: Thinnest) -> dict[int, int]:
    """Return which figures are printed and in which track: the thinnest first, so that it is never the one left out."""
    order = sorted(across, key=lambda index: (thinnest.rank(index), readings[index]["residual_mm"]))
    return labelled(((i, _within(across[i], readings[i]), _wide(readings[i])) for i in order), tracks=2)


def _wide(reading: Mapping[str, Any]) -> float:
    return width_of(tenths(reading["residual_mm"]), _FIGURE) + 2.0


def _within(across: float, reading: Mapping[str, Any]) -> float:
    half = _wide(reading) / 2
    return min(max(across, LEFT + half), RIGHT - half)


def lane_drawing(
    prefix: str, one: Placed, readings: Sequence[Mapping[str, Any]], stations: Stations, thinnest: Thinnest, top: float
) -> ET.Element:
    """Return a lane as it looks, its upper edge at `top`."""
    thickest_first = sorted(one.marks.items(), key=lambda mark: -readings[mark[0]]["residual_mm"])
    marks = [
        shape
        for index, (x, y) in thickest_first
        for shape in (
            *(rings((x, top + y), one.radius, decides=index == thinnest.decides) if thinnest.rank(index) < 2 else ()),  # noqa: PLR2004
            reading_mark(prefix, index, readings[index], (x, top + y), one.radius),
        )
    ]
    return group(*_ground(prefix, one, stations, top), *_leaders(one, top), *marks, *_figures(one, readings, thinnest, top))


def _ground(prefix: str, one: Placed, stations: Stations, top: float) -> list[ET.Element]:
    lane = one.lane

    def over(stretch: tuple[float, float], fill: str, *within: ET.Element, **more: Any) -> ET.Element:
        low, high = (stations.across(station) for station in stretch)
        return drawn("rect", *within, x=low, y=top, width=max(high - low, 0.5), height=one.height, fill=fill, **more)

    unexamined = [
        over(stretch, f"url(#{prefix}-unexamined)", drawn("title", f"not examined: {plain(reason)}"))
        for stretch, reason in lane.unexamined
    ]
    return [
        *_name(lane, top + one.height / 2),
        *(over(run, _READ) for run in lane.runs),
        *(over(stretch, f"url(#{prefix}-unread)", drawn("title", "not read")) for stretch in lane.unread),
        *unexamined,
        *(over(run, "none", stroke=FAINT, stroke_width=0.8) for run in lane.runs),
        *_elsewhere(lane, top + one.height / 2 + 3),
    ]


def _elsewhere(lane: Lane, y: float) -> list[ET.Element]:
    """Return what a lane says whose readings are listed below, all of them; where some are placed, the list itself says it."""
    if lane.readings or not lane.without_station:
        return []
    words = f"readings without a station, listed below: {lane.without_station}"
    return [words_at((LEFT + RIGHT) / 2, y, words, halo=True, text_anchor="middle")]


def _name(lane: Lane, middle: float) -> list[ET.Element]:
    side = lane.side or ("side not told" if lane.readings or lane.without_station else "not read")
    name = shortened(lane.zone, (LEFT - NAMES - 6) / 1.12, 9.5)
    first = words_at(NAMES, middle - 1.5, name, font_weight="bold")
    first.insert(0, drawn("title", lane.zone)) if name != lane.zone else None
    return [first, words_at(NAMES, middle + 9.5, side, fill=QUIET)]


def _leaders(one: Placed, top: float) -> list[ET.Element]:
    """Return lines from figures to marks that do not lie beside them."""
    return [
        line(
            (x, top + y + (1 if y < one.marks[index][1] else -_FIGURE + 1)),
            (one.marks[index][0], top + one.marks[index][1]),
            stroke=UNREAD,
            stroke_width=0.5,
        )
        for index, (x, y) in one.figures.items()
        if abs(y - one.marks[index][1]) > one.radius + _FIGURE + 2 or abs(x - one.marks[index][0]) > one.radius
    ]


def _figures(one: Placed, readings: Sequence[Mapping[str, Any]], thinnest: Thinnest, top: float) -> list[ET.Element]:
    return [
        words_at(
            x,
            top + y,
            tenths(readings[index]["residual_mm"]),
            size=_FIGURE,
            halo=True,
            text_anchor="middle",
            fill=INK,
            font_weight="bold" if thinnest.rank(index) < 2 else None,  # noqa: PLR2004
        )
        for index, (x, y) in one.figures.items()
    ]
