"""What is kept of a request: one line in the log and counts, never its content, its address or its key."""

from __future__ import annotations

import logging
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from secrets import token_hex
from time import perf_counter, time_ns
from typing import Any

from flask import Flask, Response, g, request

from platemargin_api import metrics
from platemargin_api.registry import Registry
from platemargin_api.tally import Tally

__all__ = ["REQUEST_ID", "Watched", "is_worth_telling", "watch", "watched"]

REQUEST_ID = "X-Request-Id"
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


def watched() -> Watched:
    """Return the record of the request that is being answered."""
    found: Watched = g.watched
    return found


def watch(app: Flask, registry: Registry) -> None:
    """Keep a record of every request, and give each an id that caller and log share."""

    @app.before_request
    def begin() -> None:
        own, trace = request.headers.get(REQUEST_ID, ""), _TRACE.fullmatch(request.headers.get("traceparent", ""))
        g.watched = Watched(own if _OWN_ID.fullmatch(own) else token_hex(16), trace[1] if trace else None)

    @app.after_request
    def end(response: Response) -> Response:
        record = watched()
        response.headers[REQUEST_ID] = record.request_id
        calculation = str((request.view_args or {}).get("calculation_id", ""))
        known = registry.calculations.get(calculation)
        record.told = {
            "request_id": record.request_id,
            "trace_id": record.trace_id,
            "method": request.method,
            "route": str(request.url_rule) if request.url_rule else None,
            "calculation": known.offered.id if known else None,
            "version": known.offered.version if known else None,
            "key": record.key,
            "status": response.status_code,
        }
        # When the answer is sent: one that is streamed takes longer than the call that made it.
        response.call_on_close(lambda: _keep(record))
        return response


def is_worth_telling(told: Mapping[str, Any]) -> bool:
    """Tell whether a request is more than a machine's question whether all is well, when it is."""
    return told["route"] not in _PROBES or told["status"] != _WELL


def _keep(record: Watched) -> None:
    if record.kept:  # what a late thread makes of a call whose caller was turned away
        return
    record.kept = True
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
    if is_worth_telling(told):
        more = {"problem": record.problem, "rows": record.rows, "ms": round(1000 * seconds, 3)}
        _log.info("request", extra={"told": {**told, **more}})
