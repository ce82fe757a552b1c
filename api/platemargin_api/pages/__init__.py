"""Pages for people: where to begin, with a survey to try, and the interactive reference. All of them is served from here."""

from __future__ import annotations

import hashlib
import mimetypes
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from flask import Blueprint, Response, abort, request
from werkzeug.datastructures import Headers

from platemargin_api.demo import SURVEY
from platemargin_api.media import HTML, JSON
from platemargin_api.registry import Registry
from platemargin_api.rendered import rendered_response

__all__ = ["page", "pages"]

_ASSETS = Path(__file__).with_name("assets")
#: What a page may do: its own scripts and styles, calls of this service, and nothing else.
_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; connect-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
#: What pages are made of, by the ending of a file's name.
_ADDRESSED = (".js", ".css")
_KINDS = {".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8", ".html": "text/html; charset=utf-8"}


def pages(registry: Registry) -> Blueprint:
    """Return the paths of the reference, of the demo, and of what pages are made of."""
    views = Blueprint("pages", __name__)

    @views.get("/docs")
    def docs() -> Response:
        return page("docs.html")

    @views.get("/demo/survey")
    def survey() -> Response:
        return Response(SURVEY.read_bytes(), content_type=JSON, headers={"Cache-Control": "no-cache"})

    @cache
    def drawn(medium: str) -> tuple[bytes, Headers]:
        # Nobody is asked for a key here: it is calculated once, or anybody could keep the service at it.
        response = rendered_response(registry.calculations["hull-survey"], registry, SURVEY.read_bytes(), medium, {})
        return response.get_data(), response.headers

    @views.get("/demo/report")
    def report() -> Response:
        content, headers = drawn(HTML)
        return Response(content, headers=headers)

    @views.get("/demo/plate-map")
    def plate_map() -> Response:
        content, headers = drawn("image/svg+xml")
        return Response(content, headers=headers)

    @views.get("/assets/<name>")
    def asset(name: str) -> Response:
        if name not in _assets():
            abort(404)
        return _answer(_assets()[name], {"Cache-Control": "public, max-age=31536000, immutable"})

    return views


def page(name: str) -> Response:
    """Return a page."""
    return _answer(name, {"Cache-Control": "no-cache", "Content-Security-Policy": _POLICY, "Referrer-Policy": "no-referrer"})


def _answer(name: str, headers: dict[str, str]) -> Response:
    content, digest = _held(name)
    kind = _KINDS.get(Path(name).suffix) or mimetypes.guess_type(name)[0]
    response = Response(content, content_type=kind, headers={**headers, "X-Content-Type-Options": "nosniff"})
    response.set_etag(digest)
    response.make_conditional(request)
    return response


@cache
def _assets() -> Mapping[str, str]:
    """Return the names of files by those that they are fetched under: with the digest in it, a name's content never changes."""
    files = [file for file in _ASSETS.iterdir() if file.suffix in _ADDRESSED]
    return {f"{file.stem}.{_held(file.name)[1][:16]}{file.suffix}": file.name for file in files}


@cache
def _held(name: str) -> tuple[bytes, str]:
    """Return a file, read once, and its digest; a page names what it is made of as it is fetched."""
    content = (_ASSETS / name).read_bytes()
    if name.endswith(".html"):
        for fetched, file in _assets().items():
            content = content.replace(f'"/assets/{file}"'.encode(), f'"/assets/{fetched}"'.encode())
    return content, hashlib.sha256(content).hexdigest()
