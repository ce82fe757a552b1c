"""The demo is what a newcomer sees first: the real service, a survey that a surveyor could have made, a readable answer."""

import json
import re
import socket
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest

from platemargin_api.app import create_app
from platemargin_api.demo import SURVEY, served, table

DEMO = [sys.executable, "-m", "platemargin_api", "demo"]


@pytest.fixture(scope="module")
def survey():
    return json.loads(SURVEY.read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def answer(survey):
    response = create_app().test_client().post("/v1/calculations/hull-survey", json=survey)
    assert response.status_code == 200
    return response.json


@pytest.fixture(scope="module")
def taken_port():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        yield taken.getsockname()[1]


@pytest.fixture(scope="module")
def shown(taken_port):
    return subprocess.run([*DEMO, "--port", str(taken_port)], capture_output=True, text=True, check=True, timeout=60)


def test_survey_is_a_real_surveys_size_and_spread(survey):
    """An invented boat of 17 to 18 m with about 100 readings over baseplate, chine, sides and swims."""
    zones = Counter(reading["zone"] for reading in survey["readings"])
    assert 17 <= survey["hull"]["length_m"] <= 18
    assert 90 <= len(survey["readings"]) <= 110
    assert {"baseplate", "chine", "side", "swim"} <= set(zones)
    assert all(reading["plate_mm"] == round(reading["plate_mm"], 1) for reading in survey["readings"])


def test_demo_takes_a_free_port_and_stops_cleanly(shown, taken_port):
    """A taken port is no obstacle, nothing is said on stderr, and no process is left."""
    assert shown.stderr == ""
    port = re.search(r"to http://127\.0\.0\.1:(\d+)/", shown.stdout)[1]
    assert int(port) != taken_port
    assert not _processes_at(port)


def test_demo_prints_what_the_service_answers(shown, answer):
    """Verdict, summary, every zone's row and the governing reading's working are the answer's own."""
    result = answer["result"]
    text = shown.stdout
    assert f"VERDICT  {result['verdict'].replace('_', ' ')}" in text
    for sentence in answer["summary"]:
        assert sentence in text
    for line in table(result["zones"]):
        assert line in text
    for zone in result["zones"]:
        row = next(line for line in text.splitlines() if line.startswith(zone["zone"] + " "))
        assert f" {zone['thinnest_residual_mm']:g} " in row
        assert zone["thinnest_reading"] in row
    for step in answer["working"]:
        assert f"{step['symbol']} = {step['substituted']} = {step['value']:g}" in text
    assert re.search(r"curl -s http://127\.0\.0\.1:8000/v1/calculations/hull-survey .*survey\.json", text)


def test_demo_survey_means_something(answer):
    """A limit is watched, lives have bands, and a number for the first limit stands in each zone under water."""
    result = answer["result"]
    assert result["verdict"] == "watch"
    for zone in result["zones"]:
        if zone["exposure"] in ("immersed", "waterline"):
            life = zone["thresholds"][0]
            assert life["threshold_mm"] == 4.0
            assert life["years_low"] <= life["years"]
    assert answer["assumed"]
    assert result["what_if"]


def test_demo_prints_the_whole_answer_on_request(taken_port, answer):
    """With --json the answer is printed as it came."""
    done = subprocess.run([*DEMO, "--json", "--port", str(taken_port)], capture_output=True, text=True, check=True, timeout=60)
    assert json.loads(done.stdout)["result"] == answer["result"]


def test_service_is_one_master_and_its_workers(monkeypatch):
    """`serve` becomes the gunicorn master: it has no child but its workers, as many as WEB_CONCURRENCY says."""
    monkeypatch.setenv("WEB_CONCURRENCY", "2")
    with served(0) as address:
        port = address.rpartition(":")[2]
        for _ in range(100):
            processes = _processes_at(port)
            if len(processes) == 3:
                break
            time.sleep(0.05)
        # A worker that was forked this very moment does not hear a signal yet.
        time.sleep(0.5)
        parents = Counter(parent for _, parent in processes)
        assert [parents[process] for process, _ in processes].count(2) == 1
        assert len(processes) == 3


def _processes_at(port):
    """Return pid and parent of every process that holds the listening socket of a port, and of each child of one.

    Their command lines do not tell: gunicorn writes others where it can.
    """
    listening = {
        line.split()[9] for line in Path("/proc/net/tcp").read_text().splitlines() if f":{int(port):04X} 00000000" in line
    }
    parents, holders = {}, set()
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            parents[int(folder.name)] = int((folder / "stat").read_text().rpartition(")")[2].split()[1])
            held = {str(opened.readlink()) for opened in (folder / "fd").iterdir()}
        except OSError:
            continue
        if held & {f"socket:[{inode}]" for inode in listening}:
            holders.add(int(folder.name))
    return [(process, parent) for process, parent in parents.items() if process in holders or parent in holders]


@pytest.mark.parametrize("address", ["0.0.0.0:0", "[::]:0"])
def test_service_refuses_the_world(address, monkeypatch):
    """Bound beyond this machine it does not start unless the operator says so, and says why."""
    monkeypatch.delenv("PLATEMARGIN_ANONYMOUS", raising=False)
    done = subprocess.run(
        [sys.executable, "-m", "platemargin_api", "serve", "--bind", address],
        capture_output=True,
        text=True,
        check=False,
        timeout=30,
    )
    assert done.returncode != 0
    assert "PLATEMARGIN_ANONYMOUS=allow" in done.stderr
    assert "Traceback" not in done.stderr


def test_command_tells_its_commands():
    """The help is enough to learn the command from."""
    done = subprocess.run([sys.executable, "-m", "platemargin_api", "--help"], capture_output=True, text=True, check=True)
    assert all(word in done.stdout for word in ("serve", "demo", "openapi", "WEB_CONCURRENCY"))
