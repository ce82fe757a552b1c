"""Cells of a table as columns: those of numbers as JSON writes numbers, of days as YYYY-MM-DD, everything else as text."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from platemargin_api.csv_reader import JSON_NUMBER
from platemargin_api.fields import Day, Flag, Integer, Number

__all__ = ["bad_cells", "typed"]

#: Whole numbers beyond are not exact as numbers of JSON.
_EXACT = 2**53


def _numbers(cells: Any) -> Any:
    numbers = pc.cast(_where(pc.match_substring_regex(cells, f"^(?:{JSON_NUMBER})$"), cells), pa.float64())
    return _where(pc.is_finite(numbers), numbers)


def _whole(cells: Any) -> Any:
    numbers = _numbers(cells)
    exact = pc.and_(pc.equal(pc.floor(numbers), numbers), pc.less(pc.abs(numbers), _EXACT))
    return pc.cast(_where(exact, numbers), pa.int64())


def _days(cells: Any) -> Any:
    formed = _where(pc.match_substring_regex(cells, "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"), cells)
    days = pc.strptime(formed, "%Y-%m-%d", "s", error_is_null=True)
    # A day that no calendar has may be read as one of the next month.
    return pc.cast(_where(pc.equal(pc.strftime(days, "%Y-%m-%d"), formed), days), pa.date32())


def _flags(cells: Any) -> Any:
    return _where(pc.or_(pc.equal(cells, "true"), pc.equal(cells, "false")), pc.equal(cells, "true"))


#: What a column of one kind of member becomes: null where the cell is no such value.
_KINDS: Mapping[type, Callable[[Any], Any]] = {Number: _numbers, Integer: _whole, Day: _days, Flag: _flags}


def typed(names: Sequence[str], rows: Sequence[Sequence[str]], members: Mapping[str, Any]) -> Any:
    """Return rows of cells as a record batch; an empty cell is null, as is one that its column does not take."""
    columns = zip(*rows, strict=True) if rows else ([] for _ in names)
    arrays = []
    for name, column in zip(names, columns, strict=True):
        kind = _KINDS.get(type(members.get(name)))
        cells = _cells(column)
        arrays.append(cells if kind is None else kind(cells))
    return pa.RecordBatch.from_arrays(arrays, list(names))


def bad_cells(batch: Any, names: Sequence[str], rows: Sequence[Sequence[str]], members: Mapping[str, Any]) -> dict[int, str]:
    """Return why rows are refused, by place: a cell that is not empty has become null, because its column does not take it."""
    bad: dict[int, list[str]] = {}
    for place, name in enumerate(names):
        member: Any = members.get(name)
        if type(member) in _KINDS and batch.column(place).null_count:
            for row in pc.indices_nonzero(batch.column(place).is_null()).to_pylist():
                if cell := rows[row][place]:
                    bad.setdefault(row, []).append(f"{name}: {member.not_of_type(cell).messages[0].detail}")
    return {row: f"invalid-request: {'; '.join(faults)}" for row, faults in bad.items()}


def _cells(column: Sequence[str]) -> Any:
    cells = pa.array(column, pa.string())
    return _where(pc.not_equal(cells, ""), cells)


def _where(holds: Any, values: Any) -> Any:
    return pc.if_else(pc.fill_null(holds, False), values, pa.scalar(None, values.type))  # noqa: FBT003  a value, no flag
