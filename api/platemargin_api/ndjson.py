"""JSON lines: a request a line in, an answer a line out, and a last line that tells that it is the last."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import orjson

from platemargin_api.media import NDJSON
from platemargin_api.problems import ProblemError
from platemargin_api.rows import Record, Sent

__all__ = ["LineReader", "LineWriter", "too_long"]

#: A line of nothing but this is blank: JSON's white space.
_WHITE = b" \t\r"


def too_long(limit: int) -> ProblemError:
    """Return the problem of a line, or a row, that is longer than is read."""
    detail = f"The line, or the row that begins on it, is longer than the {limit} bytes read here: one request stands on each."
    return ProblemError("too-large", detail)


class LineReader:
    """The requests in the lines of a body; `line` is the last that was read."""

    def __init__(self, lines: Iterator[tuple[int, bytes | None]], limit: int) -> None:
        self.line = 0
        self._lines = lines
        self._too_long = too_long(limit)

    def __iter__(self) -> Iterator[Sent]:
        for line, content in self._lines:
            self.line = line
            if content is None:
                yield line, self._too_long
            elif content.strip(_WHITE):
                yield line, content.removesuffix(b"\r")


class LineWriter:
    """The answers as lines."""

    content_type = NDJSON
    head = b""

    def rows(self, records: Iterable[Record]) -> bytes:
        """Return lines."""
        return b"".join(orjson.dumps(record, option=orjson.OPT_APPEND_NEWLINE) for record in records)

    def end(self, summary: Mapping[str, Any]) -> bytes:
        """Return the last line."""
        return orjson.dumps({"summary": summary}, option=orjson.OPT_APPEND_NEWLINE)
