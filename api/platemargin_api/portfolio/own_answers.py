"""A record batch of requests as one of answers: rows as JSON lines have them, in columns."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import numpy as np
import orjson
import pyarrow as pa
import pyarrow.compute as pc

from platemargin_api.answer import LABEL
from platemargin_api.csv_writer import result_columns, told_in_a_cell
from platemargin_api.fields import Choice, Day, Flag, Integer, Number, Object, Text
from platemargin_api.problems import ProblemError
from platemargin_api.registry import Registry, Served
from platemargin_api.rows import Record, Rows, Sent
from platemargin_api.tally import Tally

__all__ = ["answer_batch"]

#: By kind of member, what its column may hold, and what it is read as. Nothing is guessed: text is no number, a time no day.
_NUMBERS = (pa.types.is_integer, pa.types.is_floating, pa.types.is_decimal)
_TEXTS = (pa.types.is_string, pa.types.is_large_string, pa.types.is_string_view)
_HELD = {
    Number: _NUMBERS,
    Integer: _NUMBERS,
    Flag: (pa.types.is_boolean,),
    Choice: _TEXTS,
    Text: _TEXTS,
    Day: (pa.types.is_date,),
}
_TYPES = {
    Number: pa.float64(),
    Integer: pa.int64(),
    Flag: pa.bool_(),
    Choice: pa.string(),
    Text: pa.string(),
    Day: pa.date32(),
}
#: Rows that are computed together.
_TOGETHER = 1024


def answer_batch(served: Served, registry: Registry, batch: Any) -> Any:
    """Return the answers to requests: label, result, `finding_codes`, and `error` where there is no answer.

    Raises
    ------
    ProblemError
        For a column of a type that its member cannot be.
    """
    columns = {name: _column(served, name, batch[name]) for name in batch.schema.names}
    requests = pa.RecordBatch.from_arrays(list(columns.values()), names=list(columns))
    rows = Rows(served, registry, Tally())
    starts = range(0, max(batch.num_rows, 1), _TOGETHER)
    parts = [_answered(served, rows.records(_sent(requests.slice(start, _TOGETHER)))) for start in starts]
    answered = pa.concat_batches(parts)
    label = {LABEL: columns[LABEL]} if LABEL in columns else {}
    return pa.RecordBatch.from_pydict({**label, **dict(zip(answered.schema.names, answered.columns, strict=True))})


def _column(served: Served, name: str, column: Any) -> Any:
    """Return a column as its member is read: a number of single precision is rounded to what its member is written with."""
    field: Any = served.request.fields[name]
    held = column.type.value_type if pa.types.is_dictionary(column.type) else column.type
    if not any(is_such(held) for is_such in (pa.types.is_null, *_HELD.get(type(field), ()))):
        raise ProblemError("invalid-request", f"the column {name!r} cannot be {column.type}")
    if isinstance(field, Number) and pa.types.is_float32(held) and field.decimals is not None:
        return pc.round(column.cast(pa.float64()), field.decimals)
    # A whole number with a fraction is refused in its row.
    return column.cast(pa.float64() if isinstance(field, Integer) and not pa.types.is_integer(held) else _TYPES[type(field)])


def _sent(requests: Any) -> list[Sent]:
    nan = [name for name in requests.schema.names if pa.types.is_floating(requests[name].type)]
    broken = np.zeros(requests.num_rows, dtype=bool)
    for name in nan:
        broken |= pc.fill_null(pc.invert(pc.is_finite(requests[name])), False).to_numpy(zero_copy_only=False)  # noqa: FBT003
    refused = ProblemError("invalid-request", "a number is not finite: null is absent")
    rows = zip(requests.to_pylist(), broken.tolist(), strict=True)
    return [(place, refused if bad else orjson.dumps(_stated(row))) for place, (row, bad) in enumerate(rows)]


def _stated(row: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in row.items() if value is not None}


def _answered(served: Served, records: Sequence[Record]) -> Any:
    columns: dict[str, Any] = {}
    for name, path in result_columns(served).items():
        field = _leaf(served.response.fields, path)
        values = [_at(record.get("result"), path) for record in records]
        days = isinstance(field, Day)
        columns[name] = pa.array(
            [value and date.fromisoformat(value) for value in values] if days else values, _TYPES[type(field)]
        )
    codes = [None if "problem" in record else [found["code"] for found in record["findings"]] for record in records]
    errors = [told_in_a_cell(record["problem"]) if "problem" in record else None for record in records]
    columns["finding_codes"] = pa.array(codes, pa.list_(pa.string()))
    columns["error"] = pa.array(errors, pa.string())
    return pa.RecordBatch.from_pydict(columns)


def _leaf(fields: Any, path: Sequence[Any]) -> Any:
    name, *rest = path
    field = fields[name]
    for part in rest:
        field = field.schema.fields[part] if isinstance(field, Object) else field.inner
    return field


def _at(value: Any, path: Sequence[str | int]) -> Any:
    for part in path:
        value = None if value is None else value[part]
    return value
