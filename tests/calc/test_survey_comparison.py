"""Two surveys compared: what each pair, each zone and the whole say, and what is told of readings that do not fit."""

from datetime import date
from math import hypot, sqrt
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from platemargin.errors import NotApplicableError
from platemargin.mean_rates import critical, mean_of
from platemargin.survey_comparison import FINDINGS, Pace, survey_comparison

EARLIER_ON, LATER_ON = date(2016, 5, 2), date(2024, 5, 2)
YEARS = 8.0
MM = 0.0005


def reading(name, plate, pit=None, zone="baseplate", **more):
    pit = {} if pit is None else {"pit_depth_mm": pit}
    return {"id": name, "zone": zone, "side": "port", "plate_mm": plate, **pit, **more}


@pytest.fixture
def compare(told):
    def call(earlier, later, *, on=(EARLIER_ON, LATER_ON), **options):
        surveys = ({"surveyed_on": day, "readings": readings} for day, readings in zip(on, (earlier, later), strict=True))
        return told(survey_comparison, FINDINGS, **dict(zip(("earlier", "later"), surveys, strict=True)), **options)

    return call


def test_a_pair_is_of_residual_thickness(compare):
    """(9.4 - 1.0) - (8.8 - 2.6) = 2.2 mm in 8 years, by hand; u = sqrt(2 (0.15^2 + 0.20^2)) by the GUM's 5.1.2."""
    pairs = compare([reading("a", 9.4, 1.0)], [reading("a", 8.8, 2.6)]).result.pairs
    assert pairs.loss_mm[0] == pytest.approx(2.2)
    assert pairs.rate_mm_per_year[0] == pytest.approx(2.2 / YEARS)
    assert pairs.loss_standard_uncertainty_mm[0] == pytest.approx(sqrt(2 * (0.15**2 + 0.20**2)))
    assert (pairs.plate_loss_mm[0], pairs.pit_growth_mm[0]) == pytest.approx((0.6, 1.6))
    assert (pairs.significant[0], pairs.grew[0], pairs.matched_by[0]) == (True, False, "id")


@pytest.mark.parametrize(("loss", "significant"), [(0.41, False), (0.415, False), (0.42, True), (-0.42, True), (-0.41, False)])
def test_significant_is_beyond_196_standard_uncertainties(compare, loss, significant):
    """1.96 x 0.15 x sqrt(2) = 0.4158 mm."""
    pairs = compare([reading("a", 8.0)], [reading("a", 8.0 - loss)]).result.pairs
    assert (pairs.significant[0], pairs.grew[0]) == (significant, significant and loss < 0)


def test_a_stated_uncertainty_is_of_every_reading(compare):
    pairs = compare([reading("a", 8.0)], [reading("a", 7.5, 0.1)], standard_uncertainty_mm=0.4).result.pairs
    assert pairs.loss_standard_uncertainty_mm[0] == pytest.approx(hypot(0.4, 0.4))


def test_a_mean_averages_the_readings_own_part_and_not_the_calibrations(compare):
    """Four pairs of plate: u^2 = 2 (0.15^2 - 0.06^2) / 4 + 2 x 0.06^2, by the GUM's 5.2.2 for the common part."""
    names = "abcd"
    told = compare([reading(name, 8.0) for name in names], [reading(name, 7.5) for name in names]).result
    expected = sqrt(2 * (0.15**2 - 0.06**2) / 4 + 2 * 0.06**2)
    assert told.overall.mean_loss_standard_uncertainty_mm == pytest.approx(expected)
    half = NormalDist().inv_cdf(0.95) * expected / YEARS
    band = told.overall.rate_low_mm_per_year, told.overall.rate_high_mm_per_year
    assert band == pytest.approx((0.5 / YEARS - half, 0.5 / YEARS + half))
    assert told.zones[0].mean_rate_mm_per_year == pytest.approx(0.5 / YEARS)


def test_without_a_common_part_a_mean_is_as_good_as_its_number_allows(compare):
    names = [str(name) for name in range(25)]
    told = compare(
        [reading(name, 8.0) for name in names], [reading(name, 7.9) for name in names], calibration_standard_uncertainty_mm=0.0
    ).result
    assert told.overall.mean_loss_standard_uncertainty_mm == pytest.approx(0.15 * sqrt(2 / 25))


def test_the_long_term_rate_shares_the_later_reading_and_the_original(compare):
    """Propagated by 200,000 draws of every reading, calibration and original, which know nothing of the formula."""
    names = "abc"
    told = compare(
        [reading(name, 9.0) for name in names],
        [reading(name, 8.2) for name in names],
        built_on="2004-05-02",
        plating_notation="10/6",
    ).result.overall
    rng, draws = np.random.default_rng(5), 200_000
    calibration = rng.normal(0, 0.06, (2, draws))
    own = rng.normal(0, sqrt(0.15**2 - 0.06**2), (2, 3, draws))
    earlier, later = 9.0 + calibration[0] + own[0], 8.2 + calibration[1] + own[1]
    original = 10 + rng.normal(0, sqrt(1.4**2 / 12 + 0.2**2), draws)
    difference = ((earlier - later) / 8 - (original - later) / 20).mean(axis=0)
    assert told.long_term_mm_per_year == pytest.approx(1.8 / 20)
    assert told.difference_mm_per_year == pytest.approx(difference.mean(), abs=5 * difference.std() / sqrt(draws))
    assert told.difference_standard_uncertainty_mm_per_year == pytest.approx(difference.std(), rel=0.01)


def test_protected_years_are_left_out_of_the_life(compare):
    told = compare(
        [reading("a", 9.0)],
        [reading("a", 8.2)],
        built_on="2004-05-02",
        plating=[{"zone": "baseplate", "original_mm": 10.0, "protected_years": 8.0}],
    ).result.overall
    assert told.long_term_mm_per_year == pytest.approx(1.8 / 12)


@pytest.mark.parametrize(
    ("rate_before", "rate_since", "pace"),
    [(0.05, 0.3, Pace.FASTER), (0.1, 0.1, Pace.NO_DIFFERENCE_SHOWN), (0.3, 0.0, Pace.SLOWER)],
)
def test_the_pace_is_told(compare, rate_before, rate_since, pace):
    earlier = 12.0 - 12 * rate_before
    pairs = [(str(name), earlier, earlier - 8 * rate_since) for name in range(9)]
    told = compare(
        [reading(name, before) for name, before, _ in pairs],
        [reading(name, after) for name, _, after in pairs],
        built_on="2004-05-02",
        plating=[{"zone": "baseplate", "original_mm": 12.0}],
    )
    assert told.result.pace == pace
    assert ("faster_than_long_term" in told.found) == (pace == Pace.FASTER)


def test_a_hull_that_goes_faster_though_no_zone_shows_it_by_itself_is_told(compare):
    """Five zones of two pairs: a mean of ten is known better than any of two."""
    zones = ("baseplate", "chine", "swim", "counter", "side")
    pairs = [(f"{zone}{place}", zone) for zone in zones for place in (1, 2)]
    told = compare(
        [reading(name, 9.6, zone=zone) for name, zone in pairs],
        [reading(name, 8.7 - 0.1 * (name[-1] == "1"), zone=zone) for name, zone in pairs],
        built_on="2004-05-02",
        plating=[{"zone": zone, "original_mm": 10.0} for zone in zones],
    )
    assert not any(zone.differs_from_long_term for zone in told.result.zones)
    ((_, sentence),) = told.found["faster_than_long_term"]
    assert "the hull as a whole" in sentence


def test_a_name_of_ones_own_whose_exposure_is_stated_is_not_asked_about(compare):
    own = [reading("a", 8.0, zone="xyzzy", exposure="immersed")]
    assert "unknown_zone" not in compare(own, own).found
    assert "unknown_zone" in compare([reading("a", 8.0, zone="xyzzy")], own).found
    like = [reading("a", 8.0, zone="basplate", exposure="immersed")]
    assert "unknown_zone" in compare(like, like).found


def test_without_an_original_or_an_age_the_life_is_unknown(compare):
    for options in ({"built_on": "2004"}, {"plating_notation": "10/6"}):
        told = compare([reading("a", 9.0)], [reading("a", 8.2)], **options).result
        assert told.pace == Pace.UNKNOWN
        assert told.overall.differs_from_long_term is None


def test_what_only_the_earlier_survey_knows_of_the_plate_is_used(compare):
    told = compare([reading("a", 9.0, original_mm=10.0, fitted_on="2004-05-02")], [reading("a", 8.2)]).result
    assert told.pairs.long_term_mm_per_year[0] == pytest.approx(1.8 / 20)


def test_scatter_is_compared_with_the_gauges_by_chi_square():
    """scipy's distribution decides; the ratio is Birge's."""
    values, own = np.array([0.0, 0.5, 1.0, 1.5]), np.full(4, 0.2)
    told = mean_of(values, own, 0.0, np.zeros(4, dtype=int))
    squares = (((values - values.mean()) / own) ** 2).sum()
    assert stats.chi2.sf(squares, 3) < 0.01
    assert told.scattered
    assert told.scatter_ratio == pytest.approx(sqrt(squares / 3))
    assert told.standard_uncertainty == pytest.approx(0.2 / 2 * sqrt(squares / 3))
    apart = mean_of(values, own, 0.0, np.arange(4) // 2)
    assert not apart.scattered
    assert apart.standard_uncertainty == pytest.approx(0.1)


@pytest.mark.parametrize("tests", [1, 4, 100, 20_000])
def test_many_tests_share_their_level(tests):
    assert stats.norm.sf(critical(tests)) * 2 * tests == pytest.approx(0.05)


def test_one_of_many_that_grew_a_little_is_chance_and_one_that_grew_much_is_told(compare):
    earlier = [reading(str(name), 8.0) for name in range(100)]
    later = [reading("0", 8.5), reading("1", 9.2), *earlier[2:]]
    told = compare(earlier, later)
    assert (told.result.grew_count, told.result.grew_beyond_chance_count) == (2, 1)
    ((path, sentence),) = told.found["reading_grew"]
    assert path == ("later", "readings", 1)
    assert "pairs: 1; the most at reading 1, 9.2 mm where 8 mm was read" in sentence
    assert "2 of 100" in told.found["grew_within_chance"][0][1]
    assert "about 2.5 would" in told.found["grew_within_chance"][0][1]


@pytest.mark.parametrize("count", range(1, 12))
def test_many_that_grew_a_little_are_more_than_chance_by_the_binomial_distribution(compare, count):
    """scipy's distribution decides: 2.5 % of 100 pairs of plate that lost nothing read so much thicker."""
    earlier = [reading(str(name), 8.0) for name in range(100)]
    later = [reading(str(name), 8.5 if name < count else 8.0) for name in range(100)]
    assert ("many_grew" in compare(earlier, later).found) == (stats.binom.sf(count - 1, 100, 0.025) < 0.01)


def test_a_zone_that_grew_as_a_whole_puts_the_calibration_in_doubt(compare):
    names = [str(name) for name in range(12)]
    told = compare([reading(name, 8.0) for name in names], [reading(name, 8.3) for name in names])
    assert told.result.grew_beyond_chance_count == 0
    assert "zone_grew" in told.found


def test_no_pace_is_told_while_plate_grows(compare):
    names = [str(name) for name in range(12)]
    told = compare(
        [reading(name, 8.0) for name in names],
        [reading(name, 8.3) for name in names],
        built_on="2004",
        plating_notation="10/6",
    )
    assert told.result.overall.differs_from_long_term
    assert told.result.pace == Pace.UNKNOWN


def test_a_plate_is_no_younger_than_the_earlier_survey_that_read_it(compare):
    """Built in 2016 counts from the last of December, after the survey of May that read it: eight years, not 7.34."""
    told = compare([reading("a", 9.8)], [reading("a", 9.2)], built_on="2016", plating_notation="10/6").result
    assert told.pairs.long_term_mm_per_year[0] == pytest.approx(0.8 / 8)


def test_a_place_that_became_a_hole_lost_at_least_what_was_there(compare):
    told = compare([reading("a", 3.0, 1.0)], [reading("a", 3.0, 3.3)])
    assert told.result.pairs.loss_mm[0] == pytest.approx(2.0)
    assert told.result.pairs.loss_is_at_least[0]
    assert {"holed", "holed_since"} <= set(told.found)


def test_a_hole_that_nobody_read_before_is_told(compare):
    told = compare([reading("a", 3.0)], [reading("b", 3.0, holed=True, zone="side")])
    assert "holed" in told.found
    assert "holed_since" not in told.found


def test_new_plate_is_told_and_not_compared(compare):
    told = compare(
        [reading("a", 5.0), reading("b", 5.0)], [reading("a", 6.0, fitted_on="2020"), reading("b", 6.0, fitted_on="2016")]
    )
    assert told.result.matched_count == 0
    assert told.result.unmatched_later.reason.tolist() == ["fitted_since", "may_be_fitted_since"]
    assert {"plate_renewed", "plate_may_be_renewed", "nothing_matched"} <= set(told.found)


SIDELESS = {"zone": "swim", "plate_mm": 8.0, "station_m": 1.0}


@pytest.mark.parametrize(("fitted_on", "pairs"), [("2020", [1]), ("2016", [1]), ("2010", [0, 1])])
def test_a_part_that_the_plating_says_was_renewed_is_not_compared(compare, fitted_on, pairs):
    plating = [{"zone": "baseplate", "from_m": 0.0, "to_m": 3.0, "fitted_on": fitted_on}]
    readings = [reading("a", 8.0, station_m=2.0), reading("b", 8.0, station_m=5.0)]
    told = compare(readings, readings, built_on="2004", plating=plating)
    assert told.result.pairs.earlier_index.tolist() == pairs
    assert ("plate_renewed" in told.found) == (fitted_on == "2020")


@pytest.mark.parametrize(
    ("earlier", "later", "code"),
    [
        ([reading("a", 8.0, 0.5)], [reading("a", 8.0)], "pit_measured_once"),
        ([reading("a", 8.0)], [reading("a", 8.0, zone="side")], "id_contradicts_place"),
        ([reading("a", 8.0, station_m=1.0)], [reading("a", 8.0, station_m=3.0)], "id_at_other_station"),
        (
            [reading("a", 8.0, station_m=1.0, height_m=0.2)],
            [reading("b", 8.0, station_m=1.0, height_m=0.9)],
            "heights_differ",
        ),
        ([SIDELESS], [SIDELESS], "sides_not_stated"),
        ([reading("a", 8.0)], [reading("a", 8.0), reading("b", 5.0, zone="side")], "zone_not_compared"),
        ([reading(name, 8.0) for name in "abc"], [reading(name, 8.0) for name in "ade"], "few_matched"),
        ([reading("a", 20.0)], [reading("a", 8.0)], "fast_rate"),
        ([reading("a", 8.0, zone="base plate")], [reading("a", 8.0, zone="base plate")], "unknown_zone"),
        ([reading("a", 9.0), reading("b", 9.0)], [reading("a", 9.0), reading("b", 7.0)], "uneven_loss"),
    ],
)
def test_what_does_not_fit_is_told(compare, earlier, later, code):
    assert code in compare(earlier, later).found
    plain = compare([reading("a", 8.0, 0.5, station_m=1.0)], [reading("a", 7.9, 0.6, station_m=1.1)])
    assert plain.found == {}


def test_zones_come_as_the_earlier_survey_read_them_with_their_worst_pair(compare):
    earlier = [reading("s", 6.0, zone="side"), reading("a", 9.0), reading("b", 9.0)]
    later = [reading("b", 8.0), reading("a", 8.5), reading("s", 5.8, zone="side")]
    zones = compare(earlier, later).result.zones
    assert [(zone.zone, zone.pairs, zone.worst_later_id) for zone in zones] == [("side", 1, "s"), ("baseplate", 2, "b")]
    assert zones[1].worst_loss_mm == pytest.approx(1.0)


@pytest.mark.parametrize("days", [0, 30, -400])
def test_a_rate_needs_time(compare, days):
    on = LATER_ON, date.fromordinal(LATER_ON.toordinal() + days)
    with pytest.raises(NotApplicableError, match="a rate needs time"):
        compare([reading("a", 8.0)], [reading("a", 8.0)], on=on)


places = st.lists(
    st.fixed_dictionaries(
        {
            "zone": st.sampled_from(["baseplate", "side", "mast"]),
            "plate_mm": st.one_of(st.floats(0, 200), st.sampled_from([0.0, 6.0, 200.0])),
        },
        optional={
            "side": st.sampled_from(["port", "starboard"]),
            "station_m": st.floats(0, 200),
            "pit_depth_mm": st.just(0.0),
            "original_mm": st.floats(0.5, 40),
            "holed": st.booleans(),
        },
    ),
    min_size=1,
    max_size=8,
)


@given(
    places,
    places,
    st.booleans(),
    st.fixed_dictionaries(
        {},
        optional={
            "station_tolerance_m": st.floats(0, 5),
            "standard_uncertainty_mm": st.floats(0.001, 10),
            "calibration_standard_uncertainty_mm": st.floats(0, 10),
            "confidence": st.floats(0.5, 0.999),
            "built_on": st.sampled_from(["1900", "2015-12", "2016-05-02"]),
        },
    ),
    st.integers(37, 60_000),
)
@settings(deadline=None, derandomize=True, max_examples=400)
def test_every_request_in_range_answers_with_finite_figures_and_drops_nothing(earlier, later, named, options, days):
    if named:
        earlier, later = ([{**one, "id": f"n{place}"} for place, one in enumerate(each)] for each in (earlier, later))
    before, after = (
        {"surveyed_on": day, "readings": readings}
        for day, readings in ((EARLIER_ON, earlier), (date.fromordinal(EARLIER_ON.toordinal() + days), later))
    )
    reading_mm = options.get("standard_uncertainty_mm", 0.15)
    if options.get("calibration_standard_uncertainty_mm", 0.0) >= reading_mm:
        with pytest.raises(NotApplicableError, match="cannot be a part of a reading's"):
            survey_comparison(earlier=before, later=after, **options)
        return
    told = survey_comparison(earlier=before, later=after, **options)
    assert told.matched_count + len(told.unmatched_earlier.id) == len(earlier)
    assert told.matched_count + len(told.unmatched_later.id) == len(later)
    assert sorted([*told.pairs.earlier_index, *told.unmatched_earlier.index]) == list(range(len(earlier)))
    assert sorted([*told.pairs.later_index, *told.unmatched_later.index]) == list(range(len(later)))
    assert sum(zone.pairs for zone in told.zones) == told.matched_count
    for mean in (*told.zones, *([told.overall] if told.overall else [])):
        assert all(np.isfinite(value) for value in vars(mean).values() if isinstance(value, float))
        assert mean.rate_low_mm_per_year <= mean.mean_rate_mm_per_year <= mean.rate_high_mm_per_year
