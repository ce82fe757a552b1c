"""A calculation and a rule set for platemargin: copy this page and its pyproject.toml, rename, put in your own formula."""

from __future__ import annotations

from dataclasses import dataclass

import numpy.typing as npt

from platemargin.declared import Fault, Finding, Step, columns, refuse
from platemargin.quantities import Floats, text
from platemargin.reference import Reference
from platemargin.rules import Rule, RuleSet
from platemargin_api.calculation import Calculation, Figures
from platemargin_api.fields import Number, Request, Response

# 1. Where every figure comes from. `basis` says how it is known: published, from_memory or common_practice.
STEEL_MASS = Reference(
    id="en-10025-1-mass",
    title="EN 10025-1, Hot rolled products of structural steels: general technical delivery conditions",
    year=2004,
    clause="mass from nominal dimensions, with 7850 kg/m3",
    basis="from_memory",
)
LIFTING = Reference(
    id="iso-11228-1-lifting",
    title="ISO 11228-1, Ergonomics: manual handling, lifting and carrying",
    year=2021,
    clause="reference mass of 25 kg for one person",
    basis="from_memory",
)
DENSITY_KG_PER_M3 = 7850.0
ONE_PERSON_KG = 25.0
CUT_OUT_M2 = 0.0


# 2. What a caller sends and what comes back: unit, minimum and maximum of every number, and what it is.
class PlateWeightRequest(Request):
    """A plate."""

    area_m2 = Number("m2", 0.001, 1000, description="Area of the plate.", required=True)
    thickness_mm = Number("mm", 0.5, 40, description="Thickness of the plate.", required=True)
    cut_out_m2 = Number("m2", 0, 1000, description="Area cut out of it.", default=CUT_OUT_M2, basis="nothing is cut out")


class PlateWeightResult(Response):
    """What it weighs."""

    mass_kg = Number("kg", 0, 320_000, decimals=2, description="Mass of the plate.")


# 3. What a reader has to be told, what is refused, and the formula filled with the answer's own figures.
FINDINGS = (
    Finding(
        code="too_heavy_for_one",
        severity="note",
        statement="{mass_kg} kg is more than one person should lift.",
        values=("mass_kg",),
        applies=lambda _, result: result.mass_kg.round(2) > ONE_PERSON_KG,
    ),
)
FAULTS = (
    Fault(
        field="cut_out_m2",
        code="nothing_left",
        message="{cut_out_m2} m2 cut out of {area_m2} m2 leave no plate; give the area before anything is cut out",
        broken=lambda a: a["cut_out_m2"].round(3) >= a["area_m2"].round(3),
    ),
)
WORKING = (
    Step(
        symbol="mass_kg",
        formula="(area_m2 - cut_out_m2) * thickness_mm / 1000 * 7850",
        substituted="({area_m2} - {cut_out_m2}) * {thickness_mm} / 1000 * 7850",
        value="mass_kg",
        unit="kg",
        reference=STEEL_MASS.id,
    ),
)


# 4. The formula: a pure function. Its keywords are the request's members (but the label), its result's attributes the
#    response's. An elementwise one takes arrays of one length and answers row by row.
@dataclass(frozen=True, kw_only=True)
class PlateWeight:
    """What a plate weighs."""

    mass_kg: Floats


def plate_weight(*, area_m2: npt.ArrayLike, thickness_mm: npt.ArrayLike, cut_out_m2: npt.ArrayLike = CUT_OUT_M2) -> PlateWeight:
    """Multiply what is left of the area by thickness and density.

    mass = (area - cut out) * thickness * density.

    Parameters
    ----------
    area_m2, cut_out_m2 : scalar or array
        Area of the plate, and what is cut out of it [m2].
    thickness_mm : scalar or array
        Thickness [mm].

    Returns
    -------
    PlateWeight
        Mass [kg].

    Raises
    ------
    NotApplicableError
        Where nothing is left of the plate.

    Notes
    -----
    Valid for rolled carbon steel of even thickness; weld metal and coating are not counted.

    Examples
    --------
    >>> round(float(plate_weight(area_m2=1.0, thickness_mm=10.0).mass_kg), 2)
    78.5

    References
    ----------
    en-10025-1-mass, iso-11228-1-lifting
    """
    given = columns(locals())
    refuse(FAULTS, given)
    left = given["area_m2"] - given["cut_out_m2"]
    return PlateWeight(mass_kg=left * given["thickness_mm"] / 1000 * DENSITY_KG_PER_M3)


# 5. What a decision letter would say, the same in another medium if there is one, and all of it together.
def _summary(figures: Figures) -> list[str]:
    return [f"The plate of {text(figures['thickness_mm'])} mm weighs {text(figures['mass_kg'])} kg."]


def label(_request: Figures, answer: Figures) -> bytes:
    """Return the answer as lines for a label printer."""
    return "\n".join(answer["summary"]).encode()


calculation = Calculation(
    id="plate-weight",
    version="1.0.0",
    title="What a steel plate weighs",
    description="Multiplies area, thickness and the density of steel.",
    request=PlateWeightRequest,
    response=PlateWeightResult,
    run=plate_weight,
    elementwise=True,
    findings=FINDINGS,
    faults=FAULTS,
    working=WORKING,
    summary=_summary,
    references=(STEEL_MASS, LIFTING),
    cautions=("Plate as rolled: a mill may deliver it thicker.",),
    example={"area_m2": 1.5, "thickness_mm": 6.0},
    renderings={"text/plain": label},
)

# 6. A rule set is a list of limits with their sources. This insurer is invented; yours has terms to cite.
TERMS = Reference(
    id="invented-club-terms",
    title="Terms of the Invented Boat Club, which insures nobody",
    year=2026,
    clause="least plate under water: 4.5 mm",
    basis="published",
)
rule_set = RuleSet(
    id="invented-club",
    version="1.0.0",
    title="Least plate that the Invented Boat Club accepts",
    rules=(
        Rule(
            id="club-least-plate",
            quantity="residual_mm",
            at_least=4.5,
            severity="act",
            statement="The club does not insure a hull with plate below this.",
            reference=TERMS.id,
        ),
    ),
    references=(TERMS,),
)
