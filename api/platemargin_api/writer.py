"""The one way out: a result becomes the members that its response schema declares, in order, rounded, finite.

Compiled once from the schema; `schema.dump` is its oracle in the tests.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from keyword import iskeyword
from typing import Any, TypeAlias

import marshmallow as ma

from platemargin.quantities import ROUNDED, ROUNDER
from platemargin_api.fields import List, Number, Object, Rows

__all__ = ["Writer", "compiled"]

Writer: TypeAlias = Callable[[Any], Any]


def compiled(schema: ma.Schema) -> Writer:
    """Return a function from a result to its members; where an attribute is missing it raises."""
    writers = {name: _of_field(field) for name, field in schema.fields.items()}

    # Not all are ever asked for, and the examples that are answered at the start ask for most.
    @cache
    def of_object() -> Writer:
        return _of_object(schema, list(writers.values()))

    def write(result: Any) -> Any:
        if isinstance(result, dict):
            return {name: writer(result.get(name)) for name, writer in writers.items()}
        return of_object()(result)

    return write


def _of_object(schema: ma.Schema, writers: Sequence[Writer]) -> Writer:
    """Return the same of an object, written as one literal: a call for each of its numbers takes several times as long."""
    known: dict[str, Any] = {"getattr": getattr, "type": type, "float": float}
    members = []
    for place, (name, field) in enumerate(schema.fields.items()):
        known[f"write{place}"] = writers[place]
        held = f"result.{name}" if name.isidentifier() and not iskeyword(name) else f"getattr(result, {name!r})"
        members.append(f"{name!r}: {_spelt(field, held, f'write{place}')}")
    made: Writer = eval(f"lambda result: {{{', '.join(members)}}}", known)  # noqa: S307  of names as they are quoted
    return made


def _spelt(field: Any, held: str, write: str) -> str:
    """Return the expression that writes a member; one that is not too large is rounded in it, as `one_to_decimals` does."""
    if type(field) is not Number or field.decimals is None or field.decimals < 0:
        return f"{write}({held})"
    scaled, rounder = f"(scaled := value * {10.0**field.decimals!r})", repr(ROUNDER)
    rounded = f"(scaled + {rounder} - {rounder}) / {10.0**field.decimals!r} + 0.0"
    return f"{rounded} if type(value := {held}) is float and -{ROUNDED!r} < {scaled} < {ROUNDED!r} else {write}(value)"


def _of_field(field: Any) -> Writer:
    if isinstance(field, Rows):
        return _of_rows(field.inner)
    if isinstance(field, List):
        item = _of_field(field.inner)
        return lambda values: None if values is None else [item(value) for value in values]
    if isinstance(field, Object):
        write = compiled(field.schema)
        return lambda value: None if value is None else write(value)
    one: Writer = field.value
    return one


def _of_rows(row: Any) -> Writer:
    write = compiled(row.schema)

    def rows(value: Any) -> Any:
        if value is None:
            return None
        return row.rows(value) if hasattr(value, "__dataclass_fields__") else [write(item) for item in value]

    return rows
