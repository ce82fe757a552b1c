"""The treatment of attacked plate: steps in order, grade of preparation, and the paint that it takes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from platemargin.declared import Arguments, Fault, Place, filled, refuse
from platemargin.treatment_findings import FINDINGS
from platemargin.treatment_paint import ASSUMED, WORKING, coat_count, paint
from platemargin.treatment_steps import HAZARD_CAUTIONS, STEPS, SURFACE_GRADES, TreatmentStep

__all__ = ["AGENTS", "ASSUMED", "FAULTS", "FINDINGS", "WORKING", "PlanStep", "TreatmentPlan", "coat_count", "treatment_plan"]

#: Water-soluble salts [mg/m2, as sodium chloride] before coating, at most. Reference: imo-pspc
SALT_LIMIT_MG_PER_M2 = 50.0
AGENTS = {
    "sodium_hypochlorite": "sodium hypochlorite in water",
    "isopropyl_alcohol": "isopropyl alcohol of at least 70 %",
}
#: What is not warned of once one agent was chosen.
_OTHER_HAZARD = {"sodium_hypochlorite": "alcohol", "isopropyl_alcohol": "hypochlorite"}


@dataclass(frozen=True, kw_only=True)
class PlanStep:
    """One step of the plan."""

    order: int
    id: str
    action: str
    standard: str | None
    contact_minutes: float | None
    afloat_possible: bool
    cautions: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class TreatmentPlan:
    """Steps in order, grade, film and paint."""

    steps: tuple[PlanStep, ...]
    surface_grade: str
    salt_limit_mg_per_m2: float
    dry_film_um: float
    coats: int
    volume_solids_percent: float
    loss_percent: float
    paint_litres: float
    wet_film_um: float


def _grade(forms: Sequence[str]) -> str:
    """Return the highest grade that one of the forms asks for."""
    return [grade for grade, of in SURFACE_GRADES.items() if set(of) & set(forms)][-1]


def _cautions(step: TreatmentStep, agent: str | None) -> tuple[str, ...]:
    left_out = _OTHER_HAZARD.get(agent or "") if step.contact else None
    return tuple(HAZARD_CAUTIONS[hazard] for hazard in step.hazards if hazard != left_out)


def _steps(forms: Sequence[str], figures: Mapping[str, Any], biocide: Mapping[str, Any]) -> Iterable[PlanStep]:
    agent = biocide.get("agent")
    told = {
        **figures,
        "agent": AGENTS[agent] if agent else " or ".join(AGENTS.values()),
        "why_rinsed": "" if agent == "isopropyl_alcohol" else ": hypochlorite leaves chloride",
    }
    wanted = [step for step in STEPS if set(step.forms) & set(forms) and step.grade in (None, figures["surface_grade"])]
    for order, step in enumerate(wanted, 1):
        yield PlanStep(
            order=order,
            id=step.id,
            action=filled(step.action, told),
            standard=step.standard,
            contact_minutes=biocide.get("contact_minutes") if step.contact else None,
            afloat_possible=not step.ashore,
            cautions=_cautions(step, agent),
        )


def _forms_twice(arguments: Arguments) -> Iterable[Place]:
    forms = arguments["forms"]
    return [Place(path=(index,), values={"form": form}) for index, form in enumerate(forms) if form in forms[:index]]


FAULTS = (
    Fault(field="forms", code="form_named_twice", message="{form} is named twice; name each form once", broken=_forms_twice),
)


def treatment_plan(
    *,
    forms: Sequence[str],
    area_m2: float,
    coating: Mapping[str, Any] | None = None,
    biocide: Mapping[str, Any] | None = None,
    ashore: bool | None = None,
) -> TreatmentPlan:
    """Plan the treatment of plate that one or several forms of attack have marked.

    paint_litres = 0.001 area_m2 dry_film_um / volume solids / (1 - loss); wet_film_um = dry_film_um / coats / volume solids,
    of one coat, unthinned. The steps of all the forms are taken once each, the cause before the steel and the steel before
    the film.

    Parameters
    ----------
    forms : sequence of str
        Forms of attack, as attack-form names them.
    area_m2 : float
        Area that is treated [m2].
    coating : mapping, optional
        `dry_film_um` [um], `coats`, `volume_solids_percent` and `loss_percent` [%].
    biocide : mapping, optional
        `agent`, `concentration_percent` [%], and `contact_minutes` [minute] by its label.
    ashore : bool, optional
        Whether the boat is out of the water.

    Returns
    -------
    TreatmentPlan
        The steps with their cautions, the highest grade of preparation that a form asks for, and the paint.

    Raises
    ------
    NotApplicableError
        A form that is named twice.

    Notes
    -----
    Valid for steel. The amount of paint is as good as its volume solids and losses; blasted and pitted steel takes more.

    Examples
    --------
    >>> plan = treatment_plan(forms=["tubercles"], area_m2=30.0, coating={"volume_solids_percent": 80.0, "loss_percent": 20.0})
    >>> plan.surface_grade, round(plan.paint_litres, 2), plan.wet_film_um
    ('Sa 2 1/2', 11.72, 78.125)

    References
    ----------
    mic-treatment-practice, tubercle-practice, hypochlorite-water-only, coating-practice, galvanic-practice,
    stray-current-practice, crevice-practice, mechanical-practice, imo-pspc, iso-8501-1, iso-8502-6, iso-3233-1, iso-19840,
    iso-13297, nace-tm0212
    """
    refuse(FAULTS, dict(locals()))
    figures = {"surface_grade": _grade(forms), "salt_limit_mg_per_m2": SALT_LIMIT_MG_PER_M2, **paint(coating, area_m2)}
    return TreatmentPlan(
        steps=tuple(
            _steps(
                forms, {**figures, "paint_kind": _paint_kind(forms), "coat_count": coat_count(figures["coats"])}, biocide or {}
            )
        ),
        **figures,
    )


def _paint_kind(forms: Sequence[str]) -> str:
    return " with two-pack epoxy" if "tubercles" in forms else ""
