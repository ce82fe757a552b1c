"""A span of each request for OpenTelemetry: what the log tells, and as little of what was sent.

On where the extra is installed and OTEL_EXPORTER_OTLP_ENDPOINT is set; otherwise nothing of it is loaded, nor asked in a call.
"""

from __future__ import annotations

import logging
import os
from importlib.util import find_spec
from threading import Thread
from time import perf_counter
from typing import Any

from platemargin_api.answer import SERVICE_VERSION
from platemargin_api.watch import Watched, is_worth_telling, when_sent

__all__ = ["prepare", "start", "stop"]

_ENDPOINT = "OTEL_EXPORTER_OTLP_ENDPOINT"
_EXTRA = "opentelemetry.sdk", "opentelemetry.exporter.otlp.proto.http"
#: Methods that are told by name (RFC 9110, RFC 5789); a caller may send any word as one.
_METHODS = frozenset({"CONNECT", "DELETE", "GET", "HEAD", "OPTIONS", "PATCH", "POST", "PUT", "TRACE"})
_FAILED = 500
#: How long a worker that goes waits for a receiver [s]: what it has not taken by then is lost.
_LAST_SECONDS = 5

_log = logging.getLogger(__name__)
#: What makes and sends the spans of this process, once it has begun to.
_providers: list[Any] = []


def prepare() -> None:
    """Load what sends spans, where the operator asks for them: in the master, so that workers share it."""
    if not os.environ.get(_ENDPOINT):
        return
    if not _is_installed():
        _log.warning("no spans are sent: %s is set, and the extra platemargin[opentelemetry] is not installed", _ENDPOINT)
        return
    import opentelemetry.exporter.otlp.proto.http.trace_exporter  # noqa: PLC0415
    import opentelemetry.sdk.trace.export  # noqa: F401, PLC0415


def start() -> None:
    """Begin to send, where it is asked for: in each worker, for what sends is a thread, and a fork takes none along."""
    if not os.environ.get(_ENDPOINT) or not _is_installed():
        return
    from opentelemetry.exporter.otlp.proto.http.trace_exporter import OTLPSpanExporter  # noqa: PLC0415
    from opentelemetry.sdk.resources import OTELResourceDetector, Resource  # noqa: PLC0415
    from opentelemetry.sdk.trace import TracerProvider  # noqa: PLC0415
    from opentelemetry.sdk.trace.export import BatchSpanProcessor  # noqa: PLC0415

    ours = Resource.create({"service.name": "platemargin", "service.version": SERVICE_VERSION})
    provider = TracerProvider(resource=ours.merge(OTELResourceDetector().detect()), shutdown_on_exit=False)
    provider.add_span_processor(BatchSpanProcessor(OTLPSpanExporter()))
    _providers[:] = [provider]
    when_sent(_tell)


def stop() -> None:
    """Send what is left, for some seconds: a receiver that says nothing keeps no worker from going."""
    for provider in _providers:
        last = Thread(target=provider.shutdown, daemon=True)
        last.start()
        last.join(_LAST_SECONDS)


def _tell(record: Watched) -> None:
    """Make the span of a request that is over; whose caller does not trace has a trace of its own."""
    seconds = perf_counter() - record.started
    if not is_worth_telling(record.told):
        return
    sent = {name: value for name, value in zip(("traceparent", "tracestate"), record.trace, strict=True) if value is not None}
    from opentelemetry.trace import SpanKind, Status, StatusCode  # noqa: PLC0415
    from opentelemetry.trace.propagation.tracecontext import TraceContextTextMapPropagator  # noqa: PLC0415

    told = record.told
    method = told["method"] if told["method"] in _METHODS else "_OTHER"
    span = (
        _providers[0]
        .get_tracer("platemargin", SERVICE_VERSION)
        .start_span(
            f"{method if method in _METHODS else 'HTTP'} {told['route'] or ''}".rstrip(),
            context=TraceContextTextMapPropagator().extract(sent),
            kind=SpanKind.SERVER,
            start_time=record.began_ns,
            attributes={name: value for name, value in _attributes(record, method).items() if value not in {None, ""}},
        )
    )
    if told["status"] >= _FAILED:
        span.set_status(Status(StatusCode.ERROR))
    span.end(record.began_ns + int(1e9 * seconds))


def _attributes(record: Watched, method: str) -> dict[str, Any]:
    told = record.told
    return {
        "http.request.method": method,
        "http.route": told["route"],
        "http.response.status_code": told["status"],
        "platemargin.request_id": told["request_id"],
        "platemargin.calculation": told["calculation"],
        "platemargin.version": told["version"],
        "platemargin.problem": record.problem,
        "platemargin.rows": record.rows,
    }


def _is_installed() -> bool:
    try:
        return all(map(find_spec, _EXTRA))
    except ModuleNotFoundError:
        return False
