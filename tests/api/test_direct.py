"""The short way of a call, held against the framework's: the same answers, refusals, headers and records."""

import logging
from dataclasses import replace
from datetime import date

import orjson
import pytest
from werkzeug.datastructures import Headers

from platemargin_api.app import create_app
from platemargin_api.calculation import Deprecation
from platemargin_api.direct import _SENT, _TAKEN, is_enough
from platemargin_api.headers import Head
from platemargin_api.keys import new_key, stanza
from platemargin_api.registry import Registry, RegistryError, Served, load_registry
from platemargin_api.responding import Response
from platemargin_api.settings import Settings

REGISTRY = load_registry()
EXAMPLES = {name: dict(served.offered.example) for name, served in REGISTRY.calculations.items()}
#: What clients seldom write, so that the framework reads it; it says no more than none does.
THROUGH_FRAMEWORK = {"Accept": "application/json;q=0.9"}


@pytest.fixture(scope="module")
def application():
    return create_app(REGISTRY)


def told(application, calculation, body, *, media="application/json", **headers):
    """Return the status, the body and the headers but for the request's id."""
    sent = Headers({"Content-Type": media, **{name.replace("_", "-"): value for name, value in headers.items()}})
    data = body if isinstance(body, bytes) else orjson.dumps(body)
    response = application.test_client().post(f"/v1/calculations/{calculation}", data=data, headers=sent)
    assert response.headers.pop("X-Request-Id")
    content = response.data
    response.close()
    return response.status_code, content, sorted((name.lower(), value) for name, value in response.headers.items())


@pytest.fixture
def framework_is_out(application, monkeypatch):
    """Have the framework refuse whatever it is asked."""

    def asked(*_):
        raise AssertionError("the framework was asked")

    monkeypatch.setattr(application, "request_context", asked)


@pytest.mark.parametrize("prefer", ["", "return=minimal", "return=representation", "respond-async, return=minimal"])
@pytest.mark.parametrize("calculation", EXAMPLES)
def test_an_answer_is_the_frameworks(application, calculation, prefer):
    sent = {"Prefer": prefer} if prefer else {}
    ours = told(application, calculation, EXAMPLES[calculation], **sent)
    assert ours == told(application, calculation, EXAMPLES[calculation], **THROUGH_FRAMEWORK, **sent)
    assert ours[0] == 200


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"{",
        b"[]",
        b"{}",
        b"null",
        b'{"original_mm": 10, "plate_mm": 8, "plate_mm": 8, "years_in_service": 3}',
        b'{"original_mm": 1e999, "plate_mm": 8, "years_in_service": 3}',
        b'{"original_mm": 10, "plate_mm": 8, "years_in_service": 3, "colour": "red"}',
        b'{"original_mm": 10, "plate_mm": 8, "pit_depth_mm": 30, "years_in_service": 3}',
        b'{"original_mm": 10, "plate_mm": 8, "years_in_service": "3"}',
        b"\xff",
        b" " * (8 * 1024 * 1024 + 1),
    ],
)
def test_a_refusal_is_the_frameworks(application, body):
    ours = told(application, "plate-margin", body)
    assert ours == told(application, "plate-margin", body, **THROUGH_FRAMEWORK)
    assert 400 <= ours[0] < 500


@pytest.mark.usefixtures("framework_is_out")
@pytest.mark.parametrize("accept", sorted(_TAKEN))
@pytest.mark.parametrize("media", sorted(_SENT))
def test_how_clients_write_it_the_framework_is_not_asked(application, media, accept):
    assert told(application, "plate-margin", EXAMPLES["plate-margin"], media=media, Accept=accept)[0] == 200


@pytest.mark.usefixtures("framework_is_out")
@pytest.mark.parametrize(
    "headers",
    [
        {"Accept": "text/html"},
        {"Accept": "application/json;q=0.9"},
        {"media": "text/csv"},
        {"media": "application/json; charset=latin-1"},
        {"Content_Encoding": "gzip"},
    ],
)
def test_what_is_anything_else_the_framework_is_asked(application, headers):
    with pytest.raises(AssertionError, match="the framework was asked"):
        told(application, "plate-margin", EXAMPLES["plate-margin"], **headers)


@pytest.mark.parametrize(
    "path", ["/v1/calculations/plate-margin/", "/v1/calculations/plate-marginal", "//v1/calculations/plate-margin"]
)
def test_another_path_is_another_path(application, path):
    assert application.test_client().post(path, json=EXAMPLES["plate-margin"]).status_code == 404
    assert application.test_client().put("/v1/calculations/plate-margin", json={}).status_code == 405


def test_a_failure_is_told_by_the_framework():
    margin = REGISTRY.calculations["plate-margin"]

    def fails(**columns):
        if (columns["original_mm"] == 31).any():
            raise ZeroDivisionError
        return margin.offered.run(**columns)

    broken = Served(replace(margin.offered, run=fails), margin.distribution)
    application = create_app(Registry({"plate-margin": broken}, REGISTRY.rule_sets))
    body = {**EXAMPLES["plate-margin"], "original_mm": 31}
    ours = told(application, "plate-margin", body)
    assert ours == told(application, "plate-margin", body, **THROUGH_FRAMEWORK)
    assert (ours[0], orjson.loads(ours[1])["type"]) == (500, "/problems/calculation-failed")


@pytest.mark.parametrize("body", [EXAMPLES["plate-margin"], {}])
def test_one_line_is_kept_and_it_is_the_frameworks(application, caplog, body):
    caplog.set_level(logging.INFO, "platemargin_api.watch")
    for headers in ({}, THROUGH_FRAMEWORK):
        told(application, "plate-margin", body, X_Request_Id="one", **headers)
    ours, theirs = ({**record.told, "ms": 0} for record in caplog.records)
    assert ours == theirs


def test_a_header_that_http_does_not_have_is_refused_at_the_start():
    margin = REGISTRY.calculations["plate-margin"]
    told_of = Deprecation(deprecated_on=date(2027, 1, 1), sunset_on=date(2028, 1, 1), successor="a\r\nSet-Cookie: b")
    odd = Served(replace(margin.offered, deprecation=told_of), margin.distribution)
    with pytest.raises(RegistryError, match="the header Link cannot be sent"):
        create_app(Registry({"plate-margin": odd}, REGISTRY.rule_sets))


def test_where_keys_are_asked_for_every_call_is_the_frameworks(tmp_path):
    file = tmp_path / "keys.toml"
    file.write_text(stanza("ours", new_key(), expires=None, calculations=(), per_minute=None))
    settings = Settings(key_file=file)
    assert not is_enough(settings)
    assert told(create_app(REGISTRY, settings), "plate-margin", EXAMPLES["plate-margin"])[0] == 401


def test_pages_of_listed_origins_are_told_of_by_the_framework():
    settings = Settings(cors_origins=("https://boats.example",))
    _, _, headers = told(create_app(REGISTRY, settings), "plate-margin", {}, Origin="https://boats.example")
    assert ("access-control-allow-origin", "https://boats.example") in headers


class Sent:
    """What goes over a connection, in the parts in which it is handed over."""

    def __init__(self):
        self.parts = []

    def sendall(self, content):
        self.parts.append(bytes(content))


class Asked:
    version, method = (1, 1), "POST"

    def should_close(self):
        return False


class Nothing:
    protocol = "http"


def responded(headers, *body, method="POST"):
    sent, asked = Sent(), Asked()
    asked.method = method
    response = Response(asked, sent, Nothing())
    response.start_response("200 OK", headers)
    for part in body:
        response.write(part)
    response.close()
    return sent.parts


def test_head_and_body_go_together():
    (part,) = responded(Head({"Content-Type": "text/plain"}.items(), [("Content-Length", "4")], 4), b"told")
    head, _, body = part.partition(b"\r\n\r\n")
    assert head.startswith(b"HTTP/1.1 200 OK\r\nServer: ")
    assert head.endswith(b"Connection: keep-alive\r\nContent-Type: text/plain\r\nContent-Length: 4")
    assert body == b"told"
    (same,) = responded([("Content-Type", "text/plain"), ("Content-Length", "4")], b"told")
    assert same.split(b"\r\n")[3:] == part.split(b"\r\n")[3:]


def test_chunks_are_framed_and_a_head_waits_for_none():
    first, second, last = responded([], b"", b"told")
    assert first.endswith(b"Transfer-Encoding: chunked\r\n\r\n")
    assert (second, last) == (b"4\r\ntold\r\n", b"0\r\n\r\n")


def test_a_long_chunk_is_not_copied():
    most, more = b"t" * 65536, b"t" * 65537
    _, framed, *alone = responded([], b"", most, more)
    assert framed == b"10000\r\n" + most + b"\r\n"
    assert alone == [b"10001\r\n", more, b"\r\n", b"0\r\n\r\n"]


def test_an_answer_without_a_body_has_its_head():
    (part,) = responded([("Content-Length", "4")], b"told", method="HEAD")
    assert part.endswith(b"Content-Length: 4\r\n\r\n")
    (part,) = responded([("Content-Length", "0")])
    assert part.endswith(b"Content-Length: 0\r\n\r\n")


@pytest.mark.parametrize("value", ["a\r\nSet-Cookie: b", "a\0"])
def test_what_http_does_not_have_is_refused(value):
    with pytest.raises(Exception, match="X-Told"):
        responded([("X-Told", value)])


def test_a_head_is_a_list_for_every_other_server():
    known = Head([("Vary", "Accept")])
    assert Head(known, [("Content-Length", "4")], 4) == [("Vary", "Accept"), ("Content-Length", "4")]
    assert known == [("Vary", "Accept")]
