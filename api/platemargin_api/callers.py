"""Who a request comes from, what they may do and how often: the door before every path of the service.

Without a file of keys everybody may call as often as they like, and `server` binds nothing but this machine's own addresses.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping

from flask import Flask, Response, g, request
from werkzeug.datastructures import Headers

from platemargin_api.keys import PREFIX, Key, Keys
from platemargin_api.problems import ProblemError
from platemargin_api.settings import Settings
from platemargin_api.toml_files import FileError
from platemargin_api.views import problem_response
from platemargin_api.watch import watched

__all__ = ["caller", "guard", "known_keys"]

#: What needs a key where keys are asked for; documents, pages and the health of the service do not.
_GUARDED = ("/v1/", "/metrics")
#: Clocks are put right by less than this from one call to the next; more is a clock that was set.
_JUMP_SECONDS = 2.0
_SCHEME = "bearer "
_CHALLENGE = 'Bearer realm="platemargin"'
#: What a page of another origin may read of an answer, beside its body.
_TOLD_TO_PAGES = (
    "Calculation-Version",
    "Preference-Applied",
    "RateLimit-Limit",
    "RateLimit-Remaining",
    "RateLimit-Reset",
    "Retry-After",
    "WWW-Authenticate",
    "X-Request-Id",
)
#: A store of counts that says nothing for so long [s] is down: a call waits no longer for it.
_STORE_SECONDS = 0.25


def caller() -> Key | None:
    """Return the key that the request came with; None where none is asked for."""
    found: Key | None = g.get("key")
    return found


def guard(app: Flask, settings: Settings) -> None:
    """Ask for keys where the operator has a file of them, and hold each to its rate; let pages of listed origins call.

    Raises
    ------
    FileError
        For a file of keys that is wrong.
    """
    if settings.cors_origins:
        _allow_origins(app, settings.cors_origins)
    keys = known_keys(settings)
    if keys is None:
        return

    @app.before_request
    def known() -> Response | None:
        if not request.path.startswith(_GUARDED) or request.method == "OPTIONS":
            return None
        try:
            g.key = _presented(keys, request.headers)
            watched().key = g.key.name
            _allowed(g.key, request.view_args or {})
        except ProblemError as problem:
            return problem_response(problem, _challenge(problem))
        return None

    _limit_rates(app, settings)


def known_keys(settings: Settings) -> Keys | None:
    """Return the operator's keys; None where everybody may call.

    Raises
    ------
    FileError
        For a file that is wrong.
    """
    if settings.key_file is None:
        return None
    try:
        return Keys(settings.key_file)
    except FileError as error:
        raise FileError(f"PLATEMARGIN_KEYS: {error}") from error


def _presented(keys: Keys, headers: Headers) -> Key:
    if not _is_bearer(headers):
        raise ProblemError("unauthorised", "This service asks for a key: send Authorization: Bearer and the key.")
    presented = headers["Authorization"][len(_SCHEME) :].strip()
    key = keys.find(presented)
    if key is None:
        form = "" if presented.startswith(PREFIX) else f": keys begin with {PREFIX}, and are sent without quotation marks"
        raise ProblemError("unauthorised", f"The key that was sent is none of this service's{form}.")
    if key.has_expired():
        raise ProblemError("unauthorised", f"The key {key.name} has expired on {key.expires}; ask the operator for another.")
    return key


def _allowed(key: Key, arguments: Mapping[str, str]) -> None:
    calculation = arguments.get("calculation_id")
    if request.path == "/metrics" and not key.metrics:
        raise ProblemError("forbidden", f"The key {key.name} does not read the metrics.")
    if request.method == "POST" and calculation is not None and not key.may_call(calculation):
        listed = ", ".join(sorted(key.calculations or ()))
        raise ProblemError("forbidden", f"The key {key.name} may call {listed}, and not {calculation}.")


def _challenge(problem: ProblemError) -> dict[str, str]:
    """Return what a refusal says of keys (RFC 6750, 3.1); to one who sent none it gives no code."""
    if problem.kind.name == "forbidden":
        return {"WWW-Authenticate": f'{_CHALLENGE}, error="insufficient_scope"'}
    return {"WWW-Authenticate": f'{_CHALLENGE}, error="invalid_token"' if _is_bearer(request.headers) else _CHALLENGE}


def _is_bearer(headers: Headers) -> bool:
    return headers.get("Authorization", "").lower().startswith(_SCHEME)


def _limit_rates(app: Flask, settings: Settings) -> None:
    """Hold each key to its rate; where the store of the counts is down, each worker counts for itself."""
    # Loaded here: a service without keys limits nothing, and starts without it.
    from flask_limiter import ApplicationLimit, HeaderNames, Limiter  # noqa: PLC0415

    def of_key() -> str:
        key = caller()
        return f"{(key and key.requests_per_minute) or settings.requests_per_minute} per minute"

    @app.after_request
    def when_again(response: Response) -> Response:
        if response.status_code == 429:  # noqa: PLR2004  rate-limited
            # Whole seconds are cut off: one more, or a caller would come a moment too early.
            response.headers["Retry-After"] = str(response.headers.get("RateLimit-Reset", 0, type=int) + 1)
        return response

    waits = {"socket_connect_timeout": _STORE_SECONDS, "socket_timeout": _STORE_SECONDS}
    limiter = Limiter(
        lambda: g.key.name,
        app=app,
        application_limits=[ApplicationLimit(of_key, exempt_when=lambda: caller() is None)],
        storage_uri=settings.rate_store,
        storage_options={} if settings.rate_store == Settings.rate_store else waits,  # type: ignore[arg-type]
        in_memory_fallback_enabled=True,
        headers_enabled=True,
        header_name_mapping={
            HeaderNames.LIMIT: "RateLimit-Limit",
            HeaderNames.REMAINING: "RateLimit-Remaining",
            # When, by this machine's clock, and then how long, by nobody's: the second takes the first's place.
            HeaderNames.RESET: "RateLimit-Reset",
            HeaderNames.RETRY_AFTER: "RateLimit-Reset",
        },
        strategy="moving-window",
    )

    if settings.rate_store == Settings.rate_store:
        _count_anew_where_the_clock_is_set(app, limiter.reset)


def _count_anew_where_the_clock_is_set(app: Flask, reset: Callable[[], None]) -> None:
    """Drop the counts when the time of day jumps: calls of a future minute would count until it is over."""
    ahead = [time.time() - time.monotonic()]

    def look() -> None:
        now = time.time() - time.monotonic()
        if abs(now - ahead[0]) > _JUMP_SECONDS:
            reset()
        ahead[0] = now

    # Before the calls are counted.
    app.before_request_funcs[None].insert(0, look)


def _allow_origins(app: Flask, origins: tuple[str, ...]) -> None:
    """Let pages of other origins call; loaded here for the same reason."""
    from flask_cors import CORS  # noqa: PLC0415

    CORS(
        app,
        origins=list(origins),
        methods=["GET", "POST"],
        allow_headers=["Authorization", "Content-Type", "Prefer", "Accept", "traceparent", "X-Request-Id"],
        expose_headers=list(_TOLD_TO_PAGES),
        max_age=600,
    )

    @app.after_request
    def varies(response: Response) -> Response:
        # What is answered to one origin must not be kept for another: the extension says so of several origins alone.
        response.vary.add("Origin")
        return response
