"""What a survey's report says of the survey before it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from platemargin_api.renderings.report_parts import Block, Column, Heading, Paragraph, Row, Section, Table, row
from platemargin_api.renderings.words import figure, plain, tenths

__all__ = ["previous_sections"]


def previous_sections(result: Mapping[str, Any]) -> Iterator[Section]:
    """Yield what was lost since the survey before, where one was sent."""
    if result["previous_survey"] is not None:
        yield Section("previous", "Since the survey before", list(_compared(result)))


def _compared(result: Mapping[str, Any]) -> Iterator[Block]:
    previous = result["previous_survey"]
    yield Paragraph(
        f"The survey of {previous['surveyed_on']}, {figure(previous['years_since'], 'years')} before this one, has "
        f"{previous['readings']} readings; the places of {previous['matched']} of them were read again. A rate since then "
        "governs where it is larger than the rate over the plate's life."
    )
    zones = [_zone(zone) for zone in result["zones"] if zone["short_term_mm_per_year"] is not None]
    told = "Each zone's thinnest reading, where its place was read before. Rates in mm a year."
    yield Table("previous", told, _ZONES, zones, "No zone's thinnest place was read before.")
    again = [_reading(one) for one in result["readings"] if one["previous_reading"] is not None]
    yield Heading("again", "Places read again")
    told = (
        "Each place that both surveys read. What is left in mm, pits taken off; rate since then in mm a year, negative where "
        "the plate is thicker now."
    )
    yield Table("again", told, _AGAIN, again, "No place was read again.")


_ZONES = [
    Column("Zone", "id"),
    Column("Reading", "id"),
    Column("Since then", "number"),
    Column("Beyond its uncertainty"),
    Column("Governing", "number"),
    Column("Which is"),
]
_AGAIN = [
    Column("Reading", "id"),
    Column("Zone", "id"),
    Column("Then called", "id"),
    *(Column(head, "number") for head in ("Left then", "Left now", "Rate")),
]


def _zone(zone: Mapping[str, Any]) -> Row:
    beyond = {True: "yes", False: "no: it may be chance", None: "not known"}[zone["short_term_significant"]]
    return row(
        zone["zone"],
        zone["thinnest_reading"],
        figure(zone["short_term_mm_per_year"]),
        beyond,
        figure(zone["rate_mm_per_year"]),
        plain(zone["rate_governing"] or "not known"),
        code=zone["verdict"],
    )


def _reading(one: Mapping[str, Any]) -> Row:
    return row(
        one["id"],
        one["zone"],
        one["previous_reading"],
        tenths(one["previous_mm"]),
        tenths(one["residual_mm"]),
        figure(one["short_term_mm_per_year"]),
        code=one["verdict"],
        size=-(one["short_term_mm_per_year"] or 0.0),
    )
