"""Lines of working: numbers that are written all at once are those that are written one by one."""

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from platemargin.declared import Step
from platemargin.quantities import text
from platemargin_api.working import working_of

SHORT = [6.2, 10.0, 0.0, 0.0001, 0.000123, 123456.0, -4.5]
NUMBERS = (
    st.floats(allow_nan=False)
    | st.integers(0, 6).flatmap(lambda decimals: st.floats(-1e7, 1e7).map(lambda number: round(number, decimals)))
    | st.integers(-(10**9), 10**9)
)


def step(name, **kwargs):
    return Step(symbol=name, formula=name, substituted=f"1 * {{{name}}}", value=name, unit="1", reference="none", **kwargs)


@given(st.lists(NUMBERS, max_size=6))
@example(SHORT)
@example([*SHORT, 0.1 + 0.2])
@example([*SHORT, 1e-5])
@example([*SHORT, -0.0])
@example([*SHORT, 12345678.0])
@example([*SHORT, 123456789.0])
@example([*SHORT, 1e15 + 0.3])
@example([*SHORT, 1e300])
@example([float("inf"), 6.2])
def test_numbers_written_all_at_once_are_those_written_one_by_one(numbers):
    """Beside `text`, which is tested by itself: whatever the numbers, and whichever way they are written."""
    figures = {f"a{place}": number for place, number in enumerate(numbers)}
    lines = list(working_of([step(name) for name in figures], figures))
    assert [line["substituted"] for line in lines] == [f"1 * {text(number)}" for number in numbers]
    assert [line["value"] for line in lines] == numbers


@pytest.mark.parametrize("figures", [{"a": None}, {"b": 1.0}, {}])
def test_a_line_that_names_an_unknown_figure_is_not_shown(figures):
    assert list(working_of([step("a")], figures)) == []


def test_a_line_is_shown_where_it_holds_and_says_of_what_it_is():
    figures = {"of": "r1", "a": 6.2}
    steps = [step("a", when=lambda told: told["a"] > 7), step("a", when=lambda told: told["a"] > 6)]
    (line,) = working_of(steps, figures)
    assert line == {
        "of": "r1",
        "symbol": "a",
        "formula": "a",
        "substituted": "1 * 6.2",
        "value": 6.2,
        "unit": "1",
        "reference": "none",
    }
