"""A worker whose threads are kept by calls alone: not by callers who have yet to say what they want, nor by those who leave.

gunicorn's own waits in a thread for the head of a request, and in its only loop for the other end of what it closes.
"""

from __future__ import annotations

import logging
import selectors
import socket
from collections import deque
from concurrent.futures import Future
from functools import partial
from threading import Lock
from time import monotonic
from typing import Any

from gunicorn.workers.gthread import STOP_KEEPALIVE_LINGER

from platemargin_api.patience import PatientSocket
from platemargin_api.refusals import Worker as RefusingWorker
from platemargin_api.settings import Settings

__all__ = ["Worker"]

#: What of a head is taken in before a thread reads the rest, and judges its length.
_HEAD_BYTES = 64 * 1024
#: Others wait for long who have waited for a thread for so long [s].
_LONG_SECONDS = 2.0
#: How long a connection is still read that the service has closed on its side [s]: closed at once, it would lose its answer.
_PARTING_SECONDS = 2.0

_log = logging.getLogger(__name__)


class Worker(RefusingWorker):
    """gunicorn's worker with threads; its loop takes heads in, and sees closed connections off.

    A thread that has answered gives the connection back to the poller itself, where it is kept: gunicorn's own wakes the loop
    for that. What ends otherwise is the loop's.
    """

    def init_process(self) -> None:
        """Begin."""
        # Asked for some dozens of times in each request, and each time looked for among all that can be set.
        self.cfg.__dict__.update({name: setting.get() for name, setting in self.cfg.settings.items()})
        #: Held by who keeps a connection, and by who ends those that are kept.
        self._keeping = Lock()
        self._patience_seconds = Settings.from_environment().read_timeout_seconds
        #: Since when each call waits for a thread.
        self._waiting: deque[float] = deque()
        self._parting: deque[Any] = deque()
        super().init_process()

    def enqueue_req(self, conn: Any) -> None:
        """Give a connection a thread once the head of its request has come; until then it keeps none."""
        if not conn.initialized:
            conn.sock = PatientSocket(conn.sock, self._patience_seconds, self._others_wait)
            conn.init()
        if _head_has_come(conn):
            self._hand_over(conn)
            return
        seconds = self._patience_seconds if self.alive else min(self._patience_seconds, STOP_KEEPALIVE_LINGER)
        conn.timeout = monotonic() + seconds
        self.pending_conns.append(conn)
        self.poller.register(conn.sock, selectors.EVENT_READ, partial(self.on_pending_socket_readable, conn))

    def on_pending_socket_readable(self, conn: Any, client: socket.socket) -> None:
        """Take in more of a head."""
        if _head_has_come(conn):
            self.poller.unregister(client)
            self.pending_conns.remove(conn)
            self._hand_over(conn)

    def handle(self, conn: Any) -> Any:
        """Answer a request, in a thread."""
        self._waiting.popleft()
        conn.sock.begin()
        return super().handle(conn)

    def finish_request(self, conn: Any, fs: Future[Any]) -> None:
        """Keep a connection, or part with it without waiting for its other end."""
        error = fs.exception()
        if error is not None:
            # gunicorn's own raises it again here, in the main thread, where it ends the worker or all of the service.
            _log.error("a call ended its thread", exc_info=error)
        if error is None and fs.result():
            super().finish_request(conn, fs)
        else:
            self._part(conn)

    def murder_keepalived(self, force: bool = False) -> None:  # noqa: FBT001, FBT002  gunicorn's own
        """Close what no request came on for long enough."""
        with self._keeping:
            super().murder_keepalived(force)

    def murder_pending(self) -> None:
        """Close what has been waited for long enough: heads, and connections that others have still to close."""
        super().murder_pending()
        while self._parting and self._parting[0].timeout <= monotonic():
            self._end(self._parting[0])

    def _cap_keepalive(self, deadline: float) -> None:
        """Wait no longer for a next request, nor for a head, when the worker stops."""
        with self._keeping:
            super()._cap_keepalive(deadline)
        for conn in self.pending_conns:
            conn.timeout = min(conn.timeout, deadline)

    def may_keep(self) -> bool:
        """Tell whether the thread that has made a call may keep its connection itself."""
        return True

    def _hand_over(self, conn: Any) -> None:
        self._waiting.append(monotonic())
        self.tpool.take(partial(self._serve, conn))

    def _serve(self, conn: Any) -> None:
        """Answer a request, in a thread, and keep the connection or leave it to the loop."""
        try:
            answered = self.handle(conn)
            if answered is True and self.may_keep() and self._is_kept(conn):
                return
            done = _ended(answered)
        except BaseException as error:  # noqa: BLE001  the loop is told
            done = _ended(error=error)
        self.method_queue.defer(self.finish_request, conn, done)

    def _is_kept(self, conn: Any) -> bool:
        """Keep a connection, unless the worker stops, or has the next request already."""
        with self._keeping:
            if not self.alive or conn.parser.unreader.buf.getvalue():
                return False
            conn.set_timeout()
            # Before it is polled: the loop takes it out where something comes.
            self.keepalived_conns.append(conn)
            try:
                self.poller.register(conn.sock, selectors.EVENT_READ, partial(self.on_client_socket_readable, conn))
            except BaseException:
                self.keepalived_conns.remove(conn)
                raise
            return True

    def _others_wait(self) -> bool:
        try:
            return monotonic() - self._waiting[0] > _LONG_SECONDS
        except IndexError:
            return False

    def _part(self, conn: Any) -> None:
        """Say that nothing more is sent, and read for a while."""
        try:
            conn.sock.shutdown(socket.SHUT_WR)
        except OSError:  # the other end is gone, or the server closed this one where an answer broke off
            self._close(conn)
            return
        conn.timeout = monotonic() + _PARTING_SECONDS
        self._parting.append(conn)
        self.poller.register(conn.sock, selectors.EVENT_READ, partial(self._see_off, conn))

    def _see_off(self, conn: Any, _client: socket.socket) -> None:
        if conn.sock.arrived(_HEAD_BYTES) == b"":
            self._end(conn)

    def _end(self, conn: Any) -> None:
        self._parting.remove(conn)
        self.poller.unregister(conn.sock)
        self._close(conn)

    def _close(self, conn: Any) -> None:
        self.nr_conns -= 1
        conn.close()


def _ended(answered: Any = None, error: BaseException | None = None) -> Future[Any]:
    """Return what gunicorn's loop is told of a call that is over."""
    done: Future[Any] = Future()
    if error is None:
        done.set_result(answered)
    else:
        done.set_exception(error)
    return done


def _head_has_come(conn: Any) -> bool:
    """Take in what has come of a head; tell whether it is all there, more than is taken in, or all that there will be."""
    unreader = conn.parser.unreader
    held = unreader.take_buffered()
    come = None if _is_head(held) else conn.sock.arrived(_HEAD_BYTES)
    held += come or b""
    unreader.unread(held)
    return come == b"" or _is_head(held)


def _is_head(held: bytes) -> bool:
    return len(held) >= _HEAD_BYTES or b"\r\n\r\n" in held.lstrip(b"\r\n")
