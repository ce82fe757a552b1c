"""Pictures in SVG that can stand within any page: no script, nothing fetched, presentation attributes alone."""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Mapping, Sequence
from typing import Any
from xml.etree import ElementTree as ET

from platemargin_api.renderings.colours import INK, PAPER
from platemargin_api.renderings.words import wrapped

__all__ = ["Point", "drawn", "group", "line", "lines_of", "path", "picture", "prefix_of", "rectangle", "words_at"]

#: What a picture's letters are set in, whatever of it the reader has.
FONTS = "Helvetica, Arial, 'Liberation Sans', 'Noto Sans', 'DejaVu Sans', sans-serif"
#: What keeps words legible on what lies beneath them.
_HALO: dict[str, Any] = {"stroke": PAPER, "stroke_width": 2.5, "stroke_linejoin": "round", "paint_order": "stroke"}
#: Between a figure and its unit no line is broken.
_UNIT = re.compile(r"(?<=[0-9]) (?=(%|mm|m|years?)(?![a-z]))")
#: Across and down [user units].
Point = tuple[float, float]


def drawn(tag: str, *within: ET.Element | str, **attributes: float | str | None) -> ET.Element:
    """Return an element; `stroke_width` is stroke-width, None is left out, numbers have two decimals at the most.

    Examples
    --------
    >>> ET.tostring(drawn("line", x1=0.125, stroke_width=2.0, fill=None))
    b'<line x1="0.12" stroke-width="2" />'
    """
    made = ET.Element(tag, {name.rstrip("_").replace("_", "-"): _written(v) for name, v in attributes.items() if v is not None})
    for one in within:
        if isinstance(one, str):
            made.text = (made.text or "") + one
        else:
            made.append(one)
    return made


def _written(value: float | str) -> str:
    if isinstance(value, str):
        return value
    rounded = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if rounded == "-0" else rounded


def group(*within: ET.Element, **attributes: float | str | None) -> ET.Element:
    """Return elements as one."""
    return drawn("g", *within, **attributes)


def rectangle(x: float, y: float, width: float, height: float, **attributes: float | str | None) -> ET.Element:
    """Return a rectangle."""
    return drawn("rect", x=x, y=y, width=width, height=height, **attributes)


def line(start: Point, end: Point, **attributes: float | str | None) -> ET.Element:
    """Return a straight line."""
    return drawn("line", x1=start[0], y1=start[1], x2=end[0], y2=end[1], **{"stroke": INK, **attributes})


def path(points: Sequence[Point], *, closed: bool = False, **attributes: float | str | None) -> ET.Element:
    """Return a line through points."""
    through = " L".join(f"{_written(x)} {_written(y)}" for x, y in points)
    return drawn("path", d=f"M{through}{' Z' if closed else ''}", **attributes)


def words_at(
    x: float, y: float, words: str, *, size: float = 9.5, halo: bool = False, **attributes: float | str | None
) -> ET.Element:
    """Return words with their baseline at a point; a halo keeps them legible on what lies beneath."""
    around = _HALO if halo else {}
    return drawn("text", words, x=x, y=y, font_size=size, **{"fill": INK, **around, **attributes})


def lines_of(
    x: float, y: float, words: str, width: float, *, size: float = 9.5, most: int = 99, **attributes: str
) -> tuple[list[ET.Element], float]:
    """Return words wrapped to a width, the first baseline at a point, and where the next line's baseline is."""
    # Bold letters are wider.
    told = wrapped(_UNIT.sub("\u00a0", words), width / (1.12 if attributes.get("font_weight") == "bold" else 1.0), size, most)
    step = 1.35 * size
    return [words_at(x, y + n * step, one, size=size, halo=False, **attributes) for n, one in enumerate(told)], y + len(
        told
    ) * step


def prefix_of(answer: Mapping[str, Any]) -> str:
    """Return what the ids of a picture begin with: pictures of two requests, or of two calculations, can share a page."""
    digest = answer["provenance"]["request_digest"].removeprefix("sha-256=:").removesuffix(":")
    return f"{answer['calculation']['id']}-{base64.b64decode(digest)[:6].hex()}"


def picture(answer: Mapping[str, Any], size: Point, told: tuple[str, str], *within: ET.Element) -> bytes:
    """Return a whole picture.

    Parameters
    ----------
    answer : mapping
        What it shows; its provenance goes along as metadata.
    size : Point
        Width and height of what is drawn; the picture itself takes whatever room it is given.
    told : tuple of str
        Title, and what the picture shows in words.
    """
    prefix, (title, description) = prefix_of(answer), told
    provenance = {"calculation": answer["calculation"], "provenance": answer["provenance"]}
    root = drawn(
        "svg",
        drawn("title", title, id=f"{prefix}-title"),
        drawn("desc", description, id=f"{prefix}-desc"),
        drawn("metadata", json.dumps(provenance, ensure_ascii=False)),
        rectangle(0, 0, *size, fill=PAPER),
        *within,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {_written(size[0])} {_written(size[1])}",
        role="img",
        aria_labelledby=f"{prefix}-title {prefix}-desc",
        font_family=FONTS,
    )
    written: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=False)
    return written
