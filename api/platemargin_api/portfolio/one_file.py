"""One input: its answers, its rejects, its part of the roll-up, and a record that it is done."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import ExitStack
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path

import orjson
import pyarrow.parquet as pq

from platemargin_api.answer import SERVICE_VERSION, digest
from platemargin_api.csv_writer import result_columns, table_row
from platemargin_api.portfolio.answering import Answering, Reject, fields_by_column, served_by
from platemargin_api.portfolio.atomic import digest_of, whole
from platemargin_api.portfolio.columns import Asked
from platemargin_api.portfolio.refused import InputError
from platemargin_api.portfolio.roll_up import RollUp
from platemargin_api.portfolio.sources import opened

__all__ = ["DONE", "Record", "Task", "answer_file", "check_file", "settings_digest"]

#: Where records and parts of the roll-up are; it begins with a dot, so that readers of a folder pass over it.
DONE = ".done"
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
        return self.folder / "answers" / f"{self.name}.parquet"

    @property
    def rejects(self) -> Path:
        """The rows that are not answered; not there where all are."""
        return self.folder / "rejects" / f"{self.name}.csv"

    @property
    def lines(self) -> Path:
        """Its part of the roll-up."""
        return self.folder / DONE / f"{self.name}.parquet"

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
    try:
        return _answered(task, advance)
    except OSError as error:
        raise InputError(f"it cannot be read or answered: {error}") from None


def _answered(task: Task, advance: Callable[[int], None]) -> Record:
    if settings_digest(task.asked) != task.settings:
        raise InputError(
            f"platemargin {SERVICE_VERSION} or the calculation's package is of another version where it is answered"
        )
    task.record.unlink(missing_ok=True)
    read = digest_of(task.path)
    rows, answered, rejected = _write(task, advance)
    if answered + rejected != rows:
        raise InputError(f"{rows} rows went in, {answered} answers and {rejected} rejects came out")
    if digest_of(task.path) != read:
        raise InputError("it changed while it was read")
    written = [path for path in (task.answers, task.rejects, task.lines) if path.exists()]
    outputs = {path.relative_to(task.folder).as_posix(): digest_of(path) for path in written}
    record = Record(task.name, read, task.settings, rows, answered, rejected, outputs)
    with whole(task.record) as file:
        file.write(orjson.dumps(asdict(record), option=orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE))
    return record


def _write(task: Task, advance: Callable[[int], None]) -> tuple[int, int, int]:
    rows = answered = rejected = 0
    lines = None if task.asked.hull is None else RollUp(served_by(task.asked))
    for stale in (task.rejects, task.lines):
        stale.unlink(missing_ok=True)
    with opened(task.path, partial(fields_by_column, task.asked)) as source, ExitStack() as stack:
        answers_of = Answering(task.asked, source.schema)
        answers = stack.enter_context(pq.ParquetWriter(stack.enter_context(whole(task.answers)), answers_of.schema))
        rejects = None
        for block in source.blocks():
            rows += block.batch.num_rows + len(block.lost)
            done = answers_of(block)
            answers.write_batch(done.answers)
            answered += done.answers.num_rows
            rejected += len(done.rejects)
            if done.rejects and rejects is None:
                rejects = stack.enter_context(whole(task.rejects))
                rejects.write(table_row(Reject._fields))
            if rejects is not None:
                rejects.writelines(map(table_row, done.rejects))
            if lines is not None:
                lines.add_answers(task.name, done.answers)
                lines.add_rejects([reject.hull for reject in done.rejects])
            advance(block.read_bytes)
    if lines is not None:
        with whole(task.lines) as file:
            pq.write_table(lines.lines(), file)
    return rows, answered, rejected
