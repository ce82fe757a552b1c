"""The plug-in's own tests: the contract, the figures, and the example in the docstring."""

import doctest

import numpy as np
import platemargin_plate_weight
import pytest
from platemargin_plate_weight import calculation, plate_weight, rule_set

from platemargin.errors import NotApplicableError
from platemargin_api.testing import check_calculation


def test_it_keeps_the_contract():
    check_calculation(calculation, rule_sets=[rule_set])


# Derived: thickness x 7.85 kg for each mm of a square metre.
@pytest.mark.parametrize(("thickness_mm", "mass_kg"), [(4, 31.40), (5, 39.25), (6, 47.10), (8, 62.80), (10, 78.50)])
def test_a_square_metre_weighs(thickness_mm, mass_kg):
    assert plate_weight(area_m2=1.0, thickness_mm=thickness_mm).mass_kg == pytest.approx(mass_kg, abs=1e-9)


def test_it_refuses_to_cut_out_more_than_there_is():
    with pytest.raises(NotApplicableError) as caught:
        plate_weight(area_m2=np.array([2.0, 1.0]), thickness_mm=6.0, cut_out_m2=np.array([0.5, 1.0]))
    assert caught.value.faults[0][:2] == ("nothing_left", ("cut_out_m2", 1))


def test_the_docstrings_example_holds():
    assert doctest.testmod(platemargin_plate_weight).failed == 0
