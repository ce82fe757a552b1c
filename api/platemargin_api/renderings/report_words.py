"""Figures and codes of a survey's answer as the words of its report."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from platemargin.remaining_life import LONGEST_TOLD_YEARS
from platemargin_api.renderings.words import figure, plain

__all__ = ["band_words", "life_words", "no_unit", "value_words"]

_NO_UNITS = ("1", "probability", "ratio")


def life_words(life: Mapping[str, Any]) -> str:
    """Return a life in years with its band; one that nobody can know is told by its lower end alone.

    Examples
    --------
    >>> life_words({"status": "above", "years": 2.8, "years_low": 0.0, "years_high": 10.27})
    '2.8 (0 to 10.27)'
    >>> life_words({"status": "above", "years": 224.0, "years_low": 69.01, "years_high": None})
    'not before 69.01'
    """
    return band_words(life) if life["status"] == "above" else plain(life["status"])


def band_words(life: Mapping[str, Any]) -> str:
    """Return the years until a limit that is still ahead."""
    low, years, high = life["years_low"], life["years"], life["years_high"]
    if years is None or years > LONGEST_TOLD_YEARS:
        return "no finite value" if low is None else f"not before {figure(low)}"
    return f"{figure(years)} ({figure(low)} {'or more' if high is None else f'to {figure(high)}'})"


def no_unit(unit: str | None) -> str:
    """Return a unit as it stands behind a figure: those of pure numbers are not written."""
    return "" if unit is None or unit in _NO_UNITS else unit


def value_words(value: Any) -> str:
    """Return a value of any type in words.

    Examples
    --------
    >>> value_words({"swim": 6.0, "painted": False}), value_words(["trade-practice"]), value_words([])
    ('swim: 6; painted: no', 'trade-practice', 'none')
    """
    if isinstance(value, Mapping):
        return "; ".join(f"{plain(str(name))}: {value_words(member)}" for name, member in value.items()) or "none"
    if isinstance(value, list):
        return ", ".join(value_words(item) for item in value) or "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return figure(value, none="none") if isinstance(value, (int, float)) or value is None else str(value)
