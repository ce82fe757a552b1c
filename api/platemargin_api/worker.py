"""gunicorn's worker of threads, in which another thread takes the place of one that is stuck."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor, Future
from queue import SimpleQueue
from socket import socket
from threading import Thread, get_ident
from typing import Any, TypeVar

from gunicorn.workers.gthread import TConn

from platemargin_api.deadline import Warden
from platemargin_api.heads import Worker as HeadsWorker
from platemargin_api.settings import Settings

__all__ = ["Threads", "Worker"]

T = TypeVar("T")


class Threads(Executor):
    """Threads that take calls in the order in which they came. The process does not wait for them when it ends."""

    def __init__(self, count: int) -> None:
        self._calls: SimpleQueue[tuple[Future[Any], Callable[[], Any]]] = SimpleQueue()
        self._replaced: set[int] = set()
        for _ in range(count):
            self._add()

    def submit(self, fn: Callable[..., T], /, *args: Any, **kwargs: Any) -> Future[T]:
        """Have a call made by the next thread that is free."""
        future: Future[T] = Future()
        self._calls.put((future, lambda: fn(*args, **kwargs)))
        return future

    def replace(self, thread: int) -> None:
        """Put another thread in the place of one that is stuck, which ends when it comes back."""
        self._replaced.add(thread)
        self._add()

    def _add(self) -> None:
        Thread(target=self._work, daemon=True).start()

    def _work(self) -> None:
        while get_ident() not in self._replaced:
            _make(*self._calls.get())
        self._replaced.discard(get_ident())


def _make(future: Future[T], call: Callable[[], T]) -> None:
    if not future.set_running_or_notify_cancel():
        return
    try:
        result = call()
    except BaseException as error:  # noqa: BLE001  whoever asked for it is told
        future.set_exception(error)
    else:
        future.set_result(result)


class Worker(HeadsWorker):
    """A worker that is not held up by calls that do not end."""

    def init_process(self) -> None:
        """Begin to look after the calls, and then to take them."""
        self._let_go: set[socket] = set()
        settings = Settings.from_environment()
        Warden(self, seconds=settings.deadline_seconds, most_megabytes=settings.worker_memory_mb).start()
        super().init_process()

    def get_thread_pool(self) -> Threads:
        """Return the threads that calls are made in."""
        return Threads(self.cfg.threads)

    def let_go(self, connection: socket, thread: int) -> None:
        """Put another thread in the place of one that is stuck, and wait for its connection no more."""
        self.tpool.replace(thread)
        # The count of connections is the main thread's.
        self.method_queue.defer(self._forget, connection)

    def _forget(self, connection: socket) -> None:
        self._let_go.add(connection)
        self.nr_conns -= 1

    def finish_request(self, conn: TConn, fs: Future[Any]) -> None:
        """Finish a call; whoever was let go before is parted with, though the connection may have been kept."""
        if conn.sock in self._let_go:
            self._let_go.discard(conn.sock)
            # Closed at once, a caller who still sends could lose the answer. It is counted again for as long as that takes.
            self.nr_conns += 1
            self._part(conn)
        else:
            super().finish_request(conn, fs)
