"""Everything that was assumed, for one call and for many rows: each default that was used, and each value taken instead."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, TypeAlias

import numpy as np

from platemargin.declared import Arguments, Assumption, as_declared
from platemargin.quantities import Array
from platemargin_api.called import Called, CalledRow, of_call
from platemargin_api.fields import RuleSets
from platemargin_api.findings import places_where, plain
from platemargin_api.registry import Served

__all__ = ["Assumed", "assumed_of", "assumed_of_one", "taken_instead"]

#: What an answer tells of one assumption, and of how many rows it holds.
Assumed: TypeAlias = tuple[dict[str, Any], int]


def assumed_of_one(served: Served, sent: Mapping[str, Any], called: Called) -> list[dict[str, Any]]:
    """Return what is assumed of one call that was sent."""
    told = served.defaults(sent)
    for field in served.rule_set_fields:
        told += _default_rule_sets(field, sent)
    if served.offered.elementwise and not isinstance(called, CalledRow):
        told += [one for one, _ in taken_instead(called, 1)]
        return told
    for place, assumption in enumerate(served.offered.assumed):
        if called.made(place):
            told.append(_told(assumption, called.value(place), called.arguments, called.result))
    return told


def assumed_of(served: Served, sent: Sequence[Mapping[str, Any]], called: Called) -> Iterator[Assumed]:
    """Return what is assumed of the rows of an elementwise calculation that were sent: what is told of one is told once."""
    counted: dict[int, tuple[dict[str, Any], int]] = {}
    for row in sent:
        for told in served.defaults(row):
            counted[id(told)] = (told, counted.get(id(told), (told, 0))[1] + 1)
    yield from counted.values()
    yield from taken_instead(called, len(sent))


def taken_instead(called: Called, count: int) -> Iterator[Assumed]:
    """Return each value that an elementwise calculation took in so many rows where none was sent, no plain default."""
    for place, assumption in enumerate(called.calculation.assumed):
        rows = places_where(called.made(place), count)
        if len(rows):
            taken = np.broadcast_to(called.value(place), (count,))[rows]
            yield from _of_rows(assumption, taken, rows, called)


def _default_rule_sets(field: RuleSets, sent: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    if sent.get(str(field.name)) is None:
        ids = field.ids(sent)
        basis = "the rule sets that apply where none is named" if ids else "rules were sent: no rule set is added to them"
        yield {"field": field.name, "value": ids, "unit": None, "basis": basis}


def _of_rows(assumption: Assumption, taken: Array, rows: Array, called: Called) -> Iterator[Assumed]:
    """Tell each value that was taken, with its rows: those of one value are told once."""
    # Mostly of one value, which numpy would sort, too.
    if len(rows) == 1 or (taken == taken[0]).all():
        yield _of_row(assumption, taken[0], rows[0], called), len(rows)
        return
    for value, first, times in zip(*np.unique(taken, return_index=True, return_counts=True), strict=True):
        yield _of_row(assumption, value, rows[first], called), int(times)


def _of_row(assumption: Assumption, value: Any, row: int, called: Called) -> dict[str, Any]:
    alone = {name: column[row : row + 1] for name, column in called.arguments.items()}
    return _told(assumption, value.item(), alone, called.result)


def _told(assumption: Assumption, value: Any, arguments: Arguments, result: Any) -> dict[str, Any]:
    return {
        "field": assumption.field,
        "value": plain(as_declared({assumption.field: value})[assumption.field]),
        "unit": assumption.unit,
        "basis": of_call(assumption.basis, arguments, result),
    }
