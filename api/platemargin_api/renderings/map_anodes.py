"""Anodes on the plate map: each where it was found, what they reach together, and where nothing reaches that works."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from xml.etree import ElementTree as ET

from platemargin.anode_reach import united
from platemargin_api.renderings.colours import ACCENT, INK, PAPER, QUIET
from platemargin_api.renderings.map_lanes import NAMES, Stations
from platemargin_api.renderings.svg import Point, drawn, group, line, path, rectangle, words_at
from platemargin_api.renderings.words import figure, plain

__all__ = ["ANODES_HEIGHT", "anode_mark", "anodes_lane", "gap_line", "reach_bar"]

ANODES_HEIGHT = 25.0
_HALF = (5.0, 3.2)
_BAR = 4.0


def anodes_lane(condition: Mapping[str, Any], side: str, stations: Stations, top: float) -> ET.Element:
    """Return one side's anodes; one on the centreline works to both, and is drawn on both."""
    middle = top + ANODES_HEIGHT / 2
    found = [anode for anode in condition["anodes"] if anode["side"] in (side, "centreline")]
    gaps = [gap for gap in condition["gaps"] if gap["side"] == side]
    return group(
        words_at(NAMES, middle - 1.5, "anodes", font_weight="bold"),
        words_at(NAMES, middle + 9.5, side, fill=QUIET),
        *(gap_line(_across(stations, gap["from_m"], gap["to_m"]), middle, _gap_words(gap)) for gap in gaps),
        *(reach_bar(_across(stations, *stretch), middle) for stretch in _reached(found, stations.length_m)),
        *(_anode(anode, (stations.across(anode["station_m"]), middle)) for anode in found),
    )


def _reached(found: Sequence[Mapping[str, Any]], length_m: float) -> tuple[tuple[float, float], ...]:
    counting = (anode for anode in found if anode["counts"])
    return united(((a["station_m"] - a["reach_m"], a["station_m"] + a["reach_m"]) for a in counting), length_m)


def _across(stations: Stations, low: float, high: float) -> tuple[float, float]:
    return stations.across(low), stations.across(high)


def _gap_words(gap: Mapping[str, Any]) -> str:
    measured = f"; measured: {plain(gap['measured'])}" if gap["measured"] else ""
    return f"nothing that works reaches from {figure(gap['from_m'], 'm')} to {figure(gap['to_m'], 'm')}{measured}"


def gap_line(ends: tuple[float, float], middle: float, told: str) -> ET.Element:
    """Return a gap in what anodes reach."""
    low, high = ends
    across = line((low, middle), (high, middle), stroke=QUIET, stroke_width=1.1, stroke_dasharray="2 3")
    caps = [line((x, middle - 4), (x, middle + 4), stroke=QUIET, stroke_width=1.1) for x in ends]
    return group(drawn("title", told), across, *caps)


def reach_bar(ends: tuple[float, float], middle: float) -> ET.Element:
    """Return a stretch that anodes reach."""
    return rectangle(ends[0], middle - _BAR / 2, ends[1] - ends[0], _BAR, fill=ACCENT)


def anode_mark(at: Point, *, counts: bool) -> list[ET.Element]:
    """Return an anode; one that does not count is empty and struck out."""
    (x, y), (wide, high) = at, _HALF
    outline: dict[str, Any] = {"stroke": INK, "stroke_width": 0.9, "fill": INK if counts else PAPER}
    body = rectangle(x - wide, y - high, 2 * wide, 2 * high, rx=1.2, **outline)
    strike = path([(x - wide, y + high), (x + wide, y - high)], stroke=INK, stroke_width=0.9, fill="none")
    return [body] if counts else [body, strike]


def _anode(anode: Mapping[str, Any], at: Point) -> ET.Element:
    where = f"{anode['material']} anode, {anode['side']}, station {figure(anode['station_m'], 'm')}"
    told = f"{where}: {figure(anode['remaining_percent'], '%')} left, {plain(anode['state'])}"
    return group(drawn("title", told), *anode_mark(at, counts=anode["counts"]))
