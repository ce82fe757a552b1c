"""Rounding as declared: what a reader sees is what was judged."""

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import example, given, settings

from platemargin.declared import as_declared, filled
from platemargin.quantities import (
    DECIMALS,
    FIGURES,
    all_as_named,
    as_array,
    as_named,
    at_least,
    below,
    chosen,
    decimals_of,
    last_place,
    looked_up,
    odds,
    one_rounded,
    one_to_decimals,
    rounded,
    telling_of,
    text,
    to_decimals,
    unit_of,
)
from platemargin.remaining_life import LifeStatus


@pytest.mark.parametrize(("unit", "decimals"), [("mm", 3), ("%", 2), ("mm/year", 4), ("year", 2), ("probability", 6)])
def test_declared_decimals(unit, decimals):
    """CONTRACT: mm 3 decimals, percent 2, mm/year 4, years 2, probability 6."""
    assert DECIMALS[unit] == decimals


@pytest.mark.parametrize(
    ("value", "limit", "is_below"),
    [(4.6 - 0.6, 4.0, False), (9.8 - 2.8, 7.0, False), (3.9994, 4.0, True), (3.9996, 4.0, False), (np.nan, 4.0, False)],
)
def test_below_and_at_least_are_of_rounded_values(value, limit, is_below):
    """CONTRACT: comparisons are of values rounded as declared; equal to a limit is not below it, and NaN is neither."""
    assert below(value, limit, "mm") == is_below
    assert at_least(value, limit, "mm") == (not is_below and not np.isnan(value))


spread = settings(max_examples=1000, derandomize=True, deadline=None)
#: Any double whose scaled value is one, and what lies halfway between two decimals.
doubles = st.floats(-1e290, 1e290) | st.just(np.nan) | st.integers(-(10**9), 10**9).map(lambda half: half / 2000)


def same(one, other):
    """Tell whether two doubles are one and the same, the sign of zero included."""
    return np.float64(one).tobytes() == np.float64(other).tobytes()


@pytest.mark.filterwarnings("ignore:overflow")
@spread
@given(doubles, st.integers(-2, 12))
@example(4503599627370495.5, 0)
@example(9007199254740993.0, 3)
@example(-0.0, 2)
@example(-0.3, -1)
@example(np.inf, 3)
def test_one_number_and_a_column_are_rounded_as_numpy_rounds(value, decimals):
    """The oracle is numpy.round."""
    expected = np.round(value, decimals) + 0.0
    assert same(one_to_decimals(value, decimals), expected)
    assert same(to_decimals(np.array(value), decimals), expected)
    assert same(to_decimals(np.array([value]), decimals)[0], expected)
    assert same(to_decimals(np.array([value, 0.0]), decimals)[0], expected)


@spread
@given(st.floats(-1e9, 1e9), st.sampled_from(sorted({**DECIMALS, **FIGURES})))
def test_one_number_is_rounded_as_a_column_is(value, unit):
    assert same(one_rounded(value, unit), rounded([value, 0.0], unit)[0])
    assert same(rounded(value, unit), rounded([value, 0.0], unit)[0])


@pytest.mark.parametrize("shape", [(), (1,), (2,), (1, 1), (0,)])
def test_a_rounded_column_has_the_shape_that_it_had(shape):
    written = rounded(np.full(shape, 1.23456), "mm")
    assert written.shape == shape
    assert written.dtype == np.float64
    assert (written == 1.235).all()


@spread
@given(st.lists(st.tuples(st.booleans(), st.booleans()), min_size=1, max_size=5))
def test_the_first_condition_that_holds_chooses(rows):
    """The oracle is numpy.select."""
    first, second = np.array(rows).T
    found = chosen((first, LifeStatus.ALREADY_BELOW), (second, LifeStatus.NO_MEASURABLE_LOSS), otherwise=LifeStatus.ABOVE)
    expected = np.select([first, second], [LifeStatus.ALREADY_BELOW, LifeStatus.NO_MEASURABLE_LOSS], LifeStatus.ABOVE)
    assert found.tolist() == expected.tolist()
    assert found.dtype == expected.dtype


def test_rows_for_which_nothing_holds_keep_what_they_had():
    """The oracle is numpy.select, its default an array."""
    first, before = np.array([True, False, False]), np.array([7, 8, 9])
    assert chosen((first, LifeStatus.ALREADY_BELOW), otherwise=before).tolist() == np.select([first], [2], before).tolist()
    assert chosen((first, 5), otherwise=before).tolist() == [5, 8, 9]


class StandIn:
    """What numpy's functions ask instead of an array (NEP 18); it tells what it was asked."""

    def __array_function__(self, function, types, arguments, named):
        return function, types, arguments, named


def test_what_stands_for_an_array_is_taken_for_one():
    """NEP 18: it passes as it is, and is asked for a table's entries as numpy asks for its own functions."""
    stand_in, table = StandIn(), np.array([0.5, 0.7])
    assert as_array(stand_in) is stand_in
    assert chosen(otherwise=stand_in) is stand_in
    assert looked_up(table, stand_in) == (looked_up, (StandIn,), (table, stand_in), {})
    assert as_array([1.5, 2.5]).tolist() == [1.5, 2.5]


@pytest.mark.parametrize(("place", "entries"), [(np.array([1, 0, 1]), [0.7, 0.5, 0.7]), (np.int64(1), 0.7)])
def test_entries_of_a_table(place, entries):
    assert looked_up(np.array([0.5, 0.7]), place).tolist() == entries


@pytest.mark.parametrize("name", ["plate_mm", "loss_percent", "output_a", "resistivity_ohm_m", "limit", "share"])
def test_many_values_of_a_name_are_rounded_as_one_is(name):
    """In decimals, in significant figures, and in six decimals where the name has no unit; no minus zero among them."""
    values = np.array([[9.8 - 2.8, 0.0123456789, -1e-12], [1234.5678, 0.1 + 0.2, -0.0]])
    written = all_as_named(name, values)
    assert written.shape == values.shape
    assert written.dtype == np.float64
    assert all(same(one, as_named(name, value)) for one, value in zip(written.ravel(), values.ravel().tolist(), strict=True))


@pytest.mark.parametrize(
    ("value", "written"),
    [(0.000123456, "0.0001235"), (0.00000123456, "0.000001235"), (0.0000007, "0.000001"), (0.00123456, "0.001235")],
)
def test_a_sentence_has_four_figures_of_what_is_small(value, written):
    """Down to a millionth; what is less has six decimals, as what is from a thousandth on has."""
    assert text(value) == written


def test_a_column_that_is_rounded_is_left_as_it_was():
    column = np.array([1.23456, np.nan])
    assert rounded(column, "mm").tolist()[0] == 1.235
    assert column[0] == 1.23456


def test_no_minus_zero():
    """What rounds to nothing is 0, never minus 0: it is never written so."""
    assert not np.signbit(rounded(-0.0001, "mm"))
    assert not np.signbit(as_declared({"loss_mm": -0.0001})["loss_mm"])
    assert text(-0.0000001) == "0"


@pytest.mark.parametrize(
    ("name", "decimals"),
    [
        ("residual_mm", 3),
        ("governing_mm_per_year", 4),
        ("loss_percent", 2),
        ("next_survey_within_years", 2),
        ("area_m2", 3),
        ("station_m", 3),
        ("coating_um", 1),
        ("probability_below", 6),
        ("limit", 6),
    ],
)
def test_unit_is_the_names_longest_ending(name, decimals):
    """A number's name ends in its unit; one that ends in none is told with six decimals."""
    assert decimals_of(name) == decimals


@pytest.mark.parametrize("value", [0.0005, 0.0025, 1.0005, 9.9995, 10.0005, 12.3455])
def test_sentences_round_as_results_do(value):
    """A figure half way between two is the same in a sentence and in the result, so that what is read is what was judged."""
    assert as_declared({"plate_mm": value})["plate_mm"] == rounded(value, "mm")


def test_only_floats_are_rounded():
    """Counts, names and absent values pass as they are."""
    values = {"count_mm": 3, "zone": "side", "original_mm": None}
    assert as_declared(values) == values


def test_sentence_has_no_tail():
    """Numbers in a sentence have no tail of zeros or of binary arithmetic."""
    assert filled("{a_mm} {b_mm} {c} {d}", {"a_mm": 4.6 - 0.6, "b_mm": 0.1 + 0.2, "c": 3, "d": "x"}) == "4 0.3 3 x"


@pytest.mark.parametrize("unit", ["A", "ohm", "ohm m", "A/m2"])
@pytest.mark.parametrize(
    ("value", "written"),
    [(12345.6, 12350.0), (0.000123456, 0.0001235), (1.00005, 1.0), (-0.0, 0.0), (0.0, 0.0), (9.9996, 10.0), (-2.34567, -2.346)],
)
def test_currents_and_resistances_have_four_significant_figures(unit, value, written):
    """CONTRACT: currents and resistances 4 significant figures, of whatever size."""
    assert FIGURES[unit] == 4
    assert float(rounded(value, unit)) == written
    assert not np.signbit(rounded(value, unit)) or written < 0


def test_figures_of_a_column_are_rounded_one_by_one_and_absence_stays():
    """A column keeps its shape; NaN and infinity pass, so that the writer sees them."""
    column = np.array([[0.0123456, np.nan], [123456.0, np.inf]])
    assert np.array_equal(rounded(column, "A"), [[0.01235, np.nan], [123500.0, np.inf]], equal_nan=True)


@pytest.mark.parametrize("value", [0.0123449, 0.0123451, 5e-7, 123.4])
def test_currents_are_compared_as_they_are_written(value):
    """Two currents of the same four figures are equal for every limit."""
    written = float(f"{value:.3e}")
    assert not below(value, written, "A")
    assert not below(written, value, "A")
    assert at_least(value, written, "A")


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("output_initial_a", "A"),
        ("mean_a_per_m2", "A/m2"),
        ("resistivity_ohm_m", "ohm m"),
        ("anode_resistance_final_ohm", "ohm"),
        ("breakdown_per_year", "1/year"),
        ("long_term_mm_per_year", "mm/year"),
        ("capacity_ah_per_kg", "Ah/kg"),
        ("reach_m", "m"),
        ("count", None),
    ],
)
def test_unit_of_a_name(name, unit):
    """The longest ending wins: ohm m is no metre, A/m2 no square metre."""
    assert unit_of(name) == unit


def test_a_sentence_keeps_four_figures_of_a_small_current():
    """What the result tells a sentence tells: 0.0004163 A is not 0.000416 A."""
    assert filled("{output_initial_a} A", {"output_initial_a": 0.000416349}) == "0.0004163 A"
    assert as_named("output_initial_a", 0.000416349) == 0.0004163


@pytest.mark.parametrize(
    ("value", "unit", "place"),
    [(0.01235, "A", 1e-5), (1235.0, "ohm", 1.0), (9.8, "mm", 1e-3), (5.0, None, 1e-6), (0.0, "A", 1e-6)],
)
def test_last_place(value, unit, place):
    """One unit in the last place that is written."""
    assert last_place(value, unit) == pytest.approx(place)


@pytest.mark.parametrize(
    ("probability", "told"),
    [
        (0.0, "less than 0.001"),
        (0.000999, "less than 0.001"),
        (0.001, "0.001"),
        (0.054799, "0.055"),
        (0.0996, "0.1"),
        (0.344578, "0.34"),
        (0.5, "0.5"),
        (0.655422, "0.66"),
        (0.987654, "0.988"),
        (0.999, "0.999"),
        (0.999001, "more than 0.999"),
        (1.0, "more than 0.999"),
    ],
)
def test_a_sentence_tells_a_probability_with_two_figures(probability, told):
    """Of it, or of what it lacks of one: 1 - 0.987654 = 0.012346 is 0.012."""
    assert odds(probability) == told


@pytest.mark.parametrize("name", ["probability_below_now", "hit_probability", "p_value", "likelihood_ratio_p_value"])
def test_what_is_called_a_probability_is_told_as_one_where_it_is_one(name):
    assert telling_of(name)(0.054799) == "0.055"
    assert [telling_of(name)(value) for value in (0.0, 1.0)] == ["less than 0.001", "more than 0.999"]
    assert [telling_of(name)(value) for value in (None, "low", 3, 1.5, -0.5, np.nan)] == [
        "None",
        "low",
        "3",
        "1.5",
        "-0.5",
        "nan",
    ]


@pytest.mark.parametrize("name", ["probability_percent", "plate_mm", "confidence", "probable"])
def test_any_other_figure_is_told_as_it_is(name):
    assert telling_of(name)(0.054799) == "0.054799"
