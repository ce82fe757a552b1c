"""How a fault is worded: what is allowed and in which unit, what came instead, and what may have been meant."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from typing import Any

from platemargin.names import nearest_name

__all__ = ["came", "figure", "hint", "nearest", "number_hint", "quoted", "within"]

#: So much of what came is repeated.
_MOST_TOLD = 40
#: Units that are told in other words than they are declared in; of those that are empty a number has none.
_UNITS = {
    "year": "years",
    "month": "months",
    "minute": "minutes",
    "degree": "degrees",
    "1": "",
    "ratio": "",
    "probability": "",
    "pH": "",
    "as quantity": "",
}
_KINDS: Mapping[type, str] = {list: "an array", dict: "an object"}
#: A number as people type it, in digits of any script, and what stands behind it.
_TYPED = re.compile(r"([+-]?)([0-9]+)(?:([.,])([0-9]+))?\s*(\D.*)?")
#: A comma before three figures separates thousands as well as decimals.
_OF_A_THOUSAND = 3


def nearest(name: object, known: Iterable[str]) -> dict[str, str]:
    """Return the known name most like a misspelt one, as the member of a problem; empty where none is like it."""
    near = nearest_name(str(name), known)
    return {} if near is None else {"nearest": near}


def hint(name: object, known: Iterable[str], *, otherwise: str = "") -> str:
    """Return the end of a sentence that names what may have been meant; where nothing is like it, `otherwise`.

    Examples
    --------
    >>> hint("plat_mm", ["plate_mm"]), hint("mast", ["plate_mm"], otherwise="one of plate_mm")
    ('; the nearest is plate_mm', '; one of plate_mm')
    """
    near = nearest_name(str(name), known)
    said = otherwise if near is None else f"the nearest is {near}"
    return said and f"; {said}"


def figure(value: float) -> str:
    """Return a number as a caller would write it.

    Examples
    --------
    >>> figure(40.0), figure(0.001), figure(5e7)
    ('40', '0.001', '50000000')
    """
    return repr(value).removesuffix(".0")


def within(low: float, high: float, unit: str) -> str:
    """Return the bounds of a number with its unit.

    Examples
    --------
    >>> within(0.5, 40, "mm"), within(0.1, 200, "year"), within(1, 2, "1")
    ('from 0.5 to 40 mm', 'from 0.1 to 200 years', 'from 1 to 2')
    """
    return f"from {figure(low)} to {figure(high)} {_spelt(unit)}".rstrip()


def _spelt(unit: str) -> str:
    return _UNITS.get(unit, unit)


def quoted(value: object) -> str:
    """Return the beginning of a text that came, so that it can be told from the words round it."""
    text = str(value)
    return repr(text if len(text) <= _MOST_TOLD else f"{text[:_MOST_TOLD]}...")


def came(value: Any) -> str:
    """Return what came in the place of something else.

    Examples
    --------
    >>> came("left"), came(True), came(4.5), came([])
    ("'left'", 'true', '4.5', 'an array')
    """
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, (int, float)):
        return figure(value)
    return _KINDS.get(type(value), "something else")


def number_hint(text: str, unit: str) -> str:
    """Return the end of a sentence that says how a number that came as text is to be written.

    Examples
    --------
    >>> number_hint("8,8 mm", "mm")
    ': write 8.8, with a decimal point, and without quotation marks, blanks and unit'
    >>> number_hint("0.35 in", "mm")
    ': write the value in mm, with a decimal point, and without quotation marks, blanks and unit'
    """
    how = "with a decimal point, and without quotation marks, blanks and unit"
    typed = _TYPED.fullmatch(_in_our_digits(text.strip())) if len(text) <= _MOST_TOLD else None
    if typed is None:
        return ""
    sign, whole, mark, fraction, behind = typed.groups()
    unit_sent = (behind or "").strip(". ").casefold()
    if unit_sent not in ("", unit.casefold(), _spelt(unit)) or (mark == "," and len(fraction) == _OF_A_THOUSAND):
        named = f" in {_spelt(unit)}" if _spelt(unit) else ""
        return f": write the value{named}, {how}"
    written = f"{sign.replace('+', '')}{int(whole)}{'.' if fraction else ''}{fraction or ''}"
    return f": write {written}, {how}"


def _in_our_digits(text: str) -> str:
    """Return a text with the digits and marks of other scripts as those of JSON."""
    plain = "".join(str(unicodedata.decimal(one)) if one.isdecimal() else one for one in unicodedata.normalize("NFKC", text))
    return plain.replace("\u066b", ",").replace("\u2212", "-")
