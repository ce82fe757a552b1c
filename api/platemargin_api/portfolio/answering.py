"""A block of an input as answers and rejects."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any, NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from platemargin_api.answer import LABEL
from platemargin_api.arrow.batches import answer_batch
from platemargin_api.portfolio.columns import ASSUMED, ERROR, HULL, ROW, Asked, assumable, columns_of
from platemargin_api.portfolio.lists import names_where
from platemargin_api.portfolio.refused import InputError
from platemargin_api.portfolio.sources import Block
from platemargin_api.problems import ProblemError
from platemargin_api.registry import Registry, Served, load_registry

__all__ = ["Answered", "Answering", "Reject", "fields_by_column", "registry", "served_by"]

_NO_HULL = "the row names no hull"


class Reject(NamedTuple):
    """A row that is not answered; hull and label are not known of one that cannot be read."""

    row: int
    hull: str | None
    id: str | None
    reason: str


class Answered(NamedTuple):
    """What became of the rows of a block: each is in one of the two."""

    #: Row, hull, what is carried along, label, result, findings, and what was assumed.
    answers: Any
    rejects: Sequence[Reject]


@cache
def registry() -> Registry:
    """Return what is installed, loaded once in each process."""
    return load_registry()


def served_by(asked: Asked) -> Served:
    """Return the calculation that is asked for."""
    return registry().calculations[asked.calculation]


def fields_by_column(asked: Asked, names: Sequence[str]) -> Mapping[str, Any]:
    """Return the members of the request that an input's columns hold, by column; raise as `columns_of` does."""
    served = served_by(asked)
    return {name: served.request.fields[member] for member, name in columns_of(served, asked, names).members.items()}


class Answering:
    """Answers the blocks of inputs of one schema.

    Raises
    ------
    InputError
        Telling the columns that are not as the calculation or the command needs them.
    """

    def __init__(self, asked: Asked, schema: Any) -> None:
        self._served = served_by(asked)
        self._columns = columns_of(self._served, asked, schema.names)
        if self._columns.hull is not None:
            _refuse_hulls_of(schema.field(self._columns.hull))
        nothing = pa.RecordBatch.from_arrays([pa.array([], kind) for kind in schema.types], schema=schema)
        #: Of the answers.
        self.schema = self(Block(nothing, pa.array([], pa.int64()))).answers.schema

    def __call__(self, block: Block) -> Answered:
        """Answer the rows of a block."""
        told = self._told(block)
        good = pc.is_null(told[ERROR])
        lost = [Reject(row, None, None, reason) for row, reason in block.lost]
        rejects = sorted([*lost, *_rejects(told.filter(pc.invert(good)))], key=lambda reject: reject[0])
        return Answered(told.filter(good).drop_columns([ERROR]), rejects)

    def _told(self, block: Block) -> Any:
        members = self._columns.members
        requests = pa.RecordBatch.from_arrays([block.batch[name] for name in members.values()], names=list(members))
        try:
            answered = answer_batch(self._served, registry(), requests)
        except ProblemError as error:
            raise InputError(error.detail) from None
        hulls = {} if self._columns.hull is None else {HULL: _hulls(block.batch[self._columns.hull])}
        columns = {
            ROW: block.rows,
            **hulls,
            **{name: block.batch[name] for name in self._columns.keep},
            **dict(zip(answered.schema.names, answered.columns, strict=True)),
            ASSUMED: _assumed(requests, assumable(self._served)),
            ERROR: _errors(answered[ERROR], block.bad, hulls.get(HULL)),
        }
        return pa.RecordBatch.from_arrays(list(columns.values()), names=list(columns))


def _assumed(requests: Any, members: Sequence[str]) -> Any:
    """Return for each request the members of some that it does not state."""
    count, stated = requests.num_rows, set(requests.schema.names)
    every = np.ones(count, dtype=bool)
    absent = [requests[name].is_null().to_numpy(zero_copy_only=False) if name in stated else every for name in members]
    return names_where(members, absent, count)


def _refuse_hulls_of(field: Any) -> None:
    kind = field.type.value_type if pa.types.is_dictionary(field.type) else field.type
    if not any(is_such(kind) for is_such in (pa.types.is_string, pa.types.is_large_string, pa.types.is_integer)):
        raise InputError(f"the column {field.name!r} cannot name hulls: it holds {field.type}, not text or whole numbers")


def _hulls(column: Any) -> Any:
    """Return the names of hulls as text; one of nothing but spaces is none."""
    kind = column.type
    named = pc.cast(column, kind.value_type) if pa.types.is_dictionary(kind) else column
    text = pc.cast(named, pa.string())
    return pc.if_else(pc.equal(pc.utf8_trim_whitespace(text), ""), pa.scalar(None, pa.string()), text)


def _errors(answered: Any, bad: Mapping[int, str], hulls: Any) -> Any:
    """Return why each row is rejected: it names no hull, its cells are not what they should be, it is not answered."""
    errors = pc.cast(answered, pa.string())
    if bad:
        errors = pc.coalesce(pa.array([bad.get(row) for row in range(len(errors))], pa.string()), errors)
    return errors if hulls is None else pc.if_else(pc.is_null(hulls), _NO_HULL, errors)


def _rejects(rejected: Any) -> list[Reject]:
    names = rejected.schema.names
    columns = [
        rejected[name].to_pylist() if name in names else [None] * rejected.num_rows for name in (ROW, HULL, LABEL, ERROR)
    ]
    return list(map(Reject, *columns))
