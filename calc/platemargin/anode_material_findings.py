"""What has to be known of an anode's metal: whether it suits the water, and how long it lasts there."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from platemargin.anode_sizing_places import how_many, is_passive, metal, same_anode_in, when
from platemargin.declared import Arguments, Finding, Place
from platemargin.electrodes import MOST_NEGATIVE_V
from platemargin.electrolyte import BRACKISH_ENDS_OHM_M, FRESH_BEGINS_OHM_M
from platemargin.quantities import below, rounded, text

__all__ = ["LIFE_FINDINGS", "MATERIAL_FINDINGS"]


def _why_unsuited(_arguments: Arguments, result: Any) -> str:
    if is_passive(result):
        return "without enough chloride its face turns passive, and the output told is not even reached"
    return "it gives far more than steel takes, lifts coatings and is soon spent"


def _suited(_arguments: Arguments, result: Any) -> str:
    return " or ".join(result.suited_materials) or "none"


def _sensible(arguments: Arguments, result: Any) -> int:
    """Return the number that is told, or as many of those needed as anybody would fit."""
    told: int | None = arguments["anode_count"]
    return min(result.count, result.densest_count) if told is None else told


def _may_overprotect(arguments: Arguments, result: Any) -> bool:
    if result.anode.material.passivates:
        return False
    over = below(result.current_initial_a, _sensible(arguments, result) * result.output_initial_a, "A")
    return bool(below(result.resistivity_ohm_m, FRESH_BEGINS_OHM_M, "ohm m") or over)


def _moves(arguments: Arguments, result: Any) -> Iterable[Place]:
    if arguments["moves_to"] is None:
        return
    there = same_anode_in(result, arguments["moves_to"])
    yield Place(
        path=("moves_to",),
        values={
            "metal": metal(arguments, result),
            "water": there.water,
            "there_ohm_m": there.resistivity_ohm_m,
            "there_a": there.output_initial_a,
            "here_a": result.output_initial_a,
            "fit": "suits it" if there.material_suited else "does not suit it",
            "how_many": how_many(result.count),
            "then": _then(there.charge_life_years, result.anode.material.longest_years, result.count),
        },
    )


def _then(charge_life: float | None, longest: float, count: int) -> str:
    """Say what becomes of so many anodes in another water."""
    one = count == 1
    if charge_life is None:
        return "turns passive" if one else "turn passive"
    if below(longest, charge_life, "year"):
        return f"{'lasts' if one else 'last'} no more than some {text(longest)} years, whatever the charge says"
    return f"{'is' if one else 'are'} spent in {text(float(rounded(charge_life, 'year')))} years"


MATERIAL_FINDINGS = (
    Finding(
        code="material_unsuited",
        severity="act",
        statement="{metal} does not suit water of {resistivity_ohm_m} ohm m: {why}. The same anode would give {sea_a} A at "
        "{sea_ohm_m} ohm m and {fresh_a} A at {fresh_ohm_m} ohm m. Suited here: {suited}.",
        values=("metal", "resistivity_ohm_m", "why", "sea_a", "sea_ohm_m", "fresh_a", "fresh_ohm_m", "suited"),
        applies=when(
            lambda _, r: not r.material_suited,
            "anode",
            "material",
            metal=metal,
            why=_why_unsuited,
            suited=_suited,
            sea_a=lambda _, r: same_anode_in(r, "sea").output_initial_a,
            sea_ohm_m=lambda _, r: same_anode_in(r, "sea").resistivity_ohm_m,
            fresh_a=lambda _, r: same_anode_in(r, "fresh").output_initial_a,
            fresh_ohm_m=lambda _, r: same_anode_in(r, "fresh").resistivity_ohm_m,
        ),
    ),
    Finding(
        code="no_material_suits_well",
        severity="watch",
        statement="In water of {resistivity_ohm_m} ohm m, between brackish and fresh, no metal suits well: zinc and "
        "aluminium may "
        "turn passive, magnesium may overprotect. Measured potentials have to decide.",
        values=("resistivity_ohm_m",),
        applies=when(
            lambda _, r: bool(
                below(BRACKISH_ENDS_OHM_M, r.resistivity_ohm_m, "ohm m")
                and below(r.resistivity_ohm_m, FRESH_BEGINS_OHM_M, "ohm m")
            ),
            "electrolyte",
        ),
    ),
    Finding(
        code="overprotection_possible",
        severity="watch",
        statement="Magnesium does not hold back: {how_many} at {output_initial_a} A each at first, where the steel takes "
        "{current_initial_a} A in all, may pull it beyond {most_negative_v} V (silver/silver chloride), where coatings lift. "
        "Measure the potential; fewer or smaller anodes, or a resistor, hold it.",
        values=("how_many", "output_initial_a", "current_initial_a", "most_negative_v"),
        applies=when(
            _may_overprotect,
            "anode",
            "material",
            how_many=lambda a, r: how_many(_sensible(a, r)),
            most_negative_v=lambda _, _r: MOST_NEGATIVE_V,
        ),
    ),
    Finding(
        code="moves_between_waters",
        severity="watch",
        statement="In {water} water, at {there_ohm_m} ohm m, the same anode gives {there_a} A instead of {here_a} A. "
        "{metal} {fit}, and there {how_many} {then}. Fit for the water that the boat lies in; take magnesium off before salt "
        "water, and clean or renew zinc and "
        "aluminium after fresh.",
        values=("water", "there_ohm_m", "there_a", "here_a", "metal", "fit", "how_many", "then"),
        applies=_moves,
    ),
)

LIFE_FINDINGS = (
    Finding(
        code="passive_life_unknown",
        severity="watch",
        statement="No life is told: passive {material} keeps its metal while the steel corrodes. An anode that stays "
        "whole is no "
        "sign of protection.",
        values=("material",),
        applies=when(lambda _, r: is_passive(r), "anode", "material"),
    ),
    Finding(
        code="self_corrosion_bounds_life",
        severity="watch",
        statement="No life is told: by its charge the metal would last {charge_life_years} years, but at so low an output "
        "{material} corrodes away by itself long before. Count on no more than {longest_years} years.",
        values=("charge_life_years", "material", "longest_years"),
        applies=when(
            lambda _, r: r.expected_life_years is None and not is_passive(r),
            "anode",
            longest_years=lambda _, r: r.anode.material.longest_years,
        ),
    ),
    Finding(
        code="design_life_beyond_metal",
        severity="act",
        statement="{design_life_years} years are asked for, and {material} cannot be counted on for more than {longest_years}: "
        "no number of anodes makes it last. Plan to renew them.",
        values=("design_life_years", "material", "longest_years"),
        applies=when(
            lambda a, r: bool(below(r.anode.material.longest_years, a["design_life_years"], "year")),
            "design_life_years",
            longest_years=lambda _, r: r.anode.material.longest_years,
        ),
    ),
    Finding(
        code="life_short_of_design",
        severity="watch",
        statement="At the current that is drawn, {how_many} would be spent in {expected_life_years} years, and "
        "{design_life_years} years are asked for: renew sooner.",
        values=("how_many", "expected_life_years", "design_life_years"),
        applies=when(
            lambda a, r: (
                r.expected_life_years is not None and bool(below(r.expected_life_years, a["design_life_years"], "year"))
            ),
            "design_life_years",
            how_many=lambda _, r: how_many(r.count),
        ),
    ),
)
