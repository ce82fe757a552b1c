"""A column of one row that keeps an account of what is done with it, by numpy's own protocols (NEP 13 and NEP 18).

A function of columns is called once with these. What it did is then known step by step, and so is everything that it decided
meanwhile by looking at a value: such a look becomes a condition on which the account holds. What is not known here is not
recorded at all, and raises.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.lib.mixins import NDArrayOperatorsMixin

from platemargin.quantities import Array, looked_up

__all__ = ["Argument", "NotRecordedError", "Recorded", "Recording", "Step", "as_type", "constant", "decided", "operand"]

#: Arguments of numpy's functions that come as they are, and are no columns.
_OPTIONS = ("side", "decimals", "axis")


class NotRecordedError(TypeError):
    """A function does something with a column that is not known here."""


@dataclass(frozen=True)
class Argument:
    """What stands for an argument in the account."""

    name: str


@dataclass(frozen=True, eq=False)
class Step:
    """What was done, with what (steps, and values that are none), and the kind of the outcome as numpy names it."""

    done: Any
    of: tuple[Any, ...]
    options: Mapping[str, Any]
    kind: str


class Recording:
    """The account: each step once, in the order in which they were first made."""

    def __init__(self) -> None:
        self.steps: list[Step] = []
        self._known: dict[Any, Step] = {}

    def argument(self, name: str, value: Array) -> Recorded:
        """Return an argument as a column that is recorded."""
        return Recorded(self, self.step(Argument(name), (), {}, value), value)

    def step(self, done: Any, of: Sequence[Any], options: Mapping[str, Any], value: Any) -> Step:
        """Return the step that does this; the one that is known if it is."""
        key = (done, tuple(map(_identity, of)), tuple(sorted(options.items())))
        if key not in self._known:
            self._known[key] = Step(done, tuple(of), options, np.asarray(value).dtype.kind)
            self.steps.append(self._known[key])
        return self._known[key]

    def done(self, done: Callable[..., Any], of: Sequence[Any], options: Mapping[str, Any] | None = None) -> Recorded:
        """Do something with the values, and record that it was done."""
        value = np.atleast_1d(done(*map(_value, of), **(options or {})))
        if value.shape != (1,):
            raise NotRecordedError(f"{done.__name__} makes of one row {value.shape}")
        return Recorded(self, self.step(done, [operand(one) for one in of], options or {}, value), value)

    def decide(self, column: Recorded) -> bool:
        """Return whether a value is true; the account holds only where it is the same."""
        truth = bool(column.value[0])
        self.step(decided, [column.step], {"truth": truth}, truth)
        return truth


def decided(value: Any, *, truth: bool) -> bool:
    """Tell whether a value decides as it did when it was recorded."""
    return bool(value) is truth


def constant(value: Any) -> Any:
    """Return a value that does not depend on the row."""
    return value


def as_type(value: Any, *, dtype: str) -> Any:
    """Return a value as a type of numpy's."""
    return np.asarray(value).astype(dtype)


class Recorded(NDArrayOperatorsMixin):
    """A column of one row; numpy calls it in the place of its functions."""

    def __init__(self, recording: Recording, step: Step, value: Array) -> None:
        self.recording = recording
        self.step = step
        self.value = value

    @property
    def dtype(self) -> np.dtype[Any]:
        """The type of the value."""
        return self.value.dtype

    @property
    def shape(self) -> tuple[int, ...]:
        """One row."""
        return self.value.shape

    @property
    def ndim(self) -> int:
        """One."""
        return 1

    def __array__(self, *_: Any, **__: Any) -> Array:
        """Refuse to become an array, which would not be recorded."""
        raise NotRecordedError("a column is made an array: as_array leaves it as it is")

    def __iter__(self) -> Any:
        """Refuse to be taken apart."""
        raise NotRecordedError("a column is taken apart")

    def __bool__(self) -> bool:
        """Decide by the value."""
        return self.recording.decide(self)

    def __pow__(self, exponent: Any) -> Recorded:
        """Raise to a power; numpy's arrays square for the plain exponent 2, and do what is not known here for a few others."""
        if isinstance(exponent, (int, float)):
            if exponent != 2:  # noqa: PLR2004  a square
                raise NotRecordedError(f"a column is raised to {exponent}")
            return self.recording.done(np.square, [self])
        return self.recording.done(np.power, [self, exponent])

    def astype(self, dtype: Any, *, copy: bool = True) -> Recorded:  # noqa: ARG002  as numpy's
        """Return the column as another type."""
        if np.dtype(dtype) == self.dtype:
            return self
        return self.recording.done(as_type, [self], {"dtype": np.dtype(dtype).str})

    def round(self, decimals: int = 0) -> Recorded:
        """Return the column rounded."""
        return self.recording.done(np.round, [self], {"decimals": decimals})

    def __array_ufunc__(self, ufunc: np.ufunc, method: str, *inputs: Any, out: Any = None, **options: Any) -> Any:
        """Record a function of columns; one that writes into a column makes that the outcome."""
        if method != "__call__" or options or ufunc.nout != 1:
            raise NotRecordedError(f"{ufunc.__name__} is called as {method} with {', '.join(options) or 'no options'}")
        made = self.recording.done(ufunc, inputs)
        if out is None:
            return made
        (written,) = out
        if not isinstance(written, Recorded) or isinstance(written.step.done, Argument):
            raise NotRecordedError(f"{ufunc.__name__} writes into an array, or an argument")
        written.step, written.value = made.step, made.value.astype(written.dtype)
        return written

    def __array_function__(self, function: Any, _types: Any, of: Sequence[Any], options: Mapping[str, Any]) -> Any:
        """Record one of numpy's other functions."""
        if function in (np.count_nonzero, np.any, np.all) and not options:
            return int(self.recording.decide(self))
        if function is np.broadcast_arrays:
            return [one if isinstance(one, Recorded) else self._constant(one) for one in of]
        if function not in (np.where, np.searchsorted, np.nan_to_num, np.round, looked_up) or set(options) - set(_OPTIONS):
            raise NotRecordedError(f"{function.__name__}({', '.join(options)}) is not recorded")
        return self.recording.done(function, of, dict(options))

    def _constant(self, value: Any) -> Recorded:
        """Return a value that is no column as one."""
        plain = np.asarray(value).reshape(1)
        return Recorded(self.recording, self.recording.step(constant, [operand(value)], {}, plain), plain)


def _value(one: Any) -> Any:
    return one.value if isinstance(one, Recorded) else one


def operand(one: Any) -> Any:
    """Return the step of a column; of a single value the value, of Python's own kind where there is one; a table as it is."""
    if isinstance(one, Recorded):
        return one.step
    array = np.asarray(one)
    if array.size != 1:
        return array
    single = array.reshape(1)[0]
    return single if array.dtype.kind in "mM" else single.item()


def _identity(one: Any) -> Any:
    """Return what tells operands apart: 1, 1.0 and True are three."""
    return id(one) if isinstance(one, (Step, np.ndarray)) else (type(one), repr(one))
