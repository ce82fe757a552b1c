"""What the OpenAPI document says of every service alike: the schemas of answers, problems and catalogue, and its paths."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from platemargin.rules import QUANTITIES
from platemargin_api.problems import PROBLEMS

__all__ = ["CATALOGUE", "COMMON", "COUNT", "LIMITS", "NOT_FOUND", "REF", "STATED", "STRING", "array", "record", "ref"]

STRING = {"type": "string"}
REF = "#/components/schemas/"


def ref(name: str) -> dict[str, str]:
    """Return a reference to a schema of the document."""
    return {"$ref": REF + name}


def or_null(name: str) -> dict[str, Any]:
    """Return the same, or null."""
    return {"anyOf": [ref(name), {"type": "null"}]}


def array(items: Mapping[str, Any], **more: Any) -> dict[str, Any]:
    """Return an array of something."""
    return {"type": "array", "items": dict(items), **more}


def record(required: str, **properties: Mapping[str, Any]) -> dict[str, Any]:
    """Return an object with some members, of which those named first are required."""
    return {"type": "object", "required": required.split(), "properties": {k: dict(v) for k, v in properties.items()}}


#: The settings that the catalogue tells.
LIMITS = ("max_body_bytes", "max_line_bytes", "max_rows")
COUNT = {"type": "integer", "format": "int64", "minimum": 0, "maximum": 2**53 - 1}
ANY = {"description": "Of any type."}
OPEN = {"type": "object", "additionalProperties": True}
NULLABLE_STRING = {"type": ["string", "null"]}
DIGEST = {**STRING, "pattern": "^sha-256=:[A-Za-z0-9+/]{43}=:$"}
#: What is there: null is absence.
STATED = {"not": {"const": None}}
#: Where in a table that was typed something is.
OF_TABLE: dict[str, Any] = {
    "row": {
        "type": "integer",
        "format": "int32",
        "minimum": 1,
        "maximum": 2**31 - 1,
        "description": "Row of a table that was typed; the header is 1.",
    },
    "column": {**STRING, "description": "Its column."},
}
SEVERITY = {**STRING, "enum": ["note", "watch", "act"]}
DAY = {**STRING, "format": "date"}
STATUS = {"type": "integer", "format": "int32", "minimum": 400, "maximum": 599}
COMMON: dict[str, dict[str, Any]] = {
    "CalculationVersion": record("id version", id=STRING, version=STRING),
    "Finding": record(
        "code severity statement values",
        code=STRING,
        severity=SEVERITY,
        statement=STRING,
        pointer={**STRING, "description": "JSON pointer (RFC 6901) into the request."},
        values=OPEN,
        **OF_TABLE,
    ),
    "Assumed": record("field value unit basis", field=STRING, value=ANY, unit=NULLABLE_STRING, basis=STRING),
    "Step": record(
        "symbol formula substituted value unit reference",
        symbol=STRING,
        formula=STRING,
        of={**STRING, "description": "What is worked out, where there is more than one: a reading's name."},
        substituted={
            **STRING,
            "description": "The formula with the answer's own numbers; it can be evaluated as written.",
        },
        value={"type": "number"},
        unit=STRING,
        reference={**STRING, "description": "Id of a reference."},
    ),
    "Reference": record(
        "id title year clause basis",
        id=STRING,
        title=STRING,
        year={"type": ["integer", "null"], "format": "int32", "minimum": 0, "maximum": 9999},
        clause=STRING,
        basis={**STRING, "enum": ["published", "from_memory", "common_practice"]},
    ),
    "Distribution": record("name version", name=STRING, version=STRING),
    "UsedRuleSet": record("id version digest", id=STRING, version=STRING, digest=DIGEST),
    "Provenance": record(
        "service_version distribution rule_sets request_digest arguments_digest",
        service_version=STRING,
        distribution=ref("Distribution"),
        rule_sets=array(ref("UsedRuleSet")),
        request_digest={**DIGEST, "description": "Of the bytes received."},
        arguments_digest={**DIGEST, "description": "Of the arguments after defaults, keys sorted, without the label."},
    ),
    "ProblemFault": record(
        "code detail pointer",
        code=STRING,
        detail=STRING,
        pointer={**STRING, "description": "JSON pointer (RFC 6901) to the member to change."},
        minimum={"type": "number"},
        maximum={"type": "number"},
        allowed=array(STRING),
        nearest=STRING,
        **OF_TABLE,
    ),
    "Problem": {
        **record(
            "type title status",
            type={
                **STRING,
                "enum": ["about:blank", *(f"/problems/{name}" for name in PROBLEMS)],
                "description": "A path of this service that describes the problem.",
            },
            title=STRING,
            status=STATUS,
            detail=STRING,
            errors=array(ref("ProblemFault"), maxItems=100),
        ),
        "description": "A failure (RFC 9457). "
        + " ".join(f"/problems/{kind.name} ({kind.status}): {kind.title}. {kind.remedy}" for kind in PROBLEMS.values()),
    },
    "CalculationListed": record(
        "id version title elementwise distribution deprecated href",
        id=STRING,
        version=STRING,
        title=STRING,
        elementwise={"type": "boolean"},
        distribution=ref("Distribution"),
        deprecated={"type": "boolean"},
        href=STRING,
    ),
    "CalculationDescription": record(
        "id version title description elementwise request_schema result_schema findings references cautions example",
        id=STRING,
        version=STRING,
        title=STRING,
        description=STRING,
        elementwise={"type": "boolean"},
        distribution=ref("Distribution"),
        request_schema=OPEN,
        result_schema=OPEN,
        faults=array(ref("DescribedFault")),
        findings=array(ref("DescribedFinding")),
        references=array(ref("Reference")),
        cautions=array(STRING),
        example=OPEN,
        renderings=array(STRING),
        media=array(ref("DescribedMedium")),
        csv_columns={"type": ["array", "null"], "items": STRING, "description": "The result's columns in text/csv."},
        limits=ref("Limits"),
        deprecation=or_null("DescribedDeprecation"),
    ),
    "DescribedFault": record("code field", code=STRING, field=STRING),
    "DescribedFinding": record(
        "code severity template values",
        code=STRING,
        severity=SEVERITY,
        template=STRING,
        values=array(STRING),
    ),
    "DescribedMedium": record("request answers", request=STRING, answers=array(STRING)),
    "DescribedDeprecation": record(
        "deprecated_on sunset_on successor", deprecated_on=DAY, sunset_on=DAY, successor=NULLABLE_STRING
    ),
    "Limits": record(" ".join(LIMITS), **dict.fromkeys(LIMITS, COUNT)),
    "RuleSet": record(
        "id version title rules references digest may_clear",
        id=STRING,
        version=STRING,
        title=STRING,
        digest=DIGEST,
        rules=array(ref("Rule")),
        references=array(ref("Reference")),
        materials=array(STRING),
        minimum_content=or_null("MinimumContent"),
        by_hull=or_null("LimitsByHull"),
        may_clear={
            "type": "boolean",
            "description": "Whether keeping its limits passes plate; else they only raise a verdict.",
        },
        distribution=ref("Distribution"),
    ),
    "Rule": record(
        "id quantity severity statement reference",
        id=STRING,
        quantity={**STRING, "enum": list(QUANTITIES)},
        severity={**STRING, "enum": ["watch", "act"]},
        statement=STRING,
        reference=STRING,
        at_least={"type": ["number", "null"]},
        at_most={"type": ["number", "null"]},
        exposures=array(STRING),
        zones={"type": ["array", "null"], "items": STRING},
        original_at_least_mm={"type": ["number", "null"]},
        original_at_most_mm={"type": ["number", "null"]},
    ),
    "MinimumContent": {
        **record(
            "zones both_sides readings_per_zone inside_seen",
            zones=array(STRING),
            both_sides={"type": "boolean"},
            readings_per_zone=COUNT,
            inside_seen={"type": "boolean"},
        ),
        "description": "What a survey has to contain before the rule set lets it pass.",
    },
    "LimitsByHull": {
        **record(
            "needs formula example",
            needs=array(STRING),
            formula=STRING,
            example={"type": "object", "additionalProperties": {"type": "number"}},
        ),
        "description": "How the limits follow from the hull: what they need of it, the formula, and the example whose limits "
        "stand in rules.",
    },
    "CalculationList": record("calculations", calculations=array(ref("CalculationListed"))),
    "RuleSetList": record("rule_sets", rule_sets=array(ref("RuleSet"))),
    "ProblemKind": record("name status title remedy", name=STRING, status=STATUS, title=STRING, remedy=STRING),
    "Service": record(
        "service version calculations rule_sets openapi docs",
        service=STRING,
        version=STRING,
        calculations=STRING,
        rule_sets=STRING,
        openapi=STRING,
        docs=STRING,
    ),
    "OpenApiDocument": OPEN,
    "Health": record("status", status=STRING),
}
CATALOGUE: dict[str, tuple[str, str, str, dict[str, Any]]] = {
    "/": ("get_service", "Where to begin", "The service's version and the paths of its catalogue.", ref("Service")),
    "/v1/calculations": (
        "list_calculations",
        "The calculations",
        "Every calculation of this service, built in or plugged in.",
        ref("CalculationList"),
    ),
    "/v1/rule-sets": (
        "list_rule_sets",
        "The rule sets",
        "What insurers accept, as this service knows it.",
        ref("RuleSetList"),
    ),
    "/v1/rule-sets/{rule_set_id}": (
        "describe_rule_set",
        "One rule set",
        "Its rules, sources, version and digest.",
        ref("RuleSet"),
    ),
    "/problems/{name}": (
        "describe_problem",
        "One kind of problem",
        "What a problem's type means and what the caller can do.",
        ref("ProblemKind"),
    ),
    "/openapi.json": (
        "get_openapi_document",
        "This document",
        "OpenAPI 3.1, generated from what is served.",
        ref("OpenApiDocument"),
    ),
    "/health/live": (
        "tell_whether_it_lives",
        "Whether it lives",
        "200 while the process answers.",
        ref("Health"),
    ),
    "/health/ready": (
        "tell_whether_it_is_ready",
        "Whether it takes calls",
        "200 while it does.",
        ref("Health"),
    ),
}
NOT_FOUND = {"/v1/rule-sets/{rule_set_id}": ("unknown-rule-set",), "/problems/{name}": ("not-found",)}
