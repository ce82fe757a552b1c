"""The OpenAPI 3.1 document, generated from the registry: requests and results from their schemas, the rest stated here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from apispec import APISpec
from apispec.ext.marshmallow import MarshmallowPlugin

from platemargin.rules import QUANTITIES
from platemargin_api.answer import LABEL, SERVICE_VERSION, answer
from platemargin_api.body import dump
from platemargin_api.csv_writer import result_columns
from platemargin_api.declarations import limits
from platemargin_api.fields import Choice, Integer, RuleSets
from platemargin_api.media import CSV, JSON, answered_in, read
from platemargin_api.openapi_choices import named
from platemargin_api.openapi_rows import rows_answered, rows_sent
from platemargin_api.problems import PROBLEMS
from platemargin_api.registry import Registry, Served, refusal, schemas_in
from platemargin_api.rendered import described
from platemargin_api.settings import Settings
from platemargin_api.typed_tables import MOST_CHARACTERS

__all__ = ["describe", "document"]

_STRING = {"type": "string"}
_REF = "#/components/schemas/"


def document(registry: Registry) -> dict[str, Any]:
    """Return the document of everything that the service serves.

    Raises
    ------
    RegistryError
        For a calculation whose example is not answered, or with a schema of a name that the document itself uses.
    """
    spec = _spec(registry)
    for name, schema in _COMMON.items():
        spec.components.schema(name, schema)
    for served in registry.calculations.values():
        spec.path(path=f"/v1/calculations/{served.offered.id}", operations=_operations(served, registry, spec))
    for path, told in _CATALOGUE.items():
        spec.path(path=path, operations={"get": _get(path, *told)})
    whole: dict[str, Any] = spec.to_dict()
    for served in registry.calculations.values():
        _tell_typed(served, whole["components"]["schemas"])
    whole["components"]["schemas"] = named(whole["components"]["schemas"])
    return whole


def describe(served: Served, registry: Registry, settings: Settings) -> dict[str, Any]:
    """Return all that the catalogue tells of one calculation."""
    calculation = served.offered
    deprecation = calculation.deprecation
    return {
        "id": calculation.id,
        "version": calculation.version,
        "title": calculation.title,
        "description": calculation.description,
        "elementwise": calculation.elementwise,
        "distribution": asdict(served.distribution),
        "request_schema": _json_schema(served, registry, "request"),
        "result_schema": _json_schema(served, registry, "response"),
        "faults": [{"code": fault.code, "field": fault.field} for fault in calculation.faults],
        "findings": [
            {
                "code": finding.code,
                "severity": finding.severity,
                "template": finding.statement,
                "values": finding.values,
            }
            for finding in calculation.findings
        ],
        "references": [asdict(reference) for reference in calculation.references_with(calculation.brought)],
        "cautions": list(calculation.cautions_with(calculation.brought)),
        "example": calculation.example,
        "renderings": list(calculation.renderings),
        "media": [{"request": sent, "answers": list(answered_in(calculation, sent))} for sent in read(calculation)],
        "csv_columns": list(result_columns(served)) if CSV in read(calculation) else None,
        "limits": {name: getattr(settings, name) for name in _LIMITS},
        "deprecation": None if deprecation is None else asdict(deprecation),
    }


def _spec(registry: Registry) -> APISpec:
    plugin = MarshmallowPlugin(schema_name_resolver=_schema_name)
    spec = APISpec(
        title="platemargin",
        version=SERVICE_VERSION,
        openapi_version="3.1.0",
        info={
            "description": "How much plate an inland steel boat has left, how fast it goes and when it passes a limit: "
            "documented calculations, each with its working, its sources and its limits. It is advice: a surveyor signs, "
            "an insurer decides. Every POST may be repeated; nothing is stored.",
            "license": {"name": "Apache-2.0", "identifier": "Apache-2.0"},
        },
        servers=[{"url": "/", "description": "Wherever it is run."}],
        tags=[
            {"name": "calculations", "description": "The calculations."},
            {"name": "catalogue", "description": "What there is."},
            {"name": "operation", "description": "Whether it runs."},
        ],
        security=_KEY_IF_ASKED,
        plugins=[plugin],
    )
    spec.components.security_scheme("bearer", _BEARER)
    converter: Any = plugin.converter
    for attributes in (_unit, _width, _nullable_choice, _rule_set_ids(tuple(registry.rule_sets))):
        converter.add_attribute_function(attributes)
    return spec


def _schema_name(schema: Any) -> str:
    cls = schema if isinstance(schema, type) else type(schema)
    return cls.__name__


def _unit(_converter: Any, field: Any, **_: Any) -> dict[str, Any]:
    unit = field.metadata.get("unit")
    return {} if unit is None else {"x-unit": unit}


def _width(_converter: Any, field: Any, **_: Any) -> dict[str, Any]:
    """Tell a client in a typed language how wide a whole number is."""
    if not isinstance(field, Integer):
        return {}
    lowest, highest = limits(field)
    return {"format": "int32" if lowest >= -(2**31) and highest < 2**31 else "int64"}


def _nullable_choice(_converter: Any, field: Any, **_: Any) -> dict[str, Any]:
    return {"enum": [*field.names, None]} if isinstance(field, Choice) and field.allow_none else {}


def _rule_set_ids(ids: tuple[str, ...]) -> Any:
    def attributes(_converter: Any, field: Any, **_: Any) -> dict[str, Any]:
        return {"items": {"type": "string", "enum": list(ids)}} if isinstance(field, RuleSets) else {}

    return attributes


def _operations(served: Served, registry: Registry, spec: APISpec) -> dict[str, Any]:
    calculation = served.offered
    name = calculation.id.replace("-", "_")
    result, answered = _schema_name(served.response), f"{name.title().replace('_', '')}Answer"
    if result not in spec.components.schemas:
        spec.components.schema(result, schema=type(served.response))
    spec.components.schema(answered, _answer_schema(_ref(result)))
    example = _answered(served, registry)
    return {
        "post": {
            "operationId": f"calculate_{name}",
            "summary": calculation.title,
            "description": calculation.description,
            "tags": ["calculations"],
            "parameters": [_PREFER],
            "requestBody": {
                "required": True,
                "content": {
                    JSON: {"schema": type(served.request), "example": calculation.example},
                    **rows_sent(served),
                },
            },
            "responses": {
                "200": {
                    "description": "The answer.",
                    "headers": _ANSWER_HEADERS,
                    "content": {
                        JSON: {"schema": _ref(answered), "example": example},
                        **rows_answered(served),
                        **described(calculation),
                    },
                },
                **_problems("malformed-body", "not-acceptable", "timeout", "too-large", "unsupported-media-type"),
                **_problems("invalid-request", "not-applicable", "calculation-failed", "busy", "forbidden"),
                **_asked_for_keys(),
            },
        },
        "get": {
            "operationId": f"describe_{name}",
            "summary": f"What {calculation.id} takes, answers, finds and cites",
            "description": "Schemas with bounds, codes of findings with severity and template, references, cautions, example.",
            "tags": ["catalogue"],
            "responses": {
                "200": {
                    "description": "The description.",
                    "content": {"application/json": {"schema": {"$ref": f"{_REF}CalculationDescription"}}},
                },
                **_problems("not-acceptable"),
                **_asked_for_keys(),
            },
        },
    }


def _answered(served: Served, registry: Registry) -> dict[str, Any]:
    for schema in (*schemas_in(served.request), *schemas_in(served.response)):
        if schema.__name__ in _COMMON or schema.__name__.endswith("Answer"):
            raise refusal(served, f"its schema {schema.__name__} has a name that the service's own document uses")
    try:
        return answer(served, registry, dump(served.offered.example))
    except Exception as error:
        raise refusal(served, f"its example is not answered: {type(error).__name__}: {error}") from error


def _answer_schema(result: dict[str, str]) -> dict[str, Any]:
    members = {
        "calculation": _ref("CalculationVersion"),
        LABEL: {**_STRING, "description": "The request's label, as sent."},
        "result": result,
        "summary": _array({**_STRING, "minLength": 1}, minItems=1, maxItems=5),
        "findings": _array(_ref("Finding")),
        "assumed": _array(_ref("Assumed")),
        "working": _array(_ref("Step")),
        "cautions": _array(_STRING),
        "references": _array(_ref("Reference")),
        "provenance": _ref("Provenance"),
    }
    required = ["calculation", "result", "summary", "findings", "assumed", "provenance"]
    return {"type": "object", "required": required, "properties": members}


def _json_schema(served: Served, registry: Registry, which: str) -> dict[str, Any]:
    """Return one schema with those that it refers to, on its own feet."""
    spec = _spec(registry)
    schema = getattr(served.offered, which)
    spec.components.schema(schema.__name__, schema=schema)
    schemas = spec.to_dict()["components"]["schemas"]
    if which == "request":
        _tell_typed(served, schemas)
    root = _moved(schemas.pop(schema.__name__))
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **root, "$defs": _moved(schemas)}


def _tell_typed(served: Served, schemas: Mapping[str, Any]) -> None:
    """Tell of rows that they, or the same as a table that was typed, are required; a generator of clients sees two members."""
    for name, field in served.typed.items():
        schema, rows = schemas[_schema_name(served.request)], str(field.name)
        schema["properties"][name] = {
            "type": ["string", "null"],
            "minLength": 1,
            "maxLength": MOST_CHARACTERS,
            "description": f"In place of {rows}, the lines of a table as a spreadsheet writes it: the first names the columns, "
            f"which are members of {rows}; separated by commas with decimal points, or by semicolons or tabs.",
        }
        schema["properties"][rows]["type"] = ["array", "null"]
        schema["required"].remove(rows)
        schema["if"] = {"required": [name], "properties": {name: _STATED}}
        schema["then"] = {"properties": {rows: {"const": None}}}
        schema["else"] = {"required": [rows], "properties": {rows: _STATED}}


def _moved(schema: Any) -> Any:
    if isinstance(schema, Mapping):
        return {key: value.replace(_REF, "#/$defs/") if key == "$ref" else _moved(value) for key, value in schema.items()}
    return [_moved(item) for item in schema] if isinstance(schema, list) else schema


def _ref(name: str) -> dict[str, str]:
    return {"$ref": _REF + name}


def _or_null(name: str) -> dict[str, Any]:
    return {"anyOf": [_ref(name), {"type": "null"}]}


def _array(items: Mapping[str, Any], **more: Any) -> dict[str, Any]:
    return {"type": "array", "items": dict(items), **more}


def _object(required: str, **properties: Mapping[str, Any]) -> dict[str, Any]:
    return {"type": "object", "required": required.split(), "properties": {k: dict(v) for k, v in properties.items()}}


def _get(path: str, name: str, summary: str, description: str, schema: Mapping[str, Any]) -> dict[str, Any]:
    parameters = [part[1:-1] for part in path.split("/") if part.startswith("{")]
    negotiated = {} if path.startswith("/health") else _problems("not-acceptable")
    asked = path.startswith("/v1/")
    return {
        **({} if asked else {"security": []}),
        "operationId": name,
        "summary": summary,
        "description": description,
        "tags": ["operation" if path.startswith("/health") else "catalogue"],
        **({"parameters": [_path_parameter(name) for name in parameters]} if parameters else {}),
        "responses": {
            "200": {
                "description": "Told.",
                **({"headers": _RATE_HEADERS} if asked else {}),
                "content": {"application/json": {"schema": dict(schema)}},
            },
            **negotiated,
            **(_asked_for_keys() if asked else {}),
            **(_problems(*_NOT_FOUND[path]) if parameters else {}),
        },
    }


def _path_parameter(name: str) -> dict[str, Any]:
    return {"name": name, "in": "path", "required": True, "schema": {**_STRING, "minLength": 1, "maxLength": 80}}


def _problems(*names: str) -> dict[str, Any]:
    """Return the responses of some kinds of problem; kinds of one status share one."""
    statuses: dict[str, list[str]] = {}
    for name in names:
        statuses.setdefault(str(PROBLEMS[name].status), []).append(name)
    return {
        status: {
            "description": "; or ".join(f"/problems/{name}: {PROBLEMS[name].title}. {PROBLEMS[name].remedy}" for name in kinds),
            "content": {"application/problem+json": {"schema": _ref("Problem")}},
        }
        for status, kinds in statuses.items()
    }


def _asked_for_keys() -> dict[str, Any]:
    """Return the responses of a service whose operator asks for keys."""
    unauthorised, limited = _problems("unauthorised")["401"], _problems("rate-limited")["429"]
    return {
        "401": {**unauthorised, "headers": {"WWW-Authenticate": {"description": "Bearer (RFC 6750).", "schema": _STRING}}},
        "429": {**limited, "headers": _RATE_HEADERS | {"Retry-After": _seconds("When to call again.")}},
    }


def _seconds(description: str) -> dict[str, Any]:
    return {"description": description, "schema": _COUNT}


#: The service asks for a key where its operator has a file of them, and not otherwise.
_KEY_IF_ASKED: list[dict[str, Any]] = [{"bearer": []}, {}]
_BEARER = {
    "type": "http",
    "scheme": "bearer",
    "description": "A key of the operator's, where they ask for one; RFC 6750.",
}
_PREFER = {
    "name": "Prefer",
    "in": "header",
    "required": False,
    "description": "return=minimal leaves out working, references and cautions of an answer in JSON. In JSON lines, "
    "return=representation gives whole answers, and stream (this service's own) sends the answer while the body is read. Any "
    "other is ignored (RFC 7240).",
    "schema": _STRING,
    "example": "return=minimal",
}
_COUNT = {"type": "integer", "format": "int64", "minimum": 0, "maximum": 2**53 - 1}
_RATE_HEADERS: dict[str, Any] = {
    "RateLimit-Limit": {"description": "Calls that the key has in a minute; where keys are asked for.", "schema": _COUNT},
    "RateLimit-Remaining": {"description": "Those that are left of them.", "schema": _COUNT},
    "RateLimit-Reset": {"description": "When there are more, in seconds since 1970.", "schema": _COUNT},
    "X-Request-Id": {"description": "The request's id, as the log has it.", "schema": _STRING},
}
_ANSWER_HEADERS = {
    **_RATE_HEADERS,
    "Calculation-Version": {"description": "The calculation's version.", "schema": _STRING},
    "Preference-Applied": {"description": "The preferences that were honoured.", "schema": _STRING},
    "Content-Digest": {"description": "Of the answer to many rows, unless it is streamed (RFC 9530).", "schema": _STRING},
    "Deprecation": {"description": "Since when the calculation is deprecated (RFC 9745).", "schema": _STRING},
    "Sunset": {"description": "When it goes (RFC 8594).", "schema": _STRING},
    "Link": {"description": "What takes its place (successor-version, RFC 8288).", "schema": _STRING},
}
_ANY = {"description": "Of any type."}
_OPEN = {"type": "object", "additionalProperties": True}
_NULLABLE_STRING = {"type": ["string", "null"]}
_DIGEST = {**_STRING, "pattern": "^sha-256=:[A-Za-z0-9+/]{43}=:$"}
#: What is there: null is absence.
_STATED = {"not": {"const": None}}
#: Where in a table that was typed something is.
_OF_TABLE: dict[str, Any] = {
    "row": {
        "type": "integer",
        "format": "int32",
        "minimum": 1,
        "maximum": 2**31 - 1,
        "description": "Row of a table that was typed; the header is 1.",
    },
    "column": {**_STRING, "description": "Its column."},
}
_SEVERITY = {**_STRING, "enum": ["note", "watch", "act"]}
_DAY = {**_STRING, "format": "date"}
_STATUS = {"type": "integer", "format": "int32", "minimum": 400, "maximum": 599}
#: The settings that the catalogue tells.
_LIMITS = ("max_body_bytes", "max_line_bytes", "max_rows")
_COMMON: dict[str, dict[str, Any]] = {
    "CalculationVersion": _object("id version", id=_STRING, version=_STRING),
    "Finding": _object(
        "code severity statement values",
        code=_STRING,
        severity=_SEVERITY,
        statement=_STRING,
        pointer={**_STRING, "description": "JSON pointer (RFC 6901) into the request."},
        values=_OPEN,
        **_OF_TABLE,
    ),
    "Assumed": _object("field value unit basis", field=_STRING, value=_ANY, unit=_NULLABLE_STRING, basis=_STRING),
    "Step": _object(
        "symbol formula substituted value unit reference",
        symbol=_STRING,
        formula=_STRING,
        of={**_STRING, "description": "What is worked out, where there is more than one: a reading's name."},
        substituted={
            **_STRING,
            "description": "The formula with the answer's own numbers; it can be evaluated as written.",
        },
        value={"type": "number"},
        unit=_STRING,
        reference={**_STRING, "description": "Id of a reference."},
    ),
    "Reference": _object(
        "id title year clause basis",
        id=_STRING,
        title=_STRING,
        year={"type": ["integer", "null"], "format": "int32", "minimum": 0, "maximum": 9999},
        clause=_STRING,
        basis={**_STRING, "enum": ["published", "from_memory", "common_practice"]},
    ),
    "Distribution": _object("name version", name=_STRING, version=_STRING),
    "UsedRuleSet": _object("id version digest", id=_STRING, version=_STRING, digest=_DIGEST),
    "Provenance": _object(
        "service_version distribution rule_sets request_digest arguments_digest",
        service_version=_STRING,
        distribution=_ref("Distribution"),
        rule_sets=_array(_ref("UsedRuleSet")),
        request_digest={**_DIGEST, "description": "Of the bytes received."},
        arguments_digest={**_DIGEST, "description": "Of the arguments after defaults, keys sorted, without the label."},
    ),
    "ProblemFault": _object(
        "code detail pointer",
        code=_STRING,
        detail=_STRING,
        pointer={**_STRING, "description": "JSON pointer (RFC 6901) to the member to change."},
        minimum={"type": "number"},
        maximum={"type": "number"},
        allowed=_array(_STRING),
        nearest=_STRING,
        **_OF_TABLE,
    ),
    "Problem": {
        **_object(
            "type title status",
            type={
                **_STRING,
                "enum": ["about:blank", *(f"/problems/{name}" for name in PROBLEMS)],
                "description": "A path of this service that describes the problem.",
            },
            title=_STRING,
            status=_STATUS,
            detail=_STRING,
            errors=_array(_ref("ProblemFault"), maxItems=100),
        ),
        "description": "A failure (RFC 9457). "
        + " ".join(f"/problems/{kind.name} ({kind.status}): {kind.title}. {kind.remedy}" for kind in PROBLEMS.values()),
    },
    "CalculationListed": _object(
        "id version title elementwise distribution deprecated href",
        id=_STRING,
        version=_STRING,
        title=_STRING,
        elementwise={"type": "boolean"},
        distribution=_ref("Distribution"),
        deprecated={"type": "boolean"},
        href=_STRING,
    ),
    "CalculationDescription": _object(
        "id version title description elementwise request_schema result_schema findings references cautions example",
        id=_STRING,
        version=_STRING,
        title=_STRING,
        description=_STRING,
        elementwise={"type": "boolean"},
        distribution=_ref("Distribution"),
        request_schema=_OPEN,
        result_schema=_OPEN,
        faults=_array(_ref("DescribedFault")),
        findings=_array(_ref("DescribedFinding")),
        references=_array(_ref("Reference")),
        cautions=_array(_STRING),
        example=_OPEN,
        renderings=_array(_STRING),
        media=_array(_ref("DescribedMedium")),
        csv_columns={"type": ["array", "null"], "items": _STRING, "description": "The result's columns in text/csv."},
        limits=_ref("Limits"),
        deprecation=_or_null("DescribedDeprecation"),
    ),
    "DescribedFault": _object("code field", code=_STRING, field=_STRING),
    "DescribedFinding": _object(
        "code severity template values",
        code=_STRING,
        severity=_SEVERITY,
        template=_STRING,
        values=_array(_STRING),
    ),
    "DescribedMedium": _object("request answers", request=_STRING, answers=_array(_STRING)),
    "DescribedDeprecation": _object(
        "deprecated_on sunset_on successor", deprecated_on=_DAY, sunset_on=_DAY, successor=_NULLABLE_STRING
    ),
    "Limits": _object(" ".join(_LIMITS), **dict.fromkeys(_LIMITS, _COUNT)),
    "RuleSet": _object(
        "id version title rules references digest may_clear",
        id=_STRING,
        version=_STRING,
        title=_STRING,
        digest=_DIGEST,
        rules=_array(_ref("Rule")),
        references=_array(_ref("Reference")),
        materials=_array(_STRING),
        minimum_content=_or_null("MinimumContent"),
        by_hull=_or_null("LimitsByHull"),
        may_clear={
            "type": "boolean",
            "description": "Whether keeping its limits passes plate; else they only raise a verdict.",
        },
        distribution=_ref("Distribution"),
    ),
    "Rule": _object(
        "id quantity severity statement reference",
        id=_STRING,
        quantity={**_STRING, "enum": list(QUANTITIES)},
        severity={**_STRING, "enum": ["watch", "act"]},
        statement=_STRING,
        reference=_STRING,
        at_least={"type": ["number", "null"]},
        at_most={"type": ["number", "null"]},
        exposures=_array(_STRING),
        zones={"type": ["array", "null"], "items": _STRING},
        original_at_least_mm={"type": ["number", "null"]},
        original_at_most_mm={"type": ["number", "null"]},
    ),
    "MinimumContent": {
        **_object(
            "zones both_sides readings_per_zone inside_seen",
            zones=_array(_STRING),
            both_sides={"type": "boolean"},
            readings_per_zone=_COUNT,
            inside_seen={"type": "boolean"},
        ),
        "description": "What a survey has to contain before the rule set lets it pass.",
    },
    "LimitsByHull": {
        **_object(
            "needs formula example",
            needs=_array(_STRING),
            formula=_STRING,
            example={"type": "object", "additionalProperties": {"type": "number"}},
        ),
        "description": "How the limits follow from the hull: what they need of it, the formula, and the example whose limits "
        "stand in rules.",
    },
    "CalculationList": _object("calculations", calculations=_array(_ref("CalculationListed"))),
    "RuleSetList": _object("rule_sets", rule_sets=_array(_ref("RuleSet"))),
    "ProblemKind": _object("name status title remedy", name=_STRING, status=_STATUS, title=_STRING, remedy=_STRING),
    "Service": _object(
        "service version calculations rule_sets openapi docs",
        service=_STRING,
        version=_STRING,
        calculations=_STRING,
        rule_sets=_STRING,
        openapi=_STRING,
        docs=_STRING,
    ),
    "OpenApiDocument": _OPEN,
    "Health": _object("status", status=_STRING),
}
_CATALOGUE: dict[str, tuple[str, str, str, dict[str, Any]]] = {
    "/": ("get_service", "Where to begin", "The service's version and the paths of its catalogue.", _ref("Service")),
    "/v1/calculations": (
        "list_calculations",
        "The calculations",
        "Every calculation of this service, built in or plugged in.",
        _ref("CalculationList"),
    ),
    "/v1/rule-sets": (
        "list_rule_sets",
        "The rule sets",
        "What insurers accept, as this service knows it.",
        _ref("RuleSetList"),
    ),
    "/v1/rule-sets/{rule_set_id}": (
        "describe_rule_set",
        "One rule set",
        "Its rules, sources, version and digest.",
        _ref("RuleSet"),
    ),
    "/problems/{name}": (
        "describe_problem",
        "One kind of problem",
        "What a problem's type means and what the caller can do.",
        _ref("ProblemKind"),
    ),
    "/openapi.json": (
        "get_openapi_document",
        "This document",
        "OpenAPI 3.1, generated from what is served.",
        _ref("OpenApiDocument"),
    ),
    "/health/live": (
        "tell_whether_it_lives",
        "Whether it lives",
        "200 while the process answers.",
        _ref("Health"),
    ),
    "/health/ready": (
        "tell_whether_it_is_ready",
        "Whether it takes calls",
        "200 while it does.",
        _ref("Health"),
    ),
}
_NOT_FOUND = {"/v1/rule-sets/{rule_set_id}": ("unknown-rule-set",), "/problems/{name}": ("not-found",)}
