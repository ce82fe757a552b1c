"""The recipes, run as their readers run them, against the real service."""

import csv
import io
import json
import os
import shutil
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path
from urllib.request import Request, urlopen

import pytest

from platemargin_api.demo import served

HERE = Path(__file__).parent
PLATES = HERE.parents[1] / "api/platemargin_api/demo/plates.csv"


@pytest.fixture(scope="module")
def address():
    with served(0) as running:
        yield running


def run(*command, **more):
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=120, **more)


def python(recipe, *arguments):
    return run(sys.executable, HERE / recipe, *arguments)


def test_a_folder_of_surveys_becomes_decisions_with_reasons(address):
    done = python("underwriting.py", HERE / "surveys", address)
    assert done.returncode == 1, done.stderr  # one is refused
    rows = {row["survey"]: row for row in csv.DictReader(io.StringIO(done.stdout))}
    assert {name: row["verdict"] for name, row in rows.items()} == {
        "marram.json": "not_judged",
        "osier.json": "no_limit_broken",
        "quill.json": "refused",
        "teasel.json": "act",
    }
    assert rows["osier.json"]["decision"] == "accept"
    assert rows["teasel.json"]["decision"] == "decline until repaired"
    assert rows["quill.json"]["reasons"].startswith("/readings/0/pit_depth_mm: ")
    assert "starboard side" in rows["marram.json"]["reasons"]


def test_no_folder_is_passed_over(tmp_path, address):
    assert "holds no file" in python("underwriting.py", tmp_path, address).stderr


def test_a_service_that_is_not_there_is_told():
    done = python("underwriting.py", HERE / "surveys", "http://127.0.0.1:9")
    assert (done.returncode, done.stdout.count("\n")) == (1, 1)
    assert "does not answer" in done.stderr


def test_a_listing_shows_queries_and_a_map(tmp_path, address):
    survey = json.loads((HERE / "surveys/osier.json").read_text())
    survey["readings"][0]["plate_mm"] = 94.0
    survey["hull"]["name"] = "<script>alert(1)</script>"
    file = tmp_path / "listed.json"
    file.write_text(json.dumps(survey))
    done = python("listing_check.py", file, address)
    assert done.returncode == 1, done.stderr
    section = ET.fromstring(done.stdout)
    assert "94" in section.find("ul/li").text
    assert section.find("{http://www.w3.org/2000/svg}svg") is not None
    assert "<script" not in done.stdout


def test_an_honest_listing_has_no_query(address):
    done = python("listing_check.py", HERE / "surveys/osier.json", address)
    assert (done.returncode, "<ul>" in done.stdout) == (0, False), done.stderr


def test_an_app_shows_the_margin_of_one_reading(address):
    """9.26 years from 8.8 mm and 2.6 mm: the reading of README.md."""
    done = python("survey_app.py", "10", "8.8", "2.6", "16", address)
    assert done.returncode == 0, done.stderr
    assert "It reaches 4 mm in 9.26 years" in done.stdout
    refused = python("survey_app.py", "10", "8.8", "12", "16", address)
    assert (refused.returncode, refused.stdout.startswith("/pit_depth_mm: ")) == (1, True)


@pytest.mark.skipif(shutil.which("curl") is None, reason="the Debian package curl is not installed")
def test_a_spreadsheet_comes_back_with_margins(address):
    done = run("sh", HERE / "spreadsheet.sh", PLATES, address)
    assert done.returncode == 0, done.stderr
    rows = list(csv.DictReader(io.StringIO(done.stdout)))
    assert [row["margin_mm"] for row in rows] == ["2.2", "4.3", "5.2", "-0.3", "", ""]


def test_a_notebook_finds_the_worst_of_each_boat(address):
    pytest.importorskip("pandas")
    done = python("fleet_pandas.py", HERE / "fleet.csv", address)
    assert done.returncode == 0, done.stderr
    header, *rows = [line.split() for line in done.stdout.splitlines()]
    assert header[0] == "boat"
    assert [row[:2] for row in rows] == [["Teasel", "3.3"], ["Osier", "Hen"], ["Quill", "Pen"]]
    assert rows[-1][-1] == "1"  # its other row was refused


def test_a_rule_set_goes_from_an_empty_folder_to_the_service(tmp_path):
    """Into a folder of its own, so that this environment does not change."""
    site = tmp_path / "site"
    own = {**os.environ, "PYTHONPATH": str(site), "PIP_TARGET": str(site), "PIP_NO_INDEX": "1"}
    done = run("sh", HERE / "rule_set_package.sh", tmp_path / "terms", sys.executable, env=own)
    assert done.returncode == 0, done.stderr
    listed = run(sys.executable, "-c", _LISTED, env=own)
    told = json.loads(listed.stdout)
    assert (told["id"], told["version"], told["distribution"]) == (
        "invented-terms",
        "1.0.0",
        {"name": "invented-terms", "version": "1.0.0"},
    )
    assert done.stdout.strip() == told["digest"]


@pytest.fixture
def decision(tmp_path, address):
    """Return a request as it was posted and the answer as it came, in two files."""
    body = (HERE / "surveys/teasel.json").read_bytes()
    request, answer = tmp_path / "request.json", tmp_path / "answer.json"
    request.write_bytes(body)
    with urlopen(Request(f"{address}/v1/calculations/hull-survey", body, {"Content-Type": "application/json"})) as came:
        answer.write_bytes(came.read())
    return request, answer


def test_a_decision_comes_out_again(decision, address):
    done = python("decision_again.py", *decision, address)
    assert (done.returncode, done.stderr) == (0, "")
    assert "decides the same: hull-survey" in done.stdout


def test_a_figure_that_was_changed_does_not(decision, address):
    _, answer = decision
    told = json.loads(answer.read_text())
    told["result"]["zones"][0]["thinnest_residual_mm"] += 0.001
    answer.write_text(json.dumps(told))
    done = python("decision_again.py", *decision, address)
    assert (done.returncode, done.stdout) == (1, "result came out otherwise\n")


def test_a_decision_of_other_bytes_or_another_release_is_not_tried(decision, address):
    request, answer = decision
    told = json.loads(answer.read_text())
    told["provenance"]["service_version"] = "0.0.9"
    answer.write_text(json.dumps(told))
    done = python("decision_again.py", *decision, address)
    assert done.returncode == 2
    assert "run platemargin 0.0.9, with the same rule sets\nservice_version: 0.0.9 decided, 0.1.0 answers" in done.stdout
    request.write_bytes(request.read_bytes() + b"\n")
    done = python("decision_again.py", *decision, address)
    assert (done.returncode, "is not what was answered" in done.stdout) == (2, True)


def test_a_decision_is_not_tried_where_nobody_answers_or_it_is_refused(decision, address):
    _, answer = decision
    done = python("decision_again.py", *decision, "http://127.0.0.1:9")
    assert (done.returncode, "does not answer" in done.stdout) == (2, True)
    told = json.loads(answer.read_text())
    told["calculation"]["id"] = "tea-leaves"
    answer.write_text(json.dumps(told))
    done = python("decision_again.py", *decision, address)
    assert (done.returncode, "run that release" in done.stdout) == (2, True)


_LISTED = (
    "from platemargin_api.app import create_app; print(create_app().test_client().get('/v1/rule-sets/invented-terms').text)"
)


def test_the_readme_shows_every_recipe():
    readme = (HERE.parents[1] / "README.md").read_text(encoding="utf-8")
    recipes = {file.name for file in HERE.iterdir() if file.suffix in (".py", ".sh")} - {"test_recipes.py"}
    assert {name for name in recipes if f"tests/recipes/{name}" not in readme} == set()
