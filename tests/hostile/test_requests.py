"""Requests that are wrong as HTTP, or mean harm: each has its 4xx or a closed connection, and the next call its answer."""

import gzip
import struct
from dataclasses import dataclass

import pytest
from wire import ARROW, NDJSON, PATH, PLATE, head, post

#: What the largest worker may have held more at most while everything below was sent to it, in MB. A body of 8 MB that is
#: nothing but small values is some thirty times as large once it is read, and each worker has four threads.
MOST_MB = 400
JSON = "Content-Type: application/json"
CHUNKED = "Transfer-Encoding: chunked"
GET = "GET /health/live HTTP/1.1"
WHOLE = b"%x\r\n%s\r\n0\r\n\r\n" % (len(PLATE), PLATE)
LAST = head("Connection: close", line=GET)


@dataclass(frozen=True)
class Sent:
    """What is sent, which statuses are answered, and what of the last answer's words has to be there."""

    content: bytes
    statuses: tuple[int, ...]
    says: str = ""
    #: Whether no more of it comes.
    over: bool = False


def line(told):
    return Sent(head(line=told), (400,))


def field(told, status=400):
    return Sent(head(JSON, told, f"Content-Length: {len(PLATE)}") + PLATE, (status,))


def chunks(content, *statuses):
    """A body in chunks, and a request after it: a second answer would show that what is in the first was taken for it."""
    return Sent(head(JSON, CHUNKED) + content + LAST, statuses)


def body(content, status=400, says="", media="application/json"):
    return Sent(post(content, "Connection: close", media=media), (status,), says)


HEADS = {
    "no version": Sent(b"GET /health/live\r\n", ()),
    "no version, and an end": Sent(b"GET /health/live\r\n\r\n", (400,)),
    "version 2": line("GET /health/live HTTP/2.0"),
    "the preface of version 2": Sent(b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n" + b"\0\0\0\4\0\0\0\0\0", (400,)),
    "an upgrade to version 2": Sent(head("Upgrade: h2c", "HTTP2-Settings: AAAA", "Connection: Upgrade", line=GET), (200,)),
    "version 1.10": line("GET /health/live HTTP/1.10"),
    "another protocol": Sent(b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + b"\r\n\r\n", (400,)),
    "two blanks": line("GET  /health/live HTTP/1.1"),
    "a tabulator": line("GET\t/health/live HTTP/1.1"),
    "a byte beyond ASCII in the path": line("GET /health/l\xefve HTTP/1.1"),
    "no path": line("GET  HTTP/1.1"),
    "a path without its slash": line("GET health/live HTTP/1.1"),
    "CONNECT": Sent(head(line="CONNECT here:80 HTTP/1.1"), (404,)),
    "a small method": line("get /health/live HTTP/1.1"),
    "a long path": Sent(head(line=f"GET /{'x' * 4094} HTTP/1.1"), (414,)),
    "a path of 1 MB": Sent(head(line=f"GET /{'x' * 1_000_000} HTTP/1.1"), (414,)),
    "a path without an end": Sent(b"GET /" + b"x" * 70_000, (414,)),
    "no host": Sent(head(line=GET, host=None), (400,)),
    "two hosts": Sent(head("Host: there", line=GET), (400,)),
    "a host that is none": Sent(head(line=GET, host="Host: a b/c"), (400,)),
    "101 headers": Sent(head(*[f"X-{number}: 1" for number in range(101)], line=GET), (431,)),
    "100,000 headers": Sent(head(*[f"X-{number}: 1" for number in range(100_000)], line=GET), (431,)),
    "a long header": Sent(head(f"X: {'x' * 8190}", line=GET), (431,)),
    "a header of 1 MB": Sent(head(f"X: {'x' * 1_000_000}", line=GET), (431,)),
    "a header without an end": Sent(b"GET / HTTP/1.1\r\nX: " + b"x" * 900_000, (431,)),
    "a header of nothing but its end": Sent(b"\r\n" * 1000, ()),
    "bare line feeds": Sent(head(line=GET).replace(b"\r\n", b"\n"), ()),
    "a bare carriage return": Sent(head("X: 1\rContent-Length: 9", line=GET), (400,)),
    "NUL in a header": Sent(head("X: a\0b", line=GET), (400,)),
    "a blank before the colon": field("Transfer-Encoding : chunked"),
    "a blank before the first header": Sent(head(line=GET, host=" Host: here"), (400,)),
    "a folded header": field("X: 1\r\n folded"),
    "a header without a colon": field("Authorization"),
    "a header without a name": field(": 1"),
    "a name beyond ASCII": field("Content-L\xe9ngth: 1"),
    "another expectation": field("Expect: something", 417),
}
FRAMES = {
    "length and chunks": Sent(head(JSON, "Content-Length: 4", CHUNKED) + WHOLE + LAST, (400,)),
    "chunks and length": Sent(head(JSON, CHUNKED, f"Content-Length: {len(WHOLE)}") + WHOLE + LAST, (400,)),
    "two lengths": Sent(head(JSON, f"Content-Length: {len(PLATE)}", "Content-Length: 4") + PLATE + LAST, (400,)),
    "two lengths in one": Sent(head(JSON, f"Content-Length: {len(PLATE)}, 4") + PLATE + LAST, (400,)),
    "a negative length": field("Content-Length: -1"),
    "a length with a sign": Sent(head(JSON, f"Content-Length: +{len(PLATE)}") + PLATE, (400,)),
    "a length in hexadecimal": Sent(head(JSON, "Content-Length: 0x3") + PLATE, (400,)),
    "a length with a blank in it": Sent(head(JSON, "Content-Length: 5 6") + PLATE, (400,)),
    "a length in other digits": Sent(head(JSON, "Content-Length: \xb2") + PLATE, (400,)),
    "a length of 10,000 digits": Sent(head(JSON, f"Content-Length: {'9' * 10_000}") + PLATE, (431,)),
    "a length of 5,000 digits": Sent(head(JSON, f"Content-Length: {'9' * 5_000}") + PLATE, (400,)),
    "a length beyond the body": Sent(head(JSON, f"Content-Length: {len(PLATE) + 9}") + PLATE, (408,)),
    "a length beyond a body that is over": Sent(head(JSON, f"Content-Length: {len(PLATE) + 9}") + PLATE, (400,), over=True),
    "a length short of the body": Sent(post(PLATE) + b"}garbage\r\n\r\n", (200, 400)),
    "no length": Sent(head(JSON) + PLATE + b"\r\n\r\n", (400, 400)),
    "a coding twice": Sent(head(JSON, CHUNKED, CHUNKED) + WHOLE, (400,)),
    "an unknown coding": Sent(head(JSON, "Transfer-Encoding: xchunked") + WHOLE, (501,)),
    "a coding before another": Sent(head(JSON, "Transfer-Encoding: chunked, identity") + WHOLE, (400,)),
    "a coding with a vertical tabulator": Sent(head(JSON, "Transfer-Encoding: \x0bchunked") + WHOLE, (400,)),
    "a coding that is folded": Sent(head(JSON, "Transfer-Encoding:\r\n chunked") + WHOLE, (400,)),
    "a coding in quotes": Sent(head(JSON, 'Transfer-Encoding: "chunked"') + WHOLE, (501,)),
    "chunks in version 1.0": Sent(head(JSON, CHUNKED, line=f"POST {PATH} HTTP/1.0") + WHOLE, (400,)),
    "an underscore for the hyphen": Sent(head(JSON, "Content_Length: 4", f"Content-Length: {len(PLATE)}") + PLATE, (200,)),
    "compressed chunks": Sent(head(JSON, "Transfer-Encoding: gzip, chunked") + WHOLE, (501,)),
    "compressed chunks, in two headers": Sent(head(JSON, "Transfer-Encoding: gzip", CHUNKED) + WHOLE, (501,)),
    "good chunks": chunks(WHOLE, 200, 200),
    "a chunk's extension": chunks(WHOLE.replace(b"\r\n", b";a=b\r\n", 1), 200, 200),
    "a chunk's extension of 100,000 bytes": chunks(WHOLE.replace(b"\r\n", b";a=" + b"b" * 100_000 + b"\r\n", 1), 400),
    "a chunk's extension that hides a line": chunks(WHOLE.replace(b"\r\n", b";a\n0\r\n", 1), 400),
    "a negative chunk": chunks(b"-" + WHOLE, 400),
    "a chunk in hexadecimal, and said so": chunks(b"0x" + WHOLE, 400),
    "a chunk with an underscore": chunks(b"0_" + WHOLE, 400),
    "a chunk of 2^80 bytes": chunks(b"1" + b"0" * 20 + b"\r\n" + PLATE, 408),
    "a chunk longer than it says": chunks(WHOLE.replace(b"}\r\n", b"}}\r\n"), 400),
    "chunks with bare line feeds": chunks(WHOLE.replace(b"\r\n", b"\n"), 400),
    "no last chunk": Sent(head(JSON, CHUNKED) + WHOLE[:-5], (408,)),
    "no last chunk, and over": Sent(head(JSON, CHUNKED) + WHOLE[:-5], (400,), over=True),
    "a length in the trailer": chunks(WHOLE[:-2] + b"Content-Length: 5\r\n\r\n", 400),
    "a host in the trailer": chunks(WHOLE[:-2] + b"Host: there\r\n\r\n", 400),
    "a trailer": chunks(WHOLE[:-2] + b"X: 1\r\n\r\n", 200, 200),
    "a request within a body that is refused unread": Sent(
        head("Content-Type: text/plain", f"Content-Length: {len(LAST)}") + LAST + LAST, (415, 200)
    ),
    "chunks that are none in a body that is refused unread": Sent(
        head("Content-Type: text/plain", CHUNKED) + b"0x" + WHOLE + LAST, (415,)
    ),
    "a trailer that is none in a body that is refused unread": Sent(
        head("Content-Type: text/plain", CHUNKED) + WHOLE[:-2] + b"Host: there\r\n\r\n" + LAST, (415,)
    ),
}
BODIES = {
    "10 GB declared": Sent(head(JSON, "Content-Length: 10000000000") + b" " * 100_000, (413,)),
    "10 GB in a chunk": Sent(head(JSON, CHUNKED) + b"2540be400\r\n" + b" " * 9_000_000, (413,)),
    "10 GB in one line": Sent(head(f"Content-Type: {NDJSON}", "Content-Length: 10000000000") + b"[" * 30_000_000, (408,)),
    "10 GB in one row": Sent(head("Content-Type: text/csv", "Content-Length: 10000000000") + b"x," * 15_000_000, (408,)),
    "10 GB in columns": Sent(
        head(f"Content-Type: {ARROW}", "Content-Length: 10000000000")
        + struct.pack("<Ii", 0xFFFFFFFF, 2**31 - 1).ljust(300_000),
        (400,),
    ),
    "a gzip bomb": Sent(
        post(gzip.compress(b" " * 10_000_000), "Connection: close", "Content-Encoding: gzip"),
        (415,),
        "Content-Encoding gzip is not read here; send it uncompressed",
    ),
    "two codings": Sent(post(PLATE, "Connection: close", "Content-Encoding: gzip, br"), (415,), "send it uncompressed"),
    "compressed and not said so": body(gzip.compress(PLATE), says="not UTF-8"),
    "100,000 lists deep": body(b"[" * 100_000 + b"]" * 100_000),
    "100,000 objects deep": body(b'{"a":' * 100_000 + b"1" + b"}" * 100_000),
    "100,000 deep with an escape": body(b'{"\\u0061":' * 100_000),
    "8 MB of brackets": body(b"[" * 8_000_000),
    "8 MB of empty lists": body(b"[" + b"[]," * 2_600_000 + b"[]]", says="more than 1,000,000 values"),
    "8 MB of unknown members": body(
        b"{" + b",".join(b'"m%d":1' % number for number in range(500_000)) + b"}", says="more than 1,000 members"
    ),
    "200,000 times one member": body(b"{" + b",".join([b'"plate_mm":1'] * 200_000) + b"}", says="named twice"),
    "a member twice after 200,000 others": body(
        b"{" + b",".join(b'"%d":1' % number for number in range(200_000)) + b',"z":1,"z":2}', says="'z' is named twice"
    ),
    "a member twice": body(PLATE[:-1] + b',"plate_mm":9}', says="named twice"),
    "a member twice, once escaped": body(PLATE[:-1] + b',"plate_m\\u006d":9}', says="named twice"),
    "a member of Python's": body(PLATE[:-1] + b',"__proto__":{"a":1},"__class__":1}', 422, "unknown"),
    "1e400": body(b'{"original_mm": 1e400, "plate_mm": 8}'),
    "-1e400": body(b'{"original_mm": 10, "plate_mm": -1e400}'),
    "a number of 5,000 digits": body(b'{"original_mm": 10, "plate_mm": ' + b"9" * 5_000 + b"}"),
    "a number of 8,000,000 digits": body(b'{"original_mm": 10, "plate_mm": 0.' + b"9" * 8_000_000 + b"}", 200),
    "a whole number of 8,000,000 digits": body(b'{"original_mm": 10, "plate_mm": ' + b"9" * 8_000_000 + b"}"),
    "NaN": body(b'{"original_mm": 10, "plate_mm": NaN}'),
    "Infinity": body(b'{"original_mm": 10, "plate_mm": -Infinity}'),
    "the text NaN": body(b'{"original_mm": 10, "plate_mm": "NaN"}', 422),
    "a lone surrogate": body(b'{"original_mm": 10, "plate_mm": 8, "id": "\\ud800"}'),
    "a lone surrogate in UTF-8": body(b'{"original_mm": 10, "plate_mm": 8, "id": "\xed\xa0\x80"}', says="not UTF-8"),
    "an overlong NUL": body(b'{"original_mm": 10, "plate_mm": 8, "id": "\xc0\x80"}', says="not UTF-8"),
    "a byte order mark": body(b"\xef\xbb\xbf" + PLATE),
    "UTF-16": body(PLATE.decode().encode("utf-16"), says="not UTF-8"),
    "UTF-16 without a mark": body(PLATE.decode().encode("utf-16-le")),
    "UTF-32": body(PLATE.decode().encode("utf-32")),
    "another charset": body(b"", 415, media="application/json; charset=utf-16"),
    "nothing": body(b""),
    "two texts": body(PLATE + PLATE),
    "a form": body(b"original_mm=10", 415, media="application/x-www-form-urlencoded"),
    "parts": body(b"--x\r\n\r\n1\r\n--x--", 415, media="multipart/form-data; boundary=x"),
    "a media type of 8,000 bytes": body(PLATE, 415, media="a/" + "b" * 8_000),
    "a media type of 3,000 parameters": body(PLATE, 200, media="application/json" + ";a" * 3_000),
    "lines of brackets": body(b"\n".join([b"[" * 100_000] * 10), 200, '"refused":10', NDJSON),
    "rows of quotes": body(b"original_mm,plate_mm\n" + b'"' * 2_000_001, 200, "too-large", "text/csv"),
    "an Accept of 800 ranges": Sent(post(PLATE, "Connection: close", "Accept: " + ",".join(["a/b;q=0.1"] * 800)), (406,)),
}
PATHS = {
    "up": ("/v1/../health/live", 404),
    "up, encoded": ("/v1/%2e%2e/health/live", 404),
    "up, encoded twice": ("/v1/%252e%252e/health/live", 404),
    "the machine's files": ("/static/../../../../etc/passwd", 404),
    "the machine's files, encoded": ("/docs/%2e%2e%2f%2e%2e%2f%2e%2e%2fetc%2fpasswd", 404),
    "NUL": ("/health/live%00", 404),
    "NUL in a name": ("/v1/calculations/plate-margin%00", 404),
    "two slashes": ("//health/live", 200),
    "two slashes within": ("/health//live", 404),
    "another's address": ("http://elsewhere.example/health/live", 200),
    "parameters": ("/health/live;a=b", 404),
    "an encoded slash": ("/health%2flive", 200),
    "a backslash": ("/health\\live", 404),
    "a slash at the end": ("/health/live/", 404),
    "bad encoding": ("/v1/calculations/%ff%fe%zz", 404),
    "a lone surrogate": ("/v1/calculations/%ed%a0%80", 404),
    "script": ("/v1/calculations/<script>alert(1)</script>", 404),
    "a new line": ("/v1/calculations/a%0d%0aX-Injected:%201", 404),
    "a query": ("/health/live?" + "a=b&" * 900, 200),
    "an asterisk": ("*", 400),
}
METHODS = {"TRACE": 405, "TRACK": 405, "BREW": 405, "PROPFIND": 405, "PUT": 405, "DELETE": 405, "OPTIONS": 200, "HEAD": 200}


@pytest.fixture(scope="module")
def before(service):
    """Return what the largest worker holds once each has answered in every medium."""
    for _ in range(8):
        for medium in ("application/json", NDJSON, "text/csv", ARROW):
            service.tell(post(PLATE, "Connection: close", media=medium))
    return service.peak_mb()


@pytest.mark.parametrize("sent", [*HEADS.values(), *FRAMES.values(), *BODIES.values()], ids=[*HEADS, *FRAMES, *BODIES])
def test_what_is_hostile_is_refused_and_the_next_call_answered(service, before, sent):
    answer = service.tell(sent.content, over=sent.over, seconds=30)
    assert tuple(answer.statuses) == sent.statuses, answer.raw[:1000]
    assert sent.says in answer.raw.decode()
    if answer.statuses and answer.statuses[-1] >= 400:
        assert answer.problem["status"] == answer.statuses[-1]
        assert b"Content-Type: application/problem+json" in answer.raw
    assert service.seconds_of_a_call() < 10
    assert service.peak_mb() - before < MOST_MB


@pytest.mark.parametrize("path", PATHS)
def test_a_path_is_what_it_says_and_nothing_else(service, path):
    target, status = PATHS[path]
    answer = service.tell(head("Connection: close", line=f"GET {target} HTTP/1.1"))
    assert answer.statuses == [status], answer.raw[:1000]
    assert b"root:" not in answer.raw
    assert b"\nX-Injected" not in answer.raw
    assert b"<script>" not in answer.raw or b"application/problem+json" in answer.raw


@pytest.mark.parametrize("method", METHODS)
def test_a_method_that_is_none_of_the_paths_is_refused(service, method):
    answer = service.tell(head("Connection: close", "Cookie: secret", line=f"{method} /health/live HTTP/1.1"))
    assert answer.statuses == [METHODS[method]]
    assert b"secret" not in answer.raw


def test_nothing_that_was_sent_is_in_the_log(service):
    """What is no request may hold a key all the same."""
    service.tell(head("Authorization Bearer pm_secret", line=GET))
    service.tell(head("Authorization : Bearer pm_secret", line=GET))
    service.tell(head(line="GET /pm_secret  HTTP/1.1"))
    log = service.log.read_text()
    assert "pm_secret" not in log
    assert log.count('"event":"no request"') >= 3
