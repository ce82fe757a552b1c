"""The picture of deepest-pit: the depths read against their reduced variate, the fit, and what the whole area may hold."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import log
from typing import Any
from xml.etree import ElementTree as ET

from platemargin.quantities import text
from platemargin_api.renderings.axes import Frame, plot_axes
from platemargin_api.renderings.colours import ACCENT, FAINT, INK, LIMIT, QUIET
from platemargin_api.renderings.svg import drawn, group, line, lines_of, path, picture, words_at
from platemargin_api.renderings.words import figure, visible_throughout, width_of

__all__ = ["deepest_drawn", "probability_plot", "return_periods", "variate"]

_WIDTH, _LEFT, _RIGHT, _HEIGHT = 600.0, 52.0, 582.0, 290.0
#: A depth of more than this many times the deepest read is told, not drawn.
_MOST_DEPTHS = 4.0
_FAR = 1e-9
_LINE = 14.0


def variate(period: float) -> float:
    """Return the reduced variate of a return period: -ln(-ln(1 - 1 / T)).

    Examples
    --------
    >>> round(variate(100.0), 4)
    4.6001
    """
    return -log(-log(1 - 1 / period)) if period < 1 / _FAR else log(period)


def return_periods(low: float, high: float) -> list[float]:
    """Return the round return periods between two reduced variates."""
    rounds = (factor * 10.0**power for power in range(9) for factor in (1, 2, 5))
    return [period for period in rounds if period > 1 and low <= variate(period) <= high]


def deepest_drawn(request: Mapping[str, Any], result: Mapping[str, Any]) -> float:
    """Return how deep the plot goes [mm]: to the plate and to what may be, where those are not far beyond what was read."""
    most = _MOST_DEPTHS * max(result["deepest_read_mm"], result["scale_mm"], 0.1)
    wanted = [result["most_likely_mm"], result["upper_mm"], request.get("plate_mm")]
    return float(max(result["deepest_read_mm"], *(min(one, most) for one in wanted if one is not None), 0.1) * 1.08)


def probability_plot(request: Mapping[str, Any], answer: Mapping[str, Any]) -> bytes:
    """Return the probability plot of sampled pits."""
    request, answer = visible_throughout(request), visible_throughout(answer)
    result = answer["result"]
    title = "Deepest pits on probability paper (Gumbel)"
    head, top = lines_of(10, 22, title, 580, size=15, font_weight="bold")
    told, top = lines_of(10, top, " ".join(answer["summary"]), 576, size=10.5)
    whole, ends = variate(result["return_period"]), [point["reduced_variate"] for point in result["plot"]]
    last = max(ends[-1], whole if result["most_likely_mm"] is not None else ends[-1])
    across = (ends[0] - 0.4, last + 0.5)
    frame = Frame(
        left=_LEFT,
        right=_RIGHT,
        top=top + 34,
        bottom=top + 34 + _HEIGHT,
        across=across,
        up=(0.0, deepest_drawn(request, result)),
    )
    within = (
        *head,
        *told,
        *plot_axes(frame, "Reduced variate -ln(-ln(i / (n + 1)))", "Depth of the deepest pit of a patch [mm]"),
        *_periods(frame),
        *_plate(frame, request),
        _fit(frame, result),
        *(_point(frame, point) for point in result["plot"]),
        *_whole_area(frame, result, whole),
    )
    key, bottom = _key(request, result, frame)
    return picture(answer, (_WIDTH, bottom), (title, _description(request, answer)), *within, *key)


def _periods(frame: Frame) -> Iterator[ET.Element]:
    """Yield a second scale: in how many patches one is as deep."""
    taken = frame.left
    yield words_at(frame.left, frame.top - 20, "One patch in so many is deeper", fill=QUIET)
    for period in return_periods(*frame.across):
        x, words = frame.x(variate(period)), text(period)
        half = width_of(words, 9.5) / 2 + 3
        if x - half >= taken and x + half <= frame.right + 8:
            taken = x + half
            yield line((x, frame.top), (x, frame.bottom), stroke=FAINT, stroke_width=0.5)
            yield words_at(x, frame.top - 5, words, text_anchor="middle", fill=QUIET)


def _plate(frame: Frame, request: Mapping[str, Any]) -> list[ET.Element]:
    plate = request.get("plate_mm")
    if plate is None or plate > frame.up[1]:
        return []
    y = frame.y(plate)
    words = f"plate {figure(plate, 'mm')}: as deep is a hole"
    return [
        line((frame.left, y), (frame.right, y), stroke=LIMIT, stroke_width=1.6),
        words_at(frame.left + 6, y - 4, words, halo=True, fill=LIMIT, font_weight="bold"),
    ]


def _fit(frame: Frame, result: Mapping[str, Any]) -> ET.Element:
    """Return the fitted line within the frame: location + scale times variate."""
    location, scale = result["location_mm"], result["scale_mm"]
    low, high = frame.across
    if scale > 0:
        low, high = max(low, -location / scale), min(high, (frame.up[1] - location) / scale)
    ends = [frame.at(y, location + scale * y) for y in (low, max(low, high))]
    return path(ends, fill="none", stroke=ACCENT, stroke_width=2.0)


def _point(frame: Frame, point: Mapping[str, Any]) -> ET.Element:
    x, y = frame.at(point["reduced_variate"], point["depth_mm"])
    told = drawn("title", f"{figure(point['depth_mm'], 'mm')} at {text(point['reduced_variate'])}")
    return group(told, drawn("circle", cx=x, cy=y, r=3.4, fill="#ffffff", stroke=INK, stroke_width=1.1))


def _whole_area(frame: Frame, result: Mapping[str, Any], whole: float) -> list[ET.Element]:
    """Return the deepest pit of the whole area: most likely, and not over at the confidence asked."""
    likely, upper = result["most_likely_mm"], result["upper_mm"]
    if likely is None or upper is None:
        return []
    x, (low, high) = frame.x(whole), (frame.y(likely), frame.y(upper))
    over = upper > frame.up[1]
    cap = [(x - 4, high + 5), (x, high), (x + 4, high + 5)] if over else [(x - 5, high), (x + 5, high)]
    bold: dict[str, Any] = {"stroke": INK, "stroke_width": 1.6, "fill": "none"}
    dot = drawn("circle", cx=x, cy=low, r=4, fill=INK)
    roomy = low - high > 2 * _LINE
    words = (
        (high + _LINE if over else high + 4 if roomy else high - 4, f"upper {figure(upper, 'mm')}"),
        (low - 6 if roomy else low + 1.5 * _LINE, f"most likely {figure(likely, 'mm')}"),
    )
    labels = [words_at(x - 9, y, told, halo=True, text_anchor="end", font_weight="bold") for y, told in words]
    return [line((x, low), (x, high), stroke_width=1.6), path(cap, **bold), dot, *labels]


def _key(request: Mapping[str, Any], result: Mapping[str, Any], frame: Frame) -> tuple[list[ET.Element], float]:
    notes = list(_notes(request, result, frame))
    shapes: Sequence[ET.Element] = (
        drawn("circle", cx=25, cy=-3, r=3.4, fill="#ffffff", stroke=INK, stroke_width=1.1),
        line((12, -3), (38, -3), stroke=ACCENT, stroke_width=2.0),
        drawn("circle", cx=25, cy=-3, r=4, fill=INK),
    )
    drawn_rows, y = [], frame.bottom + 54
    for n, words in enumerate(notes):
        rows, below = lines_of(46, y, words, 540)
        drawn_rows += [*([group(shapes[n], transform=f"translate(0 {y:g})")] if n < len(shapes) else []), *rows]
        y = below + 2
    return drawn_rows, y + 2


def _notes(request: Mapping[str, Any], result: Mapping[str, Any], frame: Frame) -> Iterator[str]:
    yield f"the deepest pit of each of {len(result['plot'])} patches"
    slope = f"{figure(result['location_mm'], 'mm')} + {figure(result['scale_mm'], 'mm')} times the reduced variate"
    yield f"the fit: {slope}"
    if result["most_likely_mm"] is None or result["upper_mm"] is None:
        yield "the whole area: nothing is told of it from these patches"
        return
    percent = text(round(100 * request["confidence"], 1))
    yield (
        f"the whole area, one in {text(result['return_period'])}: most likely {figure(result['most_likely_mm'], 'mm')}, "
        f"and at {percent} % confidence not over {figure(result['upper_mm'], 'mm')}, the fit's uncertainty inside"
    )
    plate = request.get("plate_mm")
    beyond = {"the upper depth": result["upper_mm"], "the plate": plate}
    named = [f"{name} ({figure(one, 'mm')})" for name, one in beyond.items() if one is not None and one > frame.up[1]]
    if named:
        yield f"beyond the picture: {' and '.join(named)}"


def _description(request: Mapping[str, Any], answer: Mapping[str, Any]) -> str:
    result = answer["result"]
    depths = [point["depth_mm"] for point in result["plot"]]
    read = f"Depths from {figure(depths[0], 'mm')} to {figure(depths[-1], 'mm')} against their reduced variate"
    slope = f"with the fitted line of {figure(result['location_mm'], 'mm')} and {figure(result['scale_mm'], 'mm')} a unit"
    plate = request.get("plate_mm")
    beside = "" if plate is None else f", and the plate of {figure(plate, 'mm')}"
    return f"{' '.join(answer['summary'])} {read}, {slope}{beside}."
