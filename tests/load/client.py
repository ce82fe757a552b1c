"""A caller with some keep-alive connections, each with one request at a time on its way."""

import selectors
import socket
import time
from dataclasses import dataclass


@dataclass(frozen=True)
class Measured:
    """Answers a second, and how long each took [s], in order."""

    rate: float
    times: list[float]

    def percentile(self, share: float) -> float:
        return self.times[min(int(len(self.times) * share), len(self.times) - 1)]


def message(path, body, headers=(), *, content_type="application/json"):
    lines = [f"POST {path} HTTP/1.1", "Host: localhost", f"Content-Type: {content_type}", f"Content-Length: {len(body)}"]
    return "\r\n".join([*lines, *headers, "", ""]).encode() + body


def connection(port):
    made = socket.create_connection(("127.0.0.1", port))
    made.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    return made


def answer(port, sent):
    """Return the status and the body of one answer; the connection stays out of it."""
    with connection(port) as made:
        made.sendall(sent)
        return received(made)[:2]


def received(made):
    """Read one answer; return its status, its body and its whole length."""
    held = b""
    while b"\r\n\r\n" not in held:
        held += _some(made)
    head, _, body = held.partition(b"\r\n\r\n")
    told = dict(line.lower().split(b": ", 1) for line in head.split(b"\r\n")[1:])
    length, parts = int(told[b"content-length"]), [body]
    missing = length - len(body)
    while missing > 0:
        parts.append(_some(made))
        missing -= len(parts[-1])
    body = b"".join(parts)
    return int(head.split(b" ", 2)[1]), body, len(head) + 4 + length


def _some(made):
    more = made.recv(1 << 18)
    if not more:
        raise ConnectionError("the server closed a connection in mid-answer")
    return more


def measure(port, sent, *, connections, seconds):
    """Post one message over and over; every answer has to be a 200 as long as the first."""
    sockets = [connection(port) for _ in range(connections)]
    selector = selectors.DefaultSelector()
    for made in sockets:
        made.sendall(sent)
        status, _, length = received(made)
        assert status == 200, f"answered {status}"
        selector.register(made, selectors.EVENT_READ)
    try:
        return _loop(selector, sockets, sent, length, seconds)
    finally:
        selector.close()
        for made in sockets:
            made.close()


def _loop(selector, sockets, sent, length, seconds):
    clock, times, got = time.perf_counter, [], dict.fromkeys(sockets, 0)
    begun = {made: clock() for made in sockets}
    for made in sockets:
        made.sendall(sent)
    start, end = clock(), clock() + seconds
    while (now := clock()) < end:
        for key, _ in selector.select(1):
            made = key.fileobj
            got[made] += len(_some(made))
            if got[made] >= length:
                assert got[made] == length, "an answer of another length"
                now = clock()
                times.append(now - begun[made])
                got[made], begun[made] = 0, now
                made.sendall(sent)
    return Measured(len(times) / (now - start), sorted(times))
