"""The command line: calls without a server, with exit codes that a script can go by."""

import io
import json
import os
import re
import subprocess
import sys

import pytest

from platemargin_api.app import create_app
from platemargin_api.calls import NO_SUCH, REFUSED, VERDICT_CODES
from platemargin_api.command import main
from platemargin_api.demo import SURVEY
from platemargin_api.registry import load_registry

EXAMPLES = {name: served.offered.example for name, served in load_registry().calculations.items()}


@pytest.fixture
def run(capfd, tmp_path):
    """Run the command with a request in a file; return its exit code, what it printed and what it told of faults."""

    def of(*arguments, request=None):
        if request is not None:
            file = tmp_path / "request.json"
            file.write_bytes(request if isinstance(request, bytes) else json.dumps(request).encode())
            arguments = (*arguments, str(file))
        code = main(arguments)
        printed = capfd.readouterr()
        return code, printed.out, printed.err

    return of


@pytest.mark.parametrize("calculation", EXAMPLES)
def test_a_call_prints_what_the_service_answers(run, calculation):
    example = EXAMPLES[calculation]
    code, printed, faults = run("call", calculation, request=example)
    answered = (
        create_app()
        .test_client()
        .post(f"/v1/calculations/{calculation}", data=json.dumps(example), content_type="application/json")
    )
    assert (code, faults) == (0, "")
    assert json.loads(printed) == answered.json


def test_a_minimal_call(run):
    code, printed, _ = run("call", "plate-margin", "--minimal", request=EXAMPLES["plate-margin"])
    assert code == 0
    assert not {"working", "references", "cautions"} & set(json.loads(printed))


def test_a_call_from_stdin(run, monkeypatch):
    body = json.dumps(EXAMPLES["residual-thickness"]).encode()
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(body)))
    code, printed, _ = run("call", "residual-thickness", "-")
    assert code == 0
    assert json.loads(printed)["calculation"]["id"] == "residual-thickness"


@pytest.mark.parametrize(
    ("request_sent", "status", "pointer"),
    [
        (b"{", 400, None),
        (b"", 400, None),
        ({"original_mm": 10}, 422, "/plate_mm"),
        ({**EXAMPLES["plate-margin"], "pit_depth_mm": 20.0}, 422, "/pit_depth_mm"),
    ],
)
def test_what_http_refuses_is_refused_with_the_same_problem(run, request_sent, status, pointer):
    code, printed, faults = run("call", "plate-margin", request=request_sent)
    problem = json.loads(faults)
    assert (code, printed, problem["status"]) == (REFUSED, "", status)
    assert pointer is None or problem["errors"][0]["pointer"] == pointer


def test_what_is_not_there(run, tmp_path):
    code, _, faults = run("call", "plate-margn", request={})
    assert (code, "the nearest is plate-margin" in faults) == (NO_SUCH, True)
    code, _, faults = run("calculations", "plate-margn")
    assert (code, "the nearest is plate-margin" in faults) == (NO_SUCH, True)
    for missing in (tmp_path / "none.json", tmp_path):
        code, printed, faults = run("call", "plate-margin", str(missing))
        assert (code, printed) == (NO_SUCH, "")
        assert "cannot be read" in faults


def survey_of(plate_mm):
    """Return an invented boat of one zone, read on both sides."""
    return {
        "hull": {"length_m": 12.0, "beam_m": 2.1, "draught_m": 0.6},
        "built_on": "2010",
        "surveyed_on": "2026-05-01",
        "plating": [{"zone": "baseplate", "original_mm": 10.0}, {"zone": "side", "original_mm": 6.0}],
        "readings": [
            {"zone": zone, "side": side, "plate_mm": plate, "pit_depth_mm": 0.0}
            for zone, plate in (("baseplate", 9.3), ("side", plate_mm))
            for side in ("port", "starboard")
        ],
        "gauge": {"mode": "multiple_echo"},
    }


@pytest.mark.parametrize(
    ("plate_mm", "verdict"), [(5.6, "no_limit_broken"), (3.9, "watch"), (3.4, "act"), (98.0, "not_judged")]
)
def test_the_exit_code_of_a_check_is_the_verdict(run, plate_mm, verdict):
    code, printed, faults = run("check", request=survey_of(plate_mm))
    assert (code, faults) == (VERDICT_CODES[verdict], "")
    assert printed.startswith(f"VERDICT  {verdict.replace('_', ' ')}")


def test_a_check_of_the_demo_tells_what_a_person_needs(run):
    code, printed, _ = run("check", str(SURVEY))
    assert code == VERDICT_CODES["watch"]
    assert all(word in printed for word in ("Findings", "Advice", "SS8", "[before cover]"))


def test_the_calculations_are_listed_and_one_is_described(run):
    code, printed, _ = run("calculations")
    assert code == 0
    assert [line.split()[0] for line in printed.splitlines()] == list(EXAMPLES)
    code, printed, _ = run("calculations", "hull-survey")
    assert (code, json.loads(printed)["id"]) == (0, "hull-survey")


@pytest.mark.parametrize("arguments", [[], ["call"], ["call", "plate-margin"], ["check"], ["weigh", "boat.json"]])
def test_what_is_not_understood_is_told_with_the_usage(arguments, capsys):
    with pytest.raises(SystemExit) as stopped:
        main(arguments)
    assert stopped.value.code == 2
    assert "usage: platemargin" in capsys.readouterr().err


@pytest.mark.parametrize("command", ["serve", "demo", "openapi", "calculations", "call", "check", "portfolio"])
def test_every_command_explains_itself(command, capsys):
    with pytest.raises(SystemExit) as stopped:
        main([command, "--help"])
    assert stopped.value.code == 0
    told = capsys.readouterr().out
    assert len(told) > 100
    if command in ("call", "check", "portfolio"):
        assert "Exit code" in told


@pytest.mark.parametrize("name", ["WEB_CONCURRENCY", "PLATEMARGIN_DEADLINE_SECONDS"])
def test_a_setting_that_is_wrong_is_told_in_a_line(name):
    """In a process of its own: what the server is made of reads some of them as soon as it is loaded."""
    command = [sys.executable, "-m", "platemargin_api", "serve"]
    told = subprocess.run(command, env={**os.environ, name: "many"}, capture_output=True, text=True, check=False, timeout=60)
    assert told.returncode == 1
    assert re.fullmatch(
        rf"platemargin does not start: {name} is 'many': it must be a whole number from 1 to \d+\n", told.stderr
    )
