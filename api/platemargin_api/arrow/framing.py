"""The messages of an Arrow stream as they come in: each is measured before it is read, so that no length that lies is believed.

An encapsulated message is a marker, the length of its metadata, the metadata (a flatbuffer), and a body as long as the metadata
says (Arrow columnar format, "Encapsulated message format"). What is compressed, or larger than a limit, is refused here; the
rest goes on to the library as it is.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

from platemargin_api.problems import ProblemError

__all__ = ["MOST_BATCH_BYTES", "MOST_BATCH_ROWS", "Framed", "message_bytes"]

#: The largest message, and the most rows of one: a batch of nulls has rows and no bytes.
MOST_BATCH_BYTES = 64 * 1024 * 1024
MOST_BATCH_ROWS = 16 * 1024 * 1024
_MOST_METADATA_BYTES = 1024 * 1024
_MARKER = 0xFFFFFFFF
#: Kinds of message that have a body (Message.fbs, MessageHeader).
_SCHEMA, _DICTIONARY, _RECORD_BATCH = 1, 2, 3


class Framed:
    """A stream of messages as a file that is read once, in order.

    Raises
    ------
    ProblemError
        malformed-body for what is no message, too-large for one beyond the limits.
    """

    closed = False

    def __init__(self, blocks: Iterator[bytes]) -> None:
        self._blocks = blocks
        self._come = b""
        self._checked = self._messages()
        self._held = b""

    def read(self, size: int = -1) -> bytes:
        """Return the next bytes of messages that were measured."""
        while len(self._held) < size and (message := next(self._checked, None)) is not None:
            self._held += message
        content, self._held = self._held[:size], self._held[size:]
        return content

    def close(self) -> None:
        """Read no more."""
        self.closed = True

    def readable(self) -> bool:
        """Tell that it can be read."""
        return True

    def _messages(self) -> Iterator[bytes]:
        """Yield the messages in parts; what follows the end of the stream is not read."""
        while (prefix := self._take(8)) and prefix != b"\xff\xff\xff\xff\0\0\0\0":
            marker, length = struct.unpack("<Ii", prefix)
            if marker != _MARKER or not 0 < length <= _MOST_METADATA_BYTES:
                raise ProblemError("malformed-body", "The body is no stream of Arrow messages (format 5).")
            metadata = self._take(length)
            body = _body_bytes(metadata)
            yield prefix + metadata
            yield self._take(body)
        yield prefix

    def _take(self, size: int) -> bytes:
        parts, missing = [self._come], size - len(self._come)
        while missing > 0 and (block := next(self._blocks, b"")):
            parts.append(block)
            missing -= len(block)
        whole = b"".join(parts)
        if 0 < len(whole) < size:
            raise ProblemError("malformed-body", "The stream broke off within a message.")
        self._come = whole[size:]
        return whole[:size]


def message_bytes(stream: bytes) -> int:
    """Return the length of the first message of a stream, which has no body."""
    length: int = struct.unpack_from("<i", stream, 4)[0]
    return 8 + length


def _body_bytes(metadata: bytes) -> int:
    """Return the length of a message's body, having looked at what it says of itself."""
    try:
        message = _Table(metadata, struct.unpack_from("<I", metadata)[0])
        kind, length = message.number(1, "<B"), message.number(3, "<q")
        header = message.table(2)
        batch = header.table(1) if kind == _DICTIONARY and header else header
        rows = batch.number(0, "<q") if batch and kind != _SCHEMA else 0
        compressed = bool(batch and kind != _SCHEMA and batch.has(3))
    except (struct.error, IndexError):
        raise ProblemError("malformed-body", "A message's metadata are not as Arrow has them.") from None
    if compressed:
        raise ProblemError("malformed-body", "The buffers are compressed, which is not read here: send them plain.")
    if kind not in (_SCHEMA, _DICTIONARY, _RECORD_BATCH) or length < 0 or rows < 0:
        raise ProblemError("malformed-body", "A message is of a kind, or of a length, that is not read here.")
    if length > MOST_BATCH_BYTES or rows > MOST_BATCH_ROWS:
        told = f"a batch has at most {MOST_BATCH_BYTES} bytes and {MOST_BATCH_ROWS} rows here: send smaller ones"
        raise ProblemError("too-large", f"One batch has {length} bytes and {rows} rows; {told}.")
    return length


class _Table:
    """A table of a flatbuffer: fields by their place in the declaration, each there or not."""

    def __init__(self, buffer: bytes, at: int) -> None:
        self._buffer, self._at = buffer, at
        self._fields = at - struct.unpack_from("<i", buffer, at)[0]
        self._size = struct.unpack_from("<H", buffer, self._fields)[0] if self._fields >= 0 else 0

    def _where(self, place: int) -> int:
        """Return where a field is; 0 where it is not there."""
        entry = 4 + 2 * place
        if entry + 2 > self._size:
            return 0
        offset: int = struct.unpack_from("<H", self._buffer, self._fields + entry)[0]
        return self._at + offset if offset else 0

    def has(self, place: int) -> bool:
        """Tell whether a field is there."""
        return self._where(place) != 0

    def number(self, place: int, form: str) -> int:
        """Return a number; 0 where it is not there."""
        where = self._where(place)
        return int(struct.unpack_from(form, self._buffer, where)[0]) if where else 0

    def table(self, place: int) -> _Table | None:
        """Return a table within; None where it is not there."""
        where = self._where(place)
        return _Table(self._buffer, where + struct.unpack_from("<I", self._buffer, where)[0]) if where else None
