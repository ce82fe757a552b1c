"""The survey report of hull-survey in words: what stands in it and in which order, on a page or on paper."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import groupby
from typing import Any

from platemargin_api.renderings.assessed import cannot_say, not_examined
from platemargin_api.renderings.plate_map import description, hull_drawing
from platemargin_api.renderings.report_parts import (
    Block,
    Cell,
    Column,
    Facts,
    Heading,
    Item,
    Items,
    Map,
    Paragraph,
    Report,
    Row,
    Section,
    Table,
    items,
    row,
)
from platemargin_api.renderings.report_previous import previous_sections
from platemargin_api.renderings.report_protection import protection_sections
from platemargin_api.renderings.report_words import no_unit, value_words
from platemargin_api.renderings.report_zones import readings_section, zones_section
from platemargin_api.renderings.words import figure, plain

__all__ = ["report_of"]

_VERDICTS = {"act": "Act", "watch": "Watch", "not_judged": "Not judged", "no_limit_broken": "No limit broken"}
_URGENCIES = {
    "before_afloat": "Before the boat is afloat again",
    "before_cover": "Before the plate is covered",
    "next_docking": "At the next docking",
    "monitor": "From now on",
}
_SEVERITIES = {"act": "Calls for action", "watch": "To be watched", "note": "To be known"}
_BASES = {"published": "published", "from_memory": "from memory", "common_practice": "common practice"}

_FOOT = "This is advice: a surveyor signs, an insurer decides. The same request to the same release gives this report again."


def report_of(request: Mapping[str, Any], answer: Mapping[str, Any]) -> Report:
    """Return the report of a survey whose every text is visible."""
    result, hull = answer["result"], request["hull"]
    return Report(
        title=f"Survey report: {hull.get('name') or 'a boat without a name'}, {request['surveyed_on']}",
        kind="Survey report: calculations on plate readings",
        name=hull.get("name") or "A boat without a name",
        facts=list(_facts(request, answer)),
        verdict=result["verdict"],
        verdict_words=_VERDICTS[result["verdict"]],
        decision=answer["summary"][0],
        missing=not_examined(result),
        sections=list(_sections(request, answer)),
        foot=_FOOT,
    )


def _facts(request: Mapping[str, Any], answer: Mapping[str, Any]) -> Iterator[str]:
    hull = request["hull"]
    as_of = f", as of {request['as_of']}" if request.get("as_of") else ""
    built = f"; built {request['built_on']}" if request.get("built_on") else ""
    yield f"Surveyed {request['surveyed_on']}{as_of}{built}."
    length, beam, draught = (figure(hull[name], "m") for name in ("length_m", "beam_m", "draught_m"))
    made = f"{plain(hull['material']).capitalize()}, {hull['construction']}"
    yield f"{made}; {length} long, {beam} wide, {draught} draught; {hull['water']} water."
    yield f"Readings: {len(answer['result']['readings'])}."
    if "id" in answer:
        yield f"Label: {answer['id']}."


def _sections(request: Mapping[str, Any], answer: Mapping[str, Any]) -> Iterator[Section]:
    result = answer["result"]
    yield Section("summary", "Summary", [Paragraph(words) for words in _summary(answer)])
    yield zones_section(request, result)
    yield Section("map", "Plate map", [_map(request, answer)])
    yield Section("advice", "What to do, and why", list(_advice(result["advice"])))
    yield Section("findings", "Findings", [_findings(answer["findings"])])
    yield from previous_sections(result)
    yield from protection_sections(result)
    yield Section("working", "Working", [_working(answer["working"])])
    yield Section("assumed", "What was assumed", list(_assumed(answer)))
    yield Section("cautions", "Cautions", [items(answer["cautions"])])
    yield Section("open", "What this survey cannot say", [items(cannot_say(request, result))])
    yield readings_section(result)
    yield Section("sources", "Sources", [_sources(answer["references"])])
    yield Section("provenance", "Where this comes from", [Facts(list(_provenance(answer)))])


def _summary(answer: Mapping[str, Any]) -> Iterator[str]:
    yield from answer["summary"][1:]
    due = answer["result"]["next_survey_within_years"]
    if due is not None:
        yield f"The next survey is due within {figure(due, 'years')}." if due else "The next survey is due now."


def _map(request: Mapping[str, Any], answer: Mapping[str, Any]) -> Map:
    told = "Every reading at its station and side; the table of readings below has the same in figures."
    return Map(told, hull_drawing(request, answer).decode(), description(request, answer))


def _advice(advice: list[Mapping[str, Any]]) -> Iterator[Block]:
    for urgency, those in groupby(advice, key=lambda one: one["urgency"]):
        yield Heading(f"advice-{urgency}", _URGENCIES[urgency])
        yield Items([Item(one["statement"], one["reasons"]) for one in those])
    if not advice:
        yield Paragraph("Nothing that was found calls for advice.")


def _findings(findings: list[Mapping[str, Any]]) -> Table:
    told = "Everything that the calculation has to say of this survey, what calls for action first."
    columns = [Column("Severity", "mark name"), Column("Finding, its code and its place in the request", share=5)]
    rows = [_finding(one) for severity in _SEVERITIES for one in findings if one["severity"] == severity]
    return Table("findings", told, columns, rows)


def _finding(finding: Mapping[str, Any]) -> Row:
    where = f" at {finding['pointer']}" if "pointer" in finding else ""
    told = Cell(finding["statement"], f"{finding['code']}{where}")
    return row(_SEVERITIES[finding["severity"]], told, code=finding["severity"])


def _working(working: list[Mapping[str, Any]]) -> Table:
    told = "The figures that decide, each with its formula, the formula with its numbers, and its source."
    columns = [
        Column("Symbol", "name", 1.4),
        Column("Formula, and with its numbers", "code", 3.2),
        Column("Value", "number"),
        Column("Source", "id", 1.2),
    ]
    rows: list[Row] = []
    for subject, steps in groupby(working, key=lambda step: step.get("of")):
        rows += [row(f"Of {subject}")] if subject is not None else []
        rows += [_step(step) for step in steps]
    return Table("working", told, columns, rows, "Nothing could be worked out of this survey.")


def _step(step: Mapping[str, Any]) -> Row:
    value = figure(step["value"], no_unit(step["unit"]))
    return row(step["symbol"], Cell(step["formula"], f"= {step['substituted']}"), value, step["reference"])


def _assumed(answer: Mapping[str, Any]) -> Iterator[Block]:
    told = "What the survey did not say, and what was taken in its place."
    columns = [Column("Of what", "name"), Column("Taken as"), Column("Because", share=2)]
    rows = [
        row(one["field"], f"{value_words(one['value'])} {no_unit(one['unit'])}".strip(), one["basis"])
        for one in answer["assumed"]
    ]
    yield Table("assumed", told, columns, rows, "Nothing.")
    if answer["result"]["what_if"]:
        yield Heading("what-if", "Had the plate started otherwise")
        yield _what_if(answer["result"]["what_if"])


def _what_if(what_if: list[Mapping[str, Any]]) -> Table:
    heads = (Column(head, "number") for head in ("Original", "Loss", "Would be left"))
    columns = [Column("Zone", "id"), Column("Reading", "id"), *heads, Column("Plate")]
    rows = [
        row(
            one["zone"],
            one["reading"],
            *(figure(one[name]) for name in ("original_mm", "loss_mm", "residual_mm")),
            plain(one["plate_state"] or "not known"),
        )
        for one in what_if
    ]
    return Table("what-if", "The same loss taken from other original thicknesses [mm].", columns, rows)


def _sources(references: list[Mapping[str, Any]]) -> Table:
    told = (
        "What the working and the limits cite. From memory: not looked up again. Common practice: no publication stands behind "
        "it."
    )
    columns = [
        Column("Id", "name", 1.2),
        Column("Title", share=2.2),
        Column("Year", "number"),
        Column("Where", share=2.4),
        Column("How it is known"),
    ]
    rows = [row(one["id"], one["title"], str(one["year"] or ""), one["clause"], _BASES[one["basis"]]) for one in references]
    return Table("sources", told, columns, rows)


def _provenance(answer: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    calculation, told = answer["calculation"], answer["provenance"]
    distribution = told["distribution"]
    yield "Calculation", f"{calculation['id']} {calculation['version']}"
    yield "Service", f"platemargin {told['service_version']}; {distribution['name']} {distribution['version']}"
    for one in told["rule_sets"]:
        yield "Rule set", f"{one['id']} {one['version']}, {one['digest']}"
    yield "Digest of the request", told["request_digest"]
    yield "Digest of its arguments", told["arguments_digest"]
