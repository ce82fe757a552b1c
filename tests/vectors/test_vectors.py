"""The vectors: as they are generated, enough of each calculation, and what the live service answers, number by number.

`differs` is all that a port needs to be held against them; DEVELOPERS.md says how they are read.
"""

import copy
import http.client
import importlib.util
import json
import sys
from contextlib import closing
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from platemargin_api.demo import served
from platemargin_api.registry import load_registry

FOLDER = Path(__file__).parents[2] / "openapi/vectors"
registry = load_registry()
CALCULATIONS = sorted(registry.calculations)


def read(content):
    return [json.loads(text) for text in content.splitlines()]


VECTORS = {name: read((FOLDER / f"{name}.ndjson").read_bytes()) for name in CALCULATIONS}
of_each_calculation = pytest.mark.parametrize("calculation", CALCULATIONS)


@pytest.fixture(scope="module")
def generator():
    spec = importlib.util.spec_from_file_location("vectors", Path(__file__).with_name("vectors.py"))
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def differs(vector, told):
    """Yield where an answer, or a refusal, is another than a vector's."""
    if vector["status"] != told["status"]:
        yield "status", vector["status"], told["status"]
    elif vector["status"] == 200:
        yield from result_differs(vector["result"], told["result"], "", vector["tolerances"])
        if vector["findings"] != told["findings"]:
            yield "findings", vector["findings"], told["findings"]
    elif (vector["problem"], vector["errors"]) != (told["problem"], told["errors"]):
        yield "errors", vector["errors"], told["errors"]


def result_differs(expected, got, path, tolerances):
    if isinstance(expected, dict) and isinstance(got, dict) and expected.keys() == got.keys():
        for name, value in expected.items():
            yield from result_differs(value, got[name], f"{path}/{name}" if path else name, tolerances)
    elif isinstance(expected, list) and isinstance(got, list) and len(expected) == len(got):
        for value, other in zip(expected, got, strict=True):
            yield from result_differs(value, other, path, tolerances)
    elif not alike(expected, got, path, tolerances):
        yield path, expected, got


def alike(expected, got, path, tolerances):
    numbers = [value for value in (expected, got) if isinstance(value, (int, float)) and not isinstance(value, bool)]
    if len(numbers) < 2:
        return expected == got
    absolute = tolerances.get("absolute", {}).get(path)
    allowed = tolerances["relative"][path] * abs(expected) if absolute is None else absolute
    # A hair more: the difference of two decimals is itself no decimal.
    return abs(expected - got) <= allowed * (1 + 1e-6)


def test_there_is_a_file_of_each_calculation_and_they_stay_small():
    files = {path.name: path.stat().st_size for path in FOLDER.iterdir()}
    assert set(files) == {"versions.json", *(f"{calculation}.ndjson" for calculation in CALCULATIONS)}
    assert sum(files.values()) < 5_000_000


def test_they_are_what_is_generated(generator):
    """Names, requests and refusals to the letter; numbers within their tolerance: another machine's last bit is no drift."""
    for file, content in generator.written(registry):
        kept, new = VECTORS[file.removesuffix(".ndjson")], read(content)
        assert [(one["name"], one["request"]) for one in kept] == [(one["name"], one["request"]) for one in new], (
            f"openapi/vectors/{file} is not what is generated: run make openapi"
        )
        for one, other in zip(kept, new, strict=True):
            assert list(differs(one, other)) == [], f"{file}, {one['name']}: run make openapi"
            assert one.get("tolerances") == other.get("tolerances")


@of_each_calculation
def test_they_are_fifty_and_more_edges_and_refusals_among_them(calculation):
    vectors = VECTORS[calculation]
    assert len(vectors) >= 50
    assert len({vector["name"] for vector in vectors}) == len(vectors)
    refused = [vector for vector in vectors if vector["status"] == 422]
    assert len(refused) >= 10
    assert len(vectors) - len(refused) >= 30
    assert vectors[0]["request"] == dict(registry.calculations[calculation].offered.example)
    # At and beyond the bounds of its numbers.
    assert {vector["status"] for vector in vectors if " = " in vector["name"]} == {200, 422}
    assert "out_of_range" in {fault["code"] for vector in refused for fault in vector["errors"]}


def test_they_show_all_but_a_few_of_the_declared_codes():
    """A port that passes them has met nearly every finding and fault; the others need a longer request than a file holds."""
    for calculation, vectors in VECTORS.items():
        offered = registry.calculations[calculation].offered
        declared = {told.code for told in (*offered.findings, *offered.faults)}
        shown = {told["code"] for vector in vectors for told in vector.get("findings", vector.get("errors"))}
        assert len(declared - shown) <= 0.12 * len(declared), (calculation, declared - shown)


@of_each_calculation
def test_a_tolerance_is_one_unit_in_the_last_place_of_each_number(calculation):
    """What is off by more than that is noticed, whichever number it is."""
    (example, *_) = VECTORS[calculation]
    numbers = list(numbers_in(example["result"], ()))
    assert len(numbers) >= 3
    for path in numbers:
        told = copy.deepcopy(example)
        place = told["result"]
        for part in path[:-1]:
            place = place[part]
        place[path[-1]] = place[path[-1]] * 1.0025 + 0.02
        assert len(list(differs(example, told))) == 1, path


def numbers_in(value, path):
    if isinstance(value, (dict, list)):
        for key, member in value.items() if isinstance(value, dict) else enumerate(value):
            yield from numbers_in(member, (*path, key))
    elif isinstance(value, (int, float)) and not isinstance(value, bool):
        yield path


@pytest.fixture(scope="module")
def connection():
    with served(0) as address, closing(http.client.HTTPConnection(urlsplit(address).netloc, timeout=60)) as opened:
        yield opened


@of_each_calculation
def test_the_live_service_answers_each_as_it_says(calculation, connection):
    """Posted over HTTP; beside what `differs` compares, nothing of a finding is looked at but code, severity and pointer."""
    headers = {"Content-Type": "application/json", "Prefer": "return=minimal"}
    for vector in VECTORS[calculation]:
        connection.request("POST", f"/v1/calculations/{calculation}", json.dumps(vector["request"]), headers)
        answer = connection.getresponse()
        told = {**json.loads(answer.read()), "status": answer.status}
        assert list(differs(vector, as_vector(told))) == [], vector["name"]


def as_vector(told):
    """Return the members of an answer or a problem that a vector has."""
    kept = ("code", "severity", "pointer")
    return {
        **told,
        "problem": told.get("type", "").removeprefix("/problems/"),
        "findings": [{key: found[key] for key in kept if key in found} for found in told.get("findings", ())],
        "errors": [{key: fault[key] for key in kept if key in fault} for fault in told.get("errors", ())],
    }
