"""Strict JSON: what a reader could take for something else is refused."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from typing import Any

import orjson

from platemargin_api.malformed import worded
from platemargin_api.wording import quoted

__all__ = ["MalformedBodyError", "dump", "parse"]


#: A text of 8 MiB may be of millions of empty lists, each some thirty times as large once it is read.
MOST_VALUES = 1_000_000
#: No request has as many in one object; each that is unknown would be a fault with its place.
MOST_MEMBERS = 1_000


class MalformedBodyError(ValueError):
    """The bytes are not the one JSON text that everybody reads alike."""


def parse(body: bytes) -> Any:
    """Read a JSON text.

    Raises
    ------
    MalformedBodyError
        For what is not JSON in UTF-8, a number beyond a double, NaN, a lone surrogate, nesting beyond 1,000, a member
        that is named twice in one object, more than MOST_MEMBERS in one, or more than MOST_VALUES values.
    """
    if sum(map(body.count, (b",", b"[", b"{"))) > MOST_VALUES:
        raise MalformedBodyError(f"The body has more than {MOST_VALUES:,} values: send less at a time.")
    try:
        value = orjson.loads(body)
    except orjson.JSONDecodeError as error:
        raise MalformedBodyError(f"The request is {_not_utf8(body) or worded(error)}.") from None
    if _may_name_one_twice(body, value):
        _refuse_duplicates(body)
    if any(len(inner) > MOST_MEMBERS for inner in _objects(value)):
        raise MalformedBodyError(f"An object has more than {MOST_MEMBERS:,} members.")
    return value


def _objects(value: Any) -> Iterator[dict[str, Any]]:
    """Yield every object of a value, however deep."""
    left = [value]
    while left:
        inner = left.pop()
        if isinstance(inner, dict):
            yield inner
            left.extend(inner.values())
        elif isinstance(inner, list):
            left.extend(inner)


def _not_utf8(body: bytes) -> str:
    """Tell where the bytes stop being UTF-8, in words that the reader of JSON does not have; empty where they do not."""
    try:
        body.decode()
    except UnicodeDecodeError as error:
        return f"not UTF-8 from byte {error.start} on: send the text in UTF-8"
    return ""


def _may_name_one_twice(body: bytes, value: Any) -> bool:
    """Tell whether the text may hold more members than were read; the writer gives up at 254 levels of nesting."""
    try:
        return b"\\" in body or body.count(b'"') != orjson.dumps(value).count(b'"')
    except orjson.JSONEncodeError:
        return True


def _refuse_duplicates(body: bytes) -> None:
    """Read again with a reader that sees every member.

    Without a backslash the count of quotation marks already tells whether one was dropped; this is for the rest.
    """
    try:
        json.loads(body, object_pairs_hook=_distinct, parse_int=float)
    except RecursionError:
        raise MalformedBodyError("The request is nested too deeply: no request has so many levels.") from None


def _distinct(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) != len(pairs):
        twice, _ = Counter(name for name, _ in pairs).most_common(1)[0]
        detail = f"The member {quoted(twice)} is named twice in one object: readers differ on which one counts; name it once."
        raise MalformedBodyError(detail)
    return members


def dump(value: Any) -> bytes:
    """Write a JSON text."""
    return orjson.dumps(value)
