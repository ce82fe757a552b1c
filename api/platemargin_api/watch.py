"""What is kept of a request: one line in the log and counts, never its content, its address or its key."""

from __future__ import annotations

import logging
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from random import getrandbits
from time import perf_counter, time_ns
from typing import Any

from flask import Flask, Response, g, request

from platemargin_api import metrics
from platemargin_api.registry import Registry, Served
from platemargin_api.tally import Tally

__all__ = ["REQUEST_ID", "WATCHED", "Watched", "begun", "is_worth_telling", "keep", "told_of", "watch", "watched", "when_sent"]

REQUEST_ID = "X-Request-Id"
#: Where the record of a request is that was begun before the framework had it.
WATCHED = "platemargin.watched"
#: An id of the caller's own that is taken: no blanks, nothing that would need quoting anywhere.
_OWN_ID = re.compile(r"[A-Za-z0-9._:/+=@-]{1,128}")
#: W3C Trace Context, version 00: trace and parent; neither is all zeros.
_TRACE = re.compile(r"00-(?!0{32})([0-9a-f]{32})-(?!0{16})[0-9a-f]{16}-[0-9a-f]{2}")

#: What machines ask every few seconds, and is told in the log only where it is not as it should be.
_PROBES = ("/health/live", "/health/ready", "/metrics")
_WELL = 200

_log = logging.getLogger(__name__)


@dataclass
class Watched:
    """A request on its way: its id, since when, and what is learnt of it meanwhile."""

    request_id: str
    trace_id: str | None
    #: W3C Trace Context as it was sent: traceparent and tracestate.
    trace: tuple[str | None, str | None]
    problem: str = ""
    key: str | None = None
    tally: Tally | None = None
    told: Mapping[str, Any] = field(default_factory=dict)
    began_ns: int = field(default_factory=time_ns)
    started: float = field(default_factory=perf_counter)
    kept: bool = False

    @property
    def rows(self) -> int:
        """How many rows it brought; a call of one has one."""
        return self.tally.answered + self.tally.refused if self.tally else 1


#: What else is told of each request when its answer has been sent.
_followers: list[Callable[[Watched], None]] = []


def when_sent(tell: Callable[[Watched], None]) -> None:
    """Have this process tell what is kept of each request to somebody else, too."""
    _followers[:] = [tell]


def begun(environ: Mapping[str, Any]) -> Watched:
    """Return the record of a request that has come (its environment of WSGI)."""
    own, trace = environ.get("HTTP_X_REQUEST_ID", ""), environ.get("HTTP_TRACEPARENT")
    known = _TRACE.fullmatch(trace or "")
    return Watched(
        request_id=own if _OWN_ID.fullmatch(own) else f"{getrandbits(128):032x}",
        trace_id=known[1] if known else None,
        trace=(trace, environ.get("HTTP_TRACESTATE")),
    )


def told_of(record: Watched, *, method: str, route: str | None, served: Served | None, status: int) -> dict[str, Any]:
    """Return what the log tells of a request, beside what is known when its answer has been sent."""
    return {
        "request_id": record.request_id,
        "trace_id": record.trace_id,
        "method": method,
        "route": route,
        "calculation": served.offered.id if served else None,
        "version": served.offered.version if served else None,
        "key": record.key,
        "status": status,
    }


def watched() -> Watched:
    """Return the record of the request that is being answered."""
    found: Watched = g.watched
    return found


def watch(app: Flask, registry: Registry) -> None:
    """Keep a record of every request, and give each an id that caller and log share."""

    @app.before_request
    def begin() -> None:
        g.watched = request.environ.get(WATCHED) or begun(request.environ)

    @app.after_request
    def end(response: Response) -> Response:
        record = watched()
        response.headers[REQUEST_ID] = record.request_id
        calculation = str((request.view_args or {}).get("calculation_id", ""))
        record.told = told_of(
            record,
            method=request.method,
            route=str(request.url_rule) if request.url_rule else None,
            served=registry.calculations.get(calculation),
            status=response.status_code,
        )
        # When the answer is sent: one that is streamed takes longer than the call that made it.
        response.call_on_close(lambda: keep(record))
        return response


def is_worth_telling(told: Mapping[str, Any]) -> bool:
    """Tell whether a request is more than a machine's question whether all is well, when it is."""
    return told["route"] not in _PROBES or told["status"] != _WELL


def keep(record: Watched) -> None:
    """Count a request whose answer has been sent, and tell of it."""
    if record.kept:  # what a late thread makes of a call whose caller was turned away
        return
    record.kept = True
    for tell in _followers:
        tell(record)
    told, seconds = record.told, perf_counter() - record.started
    answered, refused = (record.tally.answered, record.tally.refused) if record.tally else (0, 0)
    metrics.count(
        calculation=told["calculation"] or "",
        status=told["status"],
        problem=record.problem,
        seconds=seconds,
        answered=answered,
        refused=refused,
    )
    if _log.isEnabledFor(logging.INFO) and is_worth_telling(told):
        more = {"problem": record.problem, "rows": record.rows, "ms": round(1000 * seconds, 3)}
        _log.info("request", extra={"told": {**told, **more}})
