"""POST /v1/calculations/attack-form."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from platemargin.attack_evidence import EVIDENCE, FORMS
from platemargin.attack_findings import FINDINGS, named
from platemargin.attack_form import ASSUMED, FAULTS, attack_form
from platemargin.attack_known import QUESTIONS
from platemargin.reference import ASTM_G46, ISO_13297, MIC_BOOK, REFERENCES
from platemargin_api.calculation import Calculation, Figures
from platemargin_api.calculations import common
from platemargin_api.fields import Choice, Flag, Integer, List, Member, Number, Object, Request, Response, Rows, Text

__all__ = ["AttackFormRequest", "AttackFormResult", "ObservationsRequest", "attack_forms", "calculation", "observations"]

MOST_PITS = 200
_COLOURS = ("orange", "red_brown", "yellow_brown", "brown", "black", "grey_black", "bright_silvery", "green", "other")
_LOCATIONS = (
    "near_propeller",
    "near_skin_fitting",
    "paint_break",
    "waterline",
    "under_deposit",
    "crevice_or_lap",
    "inside_bilge",
    "below_electrical_equipment",
    "rubbing_edge",
    "elsewhere",
)


class AttackPitRequest(Member):
    """A pit, or a patch of pits that look alike."""

    id = Text(1, 64, description="The pit's own name, unique; by default its index.")
    profile = Choice(("narrow_deep", "wide_shallow", "irregular"), description="Its section; by default from depth and width.")
    outline = Choice(("round", "irregular"), description="Its outline on the plate.")
    edge = Choice(("sharp", "rounded", "burred"), description="Its edge.")
    texture = Choice(("smooth", "cups_within_cups", "striations_or_tunnels", "scored"), description="Its floor.")
    distribution = Choice(("even", "band", "scattered", "clustered", "single"), description="How the attack is spread here.")
    colours = List(Choice(_COLOURS, description="A colour."), 0, 9, description="Colours of deposit and metal.")
    deposit = Choice(
        ("none", "loose_rust", "slime", "silt_or_debris", "black_sludge", "orange_over_black", "tubercle", "other"),
        description="What lies over it.",
    )
    surface_under_deposit = Choice(("bright", "black", "rusted"), description="The steel when the deposit is off.")
    smell = Choice(
        ("bad_eggs", "bad_eggs_with_acid", "none", "none_with_acid"),
        description="What fresh deposit smells of, as it is or with a drop of acid.",
    )
    deposit_ph = Number("pH", 0, 14, description="pH of the fresh deposit.")
    location = Choice(_LOCATIONS, description="Where on the hull it is.")
    face = Choice(("outside", "inside"), description="Face of the plate.")
    width_mm = Number("mm", 0.1, 2000, description="Its width.")
    depth_mm = Number("mm", 0, 200, description="Its depth.")
    rate_mm_per_year = Number("mm/year", 0, 100, description="How fast it deepens, where that is known.")


class TuberclesRequest(Member):
    """Growths on the plate; what describes them says that there are some."""

    seen = Flag(description="Whether there are any; absent = yes, unless density_per_m2 is 0.")
    density_per_m2 = Number("1/m2", 0, 10_000, description="How many there are on a square metre; 0 = none.")
    diameter_mm = Number("mm", 1, 1000, description="How wide they are.")
    core_colour = Choice(("black", "brown_with_black_veins", "brown", "orange", "other"), description="Colour inside.")
    core_magnetic = Flag(description="Whether a magnet draws what is inside.")
    pit_depth_mm = Number("mm", 0, 200, description="Deepest pit found under one.")


class SettingRequest(Member):
    """What is near, connected and fitted."""

    dissimilar_metals_near = Flag(description="Whether a nobler metal, such as bronze or stainless steel, is near the attack.")
    stray_current_source_near = Flag(description="Whether a suspect pump, lead, welder or neighbour is near.")
    shore_power = Flag(description="Whether the boat lies on shore power.")
    galvanic_isolator = Flag(description="Whether a galvanic isolator or isolating transformer is in the shore lead.")
    anodes_fitted = Flag(description="Whether anodes are fitted.")
    anode_wear = Choice(("fast", "usual", "none"), description="How they are used up.")
    paint = Choice(("none", "bitumen", "epoxy", "other"), description="What the plate is painted with.")
    paint_condition = Choice(("sound", "damaged", "worn_off"), description="How the paint is at the attack.")
    thinning = Choice(("even", "local"), description="How the plate is thinned.")
    water = Choice(("fresh", "brackish", "sea"), description="Water it lies in.")
    scraped_or_grounded = Flag(description="Whether the boat scraped or took the ground here.")


class AttackTestsRequest(Member):
    """What was tested."""

    shore_power_shifts_potential = Flag(description="Whether the hull's potential moves when shore power is connected.")
    dc_in_earth_lead = Flag(description="Whether direct current flows in the shore lead's earth.")
    dc_leakage_to_hull = Flag(description="Whether the boat's own circuits leak direct current to the hull.")
    sulphide_in_deposit = Flag(description="Whether fresh deposit holds sulphide.")
    bacteria_found = List(
        Choice(("sulphate_reducing", "iron_oxidising", "acid_producing", "none"), description="A kind of bacteria."),
        0,
        4,
        description="Bacteria found in fresh deposit.",
    )


class ObservationsRequest(Member):
    """What was observed of the attack."""

    pits = Rows(AttackPitRequest, 0, MOST_PITS, description="The pits, or patches of pits that look alike.")
    tubercles = Object(TuberclesRequest, description="Growths on the plate; absent = nobody said.")
    setting = Object(SettingRequest, description="What is near, connected and fitted.")
    tests = Object(AttackTestsRequest, description="What was tested.")


class AttackFormRequest(ObservationsRequest, Request):
    """What was observed of the attack."""


class EvidenceResponse(Response):
    """A sign that speaks for or against a form."""

    sign = Text(1, 40, description="The sign's name.")
    kind = Choice(tuple(dict.fromkeys(row.kind for row in EVIDENCE)), description="Kind of evidence.")
    effect = Choice(("for", "against"), description="Whether it speaks for or against.")
    weight = Integer(1, 3, description="How strongly: 1 a pointer, 2 a usual sign, 3 a test made for it.")
    reference = Text(1, 40, description="Id of its source.")


class AgainstElsewhereResponse(Response):
    """What speaks against a form at a pit where it does not stand best, and nowhere where it does."""

    pit = Text(1, 64, description="The pit's id.")
    reasons = List(Text(1, 300, description="A reason."), 1, 100, description="What speaks against it there, strongest first.")


class CandidateResponse(Response):
    """A form of attack, as it stands at the pit where it stands best."""

    form = Choice(FORMS, description="The form; treatment-plan takes it as it is.")
    standing = Choice(("consistent", "possible", "unlikely"), description="How it stands; never a diagnosis.")
    score = Integer(-200, 200, description="Weights for less weights against.")
    reasons_for = List(Text(1, 300, description="A reason."), 0, 100, description="What speaks for it, strongest first.")
    reasons_against = List(
        Text(1, 300, description="A reason."), 0, 100, description="What speaks against it, strongest first."
    )
    tests_to_confirm = List(Text(1, 300, description="A test."), 1, 9, description="What would confirm it.")
    treatment = Text(1, 300, description="How it is treated, in short; treatment-plan tells the steps.")
    pits = List(Text(1, 64, description="A pit's id."), 0, MOST_PITS, description="Pits where it stands so.")
    against_elsewhere = Rows(AgainstElsewhereResponse, 0, MOST_PITS, description="What speaks against it at other pits.")
    evidence = Rows(EvidenceResponse, 0, 200, description="The signs behind the reasons.")


class NextObservationResponse(Response):
    """An observation that was not sent and would tell the leading forms apart."""

    observation = Choice(tuple(QUESTIONS), description="The member to send.")
    question = Text(1, 200, description="What to look for.")
    separates = List(Choice(FORMS, description="A form."), 1, 9, description="Leading forms that it speaks of.")


class AttackFormResult(Response):
    """Every form, best first."""

    candidates = Rows(CandidateResponse, 9, 9, description="All nine forms, best first.")
    observations_count = Integer(0, 10_000, description="Observations that were sent.")
    consistent_count = Integer(0, 9, description="Forms that are consistent with them.")
    next_observations = Rows(NextObservationResponse, 0, 3, description="What would tell most next.")


def observations(**kwargs: Any) -> Object:
    """Return the observations as a member of a larger request."""
    return Object(ObservationsRequest, description="What was observed of the attack, as attack-form takes it.", **kwargs)


def attack_forms() -> Object:
    """Return the ranked forms as a member of a larger result."""
    return Object(AttackFormResult, description="Forms of attack, as attack-form tells them.", nullable=True)


def _names(figures: Figures, standing: str) -> list[str]:
    return [candidate["form"] for candidate in figures["candidates"] if candidate["standing"] == standing]


def _first_sentence(figures: Figures) -> str:
    consistent = _names(figures, "consistent")
    if consistent:
        together = "; they may be at work at once" if len(consistent) > 1 else ""
        return f"What was observed is consistent with {named(consistent)}{together}."
    if figures["observations_count"]:
        return "What was observed makes no form of attack consistent."
    return "Nothing was observed: every form of attack is possible."


def _best_sentence(figures: Figures) -> list[str]:
    best = figures["candidates"][0]
    alike = [
        one["form"] for one in figures["candidates"] if (one["standing"], one["score"]) == (best["standing"], best["score"])
    ]
    if not best["reasons_for"]:
        return []
    if len(alike) > 1:
        return [f"First stand, with nothing to set them apart, {named(alike)}."]
    reason = best["reasons_for"][0].rpartition(" (")[0]
    return [f"First stands {named(alike)}; what speaks most for it: {reason[0].lower()}{reason[1:]}."]


def _summary(figures: Figures) -> Sequence[str]:
    told = [_first_sentence(figures)]
    told += _best_sentence(figures)
    unlikely = _names(figures, "unlikely")
    if unlikely:
        told.append(f"Unlikely, as far as was observed: {named(unlikely)}.")
    if figures["next_observations"]:
        told.append(f"What would tell most next is {figures['next_observations'][0]['question']}.")
    return [*told, "These are ranked candidates, not a diagnosis."]


calculation = Calculation(
    id="attack-form",
    version="1.0.0",
    title="Which form of attack fits what was observed",
    description="Ranks nine forms of attack with sourced reasons for and against, and the tests that would settle it.",
    request=AttackFormRequest,
    response=AttackFormResult,
    run=attack_form,
    faults=FAULTS,
    findings=FINDINGS,
    assumed=ASSUMED,
    summary=_summary,
    references=tuple(
        REFERENCES[name]
        for name in dict.fromkeys([*(row.reference for row in EVIDENCE), MIC_BOOK.id, ASTM_G46.id, ISO_13297.id])
    ),
    cautions=(
        common.ADVICE_ONLY,
        "Ranked candidates, never a diagnosis: colour alone decides nothing, and washing takes much of the evidence away.",
        "Current, isolation and bonding are measured by a qualified marine electrician: shore power kills.",
        "Acid on deposit gives off hydrogen sulphide, which is poisonous and dulls the sense of smell: one drop, outdoors.",
        "Never acid in a tank or bilge, nor where hypochlorite is or was.",
        "Send a sample before anything is washed: fresh, wet, kept cold, and to a laboratory within a day.",
    ),
    example={
        "pits": [
            {
                "id": "aft-1",
                "profile": "wide_shallow",
                "outline": "irregular",
                "colours": ["orange", "black"],
                "deposit": "orange_over_black",
                "surface_under_deposit": "bright",
                "smell": "bad_eggs_with_acid",
            },
            {"id": "stern-2", "profile": "narrow_deep", "outline": "round", "location": "near_propeller"},
        ],
        "setting": {"dissimilar_metals_near": True, "shore_power": True, "galvanic_isolator": False, "anodes_fitted": True},
    },
)
