"""What the tests of many rows share: the real server, and requests of every calculation, good and bad."""

import importlib.util
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest

BAD_REQUESTS = Path(__file__).parents[1] / "contract" / "test_bad_requests.py"


@pytest.fixture(scope="session")
def bad_requests():
    """Return the module that holds the table of bad requests, and a good one of each calculation."""
    spec = importlib.util.spec_from_file_location("bad_requests", BAD_REQUESTS)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


class Server:
    """A service of one worker on a socket in a folder of its own."""

    def __init__(self, folder, process):
        self.folder, self.process = folder, process

    def connect(self):
        connection = socket.socket(socket.AF_UNIX)
        connection.settimeout(60)
        connection.connect(str(self.folder / "socket"))
        return connection

    def worker(self):
        """Return the process id of the worker."""
        return Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text().split()[0]

    def resident_mb(self):
        """Return what the worker holds in memory, in MB (proc_pid_status(5)): VmRSS."""
        lines = Path(f"/proc/{self.worker()}/status").read_text().splitlines()
        return int(next(line for line in lines if line.startswith("VmRSS:")).split()[1]) / 1024


@pytest.fixture(scope="module")
def server():
    """Start the service as it is served, with a pause of 1 s at most in what is sent to it, and stop it."""
    folder = Path(tempfile.mkdtemp(prefix="platemargin-"))
    environment = {
        **os.environ,
        "PLATEMARGIN_BIND": f"unix:{folder / 'socket'}",
        "PLATEMARGIN_READ_TIMEOUT_SECONDS": "1",
        "WEB_CONCURRENCY": "1",
    }
    command = [sys.executable, "-m", "gunicorn", "-c", "python:platemargin_api.server"]
    with (folder / "log").open("wb") as log, subprocess.Popen(command, env=environment, stdout=log, stderr=log) as process:
        try:
            deadline = time.monotonic() + 60
            while not (folder / "socket").exists():
                assert process.poll() is None, (folder / "log").read_text()
                assert time.monotonic() < deadline
                time.sleep(0.05)
            yield Server(folder, process)
        finally:
            process.terminate()
            process.wait(timeout=60)
    shutil.rmtree(folder)
