"""The marks of the plate map: one for each reading, in the colour and the shape of its class."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from xml.etree import ElementTree as ET

from platemargin_api.renderings.assessed import place
from platemargin_api.renderings.colours import INK, PAPER, QUIET, ReadingClass, class_of
from platemargin_api.renderings.svg import Point, drawn, group, path
from platemargin_api.renderings.words import figure, plain

__all__ = ["mark", "reading_mark", "reading_words", "rings"]

#: Half width and half height of a shape over the radius of a circle that looks as large.
_TRIANGLE = (1.2, 1.1)
_DIAMOND = 1.3
_OUTLINE = 0.7


def mark(shown: ReadingClass, at: Point, radius: float) -> list[ET.Element]:
    """Return the shape of a class at a point."""
    x, y = at
    outline: dict[str, Any] = {"fill": shown.colour, "stroke": INK, "stroke_width": _OUTLINE}
    if shown.shape == "triangle":
        wide, high = _TRIANGLE[0] * radius, _TRIANGLE[1] * radius
        return [path([(x - wide, y - high * 0.8), (x + wide, y - high * 0.8), (x, y + high * 1.2)], closed=True, **outline)]
    if shown.shape == "diamond":
        reach = _DIAMOND * radius
        return [path([(x - reach, y), (x, y - reach), (x + reach, y), (x, y + reach)], closed=True, **outline)]
    if shown.shape == "cross":
        arm = 0.5 * radius
        cut: dict[str, Any] = {"stroke": PAPER, "stroke_width": 0.4 * radius, "fill": "none"}
        arms = [[(x - arm, y - arm), (x + arm, y + arm)], [(x - arm, y + arm), (x + arm, y - arm)]]
        return [drawn("circle", cx=x, cy=y, r=1.15 * radius, fill=shown.colour), *(path(one, **cut) for one in arms)]
    if shown.shape == "ring":
        return [drawn("circle", cx=x, cy=y, r=radius, fill=shown.colour, stroke=QUIET, stroke_width=0.35 * radius)]
    return [drawn("circle", cx=x, cy=y, r=radius, **outline)]


def rings(at: Point, radius: float, *, decides: bool) -> list[ET.Element]:
    """Return the ring about a zone's thinnest reading; two about the one that decides."""
    reaches = (radius + 2.2, radius + 4.0) if decides else (radius + 2.2,)
    return [drawn("circle", cx=at[0], cy=at[1], r=r, fill="none", stroke=INK, stroke_width=0.9) for r in reaches]


def reading_words(reading: Mapping[str, Any]) -> str:
    """Return all that the map knows of a reading."""
    pit = figure(reading["pit_depth_mm"], "mm") if reading["pit_depth_mm"] else "none measured"
    told = [
        f"{reading['id']}: {figure(reading['residual_mm'], 'mm')} left of {figure(reading['original_mm'], 'mm')}",
        f"pit {pit}",
        f"margin {figure(reading['margin_mm'], 'mm', none='to no limit')}",
        plain(reading["verdict"]),
        place(reading),
    ]
    return "; ".join(told)


def reading_mark(prefix: str, index: int, reading: Mapping[str, Any], at: Point, radius: float) -> ET.Element:
    """Return a reading's mark; its words come up where a pointer rests on it."""
    told = drawn("title", reading_words(reading))
    return group(told, *mark(class_of(reading), at, radius), id=f"{prefix}-reading-{index}")
