"""The plate map's legend: every colour, shape and ground that it uses, in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Any
from xml.etree import ElementTree as ET

from platemargin_api.renderings.colours import CLASSES, FAINT, class_of
from platemargin_api.renderings.map_anodes import anode_mark, gap_line, reach_bar
from platemargin_api.renderings.map_lanes import NAMES, RIGHT, Placed
from platemargin_api.renderings.map_marks import mark, rings
from platemargin_api.renderings.svg import drawn, line, lines_of, rectangle, words_at
from platemargin_api.renderings.unfolded import READS_M
from platemargin_api.renderings.words import figure, plain

__all__ = ["legend", "limit_words", "limits_words"]

_STEP = 14.0
_SECOND = 312.0
_RADIUS = 4.0
_MOST_LIMITS = 6
_QUANTITIES = {
    "residual_mm": "plate left",
    "plate_mm": "plate beside pits",
    "loss_percent": "loss",
    "pit_depth_mm": "depth of a pit",
}


def limits_words(rules: Sequence[Mapping[str, Any]]) -> str:
    """Return the limits that a survey was judged by, in words."""
    told = [f"{limit_words(rule)} ({rule['id']})" for rule in rules[:_MOST_LIMITS]]
    more = [f"and {len(rules) - _MOST_LIMITS} more"] if len(rules) > _MOST_LIMITS else []
    return "; ".join([*told, *more]) or "none: nothing was judged"


def limit_words(rule: Mapping[str, Any]) -> str:
    """Return one limit in words."""
    bound = plain(rule["bound"])
    return f"{_QUANTITIES[rule['quantity']]} {bound} {figure(rule['limit'], rule['unit'], none='what this hull does not tell')}"


def legend(
    prefix: str, result: Mapping[str, Any], lanes: Sequence[Placed], top: float, *, anodes: bool
) -> tuple[list[ET.Element], float]:
    """Return the legend from `top` on, and where it ends."""
    heading, y = lines_of(NAMES, top, "Margin of plate left over its highest limit", 290, font_weight="bold")
    second = words_at(_SECOND, top, "Ground, rings and anodes", font_weight="bold")
    left = [shape for n, entry in enumerate(_classes(result)) for shape in _entry(NAMES, y + n * _STEP, *entry)]
    right = list(_others(prefix, top + _STEP, anodes=anodes))
    bottom = max(y + len(CLASSES) * _STEP, top + _STEP * (1 + (7 if anodes else 4))) + 6
    notes: list[ET.Element] = []
    for words in _notes(result, lanes):
        told, bottom = lines_of(NAMES, bottom, words, RIGHT - NAMES)
        notes += told
    return [line((NAMES, top - 15), (RIGHT, top - 15), stroke=FAINT), *heading, second, *left, *right, *notes], bottom


def _classes(result: Mapping[str, Any]) -> Iterable[tuple[list[ET.Element], str]]:
    counted = Counter(class_of(reading).code for reading in result["readings"])
    for shown in CLASSES:
        yield mark(shown, (0.0, 0.0), _RADIUS), f"{shown.words} ({counted[shown.code]})"


def _entry(x: float, y: float, shapes: Sequence[ET.Element], words: str) -> list[ET.Element]:
    return [drawn("g", *shapes, transform=f"translate({x + 12:g} {y - 3:g})"), words_at(x + 28, y, words)]


def _others(prefix: str, y: float, *, anodes: bool) -> Iterable[ET.Element]:
    def ground(pattern: str) -> list[ET.Element]:
        return [rectangle(-11, -5, 22, 10, fill=f"url(#{prefix}-{pattern})", stroke=FAINT)]

    entries = [
        (ground("unread"), f"not read: no reading known within {figure(READS_M, 'm')}"),
        (ground("unexamined"), "could not be examined"),
        (rings((0.0, 0.0), _RADIUS - 1, decides=False), "thinnest of its zone"),
        (rings((0.0, 0.0), _RADIUS - 1, decides=True), "the reading that decides"),
    ]
    if anodes:
        entries += [
            ([reach_bar((-11, 11), 0.0), *anode_mark((0.0, 0.0), counts=True)], "anode that counts, and its assumed reach"),
            (anode_mark((0.0, 0.0), counts=False), "anode that does not count"),
            ([gap_line((-11, 11), 0.0, "gap")], "no anode that works reaches here"),
        ]
    for n, (shapes, words) in enumerate(entries):
        yield from _entry(_SECOND, y + n * _STEP, shapes, words)


def _notes(result: Mapping[str, Any], lanes: Sequence[Placed]) -> Iterable[str]:
    readings = len(result["readings"])
    marks, printed = sum(len(one.marks) for one in lanes), sum(len(one.figures) for one in lanes)
    yield f"Limits: {limits_words(result['rules'])}."
    left_out = f"Where figures would run together the thinnest are printed ({printed} of {marks}); every reading has its mark."
    yield f"Figures: plate left [mm], pits taken off. {left_out if printed < marks else ''}".strip()
    if overlapping := sum(one.overlapping for one in lanes):
        yield f"Marks of one place lie over one another ({overlapping} of {readings})."
    yield (
        "The shell is seen from outside; parts without stated ends are drawn as far as they were read, or over the whole "
        "length. Between readings nothing was read."
    )
