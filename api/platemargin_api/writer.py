"""The one way out: a result becomes the members that its response schema declares, in order, rounded, finite.

Compiled once from the schema; `schema.dump` is its oracle in the tests.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import cache
from typing import Any, TypeAlias

import marshmallow as ma

from platemargin.quantities import rounding_to
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
    """Return the same of an object, written as one literal: most members are plain numbers, rounded without a writer."""
    known: dict[str, Any] = {"type": type, "float": float, "getattr": getattr, "inf": math.inf}
    members = []
    for place, (name, field) in enumerate(schema.fields.items()):
        known[f"write{place}"] = writers[place]
        told = f"write{place}(getattr(result, {name!r}))"
        if type(field) is Number and field.decimals is not None:
            known[f"round{place}"] = rounding_to(field.decimals)
            held = f"type(value := getattr(result, {name!r})) is float and -inf < value < inf"
            told = f"round{place}(value) if {held} else write{place}(value)"
        members.append(f"{name!r}: {told}")
    made: Writer = eval(f"lambda result: {{{', '.join(members)}}}", known)  # noqa: S307  of names as they are quoted
    return made


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
