"""The columns of a record batch as the arguments of an elementwise calculation, and which of its rows have to be looked at.

Bounds, names and defaults are those that the request schema declares. A row that a column's check does not take is read by
the schema alone, as one that came by itself would be, which words what is wrong with it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias

import marshmallow as ma
import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from platemargin.quantities import Array, rounded, to_decimals
from platemargin_api.answer import LABEL
from platemargin_api.csv_reader import hold_header
from platemargin_api.fields import Between, Choice, Day, Flag, Integer, Number
from platemargin_api.problems import ProblemError, pointer
from platemargin_api.registry import Served

__all__ = ["Mask", "Requests", "hold_columns", "requests_of"]

Mask: TypeAlias = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Requests:
    """The rows of a batch as columns for `run`.

    `doubtful` are rows that the schema has to read; `absent` says for each member where it is not stated.
    """

    count: int
    columns: dict[str, Array]
    doubtful: Mask
    absent: Mapping[str, Mask]


@dataclass(frozen=True)
class _Read:
    values: Array
    doubtful: Mask | None = None


def hold_columns(served: Served, schema: Any) -> None:
    """Refuse columns that are no members of the request, are there twice, are missing, or of a type that says something else.

    Raises
    ------
    ProblemError
        invalid-request, naming each.
    """
    hold_header(schema.names, served.request.fields)
    faults = [
        {
            "code": "wrong_type",
            "detail": f"the column {column.name!r} holds {column.type}, not {needed}",
            "pointer": pointer([column.name]),
        }
        for column in schema
        if not _fits(_plain(column.type), needed := _NEEDED[_kind(served.request.fields[column.name])])
    ]
    if faults:
        raise ProblemError("invalid-request", f"The schema: {faults[0]['detail']}", faults)


def requests_of(served: Served, batch: Any) -> Requests:
    """Return the rows of a batch whose columns are held."""
    count = batch.num_rows
    doubtful = np.full(count, served.read is None)
    columns: dict[str, Array] = {}
    absent: dict[str, Mask] = {}
    for name, field in served.request.fields.items():
        column = batch[name] if name in batch.schema.names else None
        if name == LABEL:
            doubtful |= _doubtful_labels(field, column, count)
            continue
        absent[name] = _nulls(column, count)
        read = _read(field, column, absent[name], count)
        columns[name] = read.values
        if field.required:
            doubtful |= absent[name]
        if read.doubtful is not None and read.doubtful.any():
            doubtful |= read.doubtful & ~absent[name]
    return Requests(count, columns, doubtful, absent)


def _nulls(column: Any, count: int) -> Mask:
    if column is None or not column.null_count:
        return np.full(count, column is None)
    mask: Mask = pc.is_null(column).to_numpy(zero_copy_only=False)
    return mask


def _read(field: Any, column: Any, absent: Mask, count: int) -> _Read:
    """Return the values of a column, its default where they are absent."""
    default = None if field.load_default is ma.missing else field.load_default
    if column is None or column.null_count == count:
        # One value for all rows, read-only as the batch's own memory is.
        return _Read(np.broadcast_to(field.column([default]), (count,)))
    read = _READ[_kind(field)](field, column)
    if not column.null_count:
        return read
    return _Read(np.where(absent, field.column([default])[0], read.values), read.doubtful)


def _kind(field: Any) -> type:
    """Return the class of field that a member is read as."""
    return next((kind for kind in _READ if isinstance(field, kind)), ma.fields.String)


def _numbers(field: Any, column: Any) -> _Read:
    single = pa.types.is_float32(column.type) or pa.types.is_float16(column.type)
    values = _numpy(column.cast(pa.float64()))
    if single:
        # What was written with few figures comes back with them: 9.8 is no 9.800000190734863.
        values = rounded(values, str(field.unit)) if field.decimals is None else to_decimals(values, field.decimals)
    return _Read(values + 0.0, _outside(field, values))


def _wholes(field: Any, column: Any) -> _Read:
    if pa.types.is_integer(column.type):
        values = _numpy(pc.fill_null(column, 0).cast(pa.int64(), safe=False))
        lost = pa.types.is_uint64(column.type) and bool((values < 0).any())
        return _Read(values, np.ones(len(values), dtype=bool) if lost else _outside(field, values))
    numbers = _numpy(column.cast(pa.float64()))
    finite = np.isfinite(numbers)
    values = np.where(finite & (np.abs(numbers) < 2**53), numbers, 0).astype(np.int64)
    return _Read(values, _outside(field, values) | (values != numbers))


def _flags(_field: Any, column: Any) -> _Read:
    return _Read(_numpy(column.cast(pa.uint8()).cast(pa.float64())))


def _choices(field: Any, column: Any) -> _Read:
    encoded = column if pa.types.is_dictionary(column.type) else pc.dictionary_encode(column)
    names = encoded.dictionary.to_pylist()
    known = [field.names.index(name) if name in field.names else -2 for name in names]
    places = np.array([*known, -1], dtype=np.int64)[_numpy(pc.fill_null(encoded.indices.cast(pa.int64()), len(names)))]
    return _Read(places, places == -2)  # noqa: PLR2004  a name that is none


def _days(_field: Any, column: Any) -> _Read:
    if not pa.types.is_date(column.type):
        # Text, which the schema reads as it does everywhere.
        return _Read(np.full(len(column), np.datetime64("NaT", "D")), np.ones(len(column), dtype=bool))
    days = column.cast(pa.date32()).cast(pa.int32()).to_numpy(zero_copy_only=False)
    return _Read(np.where(np.isfinite(days), days, 0).astype("datetime64[D]"))


_READ: dict[type, Callable[[Any, Any], _Read]] = {
    Number: _numbers,
    Integer: _wholes,
    Flag: _flags,
    Choice: _choices,
    Day: _days,
}
_NEEDED = {
    Number: "numbers",
    Integer: "whole numbers",
    Flag: "true and false",
    Choice: "text",
    Day: "days (date32)",
    ma.fields.String: "text",
}


def _fits(kind: Any, needed: str) -> bool:
    if pa.types.is_null(kind):
        return True
    if needed in ("numbers", "whole numbers"):
        return bool(pa.types.is_floating(kind) or pa.types.is_integer(kind) or pa.types.is_decimal(kind))
    return bool(
        {
            "true and false": pa.types.is_boolean,
            "text": lambda one: pa.types.is_string(one) or pa.types.is_large_string(one) or pa.types.is_string_view(one),
            "days (date32)": lambda one: pa.types.is_date(one) or _fits(one, "text"),
        }[needed](kind)
    )


def _plain(kind: Any) -> Any:
    """Return the type of what a column says: that of a dictionary's values where it has one."""
    return kind.value_type if pa.types.is_dictionary(kind) else kind


def _doubtful_labels(field: Any, column: Any, count: int) -> Mask:
    if column is None or column.null_count == count:
        return np.zeros(count, dtype=bool)
    lengths = pc.utf8_length(column.cast(pa.string()) if pa.types.is_dictionary(column.type) else column)
    lengths = _numpy(pc.fill_null(lengths, 1))
    (length,) = field.validators
    mask: Mask = (lengths < length.min) | (lengths > length.max)
    return mask


def _outside(field: Any, values: Array) -> Mask:
    """Return where values are out of bounds; NaN is."""
    outside: Mask = np.zeros(len(values), dtype=bool)
    for between in field.validators:
        low, high = (between.min, between.max) if isinstance(between, Between) else (np.inf, -np.inf)
        if len(values) and not (values.min() >= low and values.max() <= high):
            outside |= ~((values >= low) & (values <= high))
    return outside


def _numpy(column: Any) -> Array:
    """Return a column's values; what is null may be anything."""
    return np.array(column.to_numpy(zero_copy_only=False), copy=column.null_count > 0)
