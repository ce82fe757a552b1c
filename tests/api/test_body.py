"""The strict reader agrees with the standard library's on what is JSON, and refuses what two readers could take apart."""

import json
import math
import sys

import hypothesis.strategies as st
import orjson
import pytest
from hypothesis import example, given, settings

from platemargin_api.body import MalformedBodyError, dump, parse

numbers = st.integers(-(2**53), 2**53) | st.floats(allow_nan=False, allow_infinity=False)
texts = st.text(st.characters(codec="utf-8"))
values = st.recursive(
    st.none() | st.booleans() | numbers | texts,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(texts, inner, max_size=4),
    max_leaves=20,
)
objects = st.dictionaries(texts, values, min_size=1, max_size=4)
spread = settings(max_examples=300, derandomize=True, deadline=None)


def escaped(text):
    """Write a JSON string with every character escaped."""
    units = text.encode("utf-16-be")
    return '"' + "".join(f"\\u{units[i]:02x}{units[i + 1]:02x}" for i in range(0, len(units), 2)) + '"'


def written(value, draw_escaped):
    """Write a JSON text; `draw_escaped` tells of each string whether all of it is escaped."""
    if isinstance(value, dict):
        members = (f"{written(name, draw_escaped)}: {written(member, draw_escaped)}" for name, member in value.items())
        return "{" + ", ".join(members) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(written(item, draw_escaped) for item in value) + "]"
    if isinstance(value, str) and draw_escaped():
        return escaped(value)
    return json.dumps(value, ensure_ascii=False)


@spread
@given(values, st.data())
def test_it_reads_what_the_standard_library_reads(value, data):
    text = written(value, lambda: data.draw(st.booleans()))
    assert parse(text.encode()) == json.loads(text) == value


@spread
@given(values, st.sampled_from([None, 2]), st.booleans())
def test_it_reads_what_the_standard_library_writes(value, indent, ascii_only):
    body = json.dumps(value, indent=indent, ensure_ascii=ascii_only).encode()
    assert parse(body) == json.loads(body)


@spread
@given(values)
def test_it_reads_what_it_writes(value):
    assert parse(dump(value)) == value


def paths(value, path=()):
    """Return the path to every object with a member."""
    if isinstance(value, dict):
        if value:
            yield path
        for name, member in value.items():
            yield from paths(member, (*path, name))
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from paths(item, (*path, index))


def with_a_member_twice(value, path, name, member, draw_escaped):
    """Write a JSON text in which the object that a path leads to names one of its members again."""
    if not path:
        whole = written(value, draw_escaped)
        return f"{whole[:-1]}, {written(name, draw_escaped)}: {written(member, draw_escaped)}}}"
    first, *rest = path
    parts = value.items() if isinstance(value, dict) else enumerate(value)
    inner = [
        (key, with_a_member_twice(part, rest, name, member, draw_escaped) if key == first else written(part, draw_escaped))
        for key, part in parts
    ]
    if isinstance(value, dict):
        return "{" + ", ".join(f"{written(key, draw_escaped)}: {part}" for key, part in inner) + "}"
    return "[" + ", ".join(part for _, part in inner) + "]"


@spread
@given(objects, values, st.data())
def test_it_refuses_every_member_that_is_named_twice(value, member, data):
    """At any depth, in any place, the same value or another, escaped or not."""
    path = data.draw(st.sampled_from(list(paths(value))))
    place = value
    for step in path:
        place = place[step]
    name = data.draw(st.sampled_from(list(place)))
    again = data.draw(st.sampled_from([place[name], member]))
    text = with_a_member_twice(value, path, name, again, lambda: data.draw(st.booleans()))
    json.loads(text)  # JSON for a reader that does not mind
    with pytest.raises(MalformedBodyError, match="named twice"):
        parse(text.encode())


@spread
@given(st.binary(max_size=40))
@example(b"\xef\xbb\xbf1")
@example(b"1\x00")
def test_it_reads_no_bytes_that_the_standard_library_does_not(body):
    try:
        value = parse(body)
    except MalformedBodyError:
        return
    assert value == json.loads(body.decode("utf-8"))


@spread
@given(objects, st.data())
def test_it_reads_no_part_of_a_text(value, data):
    text = json.dumps(value)
    with pytest.raises(MalformedBodyError):
        parse(text[: data.draw(st.integers(0, len(text) - 1))].encode())


@pytest.mark.parametrize(
    "body", [b'{"a": 1, "b": {"a": 1}}', b'[{"a": 1}, {"a": 1}]', b'{"a": "a", "\\u0061b": 1}', b'{"": 1}']
)
def test_the_same_name_in_two_objects_is_two_names(body):
    assert parse(body) == json.loads(body)


@pytest.mark.parametrize(
    "text", ['"\\""', '{"\\"": "\\\\"}', '{"a": "\\"a\\": 1"}', '"\x7f"', '"/\\/"', '"\u2028"', '{"a\\"b": 1, "ab": 2}']
)
def test_quotation_marks_within_texts_are_not_counted(text):
    assert parse(text.encode()) == json.loads(text)


@pytest.mark.parametrize(
    ("body", "value"),
    [
        (b"1E400", None),
        (b"-1e309", None),
        (b"1.7976931348623157e308", sys.float_info.max),
        (b"1e-400", 0.0),
        (b"4.0", 4.0),
        (b"18446744073709551616", 2.0**64),
        (b"0.1", 0.1),
    ],
)
def test_numbers_are_doubles_or_refused(body, value):
    if value is None:
        with pytest.raises(MalformedBodyError):
            parse(body)
    else:
        assert parse(body) == value


def test_minus_zero_is_read():
    assert math.copysign(1, parse(b"-0.0")) == -1


@pytest.mark.parametrize("depth", [1, 253, 254, 255, 300, 700])
@pytest.mark.parametrize(("opening", "closing"), [(b"[", b"]"), (b'{"a":', b"}"), (b'{"\\n":', b"}")])
def test_nesting_is_read_or_refused_and_never_breaks(depth, opening, closing):
    body = opening * depth + b"1" + closing * depth
    assert parse(body) == json.loads(body)


@pytest.mark.parametrize("depth", [1025, 5000, 100_000])
@pytest.mark.parametrize(("opening", "closing"), [(b"[", b"]"), (b'{"a":', b"}"), (b'{"\\n":', b"}"), (b"[", b"")])
def test_deep_nesting_is_refused(depth, opening, closing):
    with pytest.raises(MalformedBodyError):
        parse(opening * depth + b"1" + closing * depth)


def test_a_member_twice_is_found_deeper_than_the_writer_writes():
    body = b"[" * 300 + b'{"a": 1, "a": 1}' + b"]" * 300
    with pytest.raises(MalformedBodyError, match="'a' is named twice"):
        parse(body)


@pytest.mark.parametrize(
    ("body", "says"),
    [
        (b'{"a": 1, "a": 2}', "The member 'a' is named twice in one object"),
        (b'{"a": 1', "The request is not JSON at character 8: "),
        (b'"\xff"', "The request is not UTF-8 from byte 1 on"),
        ("{}".encode("utf-16"), "The request is not UTF-8 from byte 0 on"),
        (b"[" * 999 + b'"\\n"' + b"]" * 999, "nested too deeply"),
    ],
)
def test_a_refusal_says_why(body, says):
    with pytest.raises(MalformedBodyError, match=says.replace("(", r"\(")):
        parse(body)


def test_it_writes_compact_json_in_utf_8():
    assert dump({"ü": [1.0, None, True]}) == '{"ü":[1.0,null,true]}'.encode()
    with pytest.raises(TypeError):
        dump({1, 2})
    assert orjson.loads(dump(0.1)) == 0.1
