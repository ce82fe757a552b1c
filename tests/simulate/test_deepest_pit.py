"""What the figures of deepest-pit are worth: how often the whole area's deepest pit is within what was told of it."""

import itertools

import numpy as np
import pytest
from scipy import stats

from platemargin.deepest_pit import deepest_pit
from platemargin.extreme_value import fit_extreme_value
from platemargin.gumbel import Method, anderson_darling, fit, log_likelihood, standard_errors
from platemargin.pit_prediction import predicted
from platemargin.unread_pits import probability_as_deep

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
    places, scales = (np.broadcast_to(value, (surveys, 1))[:, 0] for value in (location, scale))
    unread = stats.gumbel_r.rvs(places + scales * np.log(patches - count), scales, size=surveys, random_state=random)
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


#: Patches read, patches of the whole area.
REQUESTS = [(5, 10), (5, 50), (5, 500), (8, 10), (8, 100), (20, 50), (20, 500), (50, 60), (50, 100), (50, 500)]
#: Edges of the probabilities told that are counted together.
TOLD = (0.0, 0.05, 0.2, 0.5, 0.8, 1.0)


def _requests(random, kind, surveys):
    """Return location, scale and plate of requests [mm]: of any, each location and log scale alike, or of boats alone."""
    if kind == "any":
        return random.uniform(-8, 6, surveys), np.exp(random.uniform(np.log(0.05), np.log(5), surveys)), np.full(surveys, 6.0)
    location = random.uniform(0.3, 3, surveys)
    scale = location * np.exp(random.uniform(np.log(0.1), np.log(0.6), surveys))
    return location, scale, random.choice([4.0, 5.0, 6.0, 8.0], surveys)


def _told_and_holed(random, count, patches, location, scale, plate):
    """Return of the areas whose deepest pit read is no hole what is told of a hole, and whether there is one."""
    read, deepest = areas(random, len(plate), count, patches, location[:, None], scale[:, None])
    known = read[:, -1] < plate
    told = [probability_as_deep(row, limit, patches - count) for row, limit in zip(read[known], plate[known], strict=True)]
    return np.array(told), (deepest >= plate)[known], read[known], plate[known]


@pytest.mark.parametrize("kind", ["any", "boats"])
def test_probability_of_a_hole_is_what_it_says(study, kind):
    """Of the requests told about p a share near p is holed: of any; of boats, whose plate is seldom near, no more than p."""
    surveys, rows = study.size(600, 20_000), []
    for count, patches in REQUESTS:
        random = np.random.default_rng(count * 1000 + patches)
        told, holed, *_ = _told_and_holed(random, count, patches, *_requests(random, kind, surveys))
        cells = []
        for low, high in itertools.pairwise(TOLD):
            of = (told >= low) & (told < high)
            if of.sum() < 20:
                cells.append("-")
                continue
            said, found = told[of].mean(), holed[of].mean()
            cells.append(f"{100 * said:.1f}: {100 * found:.1f}")
            allowed = 0.02 + 4 * np.sqrt(max(said * (1 - said), 0.01) / of.sum())
            assert found <= said + allowed, (count, patches, low)
            assert kind == "boats" or found >= said - allowed, (count, patches, low)
        rows.append((count, patches, *cells, f"{100 * told.mean():.1f}: {100 * holed.mean():.1f}"))
    header = ("patches read", "T", *(f"{100 * low:.0f} to {100 * high:.0f}" for low, high in itertools.pairwise(TOLD)), "all")
    study.table(f"Probability of a hole, told: holed [%], requests of {kind}", header, rows)


def test_probability_of_a_hole_of_areas_all_alike(study):
    """Of areas of one distribution and plate, the mean told is nearer to the share holed for what is known.

    Beside it the mean of a probability that forgets that no pit read is a hole. Where most samples of such areas have a hole,
    those that have none are the shallow ones, and what is told of them is too little: of areas of every kind it is not.
    """
    surveys, rows = study.size(400, 20_000), []
    for count, patches, plate in ((8, 10, 1.93), (8, 10, 2.6), (50, 60, 2.6), (50, 60, 3.5), (8, 100, 4.0), (30, 500, 5.0)):
        random = np.random.default_rng(11)
        alike = (np.full(surveys, value) for value in (1.2, 0.35, plate))
        told, holed, read, _ = _told_and_holed(random, count, patches, *alike)
        found, expected = fit(read[:2_000], ML), predicted(ML, count, patches)
        forgetful = np.mean([1 - expected.not_deeper(at) for at in (plate - found.location) / found.scale])
        shares = (len(told) / surveys, told.mean(), forgetful, holed.mean())
        rows.append((count, patches, plate, *(f"{100 * share:.1f}" for share in shares)))
        assert abs(told.mean() - holed.mean()) <= abs(forgetful - holed.mean()) + 0.02
    header = ("patches read", "T", "plate [mm]", "samples without hole", "told", "told if forgotten", "holed")
    study.table("Mean probability of a hole of areas all alike [%]", header, rows)


def test_coverage_near_a_census_and_at_even_odds(study):
    """Never less than what is said, but far more where few patches were not read: the deepest read is known by then."""
    surveys, rows = study.size(4_000, 100_000), []
    for count, patches in ((8, 9), (8, 10), (8, 16), (8, 100), (20, 22), (20, 40), (20, 200), (50, 60), (50, 100), (50, 500)):
        shares = [covered(ML, count, patches, confidence, surveys)[0] for confidence in (0.5, 0.9, 0.95)]
        rows.append((count, patches, *(f"{100 * share:.1f}" for share in shares)))
        for share, confidence in zip(shares, (0.5, 0.9, 0.95), strict=True):
            assert share >= confidence - 0.01 - 3 * np.sqrt(0.25 / surveys), rows[-1]
    header = ("patches read", "T", "50 % covers", "90 % covers", "95 % covers")
    study.table("Coverage near a census and at even odds [%]", header, rows)


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
