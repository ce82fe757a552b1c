"""The fields by themselves: JSON types only, bounds that include their ends, faults as data, columns both ways."""

import math
from datetime import date, timedelta
from enum import IntEnum

import hypothesis.strategies as st
import marshmallow as ma
import numpy as np
import pytest
from hypothesis import given, settings

from platemargin_api.fields import (
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
    Response,
    Rows,
    RuleSets,
    Text,
    Wrong,
)
from platemargin_api.wording import came, nearest

spread = settings(max_examples=200, derandomize=True, deadline=None)
json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=5,
)


class State(IntEnum):
    SOUND = 0
    NEARLY_HOLED = 1


class Part(Member):
    zone = Text(1, 5, description="A zone.", required=True)
    plate_mm = Number("mm", 0, 200, description="A plate.", required=True)
    count = Integer(1, 3, description="A count.", default=2, basis="two")


class Whole(Request):
    plate_mm = Number("mm", 0.5, 40, description="A plate.", required=True)
    faces = Integer(1, 2, description="Faces.", default=1, basis="one face")
    holed = Flag(description="Whether it is holed.")
    state = Choice(State, description="A state.")
    side = Choice(("port", "starboard"), description="A side.", default="port", basis="as it happens")
    seen_on = Day(description="A day.")
    part = Object(Part, description="A part.")
    rows = Rows(Part, 0, 3, description="Rows.", default=[])
    limits_mm = List(Number("mm", 0, 40, description="A limit."), 1, 3, description="Limits.")


def loaded(**members):
    return Whole().load({"plate_mm": 8.0, **members})


def fault(field_value):
    """Return the one fault of a request that has one wrong member."""
    with pytest.raises(ma.ValidationError) as caught:
        loaded(**field_value)
    return only(caught.value.messages)


def only(messages, path=""):
    """Return the path to a single fault within marshmallow's messages, and the fault."""
    if isinstance(messages, dict):
        ((key, inner),) = messages.items()
        return only(inner, f"{path}/{key}")
    (wrong,) = messages if isinstance(messages, list) else [messages]
    assert isinstance(wrong, Wrong)
    return path, wrong


# JSON types only


@pytest.mark.parametrize("value", ["8", "8.0", "1_000", "\u0668", "NaN", "", True, False, [], [8], {}, {"mm": 8}])
def test_a_number_is_a_json_number(value):
    path, wrong = fault({"plate_mm": value})
    assert (path, wrong.code, wrong.allowed) == ("/plate_mm", "wrong_type", {})
    assert wrong.detail.startswith(f"must be a number from 0.5 to 40 mm, not {came(value)}")


@pytest.mark.parametrize(("value", "read"), [(8, 8.0), (8.25, 8.25), (40, 40.0), (0.5, 0.5), (8e0, 8.0)])
def test_a_number_is_read_as_a_float(value, read):
    plate = loaded(plate_mm=value)["plate_mm"]
    assert (type(plate), plate) == (float, read)


def test_minus_zero_is_zero():
    assert math.copysign(1, Part().load({"zone": "a", "plate_mm": -0.0})["plate_mm"]) == 1


@pytest.mark.parametrize("value", [0.4999, 40.0001, -8, 1e300, 10**30])
def test_a_number_has_bounds(value):
    path, wrong = fault({"plate_mm": value})
    assert (path, wrong.code, wrong.allowed) == ("/plate_mm", "out_of_range", {"minimum": 0.5, "maximum": 40})
    assert wrong.detail == f"must be from 0.5 to 40 mm, not {came(float(value))}"


@pytest.mark.parametrize("value", ["1", 1.7, 1.0000001, True, False, [1], {}, "1.0", 1e-9])
def test_an_integer_is_a_whole_json_number(value):
    told = f"must be a whole number from 1 to 2, not {came(value)}"
    assert fault({"faces": value}) == ("/faces", Wrong("wrong_type", told))


@pytest.mark.parametrize("value", [2, 2.0])
def test_an_integral_number_is_an_integer(value):
    faces = loaded(faces=value)["faces"]
    assert (type(faces), faces) == (int, 2)


@pytest.mark.parametrize("value", [0, 3, 1e300, -1, 10**30])
def test_an_integer_has_bounds(value):
    path, wrong = fault({"faces": value})
    assert (path, wrong.code, wrong.allowed) == ("/faces", "out_of_range", {"minimum": 1, "maximum": 2})


@pytest.mark.parametrize("value", ["true", "yes", "on", "1", 1, 0, 1.0, [], {}, ""])
def test_a_flag_is_true_or_false(value):
    assert fault({"holed": value}) == ("/holed", Wrong("wrong_type", f"must be true or false, not {came(value)}"))


@pytest.mark.parametrize("value", [True, False])
def test_a_flag_is_read(value):
    assert loaded(holed=value)["holed"] is value


@pytest.mark.parametrize("value", [1, 1.5, True, ["a"], {"a": 1}])
def test_a_text_is_a_json_string(value):
    told = f"must be text in quotation marks, from 1 to 100 characters, not {came(value)}"
    assert fault({"id": value}) == ("/id", Wrong("wrong_type", told))


@pytest.mark.parametrize(("value", "code"), [("", "too_short"), ("x" * 101, "too_long")])
def test_a_text_has_a_length(value, code):
    path, wrong = fault({"id": value})
    assert (path, wrong.code, wrong.allowed) == ("/id", code, {"minimum": 1, "maximum": 100})
    assert wrong.detail == f"must have from 1 to 100 characters, not {len(value)}"


def test_a_text_is_counted_in_characters():
    assert loaded(id="\U0001f6a2" * 100)["id"] == "\U0001f6a2" * 100


@pytest.mark.parametrize("value", [0, 1, True, ["sound"], {"sound": 1}])
def test_a_choice_is_a_json_string(value):
    path, wrong = fault({"state": value})
    assert (path, wrong.code, wrong.allowed) == ("/state", "wrong_type", {"allowed": ["sound", "nearly_holed"]})


@pytest.mark.parametrize("value", ["", "Sound", "sound ", "SOUND", "State.SOUND", "0"])
def test_a_choice_is_one_of_its_names(value):
    path, wrong = fault({"state": value})
    assert (path, wrong.code) == ("/state", "not_one_of")
    assert wrong.allowed["allowed"] == ["sound", "nearly_holed"]
    assert wrong.misspelt == value
    assert wrong.detail == f"must be one of sound, nearly_holed, not {value!r}"


@pytest.mark.parametrize(
    "value",
    [
        "2023-02-29",
        "2023-2-3",
        "2023-02-30",
        "2023-13-01",
        "20230203",
        "2023-W05-5",
        "2023-034",
        "2023-02-03T00:00:00",
        "2023-02-03 ",
        "2023-02-03\n",
        "\u0662\u0660\u0662\u0663-\u0660\u0662-\u0660\u0663",
        "0000-01-01",
        "10000-01-01",
        "-001-01-01",
        "03/02/2023",
        "",
        20230203,
        True,
        [],
    ],
)
def test_a_day_is_a_day_of_the_calendar(value):
    assert fault({"seen_on": value}) == (
        "/seen_on",
        Wrong("bad_format", f"must be a day of the calendar, written YYYY-MM-DD, not {came(value)}"),
    )


@spread
@given(st.dates())
def test_every_day_is_read_and_written(day):
    assert loaded(seen_on=day.isoformat())["seen_on"] == day
    assert Whole().fields["seen_on"].value(day) == day.isoformat()


@pytest.mark.parametrize("value", [[], "a", 1, True])
def test_an_object_is_a_json_object(value):
    told = "must be an object, its members in braces"
    assert fault({"part": value}) == ("/part/_schema", Wrong("wrong_type", told))


@pytest.mark.parametrize("value", [{}, "abc", 1, True, {"0": 4.0}])
def test_an_array_is_a_json_array(value):
    for name, least in (("rows", 0), ("limits_mm", 1)):
        told = f"must be an array in brackets, from {least} to 3 items, not {came(value)}"
        assert fault({name: value}) == (f"/{name}", Wrong("wrong_type", told))


@spread
@given(st.sampled_from([name for name in Whole().fields if name != "id"]), json_values)
def test_anything_is_read_or_refused_with_data(name, value):
    """Whatever JSON comes, a field gives a value or a coded fault; nothing else is raised."""
    try:
        loaded(**{name: value})
        found = []
    except ma.ValidationError as error:
        found = [wrong for _, wrong in flattened(error.messages)]
    assert all(isinstance(wrong, Wrong) and wrong.code and wrong.detail for wrong in found)


# Absence


@pytest.mark.parametrize("name", [name for name in Whole().fields if name != "plate_mm"])
def test_null_is_absence(name):
    assert loaded(**{name: None}) == loaded()


def test_a_default_is_taken_where_nothing_is_sent():
    assert loaded() == {"plate_mm": 8.0, "faces": 1, "side": "port", "rows": []}
    assert loaded(part={"zone": "a", "plate_mm": 1, "count": None})["part"] == {"zone": "a", "plate_mm": 1.0, "count": 2}


def test_a_required_member_is_missing_also_as_null():
    for request, null in (({}, ""), ({"plate_mm": None}, "; null is absence")):
        with pytest.raises(ma.ValidationError) as caught:
            Whole().load(request)
        told = f"is required: a number from 0.5 to 40 mm{null}"
        assert only(caught.value.messages) == ("/plate_mm", Wrong("missing", told))


@pytest.mark.parametrize("value", [1, None, {"a": 1}])
def test_an_unknown_member_is_refused_whatever_it_holds(value):
    assert fault({"plat_mm": value}) == ("/plat_mm", Wrong("unknown_field", "is not known here"))


@pytest.mark.parametrize(
    ("value", "path", "code"),
    [
        ([4.0, None], "/limits_mm/1", "null"),
        ([4.0, "4"], "/limits_mm/1", "wrong_type"),
        ([41.0], "/limits_mm/0", "out_of_range"),
        ([], "/limits_mm", "too_short"),
        ([1, 2, 3, 4], "/limits_mm", "too_long"),
        (["a"] * 4, "/limits_mm", "too_long"),
    ],
)
def test_an_array_has_a_length_and_items(value, path, code):
    told, wrong = fault({"limits_mm": value})
    assert (told, wrong.code) == (path, code)


def test_a_longer_array_is_not_read():
    """Its items would each be a fault: the cost of a request is bounded before it is read."""
    told, wrong = fault({"rows": [{"zone": 5}] * 100_000})
    assert (told, wrong.code, wrong.detail) == ("/rows", "too_long", "must have from 0 to 3 items, not 100000")


def test_every_fault_is_found_at_once():
    with pytest.raises(ma.ValidationError) as caught:
        Whole().load(
            {
                "plate_mm": "8",
                "faces": 3,
                "side": "left",
                "part": {"zone": "toolong", "colour": 1},
                "rows": [{"zone": "a", "plate_mm": 1}, {"plate_mm": -1}, 5],
                "limits_mm": [4, "5"],
            }
        )
    found = {
        path: wrong.code
        for path, wrong in ((f"/{'/'.join(map(str, where))}", wrong) for where, wrong in flattened(caught.value.messages))
    }
    assert found == {
        "/plate_mm": "wrong_type",
        "/faces": "out_of_range",
        "/side": "not_one_of",
        "/part/zone": "too_long",
        "/part/plate_mm": "missing",
        "/part/colour": "unknown_field",
        "/rows/1/zone": "missing",
        "/rows/1/plate_mm": "out_of_range",
        "/rows/2/_schema": "wrong_type",
        "/limits_mm/1": "wrong_type",
    }


def flattened(messages, where=()):
    if isinstance(messages, dict):
        for key, inner in messages.items():
            yield from flattened(inner, (*where, key))
    else:
        for wrong in messages if isinstance(messages, list) else [messages]:
            yield where, wrong


# Columns


def test_absent_numbers_are_nan_in_a_column():
    column = Whole().fields["plate_mm"].column([8.0, None, 0.5])
    assert column.dtype == np.float64
    np.testing.assert_array_equal(column, [8.0, np.nan, 0.5])


def test_a_choice_is_its_place_in_a_column():
    field = Whole().fields["state"]
    column = field.column(["nearly_holed", None, "sound"])
    np.testing.assert_array_equal(column, [1, -1, 0])
    assert field.values(column) == ["nearly_holed", None, "sound"]
    assert field.values(np.array(["sound", ""], dtype=object)) == ["sound", None]


def test_absent_days_are_nat_in_a_column():
    field = Whole().fields["seen_on"]
    column = field.column([date(2024, 2, 29), None])
    assert column.dtype == np.dtype("datetime64[D]")
    assert field.values(column) == ["2024-02-29", None]


def test_whole_numbers_in_a_column():
    column = Whole().fields["faces"].column([1, 2])
    assert column.dtype == np.int64


@pytest.mark.parametrize("name", ["id", "part", "rows", "limits_mm"])
def test_what_cannot_be_a_column_says_so(name):
    with pytest.raises(TypeError, match="cannot be a column"):
        Whole().fields[name].column([None])


@spread
@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=10), st.sampled_from(["mm", "%", "mm/year", "year", "probability"]))
def test_a_column_is_written_as_its_values_are_one_by_one(values, unit):
    field = Number(unit, -1e6, 1e6, description="Any.")
    written = field.values(np.array(values))
    assert written == [field.value(value) for value in values]
    assert all(math.copysign(1, value) == 1 for value in written if value == 0)
    assert all(
        abs(value - exact) <= 0.5 * 10**-field.decimals * (1 + 1e-9) for value, exact in zip(written, values, strict=True)
    )


def test_flags_are_written_from_numbers():
    assert Whole().fields["holed"].values(np.array([1.0, 0.0, np.nan])) == [True, False, None]


def test_an_empty_text_is_absent_only_where_it_may_be():
    column = np.array(["a", ""], dtype=object)
    assert Text(1, 5, description="Any.", nullable=True).values(column) == ["a", None]
    assert Text(1, 5, description="Any.").values(column) == ["a", ""]


# Rule sets


class Judged(Request):
    rule_sets = RuleSets(default_ids=("trade",), unless="rules", description="Rule sets.")
    rules = List(Text(1, 5, description="A rule."), 0, 5, description="Rules.")


def judged(**request):
    with KnownRuleSets(("trade", "trader", "loss")):
        return Judged().load(request)


@pytest.mark.parametrize(
    ("request_", "ids"),
    [
        ({}, ["trade"]),
        ({"rule_sets": None}, ["trade"]),
        ({"rule_sets": []}, []),
        ({"rules": ["own"]}, []),
        ({"rules": []}, ["trade"]),
        ({"rules": ["own"], "rule_sets": ["loss"]}, ["loss"]),
        ({"rule_sets": ["loss", "trade", "loss"]}, ["loss", "trade"]),
    ],
)
def test_which_rule_sets_apply(request_, ids):
    assert Judged().fields["rule_sets"].ids(judged(**request_)) == ids


def test_an_unknown_rule_set_is_refused_with_those_known():
    with pytest.raises(ma.ValidationError) as caught:
        judged(rule_sets=["trade", "trad"])
    path, wrong = only(caught.value.messages)
    assert (path, wrong.code, wrong.misspelt) == ("/rule_sets/1", "not_one_of", "trad")
    assert wrong.allowed == {"allowed": ["trade", "trader", "loss"]}


def test_which_rule_sets_are_known_ends_with_the_call():
    judged(rule_sets=["trade"])
    with pytest.raises(ma.ValidationError):
        Judged().load({"rule_sets": ["trade"]})


# The rest


@pytest.mark.parametrize(
    ("name", "near"),
    [
        ("plate_m", {"nearest": "plate_mm"}),
        ("plate", {"nearest": "plate_mm"}),
        ("colour", {}),
        ("", {}),
        (5, {}),
        ("x" * 10_000, {}),
    ],
)
def test_the_nearest_name(name, near):
    assert nearest(name, ["plate_mm", "pit_depth_mm", "years"]) == near


def test_a_number_of_an_unknown_unit_needs_its_decimals():
    with pytest.raises(ValueError, match="furlong"):
        Number("furlong", 0, 1, description="Any.")
    assert Number("furlong", 0, 1, decimals=1, description="Any.").value(0.26) == 0.3


@pytest.mark.parametrize("value", ["10/6", "0.5/40", "10/6/5/4.25"])
def test_a_pattern_is_kept(value):
    field = Text(1, 20, description="Any.", pattern=r"^[0-9./]+$", says="must be figures")
    assert field.deserialize(value) == value
    for wrong in (value + "\n", value + "x", "x" + value):
        with pytest.raises(ma.ValidationError) as caught:
            field.deserialize(wrong)
        assert caught.value.messages == [Wrong("bad_format", "must be figures")]


def test_every_member_of_a_response_is_required_and_null_only_where_declared():
    class Told(Response):
        left_mm = Number("mm", 0, 1, description="Any.")
        percent = Number("%", 0, 1, description="Any.", nullable=True)

    fields = Told().fields
    assert all(field.required for field in fields.values())
    assert {name: field.allow_none for name, field in fields.items()} == {"left_mm": False, "percent": True}


def test_a_day_column_of_the_far_ends():
    field = Day(description="Any.", nullable=True)
    ends = [date.min, date.max, date.max - timedelta(days=1)]
    assert field.values(field.column(ends)) == [day.isoformat() for day in ends]
