"""What a calculation declares about itself as data: faults, findings, assumptions and steps of working.

Each is stated once, beside the formula that it belongs to, and is used everywhere: for one call, for a row of many, in the
catalogue and in the documentation.

A predicate takes the arguments of the calculation by name and, where there is one, its result. An *elementwise*
calculation's predicate answers with an array of booleans, one for each row. Any other's answers with the `Place` of each
occurrence, in the order in which a reader would meet them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from operator import itemgetter
from string import Formatter
from typing import Any, Literal, TypeAlias

import numpy as np
import numpy.typing as npt

from platemargin.errors import NotApplicableError
from platemargin.quantities import Array, all_as_named, as_array, rounding_of, telling_of, text

__all__ = [
    "Arguments",
    "Assumption",
    "Declared",
    "Fault",
    "Filling",
    "Finding",
    "Path",
    "Place",
    "Severity",
    "Step",
    "Where",
    "as_declared",
    "column_as_declared",
    "columns",
    "filled",
    "filling",
    "once",
    "placeholders",
    "refuse",
    "stated",
    "substituted",
    "worded",
]

Arguments: TypeAlias = Mapping[str, Any]
Path: TypeAlias = tuple[str | int, ...]
#: From texts by name to a template that is filled with them.
Filling: TypeAlias = Callable[[Mapping[str, str]], str]
Severity: TypeAlias = Literal["note", "watch", "act"]


@dataclass(frozen=True, kw_only=True)
class Place:
    """One occurrence: the path to the argument that it is about (empty: the whole), and the values that fill the template."""

    path: Path = ()
    values: Mapping[str, Any] = field(default_factory=dict)


Where: TypeAlias = npt.NDArray[np.bool_] | np.bool_ | Iterable[Place]


@dataclass(frozen=True, kw_only=True)
class Fault:
    """Values that are each in range but together describe nothing real; the call is refused, a row is marked.

    `field` names the argument to change; a `Place` may lead further into it.
    """

    field: str
    code: str
    message: str
    broken: Callable[[Arguments], Where]


@dataclass(frozen=True, kw_only=True)
class Finding:
    """Something that the reader has to know of this answer.

    `values` names the arguments and results that fill the template of an elementwise finding. A finding that
    `withholds_pass` keeps a verdict from being better than *not judged*.
    """

    code: str
    severity: Severity
    statement: str
    applies: Callable[[Arguments, Any], Where]
    field: str | None = None
    values: tuple[str, ...] = ()
    withholds_pass: bool = False


@dataclass(frozen=True, kw_only=True)
class Assumption:
    """A value taken because the caller gave none, where it is not a plain default of the request.

    `value` and `basis` are constants or functions of the arguments and the result of one call. Of an elementwise calculation,
    `when` and a `value` that is a function answer with an array, one item for each row, and `basis` looks at nothing but the
    arguments of one row.
    """

    field: str
    value: Any
    unit: str | None
    basis: str | Callable[[Arguments, Any], str]
    when: Callable[[Arguments, Any], bool | npt.NDArray[np.bool_]]


@dataclass(frozen=True, kw_only=True)
class Step:
    """One line of working; `substituted` is filled with the answer's own rounded numbers and can be evaluated as written.

    `value` names the argument or result that the line arrives at, `reference` the source's id, or how to tell it. A line
    is shown where every figure that it names is known and `when` holds.
    """

    symbol: str
    formula: str
    substituted: str
    value: str
    unit: str
    reference: str | Callable[[Mapping[str, Any]], str]
    when: Callable[[Mapping[str, Any]], bool] = lambda _values: True


def once(holds: Callable[[Arguments, Any], object], *path: str | int, names: tuple[str, ...] = ()) -> Callable[..., Any]:
    """Return a predicate with one place, where something holds of the whole; its values are of the arguments or the result."""

    def applies(arguments: Arguments, result: Any) -> Iterable[Place]:
        if holds(arguments, result):
            values = {name: arguments[name] if name in arguments else getattr(result, name) for name in names}
            yield Place(path=path, values=values)

    return applies


def as_declared(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return values rounded as the units that their names end in declare."""
    return {name: rounding_of(name)(float(value)) if isinstance(value, float) else value for name, value in values.items()}


class Declared(Mapping[str, Any]):
    """The same values, each rounded when it is asked for: a sentence names a few of many."""

    def __init__(self, values: Mapping[str, Any]) -> None:
        self._values = values

    def __getitem__(self, name: str) -> Any:
        value = self._values[name]
        return rounding_of(name)(value) if isinstance(value, float) else value

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)


def placeholders(template: str) -> tuple[str, ...]:
    """Return the names that fill a template, each once, in the order in which they stand."""
    return tuple(dict.fromkeys(name for _, name, _, _ in Formatter().parse(template) if name))


@cache
def filling(template: str) -> Filling:
    """Return what fills a template with texts by name: it is taken apart once, and not for every answer.

    Raises
    ------
    ValueError
        For a template that names a figure in any other way than ``{name}``.

    Examples
    --------
    >>> filling("{a} % of {b}")({"a": "5", "b": "8"})
    '5 % of 8'
    """
    parts = []
    for literal, name, form_of_it, conversion in Formatter().parse(template):
        if name is not None and (form_of_it or conversion or not name.isidentifier()):
            raise ValueError(f"a template names its figures as {{name}}, and no otherwise: {template!r}")
        parts.append((literal, name))
    form = "".join(literal.replace("%", "%%") + ("%s" if name else "") for literal, name in parts)
    names = [name for _, name in parts if name]
    if not names:
        return lambda _: form % ()
    taken = itemgetter(*names)
    return lambda texts: form % taken(texts)


def column_as_declared(name: str, values: Sequence[Any]) -> list[Any]:
    """Return one figure of many rows, each rounded as `as_declared` does, in one go where all are numbers."""
    if all(isinstance(value, float) for value in values):
        return list(all_as_named(name, values).tolist())
    return [as_declared({name: value})[name] for value in values]


def substituted(step: Step, figures: Mapping[str, Any]) -> str:
    """Fill a step of working with the figures that were used, all of them known: those sent as sent, others as written."""
    return worded(step.substituted, figures)


def filled(template: str, values: Mapping[str, Any]) -> str:
    """Fill a template with values rounded as declared.

    Examples
    --------
    >>> filled("{residual_mm} mm of {original_mm} mm left", {"residual_mm": 9.8 - 2.8, "original_mm": 10})
    '7 mm of 10 mm left'
    """
    return worded(template, as_declared(values))


def worded(template: str, values: Mapping[str, Any]) -> str:
    """Fill a template with values that are rounded as declared already."""
    return filling(template)({name: text(value) for name, value in values.items()})


def stated(template: str, values: Mapping[str, Any]) -> str:
    """Fill a sentence for a person with such values: a probability with the figures that mean something.

    Examples
    --------
    >>> stated("a probability of {probability_below}", {"probability_below": 0.054799})
    'a probability of 0.055'
    """
    return filling(template)({name: telling_of(name)(value) for name, value in values.items()})


def columns(arguments: Arguments) -> dict[str, Array]:
    """Return the arguments of an elementwise calculation as arrays of one shape; no array is copied."""
    arrays = [as_array(value) for value in arguments.values()]
    if len({array.shape for array in arrays}) > 1:
        arrays = list(np.broadcast_arrays(*arrays))
    return dict(zip(arguments, arrays, strict=True))


def refuse(faults: Iterable[Fault], arguments: Arguments) -> None:
    """Raise for every relation between `arguments` that is broken.

    Raises
    ------
    NotApplicableError
        Naming each argument to change and why; for arrays, the row too.
    """
    broken = [
        (fault.code, (fault.field, *place.path), filled(fault.message, place.values))
        for fault in faults
        for place in _places(fault.broken(arguments), arguments)
    ]
    if broken:
        raise NotApplicableError(broken)


def _places(where: Any, arguments: Arguments) -> Iterable[Place]:
    if not hasattr(where, "ndim"):
        return where  # type: ignore[no-any-return]
    if not np.count_nonzero(where):
        return ()
    # A scalar call has no row to name.
    return [Place(path=(int(row),) if where.ndim else (), values=_row(arguments, int(row))) for row in np.flatnonzero(where)]


def _row(arguments: Arguments, row: int) -> dict[str, Any]:
    return {name: column.flat[row].item() for name, column in arguments.items()}
