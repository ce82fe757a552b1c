"""The OpenAPI 3.1 document, generated from the registry: requests and results from their schemas, the rest stated here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from apispec import APISpec
from apispec.ext.marshmallow import MarshmallowPlugin

from platemargin_api.answer import LABEL, SERVICE_VERSION, answer
from platemargin_api.body import dump
from platemargin_api.csv_writer import result_columns
from platemargin_api.declarations import limits
from platemargin_api.fields import Choice, Integer, RuleSets
from platemargin_api.media import CSV, JSON, answered_in, read
from platemargin_api.openapi_choices import named
from platemargin_api.openapi_headers import (
    ANSWER_HEADERS,
    BEARER,
    KEY_IF_ASKED,
    PREFER,
    RATE_HEADERS,
    asked_for_keys,
    path_parameter,
    problems,
)
from platemargin_api.openapi_rows import rows_answered, rows_sent
from platemargin_api.openapi_schemas import CATALOGUE, COMMON, LIMITS, NOT_FOUND, REF, STATED, STRING, array, ref
from platemargin_api.registry import Registry, Served, refusal, schemas_in
from platemargin_api.rendered import described
from platemargin_api.settings import Settings
from platemargin_api.typed_tables import MOST_CHARACTERS

__all__ = ["describe", "document"]


def document(registry: Registry) -> dict[str, Any]:
    """Return the document of everything that the service serves.

    Raises
    ------
    RegistryError
        For a calculation whose example is not answered, or with a schema of a name that the document itself uses.
    """
    spec = _spec(registry)
    for name, schema in COMMON.items():
        spec.components.schema(name, schema)
    for served in registry.calculations.values():
        spec.path(path=f"/v1/calculations/{served.offered.id}", operations=_operations(served, registry, spec))
    for path, told in CATALOGUE.items():
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
        "limits": {name: getattr(settings, name) for name in LIMITS},
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
        security=KEY_IF_ASKED,
        plugins=[plugin],
    )
    spec.components.security_scheme("bearer", BEARER)
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
    spec.components.schema(answered, _answer_schema(ref(result)))
    example = _answered(served, registry)
    return {
        "post": {
            "operationId": f"calculate_{name}",
            "summary": calculation.title,
            "description": calculation.description,
            "tags": ["calculations"],
            "parameters": [PREFER],
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
                    "headers": ANSWER_HEADERS,
                    "content": {
                        JSON: {"schema": ref(answered), "example": example},
                        **rows_answered(served),
                        **described(calculation),
                    },
                },
                **problems("malformed-body", "not-acceptable", "timeout", "too-large", "unsupported-media-type"),
                **problems("invalid-request", "not-applicable", "calculation-failed", "busy", "calculation-overdue"),
                **asked_for_keys("forbidden"),
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
                    "content": {"application/json": {"schema": {"$ref": f"{REF}CalculationDescription"}}},
                },
                **problems("not-acceptable"),
                **asked_for_keys(),
            },
        },
    }


def _answered(served: Served, registry: Registry) -> dict[str, Any]:
    for schema in (*schemas_in(served.request), *schemas_in(served.response)):
        if schema.__name__ in COMMON or schema.__name__.endswith("Answer"):
            raise refusal(served, f"its schema {schema.__name__} has a name that the service's own document uses")
    try:
        return answer(served, registry, dump(served.offered.example))
    except Exception as error:
        cause = error.__cause__ or error
        raise refusal(served, f"its example is not answered: {type(cause).__name__}: {cause}") from error


def _answer_schema(result: dict[str, str]) -> dict[str, Any]:
    members = {
        "calculation": ref("CalculationVersion"),
        LABEL: {**STRING, "description": "The request's label, as sent."},
        "result": result,
        "summary": array({**STRING, "minLength": 1}, minItems=1, maxItems=5),
        "findings": array(ref("Finding")),
        "assumed": array(ref("Assumed")),
        "working": array(ref("Step")),
        "cautions": array(STRING),
        "references": array(ref("Reference")),
        "provenance": ref("Provenance"),
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
        schema["if"] = {"required": [name], "properties": {name: STATED}}
        schema["then"] = {"properties": {rows: {"const": None}}}
        schema["else"] = {"required": [rows], "properties": {rows: STATED}}


def _moved(schema: Any) -> Any:
    if isinstance(schema, Mapping):
        return {key: value.replace(REF, "#/$defs/") if key == "$ref" else _moved(value) for key, value in schema.items()}
    return [_moved(item) for item in schema] if isinstance(schema, list) else schema


def _get(path: str, name: str, summary: str, description: str, schema: Mapping[str, Any]) -> dict[str, Any]:
    parameters = [part[1:-1] for part in path.split("/") if part.startswith("{")]
    negotiated = {} if path.startswith("/health") else problems("not-acceptable")
    asked = path.startswith("/v1/")
    return {
        **({} if asked else {"security": []}),
        "operationId": name,
        "summary": summary,
        "description": description,
        "tags": ["operation" if path.startswith("/health") else "catalogue"],
        **({"parameters": [path_parameter(name) for name in parameters]} if parameters else {}),
        "responses": {
            "200": {
                "description": "Told.",
                **({"headers": RATE_HEADERS} if asked else {}),
                "content": {"application/json": {"schema": dict(schema)}},
            },
            **negotiated,
            **(asked_for_keys() if asked else {}),
            **(problems(*NOT_FOUND[path]) if parameters else {}),
        },
    }
