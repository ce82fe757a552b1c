"""A calculation that does not end: its caller is told at the deadline, others are answered; too many replace a worker."""

import json
import os
import socket
import threading
import time
from contextlib import suppress
from http.client import IncompleteRead, RemoteDisconnected

import pytest

from platemargin_api.bulk import ROWS_TOGETHER
from platemargin_api.deadline import LINGER_SECONDS, MOST_STUCK
from platemargin_api.upload import BLOCK_BYTES

SECONDS = 2
#: The warden looks every quarter of a second, and this machine may be busy.
SOON = 3.0
OVERDUE = f"was not done within {SECONDS} s."
LONG = pytest.mark.skipif(os.environ.get("PLATEMARGIN_FAULTS") != "long", reason="make faults runs it: it takes a minute")


def wait_for(holds, seconds):
    end = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end, "it did not come about in time"
        time.sleep(0.05)


@pytest.fixture(autouse=True)
def settled(request):
    """Leave no thread behind that the next test of the same service would count."""
    yield
    if "service" in request.fixturenames:
        service = request.getfixturevalue("service")
        wait_for(lambda: service.counted("platemargin_stuck_threads") == 0, 10)


@pytest.mark.parametrize("name", ["sleeps", "spins"])
def test_the_caller_is_told_and_others_are_answered(name, service, calling):
    workers = service.workers()
    with calling(service) as callers:
        began = time.monotonic()
        status, headers, body = service.call(
            f"/v1/calculations/{name}", {"fault": SECONDS + SOON + 1}, headers={"X-Request-Id": f"late-{name}"}
        )
        took = time.monotonic() - began
        assert SECONDS <= took < SECONDS + SOON
        assert service.counted("platemargin_stuck_threads") == 1
        # It comes back; nothing of it is left, and no second answer was written to anybody.
        wait_for(lambda: service.counted("platemargin_stuck_threads") == 0, 2 * SOON + 1)
    problem = json.loads(body)
    assert (status, problem["type"], problem["status"]) == (503, "/problems/calculation-overdue", 503)
    assert problem["detail"] == f"The calculation {name} 1.2.0 of the package platemargin-faulty 0.3.0 {OVERDUE}"
    assert headers["Content-Type"] == "application/problem+json"
    assert (headers["X-Request-Id"], headers["Calculation-Version"]) == (f"late-{name}", "1.2.0")
    assert (headers["Connection"], headers["X-Content-Type-Options"]) == ("close", "nosniff")
    assert set(callers.outcomes) == {"right"}
    assert service.workers() == workers
    # One line of the request, and one that says where its thread was.
    (line,) = [line for line in service.told("request") if line.get("request_id") == f"late-{name}"]
    assert (line["status"], line["problem"]) == (503, "calculation-overdue")
    assert "platemargin_faulty.py" in service.told(f"calculation {name} ")[-1]["stack"]


def test_too_many_stuck_threads_replace_a_worker_and_nobody_else_fails(serving, calling):
    with serving(PLATEMARGIN_DEADLINE_SECONDS=str(SECONDS)) as service:
        before, told = set(service.workers()), []
        hung = [threading.Thread(target=lambda: told.append(service.fault("sleeps", 3600)[0])) for _ in range(12)]
        with calling(service) as callers:
            for thread in hung:
                thread.start()
            for thread in hung:
                thread.join()
            # Twelve are two at least for one of two workers, and whoever has two is replaced.
            wait_for(lambda: len(service.workers()) == 2 and before != set(service.workers()), 20)
            wait_for(lambda: service.counted("platemargin_stuck_threads") < MOST_STUCK, 20)
        assert told == [503] * 12
        assert set(callers.outcomes) == {"right"}
        print(f"12 calls hung, the worker replaced, {callers.outcomes['right']} others, the longest {callers.longest:.2f} s")
        # At worst one worker took all twelve, and others waited behind three for each of its four threads.
        assert callers.longest < 3 * SECONDS + 2 * SOON
        assert {line["event"] for line in service.told("replaced")} == {"the worker is replaced: stuck threads"}


@pytest.mark.parametrize("media", ["application/x-ndjson", "text/csv"])
def test_many_rows_that_are_held_are_refused(media, service):
    body = "fault\n0\n3\n" if media == "text/csv" else '{"fault": 0}\n{"fault": 3}\n'
    status, _, told = service.call("/v1/calculations/sleeps", body, media)
    assert (status, json.loads(told)["type"]) == (503, "/problems/calculation-overdue")


def test_many_rows_are_turned_away_once(serving):
    """Two blocks of rows are late each: the second is not begun, and a worker that stops still waits for its calls."""
    with serving(WEB_CONCURRENCY="1", PLATEMARGIN_DEADLINE_SECONDS=str(SECONDS)) as service:
        block = '{"fault": 3}\n' + '{"fault": 0}\n' * (ROWS_TOGETHER - 1)
        status, _, _ = service.call("/v1/calculations/sleeps", 2 * block, "application/x-ndjson")
        assert status == 503
        time.sleep(2 * 3)  # as long as both blocks would take
        assert len(service.told("was not done within")) == 1
        told = []
        call = threading.Thread(target=lambda: told.append(service.fault("sleeps", 1)[0]))
        call.start()
        time.sleep(0.5)
        service.process.terminate()
        call.join()
        assert told == [200]


def test_many_rows_that_are_streamed_are_cut(service):
    """What was sent cannot be taken back: the chunks end without their end, and the last line is missing."""
    with pytest.raises(IncompleteRead):
        service.call("/v1/calculations/sleeps", '{"fault": 3}\n', "application/x-ndjson", {"Prefer": "stream"})


@pytest.mark.parametrize("prefer", ["", "stream"])
def test_many_rows_may_take_as_long_as_they_like_while_they_advance(prefer, service):
    """Six blocks of rows, each in half a second."""
    body, began = '{"fault": 0.5}\n' * 6000, time.monotonic()
    status, _, told = service.call("/v1/calculations/sleeps", body, "application/x-ndjson", {"Prefer": prefer})
    assert time.monotonic() - began > SECONDS + 0.5
    assert status == 200
    assert json.loads(told.splitlines()[-1])["summary"]["answered"] == 6000


def test_arrow_streams_are_held_to_it_a_block_at_a_time(service):
    pa = pytest.importorskip("pyarrow")

    def stream(fault, batches):
        sink = pa.BufferOutputStream()
        batch = pa.record_batch({"fault": pa.array([fault])})
        with pa.ipc.new_stream(sink, batch.schema) as writer:
            for _ in range(batches):
                writer.write_batch(batch)
        return sink.getvalue().to_pybytes()

    media = "application/vnd.apache.arrow.stream"
    assert service.call("/v1/calculations/sleeps", stream(0.5, 6), media)[0] == 200
    status, _, told = service.call("/v1/calculations/sleeps", stream(3.0, 1), media)
    assert (status, json.loads(told)["type"]) == (503, "/problems/calculation-overdue")


def test_a_body_that_comes_slowly_is_not_the_calculations_time(service):
    with socket.create_connection(("127.0.0.1", service.port), timeout=30) as connection:
        head = (
            "POST /v1/calculations/sleeps HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 12\r\n\r\n"
        )
        connection.sendall(head.encode())
        for byte in b'{"fault":0}\n':
            time.sleep(0.25)
            connection.sendall(bytes([byte]))
        assert connection.recv(4096).startswith(b"HTTP/1.1 200 ")


def sending_rows(service, fault, size):
    """Return a connection over which a call of many rows has begun."""
    connection = socket.create_connection(("127.0.0.1", service.port), timeout=30)
    media = "Content-Type: application/x-ndjson"
    head = f"POST /v1/calculations/sleeps HTTP/1.1\r\nHost: x\r\n{media}\r\nContent-Length: {size}\r\n\r\n"
    connection.sendall(f'{head}{{"fault": {fault}}}\n'.encode())
    return connection


def test_a_caller_who_is_still_sending_is_told_and_let_go(service):
    """100 MB of rows, of which the first block does not end: the caller is not left sending to nobody."""
    size, began = 100_000_000, time.monotonic()
    with sending_rows(service, 9, size) as connection:
        with pytest.raises(ConnectionError):
            connection.sendall(b'{"fault": 0}\n' * (size // 13))
        assert time.monotonic() - began < SECONDS + 2 + SOON
        assert connection.recv(4096).startswith(b"HTTP/1.1 503 ")


def test_a_caller_who_is_still_sending_has_time_to_read_why_though_its_thread_comes_back(service):
    """Two blocks of the body, the first of which takes a second too long, and then line after line."""
    began = time.monotonic()
    with sending_rows(service, SECONDS + 1, 100_000_000) as connection:
        connection.sendall(b'{"fault": 0}\n' * (2 * BLOCK_BYTES // 13))
        with suppress(ConnectionError):
            while time.monotonic() - began < 30:
                connection.sendall(b'{"fault": 0}\n')
                time.sleep(0.05)
        assert time.monotonic() - began > SECONDS + LINGER_SECONDS
        assert connection.recv(4096).startswith(b"HTTP/1.1 503 ")


@LONG
def test_code_that_never_lets_go_of_the_interpreter_has_its_worker_killed(serving):
    """No thread of that worker can answer any more: the master ends it after 30 seconds without a sign of life."""
    with serving() as service:
        before = set(service.workers())
        with pytest.raises((ConnectionError, RemoteDisconnected)):
            service.fault("holds-the-interpreter", 1)
        wait_for(lambda: len(set(service.workers()) - before) == 1, 60)
        assert service.fault("raises", 0)[0] == 200
