"""The headers that tell a caller's machinery what the body tells its people."""

from __future__ import annotations

from datetime import UTC, date, datetime
from email.utils import format_datetime

from flask import Request
from werkzeug.http import parse_options_header

from platemargin_api.calculation import Calculation
from platemargin_api.problems import ProblemError

__all__ = ["accepted", "calculation_headers", "content_type_is_json", "prefers_minimal"]

JSON = "application/json"


def content_type_is_json(request: Request) -> None:
    """Refuse a body in another media type, charset or coding.

    Raises
    ------
    ProblemError
        unsupported-media-type.
    """
    media_type, parameters = parse_options_header(request.headers.get("Content-Type", ""))
    if media_type.lower() != JSON:
        said = f"{media_type} is not" if media_type else "no Content-Type is sent, and none is"
        raise ProblemError("unsupported-media-type", f"{said} read here; send Content-Type: {JSON}")
    if parameters.get("charset", "utf-8").lower() not in ("utf-8", "utf8"):
        raise ProblemError("unsupported-media-type", f"JSON is UTF-8; charset {parameters['charset']} is not read here")
    coding = request.headers.get("Content-Encoding", "identity")
    if coding.lower() != "identity":
        raise ProblemError("unsupported-media-type", f"Content-Encoding {coding} is not read here; send it uncompressed")


def accepted(request: Request, offered: tuple[str, ...] = (JSON,)) -> str:
    """Return the media type to answer in.

    Raises
    ------
    ProblemError
        not-acceptable, naming what is offered.
    """
    if not request.headers.get("Accept", "").strip():
        return offered[0]
    best = request.accept_mimetypes.best_match(offered)
    if best is None:
        raise ProblemError("not-acceptable", f"The answer is offered as {', '.join(offered)}.")
    return best


def prefers_minimal(request: Request) -> bool:
    """Tell whether the caller prefers return=minimal (RFC 7240); of two preferences the first counts."""
    preferences = (part.split(";")[0].strip() for part in ",".join(request.headers.getlist("Prefer")).split(","))
    returns = [part.partition("=")[2].strip().strip('"') for part in preferences if part.lower().startswith("return")]
    return returns[:1] == ["minimal"]


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


def _midnight(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, tzinfo=UTC)
