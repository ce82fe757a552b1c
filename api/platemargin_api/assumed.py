"""Everything that was assumed, for one call and for many rows: each default that was used, and each value taken instead."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, TypeAlias

import numpy as np

from platemargin.declared import Arguments, Assumption, as_declared
from platemargin_api.fields import RuleSets
from platemargin_api.findings import plain, rows_where
from platemargin_api.registry import Served

__all__ = ["Assumed", "assumed_of", "taken_instead"]

#: What an answer tells of one assumption, and of how many rows it holds.
Assumed: TypeAlias = tuple[dict[str, Any], int]


def assumed_of(served: Served, sent: Sequence[Mapping[str, Any]], arguments: Arguments, result: Any) -> Iterator[Assumed]:
    """Return what is assumed of the rows that were sent; a call of a calculation that is not elementwise is one."""
    yield from _defaults(served, sent)
    for field in served.rule_set_fields:
        yield from ((told, 1) for row in sent for told in _default_rule_sets(field, row))
    if served.offered.elementwise:
        yield from taken_instead(served, arguments, result, len(sent))
        return
    for assumption in served.offered.assumed:
        if assumption.when(arguments, result):
            yield _told(assumption, _of_call(assumption.value, arguments, result), arguments, result), 1


def taken_instead(served: Served, arguments: Arguments, result: Any, count: int) -> Iterator[Assumed]:
    """Return each value that an elementwise calculation took in so many rows where none was sent, no plain default."""
    for assumption in served.offered.assumed:
        yield from _of_rows(assumption, arguments, result, count)


def _defaults(served: Served, sent: Sequence[Mapping[str, Any]]) -> Iterator[Assumed]:
    """Tell every default that was used, with its rows: what is told of one is the same object for all of them."""
    counted: dict[int, tuple[dict[str, Any], int]] = {}
    for row in sent:
        for told in served.defaults(row):
            counted[id(told)] = (told, counted.get(id(told), (told, 0))[1] + 1)
    yield from counted.values()


def _default_rule_sets(field: RuleSets, sent: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    if sent.get(str(field.name)) is None:
        ids = field.ids(sent)
        basis = "the rule sets that apply where none is named" if ids else "rules were sent: no rule set is added to them"
        yield {"field": field.name, "value": ids, "unit": None, "basis": basis}


def _of_rows(assumption: Assumption, arguments: Arguments, result: Any, count: int) -> Iterator[Assumed]:
    """Tell each value that was taken, with its rows: those of one value are told once."""
    rows = rows_where(assumption.when(arguments, result), count)
    if not rows:
        return
    taken = np.broadcast_to(_of_call(assumption.value, arguments, result), (count,))[rows]
    # Mostly of one value, which numpy would sort, too.
    if len(rows) == 1 or (taken == taken[0]).all():
        yield _of_row(assumption, taken[0], rows[0], arguments, result), len(rows)
        return
    for value, first, times in zip(*np.unique(taken, return_index=True, return_counts=True), strict=True):
        yield _of_row(assumption, value, rows[first], arguments, result), int(times)


def _of_row(assumption: Assumption, value: Any, row: int, arguments: Arguments, result: Any) -> dict[str, Any]:
    alone = {name: column[row : row + 1] for name, column in arguments.items()}
    return _told(assumption, value.item(), alone, result)


def _told(assumption: Assumption, value: Any, arguments: Arguments, result: Any) -> dict[str, Any]:
    return {
        "field": assumption.field,
        "value": plain(as_declared({assumption.field: value})[assumption.field]),
        "unit": assumption.unit,
        "basis": _of_call(assumption.basis, arguments, result),
    }


def _of_call(value: Any | Callable[[Arguments, Any], Any], arguments: Arguments, result: Any) -> Any:
    return value(arguments, result) if callable(value) else value
