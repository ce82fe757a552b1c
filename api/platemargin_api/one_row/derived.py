"""From a calculation of columns to the same for one row: its function, and what it finds and takes instead, in one go."""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeAlias

import marshmallow as ma
import numpy as np

from platemargin.quantities import Array
from platemargin_api.calculation import Calculation
from platemargin_api.called import Called
from platemargin_api.one_row.recorded import Recording
from platemargin_api.one_row.source import Source

__all__ = ["OneRow", "one_row"]

#: From a request to its result, with a plain value in the place of each column; whether each finding applies; and whether
#: each assumption is made, with its value. None where the row has to be a column.
OneRow: TypeAlias = Callable[[Mapping[str, Any]], tuple[Any, Sequence[bool], Sequence[tuple[bool, Any]]] | None]

_log = logging.getLogger(__name__)


def one_row(calculation: Calculation, schema: ma.Schema, fields: Mapping[str, Any]) -> OneRow | None:
    """Return an elementwise calculation for one row; None where none can be derived: its columns are as right.

    A row has to be a column where something decides otherwise than it does with the calculation's example (mostly a fault),
    and where Python's arithmetic raises.
    """
    try:
        example = schema.load(dict(calculation.example))
        compute = _compiled(calculation, {name: field.column([example.get(name)]) for name, field in fields.items()})
        row = _of_requests(compute, fields)
        row(example)
    except Exception as error:  # noqa: BLE001  whatever a plug-in does that is not known here
        _log.info("%s has no way of its own for one row: %s", calculation.id, error)
        return None
    return row


def _of_requests(compute: Callable[..., Any], fields: Mapping[str, Any]) -> OneRow:
    plain = [(name, field.plain) for name, field in fields.items()]

    def row(request: Mapping[str, Any]) -> Any:
        sent = request.get
        try:
            with np.errstate(all="ignore"):
                return compute(*[made(sent(name)) for name, made in plain])
        except (ArithmeticError, ValueError, LookupError):
            return None

    return row


def _compiled(calculation: Calculation, example: Mapping[str, Array]) -> Callable[..., Any]:
    recording = Recording()
    arguments = {name: recording.argument(name, column) for name, column in example.items()}
    with np.errstate(all="ignore"):
        called = Called(calculation, arguments, calculation.run(**arguments))
        found = [where for _, where in called.findings()]
        taken = [(called.made(place), called.value(place)) for place in range(len(calculation.assumed))]
    source = Source(example)
    source.conditions(recording.steps)
    return source.function(source.told((called.result, found, taken)))
