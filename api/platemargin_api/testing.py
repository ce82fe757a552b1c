"""Whether a calculation keeps the contract: for the tests of everybody who writes one, and for our own."""

from __future__ import annotations

import ast
import copy
import doctest
import inspect
import math
import operator
import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from string import Formatter
from traceback import extract_tb
from typing import Any, TypeAlias, get_args

import marshmallow as ma
import numpy as np

from platemargin.declared import Severity, columns, filled
from platemargin.errors import NotApplicableError
from platemargin.quantities import DECIMALS, decimals_of
from platemargin.reference import Basis
from platemargin.rules import RuleSet
from platemargin_api.answer import LABEL, answer, arguments_of, figures_of, load
from platemargin_api.body import dump
from platemargin_api.calculation import Calculation
from platemargin_api.fields import Choice, Day, Flag, Integer, List, Number, Object, Request, Response, Text
from platemargin_api.registry import Distribution, Plugin, Registry, Served, load_registry, malformed

__all__ = ["check_calculation", "evaluate"]

Departures: TypeAlias = Iterator[str]

_SNAKE = re.compile(r"[a-z][a-z0-9]*(_[a-z0-9]+)*")
_SECTIONS = ("Parameters", "Returns", "Raises", "Notes", "Examples", "References")
_FIELDS = (Number, Integer, Flag, Text, Choice, Day, Object, List)
_CHECKED = Distribution("(being checked)", "0")


def check_calculation(calculation: Calculation, rule_sets: Sequence[RuleSet] | None = None) -> None:
    """Check a calculation against the whole contract of `platemargin_api.calculation`.

    What it declares is read; its example is answered, and so is the example with one member at a time left out or moved to
    its bounds.

    Parameters
    ----------
    calculation : Calculation
        What the entry point offers.
    rule_sets : sequence of RuleSet, optional
        Those that the example may name; by default all that are installed.

    Raises
    ------
    AssertionError
        Listing every departure, each in words that say what to change.

    Notes
    -----
    A line of working is evaluated as it is written, in figures that are rounded as declared. It may therefore miss its value
    by what one unit in the last declared decimal makes: of each figure in turn, and of the value, all added up.

    Examples
    --------
    >>> from platemargin_api.calculations.residual_thickness import calculation
    >>> check_calculation(calculation)
    """
    served = Served(calculation, _CHECKED)
    sets = load_registry([]).rule_sets if rule_sets is None else {r.id: Plugin(r, _CHECKED) for r in rule_sets}
    departures = [words for check in _DECLARED for words in _told(check, served)]
    registry = Registry(calculations={calculation.id: served}, rule_sets=sets)
    try:
        trial = _Trial.of(served, registry, calculation.example)
    except Exception as error:  # noqa: BLE001  whatever a plug-in raises is told
        departures.append(f"example: it cannot be answered: {_blame(error)}")
    else:
        departures += [words for check in _TRIED for words in _told(check, trial)]
    if departures:
        listed = "".join(f"\n- {words}" for words in dict.fromkeys(departures))
        raise AssertionError(f"{calculation.id} departs from the contract of a calculation:{listed}")


def _told(check: Callable[[Any], Departures], subject: object) -> Departures:
    try:
        yield from check(subject)
    except Exception as error:  # noqa: BLE001  the same
        yield f"{check.__name__.strip('_')}: it cannot be checked: {_blame(error)}"


def _blame(error: Exception) -> str:
    line = extract_tb(error.__traceback__)[-1]
    return f"{type(error).__name__}: {error} ({Path(line.filename).name}, line {line.lineno})"


# What is declared.


def _members(served: Served, *which: str) -> Iterator[tuple[str, Any]]:
    """Yield every member of the schemas with its path, those of member objects and the items of arrays too."""
    for name in which or ("request", "response"):
        yield from _within(getattr(served, name), name)


def _within(schema: ma.Schema, path: str) -> Iterator[tuple[str, Any]]:
    for name, field in schema.fields.items():
        inner: Any = field
        here = f"{path}.{name}"
        yield here, inner
        while isinstance(inner, List):
            inner, here = inner.inner, f"{here}[]"
            yield here, inner
        if isinstance(inner, Object):
            yield from _within(inner.schema, here)


def _limits(field: Any) -> tuple[Any, Any]:
    known = (ma.validate.Range, ma.validate.Length)
    return next(((v.min, v.max) for v in field.validators if isinstance(v, known)), (None, None))


def _placeholders(template: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(template) if name}


def _repeated(names: Iterable[str]) -> list[str]:
    return [name for name, count in Counter(names).items() if count > 1]


def _identity(served: Served) -> Departures:
    if reason := malformed(served.offered):
        yield reason
    for name in ("title", "description"):
        if not getattr(served.offered, name).strip():
            yield f"{name}: it is empty; say what the calculation answers"


def _fields(served: Served) -> Departures:
    for path, field in _members(served):
        if not isinstance(field, _FIELDS):
            yield f"{path}: {type(field).__name__} is no field of platemargin_api.fields; use one of those"
        if not _SNAKE.fullmatch(path.rpartition(".")[2].rstrip("[]")):
            yield f"{path}: its name is not in snake_case"
        if not field.metadata.get("description", "").strip():
            yield f"{path}: it has no description"


def _bases(served: Served) -> Departures:
    for which, base in (("request", Request), ("response", Response)):
        nested = [(path, f.schema) for path, f in _members(served, which) if isinstance(f, Object)]
        for path, schema in [(which, getattr(served, which)), *nested]:
            if not isinstance(schema, base):
                yield f"{path}: its schema is not based on platemargin_api.fields.{base.__name__}"
            if which == "request" and schema.unknown != ma.RAISE:
                yield f"{path}: it accepts unknown members; leave Meta.unknown as Request has it"


def _label(served: Served) -> Departures:
    field = served.request.fields.get(LABEL)
    if not isinstance(field, Text) or field.required or _limits(field) != (1, 100):
        yield "request.id: every call may carry a label; add id = Text(1, 100, description=...)"


def _units(served: Served) -> Departures:
    for path, field in _members(served):
        name = path.rpartition(".")[2].rstrip("[]")
        if not isinstance(field, (Number, Integer)):
            continue
        if not field.unit:
            yield f"{path}: it has no unit"
        elif (named := _unit_named(name, field.unit)) != field.unit:
            yield f"{path}: its name ends in {named}, its unit is {field.unit}; make them agree"
        elif isinstance(field, Number) and field.decimals > decimals_of(name):
            yield f"{path}: {field.decimals} decimals, but sentences write {decimals_of(name)} by its name's ending"


def _unit_named(name: str, unit: str) -> str:
    """Return the unit that a name ends in, the longest ending wins; where it ends in none, the unit itself."""
    endings = {"_" + known.replace("%", "percent").replace("/", "_per_"): known for known in (*DECIMALS, unit)}
    found = [ending for ending in endings if name.removesuffix("s").endswith(ending) or name.endswith(ending)]
    return endings[max(found, key=len)] if found else unit


def _bounds(served: Served) -> Departures:
    for path, field in _members(served):
        low, high = _limits(field) if isinstance(field, (Number, Integer)) else (0, 0)
        if None in (low, high) or not -math.inf < low <= high < math.inf:
            yield f"{path}: its bounds {low} and {high} are not a finite minimum and maximum"


def _lengths(served: Served) -> Departures:
    for path, field in _members(served):
        if isinstance(field, (Text, List)) and not isinstance(_limits(field)[1], int):
            yield f"{path}: it has no maximum length"
        if isinstance(field, Choice) and (not field.names or _repeated(field.names)):
            yield f"{path}: its choices are none, or one is named twice"


def _defaults(served: Served) -> Departures:
    for path, field in _members(served, "request"):
        if field.load_default not in (ma.missing, []) and not field.metadata.get("basis"):
            yield f"{path}: it has a default; say in basis= why that one"


def _keywords(served: Served) -> Departures:
    parameters = inspect.signature(served.offered.run).parameters
    members = set(served.request.fields) - {LABEL}
    for name, parameter in parameters.items():
        if parameter.kind not in (parameter.KEYWORD_ONLY, parameter.POSITIONAL_OR_KEYWORD):
            yield f"run: {name} is {parameter.kind.description}; name each keyword"
        elif name not in members:
            yield f"run: its keyword {name} is no member of the request"
    for name in sorted(members - set(parameters)):
        yield f"run: it has no keyword {name}, which is a member of the request"


def _references(served: Served) -> Departures:
    ids = [reference.id for reference in served.offered.references]
    if not ids:
        yield "references: there is none; what the trade does without a publication is one too (common_practice)"
    for name in _repeated(ids):
        yield f"references: two are called {name}"
    for reference in served.offered.references:
        if reference.basis not in get_args(Basis):
            yield f"references: the basis {reference.basis!r} of {reference.id} is none of {', '.join(get_args(Basis))}"
    for step in served.offered.working:
        if step.reference not in ids:
            yield f"working {step.symbol}: it cites {step.reference}, which is not among references"


def _docstring(served: Served) -> Departures:
    _, *parts = re.split(r"^(\w+)\n-+$", inspect.getdoc(served.offered.run) or "", flags=re.MULTILINE)
    sections = dict(zip(parts[::2], parts[1::2], strict=True))
    for name in _SECTIONS:
        if name not in sections:
            yield f"run: its docstring has no section {name}"
    for name in inspect.signature(served.offered.run).parameters if "Parameters" in sections else ():
        if not re.search(rf"\b{name}\b", sections["Parameters"]):
            yield f"run: its docstring says nothing of the parameter {name}"
    cited = re.findall(r"[a-z0-9]+(?:-[a-z0-9]+)*", sections.get("References", "").partition(";")[0])
    for name in sorted(set(cited) - {reference.id for reference in served.offered.references}):
        yield f"run: its docstring cites {name}, which is not among references; cite ids, with commas between them"


def _doctest(served: Served) -> Departures:
    run = served.offered.run
    runner, said = doctest.DocTestRunner(verbose=False), list[str]()
    for test in doctest.DocTestFinder(recurse=False).find(run, "run", globs=dict(vars(inspect.getmodule(run)))):
        runner.run(test, out=said.append)
    if runner.failures:
        yield f"run: the example in its docstring fails: {' '.join(''.join(said).split())}"


def _templates(served: Served) -> Departures:
    offered = served.offered
    members, requested = {*served.request.fields, *served.response.fields}, set(served.request.fields)
    stated = [(f"finding {f.code}", f.statement, members) for f in offered.findings]
    stated += [(f"fault {f.code}", f.message, requested) for f in offered.faults]
    stated += [(f"working {s.symbol}", s.substituted + f"{{{s.value}}}", members) for s in offered.working]
    for where, template, known in stated:
        if any(spec or conversion for _, _, spec, conversion in Formatter().parse(template)):
            yield f"{where}: a placeholder has a format of its own; figures are written as declared"
        for name in sorted(_placeholders(template) - known if offered.elementwise else ()):
            yield f"{where}: {{{name}}} is no member of the {'request' if known is requested else 'request or response'}"


def _findings(served: Served) -> Departures:
    for code in _repeated(finding.code for finding in served.offered.findings):
        yield f"finding {code}: two have this code"
    for finding in served.offered.findings:
        if finding.severity not in get_args(Severity):
            yield f"finding {finding.code}: its severity {finding.severity!r} is none of {', '.join(get_args(Severity))}"
        for name in sorted(_placeholders(finding.statement) - set(finding.values)):
            yield f"finding {finding.code}: its statement uses {{{name}}}, which is not among its values"
        for name in finding.values if served.offered.elementwise else ():
            if name not in {*served.request.fields, *served.response.fields}:
                yield f"finding {finding.code}: its value {name} is no member of the request or response"
    for kind in ("finding", "fault"):
        for declared in getattr(served.offered, f"{kind}s"):
            if not _SNAKE.fullmatch(declared.code):
                yield f"{kind} {declared.code}: its code is not in snake_case"
            if declared.field is not None and declared.field not in served.request.fields:
                yield f"{kind} {declared.code}: its field {declared.field} is no member of the request"


def _columns(served: Served) -> Departures:
    """An absent number, day or choice has a value of its own in a column; a whole number and a flag do not."""
    for which in ("request", "response") if served.offered.elementwise else ():
        for name, field in getattr(served, which).fields.items():
            kinds = (Number, Integer, Choice, Day) if which == "request" else _FIELDS[:6]
            if name != LABEL and not isinstance(field, kinds):
                yield f"{which}.{name}: a {type(field).__name__} cannot be a column of an elementwise calculation"
            elif which == "request" and isinstance(field, Integer) and not field.required and field.load_default is ma.missing:
                yield f"{which}.{name}: a whole number cannot be absent from a column; make it required or give a default"
