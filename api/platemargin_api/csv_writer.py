"""Answers as rows of a table (CSV as RFC 4180 has it), safe to open in a spreadsheet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import orjson

from platemargin_api.answer import LABEL
from platemargin_api.declarations import limits
from platemargin_api.fields import List, Object
from platemargin_api.media import CSV
from platemargin_api.registry import Served
from platemargin_api.rows import Record

__all__ = ["TableWriter", "result_columns", "table_row", "told_in_a_cell"]

#: What a cell of text must not start with: a spreadsheet would take it for a formula.
_FORMULA = tuple("=+-@\t\r\n")
#: What a cell with any of these is quoted for.
_QUOTED = frozenset('",\r\n')


def result_columns(served: Served) -> dict[str, tuple[str | int, ...]]:
    """Return the columns of a result with the path to each: ``corrections.velocity_mm``, ``budget.0.quantity``.

    A member of an object follows its name after a dot, an item of an array its number from 0. An array that is not of one
    declared length has no columns.
    """
    return {".".join(map(str, path)): path for name, field in served.response.fields.items() for path in _paths(field, (name,))}


def _paths(field: Any, path: tuple[str | int, ...]) -> Iterator[tuple[str | int, ...]]:
    if isinstance(field, Object):
        for name, member in field.schema.fields.items():
            yield from _paths(member, (*path, name))
    elif isinstance(field, List):
        low, high = limits(field)
        for item in range(high if low == high else 0):
            yield from _paths(field.inner, (*path, item))
    else:
        yield path


class TableWriter:
    """The answers to rows: ``line``, ``id`` where the rows may have one, the result, ``finding_codes`` and ``error``."""

    content_type = f"{CSV}; charset=utf-8; header=present"

    def __init__(self, served: Served, *, labelled: bool) -> None:
        self._labelled = labelled
        columns = result_columns(served)
        self._paths = list(columns.values())
        label = [LABEL] if labelled else []
        self.head = table_row(["line", *label, *columns, "finding_codes", "error"])

    def rows(self, records: Iterable[Record]) -> bytes:
        """Return rows."""
        return b"".join(table_row(self._cells(record)) for record in records)

    def end(self, _summary: Mapping[str, Any]) -> bytes:
        """Return nothing: every row of a table is a row."""
        return b""

    def _cells(self, record: Record) -> Iterator[Any]:
        yield record["line"]
        if self._labelled:
            yield record.get(LABEL)
        if "problem" in record:
            yield from [None] * (len(self._paths) + 1)
            yield told_in_a_cell(record["problem"])
        else:
            yield from (_at(record["result"], path) for path in self._paths)
            yield " ".join(finding["code"] for finding in record["findings"])
            yield None


def _at(value: Any, path: tuple[str | int, ...]) -> Any:
    for part in path:
        value = value[part]
    return value


def told_in_a_cell(problem: Mapping[str, Any]) -> str:
    """Return a problem in one cell: its kind, and each fault with the member that it is of."""
    faults = [f"{fault['pointer'] or 'the row'}: {fault['detail']}" for fault in problem.get("errors", ())]
    return f"{problem['type'].rsplit('/', 1)[1]}: {'; '.join(faults) or problem['detail']}"


def table_row(cells: Iterable[Any]) -> bytes:
    """Return a row of a table."""
    return (",".join(map(_cell, cells)) + "\r\n").encode()


def _cell(value: Any) -> str:
    """Return a cell: text quoted where it has to be, anything else as JSON writes it, nothing for null."""
    if value is None:
        return ""
    if not isinstance(value, str):
        return orjson.dumps(value).decode()
    text: str = value
    if text.startswith(_FORMULA):
        text = f"'{text}"
    elif _QUOTED.isdisjoint(text):
        return text
    return '"' + text.replace('"', '""') + '"'
