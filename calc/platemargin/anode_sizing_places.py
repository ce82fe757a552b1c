"""Where something is found of a number of anodes, and how that is put into words."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from platemargin.declared import Arguments, Place

__all__ = ["how_many", "is_passive", "metal", "same_anode_in", "when"]


def when(holds: Callable[[Arguments, Any], bool], *path: str | int, **worked: Callable[[Arguments, Any], Any]) -> Any:
    """Return a predicate that answers with one place; values are the request's, the result's, and what is worked out."""

    def applies(arguments: Arguments, result: Any) -> Iterable[Place]:
        if holds(arguments, result):
            plain = {**arguments["anode"], **arguments, **vars(result)}
            yield Place(path=path, values={**plain, **{name: value(arguments, result) for name, value in worked.items()}})

    return applies


def is_passive(result: Any) -> bool:
    """Tell whether the anode's face turns passive in the water asked about."""
    return bool(result.anode.material.passive_in(result.resistivity_ohm_m))


def same_anode_in(result: Any, water: str) -> Any:
    """Return what the same anode does in a kind of water."""
    return next(row for row in result.same_anode if row.water == water)


def metal(arguments: Arguments, _result: Any) -> str:
    """Return the anode's metal, as a sentence begins."""
    return str(arguments["anode"]["material"]).capitalize()


def how_many(number: int) -> str:
    """Return a number of anodes in words that agree with it."""
    return "1 anode" if number == 1 else f"{number} anodes"
