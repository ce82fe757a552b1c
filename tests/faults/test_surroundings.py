"""What is around the service fails: the disk is full, the clock jumps, callers leave in the middle."""

import hashlib
import json
import resource
import socket
import struct
import subprocess
import threading
import time

import pytest

MARGIN = "/v1/calculations/plate-margin"
PLATE = json.dumps({"original_mm": 10, "plate_mm": 8.8, "pit_depth_mm": 2.6, "years_in_service": 16})
LINES = "application/x-ndjson"
#: An answer of some 265 bytes a row: 1 MB is kept in memory, more in a file.
FEW, MANY = 1_000, 40_000
WORKERS, THREADS = 2, 4


@pytest.fixture
def small_disk(tmp_path):
    """Return a folder on a disk of 4 MB."""
    folder = tmp_path / "small"
    folder.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=4m", "tmpfs", folder], capture_output=True, check=False)
    if mounted.returncode:
        pytest.skip("a file system of its own needs root, and the right to mount")
    yield folder
    subprocess.run(["umount", "--lazy", folder], check=True)


def refused_for_want_of_room(service, calling, folder):
    """Call for more than there is room for, while others call; nothing is left of it, and all others are answered."""
    with calling(service) as callers:
        for _ in range(3):
            status, _, told = service.call(MARGIN, f"{PLATE}\n" * MANY, LINES)
            assert (status, json.loads(told)["type"]) == (503, "/problems/busy")
            assert list(folder.iterdir()) == []
            status, _, told = service.call(MARGIN, f"{PLATE}\n" * FEW, LINES)
            assert (status, json.loads(told.splitlines()[-1])["summary"]["answered"]) == (200, FEW)
    assert set(callers.outcomes) == {"right"}


def test_a_full_disk_refuses_what_has_to_be_held_and_nothing_else(serving, calling, small_disk):
    with serving(TMPDIR=str(small_disk)) as service:
        workers = service.workers()
        refused_for_want_of_room(service, calling, small_disk)
        # What is streamed needs no room, and a disk that is full to the last byte ends no worker.
        (small_disk / "others").write_bytes(b"x" * (4 * 1024 * 1024))
        with calling(service) as callers:
            status, _, told = service.call(MARGIN, f"{PLATE}\n" * MANY, LINES, {"Prefer": "stream"})
            assert (status, json.loads(told.splitlines()[-1])["summary"]["answered"]) == (200, MANY)
            for calculation in ("residual-thickness", "corrosion-rate", "deepest-pit", "anode-sizing"):
                assert service.call(f"/v1/calculations/{calculation}", {})[0] == 422
        assert set(callers.outcomes) == {"right"}
        assert service.workers() == workers


def test_files_that_may_not_grow_refuse_the_same(serving, calling, tmp_path):
    """Where no disk can be mounted: a process whose files may have 2 MB (setrlimit(2))."""
    folder = tmp_path / "held"
    folder.mkdir()
    most = 2 * 1024 * 1024
    limit = lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))  # noqa: E731  a function of one expression
    with serving(TMPDIR=str(folder), PLATEMARGIN_REQUEST_LOG="off", limit=limit) as service:
        refused_for_want_of_room(service, calling, folder)


@pytest.mark.parametrize("seconds", [-86_400, 86_400])
def test_a_clock_that_jumps_changes_no_answer_and_no_deadline(seconds, serving, calling):
    """One worker, whose time of day a plug-in sets; days of keys follow it, and nothing else."""
    with serving(WEB_CONCURRENCY="1", PLATEMARGIN_DEADLINE_SECONDS="2") as service, calling(service) as callers:
        assert service.fault("moves-the-clock", seconds)[0] == 200
        # Counted in a time that does not jump: a call of a second is in time, one of nine is late, and after two.
        assert service.fault("sleeps", 1)[0] == 200
        began = time.monotonic()
        assert service.fault("sleeps", 9)[0] == 503
        assert 2 <= time.monotonic() - began < 8
        time.sleep(1)  # the line comes after the answer
        (line,) = [line for line in service.told("request") if line["status"] == 503]
        assert 2_000 <= line["ms"] < 4_000
    assert set(callers.outcomes) == {"right"}


@pytest.mark.parametrize("seconds", [-3600, 3600])
def test_a_clock_that_jumps_locks_no_key_out(seconds, serving, tmp_path):
    """Ten calls a minute; after the jump they are counted anew, not for an hour with those of the other time."""
    keys = tmp_path / "keys.toml"
    hashes = {name: hashlib.sha256(name.encode()).hexdigest() for name in ("caller", "clock")}
    stanzas = [f'[[keys]]\nname = "{name}"\nsha256 = "{value}"\nrequests_per_minute = 10\n' for name, value in hashes.items()]
    keys.write_text("".join(stanzas))
    with serving(WEB_CONCURRENCY="1", PLATEMARGIN_KEYS=str(keys)) as service:

        def call(key, path=MARGIN, body=PLATE):
            return service.call(path, body, headers={"Authorization": f"Bearer {key}"})[0]

        assert [call("caller") for _ in range(12)] == [200] * 10 + [429] * 2
        assert call("clock", "/v1/calculations/moves-the-clock", {"fault": seconds}) == 200
        assert [call("caller") for _ in range(12)] == [200] * 10 + [429] * 2


def sent(service, head, body=b"", path=MARGIN):
    """Send a request on a connection whose reader holds next to nothing, so that what is not read stays with the sender."""
    connection = socket.socket()
    connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    connection.settimeout(60)
    connection.connect(("127.0.0.1", service.port))
    lines = "".join(f"{line}\r\n" for line in ("Host: x", *head))
    connection.sendall(f"POST {path} HTTP/1.1\r\n{lines}\r\n".encode() + body)
    return connection


def leave(connection):
    """Close at once, as a caller who is killed does: what comes is reset (socket(7), SO_LINGER)."""
    connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    connection.close()


def leave_in_the_upload(service):
    leave(sent(service, ["Content-Type: application/json", "Content-Length: 1000"], b'{"original_mm": 10, '))


def leave_in_the_answer(service):
    body = f"{PLATE}\n".encode() * 5_000
    connection = sent(service, [f"Content-Type: {LINES}", f"Content-Length: {len(body)}"], body)
    connection.recv(4096)
    leave(connection)


def leave_in_the_stream(service):
    body = f"{PLATE}\n".encode() * 20_000
    head = [f"Content-Type: {LINES}", f"Content-Length: {10 * len(body)}", "Prefer: stream"]
    connection = sent(service, head, body[: len(body) // 10])
    connection.recv(4096)
    leave(connection)


@pytest.mark.parametrize("left", [leave_in_the_upload, leave_in_the_answer, leave_in_the_stream])
def test_a_caller_who_leaves_frees_the_thread(left, service):
    """Twice as many as there are threads leave; the next is answered as soon as ever."""
    leaving = [threading.Thread(target=left, args=(service,)) for _ in range(2 * WORKERS * THREADS)]
    for one in leaving:
        one.start()
    for one in leaving:
        one.join()
    began = time.monotonic()
    for _ in range(4 * WORKERS):
        assert service.call(MARGIN, PLATE)[0] == 200
    took = time.monotonic() - began
    print(f"{left.__name__}: eight calls after it took {took:.2f} s")
    assert took < 5


def test_a_caller_who_takes_nothing_is_given_up(serving):
    """As many as there are threads stay, and read nothing of 10 MB: after the pause that senders have, others are answered."""
    with serving(PLATEMARGIN_READ_TIMEOUT_SECONDS="2") as service:
        body = json.dumps(survey(20_000)).encode()
        head = ["Content-Type: application/json", f"Content-Length: {len(body)}"]
        staying = [sent(service, head, body, "/v1/calculations/hull-survey") for _ in range(WORKERS * THREADS)]
        for connection in staying:
            assert connection.recv(1) == b"H"  # the answer is on its way
        began = time.monotonic()
        for _ in range(2 * WORKERS):
            assert service.call(MARGIN, PLATE, timeout=30)[0] == 200
        print(f"others were answered after {time.monotonic() - began:.1f} s")
        for connection in staying:
            connection.close()


def survey(count):
    readings = [{"zone": "baseplate", "side": "port", "plate_mm": 9 + (at % 7) / 10} for at in range(count)]
    hull = {"length_m": 17.5, "beam_m": 2.1, "draught_m": 0.65}
    return {"hull": hull, "surveyed_on": "2024-12-31", "plating_notation": "10/6/5", "readings": readings}
