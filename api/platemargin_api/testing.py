"""Whether a calculation keeps the contract: for the tests of everybody who writes one, and for our own."""

from __future__ import annotations

import copy
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

import marshmallow as ma
import numpy as np

from platemargin.declared import Assumption, Step, Where, columns, placeholders, substituted
from platemargin.errors import NotApplicableError
from platemargin.quantities import last_place, unit_of
from platemargin.rules import HULL_SIZE, RuleSet
from platemargin_api.answer import answer, answered, arguments_of, figures_of, load
from platemargin_api.arithmetic import evaluate
from platemargin_api.body import dump
from platemargin_api.calculation import Calculation, Figures
from platemargin_api.declarations import CHECKS, limits
from platemargin_api.fields import Integer, List, Number, Object
from platemargin_api.registry import Distribution, Plugin, Registry, Served, load_registry
from platemargin_api.rendering_checks import unsafe

__all__ = ["check_calculation", "evaluate"]


def check_calculation(calculation: Calculation, rule_sets: Sequence[RuleSet] | None = None) -> None:
    """Check a calculation against the whole contract of `platemargin_api.calculation`.

    What it declares is read; its example is answered, and so is the example with one member at a time left out or moved to
    its bounds.

    Parameters
    ----------
    calculation : Calculation
        What the entry point offers.
    rule_sets : sequence of RuleSet, optional
        Those that the example names and that are not installed; limits by hull are worked out at every corner of its size.

    Raises
    ------
    AssertionError
        Listing every departure, each in words that say what to change.

    Notes
    -----
    A line of working is evaluated as it is written, in figures rounded as declared. It may miss its value by what one unit in
    the last declared decimal makes: of each figure in turn, and of the value, all added up.

    Examples
    --------
    >>> from platemargin_api.calculations.residual_thickness import calculation
    >>> check_calculation(calculation)
    """
    __tracebackhide__ = True  # pytest then shows the departures alone
    nobody = Distribution("(being checked)", "0")
    served = Served(calculation, nobody)
    sets = {**load_registry([]).rule_sets, **{found.id: Plugin(found, nobody) for found in rule_sets or ()}}
    departures = [words for check in CHECKS for words in _told(check, served)]
    departures += [words for found in rule_sets or () for words in _told(_limits_by_hull, found)]
    try:
        trial = _trial(served, Registry({calculation.id: served}, sets), calculation.example)
    except Exception as error:  # noqa: BLE001  whatever a plug-in raises is told
        departures.append(f"example: it cannot be answered ({type(error).__name__}: {error})")
    else:
        departures += _told(_all_answers, trial)
    if departures:
        listed = "".join(f"\n- {words}" for words in dict.fromkeys(departures))
        raise AssertionError(f"{calculation.id} departs from the contract of a calculation:{listed}")


def _told(check: Callable[[Any], Iterator[str]], subject: object) -> Iterator[str]:
    try:
        yield from check(subject)
    except Exception as error:  # noqa: BLE001  the same
        # What is wrong with an answer is the cause of the problem that a caller would be told.
        own = error.__cause__ or error
        yield f"{check.__name__.strip('_').replace('_', ' ')}: it fails ({type(own).__name__}: {own})"


def _limits_by_hull(rule_set: RuleSet) -> Iterator[str]:
    """Work out a rule set's limits at every corner of a hull's size, and without what they do not need."""
    by_hull = rule_set.by_hull
    if by_hull is None:
        return
    for corner in product(*HULL_SIZE.values()):
        whole = dict(zip(HULL_SIZE, corner, strict=True))
        for hull in (whole, {name: whole[name] for name in by_hull.needs}):
            where = f"rule set {rule_set.id}: for the hull {hull}"
            try:
                rules, why = rule_set.rules_for(hull), by_hull.outside(hull)
            except Exception as error:  # noqa: BLE001  the same
                yield f"{where} it fails ({type(error).__name__}: {error})"
                continue
            wrong = [rule for rule in rules if not 0 <= rule.limit <= 200]  # noqa: PLR2004  what an answer can tell
            yield from (f"{where} the limit of {rule.id} is {rule.limit:g}; keep it from 0 to 200" for rule in wrong)
            if why is not None and not (isinstance(why, str) and why.strip()):
                yield f"{where} outside tells {why!r}; give the reason in words, or None"


@dataclass(frozen=True)
class _Trial:
    """One request, answered step by step; `given` is a copy of the arguments from before."""

    served: Served
    registry: Registry
    sent: Mapping[str, Any]
    request: Mapping[str, Any]
    given: Mapping[str, Any]
    arguments: Mapping[str, Any]
    result: Any
    written: Mapping[str, Any]


def _trial(served: Served, registry: Registry, sent: Mapping[str, Any]) -> _Trial:
    request = load(served, registry, dump(sent)).request
    arguments = arguments_of(served, registry, request)
    given = copy.deepcopy(arguments)
    result = served.offered.run(**arguments)
    return _Trial(served, registry, sent, request, given, arguments, result, served.write(result))


def _unchanged(trial: _Trial) -> Iterator[str]:
    for name, value in trial.arguments.items():
        if not _same(value, trial.given[name]):
            yield f"run: it changes its argument {name}; work on a copy"


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, np.ndarray):
        return bool(one.dtype == other.dtype) and one.tobytes() == other.tobytes()
    if isinstance(one, Mapping):
        return list(one) == list(other) and all(_same(one[key], other[key]) for key in one)
    return bool(one == other)


def _written_as_declared(trial: _Trial) -> Iterator[str]:
    if dump(trial.written) != dump(trial.served.response.dump(trial.result)):
        yield "response: the service writes the example's result otherwise than schema.dump; override no method of a field"
    for name, field in trial.served.response.fields.items():
        yield from _misfits(field, trial.written[name], f"result.{name}")


def _misfits(field: Any, value: Any, path: str) -> Iterator[str]:
    if value is None:
        yield from () if field.nullable else (f"{path}: null, which its field does not allow; nullable=True",)
    elif isinstance(field, Object):
        for name, member in field.schema.fields.items():
            yield from _misfits(member, value[name], f"{path}.{name}")
    elif isinstance(field, List):
        low, high = limits(field)
        if not low <= len(value) <= high:
            yield f"{path}: it has {len(value)} items, its field says {low} to {high}"
        for item in value:
            yield from _misfits(field.inner, item, f"{path}[]")
    else:
        try:
            field.deserialize(value)
        except ma.ValidationError as error:
            wrong: Any = error.messages[0]
            yield f"{path}: {wrong.detail}"


def _answer(trial: _Trial) -> Iterator[str]:
    alone = trial.served.in_columns()
    once, *others = (answer(served, trial.registry, dump(trial.sent)) for served in (trial.served, alone, alone))
    if any(dump(other) != dump(once) for other in others):
        yield "answer: the example sent twice is answered in other bytes; read no clock, no state and no chance"
    summary = once["summary"]
    if not 1 <= len(summary) <= 5 or not all(isinstance(told, str) and told.strip() for told in summary):  # noqa: PLR2004
        yield "summary: it gives no 1 to 5 sentences, none empty"


def _renderings(trial: _Trial) -> Iterator[str]:
    body = dump(trial.sent)
    for medium, rendering in trial.served.offered.renderings.items():
        request, told = answered(trial.served, trial.registry, body)
        before = copy.deepcopy((request, told))
        once, again = rendering(request, told), rendering(request, told)
        where = f"rendering {medium}"
        if not (isinstance(once, bytes) and once):
            yield f"{where}: it gives no bytes"
            continue
        if once != again:
            yield f"{where}: of one answer it gives other bytes the second time; read no clock, no state and no chance"
        if (request, told) != before:
            yield f"{where}: it changes the request or the answer; work on a copy"
        yield from (f"{where}: {words}" for words in unsafe(medium, once))


def _working(trial: _Trial) -> Iterator[str]:
    offered = trial.served.offered
    for figures in offered.working_figures(figures_of(trial.request, trial.written), trial.result):
        for step in offered.working:
            yield from _step(trial, step, figures)


def _step(trial: _Trial, step: Step, figures: Figures) -> Iterator[str]:
    fields = {**trial.served.request.fields, **trial.served.response.fields}
    names: dict[str, Any] = {name: figures.get(name) for name in placeholders(step.substituted)}
    unknown = sorted({*names, step.value} - {*figures, *fields}) if trial.served.offered.elementwise else ()
    yield from (f"working {step.symbol}: {{{name}}} is no member of the request or the response" for name in unknown)
    unit = getattr(fields.get(step.value), "unit", step.unit)
    if unit != step.unit:
        yield f"working {step.symbol}: its unit is {step.unit}, that of {step.value} is {unit}"
    if None in (*names.values(), figures.get(step.value)) or not step.when(figures):
        return
    line = substituted(step, names)
    try:
        value = evaluate(line)
    except ValueError as error:
        yield f"working {step.symbol}: {line} cannot be evaluated as written ({error})"
        return
    moved = (substituted(step, {**names, n: v + _last_unit(n, v, fields.get(n))}) for n, v in names.items())
    of_value = _last_unit(step.value, figures[step.value], fields.get(step.value), step.unit)
    tolerance = sum((_distance(line, value) for line in moved), of_value)
    if not abs(value - figures[step.value]) <= tolerance * (1 + 1e-9):
        yield f"working {step.symbol}: {line} is {value:g}, not {figures[step.value]:g}"


def _last_unit(name: str, value: float, field: Any, unit: str | None = None) -> float:
    """Return one unit in the last place that a figure is declared with, by its name, its field or its unit."""
    units = {unit_of(name), getattr(field, "unit", None), unit}
    own = getattr(field, "decimals", None)
    places = [last_place(value, named) for named in units if named is not None]
    return float(max([1e-6, *places, *([] if own is None else [10.0**-own])]))


def _distance(line: str, value: float) -> float:
    try:
        return abs(evaluate(line) - value)
    except ValueError:
        return math.inf


def _all_answers(trial: _Trial) -> Iterator[str]:
    """Check the example's answer and its neighbours', one by one and, where the calculation is elementwise, in one call."""
    answered = [trial] * 2  # with the first neighbour at least three rows
    found = {words: "" for check in _EACH for words in _told(check, trial)}
    for where, sent in _neighbours(trial):
        broken, refused = set[str](), set[str]()
        try:
            broken = _broken(trial, sent)
            answered.append(_trial(trial.served, trial.registry, sent))
        except NotApplicableError as error:
            refused = {code for code, _, _ in error.faults}
        except Exception as error:  # noqa: BLE001  the same
            found.setdefault(f"it cannot be answered ({type(error).__name__}: {error})", where)
            continue
        else:
            for words in (words for check in _EACH for words in _told(check, answered[-1])):
                found.setdefault(words, where)
        if refused != broken:
            found.setdefault(
                f"run refuses it for {sorted(refused)}, its faults say {sorted(broken)}; let run call refuse(FAULTS, ...)",
                where,
            )
    yield from (f"{where}: {words}" if where else words for words, where in found.items())
    if trial.served.offered.elementwise:
        yield from _in_one_call(answered)


def _broken(trial: _Trial, sent: Mapping[str, Any]) -> set[str]:
    """Return the codes of the declared faults that a request has."""
    offered = trial.served.offered
    arguments = arguments_of(trial.served, trial.registry, load(trial.served, trial.registry, dump(sent)).request)
    told = columns(arguments) if offered.elementwise else arguments
    return {fault.code for fault in offered.faults if _any(fault.broken(told))}


def _any(where: Where) -> bool:
    return bool(where.any()) if isinstance(where, (np.ndarray, np.bool_)) else any(True for _ in where)


def _neighbours(trial: _Trial) -> Iterator[tuple[str, Mapping[str, Any]]]:
    for name, field in trial.served.request.fields.items():
        if name in trial.sent and not field.required:
            yield f"example without {name}", {key: value for key, value in trial.sent.items() if key != name}
        for value in getattr(field, "names", limits(field) if isinstance(field, (Number, Integer)) else ()):
            yield f"example with {name} = {value}", {**trial.sent, name: value}


def _in_one_call(trials: Sequence[_Trial]) -> Iterator[str]:
    served = trials[0].served
    rows = {name: np.concatenate([trial.given[name] for trial in trials]) for name in trials[0].given}
    result = served.offered.run(**rows)
    for name, field in served.response.fields.items():
        together = field.rows(getattr(result, name))  # type: ignore[attr-defined]
        if together != [trial.written[name] for trial in trials]:
            yield f"result.{name}: {len(trials)} rows in one call give other values than one by one; reckon each row alone"
    for assumption in served.offered.assumed:
        if not _answers_by_row(assumption, trials, rows, result):
            yield f"assumed {assumption.field}: let when answer with an array, true in each row where the value was taken"


def _answers_by_row(assumption: Assumption, trials: Sequence[_Trial], rows: Mapping[str, Any], result: Any) -> bool:
    alone = [bool(np.any(assumption.when(trial.given, trial.result))) for trial in trials]
    try:
        together: list[bool] = np.broadcast_to(assumption.when(rows, result), (len(trials),)).tolist()
    except ValueError:  # an array where it asked for a truth
        return False
    return together == alone


#: What every answer keeps.
_EACH = (_unchanged, _written_as_declared, _answer, _renderings, _working)
