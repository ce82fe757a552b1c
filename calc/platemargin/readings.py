"""Readings of a hull: as they are sent, and as a table of columns."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from math import nan
from operator import itemgetter
from typing import Any, Literal, NotRequired, TypedDict, get_args

import numpy as np

from platemargin.declared import Arguments, Assumption, Fault, Finding, Place
from platemargin.quantities import Array, Floats, below
from platemargin.residual_thickness import FAULTS as THICKNESS_FAULTS
from platemargin.zones import DEFAULT_EXPOSURE, UNKNOWN_EXPOSURE, Exposure, nearest_zone

__all__ = [
    "HULL_SIDES",
    "LAYER",
    "MOST_ZONES",
    "READING_ASSUMED",
    "READING_FAULTS",
    "READING_FINDINGS",
    "STATION_FAULT",
    "HullSide",
    "Layer",
    "Reading",
    "ReadingTable",
    "Side",
    "contradicted_exposures",
    "reading_table",
    "zone_exposure",
]

Side = Literal["port", "starboard", "centreline"]
HullSide = Literal["port", "starboard"]
#: The two sides of a hull.
HULL_SIDES: tuple[HullSide, ...] = get_args(HullSide)
Layer = Literal["shell", "overplate", "insert"]
#: What a reading is of, unless it says otherwise.
LAYER: Layer = "shell"
#: A survey of more zones names places, not parts of a hull; what a zone costs is bounded by it.
MOST_ZONES = 200


class Reading(TypedDict):
    """One reading, as it is sent [mm, m]."""

    zone: str
    plate_mm: float
    id: NotRequired[str]
    side: NotRequired[Side]
    station_m: NotRequired[float]
    height_m: NotRequired[float]
    pit_depth_mm: NotRequired[float]
    pit_face: NotRequired[Literal["outside", "inside", "unknown"]]
    original_mm: NotRequired[float]
    layer: NotRequired[Layer]
    fitted_on: NotRequired[str]
    exposure: NotRequired[Exposure]
    holed: NotRequired[bool]


@dataclass(frozen=True, kw_only=True)
class ReadingTable:
    """Readings as columns, in the order sent; NaN and "" are absent. A hole is a pit as deep as the plate.

    A reading that is not `named` is called by its index, a name that no other survey shares.
    """

    id: Array
    named: Array
    zone: Array
    side: Array
    station_m: Floats
    height_m: Floats
    layer: Array
    fitted_on: Array
    exposure: Array
    plate_mm: Floats
    pit_depth_mm: Floats
    original_mm: Floats

    def __len__(self) -> int:
        return len(self.zone)

    def by_zone(self, rows: Array) -> dict[str, Array]:
        """Return rows by the zone that they are of, in order of first appearance."""
        found: dict[str, list[int]] = {}
        for row, zone in zip(rows.tolist(), self.zone[rows].tolist(), strict=True):
            found.setdefault(zone, []).append(row)
        return {zone: np.array(members) for zone, members in found.items()}

    def with_columns(self, **columns: Array) -> ReadingTable:
        """Return the table with other columns in place of its own."""
        return replace(self, **columns)


class _Sent:
    """Readings by member: most are in every reading or in none, and these two are not asked of each."""

    def __init__(self, readings: Sequence[Reading]) -> None:
        self._readings = readings
        self._members = set[str]().union(*readings)

    def of(self, member: str, absent: object) -> list[Any]:
        if member not in self._members:
            return [absent] * len(self._readings)
        try:
            return list(map(itemgetter(member), self._readings))
        except KeyError:
            return [reading.get(member, absent) for reading in self._readings]

    def numbers(self, member: str) -> Floats:
        return np.array(self.of(member, nan), dtype=np.float64)

    def texts(self, member: str, absent: str = "") -> Array:
        return np.array(self.of(member, absent), dtype=object)

    def exposures(self) -> Array:
        zones = [reading["zone"] for reading in self._readings]
        by_zone = {zone: zone_exposure(zone) for zone in set(zones)}
        told = [by_zone[zone] for zone in zones]
        if "exposure" in self._members:
            told = [exposure or of_zone for exposure, of_zone in zip(self.of("exposure", None), told, strict=True)]
        return np.array(told, dtype=object)


def reading_table(readings: Sequence[Reading]) -> ReadingTable:
    """Turn readings into columns; what a reading does not say of exposure its zone says."""
    sent = _Sent(readings)
    plate, pit = _plate_and_pit(sent)
    return ReadingTable(
        id=np.array(_ids(readings), dtype=object),
        named=np.array(["id" in reading for reading in readings], dtype=bool),
        zone=sent.texts("zone"),
        side=sent.texts("side"),
        station_m=sent.numbers("station_m"),
        height_m=sent.numbers("height_m"),
        layer=sent.texts("layer", LAYER),
        fitted_on=sent.texts("fitted_on"),
        exposure=sent.exposures(),
        plate_mm=plate,
        pit_depth_mm=pit,
        original_mm=sent.numbers("original_mm"),
    )


def _plate_and_pit(sent: _Sent) -> tuple[Floats, Floats]:
    plate = sent.numbers("plate_mm")
    holed = np.array(sent.of("holed", False), dtype=bool)  # noqa: FBT003  the value of an absent member
    return plate, np.where(holed, plate, sent.numbers("pit_depth_mm"))


def _ids(readings: Sequence[Reading]) -> list[str]:
    return [reading["id"] if "id" in reading else str(index) for index, reading in enumerate(readings)]


def zone_exposure(zone: str) -> Exposure:
    """Return where a zone stands towards the water by its name; an unknown name counts as immersed."""
    return DEFAULT_EXPOSURE.get(zone, UNKNOWN_EXPOSURE)


def _same_id(arguments: Arguments) -> Iterable[Place]:
    seen: set[str] = set()
    for index, name in enumerate(_ids(arguments["readings"])):
        if name in seen:
            yield Place(path=(index, "id"), values={"id": name})
        seen.add(name)


def _too_many_zones(arguments: Arguments) -> Iterable[Place]:
    zones = {reading["zone"] for reading in arguments["readings"]}
    if len(zones) > MOST_ZONES:
        yield Place(values={"zones": len(zones), "most": MOST_ZONES})


def _of_a_reading(fault: Fault) -> Callable[[Arguments], Iterable[Place]]:
    """Turn a fault of one reading into the places at which the readings of a table have it."""

    def broken(arguments: Arguments) -> Iterable[Place]:
        plate, pit = _plate_and_pit(_Sent(arguments["readings"]))
        columns: dict[str, Any] = {"plate_mm": plate, "pit_depth_mm": pit}
        for index in map(int, np.flatnonzero(fault.broken(columns))):  # type: ignore[arg-type]
            values = {name: column[index].item() for name, column in columns.items()}
            yield Place(path=(index, fault.field), values=values)

    return broken


READING_FAULTS = (
    Fault(
        field="readings",
        code="too_many_zones",
        message="the readings name {zones} zones; no hull has more than {most}: a zone is a part of the hull, not a place",
        broken=_too_many_zones,
    ),
    Fault(
        field="readings",
        code="id_not_unique",
        message="two readings are called {id}; give each its own id (a reading without one is called by its index)",
        broken=_same_id,
    ),
    *(
        Fault(field="readings", code=fault.code, message=fault.message, broken=_of_a_reading(fault))
        for fault in THICKNESS_FAULTS
    ),
)


def _beyond_hull(arguments: Arguments) -> Iterable[Place]:
    hull = arguments["hull"]
    if not hull:
        return
    station = np.array([reading.get("station_m", nan) for reading in arguments["readings"]], dtype=np.float64)
    for index in map(int, np.flatnonzero(below(hull["length_m"], station, "m"))):
        yield Place(path=(index, "station_m"), values={"station_m": station[index].item(), "length_m": hull["length_m"]})


STATION_FAULT = Fault(
    field="readings",
    code="station_beyond_hull",
    message="a station of {station_m} m, counted from the stem, is beyond the hull's length of {length_m} m",
    broken=_beyond_hull,
)


def _unmeasured(readings: Sequence[Reading]) -> int:
    return sum("pit_depth_mm" not in reading and not reading.get("holed", False) for reading in readings)


def _unstated(arguments: Arguments) -> list[str]:
    """Return the zones whose exposure neither a reading nor the plating states."""
    stated = {entry["zone"] for entry in arguments.get("plating", ()) if "exposure" in entry}
    zones = (reading["zone"] for reading in arguments["readings"] if "exposure" not in reading)
    return [zone for zone in dict.fromkeys(zones) if zone not in stated]


READING_ASSUMED = (
    Assumption(
        field="readings[].layer",
        value=LAYER,
        unit=None,
        basis="plate is of the shell unless it is said to be an overplate or an insert",
        when=lambda a, _: any("layer" not in reading for reading in a["readings"]),
    ),
    Assumption(
        field="readings[].pit_depth_mm",
        value=0.0,
        unit="mm",
        basis=lambda a, _: (
            f"no pit was measured at {_unmeasured(a['readings'])} of {len(a['readings'])} readings: taken as none"
        ),
        when=lambda a, _: _unmeasured(a["readings"]) > 0,
    ),
    Assumption(
        field="readings[].exposure",
        value=lambda a, _: {zone: zone_exposure(zone) for zone in _unstated(a)},
        unit=None,
        basis="what the zone's name says (common practice); an unknown name counts as immersed",
        when=lambda a, _: bool(_unstated(a)),
    ),
)


def _unknown_zones(arguments: Arguments, _result: object) -> Iterable[Place]:
    """Yield each unknown name once, where it first stands: in readings, plating, unexamined parts, rules.

    A reading's unknown name whose exposure is stated is the caller's own, unless it is like a known one: then it is
    misspelt, and the statement may be too.
    """
    own = {entry["zone"] for entry in arguments.get("plating", ()) if "exposure" in entry}
    own |= {reading["zone"] for reading in arguments["readings"] if "exposure" in reading}
    named: dict[str, tuple[str | int, ...]] = {}
    for name in ("readings", "plating", "unexamined"):
        for index, entry in enumerate(arguments.get(name, ())):
            named.setdefault(entry["zone"], (name, index, "zone"))
    for index, rule in enumerate(arguments["rules"]):
        for place, zone in enumerate(rule.get("zones") or ()):
            named.setdefault(zone, ("rules", index, "zones", place))
    for zone, path in named.items():
        nearest = nearest_zone(zone)
        if zone in DEFAULT_EXPOSURE or (zone in own and nearest is None):
            continue
        hint = f"; the nearest known name is {nearest}" if nearest else ""
        yield Place(path=path, values={"zone": zone, "nearest": nearest, "hint": hint})


def contradicted_exposures(table: ReadingTable) -> Iterable[Place]:
    """Yield each zone that is always under water and is stated to be out of it."""
    dry = np.flatnonzero(~np.isin(table.exposure, ("immersed", "waterline")))
    for zone, rows in table.by_zone(dry).items():
        meant = zone if zone in DEFAULT_EXPOSURE else nearest_zone(zone)
        if meant is not None and DEFAULT_EXPOSURE[meant] == "immersed":
            values = {"zone": zone, "meant": meant, "exposure": str(table.exposure[rows[0]]), "count": len(rows)}
            yield Place(path=("readings", int(rows[0])), values=values)


READING_FINDINGS = (
    Finding(
        code="unknown_zone",
        severity="watch",
        statement="No zone is called {zone}{hint}: unless its exposure is stated, its plate counts as under water. Give the "
        "known name, or the exposure.",
        values=("zone", "nearest", "hint"),
        applies=_unknown_zones,
    ),
    Finding(
        code="exposure_contradicts_zone",
        severity="watch",
        statement="{zone} is stated to be {exposure} (readings: {count}), but {meant} is under water: nothing is passed until "
        "one of the two is put right.",
        values=("zone", "meant", "exposure", "count"),
        applies=lambda _, result: contradicted_exposures(result.judged.table),
        withholds_pass=True,
    ),
)
