"""POST /v1/calculations/anode-sizing."""

from __future__ import annotations

from collections.abc import Sequence

from platemargin import reference
from platemargin.anode_layout import SPACING_M
from platemargin.anode_materials import AnodeShape
from platemargin.anode_sizing import ASSUMED, FAULTS, FINDINGS, WORKING, Governing, anode_sizing, working_figures
from platemargin.current_demand import CATEGORIES
from platemargin.electrolyte import FRESH_BEGINS_OHM_M, TEMPERATURE_C
from platemargin.quantities import as_named, text
from platemargin_api.calculation import Calculation, Figures
from platemargin_api.calculations import anode_members, common
from platemargin_api.fields import Choice, Flag, Integer, List, Member, Number, Object, Request, Response, Rows, Text

__all__ = ["AnodeSizingRequest", "AnodeSizingResult", "SurveySizingRequest", "calculation", "coating"]

_WATERS = ("fresh", "brackish", "sea")
_MOST = 10**13
_DECIDES = {
    "mass": "the metal that is used up",
    "initial_current": "the current at first",
    "final_current": "the current when they are used up",
    "spacing": "the spacing along the hull",
}


class ProtectedHullRequest(Member):
    """The hull's measures."""

    length_m = Number("m", 3, 150, description="Length of the hull.", required=True)
    beam_m = Number("m", 0.5, 30, description="Beam of the hull.", required=True)
    draught_m = Number("m", 0.1, 10, description="Draught of the hull.", required=True)
    material = common.hull_material()


class CurrentDensityRequest(Member):
    """Current that bare steel takes."""

    initial_a_per_m2 = Number("A/m2", 0.002, 1, description="Until it is polarised.", required=True)
    mean_a_per_m2 = Number("A/m2", 0.002, 1, description="Over the years.", required=True)
    final_a_per_m2 = Number("A/m2", 0.002, 1, description="To polarise it again at the end.", required=True)


class BreakdownRequest(Member):
    """A category, or two constants of one's own."""

    category = Choice(
        tuple(CATEGORIES),
        description="bare; or, of epoxy and marine paint, I (one layer from 20 um), II (from 250 um), III (two layers or more "
        "from 350 um). Bitumen is none of them.",
    )
    initial_breakdown = Number("1", 0.005, 1, description="Part of the steel that is bare at first; with breakdown_per_year.")
    breakdown_per_year = Number("1/year", 0, 1, description="Part that is bared each year; with initial_breakdown.")


def coating() -> Object:
    """Return the coating of the whole."""
    return Object(BreakdownRequest, description="Coating of the whole; with surfaces each has its own.")


class ProtectedSurfaceRequest(Member):
    """A part of the wet steel with a coating of its own."""

    name = Text(1, 40, pattern=r"[A-Za-z0-9]", says="must have a letter or a digit", description="Its name.", required=True)
    area_m2 = Number("m2", 0.5, 5000, description="Its area.", required=True)
    coating = Object(BreakdownRequest, description="Its coating.", required=True)
    current_density = Object(CurrentDensityRequest, description="What bare steel takes there; absent = as elsewhere.")


class ElectrolyteRequest(Member):
    """The water, told in one of four ways."""

    water = Choice(_WATERS, description="Kind of water, where nobody measured it.")
    resistivity_ohm_m = Number("ohm m", 0.1, 1000, description="Resistivity at the water's own temperature.")
    conductivity_us_per_cm = Number("uS/cm", 10, 60_000, description="Conductivity as meters tell it, referred to 25 C.")
    salinity = Number("1", 2, 42, description="Practical salinity (PSS-78), about grams of salt in a kilogram of water.")
    temperature_c = Number(
        "degC",
        0,
        35,
        description="Temperature of the water.",
        default=TEMPERATURE_C,
        basis="common practice for temperate inland water over the year",
    )


class SizedAnodeRequest(Member):
    """One anode; all are alike."""

    material = anode_members.material(required=True)
    net_mass_kg = Number("kg", 0.1, 500, description="Mass of its metal, straps and core left out.", required=True)
    length_m = anode_members.anode_length_m(required=True)
    width_m = Number("m", 0.02, 1, description="Width of the anode.", required=True)
    thickness_m = Number("m", 0.01, 0.5, description="Thickness of the anode.", required=True)
    mounting = Choice(("flush", "stand_off"), description="On the plate, or standing off it on straps.", required=True)
    stand_off_m = Number("m", 0.01, 2, description="Distance of one that stands off the steel; absent = 0.30 m or more.")
    capacity_ah_per_kg = anode_members.capacity_ah_per_kg()
    utilisation = anode_members.utilisation()
    driving_voltage_v = Number(
        "V", 0.05, 2, description="Protection potential less the anode's; absent = by metal and protection potential."
    )


class WantedAnodesRequest(Member):
    """The anode that is thought of, and what is asked of it."""

    wetted_area_m2 = Number("m2", 0.5, 10_000, description="Wet steel; absent = the box around the hull, an upper bound.")
    surfaces = Rows(ProtectedSurfaceRequest, 0, 50, description="Wet steel in parts, such as a bare bottom and coated sides.")
    design_life_years = Number("year", 0.5, 50, description="How long the anodes have to last.", required=True)
    current_density = Object(CurrentDensityRequest, description="What bare steel takes; absent = by the water.")
    extra_current_a = Number(
        "A",
        0,
        1000,
        description="What propeller, shaft and other metal joined to the hull take.",
        default=0.0,
        basis="nothing but the steel counted is joined to the anodes",
    )
    anode = Object(SizedAnodeRequest, description="The anode.", required=True)
    protection_potential_v = Number("V", -2, 1.5, description="Potential asked of the steel; with reference_electrode.")
    reference_electrode = anode_members.reference_electrode()
    spacing_m = Number(
        "m",
        0.2,
        20,
        description="How often a hull is fitted along each side.",
        default=SPACING_M,
        basis="common practice",
    )
    anode_count = Integer(1, 5000, description="What so many anodes achieve, in place of the number needed.")
    moves_to = Choice(_WATERS, description="Another kind of water that the boat goes to.")


class AnodeSizingRequest(WantedAnodesRequest, Request):
    """A hull, its water, its coating, and the anode that is thought of."""

    hull = Object(ProtectedHullRequest, description="The hull's measures; spacing and stations need them.")
    electrolyte = Object(ElectrolyteRequest, description="The water.", required=True)
    coating = coating()
    reach_lengths = anode_members.reach_lengths()


class SurveySizingRequest(WantedAnodesRequest):
    """Anodes that are thought of for a surveyed hull."""

    electrolyte = Object(ElectrolyteRequest, description="The water; absent = the kind of water that the hull lies in.")


class SurfaceDemandResponse(Response):
    """What one part of the steel takes."""

    name = Text(1, 40, description="Its name; hull where no surfaces were sent.")
    area_m2 = Number("m2", 0.5, 20_000, description="Its area.")
    initial_a_per_m2 = Number("A/m2", 0.002, 1, description="What bare steel takes there at first.")
    mean_a_per_m2 = Number("A/m2", 0.002, 1, description="What bare steel takes there on average.")
    final_a_per_m2 = Number("A/m2", 0.002, 1, description="What bare steel takes there at the end.")
    breakdown_initial = Number("1", 0, 1, description="Part that is bare at first.")
    breakdown_mean = Number("1", 0, 1, description="Part that is bare on average.")
    breakdown_final = Number("1", 0, 1, description="Part that is bare at the end.")
    current_initial_a = Number("A", 0, 1e5, description="Current at first.")
    current_mean_a = Number("A", 0, 1e5, description="Current on average.")
    current_final_a = Number("A", 0, 1e5, description="Current at the end.")


class CountAtResponse(Response):
    """The number of anodes at some resistivity."""

    resistivity_ohm_m = Number("ohm m", 0.05, 3000, description="Resistivity.")
    count = Integer(1, _MOST, description="Anodes needed.")
    governing = Choice(Governing, description="What decides that.")


class SameAnodeResponse(Response):
    """So many of the same anode in another water."""

    water = Choice(_WATERS, description="Kind of water.")
    resistivity_ohm_m = Number("ohm m", 0.05, 3000, description="Its resistivity.")
    output_initial_a = Number("A", 0, 1e4, description="What the anode gives at first, were its face active.")
    charge_life_years = Number(
        "year",
        0,
        _MOST,
        description="How long so many last there by their charge, at what is drawn; null where passive.",
        nullable=True,
    )
    material_suited = Flag(description="Whether the metal suits that water.")


class AnodeSizingResult(Response):
    """What is needed, what decides it, and what so many anodes achieve."""

    resistivity_ohm_m = Number("ohm m", 0.05, 3000, description="Resistivity of the water.")
    wetted_area_m2 = Number("m2", 0.5, 250_000, description="Wet steel.")
    surface_demands = Rows(SurfaceDemandResponse, 1, 50, description="What each part of the steel takes.")
    current_initial_a = Number("A", 0, 1e6, description="Current that the steel takes at first.")
    current_mean_a = Number("A", 0, 1e6, description="Current that the steel takes on average.")
    current_final_a = Number("A", 0, 1e6, description="Current that the steel takes at the end.")
    net_mass_required_kg = Number("kg", 0, 1e12, description="Metal that this uses up.")
    shape = Choice(AnodeShape, description="Shape by which the anode's resistance is reckoned.")
    driving_voltage_v = Number("V", 0, 5, description="What drives the current.")
    anode_resistance_initial_ohm = Number("ohm", 0, 1e6, description="Resistance of a new anode.")
    anode_resistance_final_ohm = Number("ohm", 0, 1e6, description="Resistance of one that is used to its limit.")
    output_initial_a = Number("A", 0, 1e4, description="What a new anode gives.")
    output_final_a = Number("A", 0, 1e4, description="What one gives that is used to its limit.")
    count_by_mass = Integer(1, _MOST, description="Anodes for the metal.")
    count_by_initial_current = Integer(1, _MOST, description="Anodes for the current at first.")
    count_by_final_current = Integer(1, _MOST, description="Anodes for the current at the end.")
    count_by_spacing = Integer(2, 5000, description="Anodes that leave no gap along either side.", nullable=True)
    count_needed = Integer(1, _MOST, description="The largest of these.")
    governing = Choice(Governing, description="Which one that is; of equals the first.")
    count = Integer(1, _MOST, description="Anodes that the following is of: anode_count, else those needed.")
    densest_count = Integer(2, 60_000, description="Anodes of the densest fitting that is sensible.")
    densest_met_percent = Number("%", 0, 1e15, description="Part of the demand that so many would meet at worst.")
    current_drawn_a = Number("A", 0, 1e15, description="What so many give on average, as far as it is drawn.")
    expected_life_years = Number("year", 0, 50, description="How long they last; null where nobody can tell.", nullable=True)
    charge_life_years = Number("year", 0, _MOST, description="How long their charge alone would last.")
    demand_met_percent = Number("%", 0, 1e15, description="Part of the demand that they meet at worst, their faces active.")
    material_suited = Flag(description="Whether the metal suits this water.")
    suited_materials = List(Text(1, 20, description="A metal."), 0, 3, description="Metals that suit this water.")
    reach_m = Number("m", 0, 100, description="How far an anode reaches each way from its centre.")
    stations_m = List(
        Number("m", 0, 150, description="Distance from the stem."),
        0,
        30_000,
        description="Where anodes go along each side; empty without a hull, or where no sensible number serves.",
    )
    counts_over_range = Rows(CountAtResponse, 0, 2, description="Anodes at both ends of what fresh water may be.")
    same_anode = Rows(SameAnodeResponse, 3, 3, description="The same anode in the sea, in brackish and in fresh water.")


def _anodes(count: int) -> str:
    return "1 anode" if count == 1 else f"{count} anodes"


def _count_sentence(figures: Figures) -> str:
    needed, decides = figures["count_needed"], _DECIDES[figures["governing"]]
    if needed > figures["densest_count"]:
        return f"No sensible number of such anodes meets that: it would take {needed}, for {decides}."
    verb, mass = "is" if needed == 1 else "are", as_named("net_mass_kg", figures["anode"]["net_mass_kg"])
    told = f"{_anodes(needed)} of {text(mass)} kg {verb} needed: {decides} decides."
    return told if figures["material_suited"] else f"By arithmetic alone {told}"


def _material_sentence(figures: Figures) -> list[str]:
    if figures["material_suited"]:
        return []
    metal = str(figures["anode"]["material"])
    suited = " or ".join(figures["suited_materials"]) or "no metal"
    if metal == "magnesium":
        return [f"Magnesium is not for this water: it overprotects and is soon spent; {suited} suits it."]
    if figures["resistivity_ohm_m"] < FRESH_BEGINS_OHM_M:
        return [f"No number of these is sure to protect the hull: {metal} may turn passive in this water."]
    return [f"No number of these protects the hull: {metal} turns passive in this water; {suited} suits it."]


def _achieved_sentence(figures: Figures) -> list[str]:
    if figures.get("anode_count") is None:
        return []
    verb = "meets" if figures["count"] == 1 else "meet"
    return [f"{_anodes(figures['count'])} {verb} {text(figures['demand_met_percent'])} % of the demand when they do worst."]


def _life_sentence(figures: Figures) -> list[str]:
    """Return how long they last; nothing of a number that nobody would fit."""
    if figures.get("anode_count") is None and figures["count"] > figures["densest_count"]:
        return []
    if figures["expected_life_years"] is None:
        return ["No life of the anodes can be told; the findings say why."]
    verb = "lasts" if figures["count"] == 1 else "last"
    return [f"{_anodes(figures['count'])} {verb} {text(figures['expected_life_years'])} years at the current that is drawn."]


def _summary(figures: Figures) -> Sequence[str]:
    initial, mean, final = (text(figures[f"current_{stage}_a"]) for stage in ("initial", "mean", "final"))
    demand = (
        f"The steel takes {initial} A at first, {mean} A on average and {final} A at the end, in water of "
        f"{text(figures['resistivity_ohm_m'])} ohm m."
    )
    return [
        *_material_sentence(figures),
        demand,
        _count_sentence(figures),
        *_achieved_sentence(figures),
        *_life_sentence(figures),
    ]


calculation = Calculation(
    id="anode-sizing",
    version="1.0.0",
    title="How many anodes a hull needs",
    description="Sizes anodes by metal, by current new and used up, and by spacing; tells which decides, what so many achieve, "
    "and which metal suits the water.",
    request=AnodeSizingRequest,
    response=AnodeSizingResult,
    run=anode_sizing,
    faults=FAULTS,
    findings=FINDINGS,
    assumed=ASSUMED,
    working=WORKING,
    working_figures=working_figures,
    summary=_summary,
    references=(
        reference.DNV_RP_B401,
        reference.DNV_RP_B401_DEMAND,
        reference.DNV_RP_B401_BREAKDOWN,
        reference.DNV_RP_B401_STAND_OFF,
        reference.MCCOY,
        reference.MIL_HDBK_1004_10,
        reference.TB_43_0144,
        reference.ROBERGE,
        reference.FARADAY,
        reference.EN_12473_ELECTRODES,
        reference.EN_12473_CRITERIA,
        reference.EN_12954_SULPHATE_REDUCERS,
        reference.UFC_3_570_06,
        reference.PSS_78,
        reference.STANDARD_METHODS_2510,
        reference.ANODE_PRACTICE,
        reference.WATERS_PRACTICE,
    ),
    cautions=(
        common.ADVICE_ONLY,
        anode_members.MEASURED_DECIDES,
        anode_members.NEVER_PAINTED,
        anode_members.SHORE_POWER,
        anode_members.NEVER_ON_ALUMINIUM,
        "Magnesium is not fitted in tanks, holds or other closed spaces: it gives off hydrogen, and sparks where it is struck.",
        "Welding anodes on is hot work, with lining, fuel or gas behind the plate: cleared, gas-free, by licensed practice.",
        "Where anodes may be rubbed off, take low or recessed ones; they give less, and a canal's bed hinders the current.",
        "A boat that moves between fresh and salt water has no one metal that suits both: send moves_to.",
    ),
    example={
        "hull": {"length_m": 17.5, "beam_m": 2.1, "draught_m": 0.6},
        "electrolyte": {"conductivity_us_per_cm": 450.0, "temperature_c": 12.0},
        "coating": {"category": "II"},
        "design_life_years": 4.0,
        "anode": {
            "material": "magnesium",
            "net_mass_kg": 4.0,
            "length_m": 0.29,
            "width_m": 0.14,
            "thickness_m": 0.06,
            "mounting": "flush",
        },
    },
)
