"""A record batch of requests as one of answers: each row is answered or refused by itself, as in every medium of many rows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import orjson
import pyarrow as pa

from platemargin.errors import NotApplicableError
from platemargin.quantities import Array
from platemargin_api.answer import LABEL, columns_of, failed, load, without_row
from platemargin_api.arrow.columns import Requests, hold_columns, requests_of
from platemargin_api.arrow.results import CODES, ERROR, Computed, codes_of, computed, result_arrays
from platemargin_api.assumed import Assumed, taken_instead
from platemargin_api.csv_writer import told_in_a_cell
from platemargin_api.fields import Number
from platemargin_api.problems import ProblemError, not_applicable, pointer
from platemargin_api.registry import Registry, Served
from platemargin_api.rows import MOST_REFUSALS, refusals_of
from platemargin_api.tally import Tally

__all__ = ["ROWS_TOGETHER", "Answering", "answer_batch"]

#: What is computed in one call: with half as many numpy's fixed costs are felt, and twice as many take 70 MB more.
ROWS_TOGETHER = 32_768


@dataclass(frozen=True)
class Answering:
    """Answers record batches of one schema, counted in a tally.

    Raises
    ------
    ProblemError
        invalid-request, for a schema whose columns are not the request's.
    """

    served: Served
    registry: Registry
    sent: Any
    tally: Tally = field(default_factory=Tally)

    def __post_init__(self) -> None:
        hold_columns(self.served, self.sent)

    @property
    def single(self) -> bool:
        """Whether numbers are answered in single precision: where every number that is sent is."""
        fields = self.served.request.fields
        kinds = [column.type for column in self.sent if isinstance(fields[column.name], Number)]
        return bool(kinds) and all(pa.types.is_float32(kind) or pa.types.is_float16(kind) for kind in kinds)

    @property
    def schema(self) -> Any:
        """The schema of the answers."""
        nothing = pa.RecordBatch.from_arrays([pa.array([], kind) for kind in self.sent.types], schema=self.sent)
        return Answering(self.served, self.registry, self.sent).answered(nothing).schema

    def batches(self, batch: Any) -> Iterator[Any]:
        """Yield the answers to a batch, a block at a time."""
        for start in range(0, batch.num_rows, ROWS_TOGETHER):
            yield self.answered(batch.slice(start, ROWS_TOGETHER))

    def answered(self, batch: Any) -> Any:
        """Return the answers to rows: label, result, `finding_codes`, and `error` where there is no answer."""
        batch = _without_views(batch)
        requests, errors = requests_of(self.served, batch), dict[int, str]()
        self._look_at(batch, requests, errors)
        rows = np.arange(requests.count)
        if errors:
            rows = np.delete(rows, list(errors))
        parts = list(self._computed(requests, rows, errors)) if len(rows) or not requests.count else []
        self._count(requests, parts, len(errors))
        return self._told(batch, parts, errors)

    def _look_at(self, batch: Any, requests: Requests, errors: dict[int, str]) -> None:
        """Have the schema read the rows that a column's check did not take; what it takes is taken."""
        for row in np.flatnonzero(requests.doubtful).tolist():
            try:
                request = load(self.served, self.registry, self._body(batch, requests, row)).request
            except Exception as error:  # noqa: BLE001  one row fails alone
                errors[row] = self._worded(error)
                continue
            for name, column in columns_of(self.served, [request]).items():
                if not requests.columns[name].flags.writeable:  # it is the batch's own memory, or one value for all rows
                    requests.columns[name] = requests.columns[name].copy()
                requests.columns[name][row] = column[0]

    def _body(self, batch: Any, requests: Requests, row: int) -> bytes:
        """Return a row as a request by itself."""
        told = ((name, batch[name][row].as_py()) for name in batch.schema.names)
        return orjson.dumps({name: self._member(name, value, requests, row) for name, value in told if value is not None})

    def _member(self, name: str, value: Any, requests: Requests, row: int) -> Any:
        if not isinstance(self.served.request.fields[name], Number):
            return value
        number = float(requests.columns[name][row])
        if np.isfinite(number):
            return number
        detail = "must be a finite number; null is absence"
        raise ProblemError("invalid-request", detail, [{"code": "wrong_type", "detail": detail, "pointer": pointer([name])}])

    def _computed(self, requests: Requests, rows: Array, errors: dict[int, str], refusals: int = 0) -> Iterator[Computed]:
        """Yield what calls gave: one call without the rows that it refuses; where it fails, in halves."""
        whole = len(rows) == requests.count
        arguments = requests.columns if whole else {name: column[rows] for name, column in requests.columns.items()}
        try:
            yield computed(self.served, rows, arguments)
        except (Exception, SystemExit) as error:  # noqa: BLE001  a row fails alone
            broken = refusals_of(error, len(rows)) if refusals < MOST_REFUSALS else {}
            if broken or len(rows) == 1:
                told: dict[int, BaseException] = {**broken} or {0: error}
                errors.update({int(rows[at]): self._worded(one) for at, one in told.items()})
                rest, refusals = [np.delete(rows, list(told))], refusals + 1
            else:
                rest = np.array_split(rows, 2)
            for some in rest:
                if len(some):
                    yield from self._computed(requests, some, errors, refusals)

    def _worded(self, error: BaseException) -> str:
        if isinstance(error, NotApplicableError):
            error = not_applicable(without_row(error))
        problem = error if isinstance(error, ProblemError) else failed(self.served)
        return told_in_a_cell(problem.document())

    def _count(self, requests: Requests, parts: list[Computed], refused: int) -> None:
        self.tally.refused += refused
        for part in parts:
            self.tally.count(len(part.rows), self._assumed(requests, part))

    def _assumed(self, requests: Requests, part: Computed) -> Iterator[Assumed]:
        for told in self.served.defaults({}):
            mask = requests.absent[told["field"]]
            absent = int(np.count_nonzero(mask if len(part.rows) == requests.count else mask[part.rows]))
            if absent:
                yield told, absent
        yield from taken_instead(part.called, len(part.rows))

    def _told(self, batch: Any, parts: list[Computed], errors: dict[int, str]) -> Any:
        count = batch.num_rows
        told = pa.nulls(count, pa.string())
        if errors:
            told = pa.array([errors.get(row) for row in range(count)], pa.string())
        arrays = {
            **({LABEL: batch[LABEL]} if LABEL in batch.schema.names else {}),
            **result_arrays(self.served, parts, count, single=self.single),
            CODES: codes_of(self.served, parts, count),
            ERROR: told,
        }
        return pa.RecordBatch.from_arrays(list(arrays.values()), names=list(arrays))


def answer_batch(served: Served, registry: Registry, batch: Any) -> Any:
    """Return the answers to a batch as one; raise as `Answering` does."""
    answering = Answering(served, registry, batch.schema)
    blocks = list(answering.batches(batch)) or [answering.answered(batch)]
    return pa.concat_batches(blocks)


def _without_views(batch: Any) -> Any:
    """Return a batch whose text is in one piece: not everything is done of views."""
    arrays = [column.cast(pa.string()) if pa.types.is_string_view(column.type) else column for column in batch.columns]
    return pa.RecordBatch.from_arrays(arrays, names=batch.schema.names)
