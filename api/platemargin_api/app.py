"""The application: wires the parts together, nothing else."""

from __future__ import annotations

from typing import Any

from flask import Flask
from werkzeug.exceptions import HTTPException

from platemargin_api import tracing
from platemargin_api.callers import guard
from platemargin_api.direct import direct, is_enough
from platemargin_api.headers import hardened
from platemargin_api.pages import pages
from platemargin_api.registry import Registry, operators_registry
from platemargin_api.settings import Settings
from platemargin_api.views import blueprint, http_problem
from platemargin_api.watch import watch

__all__ = ["create_app"]


class _Application(Flask):
    def ensure_sync(self, func: Any) -> Any:
        """Return a function as it is: none here is a coroutine, and the framework would look at several in every request."""
        return func


def create_app(registry: Registry | None = None, settings: Settings | None = None) -> Flask:
    """Return the WSGI application, over every plug-in that is installed or over those of `registry`.

    Raises
    ------
    RegistryError
        For a plug-in that the service does not start with.
    SettingsError
        For a setting that it does not start with.
    FileError
        For a file of keys that it does not start with.
    """
    settings = settings or Settings.from_environment()
    app = _Application("platemargin_api", static_folder=None)
    app.url_map.strict_slashes = True
    app.url_map.merge_slashes = False
    registry = registry or operators_registry(settings)
    watch(app, registry)
    tracing.prepare()
    guard(app, settings)
    app.register_blueprint(blueprint(registry, settings))
    app.register_blueprint(pages(registry))
    app.register_error_handler(HTTPException, http_problem)
    app.wsgi_app = hardened(app.wsgi_app)  # type: ignore[method-assign,assignment]
    if is_enough(settings):
        app.wsgi_app = direct(app, registry, settings)  # type: ignore[method-assign,assignment]
    return app
