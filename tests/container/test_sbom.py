"""The bill of materials: valid by its format's schema, and complete by the lock and by what is vendored."""

import hashlib
import json
import subprocess
import sys
import tomllib
from importlib.metadata import requires
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).parents[2]
ASSETS = ROOT / "api/platemargin_api/pages/assets"


@pytest.fixture(scope="module")
def text():
    command = [sys.executable, ROOT / "docker/sbom.py"]
    return subprocess.run(command, check=True, capture_output=True, text=True, timeout=60).stdout


@pytest.fixture(scope="module")
def bill(text):
    return json.loads(text)


@pytest.fixture(scope="module")
def packages(bill):
    return {component["purl"]: component for component in bill["components"]}


def test_it_is_what_the_format_takes(text, fault_of):
    assert fault_of(text) is None
    assert fault_of(text.replace('"type": "library"', '"type": "libary"', 1)) is not None


def test_it_has_every_locked_package_with_each_of_its_hashes(packages):
    """The lock is read here line by line, as pip reads it."""
    lines = (ROOT / "requirements.txt").read_text().replace("\\\n", " ").splitlines()
    locked = {}
    for line in lines:
        if not line.strip().startswith("#"):
            pinned, *hashes = line.split(" --hash=sha256:")
            requirement = Requirement(pinned)
            if requirement.marker is None or requirement.marker.evaluate():
                version = str(requirement.specifier).removeprefix("==")
                locked[f"pkg:pypi/{requirement.name}@{version}"] = {one.strip() for one in hashes}
    assert len(locked) > 20
    told = {
        purl: {one["content"] for file in component["externalReferences"] for one in file["hashes"]}
        for purl, component in packages.items()
        if purl.startswith("pkg:pypi/")
    }
    assert told == locked


def test_it_has_what_the_pages_bring_of_others(packages):
    vendored = tomllib.loads((ASSETS / "VENDORED.toml").read_text())["swagger-ui-dist"]
    component = packages[f"pkg:npm/swagger-ui-dist@{vendored['version']}"]
    files = {file["name"]: file["hashes"][0]["content"] for file in component["components"]}
    assert set(files) == {file.name for file in ASSETS.glob("swagger-ui*") if file.suffix in {".js", ".css"}}
    assert files == {name: hashlib.sha256((ASSETS / name).read_bytes()).hexdigest() for name in files}


def test_what_asks_for_what_is_as_the_packages_say(bill, packages):
    """Held against the metadata of what is installed here."""
    names = {component["bom-ref"]: component["name"] for component in packages.values()}
    graph = {one["ref"]: {names[ref] for ref in one.get("dependsOn", [])} for one in bill["dependencies"]}
    assert set(graph) >= {ref for ref in names if ref.startswith("pkg:pypi/")}
    for ref, name in [("platemargin", "platemargin"), *((ref, name) for ref, name in names.items() if "pypi" in ref)]:
        asked = {canonical(one) for one in map(Requirement, requires(name) or []) if holds(one)}
        assert graph[ref] - {"swagger-ui-dist"} == asked & set(names.values())


def holds(requirement):
    # What the lock is made of: the project itself and what it takes for PDF.
    return requirement.marker is None or any(requirement.marker.evaluate({"extra": extra}) for extra in ("", "pdf"))


def canonical(requirement):
    return requirement.name.lower().replace("_", "-").replace(".", "-")
