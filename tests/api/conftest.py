"""What the tests of many rows and of renderings share: the real server, requests good and bad, surveys hard to draw."""

import copy
import importlib.util
import json
import os
import random
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from functools import cache
from pathlib import Path

import pytest

import platemargin_api.demo
from platemargin_api.answer import answered
from platemargin_api.app import create_app
from platemargin_api.body import dump
from platemargin_api.registry import load_registry

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


def listens(address):
    """Tell whether a socket takes connections: its file is there from bind(2) on, and refuses until listen(2)."""
    with socket.socket(socket.AF_UNIX) as connection:
        return connection.connect_ex(str(address)) == 0


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
            while not listens(folder / "socket"):
                assert process.poll() is None, (folder / "log").read_text()
                assert time.monotonic() < deadline
                time.sleep(0.05)
            yield Server(folder, process)
        finally:
            process.terminate()
            process.wait(timeout=60)
    shutil.rmtree(folder)


registry = load_registry()
DEMO = json.loads((Path(platemargin_api.demo.__file__).parent / "survey.json").read_text())
HOSTILE = [
    "</svg><script>alert(1)</script>",
    "\"'><img src=x onerror=alert(1)>",
    "]]></metadata><!-- <![CDATA[ &amp; &#0; &lol;",
    "a\u0000b\u0007c\u001bd\u007fe\u0085f",
    "\u202eabc\u2066\u2069\u2028",
    "\ufffe\uffff\ufdd0\U0001ffff",
    "{{ 7 * 7 }}{% for %}%(a)s{0}",
    "\u05d0\u05d1\u05d2 12 \u05d3",
    "\u0633\u0641\u064a\u0646\u0629 \u0627\u0644\u0633\u0644\u0627\u0645",
    "\u957f\u540d\u5b57\U0001f6a2",
    "W" * 40,
]


def survey(readings, length_m=17.4, **members):
    hull = {"name": "Pictured", "length_m": length_m, "beam_m": 2.1, "draught_m": 0.6}
    return {"hull": hull, "built_on": "2010", "surveyed_on": "2026-04-14", "readings": readings, **members}


def readings(count, length_m, *, stations=True):
    draw = random.Random(count)
    made = []
    for index in range(count):
        zone, original = draw.choice([("baseplate", 10), ("baseplate", 10), ("side", 6), ("chine", 6)])
        side = draw.choice(["port", "starboard", "centreline"] if zone == "baseplate" else ["port", "starboard"])
        one = {"id": f"R{index}", "zone": zone, "side": side, "plate_mm": round(draw.gauss(original - 0.4, 0.2), 1)}
        one |= {"station_m": round(draw.uniform(0.1, length_m), 1)} if stations else {}
        one |= {"pit_depth_mm": round(abs(draw.gauss(0.4, 0.7)), 1)} if draw.random() < 0.4 else {}
        made.append(one)
    return made


def holed():
    made = copy.deepcopy(DEMO)
    made["readings"][71] = {**made["readings"][71], "holed": True}
    made["readings"][20]["plate_mm"] = 3.2
    return made


NOTATION = {"plating_notation": "10/6/5"}
SURVEYS = {
    "demo": DEMO,
    "holed": holed(),
    "one": survey([{"zone": "baseplate", "side": "port", "station_m": 4.0, "plate_mm": 9.0}], **NOTATION),
    "many": survey(readings(500, 17.4), **NOTATION),
    "one_place": survey([{"zone": "side", "side": "port", "station_m": 9.0, "plate_mm": 5.0}] * 300),
    "without_stations": survey(readings(120, 17.4, stations=False), **NOTATION),
    "long": survey(readings(200, 60), 60, **NOTATION),
    "short": survey(readings(30, 5), 5, **NOTATION),
    "unread": survey([{"zone": "roof", "plate_mm": 4.8}], **NOTATION),
    "without_sides": survey([{"zone": "baseplate", "station_m": float(m), "plate_mm": 9.5} for m in range(1, 17)]),
    "unexamined": survey(
        readings(20, 17.4),
        unexamined=[
            {"zone": "baseplate", "reason": "afloat"},
            {"zone": "side", "side": "port", "from_m": 3, "to_m": 9, "reason": "fouling"},
            {"zone": "tank", "reason": "tank"},
        ],
    ),
    "own_rules": survey(
        readings(20, 17.4),
        **NOTATION,
        rules=[
            {
                "id": "loss",
                "quantity": "loss_percent",
                "at_most": 20,
                "severity": "act",
                "statement": "New.",
                "reference": "us",
            }
        ],
    ),
    "no_limit": survey(readings(5, 17.4), rules=[], rule_sets=[]),
    "names": survey(
        [
            {"id": name, "zone": name[:40], "side": "port", "station_m": 1.0 + n, "plate_mm": 5.0}
            if n % 2
            else {"id": name, "zone": name[:40], "plate_mm": 5.0}
            for n, name in enumerate(HOSTILE)
        ]
    ),
}
# What a survey may bring besides: the survey before it, and patches in which pits were measured.
SURVEYS["whole"] = {
    **copy.deepcopy(DEMO),
    "previous_survey": {
        "surveyed_on": "2021-05-02",
        "readings": [
            {**{name: one[name] for name in ("id", "zone", "side", "station_m")}, "plate_mm": round(one["plate_mm"] + 0.4, 1)}
            for one in DEMO["readings"][::3]
        ],
    },
    "plating": [
        one | ({"pit_sampling": "random_patches", "pit_patch_area_m2": 0.05} if one["zone"] == "baseplate" else {})
        for one in DEMO["plating"]
    ],
}
SURVEYS["names"]["hull"]["name"] = "".join(HOSTILE)[:100]
SURVEYS["names"]["id"] = HOSTILE[0]


def pytest_generate_tests(metafunc):
    """Run a test that asks for a `survey_name` or a `hostile` name with each of them."""
    if "survey_name" in metafunc.fixturenames:
        metafunc.parametrize("survey_name", SURVEYS)
    if "hostile" in metafunc.fixturenames:
        metafunc.parametrize("hostile", HOSTILE, ids=range(len(HOSTILE)))


@pytest.fixture(scope="session")
def surveys():
    return copy.deepcopy(SURVEYS)


@pytest.fixture(scope="session")
def rendered():
    """Return what renders a request: the request as loaded, its answer, and the bytes."""

    @cache
    def of(body, medium, calculation):
        loaded, answer = answered(registry.calculations[calculation], registry, body)
        return loaded, answer, registry.calculations[calculation].offered.renderings[medium](loaded, answer)

    return lambda request, medium="image/svg+xml", calculation="hull-survey": of(dump(request), medium, calculation)


@pytest.fixture(scope="session")
def client_of_service():
    return create_app(registry).test_client()
