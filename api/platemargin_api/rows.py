"""Many requests of one calculation: each row is answered or refused by itself, whatever the others are.

Rows of an elementwise calculation are computed together, by one call of its function.
"""

from __future__ import annotations

from collections import ChainMap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple, TypeAlias

import orjson

from platemargin.errors import NotApplicableError
from platemargin_api.answer import LABEL, answer, columns_of, failed, load, without_row
from platemargin_api.assumed import assumed_of
from platemargin_api.called import Called
from platemargin_api.findings import findings_of
from platemargin_api.problems import ProblemError, not_applicable
from platemargin_api.registry import Registry, Served
from platemargin_api.tally import Tally

__all__ = ["MOST_REFUSALS", "Record", "Rows", "Sent", "refusals_of"]

#: A row's line and its request, or what is wrong with it before it can be one.
Sent: TypeAlias = tuple[int, bytes | ProblemError]
#: A row's line, its label if it has one, and its result and findings, or its problem.
Record: TypeAlias = dict[str, Any]

#: After so many refusals of rows that were left over from others, rows are tried in halves.
MOST_REFUSALS = 3


class _Row(NamedTuple):
    line: int
    sent: Mapping[str, Any]
    request: Mapping[str, Any]


@dataclass(frozen=True)
class Rows:
    """The answers to rows of one calculation, counted in a tally; `whole` ones have every member of a single answer."""

    served: Served
    registry: Registry
    tally: Tally
    whole: bool = False

    @property
    def together(self) -> bool:
        """Whether rows are computed in one call."""
        return self.served.offered.elementwise and not self.whole

    def records(self, sent: Sequence[Sent]) -> list[Record]:
        """Return the record of each row, in order."""
        if not self.together:
            return [self._alone(line, body) for line, body in sent]
        loaded = [self._loaded(line, body) for line, body in sent]
        answered = iter(self._computed([row for row in loaded if isinstance(row, _Row)]))
        return [next(answered) if isinstance(row, _Row) else row for row in loaded]

    def _alone(self, line: int, body: bytes | ProblemError) -> Record:
        try:
            told = answer(self.served, self.registry, _request(body), minimal=not self.whole)
        except Exception as error:  # noqa: BLE001  one row fails alone
            return self._refused(line, _label(body), self._problem(error))
        self.tally.count(1, ((assumed, 1) for assumed in told["assumed"]), told["provenance"]["rule_sets"])
        if self.whole:
            return {"line": line, **told}
        return _record(line, told, told["result"], told["findings"])

    def _loaded(self, line: int, body: bytes | ProblemError) -> _Row | Record:
        try:
            taken = load(self.served, self.registry, _request(body))
        except Exception as error:  # noqa: BLE001  the same
            return self._refused(line, _label(body), self._problem(error))
        return _Row(line, taken.sent, taken.request)

    def _computed(self, rows: Sequence[_Row], refusals: int = 0) -> list[Record]:
        """Return the record of each row: of one call, without the rows that it refuses; where it fails, in halves."""
        if not rows:
            return []
        try:
            return self._answered(rows)
        except (Exception, SystemExit) as error:  # noqa: BLE001  the same
            broken = refusals_of(error, len(rows)) if refusals < MOST_REFUSALS else {}
            if broken:
                rest = iter(self._computed([row for at, row in enumerate(rows) if at not in broken], refusals + 1))
                return [self._unfit(row, broken[at]) if at in broken else next(rest) for at, row in enumerate(rows)]
            if len(rows) == 1:
                return [self._unfit(rows[0], error)]
        half = len(rows) // 2
        return self._computed(rows[:half]) + self._computed(rows[half:])

    def _answered(self, rows: Sequence[_Row]) -> list[Record]:
        calculation = self.served.offered
        arguments = columns_of(self.served, [row.request for row in rows])
        result = self.served.run(arguments)
        written = self.served.write_rows(result)
        called = Called(calculation, arguments, result)
        found = findings_of(called, len(rows), lambda row: ChainMap(written[row], dict(rows[row].request)))
        assumed = list(assumed_of(self.served, [row.sent for row in rows], called))
        records = [_record(row.line, row.request, *told) for row, *told in zip(rows, written, found, strict=True)]
        self.tally.count(len(rows), assumed)
        return records

    def _unfit(self, row: _Row, error: BaseException) -> Record:
        return self._refused(row.line, row.request.get(LABEL), self._problem(error))

    def _problem(self, error: BaseException) -> ProblemError:
        if isinstance(error, ProblemError):
            return error
        if isinstance(error, NotApplicableError):
            return not_applicable(without_row(error))
        return failed(self.served)

    def _refused(self, line: int, label: str | None, problem: ProblemError) -> Record:
        self.tally.refused += 1
        return {"line": line, **({} if label is None else {LABEL: label}), "problem": problem.document()}


def _record(line: int, labelled: Mapping[str, Any], result: Any, findings: Any) -> Record:
    label = {LABEL: labelled[LABEL]} if LABEL in labelled else {}
    return {"line": line, **label, "result": result, "findings": findings}


def refusals_of(error: BaseException, count: int) -> dict[int, NotApplicableError]:
    """Return what is refused of each row; nothing where the error does not say of which rows it is."""
    faults: dict[int, list[Any]] = {}
    for fault in error.faults if isinstance(error, NotApplicableError) else ():
        row = fault[1][1] if len(fault[1]) > 1 else None
        if not isinstance(row, int) or not 0 <= row < count:
            return {}
        faults.setdefault(row, []).append(fault)
    return {row: NotApplicableError(of_row) for row, of_row in faults.items()}


def _request(body: bytes | ProblemError) -> bytes:
    if isinstance(body, ProblemError):
        raise body
    return body


def _label(body: bytes | ProblemError) -> str | None:
    """Return the label of a request that is refused, where it can be read all the same."""
    try:
        label = orjson.loads(_request(body))[LABEL]
    except (ProblemError, ValueError, TypeError, LookupError):
        return None
    return label if isinstance(label, str) and 1 <= len(label) <= 100 else None  # noqa: PLR2004  as Request declares
