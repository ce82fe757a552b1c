"""The servers that are measured: each a process of its own on the first core, on a port that is free."""

import os
import socket
import subprocess
import sys
import time
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import client

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
PEER = ROOT / "build" / "peers" / "bin" / "python"
SERVER_CORE, CALLER_CORE = 0, (os.cpu_count() or 1) - 1
#: What is started is compiled already, as what is installed is; the first start may write that.
ENVIRONMENT = {
    **{name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"},
    "PYTHONPATH": str(HERE),
    "WEB_CONCURRENCY": "1",
    "OPENBLAS_NUM_THREADS": "1",
    # A line a request would be told between the tables, and no peer writes one.
    "PLATEMARGIN_REQUEST_LOG": "off",
}
GUNICORN = [sys.executable, "-m", "gunicorn", "-c", "python:platemargin_api.server", "--bind", "127.0.0.1:{port}"]
UVICORN = [PEER, "-m", "uvicorn", "--loop", "uvloop", "--http", "httptools", "--no-access-log", "--log-level", "warning"]
#: A floor has the threads that everybody's application has, and not the service's own worker.
FLOOR = [*GUNICORN, "--worker-class", "gthread"]
COMMANDS = {
    "bare": [*FLOOR, "floors:bare()"],
    "flask": [*FLOOR, "floors:flask()"],
    "service": [*GUNICORN, "floors:service()"],
    "peer": [*UVICORN, "--port", "{port}", "peer:app"],
}
#: What the service imports of others.
IMPORTS = "import apispec, flask, gunicorn.app.wsgiapp, marshmallow, msgspec, numpy, orjson, scipy.special"


@dataclass(frozen=True)
class Running:
    process: subprocess.Popen
    port: int


def pin_caller():
    os.sched_setaffinity(0, {CALLER_CORE})


def free_port():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return taken.getsockname()[1]


@contextmanager
def running(name):
    """Run a server until the end of the block."""
    with _process(COMMANDS[name]) as server:
        wait(server)
        yield server


@contextmanager
def _process(command):
    port = free_port()
    filled = ["taskset", "-c", str(SERVER_CORE), *(str(part).format(port=port) for part in command)]
    process = subprocess.Popen(filled, env=ENVIRONMENT, cwd=ROOT)
    try:
        yield Running(process, port)
    finally:
        process.terminate()
        process.wait(30)


def wait(server, seconds=30):
    """Wait until something answers at the port."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if server.process.poll() is not None:
            raise subprocess.SubprocessError(f"{server.process.args} ended with {server.process.returncode}")
        try:
            return client.answered(server.port, b"GET /health/ready HTTP/1.1\r\nHost: localhost\r\n\r\n")[0]
        except ConnectionError:
            time.sleep(0.002)
    raise subprocess.SubprocessError(f"{server.process.args} did not answer in {seconds} s")


def seconds_to_first_answer():
    """Return how long `platemargin serve` takes from its start to its first 200."""
    begun = time.perf_counter()
    with _process([sys.executable, "-m", "platemargin_api", "serve", "--bind", "127.0.0.1:{port}"]) as server:
        status = wait(server)
        assert status == 200
        return time.perf_counter() - begun


def seconds_to_import():
    """Return how long Python takes to start and import what the service imports of others."""
    begun = time.perf_counter()
    subprocess.run(["taskset", "-c", str(SERVER_CORE), sys.executable, "-c", IMPORTS], check=True)
    return time.perf_counter() - begun


def busy_seconds(server):
    """Return the processor's time that the server's one working process has had."""
    spent = Path(f"/proc/{worker_of(server)}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(spent[11]) + int(spent[12])) / os.sysconf("SC_CLK_TCK")


def worker_of(server):
    """Return the process that answers: the server's only child, or the server itself."""
    own = server.process.pid
    children = Path(f"/proc/{own}/task/{own}/children").read_text(encoding="ascii").split()
    return int(children[0]) if children else own


def private_megabytes(server):
    """Return what the server's worker holds that it does not share with the process that it was forked from."""
    worker = worker_of(server)
    lines = Path(f"/proc/{worker}/smaps_rollup").read_text(encoding="ascii").splitlines()
    return sum(int(line.split()[1]) for line in lines if line.startswith("Private_")) / 1024
