"""A record batch of requests as one of answers, row by row."""

from __future__ import annotations

from typing import Any

import orjson
import pyarrow as pa

from platemargin_api.answer import LABEL
from platemargin_api.csv_writer import told_in_a_cell
from platemargin_api.fields import Choice, Day, Flag, Integer, Number
from platemargin_api.problems import ProblemError
from platemargin_api.registry import Registry, Served
from platemargin_api.rows import Rows
from platemargin_api.tally import Tally

_TYPES = {Number: pa.float64(), Integer: pa.int64(), Flag: pa.bool_(), Choice: pa.string(), Day: pa.date32()}


def answer_batch(served: Served, registry: Registry, batch: Any) -> Any:
    rows = Rows(served, registry, Tally())
    parts = [_part(served, rows, batch.slice(start, 1024)) for start in range(0, max(batch.num_rows, 1), 1024)]
    return pa.Table.from_batches(parts).combine_chunks().to_batches()[0] if batch.num_rows else parts[0]


def _part(served: Served, rows: Rows, batch: Any) -> Any:
    asked = [
        (
            place,
            orjson.dumps({n: v for n, v in row.items() if v is not None})
            if not any(v != v for v in row.values())
            else ProblemError("invalid-request", "NaN"),
        )
        for place, row in enumerate(batch.to_pylist())
    ]
    records = rows.records(asked)
    columns, names = [], []
    if LABEL in batch.schema.names:
        columns.append(batch[LABEL])
        names.append(LABEL)
    for name, field in served.response.fields.items():
        if type(field) not in _TYPES:
            continue
        values = [record["result"][name] if "result" in record else None for record in records]
        if isinstance(field, Day):
            import datetime

            values = [None if v is None else datetime.date.fromisoformat(v) for v in values]
        columns.append(pa.array(values, _TYPES[type(field)]))
        names.append(name)
    columns.append(
        pa.array(
            [[f["code"] for f in record["findings"]] if "result" in record else None for record in records],
            pa.list_(pa.string()),
        )
    )
    columns.append(
        pa.array([told_in_a_cell(record["problem"]) if "problem" in record else None for record in records], pa.string())
    )
    return pa.RecordBatch.from_arrays(columns, names=[*names, "finding_codes", "error"])
