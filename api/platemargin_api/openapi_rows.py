"""What the OpenAPI document says of many rows: it has no schema for a sequence of documents, so it says it in words."""

from __future__ import annotations

from typing import Any

from platemargin_api.answer import LABEL
from platemargin_api.body import dump
from platemargin_api.csv_writer import result_columns, table_row
from platemargin_api.media import ARROW, CSV, NDJSON, read
from platemargin_api.registry import Served

__all__ = ["rows_answered", "rows_sent"]

_SENT = {
    NDJSON: "A request as in application/json on each line (LF or CR LF), in UTF-8; blank lines are passed over.",
    CSV: "RFC 4180 in UTF-8: a header of the request's members, then a request a row; an empty cell is an absent member, a "
    "number is written as in JSON.",
    ARROW: "A stream of record batches: columns are the request's members, rows are requests; float64, or float32 "
    "(rounded to what its member is written with), whole numbers, text (dictionaries too), booleans, date32; null is an absent "
    "member. Buffers are not compressed, and a batch has at most 64 MiB.",
}
_ANSWERED = {
    NDJSON: "An answer a line, in order: {line, id?, result, findings}, or {line, id?, problem} where the line is refused; "
    "line counts from 1. The last line is {summary: {lines, answered, refused, stopped_by, rule_sets, assumed, digest, "
    "calculation, service_version}}; its digest is over all bytes before it, and an answer without it was cut. stopped_by is "
    "null, or the problem for which the body was not read to its end. With Prefer: return=representation, line and the "
    "members of an answer in application/json.",
    CSV: "A row for each row sent: line, id if it is sent, {columns}, finding_codes (spaces between them) and error (empty "
    "where the row is answered). Text that a spreadsheet would take for a formula begins with an apostrophe. Content-Length "
    "and Content-Digest tell whether it is whole.",
    ARROW: "A stream of record batches, a row for each row sent: id if it is sent, {columns} (not rounded; of single precision "
    "where all numbers sent are; names in dictionaries), finding_codes (a list) and error (null where the row is answered). "
    "The schema's metadata have under platemargin, as JSON, calculation, service_version and, unless the answer is streamed, "
    "what the last line of JSON lines tells, with the digest of the request.",
}


def rows_sent(served: Served) -> dict[str, Any]:
    """Return the request's other media."""
    told = {medium: _text(_SENT[medium]) for medium in read(served.offered) if medium in _SENT}
    return {medium: {**text, **_example(served, medium)} for medium, text in told.items()}


def rows_answered(served: Served) -> dict[str, Any]:
    """Return the answer's other media."""
    columns = ", ".join(result_columns(served)) if CSV in read(served.offered) else ""
    words = {medium: text.replace("{columns}", columns) for medium, text in _ANSWERED.items()}
    return {medium: _text(words[medium]) for medium in read(served.offered) if medium in words}


def _example(served: Served, medium: str) -> dict[str, str]:
    """Return the calculation's example as two rows, told apart by their labels; a stream of Arrow is no text."""
    rows = [{**served.offered.example, LABEL: label} for label in ("first", "second")]
    if medium == NDJSON:
        return {"example": "".join(f"{dump(row).decode()}\n" for row in rows)}
    if medium == CSV:
        return {"example": b"".join(map(table_row, (rows[0], *(row.values() for row in rows)))).decode()}
    return {}


def _text(description: str) -> dict[str, Any]:
    return {"schema": {"type": "string", "description": description}}
