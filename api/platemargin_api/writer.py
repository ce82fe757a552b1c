"""The one way out: a result becomes the members that its response schema declares, in order, rounded, finite.

Compiled once from the schema; `schema.dump` is its oracle in the tests.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeAlias

import marshmallow as ma

from platemargin_api.fields import List, Object, Rows

__all__ = ["Writer", "compiled"]

Writer: TypeAlias = Callable[[Any], Any]


def compiled(schema: ma.Schema) -> Writer:
    """Return a function from a result to its members; where an attribute is missing it raises."""
    writers = [(name, _of_field(field)) for name, field in schema.fields.items()]

    def write(result: Any) -> dict[str, Any]:
        members = result.get if isinstance(result, dict) else lambda name: getattr(result, name)
        return {name: writer(members(name)) for name, writer in writers}

    return write


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
