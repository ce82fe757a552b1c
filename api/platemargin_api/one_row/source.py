"""An account of steps as the source of one Python function of plain numbers: the same arithmetic, without numpy's fixed cost.

What Python's numbers do exactly as numpy's is written as an operator; all else calls the very function that was recorded.
Where Python raises and numpy does not (a division by zero), the function raises, and the caller computes the row as a column.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable
from dataclasses import fields, is_dataclass
from datetime import date
from typing import Any

import numpy as np

from platemargin.quantities import ROUNDED, ROUNDER, looked_up
from platemargin_api.one_row.recorded import Argument, NotRecordedError, Recorded, Step, as_type, constant, decided, operand

__all__ = ["Source"]

#: Kinds of numbers that Python compares, adds and multiplies as numpy does: booleans are numbers in neither, as written here.
_NUMBERS = frozenset("fi")
#: Whole numbers up to here are doubles, too.
_EXACT = 2**53

_ARITHMETIC = {np.add: "+", np.subtract: "-", np.multiply: "*"}
_COMPARED = {np.less: "<", np.less_equal: "<=", np.greater: ">", np.greater_equal: ">=", np.equal: "==", np.not_equal: "!="}
#: Of numbers with a fraction; a name stands for each operand, so that it can be written more than once.
_OF_FLOATS = {
    (np.negative, "f"): "-{0}",
    (np.absolute, "f"): "abs({0})",
    (np.square, "f"): "{0} * {0}",
    (np.isnan, "f"): "{0} != {0}",
    (np.sqrt, "f"): "(sqrt({0}) if {0} >= 0.0 else nan)",
    (np.copysign, "ff"): "copysign({0}, {1})",
    # The C library's own, as numpy's is; that of `math` is another one.
    (np.hypot, "ff"): "abs(complex({0}, {1}))",
    # NaN prevails, as in numpy; from 2^52 on every double is whole; minus zero is kept.
    (np.minimum, "ff"): "({0} if {0} <= {1} or {0} != {0} else {1})",
    (np.maximum, "ff"): "({0} if {0} >= {1} or {0} != {0} else {1})",
    (
        np.rint,
        "f",
    ): f"(({{0}} + {ROUNDER!r} - {ROUNDER!r} or {{0}} * 0.0) if -{ROUNDED!r} < {{0}} < {ROUNDED!r} else rint({{0}}))",
    (np.floor, "f"): "((float(floor({0})) or {0} * 0.0) if -4503599627370496.0 < {0} < 4503599627370496.0 else {0})",
}
_OF_WHOLE = {
    (np.minimum, "ii"): "({0} if {0} <= {1} else {1})",
    (np.maximum, "ii"): "({0} if {0} >= {1} else {1})",
}
_OF_TRUTH = {
    (np.bitwise_and, "bb"): "({0} and {1})",
    (np.logical_and, "bb"): "({0} and {1})",
    (np.bitwise_or, "bb"): "({0} or {1})",
    (np.logical_or, "bb"): "({0} or {1})",
    (np.invert, "b"): "not {0}",
    (np.logical_not, "b"): "not {0}",
}
_SPAN, _SUM = "None if {0} is None or {1} is None else {0} - {1}", "None if {0} is None or {1} is None else {0} + {1}"
#: Days (M) are whole numbers from 1970-01-01 on, and spans of them (m) are whole numbers; None = NaT, which no day is equal to.
_OF_DAYS: dict[tuple[Any, str], str] = {
    **{(np.isnat, kind): "{0} is None" for kind in "Mm"},
    **{(np.subtract, kinds): _SPAN for kinds in ("MM", "Mm", "mm")},
    **{(np.add, kinds): _SUM for kinds in ("Mm", "mM", "mm")},
    **{(np.not_equal, kind * 2): "({0} is None or {1} is None or {0} != {1})" for kind in "Mm"},
    **{
        (done, kind * 2): f"({{0}} is not None and {{1}} is not None and {{0}} {sign} {{1}})"
        for done, sign in _COMPARED.items()
        if done is not np.not_equal
        for kind in "Mm"
    },
}
_TEMPLATES = {**_OF_FLOATS, **_OF_WHOLE, **_OF_TRUTH, **_OF_DAYS}
#: What makes an outcome of numpy's one of Python's, by its kind.
_PLAIN = {"f": "float({})", "i": "int({})", "b": "bool({})", "U": "str({})"}
#: What makes a value of one kind one of another, as `astype` does.
_AS_TYPE = {
    **{one + other: _PLAIN[other] for one in "fib" for other in "fib"},
    # As numpy has it, for which NaT is the least of its whole numbers.
    "mf": "(-9223372036854775808.0 if {0} is None else float({0}))",
    "im": "{0}",
}
_DAY, _EPOCH = np.dtype("timedelta64[D]"), date(1970, 1, 1).toordinal()


def _rint(value: float) -> float:
    """Round what is too large for the quick way; from 2^52 on every double is whole."""
    return float(round(value)) if -2.0 * ROUNDED < value < 2.0 * ROUNDED else value


_KNOWN: dict[str, Any] = {
    "rint": _rint,
    "day": date.fromordinal,
    "sqrt": math.sqrt,
    "copysign": math.copysign,
    "floor": math.floor,
    "nan": math.nan,
    "inf": math.inf,
    "bisect_left": bisect_left,
    "bisect_right": bisect_right,
    "array": np.array,
}


class Source:
    """The function's source while it is written, and the names that it looks up."""

    def __init__(self, arguments: Iterable[str]) -> None:
        self.looked_up: dict[str, Any] = dict(_KNOWN)
        self._arguments = {name: f"a{number}" for number, name in enumerate(arguments)}
        self._names: dict[Step, str] = {}
        self._columns: dict[str, str] = {}
        self._lines: list[str] = []

    def conditions(self, steps: Iterable[Step]) -> None:
        """Write what the account holds on: elsewhere the function tells nothing."""
        for step in steps:
            if step.done is decided:
                self._lines.append(f"if {self.of(step.of[0])} is not {step.options['truth']}: return None")

    def function(self, told: str) -> Callable[..., Any]:
        """Return the function that takes the arguments in their order, and returns what an expression tells."""
        head = f"def row({', '.join(self._arguments.values())}):"
        text = "\n    ".join([head, *self._lines, f"return {told}"])
        exec(compile(text, "<one row>", "exec"), self.looked_up)  # noqa: S102  written here, of names and numbers made here
        written: Callable[..., Any] = self.looked_up["row"]
        return written

    def of(self, one: Any) -> str:
        """Return what an operand is called, or its value as it is written; a step is written when it is first asked for."""
        if isinstance(one, Step):
            if one not in self._names:
                self._names[one] = self._written(one)
            return self._names[one]
        if isinstance(one, (np.datetime64, np.timedelta64)):
            return self.named(_whole_days(one))
        if isinstance(one, (bool, int, str)) or (isinstance(one, float) and math.isfinite(one)):
            return f"({one!r})"
        return self.named(one)

    def told(self, value: Any) -> str:
        """Return an expression that builds a value anew: a column, a dataclass or a tuple of columns, or what is neither."""
        if isinstance(value, Recorded):
            return self._as_result(value.step)
        if isinstance(value, (tuple, list)):
            return "(" + "".join(f"{self.told(one)}, " for one in value) + ")"
        if is_dataclass(value):
            members = ", ".join(f"{one.name}={self.told(getattr(value, one.name))}" for one in fields(value) if one.init)
            return f"{self.named(type(value))}({members})"
        if np.size(value) != 1:
            raise NotRecordedError(f"a value of {np.size(value)} items is no column of one row")
        single = operand(value)
        return self._as_result(single) if isinstance(single, (np.datetime64, np.timedelta64)) else self.of(single)

    def _as_result(self, one: Any) -> str:
        told, kind = self.of(one), _kind(one)
        if kind == "m":
            raise NotRecordedError("a span of days is no result")
        return f"(None if {told} is None else day({told} + {_EPOCH}))" if kind == "M" else told

    def named(self, value: Any) -> str:
        """Return a name under which the function finds a value."""
        name = f"c{len(self.looked_up)}"
        self.looked_up[name] = value
        return name

    def _written(self, step: Step) -> str:
        if not isinstance(step.done, Argument):
            return self._line(self._spelt(step))
        argument = self._arguments[step.done.name]
        if step.kind == "M":
            return self._line(f"None if {argument} is None else {argument}.toordinal() - {_EPOCH}")
        return argument

    def _line(self, told: str) -> str:
        name = f"v{len(self._lines)}"
        self._lines.append(f"{name} = {told}")
        return name

    def _spelt(self, step: Step) -> str:
        for way in (self._as_operator, self._as_power, self._as_choice, self._as_table):
            if (spelt := way(step)) is not None:
                return spelt
        return self._as_call(step)

    def _as_operator(self, step: Step) -> str | None:
        of = _of_one_kind(step)
        kinds, names = [_kind(one) for one in of], [self.of(one) for one in of]
        numbers = _NUMBERS.issuperset(kinds)
        if step.done is constant:
            return names[0]
        if step.done in _ARITHMETIC and numbers:
            return f" {_ARITHMETIC[step.done]} ".join(names)
        if step.done in _COMPARED and (numbers or set(kinds) in ({"U"}, {"b"})):
            return f" {_COMPARED[step.done]} ".join(names)
        if step.done is np.true_divide and numbers:
            return f"{names[0]} / {names[1]}"
        template = _TEMPLATES.get((step.done, "".join(kinds)))
        return template.format(*names) if template else None

    def _as_power(self, step: Step) -> str | None:
        """Return a power, without columns where the exponent is 1, as it mostly is: it is its base then, as numpy has it."""
        if step.done is not np.power or {step.kind, *map(_kind, step.of)} != {"f"}:
            return None
        base, exponent = map(self.of, step.of)
        called = f"{self.named(np.power)}(array([{base}]), array([{exponent}])).item()"
        return f"({base} if {exponent} == 1.0 else {called})"

    def _as_choice(self, step: Step) -> str | None:
        if step.done is as_type:
            spelt = _AS_TYPE.get(_kind(step.of[0]) + step.kind)
            if spelt is None or (step.kind == "m" and np.dtype(step.options["dtype"]) != _DAY):
                raise NotRecordedError(f"a column is made {step.options['dtype']}")
            return spelt.format(self.of(step.of[0]))
        if step.done is not np.where:
            return None
        first, second = (self._as_kind(one, step.kind) for one in step.of[1:])
        return f"({first} if {self.of(step.of[0])} else {second})"

    def _as_kind(self, one: Any, kind: str) -> str:
        if _kind(one) == kind:
            return self.of(one)
        if kind not in _PLAIN:
            raise NotRecordedError(f"a choice of another kind than {kind}")
        return _PLAIN[kind].format(self.of(one))

    def _as_table(self, step: Step) -> str | None:
        table = step.of[0] if step.of else None
        if not isinstance(table, np.ndarray) or table.ndim != 1 or step.done not in (looked_up, np.searchsorted):
            return None
        entries, place = self.named(tuple(table.tolist())), self.of(step.of[1])
        if step.done is looked_up:
            return f"{entries}[{place}]"
        if step.done is np.searchsorted and _kind(step.of[1]) == "f":
            # NaN comes after every number.
            side = step.options.get("side", "left")
            return f"(bisect_{side}({entries}, {place}) if {place} == {place} else {len(table)})"
        return None

    def _as_call(self, step: Step) -> str:
        if strange := {step.kind, *map(_kind, step.of)} - set(_PLAIN):
            raise NotRecordedError(f"{step.done.__name__} has to do with values of the kind {', '.join(strange)}")
        options = [f"{name}={value!r}" for name, value in step.options.items()]
        # numpy reckons a power, a logarithm and the like otherwise for a plain number than for a column, by an ulp.
        in_columns = step.kind == "f" and getattr(np, step.done.__name__, None) is step.done
        names = [self._as_column(one) if in_columns else self.of(one) for one in step.of]
        call = f"{self.named(step.done)}({', '.join([*names, *options])})"
        return f"{call}.item()" if in_columns else _PLAIN[step.kind].format(call)

    def _as_column(self, one: Any) -> str:
        """Return what an operand is called as a column, which is made once."""
        name = self.of(one)
        if name not in self._columns:
            self._columns[name] = self._line(f"array([{name}])")
        return self._columns[name]


def _of_one_kind(step: Step) -> tuple[Any, ...]:
    """Return the operands, a whole number that stands beside one with a fraction written as it is reckoned with."""
    if "f" not in map(_kind, step.of):
        return step.of
    return tuple(float(one) if type(one) is int and abs(one) <= _EXACT else one for one in step.of)


def _whole_days(one: np.datetime64 | np.timedelta64) -> int | None:
    """Return a day or a span as it is reckoned with here.

    Raises
    ------
    NotRecordedError
        For one that is not of days.
    """
    if np.isnat(one):
        return None
    if np.datetime_data(one.dtype) != ("D", 1):
        raise NotRecordedError(f"{one!r} is not of days")
    return int(one.astype(np.int64))


def _kind(one: Any) -> str:
    return one.kind if isinstance(one, Step) else np.asarray(one).dtype.kind
