"""One input: its answers, its rejects, its part of the roll-up, and a record that it is done."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack, suppress
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import IO, Any

import orjson
import pyarrow.parquet as pq

from platemargin_api.answer import SERVICE_VERSION, digest
from platemargin_api.csv_writer import result_columns, table_row
from platemargin_api.portfolio.answering import Answered, Answering, Reject, fields_by_column, served_by
from platemargin_api.portfolio.atomic import digest_of, whole
from platemargin_api.portfolio.columns import Asked
from platemargin_api.portfolio.refused import InputError
from platemargin_api.portfolio.roll_up import RollUp
from platemargin_api.portfolio.sources import opened

__all__ = ["ANSWERS", "DONE", "REJECTS", "Record", "Task", "answer_file", "check_file", "settings_digest"]

#: Where records and parts of the roll-up are; it begins with a dot, so that readers of a folder pass over it.
DONE = ".done"
ANSWERS, REJECTS = "answers", "rejects"
#: Changes where the same rows are written otherwise.
_FORM = 1


@dataclass(frozen=True)
class Task:
    """An input, and where what becomes of it is written."""

    name: str
    path: Path
    folder: Path
    asked: Asked
    #: What the answers depend on beside the input; another installation of the service may not have the same.
    settings: str

    @property
    def answers(self) -> Path:
        """The answers."""
        return self.folder / ANSWERS / f"{self.name}.parquet"

    @property
    def rejects(self) -> Path:
        """The rows that are not answered; not there where all are."""
        return self.folder / REJECTS / f"{self.name}.csv"

    @property
    def lines(self) -> Path:
        """Its part of the roll-up."""
        return self.folder / DONE / f"{self.name}.parquet"

    @property
    def outputs(self) -> tuple[Path, Path, Path]:
        """All of these, whether they are there or not."""
        return self.answers, self.rejects, self.lines

    @property
    def record(self) -> Path:
        """What says that it is done: written last."""
        return self.folder / DONE / f"{self.name}.json"


@dataclass(frozen=True)
class Record:
    """What is known of an input that is done."""

    input: str
    input_digest: str
    settings_digest: str
    rows: int
    answered: int
    rejected: int
    #: By file, from the folder of the portfolio.
    outputs: Mapping[str, str]


def settings_digest(asked: Asked) -> str:
    """Return what tells whether answers would be the same: calculation, versions, and what columns are for."""
    served = served_by(asked)
    told = {
        "form": _FORM,
        "service": SERVICE_VERSION,
        "calculation": [served.offered.id, served.offered.version, served.distribution.name, served.distribution.version],
        "members": [list(served.request.fields), list(result_columns(served))],
        "findings": [(told.code, told.severity, told.withholds_pass) for told in served.offered.findings],
        "columns": asdict(asked),
    }
    return digest(orjson.dumps(told, option=orjson.OPT_SORT_KEYS))


def check_file(path: Path, asked: Asked) -> list[str]:
    """Return the names of an input's columns.

    Raises
    ------
    InputError
        Where it cannot be read, or its columns are not as they are needed.
    """
    with opened(path, partial(fields_by_column, asked)) as source:
        Answering(asked, source.schema)
        return list(source.schema.names)


def answer_file(task: Task, advance: Callable[[int], None] = lambda _bytes: None) -> Record:
    """Answer an input; `advance` is told of the bytes that were read.

    Raises
    ------
    InputError
        Where it cannot be read to its end, changes meanwhile, or another version would answer it here; where there is no room.
    """
    if settings_digest(task.asked) != task.settings:
        raise InputError(f"platemargin {SERVICE_VERSION} or its calculation is of another version where it is answered")
    _remove(task.record, *task.outputs)
    try:
        return _answered(task, advance)
    except (InputError, OSError) as error:
        # What was written stands for nothing.
        _remove(*task.outputs)
        raise error if isinstance(error, InputError) else InputError(f"it cannot be read or answered: {error}") from None


def _remove(*paths: Path) -> None:
    for path in paths:
        # What cannot be removed cannot be written either, which is told.
        with suppress(OSError):
            path.unlink()


def _answered(task: Task, advance: Callable[[int], None]) -> Record:
    read = digest_of(task.path)
    rows, answered, rejected = _write(task, advance)
    if answered + rejected != rows:
        raise InputError(f"{rows} rows went in, {answered} answers and {rejected} rejects came out")
    if digest_of(task.path) != read:
        raise InputError("it changed while it was read")
    outputs = {path.relative_to(task.folder).as_posix(): digest_of(path) for path in task.outputs if path.exists()}
    record = Record(task.name, read, task.settings, rows, answered, rejected, outputs)
    with whole(task.record) as file:
        file.write(orjson.dumps(asdict(record), option=orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE))
    return record


def _write(task: Task, advance: Callable[[int], None]) -> tuple[int, int, int]:
    """Write what becomes of an input; return its rows, and how many are answered and rejected."""
    rows = 0
    with opened(task.path, partial(fields_by_column, task.asked)) as source, ExitStack() as stack:
        answers_of = Answering(task.asked, source.schema)
        outputs = _Outputs(task, answers_of.schema, stack)
        for block in source.blocks():
            rows += block.batch.num_rows + len(block.lost)
            outputs.add(answers_of(block))
            advance(block.read_bytes)
        outputs.end()
    return rows, outputs.answered, outputs.rejected


class _Outputs:
    """The files that are written of an input; they are named when the stack is left."""

    def __init__(self, task: Task, schema: Any, stack: ExitStack) -> None:
        self.answered = self.rejected = 0
        self._task, self._stack = task, stack
        self._answers = stack.enter_context(pq.ParquetWriter(stack.enter_context(whole(task.answers)), schema))
        self._rejects: IO[bytes] | None = None
        self._lines = None if task.asked.hull is None else RollUp(served_by(task.asked))

    def add(self, done: Answered) -> None:
        """Add what became of a block."""
        self._answers.write_batch(done.answers)
        self._reject(done.rejects)
        self.answered += done.answers.num_rows
        self.rejected += len(done.rejects)
        if self._lines is not None:
            self._lines.add_answers(self._task.name, done.answers)
            self._lines.add_rejects([reject.hull for reject in done.rejects])

    def _reject(self, rejects: Sequence[Reject]) -> None:
        if rejects and self._rejects is None:
            self._rejects = self._stack.enter_context(whole(self._task.rejects))
            self._rejects.write(table_row(Reject._fields))
        if self._rejects is not None:
            self._rejects.writelines(map(table_row, rejects))

    def end(self) -> None:
        """Add what all blocks together say of hulls."""
        if self._lines is not None:
            pq.write_table(self._lines.lines(), self._stack.enter_context(whole(self._task.lines)))
