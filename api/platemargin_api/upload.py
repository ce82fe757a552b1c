"""The body of a request as it comes in: whole, or a block at a time; a sender that stalls does not keep the thread."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from gunicorn.http.errors import ParseException

from platemargin_api.media import NDJSON
from platemargin_api.problems import ProblemError

__all__ = ["BLOCK_BYTES", "Upload"]

#: What is read of a body without end at a time.
BLOCK_BYTES = 256 * 1024


class Upload:
    """A body that need not say how long it is.

    It is read from the server itself: the framework takes a stall for a caller who left, and cuts what is too long to size.

    Parameters
    ----------
    environ : dict
        The request's, of WSGI.
    declared : int, optional
        Its Content-Length.
    """

    def __init__(self, environ: dict[str, Any], declared: int | None) -> None:
        self._input = environ["wsgi.input"]
        self._declared = declared

    def whole(self, limit: int) -> bytes:
        """Return the whole body.

        Raises
        ------
        ProblemError
            too-large, timeout, or malformed-body where it broke off.
        """
        if self._declared is not None and self._declared > limit:
            raise _too_large(limit)
        body = self._read(limit + 1 if self._declared is None else self._declared)
        if len(body) > limit:
            raise _too_large(limit)
        if self._declared is not None and len(body) < self._declared:
            raise _broken_off()
        return body

    def blocks(self) -> Iterator[bytes]:
        """Yield the body a block at a time.

        Raises
        ------
        ProblemError
            timeout, or malformed-body where it broke off.
        """
        length = 0
        while block := self._read(BLOCK_BYTES):
            length += len(block)
            yield block
        if self._declared is not None and length < self._declared:
            raise _broken_off()

    def _read(self, size: int) -> bytes:
        try:
            content: bytes = self._input.read(size)
        except TimeoutError as error:
            detail = f"{error.strerror or 'Nothing of the body came in time'}: send all of it, without a pause."
            raise ProblemError("timeout", detail) from None
        except (OSError, ParseException):
            raise _broken_off() from None
        return content


def _too_large(limit: int) -> ProblemError:
    detail = f"The body is larger than the {limit} bytes that are read here: send less at a time, or {NDJSON}."
    return ProblemError("too-large", detail)


def _broken_off() -> ProblemError:
    return ProblemError("malformed-body", "The body broke off, or its chunks are not as HTTP has them: send it whole.")
