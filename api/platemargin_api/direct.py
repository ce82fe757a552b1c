"""The short way of the commonest call: JSON in and JSON out, of one calculation, answered without the framework.

What the framework would make of such a call is known before it comes: its route, its headers, what is kept of it. All else
goes to the framework, as does every failure, so that it alone says what is refused and how.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING, Any

from flask import Flask

from platemargin_api.answer import encoded
from platemargin_api.deadline import Calculating
from platemargin_api.headers import ANSWERED, SAFE, Head, calculation_headers, preferred
from platemargin_api.media import JSON
from platemargin_api.registry import Registry, Served, refusal
from platemargin_api.settings import Settings
from platemargin_api.upload import Upload
from platemargin_api.watch import REQUEST_ID, WATCHED, Watched, begun, keep, told_of

if TYPE_CHECKING:
    from wsgiref.types import StartResponse, WSGIApplication, WSGIEnvironment

__all__ = ["FAILED", "ROUTE", "direct", "is_enough"]

#: The address that is answered here.
ROUTE = "/v1/calculations/<calculation_id>"
#: Where the framework finds what a call failed with here.
FAILED = "platemargin.failed"
#: How clients write that they send JSON, and that they take it; who writes it otherwise is asked by the framework.
_SENT = frozenset({JSON, f"{JSON}; charset=utf-8", f"{JSON};charset=utf-8", f"{JSON};charset=UTF-8"})
_TAKEN = frozenset({"", "*/*", JSON, f"{JSON}, */*", f"{JSON}, text/plain, */*"})
#: What has to be looked at by others.
_ASKS_MORE = ("HTTP_CONTENT_ENCODING", "HTTP_TRANSFER_ENCODING")
_APPLIED = {"Preference-Applied": "return=minimal"}


def is_enough(settings: Settings) -> bool:
    """Tell whether nobody but the calculation has a say in a call: no key, and no page of another origin."""
    return settings.key_file is None and not settings.cors_origins


def direct(app: Flask, registry: Registry, settings: Settings) -> WSGIApplication:
    """Return an application that answers what it can itself, and leaves the rest to the one that was given."""
    calls = {ROUTE.replace("<calculation_id>", name): served for name, served in registry.calculations.items()}
    heads = {path: (_head(served, {}), _head(served, _APPLIED)) for path, served in calls.items()}
    framework = app.wsgi_app

    def answered(environ: WSGIEnvironment, start_response: StartResponse) -> Any:
        path = environ["PATH_INFO"]
        if path not in calls or not _is_plain(environ):
            return framework(environ, start_response)
        served = calls[path]
        record = environ[WATCHED] = begun(environ)
        try:
            minimal = preferred(environ.get("HTTP_PREFER", "")).get("return") == "minimal"
            body = Upload(environ, int(environ["CONTENT_LENGTH"])).whole(settings.max_body_bytes)
            with Calculating(served, partial(_within_framework, app, environ)):
                told = encoded(served, registry, body, minimal=minimal)
        except Exception as error:  # noqa: BLE001  the framework tells what came of it
            environ[FAILED] = error
            return framework(environ, start_response)
        record.told = told_of(record, method="POST", route=ROUTE, served=served, status=200)
        own = (("Content-Length", str(len(told))), (REQUEST_ID, record.request_id))
        start_response("200 OK", Head(heads[path][minimal], own, len(told)))
        return _Answer(told, record)

    return answered


def _is_plain(environ: Mapping[str, Any]) -> bool:
    return (
        environ["REQUEST_METHOD"] == "POST"
        and environ.get("CONTENT_TYPE") in _SENT
        and environ.get("HTTP_ACCEPT", "") in _TAKEN
        and environ.get("CONTENT_LENGTH", "").isdecimal()
        and not any(name in environ for name in _ASKS_MORE)
    )


def _head(served: Served, applied: Mapping[str, str]) -> Head:
    """Return what the head of every answer says.

    Raises
    ------
    RegistryError
        For a calculation that would have it say what HTTP has not.
    """
    said = {"Content-Type": JSON, **calculation_headers(served.offered), **applied, **ANSWERED, **SAFE}
    for name, value in said.items():
        if not (value.isascii() and value.isprintable()):
            raise refusal(served, f"what it says in the header {name} cannot be sent: {value!r}")
    return Head(said.items())


def _within_framework(app: Flask, environ: WSGIEnvironment, made: Callable[[], None]) -> None:
    """Make something as the framework would have made it of this request: the answer to a caller whose call is late."""
    with app.request_context(environ):
        app.preprocess_request()
        made()


class _Answer(list[bytes]):
    """The one part of an answer; what is kept of the request is kept when it has been sent."""

    def __init__(self, told: bytes, record: Watched) -> None:
        super().__init__((told,))
        self._record = record

    def close(self) -> None:
        """Be told that it has been sent, by the server (PEP 3333)."""
        keep(self._record)
