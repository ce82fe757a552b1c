"""Zones, limits and readings of a survey in its report."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import inf
from typing import Any

from platemargin.deepest_pit import CONFIDENCE
from platemargin.quantities import odds
from platemargin_api.renderings.map_legend import limit_words
from platemargin_api.renderings.report_parts import Block, Cell, Column, Heading, Paragraph, Row, Section, Table, row
from platemargin_api.renderings.report_words import band_words, life_words
from platemargin_api.renderings.words import figure, plain, tenths

__all__ = ["readings_section", "zones_section"]

_RATES = {"long_term": "the rate over its life", "short_term": "the rate since the survey before"}


def zones_section(request: Mapping[str, Any], result: Mapping[str, Any]) -> Section:
    """Return the zones, how long they last, what nobody measured in them, and what they were judged by."""
    return Section("zones", "Zones", [_zones(result), *_lives(request, result), *_deepest_pits(result), *_limits(result)])


def _zones(result: Mapping[str, Any]) -> Table:
    told = "Each zone that was read. Thicknesses in mm, loss of the original in %, rate at the thinnest reading in mm a year."
    columns = [
        Column("Zone", "id", 1.5),
        Column("Verdict", "mark", 1.2),
        *(Column(head, "number") for head in ("Original", "Thinnest")),
        Column("Reading", "id", 1.6),
        *(Column(head, "number") for head in ("Mean plate", "Deepest pit", "Loss", "Rate", "Readings", "Pits measured")),
    ]
    return Table("zones", told, columns, [_zone(zone) for zone in result["zones"]])


def _zone(zone: Mapping[str, Any]) -> Row:
    return row(
        Cell(zone["zone"], zone["exposure"]),
        plain(zone["verdict"]),
        figure(zone["original_mm"]),
        tenths(zone["thinnest_residual_mm"]),
        zone["thinnest_reading"],
        *(figure(zone[name]) for name in ("mean_plate_mm", "max_pit_depth_mm", "max_loss_percent", "rate_mm_per_year")),
        figure(zone["readings"]),
        figure(zone["pits_measured"]),
        code=zone["verdict"],
        size=zone["thinnest_residual_mm"],
    )


def _lives(request: Mapping[str, Any], result: Mapping[str, Any]) -> Iterator[Block]:
    rows = [
        row(
            zone["zone"],
            figure(life["threshold_mm"]),
            life_words(life),
            odds(life["probability_below_now"]),
            code=zone["verdict"],
            size=inf if life["years_low"] is None else life["years_low"],
        )
        for zone in result["zones"]
        for life in zone["thresholds"]
    ]
    if not rows:
        return
    percent = figure(round(100 * request["confidence"], 1))
    told = (
        "Each zone's thinnest reading, followed at its governing rate. Years from the survey with the band at "
        f"{percent} % confidence."
    )
    columns = [
        Column("Zone", "id"),
        Column("Limit [mm]", "number"),
        Column("Years until it"),
        Column("Probability that it is below already", "number"),
    ]
    yield Heading("lives", "Time until a limit")
    if result["first_to_limit"] is not None:
        yield Paragraph(_first_words(request, result["first_to_limit"]))
    yield Table("lives", told, columns, rows)


def _first_words(request: Mapping[str, Any], first: Mapping[str, Any]) -> str:
    """Return which reading may reach its next limit first: not always a zone's thinnest."""
    where, limit = f"reading {first['reading']} in {first['zone']}", figure(first["threshold_mm"], "mm")
    as_of = f", {figure(first['years_from_as_of'])} from {request['as_of']}" if first["years_from_as_of"] is not None else ""
    chance_alone = ", which may be chance" if first["short_term_significant"] is False else ""
    return (
        f"First at its next limit may be {where}, at {limit}. Years until then: {band_words(first)} from the survey{as_of}; it "
        f"is followed at {_RATES[first['governing']]}{chance_alone}."
    )


def _deepest_pits(result: Mapping[str, Any]) -> Iterator[Block]:
    found = [(zone["zone"], zone["deepest_pit"]) for zone in result["zones"] if zone["deepest_pit"]]
    if not found:
        return
    told = (
        "The deepest pit of the whole zone, from the deepest of each patch in which pits were measured [mm]; not over: at "
        f"{figure(100 * CONFIDENCE)} % confidence, the fit's own uncertainty inside."
    )
    heads = ("Patches read [%]", "Deepest read", "Most likely", "Expected", "Not over", "Probability of a hole")
    columns = [Column("Zone", "id"), *(Column(head, "number") for head in heads), Column("How the depths fit", share=2)]
    yield Heading("pits", "The deepest pit that nobody measured")
    yield Table("pits", told, columns, [_pit(zone, pit) for zone, pit in found])


def _pit(zone: str, pit: Mapping[str, Any]) -> Row:
    holed = pit["probability_holed"]
    depths = (figure(pit[name], none="not told") for name in ("most_likely_mm", "expected_mm", "upper_mm"))
    likely = "not told" if holed is None else _likely(pit)
    return row(zone, figure(pit["inspected_percent"]), figure(pit["deepest_read_mm"]), *depths, likely, pit["fit"]["statement"])


def _likely(pit: Mapping[str, Any]) -> str:
    """Return the probability of a hole; where every patch was read it is certain either way."""
    return odds(pit["probability_holed"]) if pit["unread_patches"] else figure(pit["probability_holed"])


def _limits(result: Mapping[str, Any]) -> Iterator[Block]:
    columns = [
        Column("Limit", "id", 2),
        Column("Outcome", "mark", 1.4),
        Column("Bound", share=3.2),
        *(Column(head, "number") for head in ("Broken", "Checked", "Not checked", "Smallest margin")),
        Column("Reading", "id", 1.2),
        Column("Source", "id", 1.8),
    ]
    yield Heading("limits", "Limits")
    rows = [_limit(rule) for rule in result["rules"]]
    yield Table("limits", "What the readings were judged by.", columns, rows, "No limit: nothing was judged.")


def _limit(rule: Mapping[str, Any]) -> Row:
    return row(
        Cell(rule["id"], rule["rule_set"] or "sent with the survey"),
        plain(rule["verdict"]),
        Cell(limit_words(rule), rule["statement"]),
        *(figure(rule[f"{name}_count"]) for name in ("broken", "checked", "not_checked")),
        figure(rule["margin"], rule["unit"], "none"),
        rule["governing_reading"] or "none",
        rule["reference"],
        code=rule["verdict"],
        size=inf if rule["margin"] is None else rule["margin"],
    )


def readings_section(result: Mapping[str, Any]) -> Section:
    """Return every reading."""
    told = (
        "Every reading in the order sent. Thicknesses in mm, station in m from the stem; margin to the highest limit that "
        "applies."
    )
    columns = [
        Column("Reading", "id", 1.4),
        Column("Zone", "id", 1.3),
        Column("Side"),
        *(Column(head, "number") for head in ("Station", "Original", "Pit", "Left", "Loss [%]", "Margin")),
        Column("Plate", share=1.4),
        Column("Verdict", "mark", 1.6),
    ]
    return Section("readings", "Readings", [Table("readings", told, columns, [_reading(one) for one in result["readings"]])])


def _reading(one: Mapping[str, Any]) -> Row:
    margin = one["margin_mm"]
    return row(
        one["id"],
        one["zone"],
        one["side"] or "not told",
        figure(one["station_m"], none="not told"),
        figure(one["original_mm"]),
        figure(one["pit_depth_mm"], none="none"),
        tenths(one["residual_mm"]),
        figure(one["loss_percent"]),
        figure(margin, none="no limit"),
        plain(one["plate_state"]),
        plain(one["verdict"]),
        code=one["verdict"],
        size=inf if margin is None else margin,
    )
