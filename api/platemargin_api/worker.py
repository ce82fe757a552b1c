"""gunicorn's worker of threads, in which another thread takes the place of one that is stuck."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from queue import SimpleQueue
from socket import socket
from threading import Thread, get_ident
from typing import Any

from gunicorn.workers.gthread import TConn

from platemargin_api.deadline import Warden
from platemargin_api.heads import Worker as HeadsWorker
from platemargin_api.settings import Settings

__all__ = ["Threads", "Worker"]


class Threads:
    """Threads that make calls in the order in which they came. The process does not wait for them when it ends."""

    def __init__(self, count: int) -> None:
        self._calls: SimpleQueue[Callable[[], None]] = SimpleQueue()
        self._replaced: set[int] = set()
        for _ in range(count):
            self._add()

    def take(self, call: Callable[[], None]) -> None:
        """Have a call made, which raises nothing, by the next thread that is free."""
        self._calls.put(call)

    def replace(self, thread: int) -> None:
        """Put another thread in the place of one that is stuck, which ends when it comes back."""
        self._replaced.add(thread)
        self._add()

    def is_replaced(self) -> bool:
        """Tell whether another thread has taken the place of this one."""
        return get_ident() in self._replaced

    def shutdown(self, *, wait: bool) -> None:
        """Let the threads be, as the server asks: it has waited for their calls, or waits no longer."""

    def _add(self) -> None:
        Thread(target=self._work, daemon=True).start()

    def _work(self) -> None:
        while not self.is_replaced():
            self._calls.get()()
        self._replaced.discard(get_ident())


class Worker(HeadsWorker):
    """A worker that is not held up by calls that do not end."""

    def init_process(self) -> None:
        """Begin to look after the calls, and then to take them."""
        self._let_go: set[socket] = set()
        settings = Settings.from_environment()
        Warden(self, seconds=settings.deadline_seconds, most_megabytes=settings.worker_memory_mb).start()
        super().init_process()

    def may_keep(self) -> bool:
        """Tell whether the thread that has made a call may keep its connection itself."""
        return not self.tpool.is_replaced()

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
