"""What the figures of deepest-pit are worth: how often the whole area's deepest pit is within what was told of it."""

import numpy as np
import pytest
from scipy import stats

from platemargin.deepest_pit import deepest_pit
from platemargin.extreme_value import fit_extreme_value
from platemargin.gumbel import Method, anderson_darling, fit, log_likelihood, standard_errors
from platemargin.pit_prediction import predicted

ML, LM, LIEBLEIN = Method
#: Method, patches read, patches of the whole area; 201 is the first size whose estimates are taken as normal.
GRID = [
    *((method, count, patches) for method in (ML, LM) for count in (5, 8, 16, 30, 100) for patches in (count, 10 * count, 500)),
    *((LIEBLEIN, count, 200) for count in (5, 8, 16)),
    *((method, count, 10 * count) for method in (ML, LM) for count in (201, 500)),
]


def areas(random, surveys, count, patches, location, scale):
    """Return what was read of some areas, ascending, and the deepest of each, read or not."""
    read = np.sort(stats.gumbel_r.rvs(location, scale, size=(surveys, count), random_state=random), axis=1)
    if patches <= count:
        return read, read[:, -1]
    unread = stats.gumbel_r.rvs(location + scale * np.log(patches - count), scale, size=surveys, random_state=random)
    return read, np.maximum(read[:, -1], unread)


def covered(method, count, patches, confidence, surveys, step=0.0):
    """Return the share of areas whose deepest is not over the upper depth, and not over it were the fit taken as certain."""
    location, scale = 1.2, 0.35
    read, deepest = areas(np.random.default_rng(20261), surveys, count, patches, location, scale)
    if step:
        read, deepest = np.round(read / step) * step, np.round(deepest / step) * step
        spread = read[:, -1] > read[:, 0]
        read, deepest = read[spread], deepest[spread]
    found = fit(read, method)
    plugged = found.location + found.scale * (np.log(patches) - np.log(-np.log(confidence)))
    upper = np.maximum(found.location + found.scale * predicted(method, count, patches).quantile(confidence), plugged)
    upper = np.maximum(upper, read[:, -1])
    return (deepest <= upper).mean(), (deepest <= plugged).mean()


def test_coverage_of_the_upper_depth(study):
    """A nominal 90 % covers 88 to 92 %, 95 % covers 94 to 96 %; more where all patches were read: the deepest is known."""
    surveys, rows = study.size(4_000, 100_000), []
    allowed = 3 * np.sqrt(0.09 / surveys)
    for method, count, patches in GRID:
        if count > 100 and not study.long:
            continue
        shares = [
            covered(method, count, patches, confidence, surveys if count <= 100 else surveys // 10)
            for confidence in (0.9, 0.95)
        ]
        rows.append((method.name.lower(), count, patches, *(f"{100 * share:.1f}" for pair in shares for share in pair)))
        if patches > count:
            assert 0.88 - allowed <= shares[0][0] <= 0.92 + allowed, rows[-1]
            assert 0.94 - allowed <= shares[1][0] <= 0.96 + allowed, rows[-1]
        assert shares[0][0] >= 0.88 - allowed
    header = ("method", "patches read", "T", "90 % covers", "were the fit certain", "95 % covers", "were the fit certain")
    study.table("Coverage of deepest-pit's upper depth [%]", header, rows)


def test_coverage_does_not_depend_on_place_or_scale():
    """Location and scale do nothing to the coverage: the quantity that is drawn has one distribution for all."""
    for location, scale in ((0.0, 1.0), (3.0, 0.05), (-1.0, 20.0)):
        read, deepest = areas(np.random.default_rng(5), 2_000, 8, 100, location, scale)
        found = fit(read, ML)
        inside = deepest <= found.location + found.scale * predicted(ML, 8, 100).quantile(0.9)
        read, deepest = areas(np.random.default_rng(5), 2_000, 8, 100, 1.2, 0.35)
        found = fit(read, ML)
        assert (inside == (deepest <= found.location + found.scale * predicted(ML, 8, 100).quantile(0.9))).all()


def test_reading_to_a_tenth(study):
    """Depths read to 0.1 mm, with a scale of 0.35 mm: the coverage stays."""
    surveys, rows = study.size(4_000, 100_000), []
    allowed = 3 * np.sqrt(0.09 / surveys)
    for count in (5, 8, 16, 30):
        shares = [covered(ML, count, 10 * count, confidence, surveys, step=0.1)[0] for confidence in (0.9, 0.95)]
        rows.append((count, 10 * count, *(f"{100 * share:.1f}" for share in shares)))
        assert 0.88 - allowed <= shares[0] <= 0.92 + allowed
    study.table("The same read to 0.1 mm", ("patches read", "T", "90 % covers [%]", "95 % covers [%]"), rows)


def test_probability_of_a_hole(study):
    """The probability told of a hole is, on the average over areas, how often there is one."""
    surveys, rows = study.size(2_000, 20_000), []
    for count, patches, plate in ((8, 100, 4.0), (16, 200, 4.0), (30, 500, 5.0)):
        read, deepest = areas(np.random.default_rng(11), surveys, count, patches, 1.2, 0.35)
        found, expected = fit(read, ML), predicted(ML, count, patches)
        told = np.array(
            [1 - expected.not_deeper(reduced) for reduced in (plate - found.location[:500]) / found.scale[:500]]
        ).mean()
        holed = (deepest >= plate).mean()
        rows.append((count, patches, plate, f"{100 * told:.1f}", f"{100 * holed:.1f}"))
        # What is told of one area is spread by its own fit: on the average it is on the safe side.
        assert told >= holed - 3 * np.sqrt(0.25 / surveys)
    header = ("patches read", "T", "plate [mm]", "mean probability told [%]", "areas holed [%]")
    study.table("Probability of a hole", header, rows)


def test_the_worst_are_no_sample(study):
    """The worst 8 of 300 patches, taken as drawn at random, overstate the mode by about 0.6 mm where the scale is 0.35 mm."""
    surveys = study.size(500, 20_000)
    every = np.sort(stats.gumbel_r.rvs(1.2, 0.35, size=(surveys, 300), random_state=3), axis=1)
    worst = fit(every[:, -8:], ML)
    mode = 1.2 + 0.35 * np.log(300)
    over = (worst.location + worst.scale * np.log(300) - mode).mean()
    chosen = np.random.default_rng(4).permuted(every, axis=1)[:, :8]
    drawn = fit(np.sort(chosen, axis=1), ML)
    study.table(
        "The worst 8 of 300 patches (location 1.2 mm, scale 0.35 mm)",
        ("8 patches", "mode overstated by [mm]"),
        [
            ("the worst", f"{over:.2f}"),
            ("drawn at random", f"{(drawn.location + drawn.scale * np.log(300) - mode).mean():.2f}"),
        ],
    )
    assert over > 0.4


def test_false_alarms_and_power_of_the_fit(study):
    """How often a Gumbel sample is called none, and how often one of another shape is."""
    surveys, rows = study.size(150, 4_000), []
    for shape in (0.0, -0.3, 0.3):
        for count in (10, 30, 100):
            sample = np.sort(
                stats.genextreme.rvs(-shape, 1.2, 0.35, size=(surveys, count), random_state=np.random.default_rng(count)),
                axis=1,
            )
            found = fit(sample, ML)
            distance = anderson_darling(sample, found)
            expected = predicted(ML, count, 1000)
            poor = np.mean([expected.p_value(value) < 0.01 for value in distance])
            ratios = [
                2 * (fit_extreme_value(row, place, scale).log_likelihood - log_likelihood(row, place, scale))
                for row, place, scale in zip(sample, found.location, found.scale, strict=True)
            ]
            other = np.mean(stats.chi2.sf(ratios, 1) < 0.01)
            rows.append((shape, count, f"{100 * poor:.1f}", f"{100 * other:.1f}"))
            if shape == 0:
                assert max(poor, other) <= 0.03 + 3 * np.sqrt(0.01 / surveys)
    header = ("shape", "patches", "poor_fit [%]", "other_shape_fits_better [%]")
    study.table("How often a sample of extreme values is told to be no Gumbel's", header, rows)


@pytest.mark.parametrize("method", [ML, LM])
def test_standard_errors(study, method):
    """One standard error around the estimates covers what a normal distribution says, from 30 patches on; less for fewer."""
    surveys, rows = study.size(1_000, 20_000), []
    for count in (5, 10, 30, 100):
        sample = np.sort(stats.gumbel_r.rvs(size=(surveys, count), random_state=9), axis=1)
        found = fit(sample, method)
        shares = _within(sample, found, method)
        rows.append((method.name.lower(), count, *(f"{100 * share:.1f}" for share in shares)))
        if count >= 100:
            assert min(shares) >= 0.88 - 3 * np.sqrt(0.09 / surveys)
    header = ("method", "patches", "location [%]", "scale [%]")
    study.table(f"Coverage of 1.645 standard errors, {method.name.lower()}", header, rows)


def _within(sample, found, method):
    errors = np.array(
        [
            standard_errors(row, place, scale, method)
            for row, place, scale in zip(sample, found.location, found.scale, strict=True)
        ]
    )
    return (np.abs(found.location) <= 1.645 * errors[:, 0]).mean(), (np.abs(found.scale - 1) <= 1.645 * errors[:, 1]).mean()


def test_depths_read_to_a_tenth_are_seldom_told_to_be_no_gumbels(study):
    """A Gumbel sample read to 0.1 mm, its scale 0.35 mm, is told to fit poorly no more often than 1 in 100 samples."""
    surveys, rows = study.size(100, 2_000), []
    for count in (10, 30, 100, 200):
        random = np.random.default_rng(count)
        told = [
            deepest_pit(
                pit_depths_mm=np.maximum(stats.gumbel_r.rvs(1.2, 0.35, size=count, random_state=random), 0).round(1).tolist(),
                sampling="random_patches",
                patch_area_m2=0.01,
                total_area_m2=100.0,
            ).fit
            for _ in range(surveys)
        ]
        shares = (np.mean([fit.p_value < 0.01 for fit in told]), np.mean([fit.likelihood_ratio_p_value < 0.01 for fit in told]))
        rows.append((count, *(f"{100 * share:.1f}" for share in shares)))
        assert max(shares) <= 0.02 + 3 * np.sqrt(0.01 / surveys)
    study.table("A Gumbel sample read to 0.1 mm [%]", ("patches", "poor_fit", "other_shape_fits_better"), rows)
