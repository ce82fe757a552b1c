"""From the bytes of a request to the members of its answer: one way for every calculation, ours or a third party's."""

from __future__ import annotations

import base64
import hashlib
import logging
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from functools import cache
from importlib.metadata import version
from string import Formatter
from typing import Any

import marshmallow as ma
import numpy as np
import orjson
from marshmallow.exceptions import ValidationError

from platemargin.declared import Arguments, Assumption, Finding, Step, as_declared, columns, filled, substituted
from platemargin.errors import NotApplicableError
from platemargin.reference import Reference
from platemargin.rules import RuleSet
from platemargin_api.body import MalformedBodyError, parse
from platemargin_api.calculation import Calculation, Figures
from platemargin_api.fields import KnownRuleSets, Object, RuleSets
from platemargin_api.problems import ProblemError, invalid_request, not_applicable, pointer
from platemargin_api.registry import Registry, Served

__all__ = ["SERVICE_VERSION", "answer", "answered", "arguments_of", "digest", "figures_of", "load"]

SERVICE_VERSION = version("platemargin")
#: The label that every request may carry; it is echoed and is no argument of the calculation.
LABEL = "id"

_log = logging.getLogger(__name__)


def answer(served: Served, registry: Registry, body: bytes, *, minimal: bool = False) -> dict[str, Any]:
    """Return the members of the answer to one request.

    Raises
    ------
    ProblemError
        malformed-body, invalid-request, not-applicable, or calculation-failed.
    """
    return answered(served, registry, body, minimal=minimal)[1]


def answered(
    served: Served, registry: Registry, body: bytes, *, minimal: bool = False
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return a request as it is loaded, and the members of its answer; raise as `answer` does."""
    calculation = served.offered
    sent, request = load(served, registry, body)
    arguments = arguments_of(served, registry, request)
    result = _run(calculation, arguments)
    written = _written(served, result)
    figures = figures_of(request, written)
    told = {
        "calculation": {"id": calculation.id, "version": calculation.version},
        **({LABEL: request[LABEL]} if LABEL in request else {}),
        "result": written,
        "summary": list(calculation.summary(as_declared(figures))),
        "findings": list(_findings(calculation, arguments, result, figures)),
        "assumed": list(_assumed(served, sent, arguments, result)),
        "provenance": _provenance(served, body, request, arguments),
    }
    if minimal:
        return request, told
    subjects = calculation.working_figures(figures, result)
    whole = {
        **told,
        "working": [step for subject in subjects for step in _working(calculation.working, subject)],
        "cautions": list(calculation.cautions_with(_sent(request))),
        "references": [asdict(reference) for reference in _references(served, request, arguments)],
    }
    return request, whole


def load(served: Served, registry: Registry, body: bytes) -> tuple[dict[str, Any], dict[str, Any]]:
    """Read and validate a request; return it as sent, and with a default for what it does not say."""
    try:
        sent = parse(body)
    except MalformedBodyError as error:
        raise ProblemError("malformed-body", str(error)) from None
    with KnownRuleSets(tuple(registry.rule_sets)):
        try:
            return sent, dict(served.request.load(sent))
        except ValidationError as error:
            raise invalid_request(error.messages, served.request) from None


def arguments_of(served: Served, registry: Registry, request: Mapping[str, Any]) -> dict[str, Any]:
    """Return the keywords for `run`: columns of one row for an elementwise calculation, rule sets for their ids."""
    arguments: dict[str, Any] = {}
    for name, field in served.request.fields.items():
        if name == LABEL:
            continue
        if served.offered.elementwise:
            arguments[name] = field.column([request.get(name)])  # type: ignore[attr-defined]
        elif isinstance(field, RuleSets):
            arguments[name] = [registry.rule_sets[name].offered for name in field.ids(request)]
        else:
            arguments[name] = request.get(name)
    return arguments


def figures_of(request: Mapping[str, Any], written: Mapping[str, Any]) -> dict[str, Any]:
    """Return the request's members (after defaults) and the written result's, by name."""
    return {**{name: _plain(value) for name, value in request.items()}, **written}


def digest(content: bytes) -> str:
    """Return SHA-256 as RFC 9530 writes it."""
    return f"sha-256=:{base64.b64encode(hashlib.sha256(content).digest()).decode()}:"


def _run(calculation: Calculation, arguments: Mapping[str, Any]) -> Any:
    try:
        return calculation.run(**arguments)
    except NotApplicableError as error:
        raise not_applicable(_without_row(error) if calculation.elementwise else error) from None
    except Exception as error:
        raise _failed(calculation) from error


def _written(served: Served, result: Any) -> dict[str, Any]:
    try:
        written: dict[str, Any] = served.write(result)
    except Exception as error:
        raise _failed(served.offered) from error
    return written


def _failed(calculation: Calculation) -> ProblemError:
    # The log names the calculation and the place in its code; the survey's content stays out of it.
    _log.exception("calculation %s %s failed", calculation.id, calculation.version)
    return ProblemError("calculation-failed", f"The calculation {calculation.id} {calculation.version} failed.")


def _without_row(error: NotApplicableError) -> NotApplicableError:
    """Leave out the row of a single call: the caller sent none."""
    return NotApplicableError([(code, path[:1], message) for code, path, message in error.faults])


def _plain(value: Any) -> Any:
    return value.isoformat() if hasattr(value, "isoformat") else value


def _findings(
    calculation: Calculation, arguments: Mapping[str, Any], result: Any, figures: Figures
) -> Iterator[dict[str, Any]]:
    named = columns(arguments) if calculation.elementwise else arguments
    for finding in calculation.findings:
        for path, values in _occurrences(calculation, finding, named, result, figures):
            told = {
                "code": finding.code,
                "severity": finding.severity,
                "statement": filled(finding.statement, values),
                "pointer": pointer(path),
                "values": {name: _plain(value) for name, value in as_declared(values).items()},
            }
            yield told if path else {name: member for name, member in told.items() if name != "pointer"}


def _occurrences(
    calculation: Calculation, finding: Finding, arguments: Arguments, result: Any, figures: Figures
) -> Iterator[tuple[tuple[str | int, ...], dict[str, Any]]]:
    where: Any = finding.applies(arguments, result)
    if not calculation.elementwise:
        for place in where:
            yield place.path, {name: place.values[name] for name in finding.values}
    elif np.any(where):
        yield (finding.field,) if finding.field else (), {name: figures[name] for name in finding.values}


def _assumed(served: Served, sent: Mapping[str, Any], arguments: Mapping[str, Any], result: Any) -> Iterator[dict[str, Any]]:
    yield from _defaults(served.request, sent, "")
    for field in _rule_set_fields(served):
        if sent.get(str(field.name)) is None:
            ids = field.ids(sent)
            basis = "the rule sets that apply where none is named" if ids else "rules were sent: no rule set is added to them"
            yield {"field": field.name, "value": ids, "unit": None, "basis": basis}
    for assumption in served.offered.assumed:
        if assumption.when(arguments, result):
            yield _told(assumption, arguments, result)


def _defaults(schema: ma.Schema, sent: Mapping[str, Any], within: str) -> Iterator[dict[str, Any]]:
    """Tell every default that was used, in member objects too."""
    for name, field in schema.fields.items():
        if sent.get(name) is None:
            if field.load_default is not ma.missing and "basis" in field.metadata:
                unit, basis = field.metadata.get("unit"), field.metadata["basis"]
                yield {"field": within + name, "value": _plain(field.load_default), "unit": unit, "basis": basis}
        elif isinstance(field, Object):
            yield from _defaults(field.schema, sent[name], f"{within}{name}.")


def _told(assumption: Assumption, arguments: Mapping[str, Any], result: Any) -> dict[str, Any]:
    def of_call(value: Any) -> Any:
        return value(arguments, result) if callable(value) else value

    value = as_declared({assumption.field: of_call(assumption.value)})[assumption.field]
    return {
        "field": assumption.field,
        "value": _plain(value),
        "unit": assumption.unit,
        "basis": of_call(assumption.basis),
    }


def _working(steps: Sequence[Step], figures: Figures) -> Iterator[dict[str, Any]]:
    for step in steps:
        named = (*_names(step.substituted), step.value)
        if all(figures.get(name) is not None for name in named) and step.when(figures):
            yield {
                **({"of": figures["of"]} if "of" in figures else {}),
                "symbol": step.symbol,
                "formula": step.formula,
                "substituted": substituted(step, {name: figures[name] for name in named}),
                "value": figures[step.value],
                "unit": step.unit,
                "reference": step.reference(figures) if callable(step.reference) else step.reference,
            }


@cache
def _names(template: str) -> tuple[str, ...]:
    return tuple(name for _, name, _, _ in Formatter().parse(template) if name)


def _rule_set_fields(served: Served) -> list[RuleSets]:
    return [field for field in served.request.fields.values() if isinstance(field, RuleSets)]


def _rule_sets(served: Served, arguments: Mapping[str, Any]) -> list[RuleSet]:
    return [found for field in _rule_set_fields(served) for found in arguments[str(field.name)]]


def _sent(request: Mapping[str, Any]) -> set[str]:
    return {name for name, value in request.items() if value is not None}


def _references(served: Served, request: Mapping[str, Any], arguments: Mapping[str, Any]) -> list[Reference]:
    """Return what the calculation cites and what the rule sets used cite, each once."""
    cited = served.offered.references_with(_sent(request))
    brought = [reference for found in _rule_sets(served, arguments) for reference in found.references]
    return list({reference.id: reference for reference in (*cited, *brought)}.values())


def _provenance(served: Served, body: bytes, request: Mapping[str, Any], arguments: Mapping[str, Any]) -> dict[str, Any]:
    canonical = {name: value for name, value in request.items() if name != LABEL}
    canonical |= {str(field.name): [found.id for found in arguments[str(field.name)]] for field in _rule_set_fields(served)}
    return {
        "service_version": SERVICE_VERSION,
        "distribution": asdict(served.distribution),
        "rule_sets": [
            {"id": found.id, "version": found.version, "digest": found.digest} for found in _rule_sets(served, arguments)
        ],
        "request_digest": digest(body),
        "arguments_digest": digest(orjson.dumps(canonical, option=orjson.OPT_SORT_KEYS)),
    }
