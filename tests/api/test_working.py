"""Lines of working: numbers that are written all at once are those that are written one by one."""

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from platemargin.declared import Step
from platemargin.quantities import text
from platemargin_api.working import Working

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
    lines = list(Working([step(name) for name in figures]).of(figures))
    assert [line["substituted"] for line in lines] == [f"1 * {text(number)}" for number in numbers]
    assert [line["value"] for line in lines] == numbers


@pytest.mark.parametrize("figures", [{"a": None}, {"b": 1.0}, {}])
def test_a_line_that_names_an_unknown_figure_is_not_shown(figures):
    assert list(Working([step("a")]).of(figures)) == []


def test_a_line_is_shown_where_it_holds_and_says_of_what_it_is():
    figures = {"of": "r1", "a": 6.2}
    steps = [step("a", when=lambda told: told["a"] > 7), step("a", when=lambda told: told["a"] > 6)]
    (line,) = Working(steps).of(figures)
    assert line == {
        "of": "r1",
        "symbol": "a",
        "formula": "a",
        "substituted": "1 * 6.2",
        "value": 6.2,
        "unit": "1",
        "reference": "none",
    }


@pytest.mark.parametrize(
    ("template", "wanted"),
    [
        ("", ""),
        ("100 % 'of' \"it\" \\ \n", "100 % 'of' \"it\" \\ \n"),
        ("{a} + {b} = {a}", "6.2 + 50%s{x} = 6.2"),
        ("{{{a}}} 100 % of {b}", "{6.2} 100 % of 50%s{x}"),
        ("{class} and {a}", "7 and 6.2"),
    ],
)
def test_lines_are_filled_as_pythons_format_map_fills_them(template, wanted):
    figures = {"a": 6.2, "b": "50%s{x}", "class": 7, "value": 1.0}
    line = Step(symbol="a", formula="a", substituted=template, value="value", unit="1", reference="none")
    told = [one["substituted"] for one in Working([line, step("a"), line]).of(figures)]
    assert told == [wanted, "1 * 6.2", wanted]
    assert told[0] == template.format_map({"a": "6.2", "b": "50%s{x}", "class": "7"})
