"""An answer on its way out: its head goes with the first of its body, and one that is known is not looked at again."""

from __future__ import annotations

from datetime import datetime
from functools import lru_cache
from time import time
from typing import Any

from gunicorn import util
from gunicorn.http import wsgi
from gunicorn.workers.gthread import ThreadWorker

from platemargin_api.headers import Head

__all__ = ["Response", "Worker"]


#: What is put together with its frame as a chunk; to send a longer part by itself takes less time than to copy it.
_COPIED_BYTES = 64 * 1024


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
        told = self.headers.text if isinstance(self.headers, Head) else Head(self.headers).text
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
        framed = (b"%X\r\n" % len(data), data, b"\r\n") if self.chunked else (data,)
        for part in framed if len(data) > _COPIED_BYTES else (b"".join(framed),):
            self._sent_with_head(part)

    def _sent_with_head(self, data: bytes) -> None:
        head, self._head = self._head, b""
        self.sock.sendall(head + data)


class Worker(ThreadWorker):  # type: ignore[misc]  # gunicorn has no types
    """gunicorn's worker with threads, but for how it answers."""

    alive: bool

    def handle_request(self, req: Any, conn: Any) -> bool:
        """Have the application answer; tell whether the connection is kept."""
        self.cfg.pre_request(self, req)
        begun = datetime.now()  # noqa: DTZ005  gunicorn's log asks how long it took
        response, environ = wsgi.create(req, conn.sock, conn.client, conn.server, self.cfg, response_class=Response)
        environ["wsgi.multithread"] = True
        if self._is_the_last():
            response.force_close()
        try:
            self._answer(response, environ)
        except OSError:
            raise
        except (Exception, SystemExit) as error:
            if not response.headers_sent:
                raise
            # A refusal would be taken for a part of the answer.
            self.log.exception("Error handling request")
            util.close_graceful(conn.sock)
            raise StopIteration from error
        finally:
            self.log.access(response, req, environ, datetime.now() - begun)  # noqa: DTZ005
            try:
                self.cfg.post_request(self, req, environ, response)
            except Exception:
                self.log.exception("Exception in post_request hook")
        return not response.should_close()

    def _is_the_last(self) -> bool:
        """Count a request; tell whether its connection is closed after it."""
        self.nr += 1
        if self.nr >= self.max_requests and self.alive:
            self.log.info("Autorestarting worker after current request.")
            self.alive = False
        return not self.alive or not self.cfg.keepalive or len(self.keepalived_conns) >= self.max_keepalived

    def _answer(self, response: Response, environ: dict[str, Any]) -> None:
        parts = self.wsgi(environ, response.start_response)
        try:
            for part in parts:
                response.write(part)
            response.close()
        finally:
            if hasattr(parts, "close"):
                parts.close()


@lru_cache(maxsize=2)
def _date(second: int) -> str:
    return str(util.http_date(second))
