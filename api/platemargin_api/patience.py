"""A connection that is waited for, but not for ever: what a thread reads a request from, and writes its answer to."""

from __future__ import annotations

import errno
import select
import socket
from collections.abc import Callable
from time import monotonic

__all__ = ["PatientSocket"]

#: How often it is asked whether others wait [s].
_LOOK_SECONDS = 0.1
#: What ends a call while others wait: a pause of so long [s], or so few bytes a second once it was waited for so long [s].
#: Common practice, no source: a slow telephone is several times as fast.
_PAUSE_SECONDS, _BYTES_PER_SECOND, _SLOW_SECONDS = 0.5, 4096, 1.0
#: As a plain number: its own type takes longer to be joined with another than the call that it is for.
_DONTWAIT = int(socket.MSG_DONTWAIT)


class PatientSocket(socket.socket):
    """A connection whose other end may pause for some seconds, and for less while others wait for the thread that it keeps.

    Parameters
    ----------
    taken : socket
        The connection, which is taken over.
    patience_seconds : int
        The longest pause.
    others_wait : callable
        Tells whether others have waited for a thread for long.
    """

    def __init__(self, taken: socket.socket, patience_seconds: int, others_wait: Callable[[], bool]) -> None:
        super().__init__(taken.family, taken.type, taken.proto, fileno=taken.detach())
        self._patience_seconds = patience_seconds
        self._others_wait = others_wait
        self._most_seconds: float | None = None
        self.begin()

    def begin(self) -> None:
        """Begin a request: its pace is its own."""
        self._waited_seconds, self._moved_bytes = 0.0, 0

    def gettimeout(self) -> float | None:
        """Return what the server bounds a pause by, beside what this does."""
        return self._most_seconds

    def settimeout(self, value: float | None) -> None:
        """Bound a pause; the socket itself never waits."""
        self._most_seconds = value

    def setblocking(self, flag: bool) -> None:  # noqa: FBT001  the socket's own
        """Leave it as it is: nothing here depends on it."""

    def arrived(self, size: int) -> bytes | None:
        """Return what has come, without waiting: nothing where the other end is gone, None where nothing has come."""
        try:
            return super().recv(size, _DONTWAIT)
        except BlockingIOError:
            return None
        except OSError:
            return b""

    def recv(self, size: int, flags: int = 0) -> bytes:
        """Return what comes next.

        Raises
        ------
        TimeoutError
            Where nothing comes for too long, or too little while others wait.
        """
        while True:
            try:
                content = super().recv(size, flags | _DONTWAIT)
            except BlockingIOError:
                self._wait(select.POLLIN)
            else:
                self._moved_bytes += len(content)
                return content

    def send(self, content: bytes | memoryview, flags: int = 0) -> int:  # type: ignore[override]  # bytes are all that is sent
        """Send what there is room for, once there is some; return how much it was.

        Raises
        ------
        TimeoutError
            As `sendall`.
        """
        while True:
            try:
                sent = super().send(content, flags | _DONTWAIT)
            except BlockingIOError:
                self._wait(select.POLLOUT)
            else:
                self._moved_bytes += sent
                return sent

    def sendall(self, content: bytes, flags: int = 0) -> None:  # type: ignore[override]  # the same
        """Send everything.

        Raises
        ------
        TimeoutError
            Where nothing of it is taken for too long, or too little while others wait.
        """
        rest = memoryview(content)
        while rest:
            rest = rest[self.send(rest, flags) :]

    def _wait(self, event: int) -> None:
        most = self._patience_seconds if self._most_seconds is None else min(self._most_seconds, self._patience_seconds)
        ready = select.poll()
        ready.register(self, event)
        begun, is_ready = monotonic(), False
        while not is_ready:
            is_ready = bool(ready.poll(1000 * _LOOK_SECONDS))
            paused = monotonic() - begun
            if not is_ready and paused >= most:
                raise _stalled(f"Nothing of the body came for {most:.0f} s")
            if self._is_slow(paused) and self._others_wait():
                raise _stalled("The body came too slowly while others waited")
        self._waited_seconds += monotonic() - begun

    def _is_slow(self, paused: float) -> bool:
        waited = self._waited_seconds + paused
        return paused >= _PAUSE_SECONDS or (waited >= _SLOW_SECONDS and self._moved_bytes < _BYTES_PER_SECOND * waited)


def _stalled(says: str) -> TimeoutError:
    # With any other number the server takes it for a failure of its own, and logs it.
    return TimeoutError(errno.ECONNRESET, says)
