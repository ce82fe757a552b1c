"""What is found, for one call and for many rows: the same predicates, the same sentences."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from typing import Any

import numpy as np

from platemargin.declared import Finding, Path, Place, as_declared, column_as_declared, stated
from platemargin.quantities import Array
from platemargin_api.calculation import Figures
from platemargin_api.called import Called
from platemargin_api.problems import pointer

__all__ = ["findings_of", "findings_of_one", "places_where", "plain", "rows_where"]


def findings_of_one(called: Called, figures: Figures) -> list[dict[str, Any]]:
    """Return what is found of one call."""
    return [
        _told(finding, place.path, as_declared({name: place.values[name] for name in finding.values}))
        for finding, where in called.findings()
        for place in (_places(finding, where, figures) if called.calculation.elementwise else where)
    ]


def _places(finding: Finding, holds: Any, figures: Figures) -> tuple[Place, ...]:
    """Return the place of a finding of an elementwise calculation where it holds, and none where it does not."""
    return (Place(path=_path(finding), values=figures),) if holds else ()


def findings_of(called: Called, count: int, figures: Callable[[int], Figures]) -> list[list[dict[str, Any]]]:
    """Return what is found of each of `count` rows of an elementwise calculation.

    `figures` gives those of a row: they are made for the rows alone of which something is found.
    """
    found: list[list[dict[str, Any]]] = [[] for _ in range(count)]
    for finding, where in called.findings():
        if rows := rows_where(where, count):
            for row, values in zip(rows, _of_rows(finding, [figures(row) for row in rows]), strict=True):
                found[row].append(_told(finding, _path(finding), values))
    return found


def _path(finding: Finding) -> Path:
    return (finding.field,) if finding.field else ()


def places_where(holds: Any, count: int) -> Array:
    """Return at which of `count` rows a predicate of columns holds."""
    return np.flatnonzero(np.broadcast_to(holds, (count,)))


def rows_where(holds: Any, count: int) -> list[int]:
    """Return the same as numbers, one by one."""
    # numpy's fixed cost is that of many rows.
    if count == 1:
        return [0] if holds else []
    return list(places_where(holds, count).tolist())


def _of_rows(finding: Finding, figures: Sequence[Figures]) -> Iterator[dict[str, Any]]:
    """Return the values that fill a finding's template, row by row; they are rounded by column."""
    names = finding.values
    declared = [column_as_declared(name, [row[name] for row in figures]) for name in names]
    return (dict(zip(names, values, strict=True)) for values in zip(*declared, strict=True)) if names else ({} for _ in figures)


def _told(finding: Finding, path: Path, values: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "code": finding.code,
        "severity": finding.severity,
        "statement": stated(finding.statement, values),
        **({"pointer": pointer(path)} if path else {}),
        "values": {name: plain(value) for name, value in values.items()},
    }


def plain(value: Any) -> Any:
    """Return a value as JSON has it: a day as text."""
    return value.isoformat() if isinstance(value, date) else value
