"""Renderings over HTTP: which media a calculation's answer is offered in, and the answer in one of them."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from typing import Any

from flask import Response

from platemargin_api.answer import answered
from platemargin_api.calculation import Calculation
from platemargin_api.problems import ProblemError
from platemargin_api.registry import Registry, Served

__all__ = ["described", "rendered_response"]

#: A rendering holds words of the request: a browser that opens it runs nothing of them, and fetches nothing.
_HEADERS = {
    "Cache-Control": "no-store",
    "Vary": "Accept, Prefer",
    "X-Content-Type-Options": "nosniff",
    "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; sandbox",
}

_log = logging.getLogger(__name__)


def rendered_response(served: Served, registry: Registry, body: bytes, medium: str, headers: Mapping[str, str]) -> Response:
    """Answer a request in one of its calculation's renderings; a preference for less does not apply to it.

    Raises
    ------
    ProblemError
        As `answer` does, and calculation-failed where the rendering fails.
    """
    request, told = answered(served, registry, body)
    try:
        content = served.offered.renderings[medium](request, told)
    except (Exception, SystemExit) as error:
        _log.exception("%s failed in rendering %s", served.named, medium)
        detail = f"{served.named} failed in rendering {medium}; its answer in JSON may not."
        raise ProblemError("calculation-failed", detail) from error
    charset = "; charset=utf-8" if medium.startswith("text/") else ""
    return Response(content, content_type=f"{medium}{charset}", headers={**headers, **_HEADERS})


def described(calculation: Calculation) -> dict[str, Any]:
    """Return what the OpenAPI document says of a calculation's renderings, by media type."""
    words = "The same answer to be looked at: no script, nothing fetched; the figures are those of the answer in JSON."
    return {medium: {"schema": {"type": "string", "description": words}} for medium in calculation.renderings}
