"""Axes of plots: round ticks, and a frame that turns values into places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, log10
from typing import Any
from xml.etree import ElementTree as ET

from platemargin.quantities import text
from platemargin_api.renderings.colours import QUIET
from platemargin_api.renderings.svg import Point, line, words_at

__all__ = ["Frame", "plot_axes", "ticks"]

_STEPS = (1.0, 2.0, 5.0, 10.0)


def ticks(low: float, high: float, most: int) -> list[float]:
    """Return round values from low to high, no more than `most` and one.

    Examples
    --------
    >>> ticks(0.0, 17.4, 10), ticks(-0.3, 0.5, 4)
    ([0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0], [-0.2, 0.0, 0.2, 0.4])
    """
    raw = (high - low) / most
    unit = 10.0 ** floor(log10(raw))
    step = next(unit * one for one in _STEPS if unit * one >= raw * (1 - 1e-9))
    first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
    return [round(n * step, 12) for n in range(first, last + 1)]


@dataclass(frozen=True, kw_only=True)
class Frame:
    """Where a plot is drawn [user units], and what its edges stand for."""

    left: float
    right: float
    top: float
    bottom: float
    across: tuple[float, float]
    up: tuple[float, float]

    def at(self, x: float, y: float) -> Point:
        """Return the place of two values; what lies beyond an edge is kept at it."""
        return self.x(x), self.y(y)

    def x(self, value: float) -> float:
        """Return how far across a value is."""
        return _between(value, self.across, (self.left, self.right))

    def y(self, value: float) -> float:
        """Return how far down a value is."""
        return _between(value, self.up, (self.bottom, self.top))

    def holds(self, x: float, y: float) -> bool:
        """Tell whether two values lie within the plot."""
        return self.across[0] <= x <= self.across[1] and self.up[0] <= y <= self.up[1]


def _between(value: float, values: Sequence[float], places: Sequence[float]) -> float:
    share = (value - values[0]) / (values[1] - values[0])
    return places[0] + min(max(share, 0.0), 1.0) * (places[1] - places[0])


def plot_axes(frame: Frame, across: str, up: str) -> list[ET.Element]:
    """Return a plot's axes with round ticks and their names, units and all."""
    edge: dict[str, Any] = {"stroke": QUIET, "stroke_width": 0.9}
    below = [(frame.x(value), value) for value in ticks(*frame.across, most=floor((frame.right - frame.left) / 52))]
    beside = [(frame.y(value), value) for value in ticks(*frame.up, most=floor((frame.bottom - frame.top) / 26))]
    return [
        line((frame.left, frame.bottom), (frame.right, frame.bottom), **edge),
        line((frame.left, frame.top), (frame.left, frame.bottom), **edge),
        *(line((x, frame.bottom), (x, frame.bottom + 4), **edge) for x, _ in below),
        *(line((frame.left - 4, y), (frame.left, y), **edge) for y, _ in beside),
        *(words_at(x, frame.bottom + 15, text(value), text_anchor="middle", fill=QUIET) for x, value in below),
        *(words_at(frame.left - 7, y + 3.3, text(value), text_anchor="end", fill=QUIET) for y, value in beside),
        words_at((frame.left + frame.right) / 2, frame.bottom + 31, across, text_anchor="middle"),
        words_at(0, 0, up, text_anchor="middle", transform=f"translate(15 {(frame.top + frame.bottom) / 2:g}) rotate(-90)"),
    ]
