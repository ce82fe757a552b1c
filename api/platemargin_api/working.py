"""The lines of working of one answer."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Any

import orjson

from platemargin.declared import Filling, Step, filling, placeholders
from platemargin.quantities import text
from platemargin_api.calculation import Figures

__all__ = ["Working"]

#: A number of so many characters, without an exponent, has no more decimals than a sentence tells.
_SHORT = 8
#: What the encoder writes otherwise than a sentence does: an exponent, null for what is no number, minus zero.
_OTHERWISE = ("e", "n", "-0.0,")


class Working:
    """How the answers of one calculation come about: its lines, filled with the figures of each."""

    def __init__(self, steps: Sequence[Step]) -> None:
        self._steps = [(step, (step.value, *placeholders(step.substituted))) for step in steps]
        self._names = tuple(dict.fromkeys(name for _, names in self._steps for name in names))
        # Most answers of a calculation have the same figures, or those of one of a few sets.
        self._filled_with = lru_cache(maxsize=64)(self._fillings)

    def of(self, figures: Figures) -> Iterator[dict[str, Any]]:
        """Yield each line that is shown: every figure that it names is known, and it holds."""
        known = {name: value for name in self._names if (value := figures.get(name)) is not None}
        texts, of = _texts(known), {"of": figures["of"]} if "of" in figures else {}
        for step, fill in self._filled_with(tuple(known)):
            if step.when(figures):
                yield {
                    **of,
                    "symbol": step.symbol,
                    "formula": step.formula,
                    "substituted": fill(texts),
                    "value": known[step.value],
                    "unit": step.unit,
                    "reference": step.reference(figures) if callable(step.reference) else step.reference,
                }

    def _fillings(self, known: tuple[str, ...]) -> list[tuple[Step, Filling]]:
        """Return the steps of which every figure is known, and what fills each."""
        return [(step, filling(step.substituted)) for step, names in self._steps if set(names).issubset(known)]


def _texts(figures: Mapping[str, Any]) -> dict[str, str]:
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
