"""Bytes by chance for each reader: what is read is answered, what is not is refused, and nothing else happens.

The same bytes every time; each reader gets twelve times PLATEMARGIN_EXAMPLES of them in each of two ways (`make fuzz`).
What was found once stays in `found/`, by medium.
"""

import io
import json
import os
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from wire import ARROW, NDJSON

from platemargin_api.app import create_app

pa = pytest.importorskip("pyarrow", reason="the package pyarrow is not installed")
FOUND = Path(__file__).with_name("found")
EXAMPLES = 12 * int(os.environ.get("PLATEMARGIN_EXAMPLES", "25"))
client = create_app().test_client()
by_chance = settings(max_examples=EXAMPLES, derandomize=True, deadline=None)

ROW = {
    "id": "a",
    "original_mm": 10.0,
    "plate_mm": 8.8,
    "pit_depth_mm": 2.6,
    "years_in_service": 16,
    "environment": "fresh_water",
}


def columns(rows):
    sink = io.BytesIO()
    batch = pa.RecordBatch.from_pylist(rows)
    with pa.ipc.new_stream(sink, batch.schema) as writer:
        writer.write_batch(batch)
    return sink.getvalue()


LINE = json.dumps(ROW).encode()
GOOD = {
    "application/json": LINE,
    NDJSON: LINE + b"\n\n" + LINE + b"\r\n",
    "text/csv": b"\xef\xbb\xbf" + ",".join(ROW).encode() + b'\r\n"a",10,8.8,2.6,16,fresh_water\r\n,10,8.8,,16,\r\n',
    ARROW: columns([ROW, {**ROW, "id": None}]),
}
#: Bytes that mean something to one reader or another.
MARKS = [b"", b"\0", b"\xff", b'"', b"{", b"[", b"]", b"}", b",", b":", b"\n", b"\r", b"\\", b"\xef\xbb\xbf", b"null"]
VALUES = [b"\\ud800", b"\xed\xa0\x80", b"1e400", b"-", b"NaN", b"9" * 400]
LENGTHS = [b"\xff\xff\xff\xff", b"\xff\xff\xff\x7f", b"\0" * 8, b"\x80" * 8]
PIECES = st.sampled_from(MARKS + VALUES + LENGTHS) | st.binary(max_size=12)
CHANGES = st.lists(st.tuples(st.floats(0, 1), st.integers(0, 12), PIECES), max_size=5)


def changed(content, changes):
    for where, gone, piece in changes:
        at = int(where * len(content))
        content = content[:at] + piece + content[at + gone :]
    return content


def assert_answered_or_refused(medium, content, prefer):
    answer = client.post("/v1/calculations/plate-margin", data=content, headers={"Content-Type": medium, "Prefer": prefer})
    assert answer.status_code in (200, 400, 413, 422), answer.data
    told = answer.data
    assert b"calculation-failed" not in told, told
    if answer.content_type.endswith("json"):
        for text in told.splitlines():
            json.loads(text, parse_constant=pytest.fail)


@pytest.mark.parametrize("medium", GOOD)
def test_what_the_changes_are_made_to_is_good(medium):
    answer = client.post("/v1/calculations/plate-margin", data=GOOD[medium], content_type=medium)
    assert answer.status_code == 200
    assert b"/problems/" not in answer.data


@pytest.mark.parametrize("medium", GOOD)
def test_changed_bytes_are_answered_or_refused(medium):
    @by_chance
    @given(CHANGES, st.sampled_from(["stream", "return=minimal", "return=representation"]))
    def fuzzed(changes, prefer):
        assert_answered_or_refused(medium, changed(GOOD[medium], changes), prefer)

    fuzzed()


@pytest.mark.parametrize("medium", GOOD)
def test_any_bytes_are_answered_or_refused(medium):
    @by_chance
    @given(st.binary(max_size=200) | st.lists(PIECES, max_size=30).map(b"".join))
    def fuzzed(content):
        assert_answered_or_refused(medium, content, "return=minimal")

    fuzzed()


@pytest.mark.parametrize("path", sorted(FOUND.glob("*/*")), ids=lambda path: f"{path.parent.name} {path.name}")
def test_what_was_found_once_is_not_found_again(path):
    media = {"json": "application/json", "ndjson": NDJSON, "csv": "text/csv", "arrow": ARROW}
    for prefer in ("stream", "return=minimal", "return=representation"):
        assert_answered_or_refused(media[path.parent.name], path.read_bytes(), prefer)
