"""The plate map of hull-survey: the shell unfolded, every reading at its station and side."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from math import floor
from typing import Any
from xml.etree import ElementTree as ET

from platemargin.readings import HULL_SIDES
from platemargin_api.renderings.assessed import not_examined
from platemargin_api.renderings.axes import ticks
from platemargin_api.renderings.colours import CLASSES, QUIET, UNREAD, class_of
from platemargin_api.renderings.map_anodes import ANODES_HEIGHT, anodes_lane
from platemargin_api.renderings.map_lanes import (
    LEFT,
    NAMES,
    RIGHT,
    Placed,
    Stations,
    Thinnest,
    lane_drawing,
    placed,
    radius_for,
)
from platemargin_api.renderings.map_legend import legend, limits_words
from platemargin_api.renderings.map_unplaced import unplaced_list
from platemargin_api.renderings.svg import drawn, group, line, lines_of, path, picture, prefix_of, words_at
from platemargin_api.renderings.unfolded import lanes_of, unplaced
from platemargin_api.renderings.words import figure, plain, visible_throughout

__all__ = ["description", "hull_drawing", "plate_map"]

_WIDTH = 600.0
_BETWEEN_ZONES = 4.0
_LEAST_BETWEEN_TICKS = 40.0


def plate_map(request: Mapping[str, Any], answer: Mapping[str, Any]) -> bytes:
    """Return the plate map of a survey."""
    return hull_drawing(visible_throughout(request), visible_throughout(answer))


def hull_drawing(request: Mapping[str, Any], answer: Mapping[str, Any]) -> bytes:
    """Return the plate map of a survey whose every text is visible."""
    result, prefix = answer["result"], prefix_of(answer)
    stations = Stations(request["hull"]["length_m"])
    head, top = _head(request, answer)
    hull, lanes, below = _hull(request, result, prefix, stations, top)
    listed, below = unplaced_list(prefix, result["readings"], unplaced(result["readings"]), below)
    told, bottom = legend(prefix, result, lanes, below + 24, anodes=_condition(result) is not None)
    title = f"Plate map of {_name(request)}"
    within = (_patterns(prefix), *head, *hull, *listed, *told)
    return picture(answer, (_WIDTH, bottom + 2), (title, description(request, answer)), *within)


def _name(request: Mapping[str, Any]) -> str:
    return request["hull"].get("name") or "a boat without a name"


def description(request: Mapping[str, Any], answer: Mapping[str, Any]) -> str:
    """Return what the map shows, for who cannot see it."""
    result = answer["result"]
    counted = Counter(class_of(reading).code for reading in result["readings"])
    missing = not_examined(result)
    told = [
        *answer["summary"],
        f"The shell of {_name(request)} is unfolded, stem to the left, port above.",
        "Thinnest by zone: " + "; ".join(_thinnest(zone) for zone in result["zones"]) + ".",
        "Readings: " + "; ".join(f"{one.words}, {counted[one.code]}" for one in CLASSES if counted[one.code]) + ".",
        f"Limits: {limits_words(result['rules'])}.",
        "Not read or not examined: " + ("; ".join(missing) if missing else "no zone, side or part that is known of") + ".",
    ]
    return " ".join(told)


def _thinnest(zone: Mapping[str, Any]) -> str:
    return f"{zone['zone']} {figure(zone['thinnest_residual_mm'], 'mm')} (reading {zone['thinnest_reading']})"


def _condition(result: Mapping[str, Any]) -> Mapping[str, Any] | None:
    return (result["anodes"] or {}).get("condition")


def _head(request: Mapping[str, Any], answer: Mapping[str, Any]) -> tuple[list[ET.Element], float]:
    result, hull, missing = answer["result"], request["hull"], not_examined(answer["result"])
    size = f"{figure(hull['length_m'], 'm')} long, {figure(hull['beam_m'], 'm')} wide"
    lines: tuple[tuple[str, float, dict[str, str], int], ...] = (
        (f"Plate map of {_name(request)}", 15.0, {"font_weight": "bold"}, 3),
        (f"Surveyed {request['surveyed_on']}; {size}; readings: {len(result['readings'])}", 9.5, {"fill": QUIET}, 1),
        (f"Verdict: {plain(result['verdict'])}. {answer['summary'][0]}", 10.5, {"font_weight": "bold"}, 3),
        (answer["summary"][1], 10.5, {}, 3),
        (f"Not read or not examined: {'; '.join(missing)}." if missing else "", 10.5, {}, 4),
    )
    drawn_lines: list[ET.Element] = []
    y = 22.0
    for words, size_of, attributes, most in lines:
        told, below = lines_of(NAMES, y, words, RIGHT - NAMES, size=size_of, most=most, **attributes)
        drawn_lines += told
        y = below + 2 if told else y
    return drawn_lines, y - 6


def _hull(
    request: Mapping[str, Any], result: Mapping[str, Any], prefix: str, stations: Stations, top: float
) -> tuple[list[ET.Element], list[Placed], float]:
    """Return the hull's drawing, its lanes as they are placed, and where it ends."""
    readings, lanes, condition = result["readings"], lanes_of(request, result), _condition(result)
    thinnest = Thinnest(
        result["governing_reading_index"], frozenset(zone["thinnest_reading_index"] for zone in result["zones"])
    )
    radius = radius_for(lanes, readings, stations)
    placings = [placed(lane, readings, stations, radius, thinnest) for lane in lanes]
    drawing, y, before = [_axis(stations, top + 22, -1)], top + 27, ""
    for row in _rows(placings, anodes=condition is not None):
        if isinstance(row, str):
            drawing.append(anodes_lane(condition or {}, row, stations, y + _BETWEEN_ZONES / 2))
            y += ANODES_HEIGHT + _BETWEEN_ZONES
            continue
        y += _BETWEEN_ZONES if row.lane.zone != before else 0.0
        drawing.append(lane_drawing(prefix, row, readings, stations, thinnest, y))
        y, before = y + row.height, row.lane.zone
    return [*drawing, _axis(stations, y + 5, 1)], placings, y + 36


def _rows(placings: Sequence[Placed], *, anodes: bool) -> Iterable[Placed | str]:
    """Yield the lanes, the two of the anodes beside the bottom: there most of them are."""
    bottom = [n for n, one in enumerate(placings) if one.lane.zone == "baseplate"]
    for n, one in enumerate(placings):
        if anodes and n == bottom[0]:
            yield HULL_SIDES[0]
        yield one
        if anodes and n == bottom[-1]:
            yield HULL_SIDES[1]


def _axis(stations: Stations, y: float, way: int) -> ET.Element:
    """Return the scale of stations; above the hull its figures stand above it, below it below."""
    marks = ticks(0.0, stations.length_m, floor((RIGHT - LEFT) / _LEAST_BETWEEN_TICKS))
    figures = y - 6 if way < 0 else y + 12
    words = f"Station [m from the stem], to {figure(stations.length_m, 'm')} at the stern"
    return group(
        line((LEFT, y), (RIGHT, y), stroke=QUIET, stroke_width=0.8),
        *(line((stations.across(m), y), (stations.across(m), y + 4 * way), stroke=QUIET, stroke_width=0.8) for m in marks),
        *(words_at(stations.across(m), figures, figure(m), size=9, text_anchor="middle", fill=QUIET) for m in marks),
        *([words_at((LEFT + RIGHT) / 2, y + 25, words, text_anchor="middle", fill=QUIET)] if way > 0 else []),
        words_at(NAMES, figures, "stem, m", size=9, fill=QUIET) if way < 0 else words_at(NAMES, figures, "", size=9),
    )


def _patterns(prefix: str) -> ET.Element:
    """Return the grounds of what was not read, and of what could not be."""
    size = {"patternUnits": "userSpaceOnUse", "width": "6", "height": "6"}
    stroke: dict[str, Any] = {"stroke": UNREAD, "stroke_width": 0.7, "fill": "none"}
    rising = [[(-1.0, 1.0), (1.0, -1.0)], [(0.0, 6.0), (6.0, 0.0)], [(5.0, 7.0), (7.0, 5.0)]]
    falling = [[(-1.0, 5.0), (1.0, 7.0)], [(0.0, 0.0), (6.0, 6.0)], [(5.0, -1.0), (7.0, 1.0)]]
    dark: dict[str, Any] = {"stroke": QUIET, "stroke_width": 0.8, "fill": "none"}
    unread = drawn("pattern", *(path(one, **stroke) for one in rising), id=f"{prefix}-unread", **size)
    unexamined = drawn("pattern", *(path(one, **dark) for one in (*rising, *falling)), id=f"{prefix}-unexamined", **size)
    return drawn("defs", unread, unexamined)
