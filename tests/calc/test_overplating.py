"""Overplating: weights, how the boat floats with them, and what is told where that is not known."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from platemargin.errors import NotApplicableError
from platemargin.flotation import Flotation
from platemargin.overplating import overplating
from platemargin.overplating_findings import ASSUMED, FINDINGS

HULL = {"length_m": 18.0, "beam_m": 2.0, "draught_m": 0.6, "displacement_kg": 18_000.0, "gm_m": 0.4}
PATCH = {"zone": "baseplate", "area_m2": 10.0, "thickness_mm": 6.0, "station_m": 9.0, "height_m": 0.0}
every_example = settings(deadline=None, derandomize=True, max_examples=150)


def plated(*patches, freeboard_mm=None, **hull):
    """Plate the invented hull; a member of the hull that is None is not told."""
    told = {name: value for name, value in {**HULL, **hull}.items() if value is not None}
    return overplating(patches=list(patches), hull=told, freeboard_mm=freeboard_mm)


def found(*patches, freeboard_mm=None, **hull):
    """Return the codes that are found, with how many of each."""
    told = {name: value for name, value in {**HULL, **hull}.items() if value is not None}
    arguments = {"patches": list(patches), "hull": told, "freeboard_mm": freeboard_mm}
    result = overplating(**arguments)
    places = {finding.code: list(finding.applies(arguments, result)) for finding in FINDINGS}
    return {code: len(where) for code, where in places.items() if where}


# -- weights --


def test_the_weld_metal_of_a_fillet():
    """A 6 mm fillet is 18 mm2 of weld: 0.1413 kg a metre, as welding tables have it (from memory: 0.14 kg/m)."""
    patch = plated({**PATCH, "edge_length_m": 10.0})
    assert patch.weld_metal_kg == pytest.approx(1.413, abs=1e-9)
    assert patch.net_added_kg == pytest.approx(471.0 + 1.413, abs=1e-9)


def test_ballast_comes_off_what_the_boat_carries_and_may_lift_it():
    result = plated(PATCH, ballast_removed_kg=1000.0)
    assert result.net_added_kg == pytest.approx(471.0 - 1000.0)
    assert result.sinkage_mm < 0


# -- afloat, against a hull that is floated in full --


def balance(beam, draught, kg, point, weight, heel):
    """Return the moment [kg m] that turns a box of one metre's length further at a heel, its sinkage found by its weight.

    The section under water is integrated strip by strip; nothing of a metacentre is used.
    """
    y = (np.arange(4000) + 0.5) / 4000 * beam - beam / 2
    total = kg + weight

    def immersed(depth):
        return np.clip(depth + y * np.tan(heel), 0, None)

    depth = brentq(lambda one: immersed(one).sum() * beam / 4000 * 1000 - total, 0.01, 5)
    area = immersed(depth)
    centre_y, centre_z = (y * area).sum() / area.sum(), (0.5 * area**2).sum() / area.sum()
    height = 0.7 * draught  # the boat's own centre of gravity
    gravity_y, gravity_z = weight * point[0] / total, (kg * height + weight * point[1]) / total
    lever = (gravity_y - centre_y) * np.cos(heel) + (gravity_z - centre_z) * np.sin(heel)
    return total * lever


@pytest.mark.parametrize("weight", [5.0, 20.0, 40.0])
@pytest.mark.parametrize("point", [(1.0, 0.3), (0.5, 0.0), (1.0, 1.4)])
def test_the_list_is_that_of_a_box_floated_strip_by_strip(weight, point):
    """Within 2 % up to 3 degrees: what small angles leave out is of the second order in the heel."""
    beam, draught, length = 2.0, 0.6, 18.0
    kg = 1000 * beam * draught
    exact = brentq(lambda heel: balance(beam, draught, kg, point, weight, heel), 0.0, 0.5)
    gm = 0.5 * draught + beam**2 / (12 * draught) - 0.7 * draught
    thickness = weight * length / 7850.0 / 10.0 * 1000.0
    side = {**PATCH, "zone": "side", "side": "starboard", "offset_m": point[0], "height_m": point[1], "thickness_mm": thickness}
    result = plated(side, waterplane_coefficient=1.0, displacement_kg=kg * length, gm_m=gm)
    assert result.heel_degrees == pytest.approx(np.degrees(exact), rel=0.02)
    assert result.heel_to == "starboard"


@every_example
@given(st.lists(st.floats(0.0, 1.0), min_size=3, max_size=12), st.floats(0.3, 1.0))
def test_the_moment_to_trim_bounds_that_of_every_waterplane_of_its_coefficient(ends, full):
    """Breadths fall from amidships to both ends, as drawn; their inertia is added up station by station."""
    half = np.repeat(np.sort(np.array(ends))[::-1] * (1 - full) + full, 200)
    half[0] = 1.0
    breadth = np.concatenate([half[::-1], half])
    breadth /= breadth.max()
    x = (np.arange(len(breadth)) + 0.5) / len(breadth) - 0.5
    coefficient, inertia = breadth.mean(), (breadth * x**2).mean()
    hull = {"length_m": 20.0, "beam_m": 3.0, "kg_per_m3": 1000.0, "draught_m": None, "displacement_kg": None, "gm_m": None}
    afloat = Flotation(coefficient=coefficient, **hull)
    moment = 1000.0 * inertia * 3.0 * 20.0**3 / 20.0 / 100.0 / 1000.0
    assert afloat.trim_moment_t_m_per_cm() <= moment * 1.001
    assert afloat.trim_moment_t_m_per_cm(most=True) >= moment * 0.999


@pytest.mark.parametrize(("trim_mm", "small"), [(900.0, True), (-900.0, True), (900.0004, True), (900.001, False)])
def test_a_trim_is_small_up_to_a_twentieth_of_the_length(trim_mm, small):
    """900 mm of 18 m, the limit included, as it is told; the share is common practice, no source."""
    hull = {"beam_m": 2.0, "kg_per_m3": 1000.0, "draught_m": None, "displacement_kg": None, "gm_m": None}
    assert Flotation(length_m=18.0, coefficient=0.9, **hull).is_trim_small(trim_mm) is small


def test_trim_goes_to_the_end_that_the_plate_is_at():
    assert plated({**PATCH, "station_m": 3.0}).trim_by == "bow"
    assert plated({**PATCH, "station_m": 15.0}).trim_by == "stern"
    level = plated(PATCH)
    assert (level.trim_mm, level.trim_by) == (0.0, None)


def test_ballast_out_of_the_stern_trims_by_the_bow():
    assert plated(PATCH, ballast_removed_kg=300.0, ballast_station_m=16.0, ballast_height_m=0.1).trim_by == "bow"


def test_plate_low_down_stiffens_a_boat_and_ballast_taken_from_there_does_the_reverse():
    assert plated(PATCH).gm_after_m > 0.4
    assert plated(PATCH, ballast_removed_kg=2000.0, ballast_height_m=0.05).gm_after_m < 0.4


def test_both_sides_alike_do_not_make_a_list():
    both = [{**PATCH, "zone": "side", "side": side} for side in ("port", "starboard")]
    assert (plated(*both).heel_degrees, plated(*both).heel_to) == (0.0, None)
    assert plated(*both, gm_m=None, draught_m=None, displacement_kg=None).heel_degrees == 0.0


def test_what_is_left_is_of_the_lowest_corner():
    aft = {**PATCH, "zone": "side", "side": "port", "station_m": 14.0, "area_m2": 3.0}
    result = plated(aft, freeboard_mm=500.0, lowest_opening_mm=300.0)
    lowered = result.sinkage_mm + result.trim_mm / 2 + 1000.0 * np.tan(np.radians(result.heel_degrees))
    assert result.freeboard_after_mm == pytest.approx(500.0 - lowered, abs=1e-9)
    assert result.opening_above_water_mm == pytest.approx(300.0 - lowered, abs=1e-9)


# -- what is not known, or too much --


def test_what_is_not_told_is_not_reckoned():
    bare = plated({"zone": "side", "side": "port", "area_m2": 2.0, "thickness_mm": 5.0}, draught_m=None, displacement_kg=None)
    assert (bare.trim_mm, bare.heel_degrees, bare.displacement_after_kg, bare.freeboard_after_mm) == (None,) * 4
    assert bare.sinkage_mm > 0


@pytest.mark.parametrize(
    ("code", "patch", "more"),
    [
        ("trim_not_known", {"station_m": None}, {}),
        ("trim_not_known", {}, {"ballast_removed_kg": 100.0}),
        ("heel_not_known", {"zone": "side", "side": "port"}, {"gm_m": None}),
        ("heel_not_known", {"zone": "side", "side": "port"}, {"draught_m": None, "displacement_kg": None}),
        ("metacentric_height_as_before", {"zone": "side", "side": "port", "height_m": None}, {}),
        ("side_not_told", {"zone": "side"}, {}),
        ("one_side_only", {"side": "port"}, {}),
        ("freeboard_not_told", {}, {}),
        ("opening_not_told", {}, {"freeboard_mm": 600.0}),
        ("ballast_removed", {}, {"ballast_removed_kg": 1.0}),
        ("less_stiff", {"height_m": 1.5}, {}),
        ("edge_not_closed", {"edge_length_m": 11.209}, {}),
        ("zone_not_known", {"zone": "baseplaet"}, {}),
        ("no_stability_left", {"height_m": 2.0, "thickness_mm": 20.0}, {"gm_m": 0.01}),
        ("sinks_far", {"area_m2": 30.0, "thickness_mm": 30.0}, {}),
        ("beyond_small_angles", {"zone": "side", "side": "port", "thickness_mm": 30.0}, {}),
        ("beyond_small_angles", {"station_m": 0.0, "area_m2": 20.0, "thickness_mm": 40.0}, {}),
    ],
)
def test_what_is_found(code, patch, more):
    told = {name: value for name, value in {**PATCH, **patch}.items() if value is not None}
    assert found(told, **more)[code] == 1


def test_nothing_is_found_of_a_boat_of_which_all_is_told_and_well():
    whole = {**PATCH, "edge_length_m": 11.211, "side": "centreline"}
    assert found(whole, freeboard_mm=600.0, lowest_opening_mm=400.0) == {}


@pytest.mark.parametrize(
    ("left", "edge", "opening"),
    [
        (-5.0, "edge_under_water", "opening_under_water"),
        (0.0, "edge_under_water", "opening_under_water"),
        (0.001, "little_freeboard", "opening_near_water"),
        (149.999, "little_freeboard", "opening_near_water"),
        (150.0, None, "opening_low"),
        (249.999, None, "opening_low"),
        (250.0, None, None),
    ],
)
def test_what_is_left_above_the_water_is_judged_as_it_is_written(left, edge, opening):
    of_edge = {"edge_under_water", "little_freeboard"}
    of_opening = {"opening_under_water", "opening_near_water", "opening_low"}
    before = {"freeboard_mm": left + 471.0 / 36.0, "lowest_opening_mm": left + 471.0 / 36.0}
    codes = set(found(PATCH, waterplane_coefficient=1.0, **before))
    assert codes & of_edge == ({edge} if edge else set())
    assert codes & of_opening == ({opening} if opening else set())


def test_where_the_form_no_longer_holds_no_figure_is_given():
    heels = plated({**PATCH, "zone": "side", "side": "port", "thickness_mm": 30.0}, freeboard_mm=600.0)
    assert (heels.heel_degrees, heels.heel_to, heels.lowered_mm, heels.freeboard_after_mm) == (None,) * 4
    trims = plated({**PATCH, "station_m": 0.0, "area_m2": 20.0, "thickness_mm": 40.0}, freeboard_mm=600.0)
    assert (trims.trim_mm, trims.trim_least_mm, trims.trim_by, trims.freeboard_after_mm) == (None,) * 4


@pytest.mark.parametrize(
    ("code", "path", "patch", "more"),
    [
        ("station_beyond_hull", ("patches", 0, "station_m"), {"station_m": 18.001}, {}),
        ("station_beyond_hull", ("hull", "ballast_station_m"), {}, {"ballast_station_m": 19.0}),
        ("offset_off_hull", ("patches", 0, "offset_m"), {"offset_m": 0.2}, {}),
        ("offset_off_hull", ("patches", 0, "offset_m"), {"offset_m": 1.001, "side": "port"}, {}),
        ("patches_over_bottom", ("patches",), {"area_m2": 36.001}, {}),
        ("patches_over_hull", ("patches",), {"zone": "side", "area_m2": 116.001}, {}),
        ("patches_over_hull", ("patches",), {"zone": "roof", "area_m2": 232.001}, {}),
        ("displacement_over_box", ("hull", "displacement_kg"), {}, {"displacement_kg": 21_600.001}),
        ("ballast_over_displacement", ("hull", "ballast_removed_kg"), {}, {"ballast_removed_kg": 18_000.0}),
        ("gm_over_box", ("hull", "gm_m"), {}, {"gm_m": 1.268}),
    ],
)
def test_what_cannot_be_is_refused(code, path, patch, more):
    with pytest.raises(NotApplicableError) as refused:
        plated({**PATCH, **patch}, **more)
    assert [(one, where) for one, where, _ in refused.value.faults] == [(code, path)]


def test_the_edges_of_what_can_be_are_accepted():
    plated({**PATCH, "station_m": 18.0, "area_m2": 36.0}, ballast_removed_kg=17_999.0, displacement_kg=18_000.0)
    plated({**PATCH, "side": "port", "offset_m": 1.0}, displacement_kg=21_600.0, gm_m=1.15)
    plated({**PATCH, "zone": "side", "area_m2": 116.0})


# -- properties --

patches = st.fixed_dictionaries(
    {
        "zone": st.sampled_from(["baseplate", "side", "chine", "swim", "elsewhere"]),
        "area_m2": st.floats(0.01, 6.0),
        "thickness_mm": st.floats(1.0, 40.0),
    },
    optional={
        "station_m": st.floats(0.0, 18.0),
        "side": st.sampled_from(["port", "starboard", "centreline"]),
        "height_m": st.floats(0.0, 20.0),
        "edge_length_m": st.floats(0.01, 1000.0),
    },
)
hulls = st.fixed_dictionaries(
    {"length_m": st.just(18.0), "beam_m": st.just(2.0)},
    optional={
        "draught_m": st.floats(0.3, 1.0),
        "gm_m": st.floats(0.01, 0.5),
        "waterplane_coefficient": st.floats(0.5, 1.0),
        "lowest_opening_mm": st.floats(0.0, 10_000.0),
        "ballast_removed_kg": st.floats(0.0, 5000.0),
        "ballast_station_m": st.floats(0.0, 18.0),
        "ballast_height_m": st.floats(0.0, 20.0),
    },
)


@every_example
@given(st.lists(patches, min_size=1, max_size=5), patches, hulls)
def test_more_plate_never_weighs_or_sinks_less(some, one_more, hull):
    fewer = overplating(patches=some, hull=hull)
    more = overplating(patches=[*some, one_more], hull=hull)
    assert more.steel_kg >= fewer.steel_kg
    assert more.sinkage_mm >= fewer.sinkage_mm


@every_example
@given(st.lists(patches, min_size=1, max_size=5), hulls, st.floats(0.0, 5000.0))
def test_every_answer_is_finite_and_what_is_left_is_never_more_than_sinkage_alone_leaves(some, hull, freeboard):
    result = overplating(patches=some, hull=hull, freeboard_mm=freeboard)
    numbers = [value for value in vars(result).values() if isinstance(value, float)]
    assert np.isfinite(numbers).all()
    if result.freeboard_after_mm is not None:
        assert result.freeboard_after_mm <= freeboard - result.sinkage_mm + 1e-6
    assert result.heel_degrees is None or 0 <= result.heel_degrees <= 10.005


@every_example
@given(st.lists(patches, min_size=1, max_size=5), hulls)
def test_a_mirrored_boat_lists_to_the_other_side(some, hull):
    other = {"port": "starboard", "starboard": "port"}
    mirrored = [{**one, **({"side": other.get(one["side"], one["side"])} if "side" in one else {})} for one in some]
    one, two = overplating(patches=some, hull=hull), overplating(patches=mirrored, hull=hull)
    assert one.heel_degrees == two.heel_degrees
    assert two.heel_to == other.get(one.heel_to)


@every_example
@given(st.lists(patches, min_size=1, max_size=5), hulls)
def test_what_is_taken_is_told(some, hull):
    """Only what a figure rests on: a displacement from the draught, sides and levers that nobody told."""
    arguments = {"patches": some, "hull": hull, "freeboard_mm": None}
    result = overplating(**arguments)
    told = {one.field for one in ASSUMED if one.when(arguments, result)}
    assert {"water_kg_per_m3", "steel_kg_per_m3"} <= told
    assert ("hull.displacement_kg" in told) == ("draught_m" in hull)
    assert ("patches[].side" in told) == any("side" not in one for one in some)
    assert ("patches[].offset_m" in told) == any(one.get("side") in ("port", "starboard") for one in some)
