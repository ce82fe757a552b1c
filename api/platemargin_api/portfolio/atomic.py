"""Files that are whole or not there: a process may be killed at any moment."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO
from uuid import uuid4

from platemargin_api.answer import written_digest

__all__ = ["digest_of", "remove_parts", "whole"]

#: What a file is called until it is whole; it begins with a dot, so that readers of a folder pass over it.
_PART = ".part"


@contextmanager
def whole(path: Path) -> Iterator[IO[bytes]]:
    """Give a file to write: it takes its name, in one step, when everything is on the disk; after an exception it is gone."""
    path.parent.mkdir(parents=True, exist_ok=True)
    # A name of its own: two workers may be at the same file where one was thought to be lost.
    part = path.with_name(f".{uuid4().hex}{_PART}")
    try:
        with part.open("xb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    _keep_name(path.parent)


def _keep_name(folder: Path) -> None:
    """Put the names in a folder on the disk."""
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def remove_parts(folder: Path) -> None:
    """Remove what a killed process left unfinished."""
    for part in folder.rglob(f".*{_PART}"):
        part.unlink(missing_ok=True)


def digest_of(path: Path) -> str:
    """Return the SHA-256 of a file as RFC 9530 writes it."""
    with path.open("rb") as file:
        return written_digest(hashlib.file_digest(file, "sha256").digest())
