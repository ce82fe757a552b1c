"""Rows that somebody typed into a spreadsheet, as text within a request: commas, semicolons or tabs; decimal points or commas.

Where a field of rows says so (`typed_as`), a request may hold them as text under that other name. It is answered as the
request with those rows in their place, and what is said of them names the spreadsheet's row and column. What may be read in
two ways is refused.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice, pairwise
from typing import Any

import orjson

from platemargin_api.body import MalformedBodyError, parse
from platemargin_api.fields import Flag, Integer, Number, Object, Rows
from platemargin_api.problems import MOST_FAULTS, ProblemError, pointer
from platemargin_api.wording import hint

__all__ = ["MOST_CHARACTERS", "TypedTable", "typed_table"]

#: The longest table.
MOST_CHARACTERS = 4_000_000
#: So many lines for each row that there may be are read, blank ones among them.
_LINES_A_ROW = 2
#: So much of a cell is repeated where it is wrong.
_MOST_TOLD = 40
_SEPARATORS = {";": "semicolons", "\t": "tabs", ",": "commas"}
_FLAGS = {"true": True, "yes": True, "false": False, "no": False}
_NUMBER = re.compile(r"[+-]?[0-9]+([.,][0-9]+)?", re.ASCII)

#: A fault of the text: its row (the header is 1) and column, as far as they are known, its code and what is wrong.
_Fault = tuple[int | None, str | None, str, str]


class _WrongTextError(ValueError):
    """The text is no table; `fault` says why."""

    def __init__(self, code: str, detail: str, row: int | None = None, column: str | None = None) -> None:
        super().__init__(detail)
        self.fault: _Fault = (row, column, code, detail)


@dataclass(frozen=True)
class _Table:
    """A table's header, and its rows with their numbers in the spreadsheet."""

    names: Sequence[str]
    rows: Sequence[tuple[int, Sequence[str]]]


@dataclass(frozen=True)
class TypedTable:
    """A request with rows as text: `body` is the same with rows, `numbers` are those of each in the spreadsheet."""

    body: bytes
    member: str
    typed_as: str
    numbers: Sequence[int]

    def placed(self, told: Mapping[str, Any]) -> dict[str, Any]:
        """Return a finding or a fault with its pointer to the text, and the row and column that it is of."""
        _, *path = str(told.get("pointer", "")).split("/")
        if not path or path[0] != self.member:
            return dict(told)
        row = self.numbers[int(path[1])] if len(path) > 1 else None
        return _at(self.typed_as, told, row, path[2] if len(path) > 2 else None)  # noqa: PLR2004  /member/row/column

    def refused(self, problem: ProblemError) -> ProblemError:
        """Return a problem whose faults name row and column."""
        return _problem(problem.kind.name, [self.placed(fault) for fault in problem.errors]) if problem.errors else problem


def typed_table(typed: Mapping[str, Rows], body: bytes) -> TypedTable | None:
    """Return the table within a request's body, under one of some names; None where it holds none, or is no JSON.

    Raises
    ------
    ProblemError
        For a text that is no table, or that may be read in two ways; for rows that are sent beside it.
    """
    name = next((name for name in typed if f'"{name}"'.encode() in body), None)
    sent = None if name is None else _sent(body)
    if name is None or sent is None or name not in sent:
        return None
    field, text = typed[name], sent.pop(name)
    row: Object = field.inner  # type: ignore[assignment]
    if text is None:  # absent: what is said of the rows is said of those sent
        return TypedTable(orjson.dumps(sent), "", name, ())
    if sent.get(str(field.name)) is not None:
        raise _refused(name, [(None, None, "given_twice", f"{field.name} are sent, too: give one of the two")])
    try:
        table = _read(name, text, row.schema.fields, _most(field))
    except _WrongTextError as error:
        raise _refused(name, [error.fault]) from None
    sent[str(field.name)] = _requests(table, row.schema.fields)
    return TypedTable(orjson.dumps(sent), str(field.name), name, [number for number, _ in table.rows])


def _sent(body: bytes) -> dict[str, Any] | None:
    """Return a body that is an object; what is wrong with any other is told where it is read."""
    try:
        sent = parse(body)
    except MalformedBodyError:
        return None
    return sent if isinstance(sent, dict) else None


def _most(field: Rows) -> int:
    """Return the most rows of a field."""
    (length,) = field.validators
    return int(length.max)  # type: ignore[attr-defined]


def _read(name: str, text: Any, fields: Mapping[str, Any], most: int) -> _Table:
    if not isinstance(text, str):
        raise _WrongTextError("wrong_type", "must be a JSON string: the lines of a table, the first naming its columns")
    if len(text) > MOST_CHARACTERS:
        raise _WrongTextError("too_long", f"must have at most {MOST_CHARACTERS} characters")
    lines = text.removeprefix("\ufeff")
    separator = _separator(lines.split("\n", 1)[0])
    try:
        reader = csv.reader(io.StringIO(lines, newline=""), delimiter=separator, strict=True)
        records = list(enumerate(islice(reader, _LINES_A_ROW * most + 2), start=1))
    except csv.Error as error:
        raise _WrongTextError("malformed_table", f"is no table: {error}") from None
    if len(records) > _LINES_A_ROW * most + 1:
        raise _WrongTextError("too_long", f"must have at most {most} rows, and no more blank lines than that")
    rows = [(number, [cell.strip() for cell in cells]) for number, cells in records]
    names = rows[0][1] if rows else []
    faults = list(islice(_header_faults(names, fields), MOST_FAULTS))
    if faults:
        raise _refused(name, faults)
    table = _Table(names, [(number, cells) for number, cells in rows[1:] if any(cells)])
    if not table.rows:
        raise _WrongTextError("out_of_range", "has no row below the line that names the columns")
    _hold_widths(table, separator)
    _hold_decimals(table, separator, fields)
    faults = list(islice(_cell_faults(table, fields), MOST_FAULTS))
    if faults:
        raise _refused(name, faults)
    return table


def _separator(header: str) -> str:
    found = [mark for mark in _SEPARATORS if mark in header]
    if len(found) > 1:
        named = " and ".join(_SEPARATORS[mark] for mark in found)
        raise _WrongTextError("ambiguous", f"its columns are separated by {named}: use one of them", 1)
    return found[0] if found else ","


def _header_faults(names: Sequence[str], fields: Mapping[str, Any]) -> Iterator[_Fault]:
    for at, called in enumerate(names):
        name = called[:_MOST_TOLD]
        if called not in fields:
            others = hint(name, fields, otherwise=f"columns are {', '.join(fields)}")
            yield 1, name, "unknown_field", f"is no column known here{others}"
        elif called in names[:at]:
            yield 1, name, "named_twice", "is named twice"
    for name, field in fields.items():
        if field.required and name not in names:
            yield 1, name, "missing", "is required, and no column is called so"


def _hold_widths(table: _Table, separator: str) -> None:
    for number, cells in table.rows:
        if len(cells) < len(table.names) or any(cells[len(table.names) :]):
            instead = "; write decimals with a point, or separate columns with semicolons" if separator == "," else ""
            detail = f"has {len(cells)} cells, and the first line {len(table.names)}{instead}"
            raise _WrongTextError("malformed_row", detail, number)


def _hold_decimals(table: _Table, separator: str, fields: Mapping[str, Any]) -> None:
    """Refuse numbers that may be read in two ways."""
    first: dict[str, tuple[int, str]] = {}
    for number, column, cell in _numbers(table, fields):
        mark = next((mark for mark in ",." if mark in cell), None)
        if mark is None:
            continue
        if mark == "," and separator == ",":
            detail = f"{cell} has a comma, which separates columns here: write a point, or separate columns with semicolons"
            raise _WrongTextError("ambiguous", detail, number, column)
        first.setdefault(mark, (number, cell))
        if len(first) > 1:
            (other, written) = next(told for known, told in first.items() if known != mark)
            detail = f"{cell}, but {written} in row {other}: write all decimals with a point, or all with a comma"
            raise _WrongTextError("ambiguous", detail, number, column)
    if separator == "," and not first:
        _hold_whole(table, fields)


def _hold_whole(table: _Table, fields: Mapping[str, Any]) -> None:
    """Refuse whole numbers side by side where no number has a point: 9,8 may be two columns and may be 9.8."""
    numeric = [isinstance(fields[name], Number) for name in table.names]
    beside = [at for at, both in enumerate(pairwise(numeric)) if all(both)]
    for number, cells in table.rows:
        at = next((at for at in beside if _NUMBER.fullmatch(cells[at]) and _NUMBER.fullmatch(cells[at + 1])), None)
        if at is not None:
            detail = (
                f"{cells[at]},{cells[at + 1]} may be two numbers and may be one with a decimal comma: write {cells[at]}.0, or "
                "separate columns with semicolons"
            )
            raise _WrongTextError("ambiguous", detail, number, table.names[at])


def _numbers(table: _Table, fields: Mapping[str, Any]) -> Iterator[tuple[int, str, str]]:
    """Yield row, column and text of each cell that is written as a number and is to be one."""
    for number, cells in table.rows:
        for name, cell in zip(table.names, cells, strict=False):
            if isinstance(fields[name], (Number, Integer)) and _NUMBER.fullmatch(cell):
                yield number, name, cell


def _cell_faults(table: _Table, fields: Mapping[str, Any]) -> Iterator[_Fault]:
    """Yield the cells that are not written as their column asks."""
    for number, cells in table.rows:
        for name, cell in zip(table.names, cells, strict=False):
            if cell and isinstance(fields[name], (Number, Integer)) and not _NUMBER.fullmatch(cell):
                yield number, name, "wrong_type", f"{cell[:_MOST_TOLD]!r} is no number such as 9.8, without its unit"
            elif cell and isinstance(fields[name], Flag) and cell.lower() not in _FLAGS:
                yield number, name, "wrong_type", f"{cell[:_MOST_TOLD]!r} is none of {', '.join(_FLAGS)}"


def _requests(table: _Table, fields: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the rows as requests write them; an empty cell is an absent member."""
    values = {name: _value_of(fields[name]) for name in table.names}
    return [
        {name: values[name](cell) for name, cell in zip(table.names, cells, strict=False) if cell} for _, cells in table.rows
    ]


def _value_of(field: Any) -> Callable[[str], Any]:
    if isinstance(field, (Number, Integer)):
        return lambda cell: float(cell.replace(",", "."))
    if isinstance(field, Flag):
        return lambda cell: _FLAGS[cell.lower()]
    return lambda cell: cell


def _refused(typed_as: str, faults: Iterable[_Fault]) -> ProblemError:
    errors = [_at(typed_as, {"code": code, "detail": detail}, row, column) for row, column, code, detail in faults]
    return _problem("invalid-request", errors)


def _at(typed_as: str, told: Mapping[str, Any], row: int | None, column: str | None) -> dict[str, Any]:
    """Return what is told with its place in the text; a fault's words begin with it."""
    place = {name: value for name, value in (("row", row), ("column", column)) if value is not None}
    words = ", ".join(f"{name} {value}" for name, value in place.items())
    placed = {**told, "pointer": pointer([typed_as]), **place}
    return {**placed, "detail": f"{words}: {told['detail']}"} if words and "detail" in told else placed


def _problem(kind: str, errors: Sequence[Mapping[str, Any]]) -> ProblemError:
    more = f" ({len(errors)} faults)" if len(errors) > 1 else ""
    return ProblemError(kind, f"{errors[0]['pointer'] or 'The request'}: {errors[0]['detail']}{more}", errors)
