"""JCGM 100:2008, Guide to the expression of uncertainty in measurement, H.1: an end gauge's length and its budget."""

import pytest

from platemargin.budget import combined_uncertainty

#: Table H.1: u(l_S), u(d), u(delta alpha), u(delta theta) [nm]; and what u(d) is made of.
CONTRIBUTIONS_NM = (25.0, 9.7, 2.9, 16.6)
OF_THE_DIFFERENCE_NM = (5.8, 3.9, 6.7)


def test_combined():
    """u_c = 32 nm."""
    assert round(float(combined_uncertainty(CONTRIBUTIONS_NM))) == 32


def test_of_the_difference():
    """u(d) = 9.7 nm."""
    assert float(combined_uncertainty(OF_THE_DIFFERENCE_NM)) == pytest.approx(9.7, abs=0.05)
