"""What a calculation declares, against the contract: one small check after the other, each telling what to change."""

from __future__ import annotations

import inspect
import math
import re
from collections import Counter
from collections.abc import Callable, Iterator
from typing import Any, get_args

import marshmallow as ma

from platemargin.declared import Fault, Finding, Severity, placeholders
from platemargin.quantities import DECIMALS, FIGURES, decimals_of
from platemargin_api.answer import LABEL
from platemargin_api.fields import Choice, Day, Flag, Integer, List, Member, Number, Object, Request, Response, Text
from platemargin_api.registry import Served, malformed

__all__ = ["CHECKS", "limits"]

_SNAKE = re.compile(r"[a-z][a-z0-9]*(_[a-z0-9]+)*")
_MEDIUM = re.compile(r"[a-z]+/[a-z0-9][a-z0-9.+-]*")
#: What the service answers in by itself, or will.
_OWN_MEDIA = (
    "application/json",
    "application/problem+json",
    "application/x-ndjson",
    "application/vnd.apache.arrow.stream",
    "text/csv",
)
_SECTIONS = ("Parameters", "Returns", "Raises", "Notes", "Examples", "References")
_SCALARS = (Number, Integer, Choice, Day, Text, Flag)


def limits(field: Any) -> tuple[Any, Any]:
    """Return a field's least and greatest value or length; None where it has none."""
    known = (ma.validate.Range, ma.validate.Length)
    return next(((v.min, v.max) for v in field.validators if isinstance(v, known)), (None, None))


def _is_bounded(field: Any) -> bool:
    low, high = limits(field)
    return None not in (low, high) and -math.inf < low <= high < math.inf


def _ending(unit: str) -> str:
    """Return what a name ends in whose number has some unit: ohm m, A/m2, 1/m2 are _ohm_m, _a_per_m2 and _per_m2."""
    spelt = unit.lower().replace("%", "percent").replace("1/", "per_").replace("/", "_per_")
    return "_" + spelt.replace(" ", "_").removeprefix("1_")


def _unit_named(field: Any) -> str:
    """Return the unit that a number's name ends in, the longest ending wins; where it ends in none, its own unit."""
    endings = {_ending(unit): unit for unit in (*DECIMALS, *FIGURES, field.unit)}
    found = [end for end in endings if field.name.endswith((end, f"{end}s"))]
    return str(endings[max(found, key=len)] if found else field.unit)


#: What every member of a schema keeps: of which fields, what, and the words where one does not.
_MEMBERS: tuple[tuple[type | tuple[type, ...], Callable[[Any], object], str], ...] = (
    (object, lambda f: isinstance(f, (*_SCALARS, List, Object)), "it is no field of platemargin_api.fields; use one"),
    (object, lambda f: _SNAKE.fullmatch(f.name), "its name is not in snake_case"),
    (object, lambda f: f.metadata.get("description"), "it has no description; say what it is"),
    ((Number, Integer), lambda f: f.unit, "it has no unit; name one"),
    ((Number, Integer), lambda f: _unit_named(f) == f.unit, "its name ends in a unit that is not its own; make them agree"),
    (Number, lambda f: (f.decimals or 0) <= decimals_of(f.name), "its name ends in a unit of fewer decimals; declare no more"),
    ((Number, Integer), _is_bounded, "it has no finite minimum and maximum, in that order"),
    ((Text, List), lambda f: isinstance(limits(f)[1], int), "it has no maximum length"),
    (object, lambda f: f.load_default in (ma.missing, []) or f.metadata.get("basis"), "say in basis= why this default"),
    (Object, lambda f: isinstance(f.schema, (Member, Response)), "base its schema on Member or Response"),
)


def _within(schema: ma.Schema, path: str) -> Iterator[tuple[str, Any]]:
    """Yield every member of a schema with its path, those of member objects and the items of arrays too."""
    for name, field in schema.fields.items():
        inner, here = field, f"{path}.{name}"
        yield here, inner
        while isinstance(inner, List):
            inner, here = inner.inner, f"{here}[]"
            yield here, inner
        if isinstance(inner, Object):
            yield from _within(inner.schema, here)


def _schemas(served: Served) -> Iterator[str]:
    for which, schema, base in (("request", served.request, Request), ("response", served.response, Response)):
        if not isinstance(schema, base):
            yield f"{which}: base it on platemargin_api.fields.{base.__name__}"
        inner = [(path, field.schema) for path, field in _within(schema, which) if isinstance(field, Object)]
        for path, each in [(which, schema), *inner] if base is Request else ():
            if each.unknown != ma.RAISE:
                yield f"{path}: it accepts unknown members; leave Meta.unknown as Member has it"
        for path, field in _within(schema, which):
            yield from (f"{path}: {words}" for kind, keeps, words in _MEMBERS if isinstance(field, kind) and not keeps(field))


def _identity(served: Served) -> Iterator[str]:
    if reason := malformed(served.offered):
        yield f"{reason}; change it"
    label = served.request.fields.get(LABEL)
    if not isinstance(label, Text) or label.required or limits(label) != (1, 100):
        yield "request: every call may carry a label; leave id as Request has it"


def _keywords(served: Served) -> Iterator[str]:
    parameters = inspect.signature(served.offered.run).parameters
    members = set(served.request.fields) - {LABEL}
    for name, parameter in parameters.items():
        if parameter.kind not in (parameter.KEYWORD_ONLY, parameter.POSITIONAL_OR_KEYWORD):
            yield f"run: {name} is {parameter.kind.description}; name each keyword"
        elif name not in members:
            yield f"run: its keyword {name} is no member of the request"
    for name in sorted(members - set(parameters)):
        yield f"run: it has no keyword {name}, which is a member of the request"


def _references(served: Served) -> Iterator[str]:
    counted = Counter(reference.id for reference in served.offered.references)
    ids = {reference.id for reference in served.offered.references_with(served.offered.brought)}
    if not ids:
        yield "references: there is none; what the trade does without a publication is one too (common_practice)"
    yield from (f"references: two are called {name}" for name, count in counted.items() if count > 1)
    yield from (
        f"brought: {name} is no member of the request" for name in served.offered.brought if name not in served.request.fields
    )
    for step in served.offered.working:
        if isinstance(step.reference, str) and step.reference not in ids:
            yield f"working {step.symbol}: it cites {step.reference}, which is not among references"
    _, *parts = re.split(r"^(\w+)\n-+$", inspect.getdoc(served.offered.run) or "", flags=re.MULTILINE)
    sections = dict(zip(parts[::2], parts[1::2], strict=True))
    yield from (f"run: its docstring has no section {name}" for name in _SECTIONS if name not in sections)
    cited = re.findall(r"[a-z0-9]+(?:-[a-z0-9]+)*", sections.get("References", "").partition(";")[0])
    for name in sorted(set(cited) - ids):
        yield f"run: its docstring cites {name}, which is not among references; cite ids, with commas between them"


def _codes(served: Served) -> Iterator[str]:
    requested, known = set(served.request.fields), {*served.request.fields, *served.response.fields}
    counted = Counter(finding.code for finding in served.offered.findings)
    yield from (f"finding {code}: two have this code" for code, count in counted.items() if count > 1)
    for finding in served.offered.findings:
        where = f"finding {finding.code}"
        if finding.severity not in get_args(Severity):
            yield f"{where}: its severity {finding.severity!r} is none of {', '.join(get_args(Severity))}"
        for name in sorted(set(placeholders(finding.statement)) - set(finding.values)):
            yield f"{where}: its statement uses {{{name}}}, which is not among its values"
        for name in sorted(set(finding.values) - known if served.offered.elementwise else ()):
            yield f"{where}: its value {name} is no member of the request or the response"
    told: tuple[Fault | Finding, ...] = (*served.offered.findings, *served.offered.faults)
    for declared in told:
        where = f"{type(declared).__name__.lower()} {declared.code}"
        if not _SNAKE.fullmatch(declared.code):
            yield f"{where}: its code is not in snake_case"
        if declared.field is not None and declared.field not in requested:
            yield f"{where}: its field {declared.field} is no member of the request"


def _columns(served: Served) -> Iterator[str]:
    for name, field in served.request.fields.items() if served.offered.elementwise else ():
        absent = isinstance(field, Integer) and not field.required and field.load_default is ma.missing
        if name != LABEL and (absent or not isinstance(field, (Number, Integer, Choice, Day))):
            yield f"request.{name}: it cannot be a column: take a Number, Choice, Day, or an Integer that is never absent"
    for name, field in served.response.fields.items() if served.offered.elementwise else ():
        yield from _no_columns(field, f"response.{name}")


def _no_columns(field: Any, path: str) -> Iterator[str]:
    """Tell what of a response's member cannot be columns: an object is one of each member, an array one of each item."""
    if isinstance(field, (Object, List)) and field.nullable:
        yield f"{path}: an object or an array in columns is never null; let its members be"
    if isinstance(field, Object):
        for name, member in field.schema.fields.items():
            yield from _no_columns(member, f"{path}.{name}")
    elif isinstance(field, List):
        low, high = limits(field)
        if low != high or not low:
            yield f"{path}: an array in columns has one length, 1 or more; give it as minimum and as maximum"
        yield from _no_columns(field.inner, f"{path}[]")
    elif not isinstance(field, _SCALARS):
        yield f"{path}: it cannot be a column: take a Number, Integer, Choice, Day, Text or Flag"


def _media(served: Served) -> Iterator[str]:
    for medium in served.offered.renderings:
        if not _MEDIUM.fullmatch(medium):
            yield f"rendering {medium}: it is no media type in small letters, such as image/svg+xml"
        elif medium in _OWN_MEDIA:
            yield f"rendering {medium}: the service itself answers in that; offer another"


CHECKS = (_identity, _schemas, _keywords, _references, _codes, _columns, _media)
