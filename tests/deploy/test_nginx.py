"""Two services behind Debian's nginx with the settings of docker/nginx.conf: one killed under load, each restarted in turn."""

import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from contextlib import ExitStack, contextmanager
from http.client import HTTPConnection, IncompleteRead
from pathlib import Path

import pytest

NGINX = shutil.which("nginx") or next((path for path in ("/usr/sbin/nginx",) if Path(path).exists()), None)
pytestmark = pytest.mark.skipif(NGINX is None, reason="the Debian package nginx-light is not installed")
SETTINGS = (Path(__file__).parents[2] / "docker/nginx.conf").read_text(encoding="utf-8")
PLATE = json.dumps({"original_mm": 10, "plate_mm": 8.8, "pit_depth_mm": 2.6, "years_in_service": 16})
CALLERS, SECONDS = 6, 6


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@contextmanager
def service(port):
    command = [sys.executable, "-m", "platemargin_api", "serve", "--bind", f"127.0.0.1:{port}"]
    environment = {**os.environ, "WEB_CONCURRENCY": "1", "PLATEMARGIN_REQUEST_LOG": "off"}
    with subprocess.Popen(command, env=environment, start_new_session=True) as process:
        try:
            wait_for(lambda: answered(port, "GET", "/health/ready") == 200)
            yield process
        finally:
            if process.poll() is None:
                os.killpg(process.pid, signal.SIGKILL)
            process.wait(30)


@contextmanager
def proxy(folder, port, ports):
    """Run nginx with the documented settings, at ports of this test's own."""
    told = SETTINGS.replace("127.0.0.1:8080", f"127.0.0.1:{port}")
    for documented, own in zip((8000, 8001), ports, strict=True):
        told = told.replace(f"127.0.0.1:{documented}", f"127.0.0.1:{own}")
    scratch = "".join(f"{kind}_temp_path {folder}/{kind};" for kind in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi"))
    told = told.replace("http {", f"http {{ access_log off; {scratch}", 1).replace(
        "worker_processes auto;", "worker_processes 1;"
    )
    file = folder / "nginx.conf"
    file.write_text(f"daemon off; pid {folder}/pid; error_log {folder}/errors;\n{told}")
    with subprocess.Popen([NGINX, "-c", file, "-p", folder, "-e", folder / "errors"]) as process:
        try:
            wait_for(lambda: answered(port, "GET", "/health/ready") == 200)
            yield
        finally:
            process.terminate()
            process.wait(30)


def wait_for(holds, seconds=60):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if holds():
            return
        time.sleep(0.05)
    pytest.fail("it did not come about in time")


#: What an answer that was cut off is told as: its head had gone out when its server died, and no proxy can take that back.
CUT = "cut"


def answered(port, method, path, body=None):
    """Return the status of one call; None where nobody answers, CUT where less came than its Content-Length says."""
    connection = HTTPConnection("127.0.0.1", port, timeout=60)
    try:
        connection.request(method, path, body, {"Content-Type": "application/json"} if body else {})
        response = connection.getresponse()
        response.read()
    except IncompleteRead:
        return CUT
    except (ConnectionError, TimeoutError):
        return None
    else:
        return response.status
    finally:
        connection.close()


def call_until(end, port, told):
    while time.monotonic() < end:
        told.append(answered(port, "POST", "/v1/calculations/plate-margin", PLATE))


def test_one_of_two_is_killed_under_load_and_no_answer_fails(tmp_path):
    """What was being sent in that very moment may be cut, which its caller sees; none of more calls than were on their way."""
    ports, port, told = (free_port(), free_port()), free_port(), []
    with ExitStack() as stack:
        first, _ = (stack.enter_context(service(own)) for own in ports)
        stack.enter_context(proxy(tmp_path, port, ports))
        end = time.monotonic() + SECONDS
        callers = [threading.Thread(target=call_until, args=(end, port, told)) for _ in range(CALLERS)]
        for caller in callers:
            caller.start()
        time.sleep(SECONDS / 3)
        before = len(told)
        os.killpg(first.pid, signal.SIGKILL)
        for caller in callers:
            caller.join()
    assert before > 20
    assert len(told) > before + 20
    assert set(told) <= {200, CUT}
    assert told.count(CUT) <= CALLERS


def test_a_rolling_restart_loses_no_answer(tmp_path):
    """Each of the two is told to stop in turn, and another takes its port, while calls come in."""
    ports, port, told = (free_port(), free_port()), free_port(), []
    with ExitStack() as stack:
        running = [stack.enter_context(service(own)) for own in ports]
        stack.enter_context(proxy(tmp_path, port, ports))
        end = time.monotonic() + 60
        stop = threading.Event()
        callers = [threading.Thread(target=call_while, args=(stop, end, port, told)) for _ in range(CALLERS)]
        for caller in callers:
            caller.start()
        for own, process in zip(ports, running, strict=True):
            process.send_signal(signal.SIGTERM)
            assert process.wait(60) == 0
            stack.enter_context(service(own))
        stop.set()
        for caller in callers:
            caller.join()
    assert len(told) > 40
    assert {status: told.count(status) for status in set(told)} == {200: len(told)}


def call_while(stop, end, port, told):
    while not stop.is_set() and time.monotonic() < end:
        told.append(answered(port, "POST", "/v1/calculations/plate-margin", PLATE))


def test_the_readme_points_to_the_settings():
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    assert re.search(r"`docker/nginx\.conf`", readme)
