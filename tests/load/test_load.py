"""What `make load` compares does the same work, and its caller counts whole answers. No time is measured here."""

import contextlib
import gc
import json
import socket
import sys
import threading
from pathlib import Path

import pytest

from platemargin_api import server
from platemargin_api.app import create_app


@pytest.fixture(autouse=True, scope="module")
def _beside():
    sys.path.insert(0, str(Path(__file__).parent))
    yield
    sys.path.remove(str(Path(__file__).parent))


def test_what_is_loaded_is_left_out_of_a_workers_collections():
    before = gc.get_freeze_count()
    try:
        server.pre_fork(None, None)
        assert gc.get_freeze_count() > before + 1000
    finally:
        gc.unfreeze()


def test_the_readings_are_answered_alike_by_marshmallow_both_ways():
    import floors  # noqa: PLC0415  the folder is on the path now
    import work  # noqa: PLC0415

    sent = {"readings": work.readings()}
    ours = floors.service().test_client().post("/v1/calculations/readings", json=sent)
    theirs = floors.flask().test_client().post("/readings", json=sent)
    assert ours.status_code == theirs.status_code == 200
    assert ours.json["result"] == theirs.json["result"]
    assert len(ours.json["result"]["readings"]) == work.ROWS


@pytest.mark.parametrize("name", ["plate-margin", "readings"])
def test_the_least_of_an_answer_is_its_result(name):
    import floors  # noqa: PLC0415
    import work  # noqa: PLC0415

    sent = work.plate() if name == "plate-margin" else {"readings": work.readings()}
    ours = floors.service().test_client().post(f"/v1/calculations/{name}", json=sent)
    least = floors.flask().test_client().post(f"/least/{name}", json=sent)
    assert least.json == {"result": ours.json["result"]}


def test_what_is_posted_is_answered():
    import work  # noqa: PLC0415

    client = create_app(work.registry()).test_client()
    for name, sent in (("plate-margin", work.plate()), ("hull-survey", work.survey())):
        assert client.post(f"/v1/calculations/{name}", json=sent).status_code == 200


@pytest.fixture
def port():
    """Serve any number of posts over one connection, each answer in two parts."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        threading.Thread(target=_answers, args=(server,), daemon=True).start()
        yield server.getsockname()[1]


def _answers(server):
    made, _ = server.accept()
    # The caller leaves when its time is over, in the middle of an answer.
    with made, contextlib.suppress(ConnectionError):
        while made.recv(1 << 16):
            made.sendall(b"HTTP/1.1 200 OK\r\nContent-Length: 10\r\n\r\n{")
            made.sendall(b'"a": "b"}')


def test_the_caller_counts_whole_answers(port):
    import client  # noqa: PLC0415

    measured = client.measure(port, client.message("/", json.dumps({}).encode()), connections=1, seconds=0.2)
    assert len(measured.times) >= 1
    assert measured.times == sorted(measured.times)
    assert measured.percentile(0.5) <= measured.percentile(1.0) == measured.times[-1]
