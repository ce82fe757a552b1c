"""The media types: which are read, and which an answer may be in."""

from __future__ import annotations

from functools import cache
from importlib.util import find_spec

from platemargin_api.calculation import Calculation

__all__ = ["ARROW", "CSV", "HTML", "JSON", "NDJSON", "PDF", "answered_in", "arrow_is_read", "pdf_is_set", "read"]

JSON = "application/json"
#: A page, for people.
HTML = "text/html"
#: The same on paper; with the extra that brings the libraries for it.
PDF = "application/pdf"
#: A request a line, and an answer a line.
NDJSON = "application/x-ndjson"
#: A row is a request: for elementwise calculations, whose requests and results are flat.
CSV = "text/csv"


#: A row is a request, in columns; with the extra that brings the library for it.
ARROW = "application/vnd.apache.arrow.stream"


@cache
def arrow_is_read() -> bool:
    """Tell whether the library for Arrow is installed; it is not loaded for that."""
    return find_spec("pyarrow") is not None


@cache
def pdf_is_set() -> bool:
    """Tell whether the libraries that set PDF are installed; they are not loaded for that."""
    return find_spec("typst") is not None and find_spec("fontTools") is not None


def read(calculation: Calculation) -> tuple[str, ...]:
    """Return the media types that a request may be in."""
    return (JSON, *_of_rows(calculation))


def answered_in(calculation: Calculation, sent: str) -> tuple[str, ...]:
    """Return the media types that the answer may be in, the one of the request first."""
    if sent == JSON:
        return (JSON, *calculation.renderings)
    if sent == ARROW:
        return (ARROW,)
    return (sent, *(medium for medium in _of_rows(calculation) if medium not in (sent, ARROW)))


def _of_rows(calculation: Calculation) -> tuple[str, ...]:
    if not calculation.elementwise:
        return (NDJSON,)
    return (NDJSON, CSV, ARROW) if arrow_is_read() else (NDJSON, CSV)
