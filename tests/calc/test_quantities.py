"""Rounding as declared: what a reader sees is what was judged."""

import numpy as np
import pytest

from platemargin.declared import as_declared, filled
from platemargin.quantities import DECIMALS, at_least, below, decimals_of, rounded, text


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
