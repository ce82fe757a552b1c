"""Readings without a station: listed under the plate map, never placed on it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from xml.etree import ElementTree as ET

from platemargin_api.renderings.map_lanes import NAMES, RIGHT
from platemargin_api.renderings.map_marks import reading_mark
from platemargin_api.renderings.svg import group, lines_of, words_at
from platemargin_api.renderings.words import shortened, tenths

__all__ = ["unplaced_list"]

_COLUMNS, _ROWS = 3, 16
_COLUMN = (RIGHT - NAMES) / _COLUMNS
_STEP = 14.0
_RADIUS = 4.0
#: Of those beyond the list: a mark each.
_SMALL, _PITCH = 1.7, 4.2


def unplaced_list(
    prefix: str, readings: Sequence[Mapping[str, Any]], without: Sequence[int], top: float
) -> tuple[list[ET.Element], float]:
    """Return the readings without a station, the thinnest with its words first, and where the list ends."""
    if not without:
        return [], top
    order = sorted(without, key=lambda index: readings[index]["residual_mm"])
    listed, others = order[: _COLUMNS * _ROWS], order[_COLUMNS * _ROWS :]
    more = f"; the {len(listed)} thinnest in words, the others as marks below them" if others else ""
    words = f"Without a station, so not placed on the hull: {len(without)} of {len(readings)}{more}"
    head, y = lines_of(NAMES, top + 14, words, RIGHT - NAMES, font_weight="bold")
    rows = -(-len(listed) // _COLUMNS)
    at = [(NAMES + (n // rows) * _COLUMN, y + (n % rows) * _STEP) for n in range(len(listed))]
    items = [_item(prefix, i, readings[i], *where) for i, where in zip(listed, at, strict=True)]
    y += rows * _STEP
    across = int((RIGHT - NAMES) / _PITCH)
    small = [
        reading_mark(prefix, i, readings[i], (NAMES + (n % across + 0.5) * _PITCH, y + (n // across) * _PITCH), _SMALL)
        for n, i in enumerate(others)
    ]
    return [group(*head, *items, *small)], y + -(-len(others) // across) * _PITCH


def _item(prefix: str, index: int, reading: Mapping[str, Any], x: float, y: float) -> ET.Element:
    left = f"{tenths(reading['residual_mm'])} mm"
    where = f"{shortened(reading['id'], 42, 9.5)}, {shortened(reading['zone'], 60, 9.5)}"
    side = f", {reading['side']}" if reading["side"] else ""
    return group(
        reading_mark(prefix, index, reading, (x + 5, y - 3), _RADIUS),
        words_at(x + 15, y, left, font_weight="bold"),
        words_at(x + 62, y, shortened(f"{where}{side}", _COLUMN - 66, 9.5)),
    )
