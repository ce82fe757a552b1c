"""What a person may have meant where a text is no JSON: a hint beside the reader's own words, by what stands at the place."""

from __future__ import annotations

import re

import orjson

__all__ = ["worded"]

#: So many characters are looked at before and after the place.
_NEAR = 20
#: What stands before the place, what stands at it, and what to do; the first that holds is told.
_HINTS = tuple(
    (re.compile(rf"(?:{before})\Z"), re.compile(at), hint)
    for before, at, hint in (
        (r"\A\s*", r"\s*\Z", "the request is empty: send an object, its members in braces"),
        (r"\A", "\ufeff", "send the text without its first character, U+FEFF"),
        (r"\A\s*", r"[^{]", "a request is an object: it begins with {"),
        (r"", r"-?(NaN|nan|Infinity|inf)", "JSON has no NaN and no infinity: leave out what is not known"),
        (r"", r"(True|False|None|TRUE|FALSE|NULL)\b", "true, false and null are written in small letters"),
        (r"[0-9],\s*", r"[0-9]", "write decimals with a point, such as 8.8"),
        (r"[0-9]", r"_", "write the digits of a number without anything between them"),
        (r"[0-9]\s*", r"[^\s\d\"',}\]{\[:/#]", "write a number in decimal digits, without its unit"),
        (
            r"",
            r"['\u2018\u2019\u201c\u201d\u201e]",
            'names and texts stand between straight quotation marks: "plate_mm"',
        ),
        (r"[{,]\s*", r"[A-Za-z_]", 'the names of members stand between quotation marks: "plate_mm"'),
        (r"", r"\+", "write a positive number without its sign"),
        (r"", r"\.", "write a figure before the point, such as 0.5"),
        (r"", r"//|/\*|#", "JSON has no comments: leave it out"),
        (r"}\s*", r"\{", "one body holds one request; many go as lines of application/x-ndjson"),
    )
)


def worded(error: orjson.JSONDecodeError) -> str:
    """Return where a text is no JSON, why, and what may have been meant.

    Examples
    --------
    >>> try:
    ...     orjson.loads('{"plate_mm": 8,8}')
    ... except orjson.JSONDecodeError as error:
    ...     print(worded(error))
    not JSON at character 16: unexpected character, expected a string key (write decimals with a point, such as 8.8)
    """
    text, place = error.doc, error.pos
    where = f"line {error.lineno}, character {error.colno}" if "\n" in text.rstrip("\n") else f"character {place + 1}"
    # A body may be long: what stands near tells enough, and something stands before it.
    before = text[:place] if place <= _NEAR else f"...{text[place - _NEAR : place]}"
    after = text[place : place + _NEAR]
    hint = next((f" ({told})" for left, at, told in _HINTS if left.search(before) and at.match(after)), "")
    return f"not JSON at {where}: {error.msg}{hint}"
