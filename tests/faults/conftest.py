"""The real service with calculations installed that fail in every way, and callers who hold each answer to its bytes."""

import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from collections import Counter
from contextlib import contextmanager, suppress
from http.client import HTTPConnection, HTTPException
from pathlib import Path

import pytest

FAULTY = Path(__file__).parent / "platemargin-faulty"
PLATE = json.dumps({"original_mm": 10, "plate_mm": 8.8, "pit_depth_mm": 2.6, "years_in_service": 16})
MARGIN = "/v1/calculations/plate-margin"
#: Between two calls: what is started meanwhile needs some of the processor, too.
PAUSE_SECONDS = 0.01
#: What became of a call that got no answer, or half of one.
LOST = "lost"


class Service:
    """A service that was started; its workers are the children of its master."""

    def __init__(self, process, port, log):
        self.process, self.port, self.log = process, port, log

    def call(self, path, body=None, media="application/json", headers=(), timeout=60):
        """Send one request on a connection of its own; return status, headers and body."""
        connection = HTTPConnection("127.0.0.1", self.port, timeout=timeout)
        try:
            content = body if isinstance(body, (bytes, str, type(None))) else json.dumps(body)
            connection.request("GET" if body is None else "POST", path, content, {"Content-Type": media, **dict(headers)})
            response = connection.getresponse()
            return response.status, response.headers, response.read()
        finally:
            connection.close()

    def fault(self, name, fault):
        """Send a call of a faulty calculation; return the status, and the answer or the problem."""
        status, _, body = self.call(f"/v1/calculations/{name}", {"fault": fault})
        return status, json.loads(body)

    def workers(self, master=None):
        return children(master or self.process.pid)

    def counted(self, name):
        """Return the sum of a count over its labels, as Prometheus would read it."""
        lines = self.call("/metrics")[2].decode().splitlines()
        return sum(float(line.split()[-1]) for line in lines if line.startswith((f"{name} ", f"{name}{{")))

    def told(self, event):
        """Return the lines of the log of an event."""
        lines = [json.loads(line) for line in self.log.read_text().splitlines() if line.startswith("{")]
        return [line for line in lines if event in line["event"]]


class Callers:
    """Threads that call one calculation all the time, each second one over a connection that stays open."""

    def __init__(self, port, count, expected):
        self.outcomes = Counter()
        self.longest = 0.0
        self._port, self._expected, self._stop = port, expected, threading.Event()
        self._threads = [threading.Thread(target=self._call, args=(at % 2 == 0,)) for at in range(count)]

    def __enter__(self):
        for thread in self._threads:
            thread.start()
        return self

    def __exit__(self, *_):
        self._stop.set()
        for thread in self._threads:
            thread.join()

    def _call(self, kept):
        connection = HTTPConnection("127.0.0.1", self._port, timeout=60)
        while not self._stop.is_set():
            began = time.monotonic()
            try:
                connection.request("POST", MARGIN, PLATE, {"Content-Type": "application/json"})
                response = connection.getresponse()
                body = response.read()
                self.outcomes["right" if body == self._expected else response.status] += 1
            except (HTTPException, OSError):
                self.outcomes[LOST] += 1
                connection.close()
            self.longest = max(self.longest, time.monotonic() - began)
            time.sleep(PAUSE_SECONDS)
            if not kept:
                connection.close()
        connection.close()


def children(pid):
    with suppress(OSError):
        return [int(child) for child in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
    return []


def wait_for(holds, seconds=60):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if found := holds():
            return found
        time.sleep(0.05)
    return pytest.fail("it did not come about in time")


@pytest.fixture(scope="session")
def site(tmp_path_factory):
    """Return a folder that the faulty calculations are installed in; this environment does not change."""
    folder = tmp_path_factory.mktemp("faulty")
    source = shutil.copytree(FAULTY, folder / "source", ignore=shutil.ignore_patterns("__pycache__"))
    offline = ["--no-index", "--no-deps", "--no-build-isolation", "--disable-pip-version-check"]
    install = [sys.executable, "-m", "pip", "install", "--quiet", *offline, "--target", folder / "site", source]
    subprocess.run(install, check=True)
    return folder / "site"


@contextmanager
def served(site, folder, limit=None, **settings):
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    environment = {**os.environ, "PYTHONPATH": str(site), "WEB_CONCURRENCY": "2", **settings}
    command = [str(Path(sys.executable).with_name("platemargin")), "serve", "--bind", f"127.0.0.1:{port}"]
    log = folder / f"log-{port}"
    with (
        log.open("wb") as written,
        subprocess.Popen(
            command,
            env=environment,
            stdout=written,
            stderr=written,
            start_new_session=True,
            preexec_fn=limit,  # noqa: PLW1509  no thread runs yet
        ) as process,
    ):
        service = Service(process, port, log)
        try:
            wait_for(lambda: is_ready(service) or process.poll() is not None)
            assert process.poll() is None, log.read_text()
            wait_for(lambda: len(service.workers()) == int(environment["WEB_CONCURRENCY"]))
            yield service
        finally:
            # Whatever was started of it is in its process group: a successor, too.
            with suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)


def is_ready(service):
    with suppress(OSError, HTTPException):
        return service.call("/health/ready", timeout=5)[0] == 200
    return False


@pytest.fixture
def serving(site, tmp_path):
    """Return a function that serves, with settings of the test's own."""
    return lambda **settings: served(site, tmp_path, **settings)


@pytest.fixture(scope="module")
def service(site, tmp_path_factory):
    """Return a service of two workers that allows a calculation 2 seconds."""
    with served(site, tmp_path_factory.mktemp("service"), PLATEMARGIN_DEADLINE_SECONDS="2") as running:
        yield running


@pytest.fixture
def calling():
    """Return a function that calls a service all the time; every answer has to be the bytes of the first."""

    def begun(service, count=4):
        status, _, expected = service.call(MARGIN, PLATE)
        assert status == 200
        return Callers(service.port, count, expected)

    return begun
