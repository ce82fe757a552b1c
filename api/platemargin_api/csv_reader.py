"""Rows of a table (CSV as RFC 4180 has it) as requests: the header names the members, an empty cell is an absent one."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from math import isfinite
from typing import Any

import orjson

from platemargin_api.fields import Integer, Number
from platemargin_api.ndjson import too_long
from platemargin_api.problems import MOST_FAULTS, ProblemError, pointer
from platemargin_api.registry import Served
from platemargin_api.rows import Sent
from platemargin_api.wording import hint, nearest

__all__ = ["JSON_NUMBER", "CellReader", "TableReader", "hold_header"]

#: A number as JSON writes it.
JSON_NUMBER = r"-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?"
_NUMBER = re.compile(JSON_NUMBER, re.ASCII)
_BYTE_ORDER_MARK = b"\xef\xbb\xbf"
#: What spreadsheets put between columns instead of commas.
_OTHER_SEPARATORS = {";": "semicolons", "\t": "tabs"}


class CellReader:
    """The cells of the rows of a table; `line` is the last that was read, `names` are those of the header.

    Raises
    ------
    ProblemError
        For a header that cannot be read.
    """

    def __init__(self, lines: Iterator[tuple[int, bytes | None]], limit: int) -> None:
        self._text = _Text(lines, limit)
        self._rows = csv.reader(self._text, strict=True)
        try:
            self.names: Sequence[str] = next(self._rows, [])
        except csv.Error as error:
            raise ProblemError("malformed-body", f"The header is not as RFC 4180 has it: {error}.") from None

    @property
    def line(self) -> int:
        """The last line that was read."""
        return self._text.line

    def __iter__(self) -> Iterator[tuple[int, list[str] | ProblemError]]:
        while True:
            self._text.begin()
            first = self.line + 1
            try:
                cells = next(self._rows)
            except StopIteration:
                return
            except csv.Error as error:
                yield first, ProblemError("malformed-body", f"The row is not as RFC 4180 has it: {error}.")
            except ProblemError as error:
                yield first, error
            else:
                if cells and (len(cells) > 1 or cells[0].strip() or len(self.names) == 1):
                    yield first, self._whole(cells)

    def _whole(self, cells: list[str]) -> list[str] | ProblemError:
        if len(cells) == len(self.names):
            return cells
        decimals = "; write decimals with a point" if len(cells) > len(self.names) else ""
        return ProblemError("malformed-body", f"The row has {len(cells)} cells, the header {len(self.names)}{decimals}.")


class TableReader:
    """The requests in the rows of a table; `line` is the last that was read, `names` are those of the header.

    Raises
    ------
    ProblemError
        For a header that names no member of the request, one twice, or not one that every row must have.
    """

    def __init__(self, served: Served, lines: Iterator[tuple[int, bytes | None]], limit: int) -> None:
        self._cells = CellReader(lines, limit)
        self.names = self._header(served)
        fields = served.request.fields
        self._columns = [(f'"{name}":', isinstance(fields[name], (Number, Integer))) for name in self.names]

    @property
    def line(self) -> int:
        """The last line that was read."""
        return self._cells.line

    def __iter__(self) -> Iterator[Sent]:
        for line, cells in self._cells:
            yield line, cells if isinstance(cells, ProblemError) else self._request(cells)

    def _header(self, served: Served) -> Sequence[str]:
        names = self._cells.names
        hold_header(names, served.request.fields)
        return names

    def _request(self, cells: Sequence[str]) -> bytes:
        members = [
            key + (cell if number and _is_number(cell) else orjson.dumps(cell).decode())
            for (key, number), cell in zip(self._columns, cells, strict=True)
            if cell
        ]
        return f"{{{','.join(members)}}}".encode()


class _Text:
    """Lines as text, their ends kept; a row may go over several, and none is longer than the limit."""

    def __init__(self, lines: Iterator[tuple[int, bytes | None]], limit: int) -> None:
        self.line = 0
        self._lines = lines
        self._limit = limit
        self._length = 0

    def begin(self) -> None:
        """Begin a row."""
        self._length = 0

    def __iter__(self) -> _Text:
        return self

    def __next__(self) -> str:
        self.line, content = next(self._lines)
        self._length += 0 if content is None else len(content) + 1
        if content is None or self._length > self._limit + 1:
            raise too_long(self._limit)
        if self.line == 1:
            content = content.removeprefix(_BYTE_ORDER_MARK)
        try:
            return content.decode() + "\n"
        except UnicodeDecodeError as error:
            where = f"byte {error.start} of line {self.line}"
            raise ProblemError("malformed-body", f"The row is not UTF-8 from {where} on; save the table as UTF-8.") from None


def hold_header(names: Sequence[str], fields: Mapping[str, Any]) -> None:
    """Refuse a header that names no member of a request, one twice, or not one that every row must have.

    Raises
    ------
    ProblemError
        invalid-request, naming each.
    """
    faults = list(_faults(names, fields))
    if faults:
        errors = [_told(code, name, fields) for code, name in faults[:MOST_FAULTS]]
        more = f" ({len(faults)} faults in all)" if len(faults) > 1 else ""
        raise ProblemError("invalid-request", f"The header: {errors[0]['detail']}{more}", errors)


def _is_number(cell: str) -> bool:
    return _NUMBER.fullmatch(cell) is not None and isfinite(float(cell))


def _faults(names: Sequence[str], fields: Mapping[str, Any]) -> Iterator[tuple[str, str | None]]:
    """Yield what is wrong with a header: a code, and the column that it is of."""
    if not names:
        yield "missing", None
        return
    for name, times in Counter(names).items():
        if name not in fields:
            yield "unknown_field", name
        elif times > 1:
            yield "named_twice", name
    yield from (("missing", name) for name, field in fields.items() if field.required and name not in names)


def _told(code: str, name: str | None, fields: Mapping[str, Any]) -> dict[str, Any]:
    """Return a fault as it is told; names are compared here, for the faults that are told alone."""
    if name is None:
        detail = f"the first line names the columns, as the members of the request: {', '.join(fields)}"
        return {"code": code, "detail": detail, "pointer": ""}
    told = {"code": code, "detail": f"the column {name!r} {_why(code, name, fields)}", "pointer": pointer([name])}
    return told | nearest(name, fields) if code == "unknown_field" else told


def _why(code: str, name: str, fields: Mapping[str, Any]) -> str:
    if code == "named_twice":
        return "is named twice"
    if code == "missing":
        return f"is required: {fields[name].wanted}"
    separated = next((words for mark, words in _OTHER_SEPARATORS.items() if mark in name), None)
    if separated is not None:
        return f"is not known here; columns are separated by commas, not by {separated}"
    others = hint(name, fields, otherwise=f"columns are {', '.join(fields)}")
    return f"is not known here{others}"
