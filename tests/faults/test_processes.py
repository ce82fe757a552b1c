"""Processes that end under load: a worker killed, the service stopped, restarted without a gap, told to load its keys again."""

import hashlib
import json
import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
from contextlib import suppress
from pathlib import Path

import pytest

LONG = os.environ.get("PLATEMARGIN_FAULTS") == "long"
RESTARTS = 20 if LONG else 3
CALLERS = 4


def wait_for(holds, seconds=60):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if found := holds():
            return found
        time.sleep(0.05)
    return pytest.fail("it did not come about in time")


def is_gone(pid):
    """Tell whether a process has ended; whoever should have waited for it may not have yet (proc_pid_stat(5): Z)."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] == "Z"
    except OSError:
        return True


def test_a_killed_worker_loses_what_it_had_and_no_more(serving, calling):
    with serving() as service:
        with calling(service, CALLERS) as callers:
            for _ in range(3):
                time.sleep(0.5)
                victim = service.workers()[0]
                before = callers.outcomes["right"]
                os.kill(victim, signal.SIGKILL)
                wait_for(lambda before=before: callers.outcomes["right"] > before + 5)  # the others go on
                wait_for(lambda victim=victim: len(service.workers()) == 2 and victim not in service.workers())
            lost = callers.outcomes["lost"]
            time.sleep(1)
            assert callers.outcomes["lost"] == lost
        print(f"3 workers killed, {callers.outcomes['right']} answered, {callers.outcomes['lost']} lost")
        assert set(callers.outcomes) <= {"right", "lost"}
        assert callers.outcomes["lost"] <= 3 * CALLERS
        # What the killed had counted is not forgotten; what they had not sent, nobody knows.
        assert service.counted("platemargin_requests_total") >= callers.outcomes["right"]
        counts = re.search(r"/\S*platemargin-counts-[^/]+", Path(f"/proc/{service.workers()[0]}/maps").read_text())[0]
        assert len(list(Path(counts).glob("counter_*.db"))) <= 4  # the master's, two workers', and those of all that are gone


def test_whoever_was_accepted_is_answered_when_the_service_stops(serving):
    """Twelve calls of a second each, on eight threads: four of them have not begun when it is told to stop."""
    with serving() as service:
        told = []
        calls = [threading.Thread(target=lambda: told.append(service.fault("sleeps", 1)[0])) for _ in range(12)]
        for call in calls:
            call.start()
        time.sleep(0.5)
        service.process.send_signal(signal.SIGTERM)
        for call in calls:
            call.join()
        assert told == [200] * 12
        assert service.process.wait(30) == 0


def test_a_head_that_is_begun_while_the_service_stops_does_not_hold_it_up(serving):
    """A connection that is kept has two seconds for what may be on its way; half a head has no more, though 60 are set."""
    with serving(PLATEMARGIN_READ_TIMEOUT_SECONDS="60") as service:
        with socket.create_connection(("127.0.0.1", service.port), timeout=30) as connection:
            connection.sendall(b"GET /health/live HTTP/1.1\r\nHost: x\r\n\r\n")
            assert connection.recv(4096).startswith(b"HTTP/1.1 200 ")
            began = time.monotonic()
            service.process.send_signal(signal.SIGTERM)
            time.sleep(0.7)
            with suppress(ConnectionError):
                connection.sendall(b"GET /health/live HTTP/1.1\r\n")
            assert service.process.wait(60) == 0
        # Held up, it would end with the time that calculations have, 30 s.
        assert time.monotonic() - began < 20


SLOW_TO_BEGIN = """
import time
from pathlib import Path

from platemargin_api import server
from platemargin_api.server import *

def post_fork(master, worker):
    server.post_fork(master, worker)
    Path({begun!r}).touch()
    time.sleep(2)
"""


def test_a_worker_that_has_just_begun_hears_that_it_is_to_stop(tmp_path):
    """Until it has handlers of its own a signal goes to the master's, in the worker's process, where nobody would look."""
    begun, settings = tmp_path / "begun", tmp_path / "slow.py"
    settings.write_text(SLOW_TO_BEGIN.format(begun=str(begun)))
    command = [sys.executable, "-m", "gunicorn", "-c", str(settings), "--bind", "127.0.0.1:0"]
    with subprocess.Popen(command, env={**os.environ, "WEB_CONCURRENCY": "2"}) as master:
        wait_for(begun.exists)
        told = time.monotonic()
        master.send_signal(signal.SIGTERM)
        assert master.wait(60) == 0
        # Unheard, it would be ended after the time that calculations have, 30 s.
        assert time.monotonic() - told < 20


def test_rolling_restarts_lose_no_request(serving, calling):
    """SIGUSR2 starts a successor on the same socket, SIGTERM then stops the one before: nothing stands before them."""
    with serving() as service:
        master, seen = service.process.pid, set(service.workers())
        with calling(service, CALLERS) as callers:
            for _ in range(RESTARTS):
                before = callers.outcomes["right"]
                successor = started_successor(service, master)
                wait_for(lambda successor=successor: len(service.workers(successor)) == 2, 120)
                os.kill(master, signal.SIGTERM)
                wait_for(lambda master=master: is_gone(master))
                master = successor
                seen |= set(service.workers(master))
                wait_for(lambda before=before: callers.outcomes["right"] > before)
        assert len(seen) == 2 * (RESTARTS + 1)
        assert set(callers.outcomes) == {"right"}
        print(f"{RESTARTS} rolling restarts, {callers.outcomes['right']} requests, the longest {callers.longest:.2f} s")


def started_successor(service, master):
    """Ask for a successor until there is one: a successor itself has to notice first that it is the only one."""

    def asked():
        others = [pid for pid in service.workers(master) if pid not in workers]
        if not others:
            os.kill(master, signal.SIGUSR2)
            time.sleep(0.5)
        return next((pid for pid in others if service.workers(pid)), None)

    workers = service.workers(master)

    return wait_for(asked, 120)


def test_a_hangup_reloads_keys_and_loses_nothing_and_plug_ins_need_a_restart(serving, tmp_path):
    """README, "Running it": what SIGHUP does and does not do."""
    keys, rule_sets = tmp_path / "keys.toml", tmp_path / "rule-sets"
    rule_sets.mkdir()
    (rule_sets / "first-terms.toml").write_text(RULE_SET.replace("ID", "first-terms"))
    with serving(PLATEMARGIN_KEYS=str(keys_with(keys, "first")), PLATEMARGIN_RULE_SETS=str(rule_sets)) as service:

        def listed(key):
            status, _, told = service.call("/v1/rule-sets", headers={"Authorization": f"Bearer {key}"})
            return status if status != 200 else {one["id"] for one in json.loads(told)["rule_sets"]}

        assert "first-terms" in listed("first")
        assert listed("second") == 401
        (rule_sets / "second-terms.toml").write_text(RULE_SET.replace("ID", "second-terms"))
        keys_with(keys, "first", "second")
        before, outcomes, stop = set(service.workers()), [], threading.Event()

        def ask():
            while not stop.is_set():
                outcomes.append(type(listed("first")))

        asking = threading.Thread(target=ask)
        asking.start()
        service.process.send_signal(signal.SIGHUP)
        wait_for(lambda: len(service.workers()) == 2 and not before & set(service.workers()))
        stop.set()
        asking.join()
        assert set(outcomes) == {set}
        assert "second-terms" not in listed("second")
    with serving(PLATEMARGIN_KEYS=str(keys), PLATEMARGIN_RULE_SETS=str(rule_sets)) as service:
        told = service.call("/v1/rule-sets", headers={"Authorization": "Bearer second"})[2]
        assert "second-terms" in told.decode()


def keys_with(file, *keys):
    beside = file.with_suffix(".new")
    beside.write_text("".join(STANZA.format(key, hashlib.sha256(key.encode()).hexdigest()) for key in keys))
    beside.replace(file)
    return file


STANZA = '[[keys]]\nname = "{}"\nsha256 = "{}"\nrequests_per_minute = 1000000\n'
RULE_SET = """
id = "ID"
version = "1.0.0"
title = "Terms of an invented insurer"
[[references]]
id = "ID-policy"
title = "Policy of an invented insurer"
year = 2026
clause = "section 7"
basis = "common_practice"
[[rules]]
id = "ID-bottom"
quantity = "residual_mm"
at_least = 5.0
severity = "act"
statement = "Bottom plate below this is renewed."
reference = "ID-policy"
"""
