"""The results of rows as the columns of a record batch; of a row that is not answered they are null."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyarrow as pa

from platemargin.declared import Arguments
from platemargin.quantities import Array
from platemargin_api.arrow.columns import Mask
from platemargin_api.called import Called
from platemargin_api.csv_writer import result_columns
from platemargin_api.fields import Choice, Day, Flag, Integer, Number, Object
from platemargin_api.registry import Served

__all__ = ["CODES", "ERROR", "Computed", "codes_of", "computed", "result_arrays"]

#: The columns beside a result's: what is found of a row, and why it is not answered.
CODES, ERROR = "finding_codes", "error"
_NO_DAY = np.datetime64("NaT", "D")


@dataclass(frozen=True)
class Computed:
    """What one call of the calculation gave: for which rows, what, as columns, and what was found."""

    rows: Array
    called: Called
    columns: Mapping[str, Array]
    found: Sequence[Mask]


def computed(served: Served, rows: Array, arguments: Arguments) -> Computed:
    """Make one call for some rows.

    Raises
    ------
    NotApplicableError
        For rows whose members do not go together.
    FloatingPointError
        For a number of a result that is not finite and may not be null.
    """
    result, count = served.run(arguments), len(rows)
    told = {name: _held(_leaf(served, path), _at(result, path), count) for name, path in result_columns(served).items()}
    called = Called(served.offered, arguments, result)
    return Computed(rows, called, told, [np.broadcast_to(where, (count,)) for _, where in called.findings()])


def _leaf(served: Served, path: Sequence[Any]) -> Any:
    name, *rest = path
    field: Any = served.response.fields[name]
    for part in rest:
        field = field.schema.fields[part] if isinstance(field, Object) else field.inner
    return field


def _at(result: Any, path: Sequence[Any]) -> Any:
    for part in path:
        result = result[part] if isinstance(part, int) else getattr(result, part)
    return result


def _held(field: Any, value: Any, count: int) -> Array:
    """Return a column of a result, one value a row; a number that has to be there is finite."""
    column = np.broadcast_to(np.asarray(value), (count,))
    if isinstance(field, Number):
        column = column.astype(np.float64, copy=False)
        finite = np.isfinite(column)
        if not finite.all() and (not field.nullable or np.isinf(column).any()):
            raise FloatingPointError(f"{field.name} has no finite value")
    if isinstance(field, Choice) and column.dtype.kind != "i":
        places = {name: place for place, name in enumerate(field.names)}
        return np.array([places.get(name, -1) for name in column.tolist()], dtype=np.int64)
    return column.astype(np.float64) if isinstance(field, Flag) else column


def result_arrays(served: Served, parts: Sequence[Computed], count: int, *, single: bool) -> dict[str, Any]:
    """Return the columns of a result; numbers are of single precision where those that were sent are."""
    arrays = {}
    for name, path in result_columns(served).items():
        field = _leaf(served, path)
        values, missing = _together(field, [(part.rows, part.columns[name]) for part in parts], count)
        arrays[name] = _array(field, values, missing, single=single)
    return arrays


def _together(field: Any, parts: Sequence[tuple[Array, Array]], count: int) -> tuple[Array, Mask | None]:
    """Return a column of all rows, and where it has no value for want of an answer; as it is, where one call answered all."""
    if len(parts) == 1 and len(parts[0][0]) == count:
        return parts[0][1], None
    missing = np.ones(count, dtype=bool)
    values = np.full(count, *_filling(field))
    for rows, column in parts:
        values[rows], missing[rows] = column, False
    return values, missing


def _filling(field: Any) -> tuple[Any, Any]:
    """Return what stands for no value, and the type of the column."""
    if isinstance(field, (Number, Flag)):
        return np.nan, np.float64
    if isinstance(field, Choice):
        return -1, np.int64
    if isinstance(field, Integer):
        return 0, np.int64
    return (_NO_DAY, "datetime64[D]") if isinstance(field, Day) else (None, object)


def _array(field: Any, values: Array, missing: Mask | None, *, single: bool) -> Any:
    if isinstance(field, Number):
        # A number that has to be there is finite, which was looked at when it came.
        valid = ~np.isnan(values) if field.nullable or missing is not None else None
        return _over(pa.float32() if single else pa.float64(), values, valid)
    if isinstance(field, Flag):
        return pa.array(values == 1, mask=np.isnan(values))
    if isinstance(field, Choice):
        places = _over(pa.int8() if len(field.names) < 128 else pa.int32(), values, values >= 0)  # noqa: PLR2004
        return pa.DictionaryArray.from_arrays(places, pa.array(field.names, pa.string()))
    if isinstance(field, Day):
        days = values.astype("datetime64[D]")
        return _over(pa.date32(), days.astype(np.int64), ~np.isnat(days))
    if isinstance(field, Integer):
        return _over(pa.int64(), values.astype(np.int64), None if missing is None else ~missing)
    return pa.array([None if value is None or value == "" else str(value) for value in values.tolist()], pa.string())


def _over(kind: Any, values: Array, valid: Mask | None) -> Any:
    """Return an array of a type, over a column's own memory where that is of the type."""
    # pyarrow makes the bits of a mask one by one, in ten times the time.
    held = values.astype(np.int32 if pa.types.is_date(kind) else kind.to_pandas_dtype(), copy=False)
    bits = None if valid is None or valid.all() else pa.py_buffer(np.packbits(valid, bitorder="little"))
    return pa.Array.from_buffers(kind, len(held), [bits, pa.py_buffer(np.ascontiguousarray(held))])


def codes_of(served: Served, parts: Sequence[Computed], count: int) -> Any:
    """Return the codes of what is found of each row, in the order in which they are declared; null where it has no answer."""
    answered = np.zeros(count, dtype=bool)
    rows: list[Array] = [np.zeros(0, np.int64)]
    places: list[Array] = [np.zeros(0, np.int64)]
    for part in parts:
        answered[part.rows] = True
        for place, where in enumerate(part.found):
            found = part.rows[np.flatnonzero(where)]
            if len(found):
                rows.append(found)
                places.append(np.full(len(found), place))
    row, which = np.concatenate(rows), np.concatenate(places)
    # They are in the order of the findings, and are told row by row; the sort keeps that order within a row.
    in_order = np.argsort(row, kind="stable")
    ends = np.concatenate([[0], np.cumsum(np.bincount(row, minlength=count))])
    codes = pa.array([finding.code for finding in served.offered.findings], pa.string()).take(pa.array(which[in_order]))
    nulls = None if answered.all() else pa.array(~answered)
    return pa.ListArray.from_arrays(pa.array(ends, pa.int32()), codes, mask=nulls)
