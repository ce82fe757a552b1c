"""The service as it is served, and callers who write bytes of their own: nothing between them and its door."""

import json
import os
import re
import socket
import subprocess
import sys
import time
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import pytest

PLATE = json.dumps({"original_mm": 10.0, "plate_mm": 8.8, "pit_depth_mm": 2.6}).encode()
NDJSON, ARROW = "application/x-ndjson", "application/vnd.apache.arrow.stream"
WORKERS = 2
PATH = "/v1/calculations/residual-thickness"


@dataclass(frozen=True)
class Came:
    """What came back: the status of each answer, all bytes, and whether the service closed the connection."""

    statuses: list[int]
    raw: bytes
    closed: bool

    @property
    def problem(self):
        """Return the last answer's body."""
        return json.loads(self.raw.rpartition(b"\r\n\r\n")[2])


class Service:
    """A service of some workers at a port of its own."""

    def __init__(self, port, process, log):
        self.port, self.process, self.log = port, process, log

    def connect(self, seconds=30, received=None):
        """Connect; `received` is how much this end holds of what comes and is not yet read."""
        connection = socket.socket()
        connection.settimeout(seconds)
        if received is not None:
            connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, received)
        try:
            connection.connect(("127.0.0.1", self.port))
        except OSError:
            connection.close()
            raise
        return connection

    def tell(self, *parts, over=False, seconds=10, pause=0.0):
        """Send parts as they are, say so where that is all, and read until the service closes or is silent for some seconds."""
        with self.connect() as connection:
            for part in parts:
                with suppress(ConnectionError):  # it has answered, and reads no more
                    connection.sendall(part)
                time.sleep(pause)
            if over:
                with suppress(OSError):
                    connection.shutdown(socket.SHUT_WR)
            return came(connection, seconds)

    def seconds_of_a_call(self, seconds=25):
        """Return how long a good call takes, which has to be answered."""
        begun = time.monotonic()
        with self.connect(seconds) as connection:
            connection.sendall(post(PLATE, "Connection: close"))
            answer = came(connection, seconds)
        assert answer.statuses == [200], answer.raw[:500]
        return time.monotonic() - begun

    def workers(self):
        own = self.process.pid
        return Path(f"/proc/{own}/task/{own}/children").read_text(encoding="ascii").split()

    def peak_mb(self):
        """Return what the largest worker has held in memory at most, in MB (proc_pid_status(5)): VmHWM."""
        return max(_status_kb(worker, "VmHWM") for worker in self.workers()) / 1024


def _status_kb(process, name):
    lines = Path(f"/proc/{process}/status").read_text(encoding="ascii").splitlines()
    return int(next(line for line in lines if line.startswith(f"{name}:")).split()[1])


def came(connection, seconds):
    """Read until the service closes, or is silent for some seconds."""
    held, closed = b"", False
    connection.settimeout(seconds)
    with suppress(TimeoutError):
        while not closed:
            try:
                more = connection.recv(1 << 16)
            except ConnectionError:
                more = b""
            held, closed = held + more, not more
    return Came([int(status) for status in re.findall(rb"(?:^|\n|\})HTTP/1\.1 (\d{3})", held)], held, closed)


def head(*headers, line=f"POST {PATH} HTTP/1.1", host="Host: here"):
    return "\r\n".join([line, *([host] if host else []), *headers, "", ""]).encode("latin-1")


def post(body, *headers, media="application/json"):
    return head(f"Content-Type: {media}", f"Content-Length: {len(body)}", *headers) + body


@contextmanager
def serving(folder, **settings):
    """Run the service until the end of the block; nothing of what it logs may be a failure of its own."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "platemargin_api", "serve", "--bind", f"127.0.0.1:{port}"]
    log = folder / "log"
    environment = {**os.environ, "WEB_CONCURRENCY": str(WORKERS), **settings}
    with log.open("wb") as written, subprocess.Popen(command, env=environment, stdout=written, stderr=written) as process:
        try:
            service = Service(port, process, log)
            _wait(service)
            began = service.workers()
            yield service
            assert service.workers() == began, log.read_text()
            assert b"Traceback" not in log.read_bytes(), log.read_text()
        finally:
            process.terminate()
            process.wait(60)


def _wait(service):
    """Wait until every worker is there, and one answers."""
    end = time.monotonic() + 60
    while time.monotonic() < end:
        assert service.process.poll() is None, service.log.read_text()
        with suppress(OSError):
            service.seconds_of_a_call()
            if len(service.workers()) == WORKERS:
                return
        time.sleep(0.05)
    pytest.fail(service.log.read_text())
