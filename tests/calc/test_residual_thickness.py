"""Residual thickness: one datum, three states, and a hole that is never a film of steel."""

import numpy as np
import pytest

from platemargin.errors import NotApplicableError
from platemargin.residual_thickness import ASSUMED, FINDINGS, PlateState, residual_thickness


@pytest.mark.parametrize(
    ("plate_mm", "pit_depth_mm", "state"),
    [
        (9.8, 2.8, PlateState.METAL_REMAINS),
        (10.0, 0.0, PlateState.METAL_REMAINS),
        (10.4, 2.0, PlateState.THICKER_THAN_ORIGINAL),
        (10.4, 10.4, PlateState.HOLED),  # thicker than it started with, and holed: the hole outranks
        (10.4, 10.9, PlateState.HOLED),
        (0.0, np.nan, PlateState.HOLED),
    ],
)
def test_holed_outranks_thicker_outranks_metal(plate_mm, pit_depth_mm, state):
    """CONTRACT: plate_state is holed before thicker_than_original before metal_remains."""
    left = residual_thickness(original_mm=10.0, plate_mm=plate_mm, pit_depth_mm=pit_depth_mm)
    assert left.plate_state == state


@pytest.mark.parametrize("over_mm", [0.0, 0.3, 0.5, 0.5004])
def test_pit_as_deep_as_the_plate_is_a_hole(told, over_mm):
    """CONTRACT: a pit deeper than the plate beside it by up to 0.5 mm is a hole: nothing left, and an `act` finding."""
    answer = told(residual_thickness, FINDINGS, original_mm=10.0, plate_mm=4.6, pit_depth_mm=4.6 + over_mm)
    assert (answer.result.residual_mm, answer.result.loss_mm, answer.result.loss_percent) == (0.0, 10.0, 100.0)
    assert answer.result.plate_state == PlateState.HOLED
    assert "pit_through_plate" in answer.found


def test_pit_deeper_by_more_is_refused():
    """CONTRACT: a pit deeper than the plate beside it by more than 0.5 mm is not applicable, at pit_depth_mm."""
    with pytest.raises(NotApplicableError, match=r"pit of 5\.101 mm is deeper than the plate of 4\.6 mm") as refused:
        residual_thickness(original_mm=10.0, plate_mm=4.6, pit_depth_mm=4.6 + 0.501)
    ((code, path, _),) = refused.value.faults
    assert (code, path) == ("pit_deeper_than_plate", ("pit_depth_mm",))


def test_refused_rows_are_named():
    """Of many rows, each that is refused is named by its number and its own figures."""
    with pytest.raises(NotApplicableError) as refused:
        residual_thickness(original_mm=10.0, plate_mm=[5.0, 1.0, 5.0, 2.0], pit_depth_mm=[1.0, 9.0, 5.5, 3.0])
    assert [path for _, path, _ in refused.value.faults] == [("pit_depth_mm", 1), ("pit_depth_mm", 3)]
    assert "9 mm is deeper than the plate of 1 mm" in refused.value.faults[0][2]


def test_what_rounds_to_nothing_is_a_hole():
    """A difference of less than half a thousandth is no steel: 0.3 - 0.1 - 0.2 is a hole, whatever binary says."""
    assert residual_thickness(original_mm=10.0, plate_mm=0.1 + 0.2, pit_depth_mm=0.3).plate_state == PlateState.HOLED
    assert residual_thickness(original_mm=10.0, plate_mm=0.301, pit_depth_mm=0.3).plate_state == PlateState.METAL_REMAINS


def test_plate_over_its_nominal_has_a_negative_loss(told):
    """CONTRACT: a plate over its nominal is real, its negative loss is reported, with a finding."""
    answer = told(residual_thickness, FINDINGS, original_mm=10.0, plate_mm=10.4)
    assert answer.result.loss_mm == pytest.approx(-0.4)
    assert answer.result.loss_percent == pytest.approx(-4.0)
    assert np.isnan(answer.result.pit_share_percent)
    assert set(answer.found) == {"plate_thicker_than_original"}


@pytest.mark.parametrize(("plate_mm", "found"), [(0.0, True), (0.0004, True), (0.001, False), (1.0, False)])
def test_no_plate_left(told, plate_mm, found):
    """Plate that reads nothing, as declared, is a hole, and told; there is no pit to speak of."""
    answer = told(residual_thickness, FINDINGS, original_mm=10.0, plate_mm=plate_mm)
    assert ("no_plate_left" in answer.found) is found
    assert "pit_through_plate" not in answer.found


@pytest.mark.parametrize(("plate_mm", "found"), [(10.9, False), (11.2, False), (11.201, True)])
def test_plate_over_what_a_mill_delivers(told, plate_mm, found):
    """EN 10029:2010 class A (from memory): plate of 10 mm may be 0.9 mm over; 2 x 0.15 mm more says that a figure is wrong."""
    answer = told(residual_thickness, FINDINGS, original_mm=10.0, plate_mm=plate_mm)
    assert ("plate_over_mill_tolerance" in answer.found) is found


@pytest.mark.parametrize(
    ("plate_mm", "pit_depth_mm", "share"),
    [(8.0, 2.0, 50.0), (10.0, 2.0, 100.0), (8.0, 0.0, 0.0), (8.0, np.nan, 0.0), (9.8, 0.2, 50.0), (10.4, 2.4, 120.0)],
)
def test_pit_share_of_the_loss(plate_mm, pit_depth_mm, share):
    """The pit's share is of the loss; over 100 % where the plate beside it is thicker than it started."""
    left = residual_thickness(original_mm=10.0, plate_mm=plate_mm, pit_depth_mm=pit_depth_mm)
    assert left.pit_share_percent == pytest.approx(share)


@pytest.mark.parametrize(("plate_mm", "pit_depth_mm"), [(10.0, 0.0), (10.0004, 0.0), (11.0, 1.0), (12.0, 1.0)])
def test_no_share_of_no_loss(plate_mm, pit_depth_mm):
    """CONTRACT: pit_share_percent is null where the loss is 0 or less, by the rounded value."""
    left = residual_thickness(original_mm=10.0, plate_mm=plate_mm, pit_depth_mm=pit_depth_mm)
    assert np.isnan(left.pit_share_percent)


def test_pit_not_measured_is_taken_as_none_and_told():
    """CONTRACT: every default is told in `assumed`, a pit taken as 0 included."""
    (assumed,) = ASSUMED
    assert residual_thickness(original_mm=10.0, plate_mm=9.0).pit_depth_mm == assumed.value == 0.0
    assert assumed.when({"pit_depth_mm": np.array([np.nan])}, None)
    assert not assumed.when({"pit_depth_mm": np.array([0.0])}, None)


def test_unknown_original_leaves_what_is_left():
    """With no original, what is left is still told, and no loss is."""
    left = residual_thickness(original_mm=np.nan, plate_mm=9.0, pit_depth_mm=2.0)
    assert left.residual_mm == 7.0
    assert np.isnan([left.loss_mm, left.loss_percent, left.general_loss_mm, left.pit_share_percent]).all()
    assert left.plate_state == PlateState.METAL_REMAINS


def test_general_loss_leaves_the_pit_out():
    """The general loss is that of the plate beside the pit."""
    left = residual_thickness(original_mm=10.0, plate_mm=8.8, pit_depth_mm=2.6)
    assert (left.general_loss_mm, left.general_loss_percent) == pytest.approx((1.2, 12.0))
