"""What Prometheus reads: counts and latencies of each calculation, of all workers together."""

from __future__ import annotations

import os
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

__all__ = ["FOLDER", "count", "forget", "latest", "prepare", "replaced", "stuck"]

#: Where workers keep their counts for each other, as the client library names it; without it a process tells of itself alone.
FOLDER = "PROMETHEUS_MULTIPROC_DIR"
_SECONDS = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30, 60)


class Counted(NamedTuple):
    """What is counted, as the client library has it."""

    requests: Any
    seconds: Any
    rows: Any
    stuck: Any
    replaced: Any


@cache
def prepare() -> Counted:
    """Make what is counted.

    The client library looks for the shared folder when it is loaded, which is not before this is called.
    """
    from prometheus_client import Counter, Gauge, Histogram  # noqa: PLC0415

    return Counted(
        Counter("platemargin_requests", "Requests, by calculation, status and problem.", ["calculation", "status", "problem"]),
        Histogram(
            "platemargin_request_seconds",
            "From the request's head to the end of its answer.",
            ["calculation"],
            buckets=_SECONDS,
        ),
        Counter("platemargin_rows", "Rows of calls of many, answered or refused.", ["calculation", "outcome"]),
        Gauge("platemargin_stuck_threads", "Threads that calculate past their deadline.", multiprocess_mode="livesum"),
        Counter("platemargin_workers_replaced", "Workers that stopped taking calls, by reason.", ["reason"]),
    )


def count(*, calculation: str, status: int, problem: str, seconds: float, answered: int, refused: int) -> None:
    """Count a request, and the rows of a call of many."""
    _requests(calculation, str(status), problem).inc()
    _seconds(calculation).observe(seconds)
    for outcome, number in (("answered", answered), ("refused", refused)):
        if number:
            prepare().rows.labels(calculation, outcome).inc(number)


@cache
def _requests(calculation: str, status: str, problem: str) -> Any:
    """Return what counts such requests: to find it costs the library more than to count."""
    return prepare().requests.labels(calculation, status, problem)


@cache
def _seconds(calculation: str) -> Any:
    return prepare().seconds.labels(calculation)


def stuck(threads: int) -> None:
    """Tell how many threads of this worker calculate past their deadline."""
    prepare().stuck.set(threads)


def replaced(reason: str) -> None:
    """Count this worker as one that is replaced."""
    prepare().replaced.labels(reason).inc()


def latest() -> tuple[bytes, str]:
    """Return what all workers counted, in Prometheus's text format, and its media type."""
    prepare()
    from prometheus_client import CONTENT_TYPE_LATEST, REGISTRY, CollectorRegistry, generate_latest  # noqa: PLC0415
    from prometheus_client.multiprocess import MultiProcessCollector  # noqa: PLC0415

    if FOLDER not in os.environ:
        return bytes(generate_latest(REGISTRY)), CONTENT_TYPE_LATEST
    while True:
        counted = CollectorRegistry()
        MultiProcessCollector(counted)  # type: ignore[no-untyped-call]
        # A worker may end between the look for files and their reading; its file is then added to that of all that are gone.
        with suppress(FileNotFoundError):
            return bytes(generate_latest(counted)), CONTENT_TYPE_LATEST


def forget(pid: int) -> None:
    """Leave out what only a worker that is gone could tell; add its counts to those of others that are gone."""
    from prometheus_client import mmap_dict  # noqa: PLC0415
    from prometheus_client.multiprocess import mark_process_dead  # noqa: PLC0415

    folder = Path(os.environ.get(FOLDER, ""))
    if FOLDER not in os.environ or not folder.is_dir():
        return
    mark_process_dead(pid)  # type: ignore[no-untyped-call]
    counts: Any = mmap_dict.MmapedDict
    for left in folder.glob(f"*_{pid}.db"):
        # A file for each that ever was would fill the memory it is in.
        counted = list(counts.read_all_values_from_file(str(left)))
        left.unlink()
        gone = counts(str(left).replace(f"_{pid}.db", "_gone.db"))
        for key, value, *_ in counted:
            gone.write_value(key, gone.read_value(key)[0] + value, 0.0)
        gone.close()
