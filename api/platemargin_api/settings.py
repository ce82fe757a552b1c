"""What the operator may set, read once at start from the environment."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

__all__ = ["Settings", "SettingsError"]


class SettingsError(ValueError):
    """A setting that the service refuses to start with; the message names it and says what is allowed."""


@dataclass(frozen=True, kw_only=True)
class Settings:
    """What the service is held to, and what it is served with.

    Parameters
    ----------
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
    """

    max_body_bytes: int = 8 * 1024 * 1024
    read_timeout_seconds: int = 15
    max_line_bytes: int = 1024 * 1024
    max_rows: int = 100_000_000
    rule_set_folder: Path | None = None

    @classmethod
    def from_environment(cls, environment: Mapping[str, str] | None = None) -> Settings:
        """Read the settings.

        Raises
        ------
        SettingsError
            For a value that is not a whole number within its bounds.
        """
        environment = os.environ if environment is None else environment
        return cls(
            max_body_bytes=_whole(environment, "PLATEMARGIN_MAX_BODY_BYTES", cls.max_body_bytes, 1024, 1024**3),
            read_timeout_seconds=_whole(environment, "PLATEMARGIN_READ_TIMEOUT_SECONDS", cls.read_timeout_seconds, 1, 600),
            max_line_bytes=_whole(environment, "PLATEMARGIN_MAX_LINE_BYTES", cls.max_line_bytes, 1024, 64 * 1024**2),
            max_rows=_whole(environment, "PLATEMARGIN_MAX_ROWS", cls.max_rows, 1, 10**12),
            rule_set_folder=Path(folder) if (folder := environment.get("PLATEMARGIN_RULE_SETS")) else None,
        )


def _whole(environment: Mapping[str, str], name: str, default: int, minimum: int, maximum: int) -> int:
    text = environment.get(name, str(default))
    if not text.isascii() or not text.isdigit() or not minimum <= int(text) <= maximum:
        raise SettingsError(f"{name} is {text!r}: it must be a whole number from {minimum} to {maximum}")
    return int(text)
