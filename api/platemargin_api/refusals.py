"""What is refused before it is a request: told as a problem with the service's headers, and in the log by its kind alone.

What is no HTTP may be anything, a survey's bytes or a key among it, so that nothing of it is repeated or logged.
"""

from __future__ import annotations

import logging
import re
import ssl
from http import HTTPStatus
from typing import Any

import orjson
from gunicorn import util
from gunicorn.http import errors

from platemargin_api import metrics
from platemargin_api.headers import SAFE
from platemargin_api.responding import Worker as RespondingWorker

__all__ = ["Worker"]

#: By the kind of error; any other that is the caller's is a bad request.
_STATUSES = {
    errors.LimitRequestLine: 414,
    errors.ExpectationFailed: 417,
    errors.LimitRequestHeaders: 431,
    errors.InvalidResponseHeader: 500,
    errors.InvalidResponseHeaderName: 500,
    errors.UnsupportedTransferCoding: 501,
}
_DETAILS = {
    400: "What was sent is not a request of HTTP/1.1 (RFC 9112).",
    414: "The request line is longer than {line} bytes.",
    417: "Of what may be expected, only 100-continue is known here.",
    431: "There are more than {fields} header fields, or one is longer than {field} bytes.",
    500: "The service failed.",
    501: "Of transfer codings, only chunked is read here.",
}

#: A host, with its port, as RFC 3986 has it (3.2.2, 3.2.3); it may be empty.
_HOST = re.compile(r"[A-Za-z0-9._~!$&'()*+,;=%:\[\]-]*")

_log = logging.getLogger(__name__)


class Worker(RespondingWorker):
    """gunicorn's worker with threads, but for what it tells of errors, and to whom."""

    def handle_request(self, req: Any, conn: Any) -> Any:
        """Answer a request whose head says one thing only."""
        _hold_head(req)
        try:
            return super().handle_request(req, conn)
        except SystemExit as error:
            # Raised again in the main thread, it would end the worker, and by some of its codes the whole service.
            raise RuntimeError("it tried to end the process") from error

    def _keepalive_after(self, conn: Any, keepalive: Any) -> bool:
        """Tell whether a connection is kept; what follows an answer is read until the request's body is over."""
        try:
            kept = bool(super()._keepalive_after(conn, keepalive))
        except errors.ParseException:
            # Nobody knows where a next request begins. Told, it would be a second answer to this one.
            return False
        if kept:
            # It is over: the next need not look for what is left of it.
            conn.parser.mesg = None
        return kept

    def handle_error(self, _req: Any, client: Any, _addr: Any, exc: Exception) -> None:
        """Refuse what could not be read as a request; the connection is closed after it."""
        theirs = isinstance(exc, errors.ParseException | ssl.SSLError)
        status = _STATUSES.get(type(exc), 400) if theirs else 500
        failed = status == HTTPStatus.INTERNAL_SERVER_ERROR
        told = {"status": status, "reason": type(exc).__name__}
        _log.log(logging.ERROR if failed else logging.WARNING, "no request", extra={"told": told}, exc_info=failed)
        metrics.count(calculation="", status=status, problem="", seconds=0, answered=0, refused=0)
        try:
            util.write_nonblock(client, self._refusal(status))
        except OSError:
            _log.debug("the caller was gone before it was told")

    def _refusal(self, status: int) -> bytes:
        bounds = {
            "line": self.cfg.limit_request_line,
            "fields": self.cfg.limit_request_fields,
            "field": self.cfg.limit_request_field_size,
        }
        title, detail = HTTPStatus(status).phrase, _DETAILS[status].format(**bounds)
        body = orjson.dumps({"type": "about:blank", "title": title, "status": status, "detail": detail})
        headers = {
            "Connection": "close",
            "Content-Type": "application/problem+json",
            "Content-Length": len(body),
            "Cache-Control": "no-store",
            **SAFE,
        }
        head = "".join(f"{name}: {value}\r\n" for name, value in headers.items())
        return f"HTTP/1.1 {status} {title}\r\n{head}\r\n".encode("ascii") + body


def _hold_head(req: Any) -> None:
    """Refuse what gunicorn leaves to the application (RFC 9112, 3.2 and 6.1).

    Raises
    ------
    ParseException
        For no host, or one that is none, and for a coding that would have to be undone.
    """
    told = dict(req.headers)
    codings = [value for name, value in req.headers if name == "TRANSFER-ENCODING"]
    if _HOST.fullmatch(told.get("HOST", "" if req.version < (1, 1) else " ")) is None:
        raise errors.InvalidHeader("HOST", req=req)
    if codings and ", ".join(codings).lower() != "chunked":
        raise errors.UnsupportedTransferCoding(", ".join(codings))
