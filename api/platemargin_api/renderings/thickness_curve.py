"""The picture of remaining-life: thickness against time, with the band and the limit."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from math import sqrt
from typing import Any
from xml.etree import ElementTree as ET

from platemargin.quantities import text
from platemargin.remaining_life import LONGEST_TOLD_YEARS
from platemargin_api.renderings.axes import Frame, plot_axes
from platemargin_api.renderings.colours import ACCENT, BAND, INK, LIMIT, QUIET
from platemargin_api.renderings.svg import Point, drawn, group, line, lines_of, path, picture, rectangle, words_at
from platemargin_api.renderings.words import figure, visible_throughout

__all__ = ["Curve", "horizon", "thickness_curve"]

_WIDTH, _LEFT, _RIGHT, _HEIGHT = 600.0, 52.0, 586.0, 270.0
_POINTS = 120
_LABEL = 60.0
#: No more of the future is drawn than this many times the life, the forecast's time and a quarter of the past.
_MOST_LIVES, _LEAST_YEARS = 3.0, 5.0


class Curve:
    """What is left x years from the survey, and its standard uncertainty, by the formulae of the answer's working."""

    def __init__(self, request: Mapping[str, Any], result: Mapping[str, Any]) -> None:
        self._request, self._result = request, result

    def growth(self, years: float) -> float:
        """Return the loss at a time over the loss at the survey."""
        since, exponent = self._result["base_years"], self._request["exponent"]
        grown = float(max((since + years) / since, 0.0) ** exponent)
        return grown if years < 0 else 1 + self._request["rate_factor"] * (grown - 1)

    def middle(self, years: float) -> float:
        """Return what is left [mm]."""
        return max(self._unbounded(years), 0.0)

    def half_band(self, years: float) -> float:
        """Return half the band's width [mm]."""
        growth, base = self.growth(years), self._result["base_standard_uncertainty_mm"]
        left, factor = self._request["residual_standard_uncertainty_mm"], self._result["coverage_factor"]
        return float(factor * sqrt(((1 - growth) * base) ** 2 + (growth * left) ** 2))

    def ends(self, years: float) -> tuple[float, float]:
        """Return the band's ends [mm], none below 0."""
        middle, half = self._unbounded(years), self.half_band(years)
        return max(middle - half, 0.0), max(middle + half, 0.0)

    def _unbounded(self, years: float) -> float:
        base, left = self._result["base_mm"], self._request["residual_mm"]
        return float(base + self.growth(years) * (left - base))


def horizon(request: Mapping[str, Any], result: Mapping[str, Any]) -> float:
    """Return how many years of the future are drawn: the band's upper end where that is not far beyond the life itself."""
    life, high, ahead = result["years"] or 0.0, result["years_high"] or 0.0, request["years_ahead"]
    most = max(_MOST_LIVES * life, ahead, result["base_years"] / 4, _LEAST_YEARS)
    longest = max(LONGEST_TOLD_YEARS, ahead)
    return float(min(max(1.15 * max(life, high), ahead, _LEAST_YEARS), most, longest))


def thickness_curve(request: Mapping[str, Any], answer: Mapping[str, Any]) -> bytes:
    """Return the curve of a remaining life."""
    request, answer = visible_throughout(request), visible_throughout(answer)
    result = answer["result"]
    curve, last, first = Curve(request, result), horizon(request, result), -result["base_years"]
    highest = max(request["original_mm"], request["residual_mm"], request["threshold_mm"], curve.ends(0.0)[1])
    title = "Thickness against time"
    head, top = lines_of(10, 22, title, 580, size=15, font_weight="bold")
    told, top = lines_of(10, top, " ".join(answer["summary"]), 576, size=10.5)
    frame = Frame(
        left=_LEFT, right=_RIGHT, top=top + 6, bottom=top + 6 + _HEIGHT, across=(first, last), up=(0.0, 1.08 * highest)
    )
    within = (
        *head,
        *told,
        *_curves(frame, curve),
        *plot_axes(frame, "Years from the survey", "What is left [mm]"),
        *_limit(frame, request),
        *_marks(frame, request, result),
    )
    key, bottom = _key(request, result, frame.bottom + 54, last)
    return picture(answer, (_WIDTH, bottom), (title, _description(request, answer)), *within, *key)


def _curves(frame: Frame, curve: Curve) -> list[ET.Element]:
    first, last = frame.across
    past = [first + (0 - first) * n / _POINTS for n in range(_POINTS + 1)]
    future = [last * n / _POINTS for n in range(_POINTS + 1)]

    def along(years: list[float], of: Callable[[float], float]) -> list[tuple[float, float]]:
        return [frame.at(year, of(year)) for year in years]

    whole = [*past, *future]
    outline = [*along(whole, lambda x: curve.ends(x)[1]), *reversed(along(whole, lambda x: curve.ends(x)[0]))]
    bold: dict[str, Any] = {"fill": "none", "stroke": ACCENT, "stroke_width": 2.2}
    return [
        path(outline, closed=True, fill=BAND),
        path(along(past, curve.middle), **{**bold, "stroke_dasharray": "6 4"}),
        path(along(future, curve.middle), **bold),
    ]


def _limit(frame: Frame, request: Mapping[str, Any]) -> list[ET.Element]:
    limit = request["threshold_mm"]
    y = frame.y(limit)
    words = f"limit {figure(limit, 'mm')}"
    return [
        line((frame.left, y), (frame.right, y), stroke=LIMIT, stroke_width=1.6),
        words_at(frame.left + 6, y - 4 if limit else y - 5, words, halo=True, fill=LIMIT, font_weight="bold"),
    ]


def _marks(frame: Frame, request: Mapping[str, Any], result: Mapping[str, Any]) -> Iterator[ET.Element]:
    """Yield the readings, and the times at which life and band reach the limit, where they are within the picture."""
    limit, left = request["threshold_mm"], request["residual_mm"]
    start, survey = frame.at(-result["base_years"], result["base_mm"]), frame.at(0.0, left)
    # The two figures stand above one another where their dots are close.
    yield _dot(start, f"{text(result['base_mm'])} mm", (6, -5 if survey[0] - start[0] > _LABEL else -19))
    yield _dot(survey, f"{text(left)} mm at the survey", (7, -6))
    if result["status"] == "already_below":
        return
    for name, dash in (("years_low", "3 3"), ("years", None), ("years_high", "3 3")):
        years = result[name]
        if years is not None and 0 <= years <= frame.across[1]:
            x, y = frame.at(years, limit)
            yield line((x, y), (x, frame.bottom), stroke=INK, stroke_width=1.1, stroke_dasharray=dash)
            yield drawn("circle", cx=x, cy=y, r=3, fill=INK)


def _dot(at: Point, words: str, beside: Point) -> ET.Element:
    dot = drawn("circle", cx=at[0], cy=at[1], r=4, fill=ACCENT, stroke=INK, stroke_width=0.8)
    return group(dot, words_at(at[0] + beside[0], at[1] + beside[1], words, halo=True, font_weight="bold"))


def _key(request: Mapping[str, Any], result: Mapping[str, Any], top: float, last: float) -> tuple[list[ET.Element], float]:
    """Return what line and band stand for, and where it ends."""
    percent = text(round(100 * request["confidence"], 1))
    start = "previous reading" if result["governing"] == "short_term" else "original thickness"
    rows = [
        (
            rectangle(12, -8, 26, 10, fill=BAND),
            f"band at {percent} % confidence: gauges and the {start} alone, no change of rate",
        ),
        (line((12, -3), (38, -3), stroke=ACCENT, stroke_width=2.2), "what is left, followed into the future"),
        (
            line((12, -3), (38, -3), stroke=ACCENT, stroke_width=2.2, stroke_dasharray="6 4"),
            f"how it came to that, from the {start}",
        ),
    ]
    drawn_rows, y = [], top
    for shape, words in rows:
        drawn_rows += [group(shape, transform=f"translate(0 {y:g})"), words_at(46, y, words)]
        y += 15
    reached, y = lines_of(10, y + 3, _reached(result, last), 576, fill=QUIET)
    return [*drawn_rows, *reached], y + 2


def _reached(result: Mapping[str, Any], last: float) -> str:
    """Say when the limit is reached, and what of that lies beyond the picture."""
    if result["status"] == "already_below":
        return "What is left is below the limit already."
    told = {"earliest": result["years_low"], "middle": result["years"], "latest": result["years_high"]}
    words = [f"{name} {_time(years, known=name == 'earliest')}" for name, years in told.items()]
    beyond = [name for name, years in told.items() if years is not None and years > last]
    drawn_not = f" Beyond the picture: {', '.join(beyond)}." if beyond else ""
    return f"The limit is reached, in years from the survey: {'; '.join(words)}.{drawn_not}"


def _time(years: float | None, *, known: bool) -> str:
    """Return a time in words; of one that is longer than a steel boat lasts only the lower end is known."""
    if years is not None and years > LONGEST_TOLD_YEARS and not known:
        return f"over {LONGEST_TOLD_YEARS} years"
    return figure(years, "years", none="none that is finite")


def _description(request: Mapping[str, Any], answer: Mapping[str, Any]) -> str:
    result = answer["result"]
    start = f"from {figure(result['base_mm'], 'mm')} {figure(result['base_years'], 'years')} before the survey"
    through = f"through {figure(request['residual_mm'], 'mm')} at the survey"
    ahead = f"to {figure(result['forecast_mm'], 'mm')} {figure(request['years_ahead'], 'years')} after it"
    band = f"{figure(result['forecast_low_mm'], 'mm')} to {figure(result['forecast_high_mm'], 'mm')}"
    limit = f"against the limit of {figure(request['threshold_mm'], 'mm')}"
    return f"{' '.join(answer['summary'])} A curve {start} {through} {ahead} (band {band}), {limit}."
