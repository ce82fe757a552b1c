"""An answer on its way out: its head goes with the first of its body, and one that is known is not looked at again."""

from __future__ import annotations

from functools import lru_cache
from time import time
from typing import Any

from gunicorn import util
from gunicorn.http import wsgi

__all__ = ["Head", "Response"]


class Head(list[tuple[str, str]]):
    """Header fields of which it is known that HTTP has them so: every server takes them as a list, ours sends them as they are.

    Parameters
    ----------
    known : Head or sequence of pairs
        What many answers say.
    more : sequence of pairs
        What this one says.
    length : int
        That of the body.
    """

    def __init__(self, known: Any, more: Any = (), length: int | None = None) -> None:
        super().__init__((*known, *more))
        told = "".join([f"{name}: {value}\r\n" for name, value in more])
        self.text: str = known.text + told if isinstance(known, Head) else _text(known) + told
        self.length = length


def _text(pairs: Any) -> str:
    return "".join(f"{name}: {value}\r\n" for name, value in pairs)


class Response(wsgi.Response):  # type: ignore[misc]  # gunicorn has no types
    """gunicorn's answer over HTTP/1."""

    headers_sent: bool
    _head = b""

    def process_headers(self, headers: Any) -> None:
        """Take header fields; refuse those that HTTP does not have, and leave out those that are the server's to say."""
        if isinstance(headers, Head):
            self.headers, self.response_length = headers, headers.length
        else:
            super().process_headers(headers)

    def default_headers(self) -> list[str]:
        """Return the lines that the server says itself."""
        lines: list[str] = [
            f"HTTP/{self.req.version[0]}.{self.req.version[1]} {self.status}\r\n",
            f"Server: {self.version}\r\n",
            f"Date: {_date(int(time()))}\r\n",
            f"Connection: {'upgrade' if self.upgrade else 'close' if self.should_close() else 'keep-alive'}\r\n",
        ]
        return [*lines, "Transfer-Encoding: chunked\r\n"] if self.chunked else lines

    def send_headers(self) -> None:
        """Make the head, which is sent with what comes next."""
        if self.headers_sent:
            return
        told = self.headers.text if isinstance(self.headers, Head) else _text(self.headers)
        self._head = "".join([*self.default_headers(), told, "\r\n"]).encode("latin-1")
        self.headers_sent = True

    def write(self, arg: bytes) -> None:
        """Send a part of the body; where there is nothing of it yet, the head."""
        super().write(arg)
        self._send_the_head_alone()

    def close(self) -> None:
        """Send what is left: of an answer without a body the head, of one in chunks the last."""
        self.send_headers()
        self._send_the_head_alone()
        super().close()

    def _send_the_head_alone(self) -> None:
        if self._head:
            self._sent_with_head(b"")

    def _emit_body(self, data: bytes) -> None:
        self._sent_with_head(b"%X\r\n%b\r\n" % (len(data), data) if self.chunked else data)

    def _sent_with_head(self, data: bytes) -> None:
        head, self._head = self._head, b""
        self.sock.sendall(head + data)


@lru_cache(maxsize=2)
def _date(second: int) -> str:
    return str(util.http_date(second))
