"""A third party's package, built, installed and served: what it offers is served like a built-in, or refused by name."""

import json
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import pytest
from openapi_spec_validator import validate

DISTRIBUTION = {"name": "platemargin-plate-weight", "version": "1.0.0"}


def call(service, path, body=None):
    """Send a request; return status, headers and the JSON that came back."""
    content = None if body is None else json.dumps(body).encode()
    try:
        with urlopen(Request(service + path, content, {"Content-Type": "application/json"}), timeout=30) as response:
            return response.status, response.headers, json.load(response)
    except HTTPError as error:
        with error:
            return error.code, error.headers, json.load(error)


def test_the_catalogue_lists_it_with_its_distribution(service):
    _, _, catalogue = call(service, "/v1/calculations")
    listed = {told["id"]: told["distribution"] for told in catalogue["calculations"]}
    assert listed["plate-weight"] == DISTRIBUTION
    assert listed["plate-margin"]["name"] == "platemargin"
    # Built-ins come first: a plug-in does not move them.
    assert list(listed)[-1] == "plate-weight"


# Derived: thickness x 7.85 kg for each mm of a square metre.
@pytest.mark.parametrize(("thickness_mm", "mass_kg"), [(4, 31.40), (5, 39.25), (6, 47.10), (8, 62.80), (10, 78.50)])
def test_its_answer_is_right_and_whole(service, thickness_mm, mass_kg):
    status, headers, told = call(
        service, "/v1/calculations/plate-weight", {"id": "p1", "area_m2": 1, "thickness_mm": thickness_mm}
    )
    assert (status, headers["Calculation-Version"]) == (200, "1.0.0")
    assert told["calculation"] == {"id": "plate-weight", "version": "1.0.0"}
    assert told["id"] == "p1"
    assert told["result"] == {"mass_kg": mass_kg}
    assert told["summary"] == [f"The plate of {thickness_mm} mm weighs {mass_kg:g} kg."]
    assert [(f["code"], f["values"]) for f in told["findings"]] == [("too_heavy_for_one", {"mass_kg": mass_kg})]
    assert told["assumed"] == [{"field": "cut_out_m2", "value": 0.0, "unit": "m2", "basis": "nothing is cut out"}]
    assert told["working"][0]["substituted"] == f"(1 - 0) * {thickness_mm} / 1000 * 7850"
    assert told["working"][0]["value"] == mass_kg
    assert [reference["id"] for reference in told["references"]] == ["en-10025-1-mass", "iso-11228-1-lifting"]
    assert told["provenance"]["distribution"] == DISTRIBUTION


def test_its_rendering_is_answered_and_listed(service):
    _, _, described = call(service, "/v1/calculations/plate-weight")
    assert described["renderings"] == ["text/plain"]
    headers = {"Content-Type": "application/json", "Accept": "text/plain"}
    body = json.dumps({"area_m2": 1, "thickness_mm": 8}).encode()
    with urlopen(Request(service + "/v1/calculations/plate-weight", body, headers), timeout=30) as response:
        assert response.headers["Content-Type"] == "text/plain; charset=utf-8"
        assert response.read() == b"The plate of 8 mm weighs 62.8 kg."


def test_its_faults_are_told_as_a_built_ins(service):
    status, _, problem = call(service, "/v1/calculations/plate-weight", {"area_m2": 1.5, "thickness_mm": 6, "cut_out_m2": 1.5})
    assert (status, problem["type"]) == (422, "/problems/not-applicable")
    assert [(e["code"], e["pointer"]) for e in problem["errors"]] == [("nothing_left", "/cut_out_m2")]

    status, _, problem = call(service, "/v1/calculations/plate-weight", {"area_m2": "1.5", "colour": "red"})
    assert (status, problem["type"]) == (422, "/problems/invalid-request")
    assert {e["pointer"] for e in problem["errors"]} == {"/area_m2", "/thickness_mm", "/colour"}


def test_the_openapi_document_holds_it(service):
    _, _, document = call(service, "/openapi.json")
    validate(document)
    operation = document["paths"]["/v1/calculations/plate-weight"]["post"]
    assert operation["operationId"] == "calculate_plate_weight"
    assert operation["requestBody"]["content"]["application/json"]["example"] == {"area_m2": 1.5, "thickness_mm": 6.0}
    example = operation["responses"]["200"]["content"]["application/json"]["example"]
    assert example["result"] == {"mass_kg": 70.65}
    request = document["components"]["schemas"]["PlateWeightRequest"]
    assert request["properties"]["area_m2"]["x-unit"] == "m2"
    assert request["required"] == ["area_m2", "thickness_mm"]


def test_its_rule_set_can_be_chosen_and_is_cited_with_its_digest(service):
    _, _, rule_set = call(service, "/v1/rule-sets/invented-club")
    assert rule_set["distribution"] == DISTRIBUTION

    reading = {"zone": "baseplate", "plate_mm": 4.4}
    _, _, told = call(service, "/v1/calculations/threshold-check", {"readings": [reading], "rule_sets": ["invented-club"]})
    assert told["result"]["verdict"] == "act"
    assert [(r["id"], r["rule_set"], r["margin"]) for r in told["result"]["rules"]] == [
        ("club-least-plate", "invented-club", -0.1)
    ]
    assert told["provenance"]["rule_sets"] == [{"id": "invented-club", "version": "1.0.0", "digest": rule_set["digest"]}]
    assert "invented-club-terms" in {reference["id"] for reference in told["references"]}
    # It judges only those who ask for it.
    _, _, told = call(service, "/v1/calculations/threshold-check", {"readings": [reading]})
    assert told["result"]["verdict"] == "no_limit_broken"


def test_its_own_tests_pass_where_it_is_installed(plate_weight, run):
    """They run `check_calculation`: what an author does before anything is served."""
    site, source = plate_weight
    done = run(site, "pytest", "-q", "-p", "no:cacheprovider", cwd=source)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "8 passed" in done.stdout


SERVE = ("platemargin_api", "serve")
GUNICORN = ("gunicorn", "-c", "python:platemargin_api.server")
BORROWED = "from platemargin_api.calculations.residual_thickness import calculation as good\nfrom dataclasses import replace\n"
BROKEN = {
    "an id that is taken": (
        SERVE,
        'residual-thickness = "broken_plug_in:good"',
        BORROWED,
        "'residual-thickness': the id 'residual-thickness' is already taken by platemargin",
    ),
    "an import that fails, under bare gunicorn": (
        GUNICORN,
        'hull-colour = "broken_plug_in:calculation"',
        "import no_such_module",
        "'hull-colour': it cannot be imported: ModuleNotFoundError: No module named 'no_such_module'",
    ),
    "an example that is not answered": (
        SERVE,
        'hull-colour = "broken_plug_in:calculation"',
        BORROWED + 'calculation = replace(good, id="hull-colour", example={"original_mm": 10.0})',
        "'hull-colour': its example is not answered: ProblemError: /plate_mm: is required: a number from 0 to 200 mm",
    ),
}


@pytest.mark.parametrize("case", BROKEN)
def test_the_service_does_not_start_with(case, broken, run):
    """It ends with a code that is not 0 and one line that names the package and the reason: no traceback."""
    command, entry_points, module, reason = BROKEN[case]
    done = run(broken(entry_points, module), *command)
    assert done.returncode == 1
    assert f"broken-plug-in 0.9.0: platemargin.calculations {reason}" in done.stderr
    assert "Traceback" not in done.stderr
