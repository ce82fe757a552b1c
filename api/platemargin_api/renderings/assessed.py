"""What a survey did not look at, in words: it stands beside every verdict that is shown."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from platemargin_api.renderings.words import figure, plain

__all__ = ["cannot_say", "not_examined", "place"]


def not_examined(result: Mapping[str, Any]) -> list[str]:
    """Return what nobody read or could read, a phrase each; empty where nothing is known to be missing."""
    return list(_phrases(result["assessed"]))


def _phrases(assessed: Mapping[str, Any]) -> Iterator[str]:
    if not assessed["immersed_read"]:
        yield "no plate under water was read"
    yield from (f"the {side} side was not read" for side in assessed["sides_unread"])
    yield from (f"{zone} was not read" for zone in assessed["zones_unread"])
    yield from (f"{_stretch_words(part)} was not read" for part in assessed["parts_unread"])
    for part in assessed["unexamined"]:
        yield f"{_stretch_words(part)} could not be examined ({plain(part['reason'])})"


def cannot_say(request: Mapping[str, Any], result: Mapping[str, Any]) -> list[str]:
    """Return what a survey leaves open, a sentence each: what was not read, not judged, not seen and not told."""
    return [f"{words[0].upper()}{words[1:]}." for words in (*not_examined(result), *_left_open(request, result))]


def _left_open(request: Mapping[str, Any], result: Mapping[str, Any]) -> Iterator[str]:
    yield from _unjudged(result)
    for zone in result["zones"]:
        if not zone["pits_measured"]:
            yield f"no pit was measured in {zone['zone']}: its plate is taken as without pits"
        if zone["original_mm"] is None:
            yield f"what {zone['zone']} was plated with is not known: no loss, rate or life is told there"
    readings = result["readings"]
    for member, words in (("station_m", "station"), ("side", "side")):
        if without := sum(reading[member] is None for reading in readings):
            yield f"{without} of {len(readings)} readings tell no {words}"
    if not request.get("inside_seen"):
        yield "the plate was not stated to be seen from inside"
    yield "nothing was read between the places that were read"


def _unjudged(result: Mapping[str, Any]) -> Iterator[str]:
    readings = result["readings"]
    if unjudged := sum(reading["verdict"] == "not_judged" for reading in readings):
        yield f"{unjudged} of {len(readings)} readings are judged by no limit that could pass them"
    for rule in result["rules"]:
        if rule["not_checked_count"]:
            yield f"{rule['not_checked_count']} readings that the limit {rule['id']} speaks of could not be checked"
        if not rule["checked_count"]:
            yield f"the limit {rule['id']} met no reading"


def _stretch_words(part: Mapping[str, Any]) -> str:
    """Return a part of the hull in words."""
    side = f", {part['side']}" if part["side"] else ""
    low, high = part["from_m"], part["to_m"]
    if low is None and high is None:
        return f"{part['zone']}{side}"
    ends = [] if low is None else [f"from {figure(low, 'm')}"]
    ends += [] if high is None else [f"to {figure(high, 'm')}"]
    return f"{part['zone']}{side} {' '.join(ends)}"


def place(reading: Mapping[str, Any]) -> str:
    """Return where a reading was taken, in words."""
    side = f", {reading['side']}" if reading["side"] else ", side not told"
    station = "no station" if reading["station_m"] is None else f"station {figure(reading['station_m'], 'm')}"
    return f"{reading['zone']}{side}, {station}"
