"""Every failure as a problem of RFC 9457, with a pointer to each fault."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any

import marshmallow as ma

from platemargin.errors import NotApplicableError
from platemargin_api.fields import List, Object, Wrong
from platemargin_api.wording import hint, nearest

__all__ = ["PROBLEMS", "Problem", "ProblemError", "invalid_request", "not_applicable", "pointer"]

#: A survey that is wrong throughout is told of its first faults; nobody mends more at a time.
MOST_FAULTS = 100


@dataclass(frozen=True)
class Problem:
    """A kind of failure: its status, its title, and what the caller can do."""

    name: str
    status: int
    title: str
    remedy: str


PROBLEMS = {
    kind.name: kind
    for kind in (
        Problem("malformed-body", 400, "Not as its media type says", "Send what the detail asks for; do not retry unchanged."),
        Problem("unauthorised", 401, "No valid key", "Send a key of this service; do not retry unchanged."),
        Problem("forbidden", 403, "The key does not allow this", "Ask the operator of this service for another key."),
        Problem("not-found", 404, "Nothing is at this path", "See the paths in /openapi.json."),
        Problem("unknown-calculation", 404, "No such calculation", "GET /v1/calculations lists those of this service."),
        Problem("unknown-rule-set", 404, "No such rule set", "GET /v1/rule-sets lists those of this service."),
        Problem("method-not-allowed", 405, "The path does not take this method", "Use a method of the Allow header."),
        Problem("not-acceptable", 406, "No acceptable media type", "Accept a media type that the detail names."),
        Problem("timeout", 408, "The request came too slowly", "Retry with back-off."),
        Problem("too-large", 413, "The body is too large", "Send less at a time; do not retry unchanged."),
        Problem("unsupported-media-type", 415, "Not a media type that is read here", "Send one that the detail names."),
        Problem("invalid-request", 422, "The request does not fit its schema", "Change what the errors point to."),
        Problem("not-applicable", 422, "Fields each valid, together not", "Change what the errors point to."),
        Problem("rate-limited", 429, "Too many requests", "Retry after the time in Retry-After."),
        Problem("calculation-failed", 500, "The calculation failed", "Report it to whoever runs or wrote the calculation."),
        Problem("busy", 503, "The service is busy", "Retry with back-off."),
        Problem(
            "calculation-overdue",
            503,
            "The calculation took too long",
            "Retry with back-off; where it takes too long again, send less, or report it to whoever runs the service.",
        ),
    )
}


class ProblemError(Exception):
    """A failure on its way out."""

    def __init__(self, name: str, detail: str, errors: Sequence[Mapping[str, Any]] = ()) -> None:
        super().__init__(detail)
        self.kind = PROBLEMS[name]
        self.detail = detail
        self.errors = errors

    def document(self) -> dict[str, Any]:
        """Return the problem's members."""
        document: dict[str, Any] = {
            "type": f"/problems/{self.kind.name}",
            "title": self.kind.title,
            "status": self.kind.status,
            "detail": self.detail,
        }
        return {**document, "errors": list(self.errors)} if self.errors else document


def pointer(path: Iterable[str | int]) -> str:
    """Return a JSON pointer (RFC 6901).

    Examples
    --------
    >>> pointer(["readings", 3, "a/b"])
    '/readings/3/a~1b'
    """
    return "".join("/" + str(part).replace("~", "~0").replace("/", "~1") for part in path)


def invalid_request(messages: Any, schema: ma.Schema) -> ProblemError:
    """Turn what marshmallow found into a problem with every fault at once."""
    faults = _faults(messages, schema, ())
    errors = [_told(*fault) for fault in islice(faults, MOST_FAULTS)]
    return ProblemError("invalid-request", _counted(errors, len(errors) + sum(1 for _ in faults)), errors)


def not_applicable(error: NotApplicableError) -> ProblemError:
    """Turn the relations that a calculation found broken into a problem."""
    errors = [{"code": code, "detail": message, "pointer": pointer(path)} for code, path, message in error.faults]
    return ProblemError("not-applicable", _counted(errors, len(errors)), errors[:MOST_FAULTS])


def _counted(errors: Sequence[Mapping[str, Any]], count: int) -> str:
    first = errors[0]
    more = f" ({count} faults in all)" if count > 1 else ""
    return f"{first['pointer'] or 'The request'}: {first['detail']}{more}"


def _faults(messages: Any, schema: Any, path: tuple[str | int, ...]) -> Iterator[tuple[Wrong, Any, tuple[str | int, ...]]]:
    """Return each fault with the schema that it is of and the path to it, always in the same order."""
    if isinstance(messages, Mapping):
        for key in _in_order(messages):
            inner = messages[key]
            if key == "_schema" and not _is_unknown(inner):
                yield from _faults(inner, None, path)
            else:
                yield from _faults(inner, _member(schema, key), (*path, key))
        return
    for message in messages if isinstance(messages, list) else [messages]:
        yield message if isinstance(message, Wrong) else Wrong("invalid", str(message)), schema, path


def _in_order(messages: Mapping[Any, Any]) -> list[Any]:
    """Return the keys as marshmallow met them, but unknown members last and by name: it meets those in a set's order."""
    return sorted(messages, key=lambda key: (True, key) if _is_unknown(messages[key]) else (False, ""))


def _is_unknown(messages: Any) -> bool:
    return isinstance(messages, list) and any(getattr(message, "code", None) == "unknown_field" for message in messages)


def _told(wrong: Wrong, schema: Any, path: tuple[str | int, ...]) -> dict[str, Any]:
    """Return a fault as it is told; names are compared here, for the faults that are told, and not where they are found."""
    told = {"code": wrong.code, "detail": wrong.detail, "pointer": pointer(path), **wrong.allowed}
    if wrong.code == "unknown_field" and isinstance(schema, _Stranger):
        name, known = str(path[-1]), schema.known
        others = hint(name, known, otherwise=f"members are {', '.join(known)}")
        return told | {"detail": f"{wrong.detail}{others}", **nearest(name, known)}
    if wrong.misspelt is None:
        return told
    known = wrong.allowed["allowed"]
    return told | {"detail": f"{wrong.detail}{hint(wrong.misspelt, known)}", **nearest(wrong.misspelt, known)}


@dataclass(frozen=True)
class _Stranger:
    """Where a member is not of its schema: the names that are."""

    known: tuple[str, ...]


def _member(schema: Any, key: str | int) -> Any:
    """Return the schema of a member, so that the fault of a misspelt name can tell the nearest one."""
    if isinstance(schema, ma.Schema):
        found = schema.fields.get(str(key))
        return _Stranger(tuple(schema.fields)) if found is None else _inside(found)
    return schema


def _inside(member: Any) -> Any:
    if isinstance(member, List):
        return _inside(member.inner)
    return member.schema if isinstance(member, Object) else None
