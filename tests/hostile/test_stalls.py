"""Callers who stall, in as many ways as a connection has: none of them keeps the service from others for longer than 15 s.

Two workers and 64 stalled callers, with the settings that the service has by itself.
"""

import importlib.util
import sys
import time
from contextlib import ExitStack
from pathlib import Path

import pytest

_spec = importlib.util.spec_from_file_location("hostile_conftest", Path(__file__).with_name("conftest.py"))
hostile = importlib.util.module_from_spec(_spec)
sys.modules[_spec.name] = hostile
_spec.loader.exec_module(hostile)

STALLED, LONGEST_DELAY_SECONDS = 64, 15
BEGUN = hostile.PLATE[:10]
STALLS = {
    "nothing": b"",
    "half a head": hostile.head()[:-2],
    "half of a second head": hostile.head(line="GET /health/live HTTP/1.1") + b"GET /health",
    "a body declared": hostile.head("Content-Type: application/json", "Content-Length: 60") + BEGUN,
    "a body in chunks": hostile.head("Content-Type: application/json", "Transfer-Encoding: chunked") + b"3c\r\n" + BEGUN,
    "a large body": hostile.head("Content-Type: application/json", "Content-Length: 8000000") + b" " * 300_000,
    "lines": hostile.head("Content-Type: application/x-ndjson", "Content-Length: 6000") + hostile.PLATE + b"\n" + BEGUN,
    "columns": hostile.head("Content-Type: application/vnd.apache.arrow.stream", "Content-Length: 6000") + b"\xff" * 4,
    "a body that is refused unread": hostile.head("Content-Type: text/plain", "Content-Length: 6000") + BEGUN,
    "a body of nothing that is there": hostile.head("Content-Length: 6000", line="POST /nothing HTTP/1.1") + BEGUN,
}


@pytest.mark.parametrize("stall", STALLS)
def test_64_who_stall_do_not_delay_another(tmp_path, stall):
    with hostile.serving(tmp_path) as service, ExitStack() as stalled:
        for _ in range(STALLED):
            stalled.enter_context(service.connect()).sendall(STALLS[stall])
        time.sleep(0.2)
        delays = [service.seconds_of_a_call() for _ in range(5)]
        print(stall, [round(delay, 2) for delay in delays])
        assert max(delays) < LONGEST_DELAY_SECONDS
