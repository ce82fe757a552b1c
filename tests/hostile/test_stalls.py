"""Callers who stall, in as many ways as a connection has: none of them keeps the service from others for longer than 15 s.

Two workers and 64 stalled callers, with the settings that the service has by itself. `PLATEMARGIN_HOSTILE=long` tries every
way by itself, too.
"""

import os
import socket
import threading
import time
from contextlib import ExitStack, contextmanager, suppress
from itertools import cycle, islice

import pytest
from wire import PATH, PLATE, head, serving

STALLED, LONGEST_DELAY_SECONDS = 64, 15
BEGUN = PLATE[:10]
WAYS = {
    "nothing": b"",
    "half a head": head()[:-2],
    "half of a second head": head(line="GET /health/live HTTP/1.1") + b"GET /health",
    "a body": head("Content-Type: application/json", "Content-Length: 60") + BEGUN,
    "a body in chunks": head("Content-Type: application/json", "Transfer-Encoding: chunked") + b"3c\r\n" + BEGUN,
    "a large body": head("Content-Type: application/json", "Content-Length: 8000000") + b" " * 300_000,
    "lines": head("Content-Type: application/x-ndjson", "Content-Length: 6000") + PLATE + b"\n" + BEGUN,
    "streamed lines": head("Content-Type: application/x-ndjson", "Content-Length: 6000", "Prefer: stream") + PLATE + b"\n",
    "columns": head("Content-Type: application/vnd.apache.arrow.stream", "Content-Length: 6000") + b"\xff" * 4,
    "a body that is refused unread": head("Content-Type: text/plain", "Content-Length: 6000") + BEGUN,
    "a body of nothing that is there": head("Content-Length: 6000", line="POST /nothing HTTP/1.1") + BEGUN,
}
LONG = os.environ.get("PLATEMARGIN_HOSTILE") == "long"


@pytest.fixture(scope="module")
def service(tmp_path_factory):
    """Start the service as it is without settings."""
    with serving(tmp_path_factory.mktemp("stalls")) as started:
        yield started


@contextmanager
def stalled(service, ways, **options):
    """Have callers stall in some ways, by turns, until the end of the block."""
    with ExitStack() as connections:
        for way in islice(cycle(ways), STALLED):
            connection = connections.enter_context(service.connect(**options))
            # The service may have closed it before all is sent.
            with suppress(ConnectionError, TimeoutError):
                connection.sendall(WAYS.get(way, way))
        yield connections


def longest_delay(service):
    """Return how long the slowest of some calls took, each after the other; after the first, one that stalls is found out."""
    return max(service.seconds_of_a_call() for _ in range(5))


@pytest.mark.parametrize("way", WAYS if LONG else ["half a head", "a body"])
def test_64_who_stall_in_one_way_do_not_delay_another(service, way):
    with stalled(service, [way]):
        assert longest_delay(service) < LONGEST_DELAY_SECONDS


def test_64_who_stall_in_every_way_do_not_delay_another(service):
    with stalled(service, WAYS):
        assert longest_delay(service) < LONGEST_DELAY_SECONDS


def test_64_who_read_nothing_do_not_delay_another(service):
    """Each asks ten times for 1 MB, and takes none of it."""
    asked = head(line="GET /openapi.json HTTP/1.1") * 10
    with stalled(service, [asked], received=4096):
        assert longest_delay(service) < LONGEST_DELAY_SECONDS


def test_64_who_drip_do_not_delay_another(service):
    """A byte every quarter of a second: no pause is long, and nothing ever comes to an end."""
    over = threading.Event()

    def drip(connections):
        while not over.wait(0.25):
            for connection in connections:
                with suppress(OSError):
                    connection.send(b" ")

    with ExitStack() as opened:
        dripping = [opened.enter_context(service.connect()) for _ in range(STALLED)]
        for connection in dripping:
            connection.sendall(head("Content-Type: application/json", "Content-Length: 6000") + BEGUN)
        dripper = threading.Thread(target=drip, args=(dripping,))
        dripper.start()
        try:
            assert longest_delay(service) < LONGEST_DELAY_SECONDS
        finally:
            over.set()
            dripper.join()


def test_a_caller_who_pauses_is_waited_for_while_nobody_else_waits(service):
    answer = service.tell(
        head("Content-Type: application/json", f"Content-Length: {len(PLATE)}") + BEGUN, PLATE[10:], pause=2.5
    )
    assert answer.statuses == [200]


def test_whoever_stalls_is_told(tmp_path):
    """408 with what happened, as soon as the pause is over; half a head is closed without a word."""
    with serving(tmp_path, PLATEMARGIN_READ_TIMEOUT_SECONDS="1") as service:
        begun = time.monotonic()
        answer = service.tell(WAYS["a body"])
        assert (answer.statuses, answer.closed) == ([408], True)
        assert answer.problem["type"] == "/problems/timeout"
        assert answer.problem["detail"] == "Nothing of the body came for 1 s: send all of it, without a pause."
        assert time.monotonic() - begun < 8
        assert service.tell(WAYS["half a head"]).raw == b""
        assert service.tell(b"").closed


def test_a_connection_is_kept_between_requests_and_requests_may_come_together(service):
    whole = head("Content-Type: application/json", f"Content-Length: {len(PLATE)}") + PLATE
    with socket.create_connection(("127.0.0.1", service.port)) as connection:
        connection.sendall(whole * 5 + whole[:30])
        time.sleep(0.3)
        connection.sendall(whole[30:] + head("Connection: close", line=f"GET {PATH} HTTP/1.1"))
        held = b""
        while more := connection.recv(1 << 16):
            held += more
    assert held.count(b"HTTP/1.1 200 OK") == 7
