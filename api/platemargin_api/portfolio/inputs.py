"""The input files of a portfolio, in the order of their names."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from platemargin_api.portfolio.refused import InputError
from platemargin_api.portfolio.sources import KINDS

__all__ = ["Input", "found"]


class Input(NamedTuple):
    """A file, and its name from the folder that was given."""

    name: str
    path: Path


def found(source: Path, target: Path) -> tuple[Sequence[Input], Sequence[str]]:
    """Return the inputs in a folder and below it, or a file, and the names of the files that are none.

    Raises
    ------
    InputError
        Where there is none, or the answers would stand among them.
    """
    if source.is_file():
        return _of([Input(source.name, source)], source)
    if source.resolve() in (target.resolve(), *target.resolve().parents):
        raise InputError(f"{target} is within {source}: the answers would be read as inputs")
    files = [path for path in source.rglob("*") if path.is_file() and not path.name.startswith(".")]
    return _of([Input(path.relative_to(source).as_posix(), path) for path in files], source)


def _of(files: Sequence[Input], source: Path) -> tuple[Sequence[Input], Sequence[str]]:
    if strange := [file.name for file in files if not file.name.isprintable()]:
        raise InputError(f"a file needs a name that can be printed: {strange[0]!r}")
    inputs = sorted(file for file in files if file.path.suffix.lower() in KINDS)
    if not inputs:
        raise InputError(f"{source} is no file of readings, and has none below it: they end in {', '.join(KINDS)}")
    return inputs, sorted(file.name for file in files if file.path.suffix.lower() not in KINDS)
