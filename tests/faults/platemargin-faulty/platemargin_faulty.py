"""Calculations that are right while `fault` is 0, which is their example, and fail each in its own way where it is more."""

from __future__ import annotations

import os
import re
import signal
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from platemargin.declared import Finding
from platemargin_api.calculation import Calculation
from platemargin_api.fields import List, Number, Request, Response


class FaultyRequest(Request):
    """How much is wrong."""

    fault = Number("1", -1_000_000, 1_000_000, decimals=3, description="How much is wrong.", default=0.0, basis="nothing is")
    numbers = List(
        Number("1", 0, 10, decimals=3, description="A number."), 1, 10, description="Numbers.", default=[3.0, 1.0], basis="two"
    )


class FaultyColumnRequest(Request):
    """How much is wrong."""

    fault = Number("1", -1_000_000, 1_000_000, decimals=3, description="How much is wrong.", default=0.0, basis="nothing is")


class FaultyResult(Response):
    """The same."""

    given = Number("1", -1_000_000, 1_000_000, decimals=3, description="What was wrong.")


@dataclass(frozen=True, kw_only=True)
class Given:
    """What was given."""

    given: Any


def _plain(run: Callable[[float, list[float]], Any]) -> Callable[..., Any]:
    def made(*, fault: float = 0.0, numbers: Sequence[float] = ()) -> Any:
        instead = run(fault, numbers) if fault else None
        return Given(given=fault) if instead is None else instead

    return made


def _columns(run: Callable[[Any], Any]) -> Callable[..., Any]:
    def made(*, fault: npt.ArrayLike = 0.0) -> Any:
        instead = run(fault) if np.any(fault) else None
        return Given(given=fault) if instead is None else instead

    return made


def _calculation(name: str, run: Callable[..., Any], *, elementwise: bool = False, **more: Any) -> Calculation:
    told: dict[str, Any] = {
        "id": name,
        "version": "1.2.0",
        "title": "Fails",
        "description": "Fails in its own way.",
        "request": FaultyColumnRequest if elementwise else FaultyRequest,
        "response": FaultyResult,
        "run": _columns(run) if elementwise else _plain(run),
        "elementwise": elementwise,
        "summary": lambda figures: [f"{figures['given']} was given."],
        "references": (),
        "cautions": (),
        "example": {"fault": 0.0},
    }
    return Calculation(**{**told, **more})


def _raise(_: Any) -> None:
    raise ZeroDivisionError("it was divided by nothing")


def _spin(fault: float, _: Any) -> None:
    end = time.perf_counter() + fault
    while time.perf_counter() < end:
        pass


def _hold(_: float, __: Any) -> None:
    """Never come back, nor let another thread run: the matcher of regular expressions does not give the interpreter away."""
    re.fullmatch(r"(a+)+b", "a" * 64)


_kept: list[bytes] = []


def _leak(megabytes: float, _: Any) -> None:
    _kept.append(os.urandom(1024) * (1024 * int(megabytes)))


def _change(column: Any) -> None:
    column[:] = -1.0


def _change_list(_: float, numbers: list[float]) -> None:
    numbers.sort()


def _interrupt(*_: Any) -> None:
    raise KeyboardInterrupt


def _exit_in_a_summary(figures: Any) -> list[str]:
    # To gunicorn's master this code says that a worker could not begin, and that all have to end.
    return sys.exit(3) if figures["given"] else ["Nothing was wrong."]


def _exit_in_a_rendering(request: Any, _: Any) -> bytes:
    return sys.exit(3) if request["fault"] else b"<!doctype html>"


def _exit_in_a_finding(_: Any, result: Any) -> Any:
    return sys.exit(3) if np.any(result.given) else np.zeros(len(result.given), bool)


_clock = time.time


def _move_the_clock(seconds: float, _: Any) -> None:
    time.time = lambda: _clock() + seconds


def _wrong_summary(figures: Any) -> list[str]:
    return [f"{1 / (1 - figures['given'])}"]


raises = _calculation("raises", _raise, elementwise=True)
ends_the_process = _calculation("ends-the-process", lambda fault, _: sys.exit(int(fault)))
sleeps = _calculation("sleeps", lambda fault: time.sleep(float(np.max(fault))), elementwise=True)
spins = _calculation("spins", _spin)
holds_the_interpreter = _calculation("holds-the-interpreter", _hold)
leaks = _calculation("leaks", _leak)
gives_nan = _calculation("gives-nan", lambda fault: Given(given=np.full(len(fault), np.nan)), elementwise=True)
gives_too_many = _calculation("gives-too-many", lambda fault: Given(given=np.zeros(3 * len(fault))), elementwise=True)
gives_another_type = _calculation("gives-another-type", lambda fault, _: f"{fault}")
changes_its_column = _calculation("changes-its-column", _change, elementwise=True)
changes_its_list = _calculation("changes-its-list", _change_list)
sums_up_wrongly = _calculation("sums-up-wrongly", lambda *_: None, summary=_wrong_summary)
finds_wrongly = _calculation(
    "finds-wrongly",
    lambda *_: None,
    findings=(
        Finding(
            code="never_found",
            severity="note",
            statement="{given} was given.",
            values=("given",),
            applies=lambda _, result: [(), ()][2 * int(result.given)],
        ),
    ),
)
exits_in_its_summary = _calculation("exits-in-its-summary", lambda *_: None, summary=_exit_in_a_summary)
exits_in_its_rendering = _calculation("exits-in-its-rendering", lambda *_: None, renderings={"text/html": _exit_in_a_rendering})
exits_in_its_findings = _calculation(
    "exits-in-its-findings",
    lambda _: None,
    elementwise=True,
    findings=(
        Finding(code="never_found", severity="note", statement="{given}.", values=("given",), applies=_exit_in_a_finding),
    ),
)
ends_its_thread = _calculation("ends-its-thread", _interrupt)
kills_its_worker = _calculation("kills-its-worker", lambda *_: os.kill(os.getpid(), signal.SIGKILL))
moves_the_clock = _calculation("moves-the-clock", _move_the_clock)
