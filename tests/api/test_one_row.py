"""A row by itself is what a column of that one row is, to the last bit: result, findings, assumptions, refusals."""

import math
from dataclasses import dataclass, fields, is_dataclass, replace
from dataclasses import field as declared
from datetime import date
from functools import cache

import numpy as np
import orjson
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from marshmallow import ValidationError

from platemargin.quantities import looked_up, rounded
from platemargin_api.answer import answer, columns_of
from platemargin_api.calculation import Calculation
from platemargin_api.called import Called
from platemargin_api.fields import Choice, Day, Integer, Number, Request, Response
from platemargin_api.one_row import source
from platemargin_api.one_row.derived import one_row
from platemargin_api.one_row.recorded import NotRecordedError, Recording
from platemargin_api.problems import ProblemError
from platemargin_api.registry import Distribution, Served, load_registry

REGISTRY = load_registry()
ELEMENTWISE = [name for name, served in REGISTRY.calculations.items() if served.offered.elementwise]
SPECIAL = [
    0.0,
    -0.0,
    0.5,
    -0.5,
    1.5,
    2.5,
    0.49999999999999994,
    1.0,
    -1.0,
    3.7,
    -3.7,
    1e-300,
    2.0**52,
    1e300,
    math.inf,
    -math.inf,
    math.nan,
]


@cache
def of_columns(name):
    """The same calculation, served without a way of its own for one row."""
    return REGISTRY.calculations[name].in_columns()


def of_field(field):
    """Values of a field, many of them near those that boats have."""
    if isinstance(field, Choice):
        return st.sampled_from(field.names)
    if isinstance(field, Day):
        return st.dates().map(str)
    low, high = (getattr(field.validators[0], end) for end in ("min", "max"))
    if isinstance(field, Integer):
        return st.integers(low, high)
    usual = st.integers(0, 300).map(lambda tenths: tenths / 10).filter(lambda value: low <= value <= high)
    return usual | st.floats(low, high) | st.sampled_from([low, high])


def requests(name):
    served = REGISTRY.calculations[name]
    example = served.offered.example
    strategies = {}
    for member, field in served.arguments.items():
        values = of_field(field)
        if member in example:
            values = st.just(example[member]) | values
        strategies[member] = values if field.required else st.none() | values
    return st.fixed_dictionaries(strategies)


def leaves(value):
    if is_dataclass(value):
        for field in fields(value):
            yield from leaves(getattr(value, field.name))
    elif isinstance(value, (tuple, list)):
        for item in value:
            yield from leaves(item)
    else:
        (single,) = np.asarray(value).ravel().tolist()
        yield single


def same(one, other):
    return type(one) is type(other) and (one == other or (one != one and other != other))  # noqa: PLR0124  NaN


def told(served, body):
    try:
        return answer(served, REGISTRY, body)
    except ProblemError as problem:
        return problem.document()


@pytest.mark.parametrize("name", ELEMENTWISE)
def test_every_elementwise_calculation_has_it_and_its_example_takes_it(name):
    served = REGISTRY.calculations[name]
    assert served.one_row(served.request.load(dict(served.offered.example))) is not None


@pytest.mark.parametrize("name", ELEMENTWISE)
def test_it_is_the_column_of_one_row(name):
    served = REGISTRY.calculations[name]
    counted = {"rows": 0, "alone": 0}

    @settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
    @given(requests(name))
    def generated(sent):
        try:
            request = served.request.load({member: value for member, value in sent.items() if value is not None})
        except ValidationError:
            return
        body = orjson.dumps(sent)
        assert told(served, body) == told(of_columns(name), body)
        counted["rows"] += 1
        row = served.one_row(request)
        if row is None:
            return
        counted["alone"] += 1
        with np.errstate(all="ignore"):
            called = Called(served.offered, columns_of(served, [request]), None)
            called = replace(called, result=served.offered.run(**called.arguments))
            result, found, taken = row
            assert all(map(same, leaves(result), leaves(called.result)))
            assert [bool(np.all(where)) for _, where in called.findings()] == list(found)
            for place, (made, value) in enumerate(taken):
                assert made == bool(np.all(called.made(place)))
                assert not made or same(float(value), float(np.ravel(called.value(place))[0]))

    generated()
    # What is left to columns: requests that are refused, as most of these are, and divisions by zero.
    assert counted["alone"] > 0.05 * counted["rows"], counted


@dataclass(frozen=True, kw_only=True)
class Made:
    made: object


def compiled(function, *columns):
    """A function of columns for one row, derived with the first values of each."""
    recording = Recording()
    names = [f"column_{place}" for place in range(len(columns))]
    with np.errstate(all="ignore"):
        result = function(*(recording.argument(name, column[:1]) for name, column in zip(names, columns, strict=True)))
    written = source.Source(names)
    written.conditions(recording.steps)
    return written.function(written.told(result))


def check(function, *columns, signed_zeros=True):
    """Hold each row against the column of that one row: numpy itself is an ulp off between short columns and long ones."""
    derived = compiled(function, *columns)
    for row in range(len(columns[0])):
        sent = [column[row].item() for column in columns]
        with np.errstate(all="ignore"):
            (wanted,) = function(*(column[row : row + 1] for column in columns)).tolist()
            try:
                got = derived(*sent)
            except (ArithmeticError, ValueError):
                # Python refuses what numpy has no finite value for.
                assert not math.isfinite(wanted)
                continue
        plain = got.item() if isinstance(got, np.generic) else got
        assert same(plain, wanted), (sent, got, wanted)
        if wanted == 0 and signed_zeros:
            assert math.copysign(1, plain) == math.copysign(1, wanted), sent


FLOATS = np.array(SPECIAL)
PAIRS = tuple(grid.ravel() for grid in np.meshgrid(FLOATS, FLOATS))
WHOLE = np.array([-3, -1, 0, 1, 2, 7])
TRUTHS = tuple(grid.ravel() for grid in np.meshgrid([True, False], [True, False]))
DAYS = np.array(["2026-05-04", "NaT", "1969-12-31"], dtype="datetime64[D]")


@pytest.mark.parametrize(
    "function",
    [
        np.negative,
        np.absolute,
        np.square,
        np.isnan,
        np.sqrt,
        np.rint,
        np.floor,
        np.exp,
        np.log,
        np.cbrt,
        np.nan_to_num,
        np.isfinite,
    ],
)
def test_a_function_of_one_number_is_numpys(function):
    check(function, FLOATS)


OF_TWO = [np.add, np.subtract, np.multiply, np.divide, np.copysign, np.hypot, np.power, np.arctan2]
COMPARED = [np.less, np.less_equal, np.greater, np.greater_equal, np.equal, np.not_equal]


@pytest.mark.parametrize("function", [*OF_TWO, *COMPARED, lambda a, b: np.where(a < b, a, b)])
def test_a_function_of_two_numbers_is_numpys(function):
    check(function, *PAIRS)


@pytest.mark.parametrize("function", [np.minimum, np.maximum, np.fmin])
def test_the_lesser_and_the_greater_are_numpys(function):
    # Of 0 and -0 numpy gives the one or the other.
    check(function, *PAIRS, signed_zeros=False)


@pytest.mark.parametrize("function", [np.bitwise_and, np.bitwise_or, np.logical_and, np.logical_or, np.logical_xor, np.equal])
def test_a_function_of_truths_is_numpys(function):
    check(function, *TRUTHS)


@pytest.mark.parametrize(
    "function",
    [
        lambda a: ~(a > 1),
        lambda a: a**2 + a * 2 - 1,
        lambda a: np.maximum(a, 1),
        lambda a: np.where(a > 0, a, 0.5),
        lambda a: a.astype(np.float64) / 4,
        lambda a: np.where(a == 2, "two", "other"),
        lambda a: looked_up(np.array([0.5, 1.5, 2.5]), np.where(a > 2, 0, np.abs(a) - 1)),
        lambda a: rounded(a * 0.0125, "mm"),
        lambda a: (a > 0) & (a < 5) | (a == -3),
    ],
)
def test_whole_numbers_and_choices_are_numpys(function):
    check(function, WHOLE)


@pytest.mark.parametrize("side", ["left", "right"])
def test_a_place_in_a_table_is_numpys(side):
    table = np.array([-1.0, 0.5, 1.5, 3.7])
    check(lambda a: np.searchsorted(table, a, side=side), FLOATS)


@pytest.mark.parametrize(
    "function",
    [
        np.isnat,
        lambda day: (np.datetime64("9999-12-31") - day).astype("timedelta64[D]").astype(np.float64),
        lambda day: np.where(np.isnat(day), np.datetime64("NaT", "D"), day) + np.timedelta64(3, "D"),
        lambda day: day - np.timedelta64(3, "D"),
        lambda day: np.timedelta64(3, "D") + day,
        lambda day: (day - np.datetime64("2026-05-01")) > np.timedelta64(2, "D"),
        lambda day: day + (day - np.datetime64("2026-05-01")),
        lambda day: day + (np.where(np.isnat(day), 0, 2)).astype("timedelta64[D]"),
    ],
)
def test_days_are_numpys(function):
    check(function, DAYS)


@pytest.mark.parametrize("function", COMPARED)
def test_days_compare_as_numpys_do(function):
    check(function, *(grid.ravel() for grid in np.meshgrid(DAYS, DAYS)))
    check(lambda day: function(day, np.datetime64("1970-01-01")), DAYS)
    check(lambda day: function(day, np.datetime64("NaT", "D")), DAYS)


@pytest.mark.parametrize(
    "function",
    [
        lambda day: day + np.timedelta64(3, "h"),
        lambda day: day.astype("datetime64[s]"),
        lambda day: day - np.datetime64("1970-01-01"),
        lambda day: day.astype(np.int64),
        lambda day: np.maximum(day, np.datetime64("1970-01-01")),
    ],
)
def test_what_is_of_no_days_is_left_to_columns(function):
    with pytest.raises((NotRecordedError, TypeError)):
        compiled(function, DAYS)


@dataclass(frozen=True)
class Sums:
    made: object
    twice: object = declared(init=False)

    def __post_init__(self):
        object.__setattr__(self, "twice", self.made * 2)


@dataclass(frozen=True)
class Plain:
    made: object
    more: object = 7


@dataclass
class Own:
    made: object

    def __init__(self, made):
        self.made, self.twice = made, made * 2


@pytest.mark.parametrize("kind", [Plain, Made, Sums, Own])
def test_a_result_that_makes_more_of_its_members_is_made_by_itself(kind):
    got, wanted = compiled(lambda a: kind(made=a + 1), np.array([1.0]))(2.0), kind(made=3.0)
    assert vars(got) == vars(wanted)


def test_a_day_that_is_always_the_same_is_a_day():
    fixed = np.datetime64("2020-01-01")
    derived = compiled(lambda a: (a + 1, fixed, np.datetime64("NaT", "D")), np.array([1.0]))
    assert derived(2.0) == (3.0, date(2020, 1, 1), None)
    with pytest.raises(NotRecordedError):
        compiled(lambda a: (a + 1, np.timedelta64(3, "D")), np.array([1.0]))


def test_a_function_that_does_not_run_is_not_offered():
    """Decimals by their place would be made a column."""
    calculation = calculation_of(lambda a: np.round(a, 2))
    served = Served(calculation, Distribution("tests", "0"))
    body = b'{"number": 2.345}'
    assert answer(served, REGISTRY, body)["result"] == answer(served.in_columns(), REGISTRY, body)["result"]


def test_powers_are_those_of_columns_and_not_of_plain_numbers():
    check(lambda a, b: np.abs(a) ** b, *PAIRS)
    check(lambda a: a**2, FLOATS)
    random = np.random.default_rng(1).integers(0, 0x7FF0 << 48, 200_000).view(np.float64)
    for number in (FLOATS, random):
        np.testing.assert_array_equal(np.power(number, np.ones_like(number)), number)


def test_what_is_written_into_a_column_is_its_outcome():
    def rounds(column):
        scaled = column * 10.0
        np.rint(scaled, out=scaled)
        scaled /= 10.0
        return scaled

    check(rounds, FLOATS)


def test_a_step_that_comes_again_is_made_once():
    recording = Recording()
    column = recording.argument("column", np.array([1.5]))
    (column + 1) * (column + 1)
    assert [step.done for step in recording.steps[1:]] == [np.add, np.multiply]
    # 1, 1.0 and True are three.
    assert len({id((column + other).step) for other in (1, 1.0, True)}) == 3


def test_a_decision_holds_for_those_of_its_side_alone():
    derived = compiled(lambda a: a * 2 if a > 0 else a * 3, np.array([1.0]))
    assert (derived(4.0), derived(-4.0), derived(math.nan)) == (8.0, None, None)


class OneNumber(Request):
    number = Number("mm", 0, 10, required=True, description="A number.")


class OneResult(Response):
    made = Number("mm", -1000, 1000, nullable=True, description="What is made of it.")


def calculation_of(function):
    return Calculation(
        id="one-number",
        version="1.0.0",
        title="One number",
        description="Makes something of a number.",
        request=OneNumber,
        response=OneResult,
        run=lambda number: Made(made=function(number)),
        elementwise=True,
        summary=lambda _: ["Made."],
        references=(),
        cautions=(),
        example={"number": 4.0},
    )


@pytest.mark.parametrize(
    "function",
    [
        lambda a: np.asarray(a) + 1,
        lambda a: np.array([0.5, 1.5])[np.asarray(a, dtype=int)],
        lambda a: float(a) + np.zeros(1),
        lambda a: np.add.reduce([a, a]),
        np.sort,
        lambda a: np.add(a, 1, where=np.array([True])),
        lambda a: np.array([value + 1 for value in a]),
        lambda a: a**0.5,
        lambda a: np.modf(a)[0],
        lambda a: a.tolist() and a,
        lambda a: np.concatenate([a, a]),
    ],
)
def test_what_is_not_known_has_no_way_of_its_own(function):
    assert one_row(calculation_of(function), OneNumber(), OneNumber().fields | {}) is None


@pytest.mark.parametrize(
    ("function", "made"), [(lambda a: a * 2, 8.0), (lambda a: np.where(a > 3, a, np.nan), 4.0), (lambda a: 10 / (a - 4), None)]
)
def test_a_plain_function_has_one_which_leaves_to_columns_what_python_does_not_reckon(function, made):
    members = {name: field for name, field in OneNumber().fields.items() if name != "id"}
    derived = one_row(calculation_of(function), OneNumber(), members)
    row = derived({"number": 4.0})
    assert (row and row[0].made) == made
