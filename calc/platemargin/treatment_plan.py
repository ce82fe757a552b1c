"""The treatment of attacked plate: steps in order, grade of preparation, and the paint that it takes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from platemargin.declared import Arguments, Assumption, Fault, Finding, Place, Step, filled, refuse
from platemargin.quantities import at_least, below
from platemargin.treatment_steps import HAZARD_CAUTIONS, MICROBIOLOGICAL, STEPS, SURFACE_GRADES, TreatmentStep

__all__ = ["AGENTS", "ASSUMED", "FAULTS", "FINDINGS", "WORKING", "PlanStep", "TreatmentPlan", "coat_count", "treatment_plan"]

#: Water-soluble salts [mg/m2, as sodium chloride] before coating, at most. Reference: imo-pspc
SALT_LIMIT_MG_PER_M2 = 50.0
#: Dry film [um] and coats of which practice asks for one or the other at least. Reference: mic-treatment-practice
DRY_FILM_UM = 250.0
COATS = 4
#: Volume solids and losses [%] where no data sheet was sent, and the wet film [um] that few paints hold. Reference:
#: coating-practice
VOLUME_SOLIDS_PERCENT = 60.0
LOSS_PERCENT = 30.0
WET_FILM_UM = 500.0
#: Isopropyl alcohol [%] that works, at least. Reference: mic-treatment-practice
ALCOHOL_PERCENT = 70.0

_PAINT_DEFAULTS: Mapping[str, float] = {
    "dry_film_um": DRY_FILM_UM,
    "coats": COATS,
    "volume_solids_percent": VOLUME_SOLIDS_PERCENT,
    "loss_percent": LOSS_PERCENT,
}
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


def _paint(coating: Mapping[str, Any] | None, area_m2: float) -> dict[str, Any]:
    paint: dict[str, Any] = {**_PAINT_DEFAULTS, **{name: value for name, value in (coating or {}).items() if value is not None}}
    solids, kept = paint["volume_solids_percent"] / 100, 1 - paint["loss_percent"] / 100
    return {
        **paint,
        "paint_litres": 0.001 * area_m2 * paint["dry_film_um"] / solids / kept,
        "wet_film_um": paint["dry_film_um"] / paint["coats"] / solids,
    }


def coat_count(coats: int) -> str:
    """Return a number of coats in words.

    Examples
    --------
    >>> coat_count(1), coat_count(4)
    ('1 coat', '4 coats')
    """
    return "1 coat" if coats == 1 else f"{coats} coats"


def _grade(forms: Sequence[str]) -> str:
    """Return the highest grade that one of the forms asks for."""
    return [grade for grade, of in SURFACE_GRADES.items() if set(of) & set(forms)][-1]


def _cautions(step: TreatmentStep, agent: str | None) -> tuple[str, ...]:
    left_out = _OTHER_HAZARD.get(agent or "") if step.contact else None
    return tuple(HAZARD_CAUTIONS[hazard] for hazard in step.hazards if hazard != left_out)


def _steps(forms: Sequence[str], figures: Mapping[str, Any], biocide: Mapping[str, Any]) -> Iterable[PlanStep]:
    agent = biocide.get("agent")
    told = {**figures, "agent": AGENTS[agent] if agent else " or ".join(AGENTS.values())}
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


def _microbiological(arguments: Arguments) -> bool:
    return bool(set(arguments["forms"]) & set(MICROBIOLOGICAL))


def _biocide(arguments: Arguments) -> Mapping[str, Any]:
    return arguments["biocide"] or {}


def _forms_twice(arguments: Arguments) -> Iterable[Place]:
    forms = arguments["forms"]
    return [Place(path=(index,), values={"form": form}) for index, form in enumerate(forms) if form in forms[:index]]


FAULTS = (
    Fault(field="forms", code="form_named_twice", message="{form} is named twice; name each form once", broken=_forms_twice),
)


def _afloat(arguments: Arguments, result: TreatmentPlan) -> Iterable[Place]:
    if arguments["ashore"] is False:
        wait = sum(not step.afloat_possible for step in result.steps)
        yield Place(path=("ashore",), values={"steps": wait, "of": len(result.steps)})


def _cause(arguments: Arguments, _result: TreatmentPlan) -> Iterable[Place]:
    if set(arguments["forms"]) & {"galvanic", "electrolytic"}:
        yield Place(path=("forms",))


def _label_decides(arguments: Arguments, _result: TreatmentPlan) -> Iterable[Place]:
    if _microbiological(arguments) and _biocide(arguments).get("contact_minutes") is None:
        yield Place()


def _agent_open(arguments: Arguments, _result: TreatmentPlan) -> Iterable[Place]:
    if _microbiological(arguments) and _biocide(arguments).get("agent") is None:
        yield Place()


def _weak(arguments: Arguments, _result: TreatmentPlan) -> Iterable[Place]:
    biocide = _biocide(arguments)
    percent = biocide.get("concentration_percent")
    if biocide.get("agent") == "isopropyl_alcohol" and percent is not None and below(percent, ALCOHOL_PERCENT, "%"):
        yield Place(path=("biocide", "concentration_percent"), values={"concentration_percent": percent})


def _biocide_unused(arguments: Arguments, _result: TreatmentPlan) -> Iterable[Place]:
    if arguments["biocide"] is not None and not _microbiological(arguments):
        yield Place(path=("biocide",))


def _thin(_arguments: Arguments, result: TreatmentPlan) -> Iterable[Place]:
    if below(result.dry_film_um, DRY_FILM_UM, "um") and result.coats < COATS:
        yield Place(path=("coating",), values={"dry_film_um": result.dry_film_um, "coats": result.coats})


def _thick(_arguments: Arguments, result: TreatmentPlan) -> Iterable[Place]:
    if not at_least(WET_FILM_UM, result.wet_film_um, "um"):
        yield Place(path=("coating",), values={"wet_film_um": result.wet_film_um})


def _data_sheet(arguments: Arguments, result: TreatmentPlan) -> Iterable[Place]:
    sent = arguments["coating"] or {}
    if sent.get("volume_solids_percent") is None or sent.get("loss_percent") is None:
        yield Place(values={"paint_litres": result.paint_litres})


def _ashore_unknown(arguments: Arguments, _result: TreatmentPlan) -> Iterable[Place]:
    if arguments["ashore"] is None:
        yield Place()


FINDINGS = (
    Finding(
        code="afloat",
        severity="act",
        statement="The boat is afloat: {steps} of the {of} steps wait until it is out of the water; afloat, plate under water "
        "is neither blasted nor coated.",
        applies=_afloat,
        values=("steps", "of"),
    ),
    Finding(
        code="ashore_not_stated",
        severity="note",
        statement="Nobody said whether the boat is out of the water; most of these steps need it to be.",
        applies=_ashore_unknown,
    ),
    Finding(
        code="cause_first",
        severity="act",
        statement="The electrical cause is cured first: fresh paint over it drives the attack into every break in the film.",
        applies=_cause,
    ),
    Finding(
        code="contact_time_not_known",
        severity="note",
        statement="How long the biocide stays wet is not known here: the product's label decides.",
        applies=_label_decides,
    ),
    Finding(
        code="biocide_not_chosen",
        severity="watch",
        statement="No biocide was chosen: take one of the two, never both, and never hypochlorite with anything but water.",
        applies=_agent_open,
    ),
    Finding(
        code="alcohol_too_weak",
        severity="act",
        statement="Isopropyl alcohol of {concentration_percent} % is too weak: practice asks for at least 70 %.",
        applies=_weak,
        values=("concentration_percent",),
    ),
    Finding(
        code="biocide_without_bacteria",
        severity="note",
        statement="No form that bacteria cause was named: the plan has no step for the biocide.",
        applies=_biocide_unused,
    ),
    Finding(
        code="coating_below_practice",
        severity="watch",
        statement="A film of {dry_film_um} um (coats: {coats}) is less than practice asks for: at least four coats or 250 um.",
        applies=_thin,
        values=("dry_film_um", "coats"),
    ),
    Finding(
        code="wet_film_thick",
        severity="watch",
        statement="A wet film of {wet_film_um} um a coat is more than most paints hold without running or trapping solvent: "
        "ask the data sheet, and take more coats.",
        applies=_thick,
        values=("wet_film_um",),
    ),
    Finding(
        code="paint_is_an_estimate",
        severity="watch",
        statement="{paint_litres} litres rest on assumed volume solids or losses: the paint's data sheet and the yard decide.",
        applies=_data_sheet,
        values=("paint_litres",),
    ),
)


def _assumed(name: str, unit: str, basis: str) -> Assumption:
    return Assumption(
        field=f"coating.{name}",
        value=_PAINT_DEFAULTS[name],
        unit=unit,
        basis=basis,
        when=lambda a, _: (a["coating"] or {}).get(name) is None,
    )


ASSUMED = (
    _assumed("dry_film_um", "um", "common practice: at least four coats or 250 um"),
    _assumed("coats", "1", "common practice: at least four coats or 250 um"),
    _assumed("volume_solids_percent", "%", "common practice for a two-pack epoxy; the data sheet decides"),
    _assumed("loss_percent", "%", "common practice for a blasted hull; method, wind and roughness decide"),
)
WORKING = (
    Step(
        symbol="V",
        formula="0.001 litre per um and m2 * area_m2 * dry_film_um / (volume_solids_percent / 100) / (1 - loss_percent / 100)",
        substituted="0.001 * {area_m2} * {dry_film_um} / ({volume_solids_percent} / 100) / (1 - {loss_percent} / 100)",
        value="paint_litres",
        unit="litre",
        reference="iso-3233-1",
    ),
    Step(
        symbol="w",
        formula="dry_film_um / coats / (volume_solids_percent / 100)",
        substituted="{dry_film_um} / {coats} / ({volume_solids_percent} / 100)",
        value="wet_film_um",
        unit="um",
        reference="iso-3233-1",
    ),
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
    figures = {"surface_grade": _grade(forms), "salt_limit_mg_per_m2": SALT_LIMIT_MG_PER_M2, **_paint(coating, area_m2)}
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
