"""The lines of working of one answer."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import lru_cache
from operator import itemgetter
from string import Formatter
from typing import Any, TypeAlias

import orjson

from platemargin.declared import Step
from platemargin.quantities import text
from platemargin_api.calculation import Figures

__all__ = ["Working"]

#: A number of so many characters, without an exponent, has no more decimals than a sentence tells.
_SHORT = 8
#: What the encoder writes otherwise than a sentence does: an exponent, null for what is no number, minus zero.
_OTHERWISE = ("e", "n", "-0.0,")

_Lines: TypeAlias = Callable[[Mapping[str, str]], list[str]]


class Working:
    """How the answers of one calculation come about: its lines, filled with the figures of each."""

    def __init__(self, steps: Sequence[Step]) -> None:
        self._steps = [(step, (step.value, *_names(step))) for step in steps]
        self._names = tuple(dict.fromkeys(name for _, names in self._steps for name in names))
        # Most answers of a calculation have the same figures, or those of one of a few sets.
        self._with = lru_cache(maxsize=64)(self._shown)

    def of(self, figures: Figures) -> Iterator[dict[str, Any]]:
        """Yield each line that is shown: every figure that it names is known, and it holds."""
        known = {name: value for name in self._names if (value := figures.get(name)) is not None}
        of = {"of": figures["of"]} if "of" in figures else {}
        steps, lines = self._with(tuple(known))
        for step, line in zip(steps, lines(_texts(known)), strict=True):
            if step.when(figures):
                yield {
                    **of,
                    "symbol": step.symbol,
                    "formula": step.formula,
                    "substituted": line,
                    "value": known[step.value],
                    "unit": step.unit,
                    "reference": step.reference(figures) if callable(step.reference) else step.reference,
                }

    def _shown(self, known: tuple[str, ...]) -> tuple[list[Step], _Lines]:
        steps = [step for step, names in self._steps if set(names).issubset(known)]
        return steps, _together([step.substituted for step in steps])


def _names(step: Step) -> Iterator[str]:
    return (name for _, name, _, _ in Formatter().parse(step.substituted) if name)


def _together(templates: Sequence[str]) -> _Lines:
    """Return what fills templates with texts by name: one function with a literal for each, far quicker than one by one."""
    names: dict[str, str] = {}
    literals = []
    for template in templates:
        parts = []
        for literal, name, _, _ in Formatter().parse(template):
            parts.append(literal.replace("{", "{{").replace("}", "}}"))
            if name:
                parts.append(f"{{{names.setdefault(name, f'v{len(names)}')}}}")
        literals.append("f" + repr("".join(parts)))
    made: Callable[..., list[str]] = eval(f"lambda {', '.join(names.values())}: [{', '.join(literals)}]")  # noqa: S307  of names made here, and of literals as they are quoted
    if len(names) < 2:  # noqa: PLR2004  of one name the getter gives no tuple
        return lambda texts: made(*(texts[name] for name in names))
    taken = itemgetter(*names)
    return lambda texts: made(*taken(texts))


def _texts(figures: Figures) -> dict[str, str]:
    """Return figures as lines write them; the encoder writes all numbers at once, far quicker than one by one."""
    numbers = {name: value for name, value in figures.items() if type(value) is float}
    # One more, so that each is followed by a comma.
    written = orjson.dumps([*numbers.values(), 0.0])[1:-3].decode()
    told = written.replace(".0,", ",").split(",")
    if max(map(len, told)) > _SHORT or any(one in written for one in _OTHERWISE):
        numbers = {}
    # Those that were written are left at that; the one more, or all where they are not as a sentence has them, is passed over.
    texts = {name: text(value) for name, value in figures.items() if name not in numbers}
    texts.update(zip(numbers, told, strict=False))
    return texts
