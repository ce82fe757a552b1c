"""The lines of working of one answer."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import orjson

from platemargin.declared import Step, Texts, UnknownFigureError
from platemargin_api.calculation import Figures

__all__ = ["working_of"]

#: A number of so many characters, without an exponent, has no more decimals than a sentence tells.
_SHORT = 8
#: What the encoder writes otherwise than a sentence does: an exponent, what is no number, minus zero.
_OTHERWISE = ("e", "n", "-0.0,")


def working_of(steps: Sequence[Step], figures: Figures) -> Iterator[dict[str, Any]]:
    """Yield each line that is shown, filled with the answer's own figures."""
    texts, of = _texts(figures), {"of": figures["of"]} if "of" in figures else {}
    for step in steps:
        try:
            line = step.fill(texts)
        except UnknownFigureError:
            continue
        value = figures.get(step.value)
        if value is not None and step.when(figures):
            yield {
                **of,
                "symbol": step.symbol,
                "formula": step.formula,
                "substituted": line,
                "value": value,
                "unit": step.unit,
                "reference": step.reference(figures) if callable(step.reference) else step.reference,
            }


def _texts(figures: Figures) -> Texts:
    """Return figures as lines write them; the encoder writes all numbers at once, far quicker than one by one."""
    texts = Texts(figures)
    numbers = {name: value for name, value in figures.items() if type(value) is float}
    written = orjson.dumps([*numbers.values(), 0.0])[1:-3].decode()
    told = written.replace(".0,", ",").split(",")
    if max(map(len, told)) <= _SHORT and not any(one in written for one in _OTHERWISE):
        texts.update(zip(numbers, told, strict=False))
    return texts
