"""The anodes found on a hull: what went of them, what they reach, what they leave, and what potentials say before all that."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platemargin.anode_condition import anode_condition
from platemargin.anode_condition_findings import ASSUMED, FINDINGS
from platemargin.errors import NotApplicableError
from platemargin.quantities import rounded
from platemargin.readings import HULL_SIDES

HULL = {"length_m": 16.0, "water": "fresh"}
ANODE = {
    "station_m": 4.0,
    "side": "port",
    "material": "magnesium",
    "original_mass_kg": 4.0,
    "remaining_percent": 60.0,
    "years_fitted": 4.0,
    "length_m": 0.3,
}
CELL = {"station_m": 9.0, "side": "port", "potential_v": -0.9, "reference_electrode": "cse", "shore_power": False}
every_example = settings(deadline=None, derandomize=True, max_examples=150)


def without_none(members):
    return {name: value for name, value in members.items() if value is not None}


def surveyed(*anodes, cells=(), hull=None, **options):
    return anode_condition(hull=without_none({**HULL, **(hull or {})}), anodes=list(anodes), potentials=list(cells), **options)


def found(*anodes, cells=(), hull=None, suspected=None):
    """Return the codes that are found, with the severity of each."""
    arguments = {
        "hull": without_none({**HULL, **(hull or {})}),
        "anodes": list(anodes),
        "potentials": list(cells),
        "sulphate_reducers_suspected": suspected,
    }
    result = anode_condition(**arguments)
    return {one.code: one.severity for one in FINDINGS if list(one.applies(arguments, result))}


# -- one anode --


def test_what_went_of_an_anode_is_its_consumption_its_output_and_its_life():
    """By hand: 1.6 of 4 kg in 4 years is 0.4 kg/year; 1100 Ah/kg x 0.4 / 8760 h = 0.0502 A; 3.2 kg of use last 8 years."""
    (told,) = surveyed(ANODE).anodes
    assert told.consumption_kg_per_year == pytest.approx(0.4)
    assert told.mean_output_a == pytest.approx(1100.0 * 0.4 / 8760.0)
    assert told.remaining_years == pytest.approx(4.0)


def test_an_anode_sized_for_a_current_and_a_life_is_used_up_at_the_end_of_it():
    """MIL-HDBK-1004/10, p. 198: 193 lb of magnesium for 0.73 A over 15 years at 8.8 lb/A-year and 50 %.

    At that output, and with all of its mass used, what is left after 5 years lasts the other 10. Pounds of 0.45359237 kg.
    """
    capacity = 8760.0 / (8.8 * 0.45359237) * 0.5
    mass = 15.0 * 8.8 * 0.73 / 0.5 * 0.45359237
    assert mass / 0.45359237 == pytest.approx(193.0, abs=0.5)
    (told,) = surveyed(
        {
            **ANODE,
            "original_mass_kg": mass,
            "remaining_percent": 200.0 / 3.0,
            "years_fitted": 5.0,
            "capacity_ah_per_kg": capacity,
            "utilisation": 1.0,
        }
    ).anodes
    assert told.mean_output_a == pytest.approx(0.73, rel=1e-9)
    assert told.remaining_years == pytest.approx(10.0, rel=1e-9)


@pytest.mark.parametrize(
    ("state", "changes"),
    [
        ("working", {}),
        ("working", {"continuity_ohm": 0.1}),
        ("working", {"remaining_percent": 90.0, "years_fitted": 0.99}),
        ("new", {"remaining_percent": 90.01, "years_fitted": 0.99}),
        ("working", {"remaining_percent": 99.0}),
        ("working", {"remaining_percent": 20.01}),
        ("working", {"remaining_percent": 15.0, "utilisation": 0.9}),
        ("new", {"remaining_percent": 100.0, "years_fitted": 0.99}),
        ("unused", {"remaining_percent": 100.0, "years_fitted": 1.0}),
        ("unused", {"remaining_percent": 99.01, "years_fitted": 30.0}),
        ("used_up", {"remaining_percent": 20.0}),
        ("used_up", {"remaining_percent": 0.0}),
        ("unsuited", {"material": "zinc"}),
        ("unsuited", {"material": "aluminium"}),
        ("disconnected", {"continuity_ohm": 0.101}),
        ("painted", {"painted": True, "continuity_ohm": 9.0}),
    ],
)
def test_what_keeps_an_anode_from_working(state, changes):
    (told,) = surveyed({**ANODE, **changes}).anodes
    assert (told.state, told.counts) == (state, state in ("working", "new"))
    assert (told.remaining_years is None) == (state not in ("working", "used_up") or changes.get("remaining_percent") == 99.0)


@pytest.mark.parametrize("water", ["sea", "brackish", None])
def test_zinc_is_not_held_against_water_that_it_suits_or_that_is_not_told(water):
    assert surveyed({**ANODE, "material": "zinc"}, hull={"water": water}).working_count == 1


# -- reach --


def test_an_anode_of_29_centimetres_reaches_four_metres_in_all():
    """Seven lengths each way: 4.06 m, so that hulls are fitted about every 4 m (common practice, no source)."""
    anodes = [
        {**ANODE, "length_m": 0.29, "station_m": station, "side": side} for station in (2, 6, 10, 14) for side in HULL_SIDES
    ]
    result = surveyed(*anodes)
    assert result.anodes[0].reach_m == pytest.approx(2.03)
    assert (result.covered_percent, result.gaps) == (100.0, ())


def test_a_pair_at_bow_and_stern_leaves_the_middle_bare():
    """Common practice, no source."""
    ends = [{**ANODE, "station_m": station, "side": side} for station in (1.5, 14.5) for side in HULL_SIDES]
    gaps = surveyed(*ends).gaps
    assert [(gap.side, round(gap.from_m, 3), round(gap.to_m, 3)) for gap in gaps] == [(side, 3.6, 12.4) for side in HULL_SIDES]


def test_one_at_the_centreline_counts_for_both_sides():
    result = surveyed({**ANODE, "side": "centreline"})
    assert (result.covered_port_m, result.covered_starboard_m) == (pytest.approx(4.2), pytest.approx(4.2))


anodes = st.fixed_dictionaries(
    {
        "station_m": st.floats(0.0, 16.0),
        "side": st.sampled_from(["port", "starboard", "centreline"]),
        "material": st.sampled_from(["magnesium", "zinc", "aluminium"]),
        "original_mass_kg": st.floats(0.05, 500.0),
        "remaining_percent": st.floats(0.0, 100.0),
        "years_fitted": st.floats(0.01, 100.0),
        "length_m": st.floats(0.05, 3.0),
    },
    optional={
        "painted": st.booleans(),
        "capacity_ah_per_kg": st.floats(100.0, 800.0),
        "utilisation": st.floats(0.1, 1.0),
        "continuity_ohm": st.floats(0.0, 10.0),
    },
)
several = st.lists(anodes, max_size=8)
waters = st.sampled_from(["fresh", "brackish", "sea", None])


@every_example
@given(several, waters, st.floats(1.0, 20.0))
def test_covered_and_gaps_make_the_whole_length_of_both_sides(some, water, lengths):
    result = surveyed(*some, hull={"water": water}, reach_lengths=lengths)
    left = sum(gap.to_m - gap.from_m for gap in result.gaps)
    assert result.covered_port_m + result.covered_starboard_m + left == pytest.approx(32.0, abs=0.02)
    assert 0 <= result.covered_percent <= 100


@every_example
@given(several, waters)
def test_covered_is_what_a_walk_along_the_hull_counts(some, water):
    """Every centimetre of each side is asked whether an anode that counts is within its reach: no interval is united."""
    result = surveyed(*some, hull={"water": water})
    stations = (np.arange(1600) + 0.5) / 100.0
    for side, covered in zip(HULL_SIDES, (result.covered_port_m, result.covered_starboard_m), strict=True):
        near = [
            abs(stations - one.station_m) <= one.reach_m
            for one in result.anodes
            if one.counts and one.side in (side, "centreline")
        ]
        walked = np.any(near, axis=0).sum() / 100.0 if near else 0.0
        assert covered == pytest.approx(walked, abs=0.02 * (len(near) + 1))


@every_example
@given(several, anodes, waters)
def test_more_anodes_never_leave_more(some, one_more, water):
    fewer, more = surveyed(*some, hull={"water": water}), surveyed(*some, one_more, hull={"water": water})
    assert more.covered_percent >= fewer.covered_percent - 0.01
    assert more.mean_output_total_a >= fewer.mean_output_total_a


@every_example
@given(several, waters)
def test_every_answer_is_finite_and_within_what_is_declared(some, water):
    result = surveyed(*some, hull={"water": water})
    for told in result.anodes:
        numbers = [value for value in vars(told).values() if isinstance(value, float)]
        assert np.isfinite(numbers).all()
        assert told.remaining_years is None or 0 <= rounded(told.remaining_years, "year") <= 50
    left = [told.remaining_years for told in result.anodes if told.remaining_years is not None]
    assert result.next_renewal_years == (min(left) if left else None)


# -- potentials --


@pytest.mark.parametrize(
    ("water", "suspected", "potential", "electrode", "state"),
    [
        ("fresh", False, -0.85, "cse", "protected"),
        ("fresh", False, -0.849, "cse", "not_protected"),
        ("sea", False, -0.80, "ag_agcl", "protected"),
        ("sea", False, -0.799, "ag_agcl", "not_protected"),
        ("brackish", False, -0.80, "ag_agcl", "protected"),
        ("fresh", True, -0.95, "cse", "protected"),
        ("fresh", True, -0.949, "cse", "not_protected"),
        (None, False, -0.85, "cse", "not_protected"),
        (None, False, -0.866, "cse", "protected"),
        ("sea", False, 0.23, "zinc", "protected"),
        ("sea", False, 0.231, "zinc", "not_protected"),
        ("sea", False, -1.10, "ag_agcl", "protected"),
        ("sea", False, -1.101, "ag_agcl", "overprotected"),
        ("fresh", False, 0.85, "cse", "implausible"),
        ("fresh", False, -2.001, "cse", "implausible"),
    ],
)
def test_a_potential_is_held_to_the_criterion_of_its_water(water, suspected, potential, electrode, state):
    """-0.80 V Ag/AgCl in the sea (EN 12473), -0.85 V CSE in fresh water (UFC 3-570-06), -0.95 V CSE with sulphate reducers
    (EN 12954); -0.85 V CSE against zinc (+0.25 V) and Ag/AgCl by EN 12473. All but the second from memory."""
    cell = {**CELL, "potential_v": potential, "reference_electrode": electrode}
    result = surveyed(cells=[cell], hull={"water": water}, sulphate_reducers_suspected=suspected)
    assert result.potentials[0].state == state


@pytest.mark.parametrize(
    ("cells", "protection"),
    [
        ([], "not_measured"),
        ([{}], "protected"),
        ([{}, {"potential_v": -0.7}], "not_protected"),
        ([{"shore_power": True}], "not_measured"),
        ([{}, {"shore_power": True}], "not_measured"),
        ([{"potential_v": -0.7, "shore_power": True}], "not_protected"),
        ([{}, {"potential_v": 0.9}], "not_measured"),
    ],
)
def test_what_the_potentials_say_together(cells, protection):
    """One that does not protect decides; one that shows nothing keeps the others from passing the hull."""
    assert surveyed(cells=[{**CELL, **cell} for cell in cells]).protection == protection


def test_a_measured_potential_goes_before_reach():
    within = {**CELL, "station_m": 4.0, "potential_v": -0.6}
    assert found(ANODE, cells=[within])["hull_not_protected"] == "act"
    beyond = surveyed(ANODE, cells=[CELL]).gaps

    told = [(gap.from_m, gap.to_m, gap.measured) for gap in beyond if gap.side == "port"]
    assert told == [
        (0.0, pytest.approx(1.9), None),
        (pytest.approx(6.1), 7.0, None),
        (7.0, 11.0, "protected"),
        (11.0, 16.0, None),
    ]
    assert [gap.measured for gap in beyond if gap.side == "starboard"] == [None]
    both = surveyed(ANODE, cells=[CELL, {**CELL, "station_m": 12.0, "potential_v": -0.6}]).gaps
    assert [gap.measured for gap in both if gap.side == "port"] == [None, "not_protected"]


def test_potentials_of_aluminium_are_not_judged():
    assert surveyed(cells=[CELL], hull={"material": "aluminium"}).potentials[0].state == "not_judged"


# -- findings, faults, assumptions --


@pytest.mark.parametrize(
    ("code", "severity", "anode", "more"),
    [
        ("anode_painted", "watch", {"painted": True}, {}),
        ("anode_disconnected", "watch", {"continuity_ohm": 1.0}, {}),
        ("anode_metal_unsuited", "watch", {"material": "zinc"}, {}),
        ("anode_used_up", "act", {"remaining_percent": 10.0}, {}),
        ("anode_unused", "watch", {"remaining_percent": 100.0}, {}),
        ("anode_new", "note", {"remaining_percent": 100.0, "years_fitted": 0.5}, {}),
        ("anode_used_soon", "watch", {"remaining_percent": 40.0}, {}),
        ("anode_used_fast", "watch", {"years_fitted": 0.4}, {}),
        ("anode_life_not_told", "note", {"remaining_percent": 98.0}, {}),
        ("magnesium_on_aluminium", "act", {}, {"hull": {"material": "aluminium"}}),
        ("magnesium_in_salt_water", "act", {}, {"hull": {"water": "sea"}}),
        ("no_anode_works", "watch", {"painted": True}, {}),
        ("protected_by_something_else", "watch", {"painted": True}, {"cells": [CELL]}),
        ("beyond_reach", "watch", {}, {}),
        ("beyond_reach_yet_protected", "note", {}, {"cells": [CELL]}),
        ("water_not_told", "watch", {}, {"hull": {"water": None}}),
        ("hull_not_protected", "act", {}, {"cells": [{**CELL, "potential_v": -0.7}]}),
        ("hull_overprotected", "watch", {}, {"cells": [{**CELL, "potential_v": -1.3}]}),
        ("read_on_shore_power", "watch", {}, {"cells": [{**CELL, "shore_power": True}]}),
        ("shore_power_not_told", "watch", {}, {"cells": [{n: v for n, v in CELL.items() if n != "shore_power"}]}),
        ("potential_implausible", "watch", {}, {"cells": [{**CELL, "potential_v": 0.0}]}),
        ("potential_not_judged", "watch", {}, {"cells": [CELL], "hull": {"material": "other"}}),
        ("not_measured", "note", {}, {}),
    ],
)
def test_what_is_found(code, severity, anode, more):
    assert found({**ANODE, **anode}, **more)[code] == severity


def test_no_anodes_are_a_finding_and_no_error():
    codes = found()
    assert codes["no_anodes"] == "watch"
    assert "no_anode_works" not in codes
    result = surveyed()
    assert (result.covered_percent, result.governing_anode_index, result.next_renewal_years) == (0.0, None, None)


def test_two_metals_on_one_hull_are_found():
    assert "mixed_metals" in found(ANODE, {**ANODE, "material": "zinc"})
    assert "mixed_metals" not in found(ANODE, ANODE)


def test_little_is_found_of_a_hull_that_is_well():
    hull = {"length_m": 16.0}
    anodes_well = [{**ANODE, "station_m": at, "side": side} for at in (2, 6, 10, 14) for side in HULL_SIDES]
    assert found(*anodes_well, cells=[CELL], hull=hull) == {}


@pytest.mark.parametrize(
    ("code", "path", "anode", "cell"),
    [
        ("station_beyond_hull", ("anodes", 0, "station_m"), {"station_m": 16.001}, {}),
        ("station_beyond_hull", ("potentials", 0, "station_m"), {}, {"station_m": 16.001}),
        ("capacity_over_faraday", ("anodes", 0, "capacity_ah_per_kg"), {"capacity_ah_per_kg": 2206.0}, {}),
        ("capacity_over_faraday", ("anodes", 0, "capacity_ah_per_kg"), {"material": "zinc", "capacity_ah_per_kg": 820.0}, {}),
    ],
)
def test_what_cannot_be_is_refused(code, path, anode, cell):
    with pytest.raises(NotApplicableError) as refused:
        surveyed({**ANODE, **anode}, cells=[{**CELL, **cell}])
    assert [(one, where) for one, where, _ in refused.value.faults] == [(code, path)]


def test_the_ends_of_the_hull_are_on_it():
    assert surveyed({**ANODE, "station_m": 16.0}, {**ANODE, "station_m": 0.0}).covered_port_m == pytest.approx(4.2)


@every_example
@given(several)
def test_what_is_taken_is_told(some):
    arguments = {"hull": HULL, "anodes": some, "potentials": [], "sulphate_reducers_suspected": None}
    told = {one.field for one in ASSUMED if one.when(arguments, surveyed(*some))}
    for name in ("capacity_ah_per_kg", "utilisation", "painted", "continuity_ohm"):
        assert (f"anodes[].{name}" in told) == any(name not in one for one in some)
    assert ("anodes[].side" in told) == any(one["side"] == "centreline" for one in some)
    assert "criterion_v" not in told
