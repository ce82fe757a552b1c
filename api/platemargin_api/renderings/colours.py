"""The colours of pictures and report, and the classes of a reading that they show.

The scale is one of lightness: the thinner the plate, the darker and warmer. It holds in grey, and for readers who tell
red from green badly or not at all; every class that calls for something has a shape of its own as well.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

__all__ = [
    "ACCENT",
    "BAND",
    "CLASSES",
    "FAINT",
    "INK",
    "LIMIT",
    "PAPER",
    "QUIET",
    "UNREAD",
    "ReadingClass",
    "Shape",
    "class_of",
]

PAPER = "#ffffff"
INK = "#1b1f24"
#: Second voice: axes, leaders, small print.
QUIET = "#4d5661"
#: Frames and rules.
FAINT = "#b9c0c7"
#: What is drawn of unread plate.
UNREAD = "#7d8791"
#: Bands, curves, reach of anodes.
ACCENT = "#1f5f8b"
#: A band of uncertainty about a curve.
BAND = "#cfe0ec"
#: A limit's line and its words.
LIMIT = "#9c2530"

Shape = Literal["circle", "triangle", "diamond", "cross", "ring"]


@dataclass(frozen=True)
class ReadingClass:
    """What a reading is shown as."""

    code: str
    colour: str
    shape: Shape
    words: str


#: From the worst to what nothing can be said of. Those of the margin follow one another in lightness.
CLASSES = (
    ReadingClass("holed", "#000000", "cross", "holed"),
    ReadingClass("act", "#560f3a", "diamond", "breaks a limit that calls for action"),
    ReadingClass("watch", "#b5323c", "triangle", "breaks a limit that calls for watching"),
    ReadingClass("slight", "#dc8031", "circle", "less than 1 mm over its highest limit"),
    ReadingClass("fair", "#ecc269", "circle", "1 mm to less than 2 mm over it"),
    ReadingClass("ample", "#c3e2f7", "circle", "2 mm and more over it"),
    ReadingClass("kept", "#8e969e", "circle", "keeps limits that are not of what is left"),
    ReadingClass("not_judged", "#ffffff", "ring", "not judged by any limit"),
)
_BY_CODE = {one.code: one for one in CLASSES}
#: Margins from which the next class begins [mm]: steps of a gauge's reading, no limit of anybody's.
_STEPS = (("slight", 1.0), ("fair", 2.0))


def class_of(reading: Mapping[str, Any]) -> ReadingClass:
    """Return the class of a reading of hull-survey's answer.

    Examples
    --------
    >>> told = {"plate_state": "metal_remains", "verdict": "no_limit_broken", "margin_mm": 1.999}
    >>> class_of(told).code, class_of({**told, "verdict": "not_judged"}).code, class_of({**told, "plate_state": "holed"}).code
    ('fair', 'not_judged', 'holed')
    """
    # The answer's margin is rounded as declared: it is compared as it is written.
    verdict, margin = reading["verdict"], reading["margin_mm"]
    if reading["plate_state"] == "holed":
        return _BY_CODE["holed"]
    if verdict != "no_limit_broken":
        return _BY_CODE[verdict]
    if margin is None:
        return _BY_CODE["kept"]
    return _BY_CODE[next((code for code, step in _STEPS if margin < step), "ample")]
