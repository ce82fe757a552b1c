"""How many anodes, and what so many achieve: relations that hold for every hull, and the facts that the trade knows."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from platemargin.anode_layout import count_by_spacing, densest_count, reach_m, stations_m
from platemargin.anode_materials import MATERIALS, faraday_ah_per_kg
from platemargin.anode_sizing import FINDINGS, Governing, anode_sizing
from platemargin.current_demand import CATEGORIES
from platemargin.declared import filled
from platemargin.errors import NotApplicableError

PLATE = {"net_mass_kg": 4.0, "length_m": 0.29, "width_m": 0.14, "thickness_m": 0.06, "mounting": "flush"}
HULL = {"length_m": 17.5, "beam_m": 2.1, "draught_m": 0.6}
COATED = {"coating": {"category": "II"}, "design_life_years": 4.0}


def sized(material="magnesium", water=None, **changes):
    anode = {**PLATE, "material": material, **changes.pop("anode", {})}
    electrolyte = {"resistivity_ohm_m": 20.0 if water is None else water}
    area = {} if {"hull", "surfaces", "wetted_area_m2"} & set(changes) else {"wetted_area_m2": 60.0}
    return anode_sizing(**{"anode": anode, "electrolyte": electrolyte, **COATED, **area, **changes})


def codes(result, **given):
    """Return the codes of what is found; `given` is what was asked beside the usual."""
    anode = {**PLATE, "material": result.anode.material.name, **given.pop("anode", {})}
    names = ("surfaces", "hull", "wetted_area_m2", "protection_potential_v", "reference_electrode", "moves_to", "anode_count")
    usual = {**dict.fromkeys(names), **COATED, "electrolyte": {}, "current_density": None}
    arguments = {**usual, "anode": anode, **given}
    return {finding.code for finding in FINDINGS if list(finding.applies(arguments, result))}


# Relations

metals = st.sampled_from(["magnesium", "aluminium", "zinc"])
waters = st.floats(0.1, 1000)
areas = st.floats(0.5, 10_000)
anodes = st.fixed_dictionaries(
    {
        "net_mass_kg": st.floats(0.1, 100),
        "length_m": st.floats(0.05, 3),
        "width_m": st.floats(0.02, 1),
        "thickness_m": st.floats(0.01, 0.5),
        "mounting": st.sampled_from(["flush", "stand_off"]),
    }
)


@given(metals, waters, st.tuples(areas, areas).map(sorted), anodes)
def test_more_area_never_takes_fewer_anodes(metal, water, sizes, anode):
    less, more = (sized(metal, water, wetted_area_m2=area, anode=anode) for area in sizes)
    assert less.count_needed <= more.count_needed
    assert less.count_by_mass <= more.count_by_mass
    assert less.net_mass_required_kg <= more.net_mass_required_kg


@given(metals, st.tuples(waters, waters).map(sorted), anodes, st.floats(0.05, 2))
def test_higher_resistivity_never_gives_more(metal, pair, anode, driving):
    conducting, resisting = (sized(metal, water, anode={**anode, "driving_voltage_v": driving}) for water in pair)
    assert resisting.output_initial_a <= conducting.output_initial_a
    assert resisting.output_final_a <= conducting.output_final_a


@given(metals, st.tuples(waters, waters).map(sorted), anodes)
def test_the_criterion_alone_may_lift_the_output_where_water_turns_fresh(metal, pair, anode):
    """-0.85 V CSE asks 16 mV less than -0.80 V Ag/AgCl: across 10 ohm m no more than that is gained, elsewhere nothing."""
    conducting, resisting = (sized(metal, water, anode=anode) for water in pair)
    gain = resisting.driving_voltage_v / conducting.driving_voltage_v
    assert gain <= 1 + 0.0161 / 0.2
    assert resisting.output_initial_a <= conducting.output_initial_a * gain * (1 + 1e-3)


@given(metals, waters, areas, anodes)
def test_so_many_as_are_needed_meet_every_need_and_one_fewer_does_not(metal, water, area, anode):
    enough = sized(metal, water, wetted_area_m2=area, anode=anode)
    assert round(enough.demand_met_percent, 2) >= 100
    assert enough.count_needed * anode["net_mass_kg"] >= enough.net_mass_required_kg * (1 - 1e-6)
    if 1 < enough.count_needed <= 1e6:
        short = sized(metal, water, wetted_area_m2=area, anode=anode, anode_count=enough.count_needed - 1)
        too_little_metal = short.count * anode["net_mass_kg"] < short.net_mass_required_kg
        assert short.demand_met_percent < 100 or too_little_metal
        assert short.count_needed == enough.count_needed


@given(metals, waters, areas, anodes, st.floats(0.5, 50))
def test_every_figure_is_finite_and_positive(metal, water, area, anode, years):
    result = sized(metal, water, wetted_area_m2=area, anode=anode, design_life_years=years, hull=HULL)
    for name, value in vars(result).items():
        if isinstance(value, (int, float)) and name not in ("governing", "protection_ag_agcl_v", "material_suited"):
            assert 0 < value < math.inf, name


@given(st.sampled_from(["aluminium", "zinc"]), st.floats(0.1, 2), areas, anodes, st.floats(0.5, 20))
def test_active_zinc_and_aluminium_last_as_long_as_they_were_sized_for(metal, water, area, anode, years):
    """They give no more than the steel takes: what is enough by metal lasts at least the design life."""
    result = sized(metal, water, wetted_area_m2=area, anode=anode, design_life_years=years)
    assert result.charge_life_years >= years * (1 - 1e-3)
    assert result.expected_life_years in (None, result.charge_life_years)
    assert (result.expected_life_years is None) == (round(result.charge_life_years, 2) > 50)


@given(st.floats(3, 150), st.floats(0.2, 20), st.floats(0.05, 3), st.floats(1, 20))
def test_spacing_leaves_no_plate_out_of_reach(length, spacing, anode, lengths):
    """At the stations of so many anodes, every metre of each side is within reach of one, and none is further than asked."""
    reach = reach_m(anode, lengths)
    count = count_by_spacing(length, spacing, reach)
    stations = stations_m(length, count)
    assert len(stations) == count / 2
    ends = [-stations[0], *stations, 2 * length - stations[-1]]
    gaps = [after - before for before, after in itertools.pairwise(ends)]
    assert max(gaps) <= min(spacing, 2 * reach) * (1 + 1e-5)


def test_counts_are_whole_numbers_up_and_the_raw_ones_are_shown():
    result = sized(water=50.0)
    for need in ("mass", "initial_current", "final_current"):
        assert getattr(result, f"count_by_{need}") == math.ceil(getattr(result, f"quotient_by_{need}"))
    assert result.count_needed == max(result.count_by_mass, result.count_by_initial_current, result.count_by_final_current)


def test_a_quotient_that_is_whole_is_not_rounded_up():
    """0.3 A of 0.1 A is 3 anodes, though binary arithmetic divides to 2.9999999999999996 and its neighbours."""
    density = {"initial_a_per_m2": 0.3, "mean_a_per_m2": 0.003, "final_a_per_m2": 0.3}
    ohm = sized().anode_resistance_final_ohm
    result = sized(
        wetted_area_m2=1.0,
        coating={"category": "bare"},
        current_density=density,
        anode={"driving_voltage_v": 0.1 * ohm},
        design_life_years=0.5,
    )
    assert (result.output_final_a, result.count_by_final_current) == (0.1, 3)


def test_of_equal_needs_the_first_governs():
    result = sized("zinc", 0.3, wetted_area_m2=0.5)
    assert (result.count_by_mass, result.count_by_initial_current, result.count_by_final_current) == (1, 1, 1)
    assert result.governing is Governing.MASS


# What the trade knows; common practice, no source


def test_an_anode_of_29_centimetres_reaches_two_metres_either_way():
    """Seven times its length: 4 m apart, ten on a hull of 17.5 m."""
    assert reach_m(0.29, 7.0) == pytest.approx(2.03)
    result = sized(hull=HULL)
    assert result.count_by_spacing == 10


def test_in_fresh_water_output_governs_and_not_mass():
    result = sized(water=50.0)
    assert result.governing is Governing.FINAL_CURRENT
    assert result.count_by_final_current > 10 * result.count_by_mass


def test_in_the_sea_the_metal_governs():
    assert sized("zinc", 0.3, design_life_years=10.0).governing is Governing.MASS


@pytest.mark.parametrize("metal", ["zinc", "aluminium"])
def test_zinc_and_aluminium_give_next_to_nothing_in_a_canal(metal):
    """The same plate at 0.30 and at 50 ohm m: 1/150 of the output or so, and its face turns passive."""
    result = sized(metal, 50.0)
    sea, brackish, fresh = result.same_anode
    assert (sea.resistivity_ohm_m, fresh.resistivity_ohm_m) == (0.30, 50.0)
    assert sea.output_initial_a / fresh.output_initial_a > 150
    assert (sea.material_suited, brackish.material_suited, fresh.material_suited) == (True, True, False)
    assert not result.material_suited
    assert result.suited_materials == ("magnesium",)
    assert result.expected_life_years is fresh.charge_life_years is None
    assert {"material_unsuited", "passive_life_unknown"} <= codes(result)


def test_magnesium_is_spent_in_the_sea_within_months():
    """About 0.2 years, of a plate that would be reckoned to last some 35 in fresh water."""
    sea, _, fresh = sized(water=50.0).same_anode
    assert 0.15 < sea.charge_life_years < 0.3
    assert 30 < fresh.charge_life_years < 45
    assert {"material_unsuited", "overprotection_possible", "life_short_of_design"} <= codes(sized(water=0.3))


def test_magnesium_corrodes_away_before_its_charge_is_used():
    result = sized(water=50.0)
    assert result.charge_life_years > 35
    assert result.expected_life_years is None
    assert "self_corrosion_bounds_life" in codes(result)


@pytest.mark.parametrize(("water", "found"), [(2.0, False), (2.001, True), (9.999, True), (10.0, False)])
def test_no_metal_suits_well_between_brackish_and_fresh(water, found):
    assert ("no_material_suits_well" in codes(sized("magnesium", water))) == found


@pytest.mark.parametrize(
    ("water", "suited"),
    [(0.3, "aluminium zinc"), (1.571, "aluminium zinc"), (2.0, "magnesium aluminium zinc"), (2.001, "magnesium")],
)
def test_which_metal_suits_which_water(water, suited):
    assert sized("zinc", water).suited_materials == tuple(suited.split())


@pytest.mark.parametrize("metal", ["magnesium", "aluminium", "zinc"])
def test_sulphate_reducers_cut_every_driving_voltage(metal):
    usual = sized(metal)
    cut = sized(metal, protection_potential_v=-0.95, reference_electrode="cse")
    assert cut.driving_voltage_v == pytest.approx(usual.driving_voltage_v - 0.10)
    assert cut.output_initial_a < usual.output_initial_a
    assert "driving_voltage_cut" in codes(cut, protection_potential_v=-0.95)


@pytest.mark.parametrize(("potential", "electrode"), [(-0.784, "ag_agcl"), (-0.534, "she"), (0.246, "zinc"), (-0.85, "cse")])
def test_a_potential_counts_the_same_against_every_electrode(potential, electrode):
    result = sized(protection_potential_v=potential, reference_electrode=electrode)
    assert result.driving_voltage_v == pytest.approx(sized().driving_voltage_v, abs=1e-9)
    assert not {"driving_voltage_cut", "protection_too_weak"} & codes(result, protection_potential_v=potential)


def test_four_anodes_on_a_narrow_boat():
    """The inverse question: they leave the middle bare, meet a fraction of the demand, and the number needed is told."""
    result = sized(water=50.0, hull=HULL, anode_count=4)
    assert (result.count, result.count_needed) == (4, 51)
    assert result.demand_met_percent == pytest.approx(100 * 4 * result.output_final_a / result.current_final_a)
    assert result.stations_m == (4.375, 13.125)
    found = codes(result, hull=HULL, anode_count=4)
    assert {"demand_not_met", "spacing_leaves_gaps", "no_sensible_count"} <= found


def test_a_demand_that_no_sensible_number_meets_has_no_layout():
    result = sized(water=50.0, hull=HULL, coating={"category": "bare"})
    assert result.count > result.densest_count >= densest_count(60.0)
    assert result.stations_m == ()
    assert "no_sensible_count" in codes(result, hull=HULL)


def test_a_bare_bottom_takes_nearly_all():
    """The common boat: a bare bottom under coated sides."""
    parts = [
        {"name": "baseplate", "area_m2": 36.0, "coating": {"category": "bare"}},
        {"name": "sides", "area_m2": 22.0, "coating": {"category": "II"}},
    ]
    result = sized(surfaces=parts, coating=None)
    bottom, sides = result.surface_demands
    assert bottom.current_mean_a / (bottom.current_mean_a + sides.current_mean_a) > 0.9
    assert result.current_mean_a == pytest.approx(bottom.current_mean_a + sides.current_mean_a, rel=5e-4)
    assert "bare_surface_takes_current" in codes(result, surfaces=parts, coating=None)


def test_parts_that_are_alike_are_one_whole():
    whole = sized(wetted_area_m2=58.0)
    parts = [{"name": name, "area_m2": 29.0, "coating": {"category": "II"}} for name in ("port", "starboard")]
    halves = sized(surfaces=parts, coating=None)
    assert halves.current_mean_a == pytest.approx(whole.current_mean_a, rel=1e-3)
    assert halves.count == whole.count


def test_fresh_water_is_told_at_both_ends():
    result = sized(electrolyte={"water": "fresh"})
    low, high = result.counts_over_range
    assert (low.resistivity_ohm_m, high.resistivity_ohm_m) == (10.0, 100.0)
    assert low.count < result.count_needed < high.count
    assert low.count == sized(water=10.0).count_needed
    assert high.count == sized(water=100.0).count_needed


def test_extra_current_adds_to_every_stage():
    """Propeller and shaft, bare, at first and at last."""
    without, with_extra = sized(), sized(extra_current_a=0.5)
    for stage in ("initial", "mean", "final"):
        name = f"current_{stage}_a"
        assert getattr(with_extra, name) - getattr(without, name) == pytest.approx(0.5, abs=2e-4)


def test_a_bar_near_the_steel_has_1_3_times_the_resistance():
    bar = {"mounting": "stand_off", "length_m": 1.0, "width_m": 0.1, "thickness_m": 0.1}
    far, near = sized(anode={**bar, "stand_off_m": 0.30}), sized(anode={**bar, "stand_off_m": 0.29})
    assert near.anode_resistance_initial_ohm / far.anode_resistance_initial_ohm == pytest.approx(1.3, rel=1e-3)
    assert "stand_off_too_near" in codes(far, anode={**bar, "stand_off_m": 0.149})
    assert "stand_off_too_near" not in codes(far, anode={**bar, "stand_off_m": 0.15})


@pytest.mark.parametrize(("mass", "found"), [(1.7, True), (1.8, False), (4.7, False), (4.8, True)])
def test_a_mass_that_its_measures_do_not_hold(mass, found):
    """0.29 x 0.14 x 0.06 m of magnesium (1770 kg/m3) is 4.31 kg; pounds sent for kilograms would be 9.5."""
    assert ("anode_mass_does_not_fit" in codes(sized(), anode={"net_mass_kg": mass})) == found


@pytest.mark.parametrize("material", MATERIALS.values(), ids=lambda material: material.name)
def test_practice_gives_no_more_than_faraday(material):
    assert 0.4 < material.capacity_ah_per_kg / faraday_ah_per_kg(material) < 1


def test_an_anode_that_cannot_pull_so_far_is_refused():
    with pytest.raises(NotApplicableError, match="zinc works at -1 V and -1\\.05 V is asked"):
        sized("zinc", protection_potential_v=-1.05, reference_electrode="ag_agcl")


@pytest.mark.parametrize(
    ("material", "mass_kg", "category", "count", "resistivity"),
    [
        ("zinc", 14.0, "II", 10, 0.25),
        ("zinc", 14.0, "III", 15, 0.9),
        ("aluminium", 5.5, "II", 10, 0.25),
        ("zinc", 14.0, "I", 25, 0.3),
    ],
)
def test_the_life_is_that_of_a_coating_that_goes_on_breaking_down(material, mass_kg, category, count, resistivity):
    """The demand, min(1, a + b t) of bare steel (DNV-RP-B401, from memory), over the life told uses up the charge."""
    of = {"anode": {"net_mass_kg": mass_kg}, "coating": {"category": category}}
    result = sized(material, resistivity, wetted_area_m2=60.0, anode_count=count, **of)
    (surface,) = result.surface_demands
    initial, per_year = CATEGORIES[category]
    charge = count * mass_kg * result.anode.utilisation * result.anode.capacity_ah_per_kg
    years = np.linspace(0.0, result.charge_life_years, 100_001)
    taken = 60.0 * surface.mean_a_per_m2 * np.minimum(initial + per_year * years, 1.0)
    assert taken.mean() <= count * result.anode.output_mean_a
    used = np.trapezoid(taken, years) * 8760
    assert used == pytest.approx(charge, rel=2e-3)  # the current is told to four figures


@pytest.mark.parametrize(
    ("material", "here_ohm_m", "moves_to", "area_m2", "then"),
    [
        ("zinc", 0.3, "fresh", 60.0, "turn passive"),
        ("zinc", 0.3, "fresh", 0.5, "turns passive"),
        ("magnesium", 20.0, "sea", 60.0, "are spent in "),
        ("magnesium", 20.0, "sea", 0.5, "is spent in "),
    ],
)
def test_a_boat_that_moves_is_told_what_becomes_of_its_anodes(material, here_ohm_m, moves_to, area_m2, then):
    result = sized(material, here_ohm_m, wetted_area_m2=area_m2, moves_to=moves_to)
    assert (result.count == 1) == then.startswith(("turns", "is"))
    many = "1 anode" if result.count == 1 else f"{result.count} anodes"
    assert f"there {many} {then}" in sentence(result, "moves_between_waters", moves_to=moves_to)


def test_zinc_that_would_outlast_itself_is_told_so():
    """Faraday's charge would last for longer than the 50 years that zinc keeps by itself."""
    result = sized("zinc", 0.3, wetted_area_m2=0.1, anode={"net_mass_kg": 30.0}, moves_to="brackish")
    told = sentence(result, "moves_between_waters", moves_to="brackish")
    assert "lasts no more than some 50 years, whatever the charge says" in told


def sentence(result, code, **given):
    """Return the words of a finding, as they are told."""
    anode = {**PLATE, "material": result.anode.material.name}
    arguments = {"anode": anode, "anode_count": None, **given}
    (finding,) = [finding for finding in FINDINGS if finding.code == code]
    (place,) = finding.applies(arguments, result)
    return filled(finding.statement, {name: place.values[name] for name in finding.values})
