"""What the OpenAPI document says and what the service does are the same, for whatever a caller may send.

Every operation, every check of schemathesis, in four phases: the document's own examples, each bound and each type in
turn (coverage), generated requests (fuzzing), and calls that follow from another's answer (stateful). The same requests are
made every time; PLATEMARGIN_EXAMPLES says how many of the generated ones an operation gets.
"""

import json
import os
from functools import cache
from importlib.metadata import entry_points

import hypothesis
import jsonschema
import schemathesis
from schemathesis.config import GenerationConfig, ProjectConfig, ProjectsConfig, SchemathesisConfig
from schemathesis.specs.openapi.checks import negative_data_rejection, positive_data_acceptance

from platemargin_api.app import create_app

EXAMPLES = int(os.environ.get("PLATEMARGIN_EXAMPLES", "15"))

app = create_app()
document = app.test_client().get("/openapi.json").json
generation = GenerationConfig(deterministic=True, max_examples=EXAMPLES, database="none")
config = SchemathesisConfig(seed=1, projects=ProjectsConfig(default=ProjectConfig(generation=generation)))
# Not loaded by its address: schemathesis would then leave out the operation that serves the document.
schema = schemathesis.openapi.from_dict(document, config=config)
schema.app = app


ARROW = "application/vnd.apache.arrow.stream"


@schemathesis.serializer("application/x-ndjson", "text/csv", ARROW)
def as_it_is(_ctx, value):
    """Of many rows the document says in words what they are: whatever text was generated is sent."""
    return str(value).encode(errors="surrogatepass")


def is_of_a_table(response):
    """Tell whether a text was refused for what it says as a table, which is more than JSON Schema can tell."""
    return {error["pointer"] for error in response.json()["errors"]} == {"/readings_csv"}


def accepted_or_not_applicable(ctx, response, case):
    """The one exception: fields that are each valid may not go together, and only a 422 of that type may say so."""
    if response.status_code == 422 and (response.json()["type"] == "/problems/not-applicable" or is_of_a_table(response)):
        return None
    return positive_data_acceptance(ctx, response, case)


def refused_where_the_document_refuses(_ctx, response, case):
    """Stricter than schemathesis: the two kinds of 422, and 200, part exactly where the documented schema says."""
    if case.method != "POST" or response.status_code not in (200, 422):
        return
    body = json.loads(response.request.body)
    valid = validator(case.operation.path).is_valid(body)
    refused_by_schema = response.status_code == 422 and response.json()["type"] == "/problems/invalid-request"
    if refused_by_schema and is_of_a_table(response):
        return
    assert valid != refused_by_schema, f"the document {'allows' if valid else 'refuses'} what the service does not"


# References are resolved once, not for each request.
@cache
def validator(path):
    described = document["paths"][path]["post"]["requestBody"]["content"]["application/json"]["schema"]
    return jsonschema.Draft202012Validator(
        {**described, "components": document["components"]}, format_checker=jsonschema.FormatChecker(["date"])
    )


def bad_rows_are_told_in_band(_ctx, response, case):
    """Whatever lines are sent is answered; only a table's header, or no stream at all, is refused before any."""
    refused_for = {} if case.media_type == "application/x-ndjson" else {"/problems/invalid-request", "/problems/malformed-body"}
    assert response.status_code == 200 or response.json()["type"] in refused_for, response.content


def checked(case):
    of_schema = [positive_data_acceptance, negative_data_rejection]
    if case.media_type in ("application/x-ndjson", "text/csv", ARROW):
        case.call_and_validate(excluded_checks=of_schema, additional_checks=[bad_rows_are_told_in_band])
    else:
        additional = [accepted_or_not_applicable, refused_where_the_document_refuses]
        case.call_and_validate(excluded_checks=of_schema[:1], additional_checks=additional)


@schema.parametrize()
def test_every_operation_is_as_documented(case):
    checked(case)


def test_no_operation_is_left_out():
    documented = {
        f"{method.upper()} {path}" for path, methods in document["paths"].items() for method in methods if method != "summary"
    }
    tested = {operation.ok().label for operation in schema.get_all_operations()}
    assert tested == documented
    # Eight that are no calculation's, and two for each calculation.
    assert len(tested) == 8 + 2 * len(entry_points(group="platemargin.calculations"))


def test_calls_that_follow_from_another_ones_answer():
    visited = set()

    class Calls(schema.as_state_machine()):
        def validate_response(self, response, case, **_):
            visited.add((case.operation.label, response.status_code))
            super().validate_response(response, case)

    Calls.run(
        settings=hypothesis.settings(
            max_examples=EXAMPLES,
            stateful_step_count=4,
            derandomize=True,
            database=None,
            deadline=None,
            suppress_health_check=list(hypothesis.HealthCheck),
        )
    )
    assert ("GET /v1/rule-sets/{rule_set_id}", 200) in visited
