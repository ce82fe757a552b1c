"""Every command in README.md and DEVELOPERS.md is executed, and what README.md says the service answers is what it answers."""

import csv
import json
import os
import re
import shutil
import subprocess
import sys
from importlib.metadata import entry_points
from pathlib import Path

import pytest

from platemargin_api.demo import served

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")

#: Commands that run elsewhere, and where to see it.
ELSEWHERE = {
    "make test": (".ci/run", "make test"),
    "make check": (".ci/run", "make check"),
    "make image": (".ci/run", "make image"),
    "make fuzz": (
        "Makefile",
        "PLATEMARGIN_EXAMPLES=500 PLATEMARGIN_HOSTILE=long .venv/bin/python -m pytest -n auto tests/contract tests/hostile",
    ),
    "make faults": ("Makefile", "PLATEMARGIN_FAULTS=long .venv/bin/python -m pytest -s tests/faults"),
    "make coverage": ("Makefile", ".venv/bin/python -m coverage run -m pytest tests/calc tests/published"),
    "make mutate": ("Makefile", ".venv/bin/python tests/mutate/run.py"),
    "make sbom": ("Makefile", "sbom"),
    "make simulate": ("Makefile", "PLATEMARGIN_SIMULATIONS=long .venv/bin/python -m pytest -n auto tests/simulate"),
    "make load": ("Makefile", ".venv/bin/python tests/load/run.py"),
    "make lock": ("Makefile", "--generate-hashes"),
    "docker compose -f docker/compose.yaml up --build": ("tests/container/test_image.py", "docker/Dockerfile"),
}


def commands(text):
    """Return the indented commands of a page, continued lines joined; the picture of the data flow is none."""
    joined = text.replace("\\\n", "")
    lines = (line[4:] for line in joined.splitlines() if line.startswith("    "))
    return [re.sub(r"\s+", " ", line) for line in lines if re.match(r"(make|curl|docker|\.venv)", line)]


ALL = [*commands(README), *commands(DEVELOPERS)]
CURLS = [command for command in ALL if command.startswith("curl")]


@pytest.fixture(scope="module")
def address():
    with served(0) as running:
        yield running


def run(command, **more):
    return subprocess.run(
        ["/bin/sh", "-c", command], cwd=ROOT, capture_output=True, text=True, check=False, timeout=120, **more
    )


def test_every_command_is_run_somewhere():
    """A command that is neither run here nor in the list of those run elsewhere is a promise that nobody keeps."""
    here = {"make demo", "make openapi", *CURLS, *(command for command in ALL if command.startswith(".venv"))}
    assert len(ALL) >= 12
    assert set(ALL) - here == set(ELSEWHERE)


@pytest.mark.parametrize("command", sorted(ELSEWHERE))
def test_command_stands_where_it_is_run(command):
    """What runs elsewhere does stand there."""
    where, what = ELSEWHERE[command]
    assert what in (ROOT / where).read_text(encoding="utf-8")


def test_first_of_the_two_commands_runs():
    """`make demo` shows a verdict."""
    done = run("make demo")
    assert done.returncode == 0, done.stderr
    assert "VERDICT" in done.stdout


def test_make_openapi_changes_nothing():
    """`make openapi` writes the document, and the names of the vectors' files, that are committed."""
    before = (ROOT / "openapi/openapi.json").read_bytes()
    files = sorted(path.name for path in (ROOT / "openapi/vectors").iterdir())
    assert run("make openapi").returncode == 0
    assert (ROOT / "openapi/openapi.json").read_bytes() == before
    assert sorted(path.name for path in (ROOT / "openapi/vectors").iterdir()) == files


@pytest.mark.skipif(shutil.which("curl") is None, reason="the Debian package curl is not installed")
@pytest.mark.parametrize("command", CURLS)
def test_curl_answers(command, address):
    """Each curl of the pages gets an answer, or many: a document, lines, a table, or a picture that it would keep in a file."""
    done = run(re.sub(r" -o \S+", "", command.replace("http://127.0.0.1:8000", address)))
    first, *more = done.stdout.splitlines()
    accepted = re.search(r"Accept: ([a-z/+]+)", command)
    if accepted:
        begins = {"image/svg+xml": "<svg ", "text/html": "<!DOCTYPE html>"}[accepted[1]]
        assert done.stdout.startswith(begins), done.stdout
    elif "text/csv" in command:
        errors = [row["error"] for row in csv.DictReader([first, *more])]
        assert (errors[:4], [error.split(":")[0] for error in errors[4:]]) == ([""] * 4, ["not-applicable", "invalid-request"])
    else:
        assert json.loads(first)["result"], done.stdout
    if "ndjson" in command:
        summary = json.loads(more[-1])["summary"]
        assert [summary[count] for count in ("lines", "answered", "refused")] == [7, 4, 2]


@pytest.mark.skipif(shutil.which("curl") is None, reason="the Debian package curl is not installed")
def test_readme_prints_the_real_answer(address):
    """Every member that README.md shows of the first answer has the value that the service gives."""
    shown = json.loads(re.search(r"```json\n(.*?)```", README, re.DOTALL)[1])
    told = json.loads(run(CURLS[0].replace("http://127.0.0.1:8000", address)).stdout)
    assert shown["result"].items() <= told["result"].items()
    assert shown["summary"] == told["summary"]
    assert shown["calculation"] == told["calculation"]


def test_readme_lists_every_calculation():
    """The table of calculations is the catalogue."""
    ours = [point.name for point in entry_points(group="platemargin.calculations") if point.dist.name == "platemargin"]
    assert sorted(re.findall(r"^\| `([a-z-]+)` \|", README, re.MULTILINE)) == sorted(ours)


@pytest.mark.parametrize("command", [command for command in ALL if command.startswith(".venv")])
def test_developers_commands_run(command):
    """The commands of DEVELOPERS.md succeed; the model plug-in is found where it lies."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "tests/plugin/platemargin-plate-weight")}
    done = run(command.replace(".venv/bin", str(Path(sys.executable).parent)), env=environment)
    assert done.returncode == 0, done.stdout + done.stderr
    if " portfolio " in command:
        assert all(f"    {line}\n" in README for line in done.stdout.splitlines())


def test_developers_names_files_that_exist():
    """Every path that DEVELOPERS.md names is there."""
    named = re.findall(r"`((?:api|calc|tests|docker|openapi|\.ci)/[^`<]*)`", DEVELOPERS)
    assert len(named) > 15
    assert [path for path in named if not (ROOT / path).exists()] == []
