"""Words of the request and the answer, made fit to be shown: made visible, kept apart, measured and wrapped."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Mapping
from typing import Any

from platemargin.quantities import text

__all__ = [
    "END",
    "ISOLATE",
    "REPLACEMENT",
    "figure",
    "plain",
    "shortened",
    "tenths",
    "visible",
    "visible_throughout",
    "width_of",
    "wrapped",
]

#: XML 1.0 has no control characters: each is shown by its own picture (U+2400 on), the rest by the replacement character.
REPLACEMENT = "\ufffd"
_PICTURES = {code: chr(0x2400 + code) for code in range(0x20)} | {0x7F: "\u2421"}
_NO_CHARACTERS = dict.fromkeys((*range(128, 160), 8232, 8233, *range(64976, 65008)), REPLACEMENT)
_PLANE_ENDS = {plane * 0x10000 + end: REPLACEMENT for plane in range(17) for end in (0xFFFE, 0xFFFF)}
#: Embeddings, overrides and isolates of writing direction: a name could turn what stands beside it around.
_DIRECTIONS = dict.fromkeys((*range(8234, 8239), *range(8294, 8298)), REPLACEMENT)
_SHOWN = _PICTURES | _NO_CHARACTERS | _PLANE_ENDS | _DIRECTIONS
#: Of characters that are read from right to left, what they are joined by within a name, and marks that keep it to itself.
_RIGHT_TO_LEFT = frozenset(("R", "AL"))
_JOINTS = " -'\u2019\u05f3\u05f4\u200c\u200d\u200f"
ISOLATE, END = "\u2068", "\u2069"
#: Advance of a character in ems: of the widest of the usual sans-serif fonts, so that nothing is wider than reckoned.
_EM, _WIDE_EM, _NARROW_EM = 0.64, 1.0, 0.4
_NARROW = frozenset("iljtfrI.,:;'|!()[] ")


def visible(words: str) -> str:
    """Return words of which every character can be written and seen; what is read from right to left turns nothing around.

    A figure that follows a name in Hebrew or Arabic would otherwise change places with it.

    Examples
    --------
    >>> visible("a" + chr(0) + "b" + chr(0x202E))
    'a\u2400b\ufffd'
    >>> visible("in \u05d0\u05d1: 3.6 mm") == "in \u2068\u05d0\u05d1\u2069: 3.6 mm"
    True
    """
    if words.isascii() and words.isprintable():
        return words
    shown = words.translate(_SHOWN)
    return shown if shown.isascii() else "".join(_isolated(shown))


def _isolated(words: str) -> Iterator[str]:
    inside, joints = False, ""
    for character in words:
        if unicodedata.bidirectional(character) in _RIGHT_TO_LEFT or (inside and unicodedata.combining(character)):
            yield f"{joints}{character}" if inside else f"{ISOLATE}{character}"
            inside, joints = True, ""
        elif inside and character in _JOINTS:
            joints += character
        else:
            yield f"{END}{joints}{character}" if inside else character
            inside, joints = False, ""
    yield f"{END}{joints}" if inside else ""


def visible_throughout(value: Any) -> Any:
    """Return a copy of members, items and names in which every text is visible."""
    if isinstance(value, str):
        return visible(value)
    if isinstance(value, Mapping):
        return {visible_throughout(name): visible_throughout(member) for name, member in value.items()}
    return [visible_throughout(item) for item in value] if isinstance(value, (list, tuple)) else value


def figure(value: float | None, unit: str = "", none: str = "not known") -> str:
    """Return a figure as every sentence of the service writes it, with its unit; words where there is none."""
    if value is None:
        return none
    return f"{text(value)} {unit}".strip()


def tenths(value: float) -> str:
    """Return a thickness with the decimal that gauges read, be it 0.

    Examples
    --------
    >>> tenths(7.0), tenths(7.25)
    ('7.0', '7.25')
    """
    told = text(value)
    return told if "." in told else f"{told}.0"


def plain(code: str) -> str:
    """Return a code of the contract as words."""
    return code.replace("_", " ")


def width_of(words: str, size: float) -> float:
    """Return how wide words are at the most, in the unit of their size."""
    return size * sum(_advance(character) for character in words)


def _advance(character: str) -> float:
    if unicodedata.combining(character) or unicodedata.category(character) == "Cf":
        return 0.0
    if unicodedata.east_asian_width(character) in "WF" or character in "MW@%":
        return _WIDE_EM
    return _NARROW_EM if character in _NARROW else _EM


def shortened(words: str, width: float, size: float) -> str:
    """Return as much of some words as fits, an ellipsis where that is not all."""
    if width_of(words, size) <= width:
        return words
    kept = words
    while kept and width_of(kept + "\u2026", size) > width:
        kept = kept[:-1]
    return kept.rstrip() + "\u2026"


def wrapped(words: str, width: float, size: float, most: int = 99) -> list[str]:
    """Return words in lines that fit, broken between words where they can be; more lines than `most` are cut, visibly."""
    lines = [""]
    for word in words.split(" "):
        tried = f"{lines[-1]} {word}".strip()
        if width_of(tried, size) <= width:
            lines[-1] = tried
        else:
            lines += _pieces(word, width, size)
    lines = [line for line in lines if line]
    return lines if len(lines) <= most else [*lines[: most - 1], shortened(" ".join(lines[most - 1 :]), width, size)]


def _pieces(word: str, width: float, size: float) -> list[str]:
    pieces = [""]
    for character in word:
        if width_of(pieces[-1] + character, size) > width:
            pieces.append("")
        pieces[-1] += character
    return pieces
