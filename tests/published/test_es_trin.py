"""ES-TRIN Article 3.02(1)(b): minimum thickness of bottom, bilge and side plates.

The wording was read in the French decree of 30 December 2008 (annex 1, part II), which transposes Directive 2006/87/EC. No
worked example of it was found: the figures are derived from the formula by hand and are regression values, no independent ones.
"""

import pytest

from platemargin.minimum_plating import minimum_plating
from platemargin.rule_sets.inland_vessel_benchmark import rule_set


@pytest.mark.parametrize(
    ("length_m", "spacing_mm", "draught_m", "zone", "double", "f", "by_length", "by_draught", "least", "local"),
    [
        (18.288, 500, 0.6, "bottom", False, 1.0, 3.0, 1.9365, 3.0, 2.7),
        (21.336, 600, 0.75, "bottom", False, 1.13, 3.1416, 2.5981, 3.1416, 2.8274),
        (21.336, 600, 0.75, "bilge", False, 1.13, 3.927, 2.5981, 3.927, 3.5343),
        (40, 500, 2.5, "side", False, 1.0, 3.9, 3.9528, 3.9528, 3.5576),
        (67, 550, 2.5, "bottom", False, 1.065, 5.3037, 4.3481, 5.3037, 4.7733),
        (80, 500, 2.5, "bottom", True, 1.0, 5.225, 3.9528, 5.225, 4.7025),
    ],
)
def test_minimum_thickness(length_m, spacing_mm, draught_m, zone, double, f, by_length, by_draught, least, local):
    """Each figure to the four decimals in which it was derived."""
    told = minimum_plating(length_m=length_m, draught_m=draught_m, frame_spacing_mm=spacing_mm, zone=zone, double_hull=double)
    assert told.spacing_factor == pytest.approx(f, abs=1e-12)
    assert told.by_length_mm == pytest.approx(by_length, abs=5.1e-5)
    assert told.by_draught_mm == pytest.approx(by_draught, abs=5.1e-5)
    assert told.inland_vessel_mm == pytest.approx(least, abs=5.1e-5)
    assert told.inland_vessel_local_mm == pytest.approx(local, abs=5.1e-5)


def test_the_benchmark_of_the_same_hull():
    """The rule set's example is the second and third row: 3.142 and 3.927 mm, locally 2.827 and 3.534 mm."""
    assert {rule.id: rule.limit for rule in rule_set.rules} == {
        "inland-vessel-bottom": 3.142,
        "inland-vessel-bottom-local": 2.827,
        "inland-vessel-bilge": 3.927,
        "inland-vessel-bilge-local": 3.534,
        "inland-vessel-side": 3.142,
        "inland-vessel-side-local": 2.827,
    }
