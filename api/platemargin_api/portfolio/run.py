"""A run: inputs in, answers, rejects, roll-up and manifest out; what is done is not done again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any, NamedTuple

import pyarrow.parquet as pq
from tqdm import tqdm

from platemargin_api.answer import SERVICE_VERSION
from platemargin_api.portfolio.answering import served_by
from platemargin_api.portfolio.columns import HULL, Asked, unused
from platemargin_api.portfolio.engines import Advance, Done, here, on_dask
from platemargin_api.portfolio.inputs import Input, found
from platemargin_api.portfolio.one_file import Record, Task, check_file, settings_digest
from platemargin_api.portfolio.refused import InputError
from platemargin_api.portfolio.roll_up import VERDICTS, RollUp
from platemargin_api.portfolio.target import alone, clear, done, finish
from platemargin_api.problems import MOST_FAULTS
from platemargin_api.wording import hint

__all__ = ["Outcome", "portfolio"]


class Outcome(NamedTuple):
    """What became of a portfolio: counts, the files that are no inputs, and why inputs were not answered."""

    told: Mapping[str, Any]
    passed_over: Sequence[str]
    failed: Sequence[str]


def portfolio(source: Path, target: Path, asked: Asked, scheduler: str | None) -> Outcome:
    """Answer a file or a folder of files into a folder; return what became of it.

    Raises
    ------
    InputError
        Where nothing is done: no input, columns that are not as they are needed, a folder that is not free.
    """
    inputs, passed_over = found(source, target)
    _check(inputs, asked)
    with alone(target):
        settings, folder = settings_digest(asked), target.resolve()
        tasks = [Task(name, path.resolve(), folder, asked, settings) for name, path in inputs]
        clear(folder, tasks)
        records, failed = _answered(tasks, scheduler)
        # A roll-up without some inputs would pass what they say.
        hulls = _rolled_up(tasks, asked) if asked.hull is not None and not failed else None
        told = _told(asked, records, hulls)
        finish(folder, {**told, "passed_over": passed_over, "failed": failed}, records, hulls)
    return Outcome(told, passed_over, failed)


def _check(inputs: Sequence[Input], asked: Asked) -> None:
    """Refuse, before anything is done, every input whose columns are not as they are needed."""
    faults, names = [], set()
    for name, path in inputs:
        try:
            names.update(check_file(path, asked))
        except InputError as error:
            faults.append(f"{name}: {error}")
    if not faults:
        faults = [f"no input has the column {name!r}{hint(name, names)}" for name in unused(asked, names)]
    if faults:
        more = [f"({len(faults)} inputs are refused in all)"] if len(faults) > MOST_FAULTS else []
        raise InputError("\n".join([*faults[:MOST_FAULTS], *more]))


def _answered(tasks: Sequence[Task], scheduler: str | None) -> tuple[Sequence[Record], Sequence[str]]:
    """Return the records of the inputs in order, and why others have none."""
    known: dict[str, Record | InputError] = {}
    sizes = {task.name: task.path.stat().st_size for task in tasks}
    # It shows itself on a terminal alone, and goes to stderr.
    with tqdm(total=sum(sizes.values()), unit="B", unit_scale=True, unit_divisor=1024, disable=None) as bar:
        for task, became in _became(tasks, scheduler, lambda task: _shown(bar, sizes[task.name])):
            known[task.name] = became
            bar.update(sum(sizes[name] for name in known) - bar.n)
    failed = [f"{name}: {error}" for name, error in sorted(known.items()) if isinstance(error, InputError)]
    return [record for _, record in sorted(known.items()) if isinstance(record, Record)], failed


def _shown(bar: Any, size: int) -> Advance:
    before = bar.n
    return lambda read: bar.update(before + min(read, size) - bar.n)


def _became(tasks: Sequence[Task], scheduler: str | None, advance: Callable[[Task], Advance]) -> Iterator[Done]:
    """Yield each input that is done already, then the others as they are done."""
    waiting = []
    for task in tasks:
        record = done(task)
        if record is None:
            waiting.append(task)
        else:
            yield task, record
    if waiting:
        yield from here(waiting, advance) if scheduler is None else on_dask(scheduler, waiting)


def _rolled_up(tasks: Sequence[Task], asked: Asked) -> Any:
    rolled = RollUp(served_by(asked))
    for task in tasks:
        rolled.add(pq.read_table(task.lines))
    return rolled.hulls()


def _told(asked: Asked, records: Sequence[Record], hulls: Any) -> dict[str, Any]:
    """Return what the manifest tells beside the records."""
    served = served_by(asked)
    named = None if hulls is None else hulls.filter(hulls[HULL].is_valid())
    verdicts = {} if named is None else Counter(named["verdict"].to_pylist())
    return {
        "service_version": SERVICE_VERSION,
        "calculation": {"id": served.offered.id, "version": served.offered.version},
        "distribution": asdict(served.distribution),
        "columns": asdict(asked),
        "rows": sum(record.rows for record in records),
        "answered": sum(record.answered for record in records),
        "rejected": sum(record.rejected for record in records),
        "without_hull": 0 if hulls is None else sum(hulls.filter(hulls[HULL].is_null())["rows"].to_pylist()),
        "hulls": None if hulls is None else {verdict: verdicts.get(verdict, 0) for verdict in VERDICTS},
    }
