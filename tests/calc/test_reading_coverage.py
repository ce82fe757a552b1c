"""reading-coverage: what is sent decides what is told, and what cannot be told is refused."""

import math

import pytest

from platemargin.errors import NotApplicableError
from platemargin.reading_coverage import FINDINGS, reading_coverage


def codes(**given):
    arguments = {
        "patch_diameter_mm": None,
        "grid_spacing_mm": None,
        "attacked_fraction": None,
        "readings_taken": None,
        **given,
    }
    result = reading_coverage(**arguments)
    return {finding.code for finding in FINDINGS if list(finding.applies(arguments, result))}


def test_a_fraction_alone():
    told = reading_coverage(area_m2=12.0, attacked_fraction=0.1)
    assert told.readings_needed == 29
    assert (told.certain_hit_spacing_mm, told.hit_probability, told.missed_fraction_upper) == (None, None, None)


def test_a_patch_alone_is_a_fraction_of_the_area():
    told = reading_coverage(area_m2=2.0, patch_diameter_mm=200.0)
    assert told.fraction_looked_for == pytest.approx(math.pi * 0.1**2 / 2.0, rel=1e-12)
    assert told.readings_needed == math.ceil(math.log(0.05) / math.log(1 - math.pi * 0.1**2 / 2.0))
    assert told.certain_hit_readings == math.ceil(2e6 / told.certain_hit_spacing_mm**2)
    assert told.hit_probability is None


def test_a_fraction_sent_goes_before_the_patch():
    assert reading_coverage(area_m2=2.0, patch_diameter_mm=200.0, attacked_fraction=0.5, confidence=0.75).readings_needed == 2


def test_readings_alone():
    told = reading_coverage(area_m2=10.0, readings_taken=29)
    assert told.missed_fraction_upper == pytest.approx(1 - 0.05 ** (1 / 29))
    assert told.missed_area_upper_m2 == pytest.approx(10 * (1 - 0.05 ** (1 / 29)))
    assert told.readings_needed is None


def test_a_grid_and_readings_by_hand():
    """pi 300^2 / (4 x 400^2) = 0.4417865 hit; 12.5 cells of 0.16 m2; ten readings meet a tenth: 1 - 0.9^10."""
    told = reading_coverage(
        area_m2=2.0, patch_diameter_mm=300.0, grid_spacing_mm=400.0, attacked_fraction=0.1, readings_taken=10
    )
    assert (told.hit_probability, told.miss_probability) == pytest.approx((0.4417865, 0.5582135), abs=5e-8)
    assert told.detection_probability == pytest.approx(0.6513216, abs=5e-8)
    assert (told.grid_readings, told.fraction_looked_for, told.few_below) == (13, 0.1, 29)
    # A grid of 0.5 m has eight cells in 2 m2, and no ninth.
    assert reading_coverage(area_m2=2.0, patch_diameter_mm=300.0, grid_spacing_mm=500.0).grid_readings == 8
    # 1 - 0.05^(1 / 10) = 0.2588656 of 2 m2.
    assert told.missed_area_upper_m2 == pytest.approx(0.5177311, abs=5e-8)


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({}, "nothing_asked"),
        ({"grid_spacing_mm": 300.0}, "grid_without_patch"),
        ({"grid_spacing_mm": 300.0, "attacked_fraction": 0.1}, "grid_without_patch"),
        ({"patch_diameter_mm": 2000.0}, "patch_larger_than_area"),
    ],
)
def test_what_cannot_be_told_is_refused(given, code):
    with pytest.raises(NotApplicableError) as refused:
        reading_coverage(area_m2=1.0, **given)
    assert [fault[0] for fault in refused.value.faults] == [code]


def test_a_refusal_names_the_patch_and_the_area_as_they_were_sent():
    with pytest.raises(NotApplicableError, match=r"a round patch of 2000 mm is no smaller than the area of 1 m2"):
        reading_coverage(area_m2=1.0, patch_diameter_mm=2000.0)


@pytest.mark.parametrize(("taken", "few"), [(28, True), (29, False)])
def test_under_29_readings_are_few(taken, few):
    assert ("few_readings" in codes(area_m2=20.0, readings_taken=taken)) is few


@pytest.mark.parametrize(("taken", "too_few"), [(58, True), (59, False)])
def test_fewer_than_needed(taken, too_few):
    found = codes(area_m2=20.0, attacked_fraction=0.05, readings_taken=taken)
    assert ("fewer_readings_than_needed" in found) is too_few


@pytest.mark.parametrize(("spacing", "can"), [(300.0, True), (214.0, True), (212.132, False)])
def test_a_grid_that_can_miss_is_told(spacing, can):
    assert ("grid_can_miss" in codes(area_m2=20.0, patch_diameter_mm=300.0, grid_spacing_mm=spacing)) is can


@pytest.mark.parametrize(("area", "fills"), [(0.045, True), (0.046, False)])
def test_readings_that_fill_a_small_area(area, fills):
    """29 round places of 10 mm are 0.0022777 m2: a twentieth of 0.04555 m2."""
    assert ("readings_fill_the_area" in codes(area_m2=area, attacked_fraction=0.1)) is fills
