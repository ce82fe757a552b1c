"""What a call of many rows counts, and tells in its last line."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from platemargin_api.assumed import Assumed
from platemargin_api.problems import ProblemError

__all__ = ["Tally"]

#: So many assumptions are told with their own basis; beyond, those of a field are told together: memory has a bound.
MOST_ASSUMPTIONS = 500


class Tally:
    """Counts of rows, and what was used and assumed in any of those that were answered."""

    def __init__(self) -> None:
        self.answered = 0
        self.refused = 0
        self._stopped: tuple[int, str] | None = None
        self._assumed: dict[tuple[str, str | None], dict[str, Any]] = {}
        self._rule_sets: dict[str, Mapping[str, Any]] = {}

    def count(self, rows: int, assumed: Iterable[Assumed], rule_sets: Iterable[Mapping[str, Any]] = ()) -> None:
        """Count rows that were answered."""
        self.answered += rows
        self._rule_sets.update((used["id"], used) for used in rule_sets)
        for told, times in assumed:
            self._assume(told, times)

    def stop(self, line: int, problem: ProblemError) -> None:
        """Keep at which line, and for which problem, the body was not read to its end."""
        self._stopped = line, problem.document()["type"]

    def told(self, lines: int) -> dict[str, Any]:
        """Return the counts of a body of so many lines, and what was used and assumed.

        `value` is null where rows took different ones; `rows` are those that took it.
        """
        last, stopped_by = self._stopped or (lines, None)
        return {
            "lines": last,
            "answered": self.answered,
            "refused": self.refused,
            "stopped_by": stopped_by,
            "rule_sets": list(self._rule_sets.values()),
            "assumed": list(self._assumed.values()),
        }

    def _assume(self, told: Mapping[str, Any], times: int) -> None:
        basis = told["basis"] if len(self._assumed) < MOST_ASSUMPTIONS else None
        kept = self._assumed.setdefault((told["field"], basis), {**told, "basis": basis, "rows": 0})
        kept["rows"] += times
        if kept["value"] != told["value"]:
            kept["value"] = None
