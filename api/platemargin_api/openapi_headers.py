"""What the OpenAPI document says of headers, keys and problems."""

from __future__ import annotations

from typing import Any

from platemargin_api.openapi_schemas import COUNT, STRING, ref
from platemargin_api.problems import PROBLEMS

__all__ = ["ANSWER_HEADERS", "BEARER", "KEY_IF_ASKED", "PREFER", "RATE_HEADERS", "asked_for_keys", "path_parameter", "problems"]


def path_parameter(name: str) -> dict[str, Any]:
    """Return the parameter of a path."""
    return {"name": name, "in": "path", "required": True, "schema": {**STRING, "minLength": 1, "maxLength": 80}}


def problems(*names: str) -> dict[str, Any]:
    """Return the responses of some kinds of problem; kinds of one status share one."""
    statuses: dict[str, list[str]] = {}
    for name in names:
        statuses.setdefault(str(PROBLEMS[name].status), []).append(name)
    return {
        status: {
            "description": "; or ".join(f"/problems/{name}: {PROBLEMS[name].title}. {PROBLEMS[name].remedy}" for name in kinds),
            "content": {"application/problem+json": {"schema": ref("Problem")}},
        }
        for status, kinds in statuses.items()
    }


def asked_for_keys(*refusals: str) -> dict[str, Any]:
    """Return the responses of a service whose operator asks for keys; with what a key may be refused for beyond its absence."""
    refused, limited = problems("unauthorised", *refusals), problems("rate-limited")["429"]
    challenge = {"headers": {"WWW-Authenticate": {"description": "Bearer (RFC 6750).", "schema": STRING}}}
    return {
        **{status: {**response, **challenge} for status, response in refused.items()},
        "429": {**limited, "headers": RATE_HEADERS | {"Retry-After": seconds("When to call again.")}},
    }


def seconds(description: str) -> dict[str, Any]:
    """Return a header that is a number of seconds."""
    return {"description": description, "schema": COUNT}


#: The service asks for a key where its operator has a file of them, and not otherwise.
KEY_IF_ASKED: list[dict[str, Any]] = [{"bearer": []}, {}]
BEARER = {
    "type": "http",
    "scheme": "bearer",
    "description": "A key of the operator's, where they ask for one; RFC 6750.",
}
PREFER = {
    "name": "Prefer",
    "in": "header",
    "required": False,
    "description": "return=minimal leaves out working, references and cautions of an answer in JSON. In JSON lines, "
    "return=representation gives whole answers, and stream (this service's own) sends the answer while the body is read. Any "
    "other is ignored (RFC 7240).",
    "schema": STRING,
    "example": "return=minimal",
}
RATE_HEADERS: dict[str, Any] = {
    "RateLimit-Limit": {"description": "Calls that the key has in a minute; where keys are asked for.", "schema": COUNT},
    "RateLimit-Remaining": {"description": "Those that are left of them.", "schema": COUNT},
    "RateLimit-Reset": {"description": "In how many seconds there are all of them again.", "schema": COUNT},
    "X-Request-Id": {"description": "The request's id, as the log has it.", "schema": STRING},
}
ANSWER_HEADERS = {
    **RATE_HEADERS,
    "Calculation-Version": {"description": "The calculation's version.", "schema": STRING},
    "Preference-Applied": {"description": "The preferences that were honoured.", "schema": STRING},
    "Content-Digest": {"description": "Of the answer to many rows, unless it is streamed (RFC 9530).", "schema": STRING},
    "Deprecation": {"description": "Since when the calculation is deprecated (RFC 9745).", "schema": STRING},
    "Sunset": {"description": "When it goes (RFC 8594).", "schema": STRING},
    "Link": {"description": "What takes its place (successor-version, RFC 8288).", "schema": STRING},
}
