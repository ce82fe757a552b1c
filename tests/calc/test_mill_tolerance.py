"""Mill tolerance outside the standard's table. Its rows are tested against EN 10029 in tests/published."""

import numpy as np

from platemargin.mill_tolerance import THINNEST_MM, class_a_limits, standard_uncertainty_mm


def test_thinner_than_the_standard():
    """CONTRACT: below 3 mm the 3 to 5 mm row is taken (with a finding)."""
    assert THINNEST_MM == 3.0
    assert class_a_limits(0.5) == class_a_limits(3.0)
    assert standard_uncertainty_mm(2.0) == standard_uncertainty_mm(3.0)


def test_unknown_thickness_has_no_tolerance():
    """NaN in, NaN out."""
    lower, upper = class_a_limits([np.nan, 10.0])
    assert np.isnan([lower[0], upper[0], standard_uncertainty_mm(np.nan)]).all()
    assert (lower[1], upper[1]) == (-0.5, 0.9)
