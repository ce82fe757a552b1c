"""ASTM G46: pitting factor = deepest metal penetration over average metal penetration. From memory."""

from datetime import date

import pytest

from platemargin.hull_survey import hull_survey
from platemargin.rule_sets.trade_practice import rule_set


def pitting_factor(*readings):
    """Return the pitting factor of a bottom of 10 mm, from (plate, pit) in mm."""
    answer = hull_survey(
        hull={
            "length_m": 18.0,
            "beam_m": 2.1,
            "draught_m": 0.6,
            "water": "fresh",
            "material": "steel",
            "construction": "welded",
        },
        surveyed_on=date(2024, 12, 31),
        rule_sets=[rule_set],
        plating_notation="10/6",
        readings=[{"zone": "baseplate", "plate_mm": plate, "pit_depth_mm": pit} for plate, pit in readings],
    )
    return answer.zones[0].pitting_factor


def test_deepest_over_average():
    """General losses of 1.0, 1.2 and 1.4 mm average 1.2 mm; the deepest pit ends 3.6 mm below the original: 3.0."""
    assert pitting_factor((9.0, 0.5), (8.8, 0.0), (8.6, 2.2)) == pytest.approx(3.6 / 1.2)


def test_even_attack_is_one():
    """Where nothing is pitted and every place lost the same, the factor is 1."""
    assert pitting_factor((8.0, 0.0), (8.0, 0.0)) == pytest.approx(1.0)


def test_deepest_penetration_is_not_the_deepest_pit():
    """The penetration is counted from the original surface: a shallower pit in thinner plate can be the deepest."""
    assert pitting_factor((9.6, 2.0), (7.6, 1.0)) == pytest.approx((10.0 - 6.6) / 1.4)


def test_no_factor_from_chance():
    """An average within its uncertainty (mill tolerance and gauge) is no average to divide by."""
    assert pitting_factor((9.9, 3.0), (9.7, 0.0)) is None
