"""The folder that a portfolio is answered into: who writes there, what is done, what is told at the end."""

from __future__ import annotations

import fcntl
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import Any

import orjson
import pyarrow.parquet as pq

from platemargin_api.portfolio.atomic import digest_of, remove_parts, whole
from platemargin_api.portfolio.one_file import ANSWERS, DONE, REJECTS, Record, Task
from platemargin_api.portfolio.refused import InputError

__all__ = ["HULLS", "MANIFEST", "alone", "clear", "done", "finish"]

MANIFEST, HULLS = "manifest.json", "hulls.parquet"
_LOCK = ".lock"


@contextmanager
def alone(folder: Path) -> Iterator[None]:
    """Hold a folder for this process, without what it, its workers or an earlier one were killed at.

    Raises
    ------
    InputError
        Where another process holds it, or it holds something else.
    """
    if folder.exists() and not folder.is_dir():
        raise InputError(f"{folder} is a file: name a folder")
    if folder.exists() and any(folder.iterdir()) and not (folder / _LOCK).exists():
        raise InputError(f"{folder} holds something else: name a folder of its own, which is made where it is not there")
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / _LOCK).open("wb") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            raise InputError(f"another run is writing into {folder}") from None
        remove_parts(folder)
        try:
            yield
        finally:
            remove_parts(folder)


def done(task: Task) -> Record | None:
    """Return the record of an input that is done: of the same bytes, in the same way, with its outputs as they were written."""
    record = _read(task.record)
    if record is None or record.settings_digest != task.settings or not task.path.is_file():
        return None
    same = record.input_digest == digest_of(task.path) and _as_written(task.folder, record.outputs)
    return record if same else None


def _read(path: Path) -> Record | None:
    try:
        return Record(**orjson.loads(path.read_bytes()))
    except (OSError, ValueError, TypeError):
        return None


def _as_written(folder: Path, outputs: Mapping[str, str]) -> bool:
    return all((folder / name).is_file() and digest_of(folder / name) == digest for name, digest in outputs.items())


def clear(folder: Path, tasks: Sequence[Task]) -> None:
    """Remove what speaks of the whole, which is to be told anew, and what is of inputs that are not there any more."""
    for name in (MANIFEST, HULLS):
        (folder / name).unlink(missing_ok=True)
    ours = {path for task in tasks for path in (task.record, *task.outputs)}
    for path in (path for name in (ANSWERS, REJECTS, DONE) for path in (folder / name).rglob("*")):
        if path.is_file() and path not in ours:
            path.unlink()


def finish(folder: Path, told: Mapping[str, Any], records: Sequence[Record], hulls: Any) -> None:
    """Write the roll-up where there is one, and what was done of what, last."""
    if hulls is not None:
        with whole(folder / HULLS) as file:
            pq.write_table(hulls, file)
    with whole(folder / MANIFEST) as file:
        members = {**told, "files": [asdict(record) for record in records]}
        file.write(orjson.dumps(members, option=orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE))
