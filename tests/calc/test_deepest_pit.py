"""The deepest pit that nobody measured: what holds of every sample, what is refused, and what is told of it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platemargin.declared import filled
from platemargin.deepest_pit import FINDINGS, deepest_pit
from platemargin.errors import NotApplicableError

DEPTHS = [0.52, 0.61, 0.48, 0.75, 0.66, 0.57, 0.93, 0.71, 0.64, 0.55, 0.81, 0.59]
ASKED = {
    "pit_depths_mm": DEPTHS,
    "sampling": "random_patches",
    "patch_area_m2": 0.25,
    "total_area_m2": 30.0,
    "plate_mm": 5.6,
    "method": "maximum_likelihood",
    "confidence": 0.95,
}
EXTRAPOLATED = (
    "most_likely_mm",
    "quantile_mm",
    "expected_mm",
    "upper_mm",
    "upper_if_parameters_known_mm",
    "probability_holed",
    "probability_holed_if_parameters_known",
)


def ask(**changes):
    """Return the answer to the invented sample with some of what is asked changed."""
    return deepest_pit(**{**ASKED, **changes})


def found(**changes):
    """Return every finding by code, as its sentence."""
    asked = {**ASKED, **changes}
    result = deepest_pit(**asked)
    return {told.code: filled(told.statement, place.values) for told in FINDINGS for place in told.applies(asked, result)}


# -- what holds of every sample --


@pytest.mark.parametrize("method", ["maximum_likelihood", "l_moments", "lieblein"])
def test_a_sample_answers_the_same_every_time(method):
    """The draws have a fixed seed."""
    first, second = (ask(method=method) for _ in range(2))
    assert all(getattr(first, name) == getattr(second, name) for name in EXTRAPOLATED)
    assert first.fit == second.fit


@pytest.mark.parametrize("method", ["maximum_likelihood", "l_moments", "lieblein"])
def test_stretched_depths_stretch_every_depth(method):
    """A location-scale family: depths ten times as deep, and 3 mm deeper, make every answer so; no probability changes."""
    plain, moved = (
        ask(method=method, plate_mm=1.6),
        ask(method=method, pit_depths_mm=[3 + 10 * mm for mm in DEPTHS], plate_mm=19.0),
    )
    for name in EXTRAPOLATED[:5]:
        assert getattr(moved, name) == pytest.approx(3 + 10 * getattr(plain, name), abs=0.1)
    assert moved.fit.p_value == plain.fit.p_value
    assert moved.fit.shape == pytest.approx(plain.fit.shape, abs=1e-3)
    assert moved.probability_holed == pytest.approx(plain.probability_holed, rel=0.05)


def test_order_of_the_patches_does_not_matter():
    assert ask(pit_depths_mm=DEPTHS[::-1]).upper_mm == ask().upper_mm


@pytest.mark.parametrize(
    ("depths", "words"),
    [
        # Like those of a fit; in two heaps far from each other, which no Gumbel distribution draws; between the two.
        ([0.6, 0.9, 0.7, 1.2, 0.8, 1.0, 0.9, 1.1, 0.7, 1.4, 0.8, 1.0], "more than 99.9 %"),
        ([0.5, 5.0] * 9, "less than 0.1 %"),
        ([0.5, 0.6, 0.7, 2.0, 0.5, 0.6, 2.1, 0.8, 0.9], None),
    ],
)
def test_a_share_of_drawn_samples_is_told_neither_as_all_nor_as_none_of_them(depths, words):
    told = ask(pit_depths_mm=depths).fit
    assert f"in {words or f'{100 * told.p_value:.1f} %'} of samples" in told.statement
    assert (words is None) == (0.0005 < told.p_value < 0.9995)


@settings(max_examples=60, deadline=None)
@given(
    depths=st.lists(st.floats(0, 200).map(lambda mm: round(mm, 2)), min_size=5, max_size=40),
    patches=st.floats(1, 1e5),
    confidence=st.floats(0.5, 0.999),
    method=st.sampled_from(["maximum_likelihood", "l_moments"]),
)
def test_whatever_is_in_range_is_answered_or_refused(depths, patches, confidence, method):
    """Every figure is finite and in order: with the fit's uncertainty never below what is told without, nor what was read."""
    asked = {"pit_depths_mm": depths, "method": method, "confidence": confidence, "plate_mm": None}
    areas = {"patch_area_m2": 1.0, "total_area_m2": len(depths) * patches}
    if len(set(depths)) == 1:
        with pytest.raises(NotApplicableError):
            ask(**asked, **areas)
        return
    told = ask(**asked, **areas)
    assert np.isfinite([getattr(told, name) for name in EXTRAPOLATED[:5]]).all()
    assert told.upper_mm >= max(told.upper_if_parameters_known_mm, told.deepest_read_mm)
    assert told.quantile_mm <= told.most_likely_mm <= told.expected_mm
    assert 0 <= told.fit.p_value <= 1


def test_more_is_deeper():
    """More area, more confidence, thinner plate: never less deep, never less probable a hole."""
    areas = [ask(total_area_m2=area) for area in (3.0, 30.0, 300.0, 3000.0)]
    assert sorted(told.upper_mm for told in areas) == [told.upper_mm for told in areas]
    assert sorted(told.probability_holed for told in areas) == [told.probability_holed for told in areas]
    levels = [ask(confidence=level).upper_mm for level in (0.5, 0.9, 0.95, 0.999)]
    assert sorted(levels) == levels
    plates = [ask(plate_mm=plate).probability_holed for plate in (8.0, 4.0, 2.0, 1.0)]
    assert sorted(plates) == plates


@pytest.mark.parametrize("method", ["maximum_likelihood", "l_moments", "lieblein"])
def test_the_upper_depth_and_the_hole_agree_far_from_a_census(method):
    """A plate as thick as the upper depth is holed about as probably as its confidence leaves, over many samples."""
    random, told = np.random.default_rng(8), []
    for _ in range(40):
        asked = {"pit_depths_mm": random.gumbel(1.2, 0.2, 12).round(3).tolist(), "method": method, "total_area_m2": 300.0}
        told.append(ask(**asked, plate_mm=ask(**asked, plate_mm=None).upper_mm).probability_holed)
    assert np.mean(told) == pytest.approx(0.05, abs=0.01)


def test_the_probability_of_a_hole_is_the_same_by_every_method():
    """It is of the depths that were read, not of an estimate."""
    told = {ask(method=method, plate_mm=2.0).probability_holed for method in ("maximum_likelihood", "l_moments", "lieblein")}
    assert len(told) == 1


@pytest.mark.parametrize("total_area_m2", [3.0, 3.1])
def test_every_patch_read_extrapolates_nothing(total_area_m2):
    """The deepest is the one that was read: a hole or none; CONTRACT's floor of the upper depth is kept."""
    whole = ask(total_area_m2=total_area_m2, plate_mm=1.0)
    assert (whole.unread_patches, whole.probability_holed, whole.probability_holed_if_parameters_known) == (0, 0, 0)
    assert whole.upper_mm == max(whole.upper_if_parameters_known_mm, whole.deepest_read_mm)
    assert ask(total_area_m2=total_area_m2, confidence=0.5).upper_mm == max(DEPTHS)
    assert ask(total_area_m2=total_area_m2, plate_mm=0.93).probability_holed == 1
    told = found(total_area_m2=total_area_m2, plate_mm=1.0)
    assert set(told) == {"every_patch_read"}


def test_half_a_patch_unread_is_extrapolated():
    """From half a patch on, the answer is of what nobody read."""
    assert ask(total_area_m2=3.125, plate_mm=1.0).probability_holed > 0
    assert "may_be_holed" in found(total_area_m2=3.125, plate_mm=1.0)


def test_areas_alike_to_their_last_figure_are_a_census():
    """Areas are compared rounded: patches of 0.00545 m2 are all of 0.005 m2, and no more than all of it."""
    told = ask(pit_depths_mm=DEPTHS[:5], patch_area_m2=0.00109, total_area_m2=0.005)
    assert (told.return_period, told.inspected_percent, told.unread_patches) == (5, 100, 0)


def _odd_samples():
    """Yield samples that are hard to fit: all alike but one, of the deepest that is taken, of the least steps, of the most."""
    for count in (5, 12, 16, 200, 201, 5000):
        for base, other in ((0.0, 0.001), (0.0, 200.0), (200.0, 0.0), (0.8, 0.9), (199.999, 200.0), (0.001, 0.003)):
            for others in (1, count // 2, count - 1):
                yield [*((count - others) * [base]), *(others * [other])]
        yield (0.8 + np.arange(count) % 7 * 0.001).tolist()
        yield np.linspace(0, 200, count).tolist()
        yield (np.geomspace(1, 2e5, count) / 1000).tolist()


@pytest.mark.parametrize("method", ["maximum_likelihood", "l_moments"])
def test_odd_samples_overflow_nowhere(method):
    """Each is answered with finite figures, or refused; no overflow, no division by zero, nothing that is no number."""
    answered = 0
    with np.errstate(over="raise", divide="raise", invalid="raise"):
        for depths in _odd_samples():
            for area in (len(depths), 1.5 * len(depths), 50_000.0):
                try:
                    told = ask(pit_depths_mm=depths, patch_area_m2=1.0, total_area_m2=area, plate_mm=200.0, method=method)
                except NotApplicableError:
                    continue
                answered += 1
                assert np.isfinite([getattr(told, name) for name in EXTRAPOLATED]).all()
                assert 0 <= told.probability_holed <= 1
                assert np.isfinite([told.fit.shape, told.fit.statistic, told.fit.likelihood_ratio_statistic]).all()
    # The rest have no spread: all but a few alike, or apart by as little as a depth is rounded to.
    assert answered > 200


def test_the_most_patches_that_are_taken():
    depths = np.random.default_rng(1).gumbel(0.8, 0.2, 5000).clip(0, 200).round(2).tolist()
    assert ask(pit_depths_mm=depths, patch_area_m2=0.01, total_area_m2=500.0).upper_mm > max(depths)


# -- refused --


@pytest.mark.parametrize(
    ("changes", "code", "path"),
    [
        ({"total_area_m2": 2.99}, "patches_over_area", ("total_area_m2",)),
        ({"pit_depths_mm": 6 * [0.8]}, "no_spread", ("pit_depths_mm",)),
        ({"pit_depths_mm": [*(40 * [0.8]), 0.8004], "plate_mm": None}, "no_spread", ("pit_depths_mm",)),
        ({"pit_depths_mm": [5e-324, 0.0, 0.0, 0.0, 0.0]}, "no_spread", ("pit_depths_mm",)),
        ({"pit_depths_mm": [1e-9, 0.8, 0.8, 0.8, 0.8 + 1e-15][1:] * 2}, "no_spread", ("pit_depths_mm",)),
        ({"pit_depths_mm": [*DEPTHS, 6.2]}, "pit_deeper_than_plate", ("pit_depths_mm", 12)),
        ({"pit_depths_mm": DEPTHS + DEPTHS, "method": "lieblein"}, "too_many_for_lieblein", ("method",)),
    ],
)
def test_refused(changes, code, path):
    with pytest.raises(NotApplicableError) as refused:
        ask(**changes)
    assert [(fault[0], fault[1]) for fault in refused.value.faults] == [(code, path)]


def test_sixteen_patches_are_lieblein_s_last_and_an_area_read_whole_is_taken():
    assert ask(pit_depths_mm=[*DEPTHS, 0.4, 0.7, 0.6, 0.5], method="lieblein").upper_mm > 0
    assert ask(total_area_m2=3.0).return_period == len(DEPTHS)


# -- told --


@pytest.mark.parametrize("sampling", ["selected_by_eye", "unknown"])
def test_pits_picked_by_eye_say_nothing_of_the_rest(sampling):
    """CONTRACT: the fit's description only, every extrapolated field null."""
    told = ask(sampling=sampling)
    assert [getattr(told, name) for name in EXTRAPOLATED] == 7 * [None]
    assert (told.location_mm, told.scale_mm, told.fit) == (ask().location_mm, ask().scale_mm, ask().fit)
    assert set(found(sampling=sampling)) == {"pits_selected_not_sampled"}


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({}, None),
        ({"pit_depths_mm": DEPTHS[:9]}, "few_patches"),
        ({"total_area_m2": 125.25}, "far_extrapolation"),
        ({"total_area_m2": 101.0}, "little_inspected"),
        ({"sampling": "deepest_of_every_patch"}, "patches_not_the_whole_area"),
        ({"sampling": "deepest_of_every_patch", "total_area_m2": 3.0}, "every_patch_read"),
        ({"pit_depths_mm": [*DEPTHS, 0.0]}, "patches_without_pit"),
        ({"pit_depths_mm": [*DEPTHS, 5.6]}, "pit_through_plate"),
        ({"plate_mm": 1.3}, "may_be_holed"),
        ({"pit_depths_mm": [*DEPTHS, 2.0]}, "deepest_read_over_most_likely"),
    ],
)
def test_what_is_told(changes, code):
    told = found(**changes)
    assert code in told or (code is None and not told)


def test_a_hole_is_certain():
    """A pit as deep as its plate is a hole, whatever the fit says."""
    assert ask(pit_depths_mm=[*DEPTHS, 5.6]).probability_holed == 1.0
    assert "may_be_holed" not in found(pit_depths_mm=[*DEPTHS, 5.6])


@pytest.mark.parametrize(("shape", "words"), [(0.4, "deeper than is told"), (-0.4, "on the safe side")])
def test_another_shape_is_told_with_what_it_means(shape, words):
    """Samples of the generalised distribution (its own quantiles at even probabilities), of a heavier tail and of an end."""
    even = (np.arange(200) + 0.5) / 200
    depths = 1.0 + 0.2 * ((-np.log(even)) ** -shape - 1) / shape
    told = found(pit_depths_mm=depths.tolist(), total_area_m2=90.0, plate_mm=None)
    assert words in told["other_shape_fits_better"]
