"""A caller with some keep-alive connections, each with one request at a time on its way."""

import selectors
import socket
import threading
import time
from dataclasses import dataclass
from http.client import HTTPResponse

#: What is taken of a connection at a time.
TAKEN = bytearray(1 << 18)


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


def answered(port, sent):
    """Return the status and length of one answer, which is read to its end."""
    with connection(port) as made:
        made.sendall(sent)
        return received(made)


def answered_meanwhile(port, sent):
    """Return the same of one that is sent while the request is read."""
    with connection(port) as made:
        sender = threading.Thread(target=made.sendall, args=(sent,))
        sender.start()
        answer = HTTPResponse(made, method="POST")
        answer.begin()
        length = 0
        while taken := answer.readinto(TAKEN):
            length += taken
        sender.join()
        return answer.status, length


def received(made):
    """Read one answer; return its status and its whole length. It is not kept: that would be the caller's time."""
    held = b""
    while b"\r\n\r\n" not in held:
        held += made.recv(len(TAKEN)) or _broken_off()
    head, _, body = held.partition(b"\r\n\r\n")
    told = dict(line.lower().split(b": ", 1) for line in head.split(b"\r\n")[1:])
    length = int(told[b"content-length"])
    missing = length - len(body)
    while missing > 0:
        missing -= made.recv_into(TAKEN) or _broken_off()
    return int(head.split(b" ", 2)[1]), len(head) + 4 + length


def _broken_off():
    raise ConnectionError("the server closed a connection in mid-answer")


def measure(port, sent, *, connections, seconds):
    """Post one message over and over; every answer has to be a 200 as long as the first."""
    sockets = [connection(port) for _ in range(connections)]
    selector = selectors.DefaultSelector()
    for made in sockets:
        made.sendall(sent)
        status, length = received(made)
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
            got[made] += made.recv_into(TAKEN) or _broken_off()
            if got[made] >= length:
                assert got[made] == length, "an answer of another length"
                now = clock()
                times.append(now - begun[made])
                got[made], begun[made] = 0, now
                made.sendall(sent)
    return Measured(len(times) / (now - start), sorted(times))
