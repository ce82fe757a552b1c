"""What the reader of a treatment plan has to know."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from platemargin.declared import Arguments, Finding, Place
from platemargin.quantities import at_least, below
from platemargin.treatment_paint import COATS, DRY_FILM_UM, WET_FILM_UM
from platemargin.treatment_steps import MICROBIOLOGICAL

__all__ = ["FINDINGS"]

#: Isopropyl alcohol [%] that works, at least. Reference: mic-treatment-practice
ALCOHOL_PERCENT = 70.0


def _microbiological(arguments: Arguments) -> bool:
    return bool(set(arguments["forms"]) & set(MICROBIOLOGICAL))


def _biocide(arguments: Arguments) -> Mapping[str, Any]:
    return arguments["biocide"] or {}


def _afloat(arguments: Arguments, result: Any) -> Iterable[Place]:
    if arguments["ashore"] is False:
        wait = sum(not step.afloat_possible for step in result.steps)
        yield Place(path=("ashore",), values={"steps": wait, "of": len(result.steps)})


def _cause(arguments: Arguments, _result: Any) -> Iterable[Place]:
    if set(arguments["forms"]) & {"galvanic", "electrolytic"}:
        yield Place(path=("forms",))


def _label_decides(arguments: Arguments, _result: Any) -> Iterable[Place]:
    if _microbiological(arguments) and _biocide(arguments).get("contact_minutes") is None:
        yield Place()


def _agent_open(arguments: Arguments, _result: Any) -> Iterable[Place]:
    if _microbiological(arguments) and _biocide(arguments).get("agent") is None:
        yield Place()


def _weak(arguments: Arguments, _result: Any) -> Iterable[Place]:
    biocide = _biocide(arguments)
    percent = biocide.get("concentration_percent")
    if biocide.get("agent") == "isopropyl_alcohol" and percent is not None and below(percent, ALCOHOL_PERCENT, "%"):
        yield Place(path=("biocide", "concentration_percent"), values={"concentration_percent": percent})


def _biocide_unused(arguments: Arguments, _result: Any) -> Iterable[Place]:
    if arguments["biocide"] is not None and not _microbiological(arguments):
        yield Place(path=("biocide",))


def _thin(_arguments: Arguments, result: Any) -> Iterable[Place]:
    if below(result.dry_film_um, DRY_FILM_UM, "um") and result.coats < COATS:
        yield Place(path=("coating",), values={"dry_film_um": result.dry_film_um, "coats": result.coats})


def _thick(_arguments: Arguments, result: Any) -> Iterable[Place]:
    if not at_least(WET_FILM_UM, result.wet_film_um, "um"):
        yield Place(path=("coating",), values={"wet_film_um": result.wet_film_um})


def _data_sheet(arguments: Arguments, result: Any) -> Iterable[Place]:
    sent = arguments["coating"] or {}
    if sent.get("volume_solids_percent") is None or sent.get("loss_percent") is None:
        yield Place(values={"paint_litres": result.paint_litres})


def _ashore_unknown(arguments: Arguments, _result: Any) -> Iterable[Place]:
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
