"""What a hull was plated with: entries, the trade's short notation, and which entry a reading is of."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal, NotRequired, TypedDict

import numpy as np

from platemargin.dates import days_of, years_between
from platemargin.declared import Arguments, Fault, Place
from platemargin.deepest_pit import PitSampling
from platemargin.quantities import Array, Floats, at_least, below, rounded
from platemargin.readings import LAYER, Layer, Reading, ReadingTable, Side, reading_table
from platemargin.zones import Exposure

__all__ = ["NOTATION", "PLATING_FAULTS", "Part", "Plated", "Plating", "covered", "from_notation", "plated", "range_fault"]

#: 0.5 to 40 mm, at most two decimals, two to four figures: bottom / sides / cabin sides / roof.
_FIGURE = r"(0\.[5-9][0-9]?|[1-9](\.[0-9]{1,2})?|[1-3][0-9](\.[0-9]{1,2})?|40)"
NOTATION = rf"^{_FIGURE}(/{_FIGURE}){{1,3}}$"
#: The zones of each figure. Reference: plating-notation.
_NOTATION_ZONES = (("baseplate",), ("side", "chine", "swim", "counter", "transom", "stem"), ("cabin-side",), ("roof",))
#: Below this age [year] a loss is measurement, not a rate.
_SHORTEST_AGE_YEARS = 0.1


class Part(TypedDict):
    """A zone, or a part of it [m]."""

    zone: str
    side: NotRequired[Side]
    from_m: NotRequired[float]
    to_m: NotRequired[float]


class Plating(Part):
    """One entry: a zone, or a part of it, and what it was plated with [mm, year, m2]."""

    original_mm: NotRequired[float]
    original_basis: NotRequired[Literal["certificate", "builder", "measured_unattacked", "assumed", "unknown"]]
    layer: NotRequired[Layer]
    fitted_on: NotRequired[str]
    area_m2: NotRequired[float]
    exposure: NotRequired[Exposure]
    protected_years: NotRequired[float]
    pit_sampling: NotRequired[PitSampling]
    pit_patch_area_m2: NotRequired[float]


@dataclass(frozen=True, kw_only=True)
class Plated:
    """The readings' table with what the plating says of each; NaN = unknown, and fitted with the boat where "" is stated."""

    table: ReadingTable
    fitted_on: Array
    years_in_service: Floats
    protected_years: Floats


def from_notation(notation: str | None) -> list[Plating]:
    """Return the entries that the trade's short notation stands for.

    Examples
    --------
    >>> [(entry["zone"], entry["original_mm"]) for entry in from_notation("10/6/5")][:3]
    [('baseplate', 10.0), ('side', 6.0), ('chine', 6.0)]
    """
    figures = map(float, notation.split("/")) if notation else ()
    return [
        {"zone": zone, "original_mm": original}
        for zones, original in zip(_NOTATION_ZONES, figures, strict=False)
        for zone in zones
    ]


def plated(
    table: ReadingTable,
    readings: Sequence[Reading],
    plating: Sequence[Plating],
    notation: str | None,
    built_on: str | None,
    surveyed_on: date,
) -> Plated:
    """Give each reading its original thickness, exposure, age and protected years.

    A reading is of the narrowest entry that names its zone and does not contradict its side, station and layer; the
    reading's own values override it, and an entry overrides the notation. An age counts from the day on which the plate
    was fitted, else, for the shell, from the day on which the boat was built.
    """
    entries = [*from_notation(notation), *plating]
    entry_of = np.full(len(table), -1)
    # The narrowest is written last; of equals the later, so that what is stated overrides what the notation implies.
    rows = table.by_zone(np.arange(len(table)))
    for index in sorted(range(len(entries)), key=lambda i: (_narrowness(entries[i]), i)):
        own = covered(entries[index], table, rows)
        entry_of[own[table.layer[own] == entries[index].get("layer", LAYER)]] = index

    def of_entry(name: str) -> Floats:
        values = np.array([*(_stated(entry, name) for entry in entries), np.nan], dtype=np.float64)
        return np.asarray(values[entry_of])

    exposures = np.array([*(entry.get("exposure", "") for entry in entries), ""], dtype=object)[entry_of]
    stated = np.array(["exposure" in reading for reading in readings], dtype=bool)
    own_original = table.original_mm
    stated_on = [
        reading.get("fitted_on") or _entry_fitted(entries, index) or ""
        for reading, index in zip(readings, entry_of, strict=True)
    ]
    fitted = [day or (built_on if layer == LAYER else None) for day, layer in zip(stated_on, table.layer.tolist(), strict=True)]
    ages = {name: _age(name, surveyed_on) for name in set(fitted)}
    return Plated(
        table=table.with_columns(
            original_mm=np.where(np.isnan(own_original), of_entry("original_mm"), own_original),
            exposure=np.where(stated | (exposures == ""), table.exposure, exposures),
        ),
        fitted_on=np.array(stated_on, dtype=object),
        years_in_service=np.array([ages[name] for name in fitted], dtype=np.float64),
        protected_years=np.nan_to_num(of_entry("protected_years"), nan=0.0),
    )


def _stated(entry: Plating, name: str) -> float:
    """Return a number of an entry, NaN where it has none, or where it says itself that nobody knows the original."""
    unknown = name == "original_mm" and entry.get("original_basis") == "unknown"
    number: float = np.nan if unknown else entry.get(name, np.nan)  # type: ignore[assignment]
    return number


def _narrowness(entry: Plating) -> tuple[float, int]:
    """Return how narrow a part an entry names: the shorter the narrower; of equals, or open ends, the more it names."""
    length = entry.get("to_m", np.inf) - entry.get("from_m", -np.inf)
    return -length, sum(name in entry for name in ("side", "from_m", "to_m"))


def covered(part: Part, table: ReadingTable, by_zone: Mapping[str, Array]) -> Array:
    """Return those of some readings, given by zone, that are of a part: they contradict neither its side nor its stations."""
    rows = by_zone.get(part["zone"], np.array([], dtype=int))
    inside = np.ones(len(rows), dtype=bool)
    if "side" in part:
        inside &= np.asarray(table.side[rows] == part["side"], dtype=bool)
    if "from_m" in part:
        inside &= at_least(table.station_m[rows], part["from_m"], "m")
    if "to_m" in part:
        inside &= at_least(part["to_m"], table.station_m[rows], "m")
    return np.asarray(rows[inside])


def _entry_fitted(entries: Sequence[Plating], index: int) -> str | None:
    return entries[index].get("fitted_on") if index >= 0 else None


def _age(fitted_on: str | None, surveyed_on: date) -> float:
    """Return the least age that the text allows [year], NaN where it is unknown or too short to tell a rate."""
    age = _least_age(fitted_on, surveyed_on)
    return age if age >= _SHORTEST_AGE_YEARS else np.nan


def _least_age(fitted_on: str | None, surveyed_on: date) -> float:
    period = days_of(fitted_on) if fitted_on else None
    if period is None:
        return np.nan
    # Rounded as declared, so that the working shows the very age that was used.
    return float(rounded(years_between(min(period[1], surveyed_on), surveyed_on), "year"))


def _day_faults(name: str) -> Fault:
    """State that a day exists and is not after the survey, for one date or for the `fitted_on` of each in a list."""

    def broken(arguments: Arguments) -> Iterable[Place]:
        value = arguments[name]
        texts = [((), value)] if name == "built_on" else [((i, "fitted_on"), v.get("fitted_on")) for i, v in enumerate(value)]
        for path, text in texts:
            if text is None:
                continue
            if (period := days_of(text)) is None:
                yield Place(path=path, values={"day": text, "why": "is no day of the calendar"})
            elif period[0] > arguments["surveyed_on"]:
                yield Place(path=path, values={"day": text, "why": f"is after the survey of {arguments['surveyed_on']}"})

    return Fault(field=name, code="day_not_possible", message="{day} {why}", broken=broken)


def range_fault(name: str) -> Fault:
    """State that a list's parts of the hull run from a station to one not before it."""

    def broken(arguments: Arguments) -> Iterable[Place]:
        for index, entry in enumerate(arguments[name]):
            if below(entry.get("to_m", np.nan), entry.get("from_m", np.nan), "m"):
                yield Place(path=(index, "to_m"), values={"from_m": entry["from_m"], "to_m": entry["to_m"]})

    return Fault(field=name, code="range_backwards", message="a part from {from_m} m cannot end at {to_m} m", broken=broken)


def _stated_twice(arguments: Arguments) -> Iterable[Place]:
    keys = [
        (entry["zone"], entry.get("side"), entry.get("from_m"), entry.get("to_m"), entry.get("layer", LAYER))
        for entry in arguments["plating"]
    ]
    for index, key in enumerate(keys):
        if key in keys[:index]:
            yield Place(path=(index,), values={"zone": key[0]})


def _over_protected(arguments: Arguments) -> Iterable[Place]:
    for index, entry in enumerate(arguments["plating"]):
        protected = entry.get("protected_years", 0.0)
        age = _least_age(entry.get("fitted_on") or arguments["built_on"], arguments["surveyed_on"])
        if _outlasts(protected, age):
            yield Place(path=(index, "protected_years"), values={"protected_years": protected, "age_years": age})


def _over_protected_readings(arguments: Arguments) -> Iterable[Place]:
    """Return the readings whose own `fitted_on` makes them younger than what their entry says of protection."""
    readings: Sequence[Reading] = arguments["readings"]
    own = [index for index, reading in enumerate(readings) if "fitted_on" in reading]
    if not own:
        return
    fitted = [readings[index] for index in own]
    names = ("plating", "plating_notation", "built_on", "surveyed_on")
    known = plated(reading_table(fitted), fitted, *(arguments[name] for name in names))
    for index, protected, age in zip(own, known.protected_years, known.years_in_service, strict=True):
        if _outlasts(protected, age):
            yield Place(path=(index, "fitted_on"), values={"protected_years": protected.item(), "age_years": age.item()})


def _outlasts(protected_years: float, age_years: float) -> bool:
    """Tell whether protection leaves nothing of an age, as `corrosion_rate` refuses it."""
    return bool(protected_years > 0 and rounded(age_years - protected_years, "year") <= 0)


PLATING_FAULTS = (
    *map(_day_faults, ("built_on", "plating", "readings")),
    range_fault("plating"),
    Fault(
        field="plating",
        code="plating_stated_twice",
        message="the same part of {zone} is stated twice; give each part one entry",
        broken=_stated_twice,
    ),
    *(
        Fault(
            field=field,
            code="protected_longer_than_service",
            message="{protected_years} years of protection leave none of the plate's {age_years} years in which it could "
            "corrode",
            broken=broken,
        )
        for field, broken in (("plating", _over_protected), ("readings", _over_protected_readings))
    ),
)
