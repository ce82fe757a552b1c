"""The compiled writer against its oracle, `schema.dump`: the same members in the same order, rounded, finite."""

from dataclasses import dataclass
from datetime import date
from enum import IntEnum
from typing import Any

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given, settings

from platemargin.quantities import DECIMALS
from platemargin_api.body import dump
from platemargin_api.fields import Choice, Day, Flag, Integer, List, Number, Object, Response, Rows, Text
from platemargin_api.writer import compiled

spread = settings(max_examples=200, derandomize=True, deadline=None)


class State(IntEnum):
    SOUND = 0
    HOLED = 1


class Row(Response):
    name = Text(1, 20, description="A name.")
    side = Choice(("port", "starboard"), description="A side.", nullable=True)
    left_mm = Number("mm", -1e4, 1e4, description="A thickness.", nullable=True)
    state = Choice(State, description="A state.")
    count = Integer(0, 100, description="A count.")


class Part(Response):
    length_m = Number("m", 0, 100, description="A length.")
    days = List(Day(description="A day."), 0, 10, description="Days.")


class Whole(Response):
    left_mm = Number("mm", -1e4, 1e4, description="A thickness.")
    percent = Number("%", -1e4, 1e4, description="A share.", nullable=True)
    holed = Flag(description="Whether it is holed.", nullable=True)
    state = Choice(State, description="A state.")
    seen_on = Day(description="A day.", nullable=True)
    note = Text(1, 20, description="A note.", nullable=True)
    part = Object(Part, description="A part.", nullable=True)
    rows = Rows(Row, 0, 100, description="Rows.")
    limits_mm = List(Number("mm", 0, 40, description="A limit."), 0, 10, description="Limits.", nullable=True)


@dataclass
class Result:
    left_mm: Any
    percent: Any
    holed: Any
    state: Any
    seen_on: Any
    note: Any
    part: Any
    rows: Any
    limits_mm: Any


@dataclass
class Columns:
    name: Any
    side: Any
    left_mm: Any
    state: Any
    count: Any


schema = Whole()
write = compiled(schema)
sizes = st.floats(-1e4, 1e4, allow_nan=False)
rows = st.builds(
    lambda **members: members,
    name=st.text(min_size=1, max_size=5),
    side=st.sampled_from(["port", "starboard", None]),
    left_mm=sizes | st.none(),
    state=st.sampled_from(State),
    count=st.integers(0, 100),
)
results = st.builds(
    Result,
    left_mm=sizes | sizes.map(lambda value: np.array([value])),
    percent=sizes | st.none() | st.just(np.array([np.nan])),
    holed=st.sampled_from([True, False, None, np.array([1.0]), np.array([np.nan])]),
    state=st.sampled_from([State.SOUND, State.HOLED, np.array([1]), "holed"]),
    seen_on=st.dates() | st.none() | st.just(np.array(["NaT"], dtype="datetime64[D]")),
    note=st.text(min_size=1, max_size=5) | st.none(),
    part=st.none()
    | st.builds(lambda length, days: {"length_m": length, "days": days}, sizes, st.lists(st.dates(), max_size=3)),
    rows=st.lists(rows, max_size=4),
    limits_mm=st.none() | st.lists(sizes, max_size=3),
)


def columns(members):
    """Return rows as a dataclass of columns, as a calculation of many rows returns them."""
    return Columns(
        name=np.array([row["name"] for row in members], dtype=object),
        side=np.array([row["side"] or "" for row in members], dtype=object),
        left_mm=np.array([np.nan if row["left_mm"] is None else row["left_mm"] for row in members], dtype=float),
        state=np.array([row["state"] for row in members], dtype=int),
        count=np.array([row["count"] for row in members], dtype=int),
    )


@spread
@given(results)
def test_it_writes_what_the_schema_dumps(result):
    assert dump(write(result)) == dump(schema.dump(result))


@spread
@given(results, st.lists(rows, min_size=1, max_size=5))
def test_columns_are_written_as_rows_are(result, members):
    result.rows = members
    as_rows = dump(write(result))
    result.rows = columns(members)
    assert dump(write(result)) == as_rows
    assert dump(schema.dump(result)) == as_rows


def test_a_null_character_at_the_end_of_a_text_is_kept():
    result = Result(1.0, None, None, State.SOUND, None, "a\x00", None, [], None)
    assert write(result)["note"] == schema.dump(result)["note"] == "a\x00"


@spread
@given(results)
def test_every_member_is_there_in_the_order_declared(result):
    told = write(result)
    assert list(told) == list(schema.fields)
    assert all(list(row) == list(Row().fields) for row in told["rows"])
    assert told["left_mm"] == round(told["left_mm"], DECIMALS["mm"])


def result(**members):
    plain = {"left_mm": 1.0, "percent": 2.0, "holed": True, "state": State.SOUND, "seen_on": None, "note": None}
    return Result(**{**plain, "part": None, "rows": [], "limits_mm": None, **members})


@pytest.mark.parametrize(
    ("members", "told"),
    [
        ({"left_mm": 9.8 - 2.8}, 7.0),
        ({"left_mm": 0.0005}, 0.0),
        ({"left_mm": 0.0015}, 0.002),
        ({"left_mm": -0.0004}, 0.0),
        ({"left_mm": np.float64(4.6) - 0.6}, 4.0),
        ({"left_mm": np.array([6.2])}, 6.2),
        ({"left_mm": 3}, 3.0),
    ],
)
def test_a_number_is_rounded_as_declared(members, told):
    written = write(result(**members))["left_mm"]
    assert (type(written), written) == (float, told)
    assert dump(written) == dump(told)


def test_absence_is_null_where_it_may_be():
    nan = np.array([np.nan])
    told = write(result(percent=nan, holed=nan, seen_on=np.array(["NaT"], dtype="datetime64[D]"), note=None))
    assert [told[name] for name in ("percent", "holed", "seen_on", "note")] == [None] * 4


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf, np.array([np.nan])])
def test_what_is_not_finite_does_not_leave(value):
    with pytest.raises(FloatingPointError, match="left_mm has no finite value"):
        write(result(left_mm=value))


@pytest.mark.parametrize("value", [np.inf, -np.inf])
def test_infinity_is_not_absence(value):
    with pytest.raises(FloatingPointError, match="percent has no finite value"):
        write(result(percent=value))


def test_what_is_not_finite_does_not_leave_a_row():
    row = {"name": "a", "side": None, "left_mm": np.inf, "state": State.SOUND, "count": 1}
    for members in ([row], columns([row])):
        with pytest.raises(FloatingPointError, match="left_mm"):
            write(result(rows=members))


def test_a_result_that_lacks_a_member_is_an_error():
    with pytest.raises(AttributeError):
        write(object())


def test_dates_names_and_flags():
    told = write(
        result(
            seen_on=date(2024, 2, 29),
            state=State.HOLED,
            holed=np.array([0.0]),
            part={"length_m": 17.5, "days": [date(1, 1, 1)]},
            limits_mm=[4.00049, 3.5],
        )
    )
    assert (told["seen_on"], told["state"], told["holed"]) == ("2024-02-29", "holed", False)
    assert told["part"] == {"length_m": 17.5, "days": ["0001-01-01"]}
    assert told["limits_mm"] == [4.0, 3.5]
