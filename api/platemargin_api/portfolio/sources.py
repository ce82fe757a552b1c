"""Input files, read a block of rows at a time: Parquet, Arrow (file and stream) and CSV."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple, Protocol, TypeAlias

import pyarrow as pa
import pyarrow.parquet as pq

from platemargin_api.csv_reader import CellReader
from platemargin_api.csv_writer import told_in_a_cell
from platemargin_api.lines import lines
from platemargin_api.portfolio.csv_columns import bad_cells, typed
from platemargin_api.portfolio.refused import InputError
from platemargin_api.problems import ProblemError

__all__ = ["BLOCK_ROWS", "KINDS", "Block", "Plan", "Refused", "Source", "opened"]

#: Rows that are answered together, and stand together in the answers.
BLOCK_ROWS = 16_384
#: What is read of a file at a time.
_READ_BYTES = 1024 * 1024
#: The longest line of a table.
_LINE_BYTES = 1024 * 1024
#: Arrow columnar format, "IPC Streaming Format".
_END_OF_STREAM = b"\xff\xff\xff\xff\0\0\0\0"


#: From the names of columns to the members of the request that they hold, by column.
Plan: TypeAlias = Callable[[Sequence[str]], Mapping[str, Any]]


class Refused(NamedTuple):
    """A row that could not be read, and why; what else it says is in the block where it could be read at all."""

    row: int
    reason: str


@dataclass(frozen=True)
class Block:
    """Rows of an input that could be read, where they stand in it, and those that could not."""

    batch: Any
    rows: Any
    #: By place in the batch, why a row's cells are not what their columns hold.
    bad: Mapping[int, str] = field(default_factory=dict)
    #: Rows of which nothing can be read.
    lost: Sequence[Refused] = ()
    #: How much of the file was read until then.
    read_bytes: int = 0


class Source(Protocol):
    """An open input."""

    #: Of a table as its cells are read.
    schema: Any

    def blocks(self) -> Iterator[Block]:
        """Yield the rows in order."""


class _Parquet:
    def __init__(self, file: Any, _plan: Plan) -> None:
        self._size = file.size()
        # With a buffer, pages are read as they are needed: a file that is one row group needs no more memory than any other.
        self._file = pq.ParquetFile(file, buffer_size=_READ_BYTES, pre_buffer=False)
        self.schema = self._file.schema_arrow

    def blocks(self) -> Iterator[Block]:
        total = max(self._file.metadata.num_rows, 1)
        for first, batch in _numbered(self._file.iter_batches(BLOCK_ROWS, use_threads=False)):
            yield _block(batch, first, self._size * (first + batch.num_rows) // total)


class _Arrow:
    def __init__(self, file: Any, _plan: Plan) -> None:
        self._file = file
        stream = file.read(6) != b"ARROW1"
        if stream:
            _refuse_cut(file)
        file.seek(0)
        self._reader = pa.ipc.open_stream(file) if stream else pa.ipc.open_file(file)
        self.schema = self._reader.schema

    def blocks(self) -> Iterator[Block]:
        for first, batch in _numbered(part for whole in self._batches() for part in _parts(whole)):
            yield _block(batch, first, self._file.tell())

    def _batches(self) -> Iterator[Any]:
        if isinstance(self._reader, pa.RecordBatchStreamReader):
            yield from self._reader
        else:
            yield from map(self._reader.get_batch, range(self._reader.num_record_batches))


class _Csv:
    def __init__(self, file: Any, plan: Plan) -> None:
        self._file = file
        self._cells = CellReader(lines(iter(lambda: file.read(_READ_BYTES), b""), _LINE_BYTES), _LINE_BYTES)
        self._members = plan(self._cells.names)
        self.schema = typed(self._cells.names, [], self._members).schema

    def blocks(self) -> Iterator[Block]:
        held: list[tuple[int, list[str]]] = []
        lost: list[Refused] = []
        for line, cells in self._cells:
            if isinstance(cells, ProblemError):
                lost.append(Refused(line, told_in_a_cell(cells.document())))
            else:
                held.append((line, cells))
            if len(held) + len(lost) == BLOCK_ROWS:
                yield self._block(held, lost)
                held, lost = [], []
        yield self._block(held, lost)

    def _block(self, held: Sequence[tuple[int, list[str]]], lost: Sequence[Refused]) -> Block:
        cells = [row for _, row in held]
        batch = typed(self._cells.names, cells, self._members)
        bad = bad_cells(batch, self._cells.names, cells, self._members)
        return Block(batch, pa.array([line for line, _ in held], pa.int64()), bad, lost, self._file.tell())


#: By the ending of a file's name.
KINDS: Mapping[str, type[_Parquet | _Arrow | _Csv]] = {".parquet": _Parquet, ".arrow": _Arrow, ".arrows": _Arrow, ".csv": _Csv}


@contextmanager
def opened(path: Path, plan: Plan) -> Iterator[Source]:
    """Open an input.

    Raises
    ------
    InputError
        Where it cannot be read, or what is done with it fails for want of room.
    """
    try:
        with pa.OSFile(str(path)) as file:
            yield KINDS[path.suffix.lower()](file, plan)
    except ProblemError as error:
        raise InputError(error.detail) from None
    except (pa.ArrowException, OSError) as error:
        raise InputError(f"it cannot be read or answered: {error}") from None


def _refuse_cut(file: Any) -> None:
    """Refuse a stream without its end: one that is cut between two batches looks like a shorter one."""
    if (
        file.size() < len(_END_OF_STREAM)
        or file.read_at(len(_END_OF_STREAM), file.size() - len(_END_OF_STREAM)) != _END_OF_STREAM
    ):
        raise InputError("it is no Arrow file, and does not end as an Arrow stream does: it may be cut")


def _numbered(batches: Iterator[Any]) -> Iterator[tuple[int, Any]]:
    """Yield batches, each with the number of rows before it."""
    first = 0
    for batch in batches:
        yield first, batch
        first += batch.num_rows


def _parts(batch: Any) -> Iterator[Any]:
    for start in range(0, batch.num_rows, BLOCK_ROWS):
        yield batch.slice(start, BLOCK_ROWS)


def _block(batch: Any, first: int, read_bytes: int) -> Block:
    return Block(batch, pa.array(range(first + 1, first + 1 + batch.num_rows), pa.int64()), read_bytes=read_bytes)
