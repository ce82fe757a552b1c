"""POST /v1/calculations/treatment-plan."""

from __future__ import annotations

from collections.abc import Sequence

from platemargin.attack_evidence import FORMS
from platemargin.attack_findings import named
from platemargin.quantities import text
from platemargin.reference import (
    COATING_PRACTICE,
    CREVICE_PRACTICE,
    GALVANIC_PRACTICE,
    HYPOCHLORITE,
    IMO_PSPC,
    ISO_3233,
    ISO_8501_1,
    ISO_8502_6,
    ISO_13297,
    ISO_19840,
    MECHANICAL_PRACTICE,
    MIC_TREATMENT_PRACTICE,
    NACE_TM0212,
    STRAY_CURRENT_PRACTICE,
    TUBERCLE_PRACTICE,
)
from platemargin.treatment_plan import AGENTS, ASSUMED, FAULTS, FINDINGS, WORKING, coat_count, treatment_plan
from platemargin.treatment_steps import HAZARD_CAUTIONS, STEPS, SURFACE_GRADES
from platemargin_api.calculation import Calculation, Figures
from platemargin_api.calculations import common
from platemargin_api.fields import Choice, Flag, Integer, List, Member, Number, Object, Request, Response, Rows, Text

__all__ = ["CoatingRequest", "TreatmentPlanRequest", "TreatmentPlanResult", "calculation"]


class CoatingRequest(Member):
    """The paint, by its data sheet."""

    dry_film_um = Number("um", 20, 3000, description="Dry film of all coats together; absent = 250.")
    coats = Integer(1, 12, description="Coats; absent = 4.")
    volume_solids_percent = Number("%", 10, 100, description="Volume solids by the data sheet; absent = 60.")
    loss_percent = Number("%", 0, 90, description="Paint lost on the way; absent = 30.")


class BiocideRequest(Member):
    """The biocide, by its label."""

    agent = Choice(tuple(AGENTS), description="Which of the two; never both.")
    concentration_percent = Number("%", 0.01, 100, description="Its strength as it is used.")
    contact_minutes = Number("minute", 0.1, 10_080, description="How long it stays wet, by its label.")


class TreatmentPlanRequest(Request):
    """What attacked the plate, how much of it, and with what it is coated."""

    forms = List(Choice(FORMS, description="A form of attack."), 1, 9, description="Forms of attack.", required=True)
    area_m2 = Number("m2", 0.01, 10_000, description="Area that is treated.", required=True)
    coating = Object(CoatingRequest, description="The paint, by its data sheet.")
    biocide = Object(BiocideRequest, description="The biocide, by its label.")
    ashore = Flag(description="Whether the boat is out of the water; absent = nobody said.")


class PlanStepResponse(Response):
    """One step of the plan."""

    order = Integer(1, 30, description="Its place in the order.")
    id = Choice(tuple(step.id for step in STEPS), description="Its name.")
    action = Text(1, 500, description="What is done.")
    standard = Text(1, 100, description="By which standard.", nullable=True)
    contact_minutes = Number(
        "minute", 0, 10_080, description="How long it stays wet; null: the product's label decides.", nullable=True
    )
    afloat_possible = Flag(description="Whether it can be done afloat.")
    cautions = List(Text(1, 300, description="A caution."), 1, len(HAZARD_CAUTIONS), description="What can hurt.")


class TreatmentPlanResult(Response):
    """Steps in order, grade, film and paint."""

    steps = Rows(PlanStepResponse, 1, 30, description="The steps, in the order in which they are done.")
    surface_grade = Choice(tuple(SURFACE_GRADES), description="Grade of preparation by ISO 8501-1.")
    salt_limit_mg_per_m2 = Number("mg/m2", 0, 1000, description="Soluble salts before coating, at most, as sodium chloride.")
    dry_film_um = Number("um", 20, 3000, description="Dry film of all coats together.")
    coats = Integer(1, 12, description="Coats.")
    volume_solids_percent = Number("%", 10, 100, description="Volume solids.")
    loss_percent = Number("%", 0, 90, description="Paint lost on the way.")
    paint_litres = Number("litre", 0, 1e7, description="Paint in all, unthinned.")
    wet_film_um = Number("um", 1, 30_000, description="Wet film of one coat, unthinned.")


def _summary(figures: Figures) -> Sequence[str]:
    steps, salt = figures["steps"], text(figures["salt_limit_mg_per_m2"])
    film, wet, litres, area = (text(figures[n]) for n in ("dry_film_um", "wet_film_um", "paint_litres", "area_m2"))
    told = [
        f"The treatment of {named(figures['forms'])} takes {len(steps)} steps, from making it safe to reading the plate again.",
        f"Before it is coated the steel is prepared to {figures['surface_grade']} and holds at most {salt} mg/m2 of salts.",
        f"{film} um in {coat_count(figures['coats'])} takes {litres} litres of paint for {area} m2; each coat is {wet} um wet.",
    ]
    if figures.get("ashore") is False:
        told.append("The boat is afloat: what needs dry steel waits until it is out of the water.")
    return told


calculation = Calculation(
    id="treatment-plan",
    version="1.0.0",
    title="How attacked plate is treated, step by step",
    description="The steps for one or several forms of attack in order, with standards, cautions, and the paint that it takes.",
    request=TreatmentPlanRequest,
    response=TreatmentPlanResult,
    run=treatment_plan,
    faults=FAULTS,
    findings=FINDINGS,
    assumed=ASSUMED,
    working=WORKING,
    summary=_summary,
    references=(
        MIC_TREATMENT_PRACTICE,
        TUBERCLE_PRACTICE,
        HYPOCHLORITE,
        COATING_PRACTICE,
        GALVANIC_PRACTICE,
        STRAY_CURRENT_PRACTICE,
        CREVICE_PRACTICE,
        MECHANICAL_PRACTICE,
        IMO_PSPC,
        ISO_8501_1,
        ISO_8502_6,
        ISO_3233,
        ISO_19840,
        ISO_13297,
        NACE_TM0212,
    ),
    cautions=(
        common.ADVICE_ONLY,
        *(HAZARD_CAUTIONS[hazard] for hazard in ("supports", "isolation", "respiratory", "enclosed_space", "hot_work")),
        *(HAZARD_CAUTIONS[hazard] for hazard in ("hypochlorite", "alcohol", "one_biocide", "run_off", "yard")),
        "Labels, data sheets and local rules come before this plan.",
    ),
    example={
        "forms": ["sulphate_reducing", "galvanic"],
        "area_m2": 28.0,
        "coating": {"dry_film_um": 320.0, "coats": 4, "volume_solids_percent": 72.0, "loss_percent": 25.0},
        "biocide": {"agent": "sodium_hypochlorite"},
        "ashore": True,
    },
)
