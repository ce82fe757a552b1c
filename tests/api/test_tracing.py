"""Spans for OpenTelemetry: a real service tells them to a real receiver of OTLP over HTTP; without one, nothing is loaded."""

import json
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from contextlib import contextmanager
from http.client import HTTPConnection
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest

pytest.importorskip("opentelemetry.exporter.otlp.proto.http", reason="the extra platemargin[opentelemetry] is not installed")

from opentelemetry.proto.collector.trace.v1.trace_service_pb2 import (
    ExportTraceServiceRequest,
    ExportTraceServiceResponse,
)
from opentelemetry.sdk.trace import TracerProvider
from opentelemetry.sdk.trace.export import SimpleSpanProcessor
from opentelemetry.sdk.trace.export.in_memory_span_exporter import InMemorySpanExporter

from platemargin_api import tracing, watch
from platemargin_api.app import create_app
from platemargin_api.registry import load_registry

MARGIN = "/v1/calculations/plate-margin"
SECRET = "secret-boat"  # noqa: S105  what must not be told
PLATE = {"original_mm": 10, "plate_mm": 8.8765, "pit_depth_mm": 2.6, "years_in_service": 16, "id": SECRET}
TRACE, PARENT = "0af7651916cd43dd8448eb211c80319c", "b7ad6b7169203331"
BATCH = {"OTEL_BSP_SCHEDULE_DELAY": "100"}


class Receiver(ThreadingHTTPServer):
    """Takes spans as a collector does."""

    def __init__(self):
        super().__init__(("127.0.0.1", 0), Taker)
        self.address = f"http://127.0.0.1:{self.server_port}"
        self.sent, self.resources = [], []

    def spans(self):
        """Return every span, in the order in which they began: an answer ends after its caller has it, and may call again."""
        return sorted(self.sent, key=lambda span: span.start_time_unix_nano)


class Taker(BaseHTTPRequestHandler):
    def do_POST(self):
        assert (self.path, self.headers["Content-Type"]) == ("/v1/traces", "application/x-protobuf")
        told = ExportTraceServiceRequest.FromString(self.rfile.read(int(self.headers["Content-Length"])))
        for resource in told.resource_spans:
            self.server.resources.append(plain(resource.resource.attributes))
            self.server.sent += [span for scope in resource.scope_spans for span in scope.spans]
        body = ExportTraceServiceResponse().SerializeToString()
        self.send_response(200)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_words):
        """Say nothing."""


def plain(attributes):
    return {one.key: getattr(one.value, one.value.WhichOneof("value")) for one in attributes}


@pytest.fixture
def receiver():
    with Receiver() as listening:
        threading.Thread(target=listening.serve_forever, daemon=True).start()
        yield listening
        listening.shutdown()


@contextmanager
def serving(log, **environment):
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "platemargin_api", "serve", "--bind", f"127.0.0.1:{port}"]
    environment = {**os.environ, "WEB_CONCURRENCY": "2", **environment}
    with log.open("w") as written, subprocess.Popen(command, env=environment, stdout=written, stderr=written) as process:
        try:
            wait_for(lambda: process.poll() is not None or call(port, "GET", "/health/ready")[0] == 200)
            assert process.poll() is None, log.read_text()
            yield port, process
        finally:
            process.kill()


def call(port, method, path, body=None, **headers):
    connection = HTTPConnection("127.0.0.1", port, timeout=30)
    try:
        connection.request(method, path, body, {name.replace("_", "-"): value for name, value in headers.items()})
        response = connection.getresponse()
        return response.status, response.read()
    except ConnectionError:
        return None, b""
    finally:
        connection.close()


def post(port, body, media="application/json", **headers):
    return call(port, "POST", MARGIN, body, Content_Type=media, **headers)[0]


def wait_for(holds, seconds=60):
    for _ in range(seconds * 20):
        if holds():
            return
        time.sleep(0.05)
    pytest.fail("it did not come about in time")


def test_a_request_is_one_span_of_its_callers_trace(receiver, tmp_path):
    with serving(tmp_path / "log", OTEL_EXPORTER_OTLP_ENDPOINT=receiver.address, **BATCH) as (port, _):
        own = {"traceparent": f"00-{TRACE}-{PARENT}-01", "X_Request_Id": "call-7", "Authorization": "Bearer secret-key"}
        begun = time.time_ns()
        assert post(port, json.dumps(PLATE), **own) == 200
        ended = time.time_ns()
        wait_for(lambda: receiver.sent)
    (span,) = receiver.spans()
    assert (span.trace_id.hex(), span.parent_span_id.hex()) == (TRACE, PARENT)
    assert (span.name, span.kind) == ("POST /v1/calculations/<calculation_id>", 2)  # a server's
    assert plain(span.attributes) == {
        "http.request.method": "POST",
        "http.route": "/v1/calculations/<calculation_id>",
        "http.response.status_code": 200,
        "platemargin.request_id": "call-7",
        "platemargin.calculation": "plate-margin",
        "platemargin.version": "1.0.1",
        "platemargin.rows": 1,
    }
    apart = 5e7  # two processes need not see the clock's time alike to the last millisecond
    assert begun - apart <= span.start_time_unix_nano < span.end_time_unix_nano <= ended + apart
    assert receiver.resources[0].items() >= {"service.name": "platemargin", "telemetry.sdk.language": "python"}.items()


def test_every_worker_tells_each_request_once_and_nothing_of_what_was_sent(receiver, tmp_path):
    rows = "\n".join(json.dumps(row) for row in [PLATE, {**PLATE, "plate_mm": -1}, PLATE])
    resource = {"OTEL_SERVICE_NAME": "margins", "OTEL_RESOURCE_ATTRIBUTES": "deployment.environment.name=test"}
    with serving(tmp_path / "log", OTEL_EXPORTER_OTLP_ENDPOINT=receiver.address, **BATCH, **resource) as (port, process):
        statuses = [post(port, json.dumps(PLATE)) for _ in range(30)]
        statuses += [
            post(port, rows, "application/x-ndjson"),
            post(port, json.dumps({**PLATE, "plate_mm": f"8.8765 {SECRET}"})),
            post(port, SECRET, f"text/{SECRET}"),
            call(port, "GET", f"/{SECRET}?boat={SECRET}")[0],
            call(port, "SECRET", f"/v1/calculations/{SECRET}")[0],
            call(port, "GET", "/v1/rule-sets", traceparent=f"00-{SECRET}-01", tracestate=f"boat={SECRET}")[0],
        ]
        assert statuses == [200] * 31 + [422, 415, 404, 405, 200]
        for path in ("/health/live", "/health/ready", "/metrics"):  # all is well: nobody needs to know
            assert call(port, "GET", path)[0] == 200
        process.send_signal(signal.SIGTERM)  # what was not sent yet is sent when it goes
        assert process.wait(30) == 0
    told = [plain(span.attributes) for span in receiver.spans()]
    assert [one["http.response.status_code"] for one in told] == statuses
    assert told[30]["platemargin.rows"] == 3
    assert told[31]["platemargin.problem"] == "invalid-request"
    assert [span.name for span in receiver.spans()[33:]] == [
        "GET",
        "HTTP",  # a method of no standard has no route: the framework refuses it
        "GET /v1/rule-sets",
    ]
    assert len({span.trace_id for span in receiver.sent}) == len(statuses)
    assert not any(span.parent_span_id for span in receiver.sent)
    assert all(
        {"service.name": "margins", "deployment.environment.name": "test"}.items() <= one.items() for one in receiver.resources
    )
    everything = b"".join(span.SerializeToString() for span in receiver.sent)
    assert b"secret" not in everything.lower()
    assert b"8.8765" not in everything  # with its point: an id may have any four digits


def test_a_trace_that_is_not_kept_has_no_span(receiver, tmp_path):
    with serving(tmp_path / "log", OTEL_EXPORTER_OTLP_ENDPOINT=receiver.address, **BATCH) as (port, process):
        assert post(port, json.dumps(PLATE), traceparent=f"00-{TRACE}-{PARENT}-00") == 200
        assert post(port, json.dumps(PLATE), traceparent=f"00-{TRACE}-{PARENT}-01") == 200
        process.send_signal(signal.SIGTERM)
        assert process.wait(30) == 0
    assert len(receiver.sent) == 1


def test_what_a_late_thread_makes_of_a_call_that_was_turned_away_has_no_span(monkeypatch):
    """The warden ends the request with 503; the thread comes back, and ends it with 200 for nobody."""
    exporter, provider = InMemorySpanExporter(), TracerProvider()
    provider.add_span_processor(SimpleSpanProcessor(exporter))
    monkeypatch.setenv("OTEL_EXPORTER_OTLP_ENDPOINT", "http://127.0.0.1:9")
    monkeypatch.setattr(tracing, "_providers", [provider])
    monkeypatch.setattr(watch, "_followers", [tracing._tell])
    app = create_app(load_registry())
    with app.test_request_context("/v1/rule-sets"):
        app.preprocess_request()
        for status in (503, 200):
            app.process_response(app.response_class(status=status)).close()
    assert [span.attributes["http.response.status_code"] for span in exporter.get_finished_spans()] == [503]


@pytest.mark.parametrize("accepts", [False, True])
def test_a_receiver_that_is_down_or_says_nothing_holds_nobody_up(tmp_path, accepts):
    """Neither calls nor the end of the service, nor is the log other than JSON."""
    with socket.socket() as silent:
        silent.bind(("127.0.0.1", 0))
        if accepts:
            silent.listen(50)
        address = f"http://127.0.0.1:{silent.getsockname()[1]}"
        with serving(tmp_path / "log", OTEL_EXPORTER_OTLP_ENDPOINT=address, **BATCH) as (port, process):
            begun = time.monotonic()
            assert [post(port, json.dumps(PLATE)) for _ in range(20)] == [200] * 20
            assert time.monotonic() - begun < 8
            process.send_signal(signal.SIGTERM)
            assert process.wait(30) == 0
            assert time.monotonic() - begun < 20
    lines = [json.loads(line) for line in (tmp_path / "log").read_text().splitlines()]
    assert [line["event"] for line in lines].count("request") == 20


LOADED = """
import sys
from platemargin_api import tracing, watch
from platemargin_api.app import create_app
app = create_app()
tracing.start()
assert app.test_client().get("/v1/rule-sets").status_code == 200
tracing.stop()
print(sorted({name.split(".")[0] for name in sys.modules} & {"opentelemetry", "google"}), len(watch._followers))
"""


def loaded(before="", **environment):
    environment = {name: value for name, value in os.environ.items() if not name.startswith("OTEL_")} | environment
    done = subprocess.run(
        [sys.executable, "-c", before + LOADED], env=environment, capture_output=True, text=True, check=True, timeout=60
    )
    return done.stdout.strip(), done.stderr


def test_without_a_receiver_nothing_is_loaded_nor_asked():
    off, _ = loaded()
    on, _ = loaded(OTEL_EXPORTER_OTLP_ENDPOINT="http://127.0.0.1:9")
    assert off == "[] 0"
    assert on == "['google', 'opentelemetry'] 1"


WITHOUT_THE_EXTRA = """
import sys
class Missing:
    def find_spec(self, name, *_more):
        if name.startswith("opentelemetry"):
            raise ModuleNotFoundError(name)
sys.meta_path.insert(0, Missing())
"""


def test_without_the_extra_it_is_said_and_the_service_starts():
    told, said = loaded(WITHOUT_THE_EXTRA, OTEL_EXPORTER_OTLP_ENDPOINT="http://127.0.0.1:9")
    assert told == "[] 0"
    assert "the extra platemargin[opentelemetry] is not installed" in said
