"""A potential is the same potential against every electrode."""

import itertools

import pytest

from platemargin.electrodes import (
    CRITERION_FRESH_V,
    CRITERION_SEA_V,
    CRITERION_SULPHATE_REDUCERS_V,
    MOST_NEGATIVE_V,
    ReferenceElectrode,
    against,
    electrode_named,
)

AG_AGCL, CSE, ZINC, SHE = ReferenceElectrode


@pytest.mark.parametrize(("one", "other"), [*itertools.product(ReferenceElectrode, repeat=2)])
def test_there_and_back(one, other):
    """Told against another electrode and back, a potential is as it was read."""
    assert against(against(-0.8, one, other), other, one) == pytest.approx(-0.8, abs=1e-12)


@pytest.mark.parametrize(
    ("electrode", "potential"),
    [(CSE, -0.85), (ZINC, 0.25), (SHE, -0.55)],  # the usual equivalents of -0.80 V Ag/AgCl in sea water, from memory
)
def test_the_usual_equivalents_of_the_criterion(electrode, potential):
    """-0.80 V Ag/AgCl, -0.85 V CSE and +0.25 V zinc are said to be one potential; they are, within 20 mV."""
    assert against(CRITERION_SEA_V, AG_AGCL, electrode) == pytest.approx(potential, abs=0.0201)


def test_sulphate_reducers_ask_for_a_tenth_of_a_volt_more():
    """-0.95 V instead of -0.85 V CSE (from memory), still less than what lifts coatings."""
    assert pytest.approx(-0.10) == CRITERION_SULPHATE_REDUCERS_V - CRITERION_FRESH_V
    assert against(CRITERION_SULPHATE_REDUCERS_V, CSE, AG_AGCL) > MOST_NEGATIVE_V


def test_names_are_those_of_requests():
    """ag_agcl, cse, zinc, she."""
    assert [electrode_named(name) for name in ("ag_agcl", "cse", "zinc", "she")] == [AG_AGCL, CSE, ZINC, SHE]
