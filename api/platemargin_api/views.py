"""The paths of the service."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from functools import cache
from typing import Any

import orjson
from flask import Blueprint, Response, current_app, request
from werkzeug.exceptions import HTTPException

from platemargin.rules import RuleSet
from platemargin_api import metrics
from platemargin_api.answer import SERVICE_VERSION, encoded
from platemargin_api.bulk import bulk_response
from platemargin_api.deadline import Calculating
from platemargin_api.direct import FAILED, ROUTE
from platemargin_api.drain import draining
from platemargin_api.headers import ANSWERED, accepted, calculation_headers, content_type, preferences
from platemargin_api.media import ARROW, HTML, JSON, answered_in, read
from platemargin_api.openapi import describe, document
from platemargin_api.pages import page
from platemargin_api.problems import PROBLEMS, ProblemError
from platemargin_api.registry import Plugin, Registry, Served
from platemargin_api.rendered import rendered_response
from platemargin_api.settings import Settings
from platemargin_api.upload import Upload
from platemargin_api.watch import watched
from platemargin_api.wording import hint

__all__ = ["blueprint", "problem_response"]

#: A catalogue may be kept, and asked for again when the service's version changes.
_KEPT = {"Cache-Control": "no-cache", "Vary": "Accept"}
#: What pages are made of is nobody's to call.
_OF_PAGES = ("/assets/", "/demo/")
#: How the service is at this moment.
_NOW = {"Cache-Control": "no-store"}


def blueprint(registry: Registry, settings: Settings) -> Blueprint:
    """Return the service's paths over a registry."""
    views = Blueprint("platemargin", __name__)
    _calculate(views, registry, settings)
    _entrance(views, registry)
    _catalogue(views, registry, settings)
    _operation(views)
    views.register_error_handler(ProblemError, problem_response)
    return views


def _calculate(views: Blueprint, registry: Registry, settings: Settings) -> None:
    @views.post(ROUTE)
    def calculate(calculation_id: str) -> Response:
        served = _calculation(registry, calculation_id)
        headers = calculation_headers(served.offered)
        try:
            if (failure := request.environ.pop(FAILED, None)) is not None:
                raise failure
            sent = content_type(request, read(served.offered))
            answered = accepted(request, answered_in(served.offered, sent))
            if sent == ARROW:
                # Loaded with the first call that needs it.
                from platemargin_api.arrow.stream import arrow_response  # noqa: PLC0415

                return arrow_response(request, served, registry, settings, {**headers, **ANSWERED})
            if sent != JSON:
                return bulk_response(request, served, registry, settings, (sent, answered), {**headers, **ANSWERED})
            minimal = preferences(request).get("return") == "minimal"
            body = Upload(request.environ, request.content_length).whole(settings.max_body_bytes)
            with Calculating(served):
                if answered != JSON:
                    return rendered_response(served, registry, body, answered, headers)
                told = encoded(served, registry, body, minimal=minimal)
        except ProblemError as error:
            return problem_response(error, headers)
        headers |= {"Preference-Applied": "return=minimal"} if minimal else {}
        return _response(told, headers={**headers, **ANSWERED})


def _entrance(views: Blueprint, registry: Registry) -> None:
    described = orjson.dumps(document(registry), option=orjson.OPT_INDENT_2)

    @views.get("/")
    def root() -> Response:
        if accepted(request, (JSON, HTML)) == HTML:
            return page("start.html")
        paths = {"calculations": "/v1/calculations", "rule_sets": "/v1/rule-sets", "openapi": "/openapi.json", "docs": "/docs"}
        return _json({"service": "platemargin", "version": SERVICE_VERSION, **paths})

    @views.get("/openapi.json")
    def openapi() -> Response:
        accepted(request)
        return _response(described, headers=_KEPT)


def _catalogue(views: Blueprint, registry: Registry, settings: Settings) -> None:
    @cache
    def description(calculation_id: str) -> dict[str, Any]:
        return describe(registry.calculations[calculation_id], registry, settings)

    @views.get("/v1/calculations")
    def calculations() -> Response:
        return _json({"calculations": [_listed(served) for served in registry.calculations.values()]})

    @views.get("/v1/calculations/<calculation_id>")
    def calculation(calculation_id: str) -> Response:
        served = _calculation(registry, calculation_id)
        return _json(description(calculation_id), calculation_headers(served.offered))

    @views.get("/v1/rule-sets")
    def rule_sets() -> Response:
        return _json({"rule_sets": [_rule_set(plugin) for plugin in registry.rule_sets.values()]})

    @views.get("/v1/rule-sets/<rule_set_id>")
    def rule_set(rule_set_id: str) -> Response:
        if rule_set_id not in registry.rule_sets:
            raise _unknown("unknown-rule-set", "rule set", rule_set_id, registry.rule_sets)
        return _json(_rule_set(registry.rule_sets[rule_set_id]))

    @views.get("/problems/<name>")
    def problem(name: str) -> Response:
        if name not in PROBLEMS:
            raise _unknown("not-found", "problem", name, PROBLEMS)
        return _json(asdict(PROBLEMS[name]))


def _operation(views: Blueprint) -> None:
    @views.get("/health/live")
    def healthy() -> Response:
        return _response(orjson.dumps({"status": "ok"}), headers=_NOW)

    @views.get("/health/ready")
    def ready() -> Response:
        if draining():
            return _response(orjson.dumps({"status": "draining"}), status=503, headers=_NOW)
        return _response(orjson.dumps({"status": "ok"}), headers=_NOW)

    @views.get("/metrics")
    def counted() -> Response:
        told, media_type = metrics.latest()
        return _response(told, content_type=media_type, headers=_NOW)


def _calculation(registry: Registry, calculation_id: str) -> Served:
    if calculation_id not in registry.calculations:
        raise _unknown("unknown-calculation", "calculation", calculation_id, registry.calculations)
    return registry.calculations[calculation_id]


def problem_response(error: ProblemError, headers: Mapping[str, str] | None = None) -> Response:
    """Return a failure as application/problem+json."""
    watched().problem = error.kind.name
    return _response(
        orjson.dumps(error.document()),
        status=error.kind.status,
        content_type="application/problem+json",
        headers={**(headers or {}), **ANSWERED},
    )


def http_problem(error: HTTPException) -> Response:
    """Return what the framework refuses as a problem too, with the headers that belong to it."""
    names = {404: "not-found", 405: "method-not-allowed", 408: "timeout", 413: "too-large", 429: "rate-limited"}
    name = names.get(error.code or 500)
    if name is None:
        return _framework_problem(error)
    kept = {key: value for key, value in error.get_headers() if key == "Allow"}
    details = {
        "not-found": f"Nothing is at {request.path}{_nearest_path()}; /openapi.json lists the paths.",
        "method-not-allowed": f"{request.method} is not a method of {request.path}, which takes {kept.get('Allow')}.",
        "rate-limited": f"This key may call {error.description}: wait as long as Retry-After says.",
    }
    return problem_response(ProblemError(name, details.get(name, str(error.description))), kept)


def _nearest_path() -> str:
    """Return the end of a sentence that names the path that may have been meant."""
    stripped = request.path.rstrip("/")
    if stripped != request.path and current_app.create_url_adapter(request).test(stripped):  # type: ignore[union-attr]
        return f"; the nearest is {stripped}"
    paths = [rule.rule for rule in current_app.url_map.iter_rules() if not rule.rule.startswith(_OF_PAGES)]
    return hint(request.path, map(_templated, paths))


def _templated(rule: str) -> str:
    """Return a path with its variables as OpenAPI writes them."""
    return rule.replace("<", "{").replace(">", "}")


def _framework_problem(error: HTTPException) -> Response:
    """Return a failure that has no kind of its own, as RFC 9457 asks: about:blank and the status's own title."""
    status = error.code or 500
    members = {"type": "about:blank", "title": error.name, "status": status}
    return _response(orjson.dumps(members), status=status, content_type="application/problem+json", headers=ANSWERED)


def _unknown(problem: str, thing: str, name: str, known: Mapping[str, Any]) -> ProblemError:
    others = hint(name, known, otherwise=f"known are {', '.join(known)}")
    return ProblemError(problem, f"No {thing} is called {name!r} here{others}.")


def _listed(served: Served) -> dict[str, Any]:
    calculation = served.offered
    return {
        "id": calculation.id,
        "version": calculation.version,
        "title": calculation.title,
        "elementwise": calculation.elementwise,
        "distribution": asdict(served.distribution),
        "deprecated": calculation.deprecation is not None,
        "href": f"/v1/calculations/{calculation.id}",
    }


def _rule_set(plugin: Plugin[RuleSet]) -> dict[str, Any]:
    content = plugin.offered.content
    return {**content, "digest": plugin.offered.digest, "distribution": asdict(plugin.distribution)}


def _json(members: Any, headers: Mapping[str, str] | None = None) -> Response:
    accepted(request)
    return _response(orjson.dumps(members), headers={**(headers or {}), **_KEPT})


def _response(
    content: bytes,
    *,
    status: int = 200,
    content_type: str = "application/json",
    headers: Mapping[str, str] | None = None,
) -> Response:
    return Response(content, status=status, content_type=content_type, headers=dict(headers or {}))
