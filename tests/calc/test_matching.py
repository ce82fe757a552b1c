"""Readings of two surveys are matched by id, then by place: the most pairs, the least distance, each reading once.

Oracle: scipy.optimize.linear_sum_assignment, an independent solver of the general assignment problem.
"""

from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from platemargin.matching import Reason, candidates, matched
from platemargin.nearest_pairs import nearest_pairs
from platemargin.readings import reading_table

EARLIER_ON = date(2015, 6, 1)

every_case = settings(deadline=None, derandomize=True, max_examples=1000)


def best_by_scipy(first, second, tolerance):
    """Return the most pairs within the tolerance and the least distance that they allow, by scipy's assignment."""
    apart = np.abs(first[:, None] - second[None, :])
    # A pair beyond the tolerance costs as much as none; one within it always less than leaving it out.
    none = 1e6
    rows, columns = linear_sum_assignment(np.where(apart <= tolerance, apart, none))
    kept = apart[rows, columns] <= tolerance
    return int(kept.sum()), float(apart[rows, columns][kept].sum())


stations = st.lists(st.integers(0, 40), min_size=1, max_size=9).map(lambda values: np.array(sorted(values), dtype=np.float64))


@given(stations, stations, st.integers(0, 15))
@every_case
def test_most_pairs_and_least_distance(first, second, tolerance):
    pairs = nearest_pairs(first, second, first * np.nan, second * np.nan, tolerance=float(tolerance))
    apart = np.abs(first[pairs[:, 0]] - second[pairs[:, 1]])
    assert (apart <= tolerance).all()
    assert len(set(pairs[:, 0])) == len(set(pairs[:, 1])) == len(pairs)
    assert (len(pairs), apart.sum()) == best_by_scipy(first, second, tolerance)


@pytest.mark.parametrize("seed", range(6))
def test_a_crowded_line_is_matched_as_scipy_matches_it(seed):
    rng = np.random.default_rng(seed)
    first, second = (np.sort(rng.integers(0, 6000, size)).astype(float) for size in (230, 260))
    pairs = nearest_pairs(first, second, first * np.nan, second * np.nan, tolerance=50.0)
    assert (len(pairs), np.abs(first[pairs[:, 0]] - second[pairs[:, 1]]).sum()) == best_by_scipy(first, second, 50)


heights = st.lists(st.integers(0, 30), min_size=1, max_size=7).map(lambda values: np.array(sorted(values), dtype=np.float64))


@given(heights, heights)
@every_case
def test_at_one_station_heights_decide(first, second):
    """Of readings at one station those of the least total difference of height are pairs, again by scipy."""
    pairs = nearest_pairs(first * 0, second * 0, first, second, tolerance=250.0)
    assert (len(pairs), np.abs(first[pairs[:, 0]] - second[pairs[:, 1]]).sum()) == best_by_scipy(first, second, 1e5)


def both(earlier, later, tolerance_m=0.25):
    tables = reading_table(earlier), reading_table(later)
    return matched(*tables, earlier_on=EARLIER_ON, station_tolerance_m=tolerance_m)


def at(station_m=None, zone="baseplate", **more):
    place = {} if station_m is None else {"station_m": station_m}
    return {"zone": zone, "plate_mm": 8.0, "side": "port", **place, **more}


def pairs_of(matching):
    return list(zip(matching.earlier.tolist(), matching.later.tolist(), matching.by_id.tolist(), strict=True))


def test_greedy_would_lose_a_pair():
    """2.2 is nearest to 2.1 and would leave 2.0 without a counterpart: two pairs are more than one."""
    assert pairs_of(both([at(2.0), at(2.2)], [at(2.1), at(2.4)])) == [(0, 0, False), (1, 1, False)]


def test_an_id_outranks_a_station_and_an_index_is_no_id():
    earlier = [at(1.0, id="a"), at(5.0)]
    assert pairs_of(both(earlier, [at(5.0, id="a"), at(1.0, id="1")])) == [(0, 0, True)]


@pytest.mark.parametrize("changed", [{"zone": "chine"}, {"side": "starboard"}, {"layer": "overplate"}])
def test_an_id_of_two_places_is_no_name(changed):
    matching = both([at(1.0, id="a"), at(3.0, id="b")], [at(3.0, id="c"), at(1.0, id="a", **changed)])
    assert pairs_of(matching) == [(1, 0, False)]
    assert matching.contradicting == ((0, 1),)


def test_ids_that_more_often_contradict_than_agree_are_no_names():
    """Two surveys that each count their readings from 1 share ids by accident."""
    earlier = [at(1.0, id="1"), at(5.0, id="2"), at(8.0, "side", id="3")]
    later = [at(8.0, "side", id="1"), at(1.0, id="2"), at(5.0, id="3")]
    matching = both(earlier, later)
    assert matching.ids_disregarded
    assert pairs_of(matching) == [(0, 1, False), (1, 2, False), (2, 0, False)]


def test_an_id_holds_where_only_one_survey_names_the_side():
    later = [{"id": "a", "zone": "baseplate", "plate_mm": 7.9}]
    assert pairs_of(both([at(1.0, id="a")], later)) == [(0, 0, True)]


def test_ids_that_as_often_agree_as_contradict_are_names():
    """One of each: the one that agrees is matched by it, though the other's stands at its station."""
    matching = both([at(1.0, id="1"), at(5.0, id="2")], [at(9.0, id="1"), at(1.0, "side", id="2")])
    assert (pairs_of(matching), matching.contradicting, matching.ids_disregarded) == ([(0, 0, True)], ((1, 1),), False)


def test_where_no_ids_are_shared_none_are_disregarded():
    assert not both([at(1.0)], [at(1.0)]).ids_disregarded
    assert not both([at(1.0, id="a")], [at(1.0, id="b")]).ids_disregarded


def test_stations_and_the_tolerance_are_of_one_millimetre():
    """0.3 m and 0.7 m are 400 mm apart, and no more."""
    assert len(both([at(0.3)], [at(0.7)], tolerance_m=0.4)) == 1
    assert len(both([at(0.3)], [at(0.7)], tolerance_m=0.399)) == 0


@pytest.mark.parametrize(("apart", "pairs"), [(0.25, 1), (0.2504, 1), (0.251, 0)])
def test_the_tolerance_is_compared_in_whole_millimetres(apart, pairs):
    assert len(both([at(0.1)], [at(0.1 + apart)])) == pairs


@pytest.mark.parametrize(
    ("earlier", "later", "reasons"),
    [
        (at(1.0), at(1.0, zone="side"), (Reason.ZONE_NOT_READ, Reason.ZONE_NOT_READ)),
        (at(1.0), at(1.0, layer="overplate"), (Reason.LAYER_NOT_READ, Reason.LAYER_NOT_READ)),
        (at(1.0), at(1.0, side="starboard"), (Reason.SIDE_NOT_READ, Reason.SIDE_NOT_READ)),
        (at(), at(1.0), (Reason.NO_STATION, Reason.NONE_HAS_A_STATION)),
        (at(), at(), (Reason.NO_STATION, Reason.NO_STATION)),
        (at(1.0), at(2.0), (Reason.NONE_WITHIN_TOLERANCE, Reason.NONE_WITHIN_TOLERANCE)),
        (at(1.0), at(1.0, fitted_on="2016"), (Reason.COUNTERPART_MAY_BE_NEWER, Reason.FITTED_SINCE)),
        (at(1.0), at(1.0, fitted_on="2015"), (Reason.COUNTERPART_MAY_BE_NEWER, Reason.MAY_BE_FITTED_SINCE)),
        (at(1.0), at(1.0, fitted_on="2015-06-01"), (Reason.COUNTERPART_MAY_BE_NEWER, Reason.MAY_BE_FITTED_SINCE)),
        (at(1.0), at(1.0, fitted_on="2015-05"), (Reason.MATCHED, Reason.MATCHED)),
        (at(1.0, id="a"), at(9.0, id="a", fitted_on="2020"), (Reason.COUNTERPART_MAY_BE_NEWER, Reason.FITTED_SINCE)),
        (at(1.0), at(9.0, id="0", fitted_on="2020"), (Reason.NONE_WITHIN_TOLERANCE, Reason.FITTED_SINCE)),
        (at(1.0, id="a"), at(9.0, id="b", fitted_on="2020"), (Reason.NONE_WITHIN_TOLERANCE, Reason.FITTED_SINCE)),
        (at(1.0, id="a"), at(9.0, id="b"), (Reason.NONE_WITHIN_TOLERANCE, Reason.NONE_WITHIN_TOLERANCE)),
        (at(1.0, id="a"), at(1.0, zone="side", id="a"), (Reason.ZONE_NOT_READ, Reason.ZONE_NOT_READ)),
    ],
)
def test_why_a_reading_has_no_counterpart(earlier, later, reasons):
    matching = both([earlier], [later])
    assert (matching.earlier_reason[0], matching.later_reason[0]) == reasons


def test_a_reading_whose_counterparts_are_taken_says_so():
    matching = both([at(1.0), at(1.1)], [at(1.0)])
    assert matching.earlier_reason.tolist() == [Reason.MATCHED, Reason.COUNTERPARTS_TAKEN]
    matching = both([at(1.0)], [at(1.0), at(1.1)])
    assert matching.later_reason.tolist() == [Reason.MATCHED, Reason.COUNTERPARTS_TAKEN]


readings = st.lists(
    st.fixed_dictionaries(
        {"zone": st.sampled_from(["baseplate", "side"]), "plate_mm": st.just(8.0)},
        optional={
            "side": st.sampled_from(["port", "starboard"]),
            "station_m": st.integers(0, 12).map(lambda tenth: tenth / 10),
            "height_m": st.sampled_from([0.2, 0.8]),
            "layer": st.sampled_from(["shell", "overplate"]),
            "fitted_on": st.sampled_from(["2010", "2015", "2018-03-01"]),
            "id": st.sampled_from("abcdef"),
        },
    ),
    max_size=12,
    min_size=1,
).map(
    lambda rows: [
        {name: value for name, value in row.items() if name != "id" or value not in [other.get("id") for other in rows[:place]]}
        for place, row in enumerate(rows)
    ]
)


@given(readings, readings)
@every_case
def test_nothing_is_dropped_and_nothing_used_twice(earlier, later):
    matching = both(earlier, later)
    for rows, reasons, sent in (
        (matching.earlier, matching.earlier_reason, earlier),
        (matching.later, matching.later_reason, later),
    ):
        assert sorted([*rows, *np.flatnonzero(reasons != Reason.MATCHED)]) == list(range(len(sent)))
    for first, second, by_id in pairs_of(matching):
        one, two = earlier[first], later[second]
        assert one["zone"] == two["zone"]
        assert one.get("layer", "shell") == two.get("layer", "shell")
        assert by_id == (one.get("id", 1) == two.get("id", 2)) or not by_id
        assert by_id or (one.get("side") == two.get("side") and abs(one["station_m"] - two["station_m"]) <= 0.25 + 1e-9)


def test_pairs_come_in_the_order_of_the_earlier_survey():
    earlier = [at(3.0), at(1.0), at(2.0, id="x")]
    assert both(earlier, [at(2.0, id="x"), at(1.0), at(3.0)]).earlier.tolist() == [0, 1, 2]


def test_what_matching_costs_is_counted_without_the_ids():
    table = reading_table([at(1.0, id="a"), at(1.0), at(1.1)])
    assert candidates(table, table, earlier_on=EARLIER_ON, station_tolerance_m=0.25) == 4


def test_what_matching_costs_is_counted_where_it_lies_and_without_newer_plate():
    """By hand, of 0.25 m: 3.0 has 3.1 and 3.25, 5.0 has 5.0; ids, 0.5 and what was fitted since have none."""
    earlier = reading_table([at(3.0), at(1.0, id="a"), at(5.0)])
    later = reading_table([at(1.0, id="a"), at(0.5), at(3.1), at(3.25), at(3.0, fitted_on="2016"), at(5.0)])
    assert candidates(earlier, later, earlier_on=EARLIER_ON, station_tolerance_m=0.25) == 3
