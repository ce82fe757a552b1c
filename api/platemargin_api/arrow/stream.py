"""A call in columns: an Arrow stream in, an Arrow stream out, in memory that does not grow with it."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from itertools import chain
from typing import Any, TypeAlias

import orjson
import pyarrow as pa
from flask import Request, Response

from platemargin_api.answer import SERVICE_VERSION, written_digest
from platemargin_api.arrow.batches import Answering
from platemargin_api.arrow.framing import Framed, message_bytes
from platemargin_api.arrow.results import ERROR
from platemargin_api.csv_writer import told_in_a_cell
from platemargin_api.deadline import Calculating
from platemargin_api.headers import preferences
from platemargin_api.media import ARROW
from platemargin_api.problems import ProblemError
from platemargin_api.registry import Registry, Served
from platemargin_api.settings import Settings
from platemargin_api.spool import SENT_BYTES, spooled
from platemargin_api.upload import Upload
from platemargin_api.watch import watched

__all__ = ["arrow_response"]

#: Bytes in pieces: what describes columns, and the columns themselves where they are, not copied. They are taken before the
#: next block is computed, which may be in the same memory.
_Pieces: TypeAlias = list[bytes | pa.Buffer]


def arrow_response(
    request: Request, served: Served, registry: Registry, settings: Settings, headers: Mapping[str, str]
) -> Response:
    """Answer a stream of record batches with one.

    The answer is held until the body has been read, and its schema's metadata then tell counts, assumptions and the request's
    digest; with ``Prefer: stream`` it is sent while the body is read, without them.

    Raises
    ------
    ProblemError
        For a schema whose columns are not the request's, a stream that is none or breaks off, or no room for the answer.
    """
    upload = Upload(request.environ, request.content_length)
    stream = preferences(request).get("stream") == ""
    content = _Content(served, registry, upload, settings.max_rows, Calculating(served, sending=stream))
    told = {**headers, "Content-Type": ARROW}
    if stream:
        told["Preference-Applied"] = "stream"
        return Response(content.streamed(), headers=told)
    return spooled(chain.from_iterable(content.batches()), told, head=content.head)


class _Written:
    """A file that keeps what is written to it, as it is, until it is taken."""

    closed = False

    def __init__(self) -> None:
        self._pieces: _Pieces = []

    def write(self, piece: bytes | pa.Buffer) -> int:
        self._pieces.append(piece)
        return len(piece)

    def flush(self) -> None:
        """Keep it as it is."""

    def taken(self) -> _Pieces:
        taken, self._pieces = self._pieces, []
        return taken


class _Content:
    """The bytes of an answer, made while its batches are read."""

    def __init__(self, served: Served, registry: Registry, upload: Upload, most_rows: int, calculating: Calculating) -> None:
        self._digest = hashlib.sha256()
        self._most_rows = most_rows
        self._calculating = calculating
        self._sent = _read(lambda: pa.ipc.open_stream(Framed(self._hashed(upload.blocks()))))
        self._answering = _read(lambda: Answering(served, registry, self._sent.schema))
        watched().tally = self._answering.tally
        self._lines = 0
        self._written = _Written()
        self._schema = self._answering.schema
        self._writer = pa.ipc.new_stream(self._written, self._schema)
        self._schema_is_written = False

    def head(self) -> bytes:
        """Return the schema with what is told of the whole call."""
        calculation = self._answering.served.offered
        summary = {
            **self._answering.tally.told(self._lines),
            "calculation": {"id": calculation.id, "version": calculation.version},
            "service_version": SERVICE_VERSION,
            "request_digest": written_digest(self._digest.digest()),
        }
        return self._schema_bytes({"platemargin": orjson.dumps(summary)})

    def streamed(self) -> Iterator[bytes]:
        """Yield the answer while the body is read."""
        calculation = self._answering.served.offered
        version = {"calculation": {"id": calculation.id, "version": calculation.version}, "service_version": SERVICE_VERSION}
        yield self._schema_bytes({"platemargin": orjson.dumps(version)})
        try:
            for pieces in self.batches():
                yield from _joined(pieces)
        except ProblemError as error:
            yield b"".join(self._last(error))

    def batches(self) -> Iterator[_Pieces]:
        """Yield the answers and the end of their stream."""
        while (batch := _read(self._next)) is not None:
            if self._lines + batch.num_rows > self._most_rows:
                too_many = f"One call answers {self._most_rows} rows; send the rest in another."
                yield self._last(ProblemError("too-large", too_many))
                return
            for answers in self._calculating.each(self._answering.batches(batch)):
                self._writer.write_batch(answers)
                yield self._drained()
            self._lines += batch.num_rows
        self._writer.close()
        yield self._drained()

    def _next(self) -> Any:
        try:
            batch = self._sent.read_next_batch()
        except StopIteration:
            return None
        # Offsets and indices that lie would be read beyond their buffers.
        batch.validate(full=True)
        return batch

    def _last(self, error: ProblemError) -> _Pieces:
        """Return a last row that says why the body was not read to its end, and the end of the stream."""
        self._answering.tally.stop(self._lines + 1, error)
        told = told_in_a_cell(error.document())
        arrays = [pa.array([told if column.name == ERROR else None], column.type) for column in self._schema]
        self._writer.write_batch(pa.RecordBatch.from_arrays(arrays, schema=self._schema))
        self._writer.close()
        return self._drained()

    def _schema_bytes(self, metadata: Mapping[str, bytes]) -> bytes:
        told: bytes = self._schema.with_metadata(metadata).serialize().to_pybytes()
        return told

    def _drained(self) -> _Pieces:
        written = self._written.taken()
        if self._schema_is_written:
            return written
        # The schema that is sent has metadata, and comes before: the writer's own, the first of its messages, is left out.
        self._schema_is_written = True
        whole = b"".join(written)
        return [whole[message_bytes(whole) :]]

    def _hashed(self, blocks: Iterator[bytes]) -> Iterator[bytes]:
        for block in blocks:
            self._digest.update(block)
            yield block


def _joined(pieces: _Pieces) -> Iterator[bytes]:
    """Yield pieces as bytes, as many together as are sent at a time."""
    some: _Pieces = []
    for piece in pieces:
        some.append(piece)
        if sum(map(len, some)) >= SENT_BYTES:
            yield b"".join(some)
            some = []
    if some:
        yield b"".join(some)


def _read(reading: Any) -> Any:
    """Return what is read; what the library refuses is told as a body that is not as its media type says."""
    try:
        return reading()
    except (pa.ArrowException, OSError, ValueError, UnicodeDecodeError) as error:
        words = str(error).split("\n", 1)[0][:200]
        raise ProblemError("malformed-body", f"The Arrow stream cannot be read: {words}.") from None
