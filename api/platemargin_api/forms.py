"""Whether texts are of the forms that their fields declare: each text of a table is looked at once, for rows repeat a few."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeAlias

import marshmallow as ma

from platemargin_api.fields import List, Object, Pattern

__all__ = ["Formed", "formed"]

#: Tells of many values of one field, none of them null, whether every text in them is of its form.
Formed: TypeAlias = Callable[[Sequence[Any]], bool]


def formed(schema: ma.Schema) -> Formed | None:
    """Return what tells whether the texts in objects of a schema are of their forms; None where it declares no form."""
    members = [(name, found) for name, field in schema.load_fields.items() if (found := _formed(field)) is not None]
    if not members:
        return None

    def all_formed(objects: Sequence[Mapping[str, Any]]) -> bool:
        return all(found(_sent(name, objects)) for name, found in members)

    return all_formed


def _sent(name: str, objects: Sequence[Mapping[str, Any]]) -> list[Any]:
    return [value for one in objects if (value := one.get(name)) is not None]


def _formed(field: Any) -> Formed | None:
    if isinstance(field, Object):
        return formed(field.schema)
    if isinstance(field, List):
        item = _formed(field.inner)
        return None if item is None else lambda lists: item([one for items in lists for one in items])
    searches = [validator.exact.search for validator in field.validators if isinstance(validator, Pattern)]
    return (lambda texts: all(search(text) for text in {*texts} for search in searches)) if searches else None
