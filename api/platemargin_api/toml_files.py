"""What an operator writes in TOML, held to a schema: what is wrong is told with the file, the key and the reason."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import marshmallow as ma

from platemargin_api.problems import invalid_request

__all__ = ["FileError", "loaded", "understood"]

#: More than this [byte] is nothing that an operator wrote; it is not read.
_MOST_BYTES = 1024 * 1024
#: So many faults of a file are told at once.
_MOST_TOLD = 5


class FileError(RuntimeError):
    """A file that is not as it has to be; the message names it, the key and the reason."""


def loaded(file: Path, schema: ma.Schema) -> dict[str, Any]:
    """Return what a file says.

    Raises
    ------
    FileError
        For a file that cannot be read, is not TOML, or does not fit the schema.
    """
    try:
        if file.stat().st_size > _MOST_BYTES:
            raise FileError(f"{file.name}: it is larger than {_MOST_BYTES} bytes")
        content = file.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise FileError(f"{file.name}: it is not TOML 1.0 in UTF-8: {error}") from error
    except OSError as error:
        raise FileError(f"{file.name}: it cannot be read: {error.strerror}") from error
    return understood(file.name, content, schema)


def understood(name: str, content: str, schema: ma.Schema) -> dict[str, Any]:
    """Return what a text says that a file holds, or would hold.

    Raises
    ------
    FileError
        For a text that is not TOML, or does not fit the schema.
    """
    try:
        members: dict[str, Any] = schema.load(tomllib.loads(content))
    except tomllib.TOMLDecodeError as error:
        raise FileError(f"{name}: it is not TOML 1.0 in UTF-8: {error}") from error
    except ma.ValidationError as error:
        raise FileError(f"{name}: {_worded(invalid_request(error.messages, schema).errors)}") from error
    return members


def _worded(faults: Sequence[Mapping[str, Any]]) -> str:
    """Return the first faults, each with its key as TOML writes it."""
    told = "; ".join(map(_one_worded, faults[:_MOST_TOLD]))
    return told if len(faults) <= _MOST_TOLD else f"{told} ({len(faults)} faults in all)"


def _one_worded(fault: Mapping[str, Any]) -> str:
    key = re.sub(r"/([0-9]+)", r"[\1]", fault["pointer"]).replace("/", ".").lstrip(".")
    return f"{key or 'the file'}: {fault['detail']}"
