"""The derived decoder against its oracle, `schema.load`: it takes only what the schema takes, with equal values and types."""

import copy
import json
import math
import re
from datetime import date
from importlib.metadata import entry_points
from typing import ClassVar

import hypothesis.strategies as st
import marshmallow as ma
import orjson
import pytest
from hypothesis import HealthCheck, given, reject, settings

from platemargin_api.answer import load
from platemargin_api.body import MalformedBodyError, parse
from platemargin_api.calculation import GROUP
from platemargin_api.fields import (
    Between,
    Choice,
    Day,
    Flag,
    Integer,
    KnownRuleSets,
    List,
    Member,
    Number,
    Object,
    Request,
    Rows,
    RuleSets,
    Text,
)
from platemargin_api.problems import ProblemError
from platemargin_api.reader import derived
from platemargin_api.registry import load_registry

REGISTRY = load_registry()
KNOWN = tuple(REGISTRY.rule_sets)
CALCULATIONS = sorted(entry_points(group=GROUP).names)
spread = settings(
    max_examples=60, derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much]
)


def by_schema(schema, body):
    """Return what the strict way reads of a body, or None where it refuses it."""
    with KnownRuleSets(KNOWN):
        try:
            return schema.load(parse(body))
        except (MalformedBodyError, ma.ValidationError):
            return None


def typed(value):
    """Return a value with its types, minus zero apart from zero; members have no order (RFC 8259, 4)."""
    if isinstance(value, dict):
        return {name: typed(member) for name, member in value.items()}
    if isinstance(value, list):
        return [typed(item) for item in value]
    return (type(value), value, math.copysign(1, value) if isinstance(value, float) else None)


def present(value):
    """Return the members that were sent and are not null, at every depth."""
    if isinstance(value, dict):
        return {name: present(member) for name, member in value.items() if member is not None}
    return [present(item) for item in value] if isinstance(value, list) else None


def check(schema, read, body):
    """Hold the quick way against the strict one; return whether the quick way took the body."""
    taken = read(body, KNOWN)
    if taken is None:
        return False
    expected = by_schema(schema, body)
    assert expected is not None
    assert typed(taken.request) == typed(expected)
    assert present(taken.sent) == present(parse(body))
    assert in_json({**taken.request, **taken.in_order}) == in_json(taken.request)
    return True


def in_json(request):
    return orjson.dumps(request, option=orjson.OPT_SORT_KEYS)


# What is generated of a schema: mostly right, at and beside every bound, and now and then of another type.

odd = st.sampled_from(
    [
        *(None, True, False, 0, -0.0, 1, 1.0, 2.5, -1e-9, 1e300, 2**53 + 1, 2**63, 2**64, 10**30),
        *("", "4", "2024-02-30", "é", "\x00", "a\nb", 'a"b', "\u2028", "x" * 2000),
        *([], {}, [None], [[]], {"id": "a"}),
    ]
)


def bounded(low, high):
    edges = [low, high, math.nextafter(low, -math.inf), math.nextafter(high, math.inf), int(low), int(high)]
    return st.floats(low, high) | st.sampled_from(edges)


def of_list(field):
    low, high = field.validators[0].min, field.validators[0].max
    return st.lists(of_field(field.inner), min_size=low, max_size=min(high, low + 2))


def of_text(field):
    length, *form = field.validators
    if form:
        return st.from_regex(form[0].exact).filter(lambda text: length.min <= len(text) <= length.max)
    return st.text(min_size=length.min, max_size=min(length.max, length.min + 5))


def of_whole(field):
    low, high = field.validators[0].min, field.validators[0].max
    return st.integers(low, high) | st.sampled_from([low - 1, high + 1, float(low)])


days = st.dates().map(date.isoformat) | st.sampled_from(["0000-01-01", "2023-02-29", "2024-02-29", "20240229"])
VALUES = {
    RuleSets: lambda _: st.lists(st.sampled_from([*KNOWN, "no-such-set"]), max_size=3),
    List: of_list,
    Rows: of_list,
    Object: lambda field: of_schema(field.schema),
    Choice: lambda field: st.sampled_from(field.names),
    Flag: lambda _: st.booleans(),
    Day: lambda _: days,
    Text: of_text,
    Integer: of_whole,
    Number: lambda field: bounded(field.validators[0].min, field.validators[0].max),
}


def of_field(field):
    """Return values for a field; nearly all are right."""
    return VALUES[type(field)](field)


def of_schema(schema):
    members = {name: st.one_of(of_field(field), of_field(field), of_field(field)) for name, field in schema.fields.items()}
    needed = {name: member for name, member in members.items() if schema.fields[name].required}
    others = {name: member | st.none() for name, member in members.items() if name not in needed}
    return st.fixed_dictionaries(needed, optional=others)


def places(value, path=()):
    yield path
    parts = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, part in parts:
        yield from places(part, (*path, key))


def mutated(value, data):
    """Change one place of a value: another value there, none, or a member more."""
    value = copy.deepcopy(value)
    *path, last = data.draw(st.sampled_from([path for path in places(value) if path]))
    place = value
    for key in path:
        place = place[key]
    how = data.draw(st.sampled_from(["other", "none", "more", "near"]))
    if how == "none":
        del place[last]
    elif how == "more" and isinstance(place, dict):
        place[data.draw(st.sampled_from(["id", "ID", "plate", "zone", ""]))] = data.draw(odd)
    elif how == "near" and type(place[last]) in (int, float):
        place[last] *= data.draw(st.sampled_from([-1, 0, 1, 1.5, 10, 1000, -0.0]))
    else:
        place[last] = data.draw(odd)
    return value


def compact(value):
    return json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode("utf-8", "surrogatepass")


@pytest.mark.parametrize("name", CALCULATIONS)
def test_every_calculation_has_a_quick_way_and_its_example_takes_it(name):
    served = REGISTRY.calculations[name]
    for indent in (None, 2):
        assert check(served.request, served.read, json.dumps(served.offered.example, indent=indent).encode())


@pytest.mark.parametrize("name", CALCULATIONS)
def test_a_right_request_does_not_touch_the_schema(name, monkeypatch):
    served = REGISTRY.calculations[name]
    body = orjson.dumps(served.offered.example)
    expected = by_schema(served.request, body)
    monkeypatch.setattr(served.request, "load", lambda _: pytest.fail("the schema was asked"))
    assert typed(load(served, REGISTRY, body).request) == typed(expected)


@pytest.mark.parametrize("name", CALCULATIONS)
def test_a_changed_example_is_taken_only_where_the_schema_takes_it(name):
    served = REGISTRY.calculations[name]
    taken = set()

    @spread
    @given(st.data())
    def changed(data):
        value = served.offered.example
        for _ in range(data.draw(st.integers(1, 2))):
            value = mutated(value, data)
        body = compact(value)
        taken.add(check(served.request, served.read, body))
        both_ways(served, body)

    changed()
    assert taken == {True, False}


def both_ways(served, body):
    """Whatever the quick way says, what comes out is what the schema says."""
    expected = by_schema(served.request, body)
    try:
        loaded = load(served, REGISTRY, body).request
    except ProblemError:
        loaded = None
    assert typed(loaded) == typed(expected)


@pytest.mark.parametrize("name", CALCULATIONS)
def test_a_generated_request_is_taken_only_where_the_schema_takes_it(name):
    served = REGISTRY.calculations[name]
    counted = {"right": 0, "quick": 0}

    @spread
    @given(of_schema(served.request))
    def generated(value):
        body = compact(value)
        quick = check(served.request, served.read, body)
        right = by_schema(served.request, body) is not None
        counted["right"] += right
        counted["quick"] += quick
        if right and not quick:
            assert must_be_read_strictly(body), body

    generated()
    assert counted["quick"] > 0


def must_be_read_strictly(body):
    """Tell whether a right request holds one of the few things that the quick way leaves to the schema."""
    return b"\\" in body or re.search(rb"[0-9]\.0|-0|[0-9]e", body) is not None


# Schemas of any fields with any bounds.

limits = st.tuples(st.floats(-1e9, 1e9) | st.integers(-(2**40), 2**40), st.floats(0, 1e9) | st.integers(0, 2**40)).map(
    lambda pair: (pair[0], pair[0] + pair[1])
)
few = st.tuples(st.integers(0, 3), st.integers(0, 4)).map(lambda pair: (pair[0], pair[0] + pair[1]))
described = {"description": "A member."}


@st.composite
def leaves(draw):
    kind = draw(st.sampled_from([Number, Integer, Flag, Text, Choice, Day]))
    options = {**described, "required": draw(st.booleans()), "nullable": draw(st.booleans())}
    if kind is Number:
        return Number("mm", *draw(limits), **with_default(draw, options, st.floats(0, 9)))
    if kind is Integer:
        low = draw(st.integers(-(2**70), 2**70))
        return Integer(low, low + draw(st.integers(0, 2**64)), **with_default(draw, options, st.integers(0, 9)))
    if kind is Text:
        pattern = draw(st.sampled_from([None, "^[a-c]+$", "b", "^(é|a)$"]))
        return Text(*draw(few), pattern=pattern, says="must be so", **options)
    if kind is Choice:
        names = draw(st.lists(st.sampled_from(["a", "b", "é", "a b", "1"]), min_size=1, max_size=3, unique=True))
        return Choice(names, **with_default(draw, options, st.sampled_from(names)))
    return kind(**options)


def with_default(draw, options, values):
    if options["required"] or not draw(st.booleans()):
        return options
    return {**options, "default": draw(values), "basis": "so"}


def schemas_of(inner):
    return st.dictionaries(st.sampled_from(["a", "b_mm", "class", "id", "größe"]), inner, max_size=4).map(
        lambda members: Member.from_dict(members, name="Generated")
    )


def larger(inner):
    schemas = schemas_of(inner)
    required = st.booleans()
    return st.one_of(
        st.builds(lambda schema, needed: Object(schema, required=needed, **described), schemas, required),
        st.builds(lambda schema, size, needed: Rows(schema, *size, required=needed, **described), schemas, few, required),
        st.builds(lambda item, size, needed: List(item, *size, required=needed, **described), inner, few, required),
    )


@settings(spread, max_examples=300)
@given(schemas_of(st.recursive(leaves(), larger, max_leaves=6)), st.data())
def test_any_schema_of_these_fields_has_a_quick_way_that_takes_what_the_schema_takes(kind, data):
    schema = kind()
    read = derived(schema)
    if read is None:
        assert has_integers_beyond_64_bits(schema)
        reject()
    value = data.draw(of_schema(schema))
    check(schema, read, compact(value))
    if value:
        check(schema, read, compact(mutated(value, data)))


def has_integers_beyond_64_bits(schema):
    inner = [getattr(field, "inner", field) for field in schema.fields.values()]
    while any(isinstance(field, List) for field in inner):
        inner = [getattr(field, "inner", field) for field in inner]
    return any(
        has_integers_beyond_64_bits(field.schema)
        if isinstance(field, Object)
        else isinstance(field, Integer) and max(abs(field.validators[0].min), field.validators[0].max) >= 2**63
        for field in inner
    )


# Bytes as they come.


class Part(Member):
    zone = Text(1, 20, description="A zone.", required=True)
    plate_mm = Number("mm", -50, 200, description="A thickness.", required=True)
    count = Integer(-5, 2**53, description="A count.")


class Whole(Request):
    plate_mm = Number("mm", -1e300, 1e308, description="A thickness.")
    count = Integer(-(2**62), 2**62, description="A count.", default=3, basis="so")
    seen_on = Day(description="A day.")
    kind = Choice(("a", "b"), description="A kind.", default="a", basis="so")
    parts = Rows(Part, 0, 3, description="Parts.", default=[])
    part = Object(Part, description="A part.")
    rule_sets = RuleSets(default_ids=("trade-practice",), unless="parts", description="Rule sets.")


WHOLE = Whole()
read = derived(WHOLE)

TAKEN = [
    b"{}",
    b' \t\r\n{ "count" : 4 } ',
    b'{"id": null, "count": null, "parts": null, "part": null}',
    b'{"plate_mm": 1e-400}',
    b'{"plate_mm": -1e-5}',
    b'{"plate_mm": 123456789012345678901234567890}',
    b'{"plate_mm": 9007199254740993}',
    b'{"plate_mm": 0.1000000000000000055511151231257827021181583404541015625}',
    b'{"count": 4611686018427387904}',
    b'{"count": -0}',
    '{"id": "é\u2028\x7f😀"}'.encode(),
    b'{"id": "a/b"}',
    b'{"seen_on": "0001-01-01"}',
    b'{"parts": [{"zone": "a", "plate_mm": 1}, {"zone": "b", "plate_mm": 2, "count": null}]}',
    b'{"rule_sets": ["trade-practice", "trade-practice"]}',
    b'{"rule_sets": []}',
]
LEFT_TO_THE_SCHEMA = [
    b'{"count": 4.0}',
    b'{"count": 1e2}',
    b'{"plate_mm": -0.0}',
    b'{"plate_mm": -1e-400}',
    b'{"part": {"zone": "a", "plate_mm": -0.0}}',
    b'{"id": "a\\u0062"}',
    b'{"\\u0069d": "a"}',
    b'{"id": "\\"", "kind": "a"}',
]
REFUSED = [
    b"",
    b"null",
    b"[]",
    b"[{}]",
    b"{",
    b"{}}",
    b"{} x",
    b"{}\x00",
    b"{},",
    b'{"count": 1,}',
    b"\xef\xbb\xbf{}",
    b'{"count": 1, "count": 1}',
    b'{"count": 1, "id": "a", "count": 2}',
    b'{"id": "a", "\\u0069d": "a"}',
    b'{"part": {"zone": "a", "zone": "a", "plate_mm": 1}}',
    b'{"part": {"zone": "a", "plate_mm": 1, "plate_mm": null}}',
    b'{"part": null, "part": {"zone": "a", "plate_mm": 1}}',
    b'{"parts": [{"zone": "a", "plate_mm": 1, "plate_mm": 1}]}',
    b'{"rule_sets": ["trade-practice"], "rule_sets": []}',
    b'{"unknown": 1}',
    b'{"Count": 1}',
    b'{"id": "\xff"}',
    b'{"id": "\xed\xa0\x80"}',
    b'{"id": "\\ud800"}',
    b'{"id": "a\nb"}',
    b'{"id": ""}',
    b'{"id": 1}',
    b'{"plate_mm": 1e400}',
    b'{"plate_mm": -1e400}',
    b'{"plate_mm": 1.7e308}',
    b'{"plate_mm": NaN}',
    b'{"plate_mm": Infinity}',
    b'{"plate_mm": 01}',
    b'{"plate_mm": .5}',
    b'{"plate_mm": 1.}',
    b'{"plate_mm": +1}',
    b'{"plate_mm": "1"}',
    b'{"plate_mm": true}',
    b'{"count": 1.5}',
    b'{"count": true}',
    b'{"count": 4611686018427387905}',
    b'{"count": 18446744073709551616}',
    b'{"count": 1' + b"0" * 5000 + b"}",
    b'{"kind": "c"}',
    b'{"kind": 0}',
    b'{"seen_on": "2023-02-29"}',
    b'{"seen_on": "2024-02-29T00:00:00"}',
    b'{"seen_on": 19000}',
    b'{"parts": {}}',
    b'{"parts": [null]}',
    b'{"parts": [{"zone": "a"}]}',
    b'{"parts": [' + b",".join([b'{"zone": "a", "plate_mm": 1}'] * 4) + b"]}",
    b'{"part": []}',
    b'{"part": {"zone": null, "plate_mm": 1}}',
    b'{"rule_sets": ["no-such-set"]}',
    b'{"rule_sets": [null]}',
    b'{"parts": ' + b"[" * 100_000 + b"]" * 100_000 + b"}",
    b'{"part": ' * 5000 + b"1" + b"}" * 5000,
]


@pytest.mark.parametrize("body", TAKEN)
def test_bytes_that_it_takes(body):
    assert check(WHOLE, read, body)


@pytest.mark.parametrize("body", LEFT_TO_THE_SCHEMA)
def test_bytes_that_the_schema_takes_in_its_place(body):
    assert read(body, KNOWN) is None
    assert by_schema(WHOLE, body) is not None


@pytest.mark.parametrize("body", REFUSED, ids=lambda body: repr(body[:40]))
def test_bytes_that_nobody_takes(body):
    assert read(body, KNOWN) is None
    assert by_schema(WHOLE, body) is None


whole = compact(
    {"id": "é", "plate_mm": 1.5, "parts": [{"zone": "a", "plate_mm": -2}], "seen_on": "2024-02-29", "rule_sets": list(KNOWN)}
)


@settings(spread, max_examples=1000)
@given(st.lists(st.tuples(st.integers(0, len(whole)), st.integers(0, 2), st.binary(max_size=3)), min_size=1, max_size=3))
def test_broken_bytes_are_taken_only_where_the_schema_takes_them(cuts):
    body = whole
    for place, length, more in cuts:
        body = body[:place] + more + body[place + length :]
    check(WHOLE, read, body)


doubles = st.floats(allow_nan=False, allow_infinity=False)


@settings(spread, max_examples=500)
@given(doubles | st.integers(), st.sampled_from(["{!r}", "{:.17g}", "{:.30e}", "{:E}"]))
def test_a_number_is_the_same_double(value, form):
    text = form.format(value) if isinstance(value, float) or form == "{!r}" else str(value)
    check(WHOLE, read, b'{"plate_mm": ' + text.encode() + b"}")


def test_a_default_that_is_absent_is_not_sent():
    taken = read(b'{"count": null}', KNOWN)
    assert (taken.sent, taken.request) == ({"count": None}, {"count": 3, "kind": "a", "parts": []})


def test_a_table_is_written_once_where_it_is_as_sent():
    rows = b'{"parts": [{"zone": "a", "plate_mm": 1}, {"plate_mm": 2, "zone": "b"}], "id": "x"}'
    assert orjson.dumps(read(rows, KNOWN).in_order) == b'{"parts":[{"plate_mm":1.0,"zone":"a"},{"plate_mm":2.0,"zone":"b"}]}'
    assert read(rows.replace(b'"x"', b"null"), KNOWN).in_order == {}


# Texts that have a form: it is looked for in each of many values once.


class Formed(Member):
    zone = Text(1, 9, pattern="^[a-c]+$", says="must be so", description="A zone.")


class WithForms(Request):
    rows = Rows(Formed, 0, 9, description="Rows.")
    row = Object(Formed, description="A row.")
    names = List(Text(1, 9, pattern="b", says="must be so", description="A name."), 0, 9, description="Names.")
    tables = List(Rows(Formed, 0, 9, description="Rows."), 0, 9, description="Tables.")


@pytest.mark.parametrize(
    ("body", "fits"),
    [
        (b"{}", True),
        (b'{"rows": [], "row": null, "names": [], "tables": [[]]}', True),
        (b'{"rows": [{}, {"zone": null}, {"zone": "a"}, {"zone": "abc"}, {"zone": "a"}]}', True),
        (b'{"rows": [{"zone": "a"}, {"zone": "a"}, {"zone": "d"}]}', False),
        (b'{"rows": [{"zone": "d"}, {"zone": "a"}]}', False),
        (b'{"row": {"zone": "d"}}', False),
        (b'{"row": {"zone": "c"}, "names": ["b", "ab"]}', True),
        (b'{"names": ["b", "a"]}', False),
        (b'{"tables": [[{"zone": "a"}], [{"zone": "b"}, {}]]}', True),
        (b'{"tables": [[{"zone": "a"}], [{"zone": "b"}, {"zone": "bd"}]]}', False),
        ('{"row": {"zone": "é"}}'.encode(), False),
    ],
)
def test_a_text_that_is_not_of_its_form_is_found_wherever_it_is(body, fits):
    schema = WithForms()
    assert check(schema, derived(schema), body) is fits
    assert (by_schema(schema, body) is not None) is fits


# What a schema does beyond what its fields declare leaves it without a quick way.


class OwnNumber(Number):
    def _deserialize(self, value, *_, **__):
        return 2 * super()._deserialize(value)


class OwnBetween(Between):
    pass


def with_validator(field, validator):
    field.validators = [validator]
    return field


number = {"description": "A number.", "unit": "mm", "minimum": 0, "maximum": 9}


class Hooked(Request):
    plate_mm = Number(**number)

    @ma.post_load
    def doubled(self, members, **_):
        return {name: 2 * value for name, value in members.items()}


class Validated(Request):
    plate_mm = Number(**number)

    @ma.validates("plate_mm")
    def even(self, value, **_):
        if value % 2:
            raise ma.ValidationError("odd")


class Compared(Request):
    plate_mm = Number(**number)

    @ma.validates_schema
    def whole(self, members, **_):
        if not members:
            raise ma.ValidationError("empty")


class Lenient(Request):
    class Meta:
        unknown = ma.EXCLUDE


class Loading(Request):
    def load(self, data, **more):
        return super().load(data or {}, **more)


class Inner(Member):
    rule_sets = RuleSets(default_ids=(), unless="rules", description="Rule sets.")


def renamed(**changes):
    field = Number(**number)
    for name, value in changes.items():
        setattr(field, name, value)
    return Request.from_dict({"plate_mm": field}, name="Renamed")


class ByHand(Request):
    error_messages: ClassVar = {}


@pytest.mark.parametrize(
    "kind",
    [
        Hooked,
        Validated,
        Compared,
        Lenient,
        Loading,
        Request.from_dict({"plate_mm": OwnNumber(**number)}, name="OwnFields"),
        Request.from_dict({"plate_mm": ma.fields.Float()}, name="Foreign"),
        Request.from_dict({"plate_mm": with_validator(Number(**number), OwnBetween(0, 9, "mm"))}, name="OwnBounds"),
        Request.from_dict({"plate_mm": with_validator(Number(**number), lambda _: None)}, name="OwnRule"),
        Request.from_dict({"flag": with_validator(Flag(description="A flag."), lambda _: None)}, name="OwnFlag"),
        Request.from_dict({"parts": Rows(Hooked, 0, 2, description="Rows.")}, name="HookWithin"),
        Request.from_dict({"parts": Rows(Lenient, 0, 2, description="Rows.")}, name="LenientWithin"),
        Request.from_dict({"part": Object(Inner, description="A part.")}, name="RuleSetsWithin"),
        renamed(data_key="plate"),
        renamed(attribute="plate"),
        renamed(pre_load=[abs]),
        renamed(post_load=[abs]),
        renamed(load_default=lambda: 3.0),
        Request.from_dict({"count": Integer(0, 2**64, description="A count.")}, name="Large"),
        Request.from_dict({"count": Integer(0.5, 2, description="A count.")}, name="Half"),
        Request.from_dict({"plate_mm": Number("mm", 0, 2**53 + 1, description="A number.")}, name="NoDouble"),
        Request.from_dict({"plate_mm": Number("mm", 0, math.inf, description="A number.")}, name="NoBound"),
    ],
    ids=lambda kind: kind.__name__,
)
def test_a_schema_that_does_more_has_no_quick_way(kind):
    assert derived(kind()) is None


@pytest.mark.parametrize("options", [{"many": True}, {"partial": True}, {"unknown": ma.INCLUDE}])
def test_a_schema_made_otherwise_has_no_quick_way(options):
    assert derived(Whole(**options)) is None
    assert derived(Whole()) is not None


@pytest.mark.parametrize("bound", [1e308, 0, 2**53])
def test_any_bound_that_is_a_double_has_a_quick_way(bound):
    schema = Request.from_dict({"plate_mm": Number("mm", -bound, bound, description="A number.")})()
    for text in (b"0", b"1e308", b"1.5e308", b"-3", b"9007199254740993"):
        check(schema, derived(schema), b'{"plate_mm": ' + text + b"}")


def test_words_of_its_own_do_not_keep_a_schema_from_the_quick_way():
    assert check(ByHand(), derived(ByHand()), b'{"id": "a"}')
