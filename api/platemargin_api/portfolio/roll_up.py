"""What readings say of each hull: roll-ups of blocks, of files and of a portfolio are put together in one way."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from platemargin.quantities import rounded, to_decimals
from platemargin_api.answer import LABEL
from platemargin_api.portfolio.columns import ASSUMED, CODES, HULL, ROW, assumable
from platemargin_api.portfolio.lists import counts, names_where
from platemargin_api.registry import Served

__all__ = ["VERDICTS", "RollUp"]

#: From the worst on. Silence is never a pass.
VERDICTS = ("act", "watch", "not_judged", "no_limit_broken")
#: What tells the worst reading, and whether the lowest is: the first of these that the calculation answers with.
_MEASURES = (
    ("margin_mm", "ascending"),
    ("years_low", "ascending"),
    ("residual_mm", "ascending"),
    ("thickness_mm", "ascending"),
    ("governing_mm_per_year", "descending"),
)
_YEARS_LOW = "years_low"
#: The member of a request that is a limit: where there is none, nothing can be said to keep one.
_LIMIT = "threshold_mm"
#: Lines wait to be put together until there are so many, or as many as there are hulls.
_PENDING = 100_000
_COUNTS = ("rows", "answered")
#: Of the worst reading: its measure, and where it is. The order is that of the inputs' names and of their rows.
_PLACE = ("worst", "worst_file", "worst_row", "worst_id")


class RollUp:
    """A line for each hull. In memory are as many as there are hulls, and at most as many again that wait."""

    def __init__(self, served: Served) -> None:
        self._served = served
        found = served.offered.findings
        self._codes: dict[str, set[str]] = {}
        for told in found:
            self._codes.setdefault(told.code, set()).add(told.severity)
        self._assumed = {f"{name}_{ASSUMED}": name for name in assumable(served)}
        self._counts = (*_COUNTS, *self._assumed, *self._codes)
        self._withheld = {told.code for told in found if told.withholds_pass}
        fields = served.response.fields
        measures: list[tuple[str | None, str]] = [(name, order) for name, order in _MEASURES if name in fields]
        self._measure, self._order = [*measures, (None, "ascending")][0]
        self._waiting = [self._schema().empty_table()]
        self._together = 0

    def _schema(self) -> Any:
        numbers = [(name, pa.int64()) for name in self._counts]
        place = [("worst", pa.float64()), ("worst_file", pa.string()), ("worst_row", pa.int64()), ("worst_id", pa.string())]
        return pa.schema([(HULL, pa.string()), *numbers, *place, (_YEARS_LOW, pa.float64())])

    def add_answers(self, file: str, answers: Any) -> None:
        """Add rows of a file that are answered."""
        count, names = answers.num_rows, answers.schema.names
        worst = pa.nulls(count, pa.float64()) if self._measure is None else self._written(self._measure, answers)
        known = worst.is_valid()
        columns = {
            HULL: answers[HULL],
            **dict.fromkeys(_COUNTS, pa.repeat(pa.scalar(1, pa.int64()), count)),
            **dict(zip(self._assumed, counts(answers[ASSUMED], list(self._assumed.values())), strict=True)),
            **dict(zip(self._codes, counts(answers[CODES], list(self._codes)), strict=True)),
            "worst": worst,
            "worst_file": pc.if_else(known, file, pa.scalar(None, pa.string())),
            "worst_row": pc.if_else(known, answers[ROW], pa.scalar(None, pa.int64())),
            "worst_id": answers[LABEL] if LABEL in names else pa.nulls(count, pa.string()),
            _YEARS_LOW: self._written(_YEARS_LOW, answers) if _YEARS_LOW in names else pa.nulls(count, pa.float64()),
        }
        self.add(pa.table(columns).cast(self._schema()))

    def add_rejects(self, hulls: Sequence[str | None]) -> None:
        """Add rows that are rejected, each of a hull, or of one that nobody knows."""
        nothing = {**dict.fromkeys(self._schema().names), **dict.fromkeys(self._counts, 0)}
        lines = [{**nothing, HULL: hull, "rows": rows} for hull, rows in Counter(hulls).items()]
        self.add(pa.Table.from_pylist(lines, self._schema()))

    def _written(self, name: str, answers: Any) -> Any:
        """Return a column of results rounded as declared: readings are compared as they are printed."""
        field: Any = self._served.response.fields[name]
        numbers = pc.cast(answers[name], pa.float64()).to_numpy(zero_copy_only=False)
        written = rounded(numbers, field.unit) if field.decimals is None else to_decimals(numbers, field.decimals)
        return pa.array(written, from_pandas=True)

    def add(self, lines: Any) -> None:
        """Add lines of another roll-up of the same calculation."""
        self._waiting.append(lines)
        if sum(part.num_rows for part in self._waiting[1:]) >= max(_PENDING, self._waiting[0].num_rows):
            self.lines()

    def lines(self) -> Any:
        """Return the lines so far, in the order of the hulls' names; that of rows which name none is the last."""
        table = pa.concat_tables(self._waiting)
        order = [(HULL, "ascending"), ("worst", self._order), ("worst_file", "ascending"), ("worst_row", "ascending")]
        first = pc.ScalarAggregateOptions(skip_nulls=False)
        sums = [(name, "sum") for name in self._counts]
        asked = [*sums, *((name, "first", first) for name in _PLACE), (_YEARS_LOW, "min")]
        grouped = table.sort_by(order).group_by(HULL, use_threads=False).aggregate(asked)
        self._waiting = [grouped.rename_columns([HULL, *(name for name, *_ in asked)]).cast(self._schema()).combine_chunks()]
        return self._waiting[0]

    def hulls(self) -> Any:
        """Return what is told of each hull."""
        lines = self.lines()
        rejected = pc.subtract(lines["rows"], lines["answered"])
        found = {code: lines[code].to_numpy() > 0 for code in self._codes}
        columns = {
            HULL: lines[HULL],
            "verdict": self._verdicts(found, rejected.to_numpy()),
            "rows": lines["rows"],
            "answered": lines["answered"],
            "rejected": rejected,
            **({} if self._measure is None else self._worst(lines)),
            **({_YEARS_LOW: lines[_YEARS_LOW]} if _YEARS_LOW in self._served.response.fields else {}),
            **{name: lines[name] for name in self._assumed},
            CODES: names_where(list(found), list(found.values()), lines.num_rows),
        }
        return pa.table(columns)

    def _worst(self, lines: Any) -> dict[str, Any]:
        label = {"worst_id": lines["worst_id"]} if lines["worst_id"].null_count < lines.num_rows else {}
        return {
            f"worst_{self._measure}": lines["worst"],
            "worst_file": lines["worst_file"],
            "worst_row": lines["worst_row"],
            **label,
        }

    def _verdicts(self, found: Mapping[str, npt.NDArray[np.bool_]], rejected: npt.NDArray[np.int64]) -> Any:
        """Return the worst that was found of each hull; where rows are left out, or nothing is a limit, never a pass."""
        unknown = (rejected > 0) | (_LIMIT not in self._served.request.fields)
        act, watch, withheld = np.zeros((3, len(rejected)), dtype=bool)
        for code, holds in found.items():
            act |= holds & ("act" in self._codes[code])
            watch |= holds & ("watch" in self._codes[code])
            withheld |= holds & (code in self._withheld)
        return pa.array(np.select([act, watch, unknown | withheld], VERDICTS[:3], VERDICTS[3]), pa.string())
