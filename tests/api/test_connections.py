"""Connections as threads and the worker's loop have them: what stalls is given up, what is over is counted once."""

import os
import selectors
import socket
import struct
import subprocess
import sys
from collections import deque
from concurrent.futures import Future
from contextlib import suppress
from types import SimpleNamespace

import pytest

from platemargin_api.heads import Worker
from platemargin_api.patience import PatientSocket


def test_whatever_is_sent_to_a_reader_who_takes_nothing_is_given_up():
    """Also the line that lets a body come (100 Continue), which the server sends by itself and with another function."""
    ours, theirs = socket.socketpair()
    with theirs, PatientSocket(ours, 1, lambda: False) as patient:
        with suppress(BlockingIOError):
            while True:
                socket.socket.send(patient, b" " * 65536, socket.MSG_DONTWAIT)
        # Where it waits in the system instead, this ends it, with another error (socket(7)).
        patient.setsockopt(socket.SOL_SOCKET, socket.SO_SNDTIMEO, struct.pack("ll", 10, 0))
        with pytest.raises(TimeoutError, match="came for 1 s"):
            patient.send(b"HTTP/1.1 100 Continue\r\n\r\n")


def test_a_connection_that_the_server_has_closed_is_forgotten():
    """It closes one by itself where an answer broke off in the middle."""
    worker = Worker.__new__(Worker)
    worker.nr_conns, worker._parting = 1, deque()
    ours, theirs = socket.socketpair()
    with theirs, selectors.DefaultSelector() as worker.poller:
        ours.close()
        call = Future()
        call.set_result(False)
        worker.finish_request(SimpleNamespace(sock=ours, close=ours.close), call)
    assert (worker.nr_conns, len(worker._parting)) == (0, 0)


@pytest.mark.parametrize(("shared", "places"), [(False, 3), (True, 1)])
def test_threads_take_memory_from_one_place(shared, places, tmp_path):
    """As the C library itself tells it (malloc_stats(3)); by default each thread has an own one."""
    program = f"""
import ctypes, threading
from types import SimpleNamespace
from platemargin_api import server
if {shared}:
    server.on_starting(SimpleNamespace(cfg=SimpleNamespace(address=[], is_ssl=False), handle_term=None))
met = threading.Barrier(3)
def take():
    held = bytes(10_000)
    met.wait()
threads = [threading.Thread(target=take) for _ in range(2)]
for thread in threads:
    thread.start()
met.wait()
ctypes.CDLL(None).malloc_stats()
"""
    # With a folder for counts that is given, none is made.
    environment = {name: value for name, value in os.environ.items() if name != "MALLOC_ARENA_MAX"}
    environment["PROMETHEUS_MULTIPROC_DIR"] = str(tmp_path)
    done = subprocess.run([sys.executable, "-c", program], env=environment, check=True, capture_output=True, text=True)
    assert done.stderr.count("Arena ") == places, done.stderr
