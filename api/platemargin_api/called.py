"""What a call of a calculation gave, and what holds of it: the predicates of its findings and assumptions."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import compress
from typing import Any

from platemargin.declared import Arguments, Finding, columns
from platemargin_api.calculation import Calculation

__all__ = ["Called", "CalledRow", "ColumnsOfOne", "of_call"]


@dataclass(frozen=True)
class Called:
    """A call; of an elementwise calculation one with columns, and what holds of it holds row by row.

    Assumptions are told by their place among the calculation's.
    """

    calculation: Calculation
    arguments: Arguments
    result: Any

    @cached_property
    def _named(self) -> Arguments:
        return columns(self.arguments) if self.calculation.elementwise else self.arguments

    def findings(self) -> Iterator[tuple[Finding, Any]]:
        """Yield each finding that may apply, and where it does."""
        for finding in self.calculation.findings:
            yield finding, finding.applies(self._named, self.result)

    def made(self, assumption: int) -> Any:
        """Return where an assumption is made."""
        return self.calculation.assumed[assumption].when(self.arguments, self.result)

    def value(self, assumption: int) -> Any:
        """Return what an assumption takes."""
        return of_call(self.calculation.assumed[assumption].value, self.arguments, self.result)


@dataclass(frozen=True)
class CalledRow(Called):
    """A call of one row that is made without columns: what holds of it was computed with its result."""

    found: Sequence[bool]
    taken: Sequence[tuple[bool, Any]]

    def findings(self) -> Iterator[tuple[Finding, Any]]:
        """Yield each finding that applies."""
        for finding in compress(self.calculation.findings, self.found):
            yield finding, True

    def made(self, assumption: int) -> bool:
        """Tell whether an assumption is made."""
        return self.taken[assumption][0]

    def value(self, assumption: int) -> Any:
        """Return what an assumption takes."""
        return self.taken[assumption][1]


class ColumnsOfOne(dict[str, Any]):
    """The arguments of one row as columns, each made when it is asked for."""

    def __init__(self, fields: Mapping[str, Any], request: Mapping[str, Any]) -> None:
        super().__init__()
        self._fields = fields
        self._request = request

    def __missing__(self, name: str) -> Any:
        return self.setdefault(name, self._fields[name].column([self._request.get(name)]))


def of_call(value: Any | Callable[[Arguments, Any], Any], arguments: Arguments, result: Any) -> Any:
    """Return a value; what a function of a call makes of it."""
    return value(arguments, result) if callable(value) else value
