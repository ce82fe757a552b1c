"""What is no request, and what every answer has, through the real server: a problem, security headers, nothing in the log."""

import io
import json
import socket
from http.client import HTTPResponse
from types import SimpleNamespace

import pytest

from platemargin_api.pages import _assets

SECURITY = {"X-Content-Type-Options", "Content-Security-Policy", "Referrer-Policy", "Cross-Origin-Resource-Policy"}
HOST = b"Host: boats.example\r\n"
NO_REQUEST = {
    "no HTTP": (b'{"name": "secret boat"}\r\n\r\n', 400),
    "a survey's rest behind a length that is too short": (
        b"POST /v1/calculations/plate-margin HTTP/1.1\r\n" + HOST + b"Content-Length: 2\r\n\r\n{}secret boat: 9.8765\r\n\r\n",
        400,
    ),
    "another version": (b"GET /secret HTTP/9.8\r\n" + HOST + b"\r\n", 400),
    "a header without a colon": (b"GET / HTTP/1.1\r\n" + HOST + b"Authorization secret\r\n\r\n", 400),
    "a header's name with a blank": (b"GET / HTTP/1.1\r\n" + HOST + b"Authorization : secret\r\n\r\n", 400),
    "two lengths": (b"POST / HTTP/1.1\r\n" + HOST + b"Content-Length: 6\r\nContent-Length: 7\r\n\r\nsecret", 400),
    "a length and chunks": (
        b"POST / HTTP/1.1\r\n" + HOST + b"Content-Length: 6\r\nTransfer-Encoding: chunked\r\n\r\nsecret",
        400,
    ),
    "another coding": (b"POST / HTTP/1.1\r\n" + HOST + b"Transfer-Encoding: secret\r\n\r\n", 501),
    "a long line": (b"GET /secret" + b"x" * 5000 + b" HTTP/1.1\r\n" + HOST + b"\r\n", 414),
    "a long header": (b"GET / HTTP/1.1\r\n" + HOST + b"X: secret" + b"x" * 9000 + b"\r\n\r\n", 431),
    "many headers": (b"GET / HTTP/1.1\r\n" + HOST + b"X: secret\r\n" * 150 + b"\r\n", 431),
    "another expectation": (b"POST / HTTP/1.1\r\n" + HOST + b"Content-Length: 6\r\nExpect: secret\r\n\r\n", 417),
}


class Reader(io.BufferedReader):
    """What is read of a connection; an answer that has been read to its end does not close it."""

    def close(self):
        pass


def answers(connection):
    """Return each answer that comes until the connection is closed, with its body."""
    told = []
    # One for all: with the end of an answer the next may be read already.
    reader = Reader(socket.SocketIO(connection, "r"))
    while True:
        response = HTTPResponse(SimpleNamespace(makefile=lambda _: reader))
        try:
            response.begin()
        except ConnectionError:
            return told
        told.append((response, response.read()))
        if response.getheader("Connection") == "close":
            assert reader.read(1) == b""
            return told


@pytest.mark.parametrize(("sent", "status"), NO_REQUEST.values(), ids=NO_REQUEST)
def test_what_is_no_request_is_refused_as_everything_else_is(server, sent, status):
    logged = (server.folder / "log").stat().st_size
    with server.connect() as connection:
        connection.sendall(sent)
        response, body = answers(connection)[-1]
    assert response.status == status
    assert set(response.headers.keys()) >= SECURITY
    assert response.getheader("Content-Type") == "application/problem+json"
    problem = json.loads(body)
    assert (problem["type"], problem["status"], problem["title"]) == ("about:blank", status, response.reason)
    assert b"secret" not in body
    with (server.folder / "log").open() as log:
        log.seek(logged)
        lines = [json.loads(line) for line in log]  # all of them JSON: none is the server's own
    assert (lines[-1]["event"], lines[-1]["status"]) == ("no request", status)
    assert "secret" not in json.dumps(lines)
    assert "9.8765" not in json.dumps(lines)


def test_the_server_goes_on_after_all_of_them(server):
    for sent, _ in NO_REQUEST.values():
        with server.connect() as connection:
            connection.sendall(sent)
    with server.connect() as connection:
        connection.sendall(b"GET /health/ready HTTP/1.1\r\n" + HOST + b"Connection: close\r\n\r\n")
        ((response, _),) = answers(connection)
    assert response.status == 200


PATHS = {
    "/": 200,
    "/docs": 200,
    **{f"/assets/{name}": 200 for name in _assets() if name.startswith(("docs", "swagger-ui"))},
    "/assets/nothing.js": 404,
    "/demo/survey": 200,
    "/demo/report": 200,
    "/demo/plate-map": 200,
    "/openapi.json": 200,
    "/health/live": 200,
    "/health/ready": 200,
    "/metrics": 200,
    "/v1/calculations": 200,
    "/v1/rule-sets/none": 404,
    "/v1/calculations/plate-margin/": 404,
    "//v1/calculations": 200,
    "/problems/busy": 200,
    "/%00": 404,
    "/..%2f..%2fetc/passwd": 404,
}


@pytest.mark.parametrize(("path", "status"), PATHS.items())
@pytest.mark.parametrize("method", ["GET", "HEAD", "OPTIONS", "DELETE", "SECRET"])
def test_every_answer_keeps_browsers_from_guessing_framing_and_running(server, path, status, method):
    with server.connect() as connection:
        connection.sendall(f"{method} {path} HTTP/1.1\r\n".encode() + HOST + b"Connection: close\r\n\r\n")
        response = HTTPResponse(connection, method=method)
        response.begin()
        response.read()
    expected = {"GET": {status}, "HEAD": {status}, "OPTIONS": {200, 404}}.get(method, {404, 405})
    assert response.status in expected
    assert set(response.headers.keys()) >= SECURITY
    policy = response.getheader("Content-Security-Policy")
    assert policy.startswith("default-src 'none'; ")
    assert "unsafe-eval" not in policy
    assert response.getheader("X-Content-Type-Options") == "nosniff"
