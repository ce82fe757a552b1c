"""How long a calculation may take: past its deadline its caller is told so, though nothing can stop the thread that calculates.

A call in time pays for an entry in a table and nothing more. A thread of its own (`Warden`) looks at the table, and answers
the callers of those that are late on their own connections. A thread that calculates all the same is stuck: it is counted,
another takes its place, and a worker with too many of them, or too much memory, stops taking calls and is replaced.
"""

from __future__ import annotations

import logging
import os
import signal
import sys
import traceback
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from contextvars import copy_context
from functools import partial
from pathlib import Path
from socket import MSG_DONTWAIT, SHUT_RDWR, SHUT_WR, socket
from threading import Lock, Thread, get_ident
from time import monotonic, sleep
from types import TracebackType
from typing import Protocol, TypeAlias, TypeVar

from flask import Response, current_app, request

from platemargin_api import metrics
from platemargin_api.headers import SAFE, calculation_headers
from platemargin_api.problems import ProblemError
from platemargin_api.registry import Served
from platemargin_api.upload import BLOCK_BYTES

__all__ = ["MOST_STUCK", "Calculating", "Warden"]

#: A worker with so many stuck threads is replaced: each may be using the processor that the others' calls need.
MOST_STUCK = 2
#: How often the running calls are looked at.
TICK_SECONDS = 0.25
#: How long a caller who was turned away may take to read it, before a body that still comes in is refused.
LINGER_SECONDS = 2.0
#: More blocks than the system holds of a body that nobody reads (tcp_rmem has 6 MB at most by default, tcp(7)).
HELD_BLOCKS = 64
#: What is told of where a late thread is: the last of its calls.
STACK_FRAMES = 6
_MEMORY = Path("/proc/self/statm")
_PAGE_BYTES = os.sysconf("SC_PAGE_SIZE")

T = TypeVar("T")
#: Makes something of the request that a call belongs to.
Within: TypeAlias = Callable[[Callable[[], None]], None]

_log = logging.getLogger(__name__)

#: The steps that are running in this process. Whoever takes a step out of it, in one operation, has the right to answer.
_running: dict[int, Calculating] = {}
_stuck: set[Calculating] = set()
#: Held while a caller is turned away: a thread that comes back meanwhile waits, and then writes to a closed connection.
_turning_away = Lock()


class Calculating:
    """A call's steps in which its calculation runs: ``with`` each of them. Made within the request.

    A call that was turned away in one of its steps has no other.

    Parameters
    ----------
    served : Served
        The calculation.
    within : callable, optional
        What makes an answer within the request; without it the call is made within the request itself.
    sending : bool
        Whether some of the answer may have been sent: then a late one is cut, and not told.

    Raises
    ------
    ProblemError
        calculation-overdue, at a step after the one in which the caller was turned away.
    """

    __slots__ = ("sending", "served", "since", "thread", "turned_away", "within")

    def __init__(self, served: Served, within: Within | None = None, *, sending: bool = False) -> None:
        self.served = served
        self.sending = sending
        self.within = within or copy_context().run
        self.since = 0.0
        self.thread = 0
        self.turned_away = False

    def __enter__(self) -> None:
        if self.turned_away:  # nobody waits for the rest, and nobody may be turned away twice
            raise ProblemError("calculation-overdue", f"{self.served.named} was not done in time.")
        self.thread = get_ident()
        self.since = monotonic()
        _running[id(self)] = self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        if _running.pop(id(self), None) is None:
            self.turned_away = True
            with _turning_away:
                _stuck.discard(self)
                metrics.stuck(len(_stuck))

    def each(self, steps: Iterator[T]) -> Iterator[T]:
        """Yield what steps make, each made before the deadline."""
        while True:
            with self:
                made = next(steps, None)
            if made is None:
                return
            yield made


class Holder(Protocol):
    """A worker, as far as it is dealt with here."""

    alive: bool

    def let_go(self, connection: socket, thread: int) -> None:
        """Put another thread in the place of one that is stuck, and wait for its connection no more."""


class Warden(Thread):
    """Looks after the running calls of a worker, and after the worker itself."""

    def __init__(self, worker: Holder, *, seconds: int, most_megabytes: int) -> None:
        super().__init__(name="warden", daemon=True)
        self._worker = worker
        self._seconds = seconds
        self._most_megabytes = most_megabytes
        self._lingering: deque[tuple[float, socket]] = deque()

    def run(self) -> None:
        """Look at all of it again and again."""
        while True:
            sleep(TICK_SECONDS)
            for looked_at in (self._turn_away_the_late, self._close_the_turned_away, self._retire_where_it_is_time):
                with _told(looked_at):
                    looked_at()

    def _turn_away_the_late(self) -> None:
        late = monotonic() - self._seconds
        for call in [call for call in _running.copy().values() if call.since < late]:
            with _turning_away:
                if _running.pop(id(call), None) is not None:
                    _stuck.add(call)
                    metrics.stuck(len(_stuck))
                    call.within(partial(self._turn_away, call))

    def _turn_away(self, call: Calculating) -> None:
        """Answer in the place of a thread that does not, in its request's own context."""
        connection: socket = request.environ["gunicorn.socket"]
        try:
            self._tell(call, connection)
        finally:
            # The last of it: a worker that stops ends when it has no connection to wait for.
            self._worker.let_go(connection, call.thread)

    def _tell(self, call: Calculating, connection: socket) -> None:
        problem = _overdue(call, self._seconds)
        response = current_app.make_response(current_app.handle_user_exception(problem))
        response.headers.update(calculation_headers(call.served.offered))
        response = current_app.process_response(response)
        with suppress(OSError):  # a caller who is gone
            if not call.sending:
                # Never waiting: the others that are late do, too. It fits, for nothing of this answer was sent.
                socket.send(connection, _as_sent(response), MSG_DONTWAIT)
            connection.shutdown(SHUT_WR)
        self._lingering.append((monotonic() + LINGER_SECONDS, connection))
        response.close()

    def _close_the_turned_away(self) -> None:
        while self._lingering and self._lingering[0][0] <= monotonic():
            _, connection = self._lingering.popleft()
            with suppress(OSError):
                _hang_up(connection)

    def _retire_where_it_is_time(self) -> None:
        if not self._worker.alive:
            return
        if len(_stuck) >= MOST_STUCK:
            _retire("stuck threads")
        elif _megabytes() > self._most_megabytes:
            _retire("memory")


@contextmanager
def _told(looked_at: Callable[[], None]) -> Iterator[None]:
    """Tell what failed, and go on: nobody else would answer the late."""
    try:
        yield
    except Exception:  # noqa: BLE001  what else it may be, it is told
        _log.exception("%s failed", looked_at.__name__)


def _overdue(call: Calculating, seconds: int) -> ProblemError:
    """Tell in the log where the thread is, and return the problem that the caller is told."""
    named = call.served.named
    frame = sys._current_frames().get(call.thread)  # noqa: SLF001  the only way to another thread's place
    stack = "".join(traceback.format_stack(frame, STACK_FRAMES)) if frame else None
    _log.error("%s was not done within %s s", named, seconds, extra={"told": {"stack": stack}})
    return ProblemError("calculation-overdue", f"{named} was not done within {seconds} s.")


def _as_sent(response: Response) -> bytes:
    """Return a response as it goes over the wire, the last of its connection."""
    response.headers["Connection"] = "close"
    for name, value in SAFE.items():
        response.headers.setdefault(name, value)
    head = "".join(f"{name}: {value}\r\n" for name, value in response.get_wsgi_headers(request.environ))
    return f"HTTP/1.1 {response.status}\r\n{head}\r\n".encode("latin-1") + response.get_data()


def _hang_up(connection: socket) -> None:
    """End a connection whose caller may still be sending, or waiting for room to: what comes then breaks it off."""
    with suppress(BlockingIOError):
        for _ in range(HELD_BLOCKS):
            socket.recv(connection, BLOCK_BYTES, MSG_DONTWAIT)
    connection.shutdown(SHUT_RDWR)


def _megabytes() -> float:
    """Return what this process holds in memory; 0 where the system does not tell (proc_pid_statm(5))."""
    return int(_MEMORY.read_text().split()[1]) * _PAGE_BYTES / 1024**2 if _MEMORY.exists() else 0.0


def _retire(why: str) -> None:
    """Have this worker finish what it has, and be replaced by the master."""
    _log.error("the worker is replaced: %s", why)
    metrics.replaced(why)
    os.kill(os.getpid(), signal.SIGTERM)
