"""The hull's shell unfolded into lanes: each a zone's one side along the length, what was read of it and what was not."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from platemargin.anode_reach import Interval, gaps_between, united

__all__ = ["READS_M", "Lane", "common_to", "extent", "lanes_of", "unplaced"]

#: How far along the hull a reading keeps a lane from being drawn as unread [m]. It is of the drawing, no claim on the plate.
READS_M = 1.5
#: How far a part of unknown length is drawn beyond its outermost readings [m].
_MARGIN_M = 0.6

_SIDES: dict[str, tuple[str | None, ...]] = {
    "cabin-side": ("port", "starboard"),
    "side": ("port", "starboard"),
    "chine": ("port", "starboard"),
    "swim": ("port", "starboard"),
    "baseplate": ("port", "centreline", "starboard"),
}
#: From the port sheer under the bottom to the starboard sheer, as the shell lies when it is unfolded.
_UNFOLDED = (
    *((zone, "port") for zone in ("cabin-side", "side", "chine", "swim")),
    *(("baseplate", side) for side in _SIDES["baseplate"]),
    *((zone, "starboard") for zone in ("swim", "chine", "side", "cabin-side")),
)
#: What is no sheet of the shell, from stem to stern; then what else there is.
_ENDS = ("stem", "counter", "transom", "skeg", "rudder", "weed-hatch", "roof", "tank")
#: A hull has these: where nobody read them they are drawn as unread.
_ALWAYS = ("side", "baseplate")
_WHOLE_LENGTH = ("side", "chine", "baseplate")


@dataclass(frozen=True, kw_only=True)
class Lane:
    """One lane: where it runs, which readings are in it by their index, how many of it tell no station, what was not read."""

    zone: str
    side: str | None
    runs: tuple[Interval, ...]
    readings: tuple[int, ...] = ()
    without_station: int = 0
    unread: tuple[Interval, ...] = ()
    unexamined: tuple[tuple[Interval, str], ...] = ()


def common_to(one: Iterable[Interval], other: Iterable[Interval]) -> tuple[Interval, ...]:
    """Return what two sets of intervals share.

    Examples
    --------
    >>> common_to([(0.0, 4.0), (6.0, 9.0)], [(3.0, 7.0)])
    ((3.0, 4.0), (6.0, 7.0))
    """
    others = tuple(other)
    shared = ((max(a, c), min(b, d)) for a, b in one for c, d in others)
    return tuple(sorted((low, high) for low, high in shared if low < high))


def extent(stations: Sequence[float], parts: Sequence[Interval], length_m: float) -> tuple[Interval, ...]:
    """Return where a part of the hull is drawn whose ends nobody stated: about its readings, apart where they lie far apart.

    Examples
    --------
    >>> extent([1.0, 2.0, 16.0], [], 17.0)
    ((0.4, 2.6), (15.4, 16.6))
    """
    ordered, apart = sorted(set(stations)), max(length_m / 4, 3.0)
    about = [(station - _MARGIN_M, station + _MARGIN_M) for station in ordered]
    between = [(a, b) for a, b in pairwise(ordered) if b - a <= apart]
    return united([*about, *between, *parts], length_m) or ((0.0, length_m),)


def unplaced(readings: Sequence[Mapping[str, Any]]) -> tuple[int, ...]:
    """Return the readings without a station: they are listed, and stand nowhere on the hull."""
    return tuple(index for index, reading in enumerate(readings) if reading["station_m"] is None)


def lanes_of(request: Mapping[str, Any], result: Mapping[str, Any]) -> tuple[Lane, ...]:
    """Return the lanes of a survey, from the port sheer to the starboard sheer, then ends, appendages and the rest."""
    placed: dict[tuple[str, str | None], list[int]] = {}
    for index, reading in enumerate(result["readings"]):
        here = placed.setdefault((reading["zone"], reading["side"]), [])
        here += [] if reading["station_m"] is None else [index]
    listed = Counter((one["zone"], one["side"]) for one in result["readings"] if one["station_m"] is None)
    stations: dict[str, list[float]] = {}
    for (zone, _), indexes in placed.items():
        stations.setdefault(zone, []).extend(result["readings"][index]["station_m"] for index in indexes)
    return tuple(
        replace(_lane(request, result, key, placed.get(key, []), stations.get(key[0], [])), without_station=listed[key])
        for key in _keys(request, result, set(placed))
    )


def _keys(
    request: Mapping[str, Any], result: Mapping[str, Any], placed: set[tuple[str, str | None]]
) -> list[tuple[str, str | None]]:
    told = (*request["plating"], *request["unexamined"], *result["readings"])
    named = list(dict.fromkeys([*_ALWAYS, *(one["zone"] for one in told), *result["assessed"]["zones_unread"]]))
    shell = [key for key in _UNFOLDED if key[0] in named]
    rest = sorted(named, key=lambda zone: _ENDS.index(zone) if zone in _ENDS else len(_ENDS))
    others = [key for zone in rest for key in _besides(zone, placed) if key not in shell]
    return [*shell, *others]


def _besides(zone: str, placed: set[tuple[str, str | None]]) -> list[tuple[str, str | None]]:
    """Return the lanes of a zone that its place on the shell does not bring: those read, or one where none is."""
    read = [(zone, side) for side in ("port", "centreline", "starboard", None) if (zone, side) in placed]
    return read if read or zone in _SIDES else [(zone, None)]


def _lane(
    request: Mapping[str, Any],
    result: Mapping[str, Any],
    key: tuple[str, str | None],
    readings: Sequence[int],
    of_zone: Sequence[float],
) -> Lane:
    """Return a lane; its zone's stations on either side say how far it runs, so that both sides are drawn alike."""
    zone, side = key
    length = request["hull"]["length_m"]
    stations = {result["readings"][index]["station_m"] for index in readings}
    parts = [_stretch(part, length) for part in request["plating"] if _is_of(part, key) and _has_ends(part)]
    runs = ((0.0, length),) if zone in _WHOLE_LENGTH else extent(of_zone, parts, length)
    read = united(((station - READS_M, station + READS_M) for station in stations), length)
    named = [_stretch(part, length) for part in result["assessed"]["parts_unread"] if _is_of(part, key)]
    told = [(_stretch(part, length), part["reason"]) for part in result["assessed"]["unexamined"] if _is_of(part, key)]
    return Lane(
        zone=zone,
        side=side,
        runs=runs,
        readings=tuple(readings),
        unread=common_to(united([*gaps_between(read, length), *named], length), runs),
        unexamined=tuple((one, reason) for stretch, reason in told for one in common_to([stretch], runs)),
    )


def _is_of(part: Mapping[str, Any], key: tuple[str, str | None]) -> bool:
    zone, side = key
    return part["zone"] == zone and (part.get("side") is None or side in (None, part["side"]))


def _has_ends(part: Mapping[str, Any]) -> bool:
    return part.get("from_m") is not None or part.get("to_m") is not None


def _stretch(part: Mapping[str, Any], length_m: float) -> Interval:
    low, high = part.get("from_m"), part.get("to_m")
    return 0.0 if low is None else low, length_m if high is None else min(high, length_m)
