"""What never changes in the answers of one calculation, made once: as members, and encoded to be spliced into an answer."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any, TypeAlias

import marshmallow as ma
import orjson

from platemargin_api.calculation import Calculation
from platemargin_api.fields import Object

__all__ = ["Defaults", "Unchanging", "defaults_of", "unchanging"]

#: From what was sent to what is told of each default that was used.
Defaults: TypeAlias = Callable[[Mapping[str, Any]], list[dict[str, Any]]]


@dataclass(frozen=True)
class Unchanging:
    """The members of every answer of a calculation; cautions and references where no member and no rule set brings more."""

    calculation: Any
    distribution: Any
    cautions: Any
    references: Any

    def encoded(self) -> Unchanging:
        """Return the same as JSON texts, which the encoder splices in."""
        return Unchanging(*(orjson.Fragment(orjson.dumps(getattr(self, field.name))) for field in fields(self)))


def unchanging(calculation: Calculation, distribution: Any) -> Unchanging:
    """Return what never changes in a calculation's answers."""
    return Unchanging(
        calculation={"id": calculation.id, "version": calculation.version},
        distribution=asdict(distribution),
        cautions=list(calculation.cautions),
        references=[asdict(reference) for reference in calculation.references],
    )


def defaults_of(schema: ma.Schema, within: str = "") -> Defaults:
    """Return a function that tells every default of a schema that was used, in member objects too."""
    telling = list(_telling(schema, within))

    def told(sent: Mapping[str, Any]) -> list[dict[str, Any]]:
        used = []
        for name, default, inner in telling:
            if sent.get(name) is None:
                used += default
            elif inner is not None:
                used += inner(sent[name])
        return used

    return told


def _telling(schema: ma.Schema, within: str) -> Iterator[tuple[str, list[dict[str, Any]], Defaults | None]]:
    """Give, of each member, what it tells where it is absent, and what tells of the members within it."""
    for name, field in schema.fields.items():
        default = []
        if field.load_default is not ma.missing and "basis" in field.metadata:
            value: Any = field.load_default
            plain = value.isoformat() if hasattr(value, "isoformat") else value
            unit, basis = field.metadata.get("unit"), field.metadata["basis"]
            default = [{"field": within + name, "value": plain, "unit": unit, "basis": basis}]
        inner = defaults_of(field.schema, f"{within}{name}.") if isinstance(field, Object) else None
        if default or inner:
            yield name, default, inner
