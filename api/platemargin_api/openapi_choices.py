"""Enumerations of the OpenAPI document as schemas of their own, so that every generator of clients names them alike.

A list of names within a member is called by each generator as it likes, and one that may be null twice over
(``AnodeHullRequestMaterialType2Type1``). As a schema of its own, named after the object and the member that hold it, it has
one name everywhere, and "or null" stays beside it.
"""

from __future__ import annotations

from typing import Any

__all__ = ["named"]

_REF = "#/components/schemas/"


def named(schemas: dict[str, Any]) -> dict[str, Any]:
    """Return schemas with each enumeration of a member, or of its items, as one more schema.

    Examples
    --------
    >>> colour = {"type": ["string", "null"], "enum": ["red", "black", None]}
    >>> told = named({"Pit": {"properties": {"core_colour": colour}}})
    >>> told["PitCoreColour"]
    {'type': 'string', 'enum': ['red', 'black']}
    >>> told["Pit"]["properties"]["core_colour"]
    {'anyOf': [{'$ref': '#/components/schemas/PitCoreColour'}, {'type': 'null'}]}
    """
    told = dict(schemas)
    for holder, schema in schemas.items():
        members = schema.get("properties", {}).items()
        moved = {member: _moved(each, f"{holder}{member.title().replace('_', '')}", told) for member, each in members}
        told[holder] = {**schema, "properties": moved} if moved else schema
    return told


def _moved(member: dict[str, Any], name: str, schemas: dict[str, Any]) -> dict[str, Any]:
    if "items" in member:
        return {**member, "items": _moved(member["items"], name, schemas)}
    # A plug-in's schema may have the name already: then the list stays where it is.
    if "enum" not in member or name in schemas:
        return member
    schemas[name] = {"type": "string", "enum": [value for value in member["enum"] if value is not None]}
    rest = {key: value for key, value in member.items() if key not in ("type", "enum")}
    ref = {"$ref": _REF + name}
    return {**rest, "anyOf": [ref, {"type": "null"}]} if None in member["enum"] else {**rest, **ref}
