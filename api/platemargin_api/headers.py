"""The headers that tell a caller's machinery what the body tells its people."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date, datetime
from email.utils import format_datetime
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from flask import Request
from werkzeug.datastructures import MIMEAccept
from werkzeug.http import parse_list_header, parse_options_header

from platemargin.names import nearest_name
from platemargin_api.calculation import Calculation
from platemargin_api.media import ARROW, CSV, HTML, JSON, NDJSON, arrow_is_read
from platemargin_api.problems import ProblemError

if TYPE_CHECKING:
    from wsgiref.types import StartResponse, WSGIApplication, WSGIEnvironment

__all__ = [
    "ANSWERED",
    "SAFE",
    "Head",
    "accepted",
    "calculation_headers",
    "content_type",
    "hardened",
    "preferences",
    "preferred",
]


#: Who names one of these has not misspelt another.
_SPELT_RIGHT = (ARROW, CSV, HTML, JSON, NDJSON)
#: What was calculated is kept by nobody.
ANSWERED = {"Cache-Control": "no-store", "Vary": "Accept, Prefer"}
#: What every answer says that does not say otherwise itself.
SAFE = {
    "X-Content-Type-Options": "nosniff",
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
}
_SAFE = {name.lower(): (name, value) for name, value in SAFE.items()}


def content_type(request: Request, read: Sequence[str]) -> str:
    """Return which of the media types that are read the body is in.

    Raises
    ------
    ProblemError
        unsupported-media-type: another media type, charset or coding.
    """
    media_type, parameters = _options(request.headers.get("Content-Type", ""))
    if media_type.lower() not in read:
        said = f"{media_type} is not read here" if media_type else "The request has no Content-Type"
        if media_type == ARROW and not arrow_is_read():
            said = f"{said} without the extra platemargin[arrow]"
        detail = f"{said}; send Content-Type: {' or '.join(read)}{_near(media_type, read)}."
        raise ProblemError("unsupported-media-type", detail)
    if parameters.get("charset", "utf-8").lower() not in ("utf-8", "utf8"):
        detail = f"UTF-8 is read here, charset {parameters['charset']} is not: send the text in UTF-8."
        raise ProblemError("unsupported-media-type", detail)
    coding = request.headers.get("Content-Encoding", "identity")
    if coding.lower() != "identity":
        raise ProblemError("unsupported-media-type", f"Content-Encoding {coding} is not read here; send it uncompressed.")
    return media_type.lower()


def accepted(request: Request, offered: Sequence[str] = (JSON,)) -> str:
    """Return the media type to answer in.

    Raises
    ------
    ProblemError
        not-acceptable, naming what is offered.
    """
    if not request.headers.get("Accept", "").strip():
        return offered[0]
    # Parameters do not matter: none of what is offered has one, and many clients ask for JSON with a charset.
    ranges = MIMEAccept((value.partition(";")[0].strip(), quality) for value, quality in request.accept_mimetypes)
    best = ranges.best_match(offered)
    if best is None:
        asked = request.headers["Accept"].partition(",")[0]
        detail = f"The answer is offered as {', '.join(offered)}{_near(asked, offered)}."
        raise ProblemError("not-acceptable", detail)
    return best


def _near(asked: str, known: Sequence[str]) -> str:
    """Return the end of a sentence that names the media type that may have been meant: by what it is called within its kind."""
    medium = asked.partition(";")[0].strip()
    by_name = {one.rpartition("/")[2]: one for one in known}
    near = None if medium in _SPELT_RIGHT else nearest_name(medium.rpartition("/")[2], by_name)
    return f"; the nearest is {by_name[near]}" if near else ""


def preferences(request: Request) -> dict[str, str]:
    """Return what the caller prefers (RFC 7240), by name in small letters; of two of one name the first counts."""
    # Of several the server makes one, with commas between (RFC 3875, 4.1.18).
    return dict(preferred(request.headers.get("Prefer", "")))


# The same few texts come with every call: each is read once.
_options = lru_cache(maxsize=64)(parse_options_header)


@lru_cache(maxsize=64)
def preferred(text: str) -> Mapping[str, str]:
    """Return what the header Prefer says, as `preferences` does."""
    told = [preference.partition(";")[0].partition("=") for preference in parse_list_header(text)]
    return {name.strip().lower(): value.strip().strip('"') for name, _, value in reversed(told)}


def calculation_headers(calculation: Calculation) -> dict[str, str]:
    """Return the calculation's version and, where it is deprecated, since when (RFC 9745) and until when (RFC 8594)."""
    headers = {"Calculation-Version": calculation.version}
    deprecation = calculation.deprecation
    if deprecation is not None:
        headers["Deprecation"] = f"@{int(_midnight(deprecation.deprecated_on).timestamp())}"
        headers["Sunset"] = format_datetime(_midnight(deprecation.sunset_on), usegmt=True)
        if deprecation.successor is not None:
            headers["Link"] = f'</v1/calculations/{deprecation.successor}>; rel="successor-version"'
    return headers


class Head(list[tuple[str, str]]):
    """Header fields of which it is known that HTTP has them so: every server takes them as a list, ours sends them as they are.

    Parameters
    ----------
    known : Head or sequence of pairs
        What many answers say.
    more : sequence of pairs
        What this one says.
    length : int
        That of the body.
    """

    def __init__(self, known: Any, more: Any = (), length: int | None = None) -> None:
        super().__init__((*known, *more))
        self.text: str = (known.text if isinstance(known, Head) else _lines(known)) + _lines(more)
        self.length = length


def _lines(pairs: Iterable[tuple[str, str]]) -> str:
    return "".join([f"{name}: {value}\r\n" for name, value in pairs])


def hardened(application: WSGIApplication) -> WSGIApplication:
    """Keep browsers from guessing a type, from framing an answer, and from running or fetching anything that one may hold.

    It is said of every answer that does not say otherwise itself, where answers are but lists of headers.
    """

    def answered(environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        def started(status: str, headers: list[tuple[str, str]], *error: Any) -> Any:
            said = {name.lower() for name, _ in headers}
            return start_response(status, [*headers, *(pair for name, pair in _SAFE.items() if name not in said)], *error)

        return application(environ, started)

    return answered


def _midnight(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, tzinfo=UTC)
