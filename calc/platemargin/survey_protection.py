"""What attacks a surveyed hull and what protects it: the attack's form, the anodes found, and anodes that are thought of."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any

from platemargin import anode_condition_findings, anode_sizing, attack_findings
from platemargin.anode_condition import FAULTS as CONDITION_FAULTS
from platemargin.anode_condition import AnodeCondition, anode_condition
from platemargin.anode_layout import REACH_LENGTHS
from platemargin.attack_evidence import FORM_WORDS
from platemargin.attack_form import ASSUMED as ATTACK_ASSUMED
from platemargin.attack_form import FAULTS as ATTACK_FAULTS
from platemargin.attack_form import AttackForm, attack_form
from platemargin.declared import Arguments, Assumption, Fault, Finding, Place, once
from platemargin.electrodes import CRITERION_SULPHATE_REDUCERS_V
from platemargin.electrolyte import kind_of_water
from platemargin.nested import Nested, Part

__all__ = [
    "PROTECTION_ASSUMED",
    "PROTECTION_FAULTS",
    "PROTECTION_FINDINGS",
    "SurveyAnodes",
    "anodes_of",
    "attack_forms_of",
    "protection_of",
]


@dataclass(frozen=True, kw_only=True)
class SurveyAnodes:
    """The anodes found on the hull, and those that are thought of; None where nobody asks."""

    condition: AnodeCondition | None
    sizing: anode_sizing.AnodeSizing | None


def _setting(arguments: Arguments) -> dict[str, Any]:
    return dict((arguments["observations"] or {}).get("setting") or {})


def _fitted_is_known(arguments: Arguments) -> bool:
    """Tell whether the anodes sent say whether any are fitted where the observations do not."""
    return arguments["anodes"] is not None and "anodes_fitted" not in _setting(arguments)


def _observed(arguments: Arguments) -> Arguments | None:
    if arguments["observations"] is None:
        return None
    observed = {**_defaults(attack_form), **arguments["observations"]}
    if _fitted_is_known(arguments):
        observed["setting"] = {**_setting(arguments), "anodes_fitted": bool(arguments["anodes"])}
    return observed


def _found(arguments: Arguments) -> Arguments | None:
    if arguments["anodes"] is None:
        return None
    told = {name: arguments[name] for name in ("hull", "anodes", "potentials")}
    return {**_defaults(anode_condition), **told, "reach_lengths": _reach_lengths(arguments)}


def _thought_of(arguments: Arguments) -> Arguments | None:
    if arguments["anode_sizing"] is None:
        return None
    return {
        **_defaults(anode_sizing.anode_sizing),
        "electrolyte": {"water": arguments["hull"]["water"]},
        **arguments["anode_sizing"],
        "hull": arguments["hull"],
        "coating": arguments["coating"],
        "reach_lengths": _reach_lengths(arguments),
    }


def _defaults(run: Callable[..., Any]) -> dict[str, Any]:
    """Return what a calculation takes for members that are not sent."""
    return dict(run.__kwdefaults__ or {})


def _reach_lengths(arguments: Arguments) -> float:
    told: float | None = arguments["reach_lengths"]
    return REACH_LENGTHS if told is None else told


#: What is asked of anodes that are thought of where sulphate reducers are suspected. Reference: en-12954-sulphate-reducers
_ASKED_FOR_THEM = {"protection_potential_v": CRITERION_SULPHATE_REDUCERS_V, "reference_electrode": "cse"}

ATTACK = Nested(name="attack_form", run=attack_form, asked=_observed, within=("observations",))
CONDITION = Nested(name="anode_condition", run=anode_condition, asked=_found)
SIZING = Nested(
    name="anode_sizing",
    run=anode_sizing.anode_sizing,
    asked=_thought_of,
    within=("anode_sizing",),
    elsewhere={name: (name,) for name in ("hull", "coating", "reach_lengths")},
)


def protection_of(arguments: Arguments) -> dict[str, Part]:
    """Return what was asked and found of attack, anodes and sizing, by the calculation's name; only what was asked for."""
    attack = ATTACK.part(arguments)
    suspected = True if _sulphate_reducers(attack) else None
    potential = _ASKED_FOR_THEM if suspected and _potential_is_open(arguments) else {}
    return {
        **attack,
        **CONDITION.part(arguments, sulphate_reducers_suspected=suspected),
        **SIZING.part(arguments, **potential),
    }


def _potential_is_open(arguments: Arguments) -> bool:
    """Tell whether the caller leaves it open which potential the anodes thought of have to reach."""
    wanted = arguments["anode_sizing"] or {"anode": {}}
    return "protection_potential_v" not in wanted and "driving_voltage_v" not in wanted["anode"]


def attack_forms_of(parts: dict[str, Part]) -> AttackForm | None:
    """Return the ranked forms of attack; None where nothing was observed of it."""
    return parts[ATTACK.name].found if ATTACK.name in parts else None


def anodes_of(parts: dict[str, Part]) -> SurveyAnodes | None:
    """Return what was found of anodes; None where nothing was asked of them."""
    found = {name: parts[name].found for name in (CONDITION.name, SIZING.name) if name in parts}
    return SurveyAnodes(condition=found.get(CONDITION.name), sizing=found.get(SIZING.name)) if found else None


def _sulphate_reducers(parts: dict[str, Part]) -> bool:
    """Tell whether sulphate reducers are suspected: what was observed is consistent with them, or a test found them."""
    attack = attack_forms_of(parts)
    if attack is None:
        return False
    tests = parts[ATTACK.name].asked["tests"] or {}
    consistent = {one.form for one in attack.candidates if one.standing == "consistent"}
    return "sulphate_reducing" in {*consistent, *tests.get("bacteria_found", ())}


def _fitted_contradicted(arguments: Arguments) -> Iterable[Place]:
    told = _setting(arguments).get("anodes_fitted")
    if arguments["anodes"] is not None and told not in (None, bool(arguments["anodes"])):
        yield Place(path=("setting", "anodes_fitted"))


PROTECTION_FAULTS = (
    *map(ATTACK.fault, ATTACK_FAULTS),
    *map(CONDITION.fault, CONDITION_FAULTS),
    # A survey's hull says how much steel is wet where nothing else does.
    *(SIZING.fault(told) for told in anode_sizing.FAULTS if told.code != "area_missing"),
    Fault(
        field="observations",
        code="anodes_contradicted",
        message="says of anodes the contrary of the anodes sent; leave it out, or send an empty array where there are none",
        broken=_fitted_contradicted,
    ),
    Fault(
        field="potentials",
        code="anodes_needed",
        message="potentials are told of beside the anodes: send anodes, an empty array where there are none",
        broken=lambda a: [Place()] if a["potentials"] and a["anodes"] is None else [],
    ),
)


def _no_anodes(arguments: Arguments, result: Any) -> Iterable[Place]:
    """Return one place where there are none, whichever of the anodes sent and the observations says so."""
    if arguments["anodes"] is not None:
        return [Place(path=("anodes",))] if not arguments["anodes"] else []
    fitted = _setting(arguments).get("anodes_fitted")
    return [Place(path=("observations", "setting", "anodes_fitted"))] if fitted is False and result.attack_forms else []


def _waters_contradict(arguments: Arguments, result: Any) -> Iterable[Place]:
    """Yield a place for each water told of that is another than the hull's."""
    lies_in = arguments["hull"].get("water", "fresh")
    observed = _setting(arguments).get("water")
    if result.attack_forms is not None and observed not in (None, lies_in):
        yield Place(path=("observations", "setting", "water"), values={"water": observed, "hull_water": lies_in})
    sized = (arguments["anode_sizing"] or {}).get("electrolyte")
    if sized is not None:
        kind = sized.get("water") or kind_of_water(result.anodes.sizing.resistivity_ohm_m)
        if kind != lies_in:
            yield Place(path=("anode_sizing", "electrolyte"), values={"water": kind, "hull_water": lies_in})


def _fewer_than_needed(_arguments: Arguments, result: Any) -> bool:
    """Tell of fewer anodes on the hull than a sensible number of those thought of, where no potential shows protection."""
    condition, sizing = (result.anodes and result.anodes.condition), (result.anodes and result.anodes.sizing)
    if not condition or not sizing or condition.protection == "protected":
        return False
    return bool(condition.working_count < sizing.count_needed <= sizing.densest_count and sizing.material_suited)


def _consistent(_arguments: Arguments, result: Any) -> Iterable[Place]:
    for one in result.attack_forms.candidates if result.attack_forms else ():
        if one.standing == "consistent":
            yield Place(path=("observations",), values={"form": FORM_WORDS[one.form], "treatment": one.treatment.rstrip(".")})


def _part_of(nested: Nested, findings: Iterable[Finding], left_out: tuple[str, ...] = ()) -> Iterable[Finding]:
    return [nested.finding(told) for told in findings if told.code not in left_out]


#: What both anodes and observations may say is told once, below; a survey's water is always known, if only by default.
_TOLD_ONCE = ("no_anodes", "water_not_told")

PROTECTION_FINDINGS = (
    Finding(
        code="attack_form_consistent",
        severity="watch",
        statement="What was observed is consistent with {form}, which is no diagnosis. How that is treated: {treatment}.",
        values=("form", "treatment"),
        applies=_consistent,
    ),
    *_part_of(ATTACK, attack_findings.FINDINGS, _TOLD_ONCE),
    replace(
        next(told for told in anode_condition_findings.FINDINGS if told.code == "no_anodes"),
        applies=_no_anodes,
    ),
    *_part_of(CONDITION, anode_condition_findings.FINDINGS, _TOLD_ONCE),
    *_part_of(SIZING, anode_sizing.FINDINGS),
    Finding(
        code="waters_contradict",
        severity="watch",
        statement="The hull is said to lie in {hull_water} water, and this tells of {water} water: each part was reckoned with "
        "what it was told. Settle which it is.",
        values=("hull_water", "water"),
        applies=_waters_contradict,
    ),
    Finding(
        code="fewer_anodes_than_needed",
        severity="watch",
        statement="Anodes that count: {working_count}. Of those thought of, {count_needed} are needed on this hull.",
        values=("working_count", "count_needed"),
        applies=lambda a, r: (
            [
                Place(
                    path=("anodes",),
                    values={
                        "working_count": r.anodes.condition.working_count,
                        "count_needed": r.anodes.sizing.count_needed,
                    },
                )
            ]
            if _fewer_than_needed(a, r)
            else []
        ),
    ),
    Finding(
        code="coating_not_used",
        severity="note",
        statement="The coating sent bears on nothing told here: it counts where anode_sizing is asked for.",
        applies=once(lambda a, _: a["coating"] is not None and a["anode_sizing"] is None, "coating"),
    ),
)

PROTECTION_ASSUMED = (
    *map(ATTACK.assumption, ATTACK_ASSUMED),
    *map(CONDITION.assumption, anode_condition_findings.ASSUMED),
    *map(SIZING.assumption, anode_sizing.ASSUMED),
    Assumption(
        field="observations.setting.anodes_fitted",
        value=lambda a, _: bool(a["anodes"]),
        unit=None,
        basis="as the anodes sent say",
        when=lambda a, r: r.attack_forms is not None and _fitted_is_known(a),
    ),
    Assumption(
        field="sulphate_reducers_suspected",
        value=True,
        unit=None,
        basis="what was observed points to them: potentials are held to the more negative criterion",
        when=lambda a, r: bool(a["anodes"] is not None and a["potentials"]) and _sulphate_reducers(r.parts),
    ),
    Assumption(
        field="anode_sizing.protection_potential_v",
        value=CRITERION_SULPHATE_REDUCERS_V,
        unit="V",
        basis="against copper/copper sulphate: what was observed points to sulphate reducers, which ask for more",
        when=lambda a, r: bool(a["anode_sizing"]) and _sulphate_reducers(r.parts) and _potential_is_open(a),
    ),
    Assumption(
        field="reach_lengths",
        value=REACH_LENGTHS,
        unit="1",
        basis="common practice: 0.29 m long, every 4 m",
        when=lambda a, r: a["reach_lengths"] is None and r.anodes is not None,
    ),
    Assumption(
        field="anode_sizing.electrolyte.water",
        value=lambda a, _: a["hull"]["water"],
        unit=None,
        basis="the water that the hull lies in",
        when=lambda a, _: a["anode_sizing"] is not None and a["anode_sizing"].get("electrolyte") is None,
    ),
)
