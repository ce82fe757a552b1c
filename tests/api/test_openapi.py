"""The OpenAPI document: valid, committed as it is generated, and its examples are what the service answers."""

import json
import os
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import jsonschema
import orjson
import pytest
from openapi_spec_validator import OpenAPIV31SpecValidator

from platemargin_api.app import create_app
from platemargin_api.openapi import document
from platemargin_api.openapi_choices import named
from platemargin_api.problems import PROBLEMS
from platemargin_api.registry import load_registry

COMMITTED = Path(__file__).parents[2] / "openapi" / "openapi.json"

registry = load_registry()
generated = orjson.dumps(document(registry), option=orjson.OPT_INDENT_2)
DOCUMENT = orjson.loads(generated)
SCHEMAS = DOCUMENT["components"]["schemas"]
BUILT_IN = sorted(path.rsplit("/", 1)[1] for path in DOCUMENT["paths"] if path.startswith("/v1/calculations/"))
client = create_app(registry).test_client()


def operation(calculation, method="post"):
    return DOCUMENT["paths"][f"/v1/calculations/{calculation}"][method]


def request_of(calculation):
    return operation(calculation)["requestBody"]["content"]["application/json"]


def answer_of(calculation):
    return operation(calculation)["responses"]["200"]["content"]["application/json"]


def validate(instance, schema):
    """Validate against a schema of the document, formats too."""
    whole = {**schema, "components": DOCUMENT["components"]}
    jsonschema.Draft202012Validator(whole, format_checker=jsonschema.FormatChecker(["date"])).validate(instance)


def nodes(schema, path=""):
    """Return every schema within a schema, references followed, with the path to it."""
    if "$ref" in schema:
        name = schema["$ref"].rsplit("/", 1)[1]
        yield from nodes(SCHEMAS[name], path)
        return
    yield path, schema
    for name, member in schema.get("properties", {}).items():
        yield from nodes(member, f"{path}/{name}")
    if "items" in schema:
        yield from nodes(schema["items"], f"{path}/0")
    for choice in schema.get("anyOf", []):
        yield from nodes(choice, path)


def request_nodes(kind):
    """Return the schemas of one type in the requests of every calculation."""
    for calculation in BUILT_IN:
        for path, schema in nodes(request_of(calculation)["schema"], calculation):
            if kind in ([schema.get("type")] if isinstance(schema.get("type"), str) else schema.get("type", [])):
                yield path, schema


def test_it_is_valid_openapi():
    assert DOCUMENT["openapi"] == "3.1.0"
    OpenAPIV31SpecValidator(DOCUMENT).validate()


def test_the_committed_file_is_what_is_generated():
    assert COMMITTED.read_bytes() == generated + b"\n", "openapi/openapi.json is not what is generated: run make openapi"


def test_it_is_served_as_it_is_generated():
    answer = client.get("/openapi.json")
    assert answer.data == generated
    assert answer.content_type == "application/json"


def test_it_is_generated_alike_in_every_process():
    program = (
        "import sys, orjson; from platemargin_api.openapi import document; "
        "from platemargin_api.registry import load_registry; "
        "sys.stdout.buffer.write(orjson.dumps(document(load_registry()), option=orjson.OPT_INDENT_2))"
    )
    for seed in ("1", "2"):
        environment = {**os.environ, "PYTHONHASHSEED": seed}
        done = subprocess.run([sys.executable, "-c", program], env=environment, check=True, capture_output=True)
        assert done.stdout == generated


def test_it_has_every_built_in_calculation():
    assert sorted(registry.calculations) == BUILT_IN
    assert len(BUILT_IN) >= 6


@pytest.mark.parametrize("calculation", BUILT_IN)
def test_the_request_example_is_answered_by_the_response_example(calculation):
    example = answer_of(calculation)["example"]
    answer = client.post(
        f"/v1/calculations/{calculation}",
        data=orjson.dumps(request_of(calculation)["example"]),
        content_type="application/json",
    )
    assert answer.status_code == 200
    assert {name: orjson.dumps(member) for name, member in answer.json.items()} == {
        name: orjson.dumps(member) for name, member in example.items()
    }
    assert answer.data == orjson.dumps(example)


@pytest.mark.parametrize("calculation", BUILT_IN)
def test_the_examples_of_rows_are_answered_row_by_row(calculation):
    """Every medium of rows but Arrow's, which is no text, shows two rows with labels of their own."""
    media = operation(calculation)["requestBody"]["content"]
    examples = {medium: content["example"] for medium, content in media.items() if "example" in content}
    assert set(media) - set(examples) <= {"application/vnd.apache.arrow.stream"}
    for medium in set(examples) - {"application/json"}:
        told = client.post(f"/v1/calculations/{calculation}", data=examples[medium], content_type=medium)
        assert told.status_code == 200
        first, second = ('"id":"first"', '"id":"second"') if medium == "application/x-ndjson" else ("first,", "second,")
        assert told.text.count(first) == told.text.count(second) == 1
        assert "invalid-request" not in told.text
        assert "not-applicable" not in told.text


@pytest.mark.parametrize("calculation", BUILT_IN)
@pytest.mark.parametrize("prefer", ["return=representation", "return=minimal"])
def test_the_examples_and_the_answer_fit_their_schemas(calculation, prefer):
    request, answer = request_of(calculation), answer_of(calculation)
    validate(request["example"], request["schema"])
    validate(answer["example"], answer["schema"])
    told = client.post(f"/v1/calculations/{calculation}", json=request["example"], headers={"Prefer": prefer})
    validate(told.json, answer["schema"])
    headers = operation(calculation)["responses"]["200"]["headers"]
    assert set(headers) >= set(told.headers.keys()) - OF_EVERY_ANSWER


#: Headers of every answer, whatever it says.
OF_EVERY_ANSWER = {
    "Content-Type",
    "Content-Length",
    "Cache-Control",
    "Vary",
    "X-Content-Type-Options",
    "Content-Security-Policy",
    "Referrer-Policy",
    "Cross-Origin-Resource-Policy",
}


@pytest.mark.parametrize("calculation", BUILT_IN)
def test_it_has_the_media_that_the_catalogue_tells_and_that_are_read(calculation):
    told = client.get(f"/v1/calculations/{calculation}").json
    rows = {"application/x-ndjson", "text/csv"} if told["elementwise"] else {"application/x-ndjson"}
    columns = {"application/vnd.apache.arrow.stream"} if told["elementwise"] and find_spec("pyarrow") else set()
    assert {medium["request"]: set(medium["answers"]) for medium in told["media"]} == {
        "application/json": {"application/json", *told["renderings"]},
        **dict.fromkeys(rows, rows),
        **dict.fromkeys(columns, columns),
    }
    media = {"application/json", *rows, *columns}
    assert set(operation(calculation)["requestBody"]["content"]) == media
    assert set(operation(calculation)["responses"]["200"]["content"]) == {*media, *told["renderings"]}
    for sent, answers in ((medium["request"], medium["answers"]) for medium in told["media"]):
        for accept in answers:
            answer = client.post(f"/v1/calculations/{calculation}", headers={"Content-Type": sent, "Accept": accept})
            assert answer.status_code in (200, 400, 422)
    assert client.post(f"/v1/calculations/{calculation}", headers={"Content-Type": "text/html"}).status_code == 415


@pytest.mark.parametrize("calculation", BUILT_IN)
def test_a_wrong_answer_would_not_fit(calculation):
    """The schema would notice: a member left out, of another type, or null where it may not be."""
    schema, example = answer_of(calculation)["schema"], answer_of(calculation)["example"]
    result = example["result"]
    fields = registry.calculations[calculation].response.fields
    required = next(name for name, field in fields.items() if not field.nullable)
    for wrong in (
        {**example, "result": {name: value for name, value in result.items() if name != required}},
        {**example, "result": {**result, required: None}},
        {**example, "result": {**result, required: [1]}},
        {**example, "summary": []},
        {**example, "findings": [{"code": "x", "severity": "fatal", "statement": "y", "values": {}}]},
        {name: member for name, member in example.items() if name != "provenance"},
    ):
        with pytest.raises(jsonschema.ValidationError):
            validate(wrong, schema)


@pytest.mark.parametrize("calculation", BUILT_IN)
def test_every_member_of_a_result_is_required_and_more_may_come(calculation):
    """Every declared member is present; a later version may add one, and a reader's validator must not mind."""
    answer = answer_of(calculation)
    for path, schema in nodes({"$ref": answer["schema"]["$ref"]}):
        assert schema.get("additionalProperties") is not False, path
        if path == "/result" or path.startswith("/result/"):
            assert set(schema.get("required", [])) == set(schema.get("properties", {})), path
    validate({**answer["example"], "new": 1, "result": {**answer["example"]["result"], "new": 1}}, answer["schema"])


@pytest.mark.parametrize("calculation", BUILT_IN)
def test_a_request_takes_no_unknown_member_anywhere(calculation):
    for path, schema in nodes(request_of(calculation)["schema"]):
        if "properties" in schema:
            assert schema["additionalProperties"] is False, path


@pytest.mark.parametrize("kind", ["number", "integer"])
def test_every_number_of_a_request_has_bounds_and_a_unit(kind):
    found = list(request_nodes(kind))
    assert len(found) >= 3
    for path, schema in found:
        assert schema["minimum"] <= schema["maximum"], path
        assert schema["description"], path
        assert schema["x-unit"], path


def test_the_unit_is_the_one_that_the_name_ends_in():
    endings = {
        "mm_per_year": "mm/year",
        "mm": "mm",
        "m": "m",
        "per_m2": "1/m2",
        "m2": "m2",
        "um": "um",
        "percent": "%",
        "years": "year",
        "months": "month",
        "ohm_m": "ohm m",
        "ohm": "ohm",
        "a_per_m2": "A/m2",
        "a": "A",
        "kg": "kg",
        "ah_per_kg": "Ah/kg",
        "v": "V",
        "c": "degC",
        "us_per_cm": "uS/cm",
        "per_year": "1/year",
        "minutes": "minute",
        "ph": "pH",
    }
    for kind in ("number", "integer"):
        for path, schema in request_nodes(kind):
            name = path.removesuffix("/0").rsplit("/", 1)[1]
            ending = max((part for part in endings if name.endswith(f"_{part}")), key=len, default=None)
            if ending is not None:
                assert schema["x-unit"] == endings[ending], path


def test_every_text_of_a_request_has_a_length_or_a_list_or_a_format():
    found = list(request_nodes("string"))
    assert len(found) > 20
    for path, schema in found:
        assert "enum" in schema or schema.get("format") == "date" or schema["minLength"] <= schema["maxLength"], path


def test_every_array_of_a_request_has_a_length():
    found = list(request_nodes("array"))
    assert len(found) > 8
    for path, schema in found:
        assert schema["minItems"] <= schema["maxItems"], path


def test_no_schema_of_a_request_is_of_any_type():
    """What has no type has no bounds: the cost of a request is known from the document."""
    for calculation in BUILT_IN:
        for path, schema in nodes(request_of(calculation)["schema"], calculation):
            assert "type" in schema or "anyOf" in schema, path


def test_optional_members_may_be_null_and_required_ones_may_not():
    for calculation in BUILT_IN:
        for path, schema in nodes(request_of(calculation)["schema"], calculation):
            for name, member in schema.get("properties", {}).items():
                nullable = "null" in member.get("type", []) or {"type": "null"} in member.get("anyOf", [])
                assert nullable != (name in schema.get("required", [])), f"{path}/{name}"


def test_a_default_lies_within_its_bounds():
    defaults = 0
    for kind in ("number", "integer"):
        for path, schema in request_nodes(kind):
            if schema.get("default") is not None:
                assert schema["minimum"] <= schema["default"] <= schema["maximum"], path
                defaults += 1
    assert defaults > 10


def test_a_step_of_working_may_say_what_it_is_of():
    """A reading's name, where more than one thing is worked out; a calculation of one place has nothing to name."""
    (step,) = [schema for path, schema in nodes({"$ref": answer_of("hull-survey")["schema"]["$ref"]}) if path == "/working/0"]
    assert step["properties"]["of"]["type"] == "string"
    assert set(step["required"]) == {"symbol", "formula", "substituted", "value", "unit", "reference"}
    for calculation in BUILT_IN:
        names = {line.get("of") for line in answer_of(calculation)["example"]["working"]}
        several = ("hull-survey", "threshold-check", "survey-comparison", "anode-sizing")
        assert (names <= {None}) == (calculation not in several)
        assert names == {None} or None not in names


def test_whether_plate_was_read_through_its_coating_has_no_default():
    """Absent is not false: a film that is stated was read through, and the document must not promise otherwise."""
    gauge = SCHEMAS["GaugeRequest"]["properties"]
    assert "default" not in gauge["through_coating"]
    assert gauge["mode"]["default"] == "unknown"


def test_a_pattern_means_the_same_to_the_document_and_to_the_service():
    """What Python and JSON Schema each call blank is no zone's name to either; a line feed at the end is no fault of one."""
    (zone,) = [schema for path, schema in nodes(request_of("threshold-check")["schema"]) if path == "/readings/0/zone"]
    texts = {
        **dict.fromkeys([" ", "\t\n", "\x1c", "\x1f", "\x85", "\xa0", "\u2003", "\ufeff", "\u3000 \x1d"], 422),
        **dict.fromkeys(["side", " side ", "side\n", "\u2603", "\x1cside"], 200),
    }
    for text, status in texts.items():
        body = {"readings": [{"zone": text, "plate_mm": 5.0}]}
        answer = client.post("/v1/calculations/threshold-check", data=orjson.dumps(body), content_type="application/json")
        assert answer.status_code == status, repr(text)
        assert jsonschema.Draft202012Validator(zone).is_valid(text) == (status == 200), repr(text)


def test_every_kind_of_problem_is_documented():
    described = SCHEMAS["Problem"]
    assert SCHEMAS["ProblemType"]["enum"] == ["about:blank", *(f"/problems/{name}" for name in PROBLEMS)]
    for name, kind in PROBLEMS.items():
        assert f"/problems/{name} ({kind.status}): {kind.title}" in described["description"]
        page = client.get(f"/problems/{name}")
        assert page.json == {"name": name, "status": kind.status, "title": kind.title, "remedy": kind.remedy}


def test_the_kinds_of_problem_are_those_of_the_contract():
    contract = {
        "malformed-body": 400,
        "unauthorised": 401,
        "forbidden": 403,
        "unknown-calculation": 404,
        "method-not-allowed": 405,
        "not-acceptable": 406,
        "timeout": 408,
        "too-large": 413,
        "unsupported-media-type": 415,
        "invalid-request": 422,
        "not-applicable": 422,
        "rate-limited": 429,
        "calculation-failed": 500,
        "busy": 503,
    }
    assert {name: PROBLEMS[name].status for name in contract} == contract


@pytest.mark.parametrize("calculation", BUILT_IN)
def test_a_call_tells_how_it_may_fail(calculation):
    responses = operation(calculation)["responses"]
    expected = {"400", "401", "403", "406", "408", "413", "415", "422", "429", "500", "503"}
    assert set(responses) == {"200", *expected}
    for status in expected:
        assert responses[status]["content"] == {
            "application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}
        }
        assert "/problems/" in responses[status]["description"]
    assert "/problems/invalid-request" in responses["422"]["description"]
    assert "/problems/not-applicable" in responses["422"]["description"]


def test_every_operation_has_a_name_of_its_own_and_a_summary():
    operations = [operation for path in DOCUMENT["paths"].values() for operation in path.values()]
    names = [operation["operationId"] for operation in operations]
    assert len(set(names)) == len(names)
    assert all(name.isidentifier() for name in names)
    assert all(operation["summary"] and operation["tags"] for operation in operations)
    assert {tag for operation in operations for tag in operation["tags"]} == {tag["name"] for tag in DOCUMENT["tags"]}


def enumerated(schema):
    """Return how many lists of names stand within a schema."""
    if isinstance(schema, dict):
        return ("enum" in schema) + sum(enumerated(member) for member in schema.values())
    return sum(enumerated(item) for item in schema) if isinstance(schema, list) else 0


def test_every_enumeration_is_a_schema_of_its_own():
    """A generator then names it as the document does."""
    lists = [name for name, schema in SCHEMAS.items() if "enum" in schema]
    assert len(lists) > 100
    assert SCHEMAS["PlateMarginRequestEnvironment"] == {
        "type": "string",
        "enum": ["fresh_water", "polluted_fresh_water", "sea_splash", "sea_immersed"],
    }
    held = {name: schema for name, schema in SCHEMAS.items() if name not in lists}
    assert {name for name, schema in held.items() if enumerated(schema.get("properties", {}))} == set()


def test_a_name_that_a_schema_has_already_is_left_to_it():
    colour = {"enum": ["red", "black"], "type": "string"}
    schemas = {"Pit": {"properties": {"colour": colour}}, "PitColour": {"type": "object"}}
    assert named(schemas) == schemas


def test_every_schema_that_is_listed_is_used_and_named_as_a_name():
    text = json.dumps(DOCUMENT)
    for name in SCHEMAS:
        assert name.isidentifier(), name
        assert f'"#/components/schemas/{name}"' in text, name


@pytest.mark.parametrize("calculation", BUILT_IN)
def test_the_catalogue_has_the_same_schemas_on_their_own_feet(calculation):
    described = client.get(f"/v1/calculations/{calculation}").json
    for name, schema in (("request_schema", request_of(calculation)["schema"]), ("result_schema", None)):
        stands_alone = described[name]
        jsonschema.Draft202012Validator.check_schema(stands_alone)
        assert "#/components" not in json.dumps(stands_alone)
        if schema is not None:
            jsonschema.validate(described["example"], stands_alone)
            assert {key for key in stands_alone if not key.startswith("$")} == set(SCHEMAS[schema["$ref"].rsplit("/", 1)[1]])
    jsonschema.validate(answer_of(calculation)["example"]["result"], described["result_schema"])
