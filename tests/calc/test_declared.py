"""Faults as data: all at once, by place, in words with the figures."""

import numpy as np
import pytest

from platemargin.corrosion_rate import Environment, Governing
from platemargin.declared import (
    Declared,
    Fault,
    Place,
    Step,
    as_declared,
    column_as_declared,
    columns,
    filling,
    refuse,
    substituted,
)
from platemargin.errors import NotApplicableError, PlatemarginError, RuleSetError
from platemargin.remaining_life import LifeStatus
from platemargin.residual_thickness import PlateState
from platemargin.rules import Verdict

THIN = Fault(field="a_mm", code="thin", message="{a_mm} mm is thin", broken=lambda a: a["a_mm"] < 1.0)
THICK = Fault(field="a_mm", code="thick", message="{a_mm} mm is thick", broken=lambda a: a["a_mm"] > 8.0)
ODD = Fault(
    field="list",
    code="odd",
    message="{value} is odd",
    broken=lambda a: [Place(path=(i, "x"), values={"value": v}) for i, v in enumerate(a["list"]) if v % 2],
)


def test_nothing_broken_nothing_raised():
    """Arguments that break nothing pass."""
    refuse([THIN, THICK], columns({"a_mm": 1.0}))
    refuse([ODD], {"list": [2, 4]})


def test_a_scalar_has_no_row():
    """A single call's fault names the argument alone."""
    with pytest.raises(NotApplicableError) as refused:
        refuse([THIN], columns({"a_mm": 0.5}))
    assert refused.value.faults == (("thin", ("a_mm",), "0.5 mm is thin"),)


def test_every_row_and_every_fault_is_told():
    """Of many rows each broken one is named, with its own figures."""
    with pytest.raises(NotApplicableError) as refused:
        refuse([THIN, THICK], columns({"a_mm": np.array([2.0, 0.5, 0.25, 9.0])}))
    assert refused.value.faults == (
        ("thin", ("a_mm", 1), "0.5 mm is thin"),
        ("thin", ("a_mm", 2), "0.25 mm is thin"),
        ("thick", ("a_mm", 3), "9 mm is thick"),
    )
    assert str(refused.value) == "a_mm.1: 0.5 mm is thin; a_mm.2: 0.25 mm is thin; a_mm.3: 9 mm is thick"


def test_a_place_leads_further_into_its_argument():
    """A fault that answers with places names each, with the values that it found there."""
    with pytest.raises(NotApplicableError) as refused:
        refuse([ODD], {"list": [2, 1]})
    assert refused.value.faults == (("odd", ("list", 1, "x"), "1 is odd"),)


def test_columns_are_of_one_shape_and_not_copied():
    """Scalars beside columns become columns; no array is copied."""
    column = np.array([1.0, 2.0])
    made = columns({"a": column, "b": 3.0})
    assert made["b"].tolist() == [3.0, 3.0]
    assert np.shares_memory(made["a"], column)


def test_columns_of_two_lengths_are_refused():
    """Columns of different lengths are no rows."""
    with pytest.raises(ValueError, match="shape"):
        columns({"a": [1.0, 2.0], "b": [1.0, 2.0, 3.0]})


@pytest.mark.parametrize("error", [NotApplicableError, RuleSetError])
def test_errors_have_one_root(error):
    """Whatever the package raises on purpose is a `PlatemarginError`, and a `ValueError`."""
    assert issubclass(error, PlatemarginError)
    assert issubclass(PlatemarginError, ValueError)


@pytest.mark.parametrize("categories", [PlateState, LifeStatus, Governing, Environment, Verdict])
def test_categories_count_from_nothing(categories):
    """A category is its place in the list, as columns hold it: 0, 1, 2 and on."""
    assert [*categories] == [*range(len(categories))]


@pytest.mark.parametrize("values", [[1.23456, 0.5], [1.23456, None, "thin", 3]], ids=["numbers", "of several kinds"])
def test_a_column_is_rounded_as_each_of_its_values_is(values):
    """Decimals of a millimetre: three; what is no number stays as it is."""
    assert column_as_declared("a_mm", values) == [as_declared({"a_mm": value})["a_mm"] for value in values]
    assert column_as_declared("a_mm", values)[0] == 1.235


def test_values_are_rounded_as_they_are_asked_for():
    told = Declared({"plate_mm": 0.1 + 0.2, "years": 3, "zone": "side"})
    assert (dict(told), len(told)) == ({"plate_mm": 0.3, "years": 3, "zone": "side"}, 3)


def step(template):
    return Step(symbol="a", formula="a", substituted=template, value="a", unit="mm", reference="none")


@pytest.mark.parametrize(
    ("template", "wanted"),
    [
        ("", ""),
        ("100 %", "100 %"),
        ("{a}", "6.2"),
        ("{a} + {b} = {a}", "6.2 + 50%s = 6.2"),
        ("{{{a}}} 100 % of {b}", "{6.2} 100 % of 50%s"),
    ],
)
def test_a_template_is_filled_as_pythons_format_map_fills_it(template, wanted):
    figures = {"a": 6.2, "b": "50%s"}
    texts = {"a": "6.2", "b": "50%s"}
    assert substituted(step(template), figures) == template.format_map(texts) == wanted
    assert filling(template)(texts) == wanted


@pytest.mark.parametrize("template", ["{a:.2f}", "{a!r}", "{}", "{a.b}", "{a[0]}"])
def test_a_template_that_asks_for_more_than_a_name_is_refused(template):
    with pytest.raises(ValueError, match="names its figures"):
        filling(template)
