"""The survey report of hull-survey as PDF: the words of the page, set on A4. Needs the extra ``platemargin[pdf]``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import orjson

from platemargin_api.renderings.report_content import report_of
from platemargin_api.renderings.report_parts import Block, Item, Items, Report, Row, Table
from platemargin_api.renderings.typesetting import Letters, set_as_pdf
from platemargin_api.renderings.words import visible_throughout

__all__ = ["set_report"]

#: Beyond these nobody turns the pages, and setting them would take long: the worst are kept.
_MOST_ROWS = 500
_MOST_ITEMS = 300
_MOST_BESIDE_VERDICT = 12
_WORST_FIRST = ("act", "watch", "not_judged", "no_limit_broken", "note", "")
_ELSEWHERE = "the report as a page (text/html) has all"


def set_report(request: Mapping[str, Any], answer: Mapping[str, Any]) -> bytes:
    """Return the report of a survey; its every text is data to the template, never part of it."""
    letters = Letters()
    shown = [letters.settable(visible_throughout(one)) for one in (request, answer)]
    report = replace(_bounded(report_of(*shown)), notes=list(letters.note()))
    return set_as_pdf("report.typ", orjson.dumps(report))


def _bounded(report: Report) -> Report:
    missing, more = report.missing[:_MOST_BESIDE_VERDICT], len(report.missing) - _MOST_BESIDE_VERDICT
    told = [*missing, f"and {more} more, below in what this survey cannot say"] if more > 0 else missing
    sections = [replace(section, blocks=[_bounded_block(block) for block in section.blocks]) for section in report.sections]
    return replace(report, missing=told, sections=sections)


def _bounded_block(block: Block) -> Block:
    if isinstance(block, Table) and len(block.rows) > _MOST_ROWS:
        told = f"{block.caption} Of {len(block.rows)} rows the {_MOST_ROWS} worst are set here; {_ELSEWHERE}."
        return replace(block, caption=told, rows=_worst(block.rows))
    if isinstance(block, Items) and len(block.items) > _MOST_ITEMS:
        more = Item(f"{len(block.items) - _MOST_ITEMS} more; {_ELSEWHERE}.")
        return replace(block, items=[*block.items[:_MOST_ITEMS], more])
    return block


def _worst(rows: Sequence[Row]) -> list[Row]:
    """Return the rows that tell the worst, in the order in which they were."""
    worst_first = sorted(range(len(rows)), key=lambda n: (_WORST_FIRST.index(rows[n].code), rows[n].size))
    return [rows[n] for n in sorted(worst_first[:_MOST_ROWS])]
