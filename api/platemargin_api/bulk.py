"""A call of many rows: the body is read and answered a block at a time, in memory that does not grow with it."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from flask import Request, Response

from platemargin_api.answer import LABEL, SERVICE_VERSION, written_digest
from platemargin_api.csv_reader import TableReader
from platemargin_api.csv_writer import TableWriter
from platemargin_api.deadline import Calculating
from platemargin_api.headers import preferences
from platemargin_api.lines import lines
from platemargin_api.media import CSV, NDJSON
from platemargin_api.ndjson import LineReader, LineWriter
from platemargin_api.problems import ProblemError
from platemargin_api.registry import Registry, Served
from platemargin_api.rows import Rows, Sent
from platemargin_api.settings import Settings
from platemargin_api.spool import spooled
from platemargin_api.tally import Tally
from platemargin_api.upload import Upload
from platemargin_api.watch import watched

__all__ = ["bulk_response"]

#: What is computed in one call, and what is answered one by one before it is written; and the bytes of either.
ROWS_TOGETHER, ROWS_ALONE, BATCH_BYTES = 1024, 64, 2 * 1024 * 1024
#: Preferences that an answer in lines honours, with their values.
_HONOURED = {"return": ("minimal", "representation"), "stream": ("",)}


def bulk_response(
    request: Request, served: Served, registry: Registry, settings: Settings, media: tuple[str, str], headers: Mapping[str, str]
) -> Response:
    """Answer rows that come in one of the media types in another one, or the same.

    The answer is held until the body has been read: a caller that sends everything before it reads would wait for ever
    otherwise. With ``Prefer: stream`` it is sent while the body is read.

    Raises
    ------
    ProblemError
        For a header that does not fit, a body that stalls or breaks off before anything is sent, or no room to hold the answer.
    """
    sent, answered = media
    prefer = _preferred(request, answered)
    upload = Upload(request.environ, request.content_length)
    reader = _reader(served, sent, upload, settings.max_line_bytes)
    labelled = not isinstance(reader, TableReader) or LABEL in reader.names
    writer = TableWriter(served, labelled=labelled) if answered == CSV else LineWriter()
    watched().tally = tally = Tally()
    rows = Rows(served, registry, tally, whole=prefer.get("return") == "representation")
    stream = "stream" in prefer
    content = _Content(reader, rows, writer, settings.max_rows, stream, Calculating(served, sending=stream))
    applied = ", ".join(name if name == "stream" else f"{name}={value}" for name, value in prefer.items())
    told = {**headers, "Content-Type": writer.content_type, **({"Preference-Applied": applied} if applied else {})}
    if stream:
        return Response(content.parts(), headers=told)
    return spooled(content.parts(), told, more=lambda: {"Content-Digest": written_digest(content.digest.digest())})


def _preferred(request: Request, answered: str) -> dict[str, str]:
    """Return what of the caller's preferences is honoured: nothing in a table, which could not say that it is whole."""
    prefer = preferences(request) if answered == NDJSON else {}
    return {name: prefer[name] for name, values in _HONOURED.items() if prefer.get(name) in values}


def _reader(served: Served, sent: str, upload: Upload, limit: int) -> TableReader | LineReader:
    within = lines(upload.blocks(), limit)
    return TableReader(served, within, limit) if sent == CSV else LineReader(within, limit)


@dataclass
class _Content:
    """The bytes of an answer, made while its rows are read."""

    reader: TableReader | LineReader
    rows: Rows
    writer: TableWriter | LineWriter
    most_rows: int
    #: Whether something may have been sent when the body stalls or breaks off, which is then told in a line.
    stream: bool
    calculating: Calculating
    digest: Any = field(default_factory=hashlib.sha256)

    def parts(self) -> Iterator[bytes]:
        """Yield the answer."""
        yield self._digested(self.writer.head)
        for batch in self._batches():
            with self.calculating:
                told = self.writer.rows(self.rows.records(batch))
            yield self._digested(told)
        yield self._digested(self.writer.end(self._summary()))

    def _digested(self, part: bytes) -> bytes:
        self.digest.update(part)
        return part

    def _batches(self) -> Iterator[list[Sent]]:
        most = ROWS_TOGETHER if self.rows.together else ROWS_ALONE
        batch: list[Sent] = []
        size = 0
        for line, body in self._bounded():
            batch.append((line, body))
            size += len(body) if isinstance(body, bytes) else 0
            if len(batch) == most or size >= BATCH_BYTES:
                yield batch
                batch, size = [], 0
        yield batch

    def _bounded(self) -> Iterator[Sent]:
        """Yield the rows up to the limit; what ends them before the end of the body is the last, and stands in the summary."""
        try:
            for count, (line, body) in enumerate(self.reader):
                if count == self.most_rows:
                    too_many = f"One call answers {count} rows; send the rest in another."
                    yield self._stopped(line, ProblemError("too-large", too_many))
                    return
                yield line, body
        except ProblemError as error:
            if not self.stream:
                raise
            yield self._stopped(self.reader.line + 1, error)

    def _stopped(self, line: int, error: ProblemError) -> Sent:
        self.rows.tally.stop(line, error)
        return line, error

    def _summary(self) -> dict[str, Any]:
        calculation = self.rows.served.offered
        return {
            **self.rows.tally.told(self.reader.line),
            "digest": written_digest(self.digest.digest()),
            "calculation": {"id": calculation.id, "version": calculation.version},
            "service_version": SERVICE_VERSION,
        }
