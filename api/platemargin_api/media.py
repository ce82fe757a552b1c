"""The media types: which are read, and which an answer may be in."""

from __future__ import annotations

from platemargin_api.calculation import Calculation

__all__ = ["CSV", "JSON", "NDJSON", "answered_in", "read"]

JSON = "application/json"
#: A request a line, and an answer a line.
NDJSON = "application/x-ndjson"
#: A row is a request: for elementwise calculations, whose requests and results are flat.
CSV = "text/csv"


def read(calculation: Calculation) -> tuple[str, ...]:
    """Return the media types that a request may be in."""
    return (JSON, *_of_rows(calculation))


def answered_in(calculation: Calculation, sent: str) -> tuple[str, ...]:
    """Return the media types that the answer may be in, the one of the request first."""
    if sent == JSON:
        return (JSON, *calculation.renderings)
    return (sent, *(medium for medium in _of_rows(calculation) if medium != sent))


def _of_rows(calculation: Calculation) -> tuple[str, ...]:
    return (NDJSON, CSV) if calculation.elementwise else (NDJSON,)
