"""The quick way in: a decoder derived from a request schema, which takes what the schema takes and words no fault.

marshmallow's schema stays the one contract. What the decoder does not take may still be right (a number written 4.0 where a
whole one is asked, a text with a backslash) or wrong: the schema reads it then, and it alone tells why it refuses it.
A schema that does anything but what its fields declare has no quick way. `schema.load` is the oracle in the tests.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Container, Mapping
from datetime import date
from types import MappingProxyType
from typing import Annotated, Any, Literal, NamedTuple, NotRequired, TypeAlias, TypedDict

import marshmallow as ma
import msgspec
import numpy as np
import orjson

from platemargin_api import fields
from platemargin_api.forms import formed

__all__ = ["Reader", "Taken", "derived"]


class Taken(NamedTuple):
    """A request that is taken.

    Attributes
    ----------
    sent, request : dict
        What was sent, and the same with a default for what it does not say.
    in_order : mapping
        Tables of the request that are in JSON already, the members of their rows in order of name. A row holds single values.
    """

    sent: dict[str, Any]
    request: dict[str, Any]
    in_order: Mapping[str, orjson.Fragment] = MappingProxyType({})


#: From a body and the known rule sets to what is taken of it; None where the schema has to read it.
Reader: TypeAlias = Callable[[bytes, Container[str]], Taken | None]
_Filling: TypeAlias = Callable[[dict[str, Any]], dict[str, Any]]

_LONG, _MARK = 2048, ord('"')
_MINUS_ZERO = re.compile(rb"-0\.0[],}]")
#: What a schema loads with; one that overrides any of it is not known here.
_LOADING = ("load", "_do_load", "_deserialize", "_invoke_field_validators")


class _Unknown(Exception):  # noqa: N818  not an error: the schema has no quick way
    """A schema or a field does more than is known here."""


def derived(schema: ma.Schema) -> Reader | None:
    """Return the decoder of a request schema; None where it has none."""
    try:
        decoder: Any = msgspec.json.Decoder(_object_of(schema))
    except (_Unknown, TypeError, ValueError):  # the latter two for bounds that msgspec does not declare
        return None
    filled, without_nulls = _filling(schema), _filling(schema, nulls=False)
    tables = [name for name, field in schema.load_fields.items() if _is_flat_table(field)]
    all_formed = formed(schema)
    rule_sets = [name for name, field in schema.load_fields.items() if isinstance(field, fields.RuleSets)]

    def read(body: bytes, known: Container[str]) -> Taken | None:
        try:
            sent: dict[str, Any] = decoder.decode(body)
        except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
            return None
        in_order = {name: _in_order(sent[name]) for name in tables if name in sent}
        written = orjson.dumps({**sent, **in_order})
        if not _all_was_read(body, written):
            return None
        if all_formed is not None and not all_formed((sent,)):
            return None
        if any(name not in known for member in rule_sets for name in sent.get(member) or ()):
            return None
        if b"null" in written:
            return Taken(sent, filled(sent))
        return Taken(sent, without_nulls(sent), in_order)

    return read


def _in_order(value: Any) -> orjson.Fragment:
    """Return a member in JSON as it is digested: a long table is written once."""
    return orjson.Fragment(orjson.dumps(value, option=orjson.OPT_SORT_KEYS))


def _all_was_read(body: bytes, written: bytes) -> bool:
    """Tell whether no member was dropped, unknown or the second of its name, and no minus zero is left to be made zero.

    Without a backslash every member and every text has its quotation marks, in the body as in what was read of it.
    """
    if b"\\" in body or _marks(body) != _marks(written):
        return False
    # Most bodies have nothing like it, and one mark is looked for much sooner than four.
    return b"-" not in written or b"-0.0" not in written or not _MINUS_ZERO.search(written)


def _marks(text: bytes) -> int:
    """Return how many quotation marks there are; numpy is the quicker where there are many."""
    return text.count(b'"') if len(text) < _LONG else int(np.count_nonzero(np.frombuffer(text, np.uint8) == _MARK))


def _filling(schema: ma.Schema, *, nulls: bool = True) -> _Filling:
    """Return a function from what was sent to the request: defaults for what is absent, and null is absence."""
    members = [(name, field.load_default, _within(field, nulls=nulls)) for name, field in schema.load_fields.items()]
    if not nulls and all(within is None and not isinstance(default, list) for _, default, within in members):
        defaults = {name: default for name, default, _ in members if default is not ma.missing}
        return lambda sent: {**defaults, **sent}

    def filled(sent: dict[str, Any]) -> dict[str, Any]:
        request = {}
        for name, default, within in members:
            value = sent.get(name)
            if value is None:
                value = default.copy() if isinstance(default, list) else default  # it is this request's to change
            elif within is not None:
                value = within(value)
            if value is not ma.missing:
                request[name] = value
        return request

    return filled


def _within(field: Any, *, nulls: bool) -> Callable[[Any], Any] | None:
    """Return the same for what a field holds; None where that is as sent: the rows of most surveys are."""
    if isinstance(field, fields.Object):
        return None if not nulls and _is_as_sent(field.schema) else _filling(field.schema, nulls=nulls)
    item = _within(field.inner, nulls=nulls) if isinstance(field, fields.List) else None
    return None if item is None else lambda items: [item(one) for one in items]


def _is_flat_table(field: Any) -> bool:
    """Tell whether a field takes rows that hold nothing but single values, and are as sent where none of these is null."""
    if not isinstance(field, fields.Rows) or _within(field, nulls=False) is not None:
        return False
    row: fields.Object = field.inner  # type: ignore[assignment]
    return not any(isinstance(member, (fields.Object, fields.List)) for member in row.schema.load_fields.values())


def _is_as_sent(schema: ma.Schema) -> bool:
    """Tell whether a request is what was sent where no member of that is null."""
    fillings = [(field.load_default, _within(field, nulls=False)) for field in schema.load_fields.values()]
    return all(default is ma.missing and within is None for default, within in fillings)


def _object_of(schema: ma.Schema) -> Any:
    """Return the type of what a schema takes."""
    _refuse(
        schema.unknown != ma.RAISE,
        schema.partial,
        schema.many,
        schema.dict_class is not dict,
        any(schema._hooks.values()),  # noqa: SLF001  marshmallow tells them nowhere else
        any(getattr(type(schema), name) is not getattr(ma.Schema, name) for name in _LOADING),
    )
    members = {name: _member(name, field) for name, field in schema.load_fields.items()}
    return TypedDict(type(schema).__name__, members)  # type: ignore[operator]  # a type that is made here, not written


def _member(name: str, field: Any) -> Any:
    kind = _kind(field)
    _refuse(field.data_key not in (None, name), field.attribute not in (None, name), callable(field.load_default))
    return kind if field.required else NotRequired[kind | None]


def _kind(field: Any) -> Any:
    """Return the type of what a field takes; a field of a class that is not known here may take anything."""
    kind = _KINDS.get(type(field))
    if kind is None or field.pre_load or field.post_load:
        raise _Unknown
    return kind(field)


def _number(field: Any) -> Any:
    (between,) = _validators(field, fields.Between)
    low, high = float(between.min), float(between.max)
    _refuse(low != between.min, high != between.max)
    return Annotated[float, msgspec.Meta(ge=low, le=high)]


def _whole(field: Any) -> Any:
    (between,) = _validators(field, fields.Between)
    low, high = between.min, between.max
    _refuse(type(low) is not int, type(high) is not int, low < -sys.maxsize, high > sys.maxsize)
    return Annotated[int, msgspec.Meta(ge=low, le=high)]


def _flag(field: Any) -> Any:
    _validators(field)
    return bool


def _text(field: Any) -> Any:
    # Its form is told of afterwards: the decoder would look for it in every row, at the cost of all else together.
    of_form = [fields.Pattern] if len(field.validators) > 1 else []
    length, *_ = _validators(field, fields.Length, *of_form)
    return Annotated[str, msgspec.Meta(min_length=length.min, max_length=length.max)]


def _choice(field: Any) -> Any:
    (one_of,) = _validators(field, fields.OneOf)
    names = tuple(one_of.choices)
    _refuse(not names, any(type(name) is not str for name in names))
    return Literal[names]


def _day(field: Any) -> Any:
    _validators(field)
    return date


def _object(field: Any) -> Any:
    _validators(field)
    # Which rule sets are known is asked of the request's own members alone.
    _refuse(any(isinstance(member, fields.RuleSets) for member in field.schema.fields.values()))
    return _object_of(field.schema)


def _list(field: Any) -> Any:
    (length,) = _validators(field, fields.Length)
    _refuse(isinstance(field.inner, fields.RuleSets))
    return Annotated[list[_kind(field.inner)], msgspec.Meta(min_length=length.min, max_length=length.max)]  # type: ignore[misc]


def _validators(field: Any, *kinds: type) -> Any:
    _refuse([type(validator) for validator in field.validators] != list(kinds))
    return field.validators


def _refuse(*unlike: object) -> None:
    if any(unlike):
        raise _Unknown


_KINDS: Mapping[type, Callable[[Any], Any]] = {
    fields.Number: _number,
    fields.Integer: _whole,
    fields.Flag: _flag,
    fields.Text: _text,
    fields.Choice: _choice,
    fields.Day: _day,
    fields.Object: _object,
    fields.List: _list,
    fields.Rows: _list,
    fields.RuleSets: _list,
}
