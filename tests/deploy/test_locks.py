"""What is installed is what was locked: one version of each package, known by its digest, and nothing that was not locked."""

import json
import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
OTHERS = ("docker/sbom.txt", "tests/clients/python.txt", "tests/load/peers.txt")
LOCKS = [*sorted(ROOT.glob("requirements*.txt")), *(ROOT / name for name in OTHERS)]
SHA_256 = re.compile(r"--hash=sha256:[0-9a-f]{64}")


def locked(path):
    """Return the requirements of a lock by name, each with its lines put together."""
    text = re.sub(r"\\\n", " ", path.read_text(encoding="utf-8"))
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    return {name_of(line): line for line in lines}


def name_of(requirement):
    return re.match(r"[A-Za-z0-9._-]+", requirement).group().lower().replace("_", "-").replace(".", "-")


@pytest.mark.parametrize("path", LOCKS, ids=lambda path: path.name)
def test_every_package_of_a_lock_is_of_one_version_and_known_by_digests(path):
    found = locked(path)
    assert found
    for name, line in found.items():
        assert re.match(r"[A-Za-z0-9._-]+==[0-9][^ ;]*( ;.*?)? +--hash", line), f"{name} is not pinned: make lock"
        assert SHA_256.search(line), name
        assert not re.search("https?:|file:|git\\+", line), f"{name} comes from an address"


@pytest.mark.parametrize("group", ["run", "dev"])
def test_what_the_project_asks_for_is_locked(group):
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    asked = project["project"]["dependencies"] if group == "run" else project["dependency-groups"]["dev"]
    lock = locked(ROOT / ("requirements.txt" if group == "run" else "requirements-dev.txt"))
    assert {name_of(requirement) for requirement in asked} - lock.keys() == set()


def test_run_and_dev_are_locked_alike():
    """What is tested is what is served."""
    served, tested = (locked(ROOT / name) for name in ("requirements.txt", "requirements-dev.txt"))
    assert served
    assert {name: tested.get(name) for name in served} == served


def test_every_package_for_the_clients_of_node_is_known_by_its_digest():
    packages = json.loads((ROOT / "tests/clients/package-lock.json").read_text(encoding="utf-8"))["packages"]
    assert len(packages) > 1
    for name, told in packages.items():
        if name:  # "" is the folder itself
            assert told["integrity"].startswith("sha512-"), name


@pytest.mark.parametrize(
    "file", ["docker/Dockerfile", ".ci/environment", "tests/load/environment", "tests/clients/environment"]
)
def test_no_installation_goes_past_the_digests(file):
    """A pip that installs from a lock asks for its hashes; one that installs what was built here asks nobody."""
    text = re.sub(r"\\\n", " ", (ROOT / file).read_text(encoding="utf-8"))
    commands = [part for part in re.findall(r"pip[^\n&|]*? install [^\n&|]*", text) if not part.startswith("pip config")]
    assert commands
    for command in commands:
        assert "--require-hashes" in command or "--no-index" in command, command
    assert "npm install" not in text  # npm ci holds to the lock
