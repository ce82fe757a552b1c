"""The same answers inside an engine of one's own that maps a function over Arrow record batches, such as Spark's mapInArrow."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from platemargin_api.arrow.batches import answer_batch
from platemargin_api.portfolio.answering import registry

__all__ = ["answer_batches", "answer_schema"]


def answer_batches(calculation: str, batches: Iterable[Any], keep: Sequence[str] = ()) -> Iterator[Any]:
    """Yield the answers to batches whose columns are members of the request, and others that are carried along in front.

    Every row has one: where `error` is not null it is refused, and its result is null.
    """
    served = registry().calculations[calculation]
    for batch in batches:
        answered = answer_batch(served, registry(), batch.drop_columns(list(keep)))
        kept = [batch[name] for name in keep]
        columns = [*kept, *map(_plain, answered.columns)]
        yield pa.RecordBatch.from_arrays(columns, names=[*keep, *answered.schema.names])


def answer_schema(calculation: str, schema: Any, keep: Sequence[str] = ()) -> Any:
    """Return the schema of the answers to batches of a schema, for an engine that asks for it before it begins."""
    nothing = pa.RecordBatch.from_arrays([pa.array([], kind) for kind in schema.types], schema=schema)
    return next(answer_batches(calculation, [nothing], keep)).schema


def _plain(column: Any) -> Any:
    """Return a column without a dictionary, which not every engine takes from a function of its caller's."""
    return pc.cast(column, column.type.value_type) if pa.types.is_dictionary(column.type) else column
