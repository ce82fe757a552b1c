"""From the bytes of a request to the members of its answer: one way for every calculation, ours or a third party's."""

from __future__ import annotations

import hashlib
import logging
from binascii import b2a_base64
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date
from importlib.metadata import version
from typing import Any

import orjson
from marshmallow.exceptions import ValidationError

from platemargin.declared import Declared
from platemargin.errors import NotApplicableError
from platemargin.rules import RuleSet
from platemargin_api.assumed import assumed_of_one
from platemargin_api.body import MalformedBodyError, parse
from platemargin_api.called import Called, CalledRow, ColumnsOfOne
from platemargin_api.fields import LABEL, KnownRuleSets, RuleSets
from platemargin_api.findings import findings_of_one
from platemargin_api.problems import ProblemError, invalid_request, not_applicable
from platemargin_api.reader import Taken
from platemargin_api.registry import Registry, Served
from platemargin_api.typed_tables import typed_table
from platemargin_api.unchanging import Unchanging

__all__ = [
    "LABEL",
    "SERVICE_VERSION",
    "answer",
    "answered",
    "arguments_of",
    "columns_of",
    "digest",
    "encoded",
    "failed",
    "figures_of",
    "load",
    "without_row",
    "written_digest",
]

SERVICE_VERSION = version("platemargin")

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
    return _answered(served, registry, body, served.unchanging, minimal=minimal)


def encoded(served: Served, registry: Registry, body: bytes, *, minimal: bool = False) -> bytes:
    """Return the answer to one request as JSON: the members of `answer`, those that never change not encoded anew.

    Raises
    ------
    ProblemError
        As `answer`.
    """
    return orjson.dumps(_answered(served, registry, body, served.encoded, minimal=minimal)[1])


def _answered(
    served: Served, registry: Registry, body: bytes, unchanging: Unchanging, *, minimal: bool
) -> tuple[dict[str, Any], dict[str, Any]]:
    try:
        return _placed(served, registry, body, unchanging, minimal=minimal)
    except ProblemError:
        raise
    except (Exception, SystemExit) as error:
        raise failed(served) from error


def _placed(
    served: Served, registry: Registry, body: bytes, unchanging: Unchanging, *, minimal: bool
) -> tuple[dict[str, Any], dict[str, Any]]:
    table = typed_table(served.typed, body)
    if table is None:
        return _told(served, registry, body, unchanging, minimal=minimal)
    try:
        request, told = _told(served, registry, table.body, unchanging, minimal=minimal)
    except ProblemError as problem:
        raise table.refused(problem) from None
    found = [table.placed(finding) for finding in told["findings"]]
    return request, {**told, "findings": found, "provenance": {**told["provenance"], "request_digest": digest(body)}}


def _told(
    served: Served, registry: Registry, body: bytes, unchanging: Unchanging, *, minimal: bool
) -> tuple[dict[str, Any], dict[str, Any]]:
    calculation = served.offered
    sent, request, in_order = load(served, registry, body)
    asked = _canonical(served, request, in_order)
    # To copy a table and compare it takes less time than to write it.
    tables = {name: [row.copy() for row in request[name]] for name in in_order}
    called = _called(served, registry, request)
    arguments, result = called.arguments, called.result
    unchanged = {name: table for name, table in in_order.items() if request[name] == tables[name]}
    if not calculation.elementwise and _canonical(served, request, unchanged) != asked:
        raise RuntimeError("it changed its arguments")
    written = served.write(result)
    figures = figures_of(request, written)
    told = {
        "calculation": unchanging.calculation,
        **({LABEL: request[LABEL]} if LABEL in request else {}),
        "result": written,
        "summary": list(calculation.summary(Declared(figures))),
        "findings": findings_of_one(called, figures),
        "assumed": assumed_of_one(served, sent, called),
        "provenance": {
            "service_version": SERVICE_VERSION,
            "distribution": unchanging.distribution,
            "rule_sets": _used(served, arguments),
            "request_digest": digest(body),
            "arguments_digest": digest(asked),
        },
    }
    if minimal:
        return request, told
    subjects = calculation.working_figures(figures, result)
    brings = {member for member in calculation.brought if request.get(member) is not None}
    whole = {
        **told,
        "working": [step for subject in subjects for step in served.working.of(subject)],
        "cautions": list(calculation.cautions_with(brings)) if brings else unchanging.cautions,
        "references": _references(served, brings, arguments, unchanging),
    }
    return request, whole


def load(served: Served, registry: Registry, body: bytes) -> Taken:
    """Read and validate a request.

    What the quick way does not take is read again as the schema has it, which alone words the faults.
    """
    if served.read is not None and (taken := served.read(body, registry.rule_sets)) is not None:
        return taken
    try:
        sent = parse(body)
    except MalformedBodyError as error:
        raise ProblemError("malformed-body", str(error)) from None
    with KnownRuleSets(tuple(registry.rule_sets)):
        try:
            return Taken(sent, dict(served.request.load(sent)))
        except ValidationError as error:
            raise invalid_request(error.messages, served.request) from None


def arguments_of(served: Served, registry: Registry, request: Mapping[str, Any]) -> dict[str, Any]:
    """Return the keywords for `run`: columns of one row for an elementwise calculation, rule sets for their ids."""
    if served.offered.elementwise:
        return columns_of(served, [request])
    arguments: dict[str, Any] = {}
    for name, field in served.arguments.items():
        if isinstance(field, RuleSets):
            arguments[name] = [registry.rule_sets[name].offered for name in field.ids(request)]
        else:
            arguments[name] = request.get(name)
    return arguments


def columns_of(served: Served, requests: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Return the keywords for `run` of an elementwise calculation: a column of each member, with a row of each request."""
    return {name: field.column([request.get(name) for request in requests]) for name, field in served.arguments.items()}


def figures_of(request: Mapping[str, Any], written: Mapping[str, Any]) -> dict[str, Any]:
    """Return the request's members (after defaults) and the written result's, by name."""
    days = {name: value.isoformat() for name, value in request.items() if isinstance(value, date)}
    return {**request, **days, **written}


def digest(content: bytes) -> str:
    """Return SHA-256 as RFC 9530 writes it."""
    return written_digest(hashlib.sha256(content).digest())


def written_digest(sha_256: bytes) -> str:
    """Return the 32 bytes of a SHA-256 as RFC 9530 writes them."""
    return f"sha-256=:{b2a_base64(sha_256, newline=False).decode()}:"


def _called(served: Served, registry: Registry, request: Mapping[str, Any]) -> Called:
    """Call a calculation: one row of an elementwise one without columns, where that can be had."""
    if served.one_row is not None and (row := served.one_row(request)) is not None:
        return CalledRow(served.offered, ColumnsOfOne(served.arguments, request), *row)
    arguments = arguments_of(served, registry, request)
    return Called(served.offered, arguments, _run(served, arguments))


def _run(served: Served, arguments: Mapping[str, Any]) -> Any:
    try:
        return served.run(arguments)
    except NotApplicableError as error:
        raise not_applicable(without_row(error) if served.offered.elementwise else error) from None


def failed(served: Served) -> ProblemError:
    """Log the exception that is being handled; return the problem that the caller is told."""
    # The log names the calculation and the place in its code; the survey's content stays out of it.
    _log.exception("%s failed", served.named)
    return ProblemError("calculation-failed", f"{served.named} failed.")


def without_row(error: NotApplicableError) -> NotApplicableError:
    """Leave out the row of a single call: the caller sent none."""
    return NotApplicableError([(code, path[:1], message) for code, path, message in error.faults])


def _rule_sets(served: Served, arguments: Mapping[str, Any]) -> list[RuleSet]:
    return [found for field in served.rule_set_fields for found in arguments[str(field.name)]]


def _references(served: Served, brings: set[str], arguments: Mapping[str, Any], unchanging: Unchanging) -> Any:
    """Return what the calculation, the members sent and the rule sets used cite, each once."""
    brought = [reference for found in _rule_sets(served, arguments) for reference in found.references]
    if not brings and not brought:
        return unchanging.references
    own = served.offered.references_with(brings)
    if not brings and all(reference in own for reference in brought):
        return unchanging.references
    return [asdict(reference) for reference in {reference.id: reference for reference in (*own, *brought)}.values()]


def _used(served: Served, arguments: Mapping[str, Any]) -> list[dict[str, Any]]:
    return [{"id": found.id, "version": found.version, "digest": found.digest} for found in _rule_sets(served, arguments)]


def _canonical(served: Served, request: Mapping[str, Any], in_order: Mapping[str, Any]) -> bytes:
    """Return what was asked, after defaults, as it is digested; tables that are in JSON already as they are."""
    canonical = {**request, **in_order, **{str(field.name): field.ids(request) for field in served.rule_set_fields}}
    canonical.pop(LABEL, None)
    return orjson.dumps(canonical, option=orjson.OPT_SORT_KEYS)
