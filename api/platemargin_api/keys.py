"""Who may call: bearer keys (RFC 6750), of which the service knows nothing but the SHA-256.

A key is 256 bits of chance, so that a plain hash cannot be turned round. The file is looked at again when it changes; one
that is wrong then is told in the log, and the keys before it stay in force.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import logging
import secrets
import tempfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from platemargin_api.fields import Day, Flag, Integer, List, Member, Rows, Text
from platemargin_api.toml_files import FileError, loaded, understood

__all__ = ["PREFIX", "Key", "Keys", "added_to", "new_key", "stanza"]

#: What every key begins with.
PREFIX = "plate_"
_BYTES = 32
_NAME = r"^[A-Za-z0-9._-]+$"
_HEX = r"^[0-9a-f]{64}$"

_log = logging.getLogger(__name__)


class _TomlDay(Day):
    """A day, as TOML has it or as text."""

    def _deserialize(self, value: Any, *more: Any, **kwargs: Any) -> date:
        # A date-time is a date to Python, and says more than a day.
        return value if type(value) is date else super()._deserialize(value, *more, **kwargs)


class KeyInFile(Member):
    """One key."""

    name = Text(1, 80, pattern=_NAME, says="must be letters, digits, . _ and -", description="Its name.", required=True)
    sha256 = Text(64, 64, pattern=_HEX, says="must be 64 hexadecimal digits", description="Its hash.", required=True)
    expires = _TomlDay(description="The first day on which it does not count; absent = it does for ever.")
    calculations = List(Text(1, 80, description="An id."), 1, 500, description="What it may call; absent = all.")
    requests_per_minute = Integer(1, 1_000_000, description="How often it may call; absent = as often as any.")
    metrics = Flag(description="Whether it may read the metrics; absent = it may not.")


class KeyFile(Member):
    """The keys of a service."""

    keys = Rows(KeyInFile, 1, 10_000, description="The keys.", required=True)


@dataclass(frozen=True, kw_only=True)
class Key:
    """A key without itself: what it may do, and until when."""

    name: str
    sha256: bytes
    expires: date | None = None
    calculations: frozenset[str] | None = None
    requests_per_minute: int | None = None
    metrics: bool = False

    def may_call(self, calculation: str) -> bool:
        """Tell whether it may call a calculation."""
        return self.calculations is None or calculation in self.calculations

    def has_expired(self, today: date | None = None) -> bool:
        """Tell whether it counts no more; days are those of UTC."""
        return self.expires is not None and (today or datetime.now(UTC).date()) >= self.expires


class Keys:
    """The keys in a file, read again when it changes.

    Raises
    ------
    FileError
        At the start, for a file that is wrong; later that is logged.
    """

    def __init__(self, file: Path) -> None:
        self._file = file
        self._seen = _changed(file)
        self._keys = _read(file)

    def find(self, presented: str) -> Key | None:
        """Return the key that was presented; every hash is compared, each in the same time, whichever it is."""
        self._look_again()
        digest = hashlib.sha256(presented.encode(errors="surrogatepass")).digest()
        found = [key for key in self._keys if hmac.compare_digest(key.sha256, digest)]
        return found[0] if found else None

    def _look_again(self) -> None:
        seen = _changed(self._file)
        if seen == self._seen:
            return
        self._seen = seen
        try:
            self._keys = _read(self._file)
        except FileError as error:
            _log.error("the keys stay as they were: %s", error)


def _changed(file: Path) -> tuple[int, int, int] | None:
    """Return what changes with a file; None where it is gone. A copy may keep the time of its content, never its own."""
    try:
        status = file.stat()
    except OSError:
        return None
    return status.st_ctime_ns, status.st_size, status.st_ino


def _read(file: Path) -> tuple[Key, ...]:
    keys = tuple(_made(sent) for sent in loaded(file, KeyFile())["keys"])
    for what, told in (("name", [key.name for key in keys]), ("sha256", [key.sha256.hex() for key in keys])):
        if twice := _first_twice(told):
            raise FileError(f"{file.name}: {what}: {twice!r} is given twice")
    return keys


def _made(sent: Mapping[str, Any]) -> Key:
    said = {name: value for name, value in sent.items() if value is not None}
    calculations = frozenset(said["calculations"]) if "calculations" in said else None
    return Key(**{**said, "sha256": bytes.fromhex(said["sha256"]), "calculations": calculations})


def _first_twice(told: Iterable[str]) -> str | None:
    seen: set[str] = set()
    return next((one for one in told if one in seen or seen.add(one)), None)  # type: ignore[func-returns-value]


def new_key() -> str:
    """Return a key of 256 bits of chance."""
    return PREFIX + secrets.token_urlsafe(_BYTES)


def stanza(name: str, key: str, *, expires: date | None, calculations: Iterable[str], per_minute: int | None) -> str:
    """Return what a key file says of a key.

    Raises
    ------
    FileError
        For a name or a rate that no key has.
    """
    # A string of JSON is one of TOML.
    listed = ", ".join(map(json.dumps, calculations))
    lines = [
        "[[keys]]",
        f"name = {json.dumps(name)}",
        f'sha256 = "{hashlib.sha256(key.encode()).hexdigest()}"',
        *([f"expires = {expires.isoformat()}"] if expires else []),
        *([f"calculations = [{listed}]"] if listed else []),
        *([f"requests_per_minute = {per_minute}"] if per_minute is not None else []),
    ]
    told = "\n".join(lines) + "\n"
    understood("the key", told, KeyFile())
    return told


def added_to(file: Path, told: str) -> None:
    """Add a stanza to a file of keys, whole or not at all; a new file is its owner's alone.

    Raises
    ------
    FileError
        For a file that would be wrong with it, such as a second key of one name.
    """
    before = file.read_text(encoding="utf-8") if file.exists() else ""
    with tempfile.NamedTemporaryFile("w", encoding="utf-8", dir=file.parent, prefix=".keys-", delete=False) as written:
        beside = Path(written.name)
        written.write(f"{before.rstrip()}\n\n{told}".lstrip())
    try:
        _read(beside)
        beside.replace(file)
    except FileError as error:
        raise FileError(str(error).replace(beside.name, file.name)) from None
    finally:
        beside.unlink(missing_ok=True)
