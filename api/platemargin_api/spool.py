"""An answer that is held until the body has been read: a caller that sends everything before it reads would wait for ever."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from functools import partial
from tempfile import SpooledTemporaryFile
from typing import IO

from flask import Response

from platemargin_api.problems import ProblemError

__all__ = ["spooled"]

#: An answer up to this is kept in memory, a longer one in a file.
SPOOLED_BYTES = 1024 * 1024
#: What is sent at a time.
SENT_BYTES = 256 * 1024


def spooled(
    parts: Iterable[bytes],
    headers: Mapping[str, str],
    *,
    head: Callable[[], bytes] = bytes,
    more: Callable[[], Mapping[str, str]] = dict,
) -> Response:
    """Return an answer with its length, which tells a caller that it is whole.

    `head` is sent first, and made last; `more` are headers that are known when all is made.

    Raises
    ------
    ProblemError
        busy, where there is no room to hold it.
    """
    spool: IO[bytes] = SpooledTemporaryFile(max_size=SPOOLED_BYTES)  # noqa: SIM115  closed with the response
    try:
        for part in parts:
            spool.write(part)
        length = spool.tell()
        spool.seek(0)
    except OSError:
        _close(spool)
        raise ProblemError("busy", "There is no room to hold the answer; send less at a time, or Prefer: stream.") from None
    except BaseException:
        _close(spool)
        raise
    first = head()
    response = Response(_sent(first, spool), headers=dict(headers))
    response.headers["Content-Length"] = str(len(first) + length)
    response.headers.update(more())
    response.call_on_close(spool.close)
    return response


def _close(spool: IO[bytes]) -> None:
    # What is still to be written cannot be where there is no room.
    with suppress(OSError):
        spool.close()


def _sent(first: bytes, spool: IO[bytes]) -> Iterator[bytes]:
    with spool:
        if first:
            yield first
        yield from iter(partial(spool.read, SENT_BYTES), b"")
