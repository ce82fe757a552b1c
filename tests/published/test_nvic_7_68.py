"""USCG NVIC 7-68, as US Army TB 55-1900-201-45/1 follows it: renewal over 25 % local loss, 15 % for lightly built hulls."""

import pytest

from platemargin.rule_sets.loss_fraction import rule_set as loss_fraction
from platemargin.rule_sets.loss_fraction_light import rule_set as loss_fraction_light
from platemargin.rules import Verdict
from platemargin.threshold_check import threshold_check


@pytest.mark.parametrize(
    ("rule_set", "plate_mm", "verdict"),
    [
        (loss_fraction, 7.5, Verdict.WATCH),  # 25 % itself is not over it; the watch at 20 % is common practice, no source
        (loss_fraction, 7.49, Verdict.ACT),
        (loss_fraction_light, 8.5, Verdict.NO_LIMIT_BROKEN),  # 15 %
        (loss_fraction_light, 8.49, Verdict.ACT),
    ],
)
def test_local_loss(rule_set, plate_mm, verdict):
    """Plate of 10 mm is renewed when more than the fraction is lost, not at it."""
    reading = {"zone": "baseplate", "plate_mm": plate_mm, "original_mm": 10.0}
    assert threshold_check(readings=[reading], rule_sets=[rule_set]).verdict == verdict
