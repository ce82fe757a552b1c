"""What the operator may set, read once at start from the environment."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from platemargin.names import nearest_name

__all__ = ["NAMES", "Settings", "SettingsError"]

#: What an operator may set: what is read below, and by `server`.
NAMES = (
    "PLATEMARGIN_ANONYMOUS",
    "PLATEMARGIN_BIND",
    "PLATEMARGIN_CORS_ORIGINS",
    "PLATEMARGIN_DEADLINE_SECONDS",
    "PLATEMARGIN_DRAIN_SECONDS",
    "PLATEMARGIN_KEYS",
    "PLATEMARGIN_MAX_BODY_BYTES",
    "PLATEMARGIN_MAX_LINE_BYTES",
    "PLATEMARGIN_MAX_ROWS",
    "PLATEMARGIN_RATE_STORE",
    "PLATEMARGIN_READ_TIMEOUT_SECONDS",
    "PLATEMARGIN_REQUESTS_PER_MINUTE",
    "PLATEMARGIN_REQUEST_LOG",
    "PLATEMARGIN_RULE_SETS",
    "PLATEMARGIN_WORKER_MEMORY_MB",
)
_PREFIX = "PLATEMARGIN_"
#: An origin as browsers send it (RFC 6454): scheme, host and port, and nothing after.
_ORIGIN = re.compile(r"https?://[A-Za-z0-9.-]+(:[0-9]+)?")
_STORE = re.compile(r"memory://|(rediss?|redis\+unix)://\S+")


class SettingsError(ValueError):
    """A setting that the service refuses to start with; the message names it and says what is allowed."""


@dataclass(frozen=True, kw_only=True)
class Settings:
    """What the service is held to, and what it is served with.

    Parameters
    ----------
    workers : int
        ``WEB_CONCURRENCY``: how many processes answer.
    max_body_bytes : int
        ``PLATEMARGIN_MAX_BODY_BYTES``: the largest JSON body that is read.
    read_timeout_seconds : int
        ``PLATEMARGIN_READ_TIMEOUT_SECONDS``: the longest pause in a body that is waited for.
    max_line_bytes : int
        ``PLATEMARGIN_MAX_LINE_BYTES``: the longest line of JSON lines, or row of CSV, that is read.
    max_rows : int
        ``PLATEMARGIN_MAX_ROWS``: the most rows that one call answers.
    rule_set_folder : Path, optional
        ``PLATEMARGIN_RULE_SETS``: a folder of rule sets of the operator's own, one TOML file each.
    key_file : Path, optional
        ``PLATEMARGIN_KEYS``: the file of keys; with it every call of ``/v1`` needs one.
    requests_per_minute : int
        ``PLATEMARGIN_REQUESTS_PER_MINUTE``: how often a key may call that says nothing of it itself.
    rate_store : str
        ``PLATEMARGIN_RATE_STORE``: where calls are counted, ``redis://HOST:PORT/N``; by default each worker counts for itself.
    cors_origins : tuple of str
        ``PLATEMARGIN_CORS_ORIGINS``: the origins whose pages may call, with blanks between; none by default.
    request_log : bool
        ``PLATEMARGIN_REQUEST_LOG``: on or off, a line of the log for each request.
    deadline_seconds : int
        ``PLATEMARGIN_DEADLINE_SECONDS``: how long a calculation may take, of many rows each block of them.
    worker_memory_mb : int
        ``PLATEMARGIN_WORKER_MEMORY_MB``: a worker that holds more finishes what it has, and is replaced.
    drain_seconds : int
        ``PLATEMARGIN_DRAIN_SECONDS``: how long the service goes on answering, and says that it is not ready, once told to stop.
    """

    workers: int = 2
    max_body_bytes: int = 8 * 1024 * 1024
    read_timeout_seconds: int = 15
    max_line_bytes: int = 1024 * 1024
    max_rows: int = 100_000_000
    rule_set_folder: Path | None = None
    key_file: Path | None = None
    requests_per_minute: int = 600
    rate_store: str = "memory://"
    cors_origins: tuple[str, ...] = ()
    request_log: bool = True
    deadline_seconds: int = 20
    worker_memory_mb: int = 1024
    drain_seconds: int = 0

    @classmethod
    def from_environment(cls, environment: Mapping[str, str] | None = None) -> Settings:
        """Read the settings.

        Raises
        ------
        SettingsError
            For a value that is not as its setting asks, and for a name that is nearly a setting's: it would set nothing.
        """
        environment = os.environ if environment is None else environment
        _refuse_misspelt(environment)
        return cls(
            workers=_whole(environment, "WEB_CONCURRENCY", cls.workers, 1, 1024),
            max_body_bytes=_whole(environment, "PLATEMARGIN_MAX_BODY_BYTES", cls.max_body_bytes, 1024, 1024**3),
            read_timeout_seconds=_whole(environment, "PLATEMARGIN_READ_TIMEOUT_SECONDS", cls.read_timeout_seconds, 1, 600),
            max_line_bytes=_whole(environment, "PLATEMARGIN_MAX_LINE_BYTES", cls.max_line_bytes, 1024, 64 * 1024**2),
            max_rows=_whole(environment, "PLATEMARGIN_MAX_ROWS", cls.max_rows, 1, 10**12),
            rule_set_folder=_path(environment, "PLATEMARGIN_RULE_SETS"),
            key_file=_path(environment, "PLATEMARGIN_KEYS"),
            requests_per_minute=_whole(environment, "PLATEMARGIN_REQUESTS_PER_MINUTE", cls.requests_per_minute, 1, 1_000_000),
            rate_store=_matching(
                "PLATEMARGIN_RATE_STORE",
                environment.get("PLATEMARGIN_RATE_STORE", cls.rate_store),
                _STORE,
                "memory://, redis://HOST:PORT/NUMBER or redis+unix://PATH",
            ),
            request_log=_matching(
                "PLATEMARGIN_REQUEST_LOG", environment.get("PLATEMARGIN_REQUEST_LOG", "on"), re.compile("on|off"), "on or off"
            )
            == "on",
            deadline_seconds=_whole(environment, "PLATEMARGIN_DEADLINE_SECONDS", cls.deadline_seconds, 1, 3600),
            worker_memory_mb=_whole(environment, "PLATEMARGIN_WORKER_MEMORY_MB", cls.worker_memory_mb, 128, 1024**2),
            drain_seconds=_whole(environment, "PLATEMARGIN_DRAIN_SECONDS", cls.drain_seconds, 0, 300),
            cors_origins=tuple(
                _matching(
                    "PLATEMARGIN_CORS_ORIGINS", origin, _ORIGIN, "origins such as https://boats.example, with blanks between"
                )
                for origin in environment.get("PLATEMARGIN_CORS_ORIGINS", "").split()
            ),
        )


def _refuse_misspelt(environment: Mapping[str, str]) -> None:
    """Refuse a name that is nearly a setting's; others with the prefix may be anybody's, such as of an engine of containers."""
    known = {name.removeprefix(_PREFIX): name for name in NAMES}
    for name in environment:
        if name.startswith(_PREFIX) and name not in NAMES and (near := nearest_name(name.removeprefix(_PREFIX), known)):
            raise SettingsError(f"{name} is no setting; the nearest is {known[near]}")


def _whole(environment: Mapping[str, str], name: str, default: int, minimum: int, maximum: int) -> int:
    text = environment.get(name, str(default))
    if not text.isascii() or not text.isdigit() or not minimum <= int(text) <= maximum:
        raise SettingsError(f"{name} is {text!r}: it must be a whole number from {minimum} to {maximum}")
    return int(text)


def _path(environment: Mapping[str, str], name: str) -> Path | None:
    return Path(told) if (told := environment.get(name)) else None


def _matching(name: str, value: str, form: re.Pattern[str], says: str) -> str:
    if not form.fullmatch(value):
        raise SettingsError(f"{name} is {value!r}: it must be {says}")
    return value
