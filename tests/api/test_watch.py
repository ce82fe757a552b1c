"""What is kept of a request: a line of the log and counts, with nothing of what was sent; and how the service goes out."""

import json
import logging
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path
from urllib.error import HTTPError, URLError
from urllib.request import Request, urlopen

import pytest

from platemargin_api.app import create_app
from platemargin_api.logs import JsonLines
from platemargin_api.registry import load_registry
from platemargin_api.settings import Settings, SettingsError

client = create_app(load_registry()).test_client()
PLATE = {"original_mm": 10, "plate_mm": 8.8765, "pit_depth_mm": 2.6, "years_in_service": 16, "id": "secret boat"}
MARGIN = "/v1/calculations/plate-margin"
TRACE = "00-0af7651916cd43dd8448eb211c80319c-b7ad6b7169203331-01"


@pytest.fixture
def lines(caplog):
    """Return a function that tells the lines which were written."""
    caplog.set_level(logging.INFO, "platemargin_api")

    def written():
        return [json.loads(JsonLines().format(record)) for record in caplog.records if record.name == "platemargin_api.watch"]

    return written


def test_a_request_has_one_line(lines):
    client.post(MARGIN, json=PLATE, headers={"X-Request-Id": "call-7", "traceparent": TRACE}).close()
    (line,) = lines()
    assert line.pop("ms") > 0
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}\+00:00", line.pop("time"))
    assert line == {
        "level": "info",
        "event": "request",
        "request_id": "call-7",
        "trace_id": "0af7651916cd43dd8448eb211c80319c",
        "method": "POST",
        "route": "/v1/calculations/<calculation_id>",
        "calculation": "plate-margin",
        "version": "1.0.1",
        "key": None,
        "status": 200,
        "problem": "",
        "rows": 1,
    }


def test_nothing_that_was_sent_is_in_the_log(lines, caplog):
    """Neither readings nor names, nor a path that nobody serves, nor what a refusal repeats of them."""
    for body in (PLATE, {**PLATE, "plate_mm": "8.8765 secret"}, {**PLATE, "pit_depth_mm": 19.8765}):
        client.post(MARGIN, json=body, headers={"Authorization": "Bearer secret"}).close()
    client.get("/v1/calculations/secret-boat").close()
    client.get("/secret?boat=secret").close()
    assert len(lines()) == 5
    assert "secret" not in json.dumps(lines()) + caplog.text
    assert "8765" not in json.dumps(lines())


@pytest.mark.parametrize("own", ["", "a b", 'a"b', "x" * 129, "\u00e9"])
def test_an_id_of_another_form_is_replaced(own):
    told = client.get("/health/live", headers={"X-Request-Id": own})
    assert re.fullmatch(r"[0-9a-f]{32}", told.headers["X-Request-Id"])


@pytest.mark.parametrize("trace", ["", TRACE.upper(), TRACE[:-1], f"00-{32 * '0'}-b7ad6b7169203331-01", f"ff{TRACE[2:]}"])
def test_a_trace_of_another_form_is_not_taken(lines, trace):
    client.post(MARGIN, json=PLATE, headers={"traceparent": trace}).close()
    assert lines()[0]["trace_id"] is None


@pytest.mark.parametrize(("path", "status"), [("/nothing", 404), (MARGIN, 415), ("/v1/calculations/plate-margim", 404)])
def test_every_answer_has_an_id(path, status):
    told = client.post(path)
    assert (told.status_code, len(told.headers["X-Request-Id"])) == (status, 32) or status == 404


def test_the_rows_of_a_call_of_many_are_told(lines):
    body = "\n".join(json.dumps(row) for row in [PLATE, {**PLATE, "plate_mm": -1}, PLATE])
    client.post(MARGIN, data=body, content_type="application/x-ndjson").close()
    assert lines()[0]["rows"] == 3


def test_what_machines_ask_all_the_time_is_not_told(lines):
    for path in ("/health/live", "/health/ready", "/metrics"):
        client.get(path).close()
    assert lines() == []


def test_an_exception_is_told_with_its_place():
    error = ValueError("x")
    record = logging.LogRecord(
        "platemargin_api", logging.ERROR, "f", 1, "it %s", ("failed",), (ValueError, error, error.__traceback__)
    )
    line = json.loads(JsonLines().format(record))
    assert (line["event"], line["level"]) == ("it failed", "error")
    assert "ValueError: x" in line["traceback"]


@pytest.mark.parametrize(
    ("name", "value"),
    [("PLATEMARGIN_DRAIN_SECONDS", "-1"), ("PLATEMARGIN_DRAIN_SECONDS", "301"), ("PLATEMARGIN_REQUEST_LOG", "yes")],
)
def test_settings_of_another_form_are_refused(name, value):
    with pytest.raises(SettingsError, match=name):
        Settings.from_environment({name: value})


# The real service


@contextmanager
def serving(log, **environment):
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        address = f"127.0.0.1:{probe.getsockname()[1]}"
    command = [str(Path(sys.executable).with_name("platemargin")), "serve", "--bind", address]
    with (
        log.open("w") as written,
        subprocess.Popen(command, env={**os.environ, **environment}, stdout=written, stderr=subprocess.STDOUT) as process,
    ):
        try:
            wait_for(lambda: process.poll() is not None or is_ready(f"http://{address}"))
            assert process.poll() is None, log.read_text()
            yield f"http://{address}", process
        finally:
            process.kill()


def counts_of(process):
    """Return the folder that a worker has its counts in: its files are mapped (proc_pid_maps(5))."""
    worker = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()[0]
    found = []
    # The library lets go of the master's file before it maps the worker's own.
    wait_for(
        lambda: found.extend(re.findall(r"/\S*platemargin-counts-[^/]+", Path(f"/proc/{worker}/maps").read_text())) or found
    )
    return Path(found[0])


def is_ready(address):
    try:
        with urlopen(f"{address}/health/ready", timeout=5) as response:
            return response.status == 200
    except HTTPError as error:
        error.close()
        return False
    except (URLError, ConnectionError):
        return False


def wait_for(holds, seconds=60):
    for _ in range(seconds * 20):
        if holds():
            return
        time.sleep(0.05)
    pytest.fail("it did not come about in time")


def post(address, body):
    request = Request(address + MARGIN, json.dumps(body).encode(), {"Content-Type": "application/json"})
    try:
        with urlopen(request, timeout=30) as response:
            return response.status
    except HTTPError as error:
        with error:
            return error.code


def test_the_counts_of_all_workers_are_told_together(tmp_path):
    log = tmp_path / "log"
    with serving(log, WEB_CONCURRENCY="3") as (address, _):
        statuses = [post(address, PLATE) for _ in range(40)] + [post(address, {}) for _ in range(5)]
        assert statuses == [200] * 40 + [422] * 5
        # Each worker counts, and then writes its line, when the answer is sent.
        wait_for(lambda: log.read_text().count("\n") == len(statuses), 10)
        with urlopen(f"{address}/metrics", timeout=5) as response:
            counted = response.read().decode()
    assert 'platemargin_requests_total{calculation="plate-margin",problem="",status="200"} 40.0' in counted
    assert 'platemargin_requests_total{calculation="plate-margin",problem="invalid-request",status="422"} 5.0' in counted
    assert 'platemargin_request_seconds_count{calculation="plate-margin"} 45.0' in counted
    assert sorted(json.loads(line)["status"] for line in log.read_text().splitlines()) == statuses


A_WORKER_ENDS = """
import os, shutil
from pathlib import Path
from prometheus_client.mmap_dict import MmapedDict
from platemargin_api import metrics

metrics.count(calculation="", status=200, problem="", seconds=0, answered=0, refused=0)
for file in list(Path(os.environ["PROMETHEUS_MULTIPROC_DIR"]).iterdir()):
    shutil.copy(file, str(file).replace(f"_{os.getpid()}.db", "_0.db"))
read = MmapedDict.read_all_values_from_file

def ended(file):
    MmapedDict.read_all_values_from_file = staticmethod(read)
    metrics.forget(0)
    return read(file)

MmapedDict.read_all_values_from_file = staticmethod(ended)
print(metrics.latest()[0].decode())
"""


def test_counts_are_told_though_a_worker_ends_while_they_are_read(tmp_path):
    environment = {**os.environ, "PROMETHEUS_MULTIPROC_DIR": str(tmp_path)}
    command = [sys.executable, "-c", A_WORKER_ENDS]
    told = subprocess.run(command, env=environment, capture_output=True, text=True, check=True, timeout=60).stdout
    assert 'platemargin_requests_total{calculation="",problem="",status="200"} 2.0' in told


def test_the_log_of_requests_may_be_off(tmp_path):
    with serving(tmp_path / "log", PLATEMARGIN_REQUEST_LOG="off") as (address, _):
        assert post(address, PLATE) == 200
    assert (tmp_path / "log").read_text() == ""


def test_a_service_that_goes_says_so_and_answers_meanwhile(tmp_path):
    kept = tmp_path / "kept"
    kept.mkdir()
    with serving(tmp_path / "log", WEB_CONCURRENCY="1", PLATEMARGIN_DRAIN_SECONDS="2", TMPDIR=str(kept)) as (address, process):
        counts = counts_of(process)
        assert any(counts.iterdir())
        assert list(kept.iterdir()) == []  # a full disk of answers must not keep a worker from counting
        process.send_signal(signal.SIGTERM)
        wait_for(lambda: not is_ready(address), 2)
        with pytest.raises(HTTPError) as told:
            urlopen(f"{address}/health/ready", timeout=10)
        with told.value:
            assert (told.value.code, json.load(told.value)) == (503, {"status": "draining"})
        assert post(address, PLATE) == 200
        assert process.wait(30) == 0
    assert not counts.exists()


def test_a_folder_for_counts_that_was_given_stays(tmp_path):
    folder = tmp_path / "counts"
    folder.mkdir()
    with serving(tmp_path / "log", WEB_CONCURRENCY="1", PROMETHEUS_MULTIPROC_DIR=str(folder)) as (address, process):
        assert post(address, PLATE) == 200
        process.send_signal(signal.SIGTERM)
        assert process.wait(30) == 0
    assert any(folder.iterdir())
    shutil.rmtree(folder)
