"""POST /v1/calculations/anode-condition."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, get_args

from platemargin.anode_condition import FAULTS, WORKING, Protection, anode_condition
from platemargin.anode_condition_findings import ASSUMED, FINDINGS
from platemargin.electrodes import ReferenceElectrode
from platemargin.fitted_anodes import NO_CURRENT
from platemargin.fitted_anodes import WORKING as WORKING_STATES
from platemargin.hull_potentials import STATES
from platemargin.quantities import text
from platemargin.readings import HULL_SIDES
from platemargin.reference import (
    ANODE_CONTINUITY,
    ANODE_PRACTICE,
    DNV_RP_B401,
    EN_12473_CRITERIA,
    EN_12473_ELECTRODES,
    EN_12954_SULPHATE_REDUCERS,
    FARADAY,
    HULL_POTENTIAL_PRACTICE,
    ROBERGE,
    UFC_3_570_06,
)
from platemargin_api.calculation import Calculation, Figures
from platemargin_api.calculations import anode_members, common
from platemargin_api.fields import Choice, Flag, Integer, Member, Number, Object, Request, Response, Rows

__all__ = [
    "AnodeConditionRequest",
    "AnodeConditionResult",
    "FittedAnodeRequest",
    "HullPotentialRequest",
    "anodes",
    "calculation",
    "potentials",
    "sulphate_reducers_suspected",
    "working_figures",
]

MOST = 500


def _side(**kwargs: Any) -> Choice:
    return Choice(("port", "starboard", "centreline"), description="Side of the boat.", **kwargs)


def _station_m(description: str, **kwargs: Any) -> Number:
    return Number("m", 0, 200, description=description, **kwargs)


class FittedAnodeRequest(Member):
    """An anode as it is found on the hull."""

    station_m = _station_m("Its centre, from the stem.", required=True)
    side = _side(required=True)
    material = anode_members.material(required=True)
    original_mass_kg = Number("kg", 0.05, 500, description="Its metal when new, straps left out.", required=True)
    remaining_percent = Number("%", 0, 100, description="How much of the metal is left, by weight or by eye.", required=True)
    years_fitted = Number("year", 0.01, 100, description="How long it has been in the water.", required=True)
    length_m = anode_members.anode_length_m(required=True)
    painted = Flag(description="Whether there is paint on it.")
    capacity_ah_per_kg = anode_members.capacity_ah_per_kg()
    utilisation = anode_members.utilisation()
    continuity_ohm = Number("ohm", 0, 1e9, description="Resistance that was measured between the anode and the hull.")


class HullPotentialRequest(Member):
    """A potential that was read at the hull."""

    station_m = _station_m("Where, from the stem.", required=True)
    side = _side(required=True)
    potential_v = Number("V", -5, 5, description="The hull against the electrode; negative as a rule.", required=True)
    reference_electrode = anode_members.reference_electrode(required=True)
    shore_power = Flag(description="Whether shore power was connected while it was read.")


class AnodeHullRequest(Member):
    """The hull that carries the anodes."""

    length_m = Number("m", 3, 150, description="Length of the hull.", required=True)
    water = Choice(("fresh", "brackish", "sea"), description="Water it lies in.")
    material = common.hull_material()


def anodes(**kwargs: Any) -> Rows:
    """Return the anodes found on a hull; an empty list says that there are none."""
    return Rows(FittedAnodeRequest, 0, MOST, description="The anodes; an empty array says that there are none.", **kwargs)


def potentials() -> Rows:
    """Return the potentials read at a hull; none where they are not sent."""
    return Rows(HullPotentialRequest, 0, MOST, description="Hull potentials, where any were read.", default=[])


def sulphate_reducers_suspected() -> Flag:
    """Return whether the more negative criterion holds."""
    return Flag(description="Whether sulphate-reducing bacteria are suspected: the criterion is more negative then.")


class AnodeConditionRequest(Request):
    """The anodes found on a hull, and potentials where any were read."""

    hull = Object(AnodeHullRequest, description="The hull.", required=True)
    anodes = anodes(required=True)
    potentials = potentials()
    reach_lengths = anode_members.reach_lengths()
    sulphate_reducers_suspected = sulphate_reducers_suspected()


class AnodeResponse(Response):
    """One anode."""

    station_m = _station_m("Its centre, from the stem.")
    side = _side()
    material = anode_members.material()
    original_mass_kg = Number("kg", 0.05, 500, description="Its metal when new.")
    remaining_percent = Number("%", 0, 100, description="How much of that is left.")
    years_fitted = Number("year", 0.01, 100, description="How long it has been in the water.")
    length_m = anode_members.anode_length_m()
    state = Choice((*WORKING_STATES, *NO_CURRENT), description="What keeps it from working, or that nothing is known to.")
    counts = Flag(description="Whether it counts within its reach.")
    consumed_kg = Number("kg", 0, 500, description="What went of it.")
    consumption_kg_per_year = Number("kg/year", 0, 5e4, description="That over the years fitted.")
    capacity_ah_per_kg = Number("Ah/kg", 100, 3000, description="What a kilogram gives.")
    mean_output_a = Number("A", 0, 2e4, description="Mean current that it gave, at the most.")
    utilisation = Number("1", 0.1, 1, description="Part of the metal that is used before its shape fails.")
    life_at_this_rate_years = Number("year", 0, 1e4, description="All of its use at this pace.", nullable=True)
    remaining_years = Number(
        "year", 0, 50, description="Years left at this pace; null where it tells nothing or does not work.", nullable=True
    )
    reach_m = Number("m", 0, 100, description="How far it is assumed to reach each way.")


class GapResponse(Response):
    """A stretch of one side that nothing reaches that works."""

    side = Choice(HULL_SIDES, description="Side.")
    from_m = _station_m("Where it begins, from the stem.")
    to_m = _station_m("Where it ends, from the stem.")
    measured = Choice(("protected", "not_protected"), description="What potentials read in it say.", nullable=True)


class CriterionResponse(Response):
    """What protects steel in that water."""

    potential_v = Number("V", -5, 5, description="Protected at this or a more negative potential.")
    electrode = Choice(ReferenceElectrode, description="Electrode that it is stated against.")


class PotentialResponse(Response):
    """One potential."""

    station_m = _station_m("Where, from the stem.")
    side = _side()
    potential_v = Number("V", -5, 5, description="As it was read.")
    reference_electrode = anode_members.reference_electrode()
    judged_v = Number("V", -7, 7, description="The same against the criterion's electrode.")
    state = Choice(STATES, description="What it says.")


class AnodeConditionResult(Response):
    """Each anode, what they reach together, and what the potentials say."""

    protection = Choice(get_args(Protection), description="What the potentials say of the places where they were read.")
    anodes = Rows(AnodeResponse, 0, MOST, description="Each anode, in order.")
    fitted_count = Integer(0, MOST, description="Anodes that are fitted.")
    working_count = Integer(0, MOST, description="Anodes that count.")
    mean_output_total_a = Number("A", 0, 1e7, description="Mean current of all, at the most.")
    governing_anode_index = Integer(0, MOST, description="The anode that is used up first; null without any.", nullable=True)
    next_renewal_years = Number("year", 0, 50, description="When that one is; null where it is not told.", nullable=True)
    covered_port_m = Number("m", 0, 150, description="Length of the port side within reach.")
    covered_starboard_m = Number("m", 0, 150, description="Length of the starboard side within reach.")
    covered_percent = Number("%", 0, 100, description="Length of both sides within assumed reach: geometry, not protection.")
    gaps = Rows(GapResponse, 0, 4 * MOST + 4, description="What nothing reaches, side by side from the stem.")
    criterion = Object(CriterionResponse, description="What potentials are held to.")
    potentials = Rows(PotentialResponse, 0, MOST, description="Each potential, in order.")


def working_figures(figures: Figures, result: Any) -> Sequence[Figures]:
    """Return the figures of the anode that is used up first, and of the whole."""
    whole = {**figures, "hull_length_m": figures["hull"]["length_m"]}
    index = figures["governing_anode_index"]
    if index is None:
        return [whole]
    sent = vars(result.anodes[index])
    used = {name: sent[name] for name in ("original_mass_kg", "remaining_percent", "years_fitted", "capacity_ah_per_kg")}
    return [{**whole, **figures["anodes"][index], **used, "anode_length_m": sent["length_m"]}]


def _protection_sentence(figures: Figures) -> str:
    if figures["protection"] == "protected" and any(one["state"] == "overprotected" for one in figures["potentials"]):
        return "The potentials show the hull overprotected where they were read: paint lifts at that."
    return {
        "protected": "The potentials show the hull protected where they were read.",
        "not_protected": "The potentials show that the hull is not protected: that goes before every anode's reach.",
        "not_measured": "Whether the hull is protected was not measured, or not so that it can be told.",
    }[figures["protection"]]


def _count_sentence(figures: Figures) -> str:
    fitted = figures["fitted_count"]
    return f"Anodes that count: {figures['working_count']} of {fitted}." if fitted else "No anodes are fitted."


def _harm_sentence(figures: Figures) -> list[str]:
    """Say what is on the hull of a metal that is not for it, or not for its water."""
    unsuited = {one["material"] for one in figures["anodes"] if one["state"] == "unsuited"}
    passive = " and ".join(sorted(unsuited - {"magnesium"}))
    told = ["take the magnesium off, which is not for that hull or not for that water"] if "magnesium" in unsuited else []
    told += [f"in fresh water {passive} protects nothing"] if passive else []
    sentence = "; ".join(told)
    return [f"{sentence[0].upper()}{sentence[1:]}."] if told else []


def _renewal_sentence(figures: Figures) -> list[str]:
    years = figures["next_renewal_years"]
    if years is None:
        return []
    anode = figures["anodes"][figures["governing_anode_index"]]
    when = "it is used up" if anode["state"] == "used_up" else f"in {text(years)} years at its pace so far"
    where = f"the one at {text(anode['station_m'])} m, {anode['side']}"
    return [f"First to be renewed is {where}: {when}."]


def _reach_sentence(figures: Figures) -> list[str]:
    if not figures["working_count"]:
        return []
    told = f"{text(figures['covered_percent'])} % of the length of both sides is within the anodes' assumed reach"
    gaps = figures["gaps"]
    if not gaps:
        return [f"{told}, which is geometry and not protection."]
    longest = max(gaps, key=lambda gap: gap["to_m"] - gap["from_m"])
    where = f"{longest['side']} from {text(longest['from_m'])} m to {text(longest['to_m'])} m"
    return [f"{told}, which is geometry and not protection; the longest gap is {where}."]


def _summary(figures: Figures) -> Sequence[str]:
    return [
        _protection_sentence(figures),
        _count_sentence(figures),
        *_harm_sentence(figures),
        *_renewal_sentence(figures),
        *_reach_sentence(figures),
    ]


calculation = Calculation(
    id="anode-condition",
    version="1.0.0",
    title="What the anodes found on a hull tell",
    description="Consumption, mean output and years left of each anode, what they reach along each side, what they leave, and "
    "what hull potentials say, which goes first.",
    request=AnodeConditionRequest,
    response=AnodeConditionResult,
    run=anode_condition,
    faults=FAULTS,
    findings=FINDINGS,
    assumed=ASSUMED,
    working=WORKING,
    working_figures=working_figures,
    summary=_summary,
    references=(
        DNV_RP_B401,
        ROBERGE,
        FARADAY,
        ANODE_PRACTICE,
        ANODE_CONTINUITY,
        HULL_POTENTIAL_PRACTICE,
        EN_12473_ELECTRODES,
        EN_12473_CRITERIA,
        UFC_3_570_06,
        EN_12954_SULPHATE_REDUCERS,
    ),
    cautions=(
        common.ADVICE_ONLY,
        anode_members.MEASURED_DECIDES,
        anode_members.NEVER_PAINTED,
        anode_members.NEVER_ON_ALUMINIUM,
        anode_members.SHORE_POWER,
        "What went of an anode tells of the time since it was fitted: worn paint, another mooring or shore power changes it.",
    ),
    example={
        "hull": {"length_m": 16.8, "water": "fresh"},
        "anodes": [
            {
                "station_m": station,
                "side": side,
                "material": "magnesium",
                "original_mass_kg": 4.5,
                "remaining_percent": left,
                "years_fitted": 3.5,
                "length_m": 0.33,
                "painted": painted,
            }
            for station, side, left, painted in (
                (2.5, "port", 55.0, False),
                (2.5, "starboard", 60.0, False),
                (8.4, "port", 98.0, True),
                (14.0, "port", 30.0, False),
                (14.0, "starboard", 35.0, False),
            )
        ],
        "potentials": [
            {
                "station_m": 8.4,
                "side": "starboard",
                "potential_v": -0.79,
                "reference_electrode": "cse",
                "shore_power": False,
            }
        ],
        "reach_lengths": 7.0,
    },
)
