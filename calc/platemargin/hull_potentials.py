"""Potentials read at a hull, each against its electrode and against what protects steel in that water."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias, get_args

from platemargin.electrodes import (
    CRITERION_FRESH_V,
    CRITERION_SEA_V,
    CRITERION_SULPHATE_REDUCERS_V,
    MOST_NEGATIVE_V,
    ReferenceElectrode,
    against,
    electrode_named,
    is_of_steel,
)
from platemargin.quantities import below
from platemargin.readings import Side

__all__ = ["FERROUS", "PROTECTS", "STATES", "Criterion", "PotentialResult", "criterion_of", "potential_results"]

PotentialState: TypeAlias = Literal[
    "protected",
    "not_protected",
    "overprotected",
    "on_shore_power",
    "shore_power_not_told",
    "implausible",
    "not_judged",
]
STATES: tuple[PotentialState, ...] = get_args(PotentialState)
#: What shows the steel to be protected.
PROTECTS = ("protected", "overprotected")
#: The criteria are for steel and iron.
FERROUS = ("steel", "wrought_iron")


@dataclass(frozen=True, kw_only=True)
class Criterion:
    """Steel is protected at this potential or a more negative one [V]."""

    potential_v: float
    electrode: ReferenceElectrode


@dataclass(frozen=True, kw_only=True)
class PotentialResult:
    """One potential, as it was read and as it is against the criterion's electrode [V]."""

    station_m: float
    side: Side
    potential_v: float
    reference_electrode: str
    judged_v: float
    state: PotentialState


def criterion_of(water: str | None, *, sulphate_reducers: bool) -> Criterion:
    """Return what protects steel in that water; where the water is not known, the stricter of fresh and sea.

    Examples
    --------
    >>> criterion_of("fresh", sulphate_reducers=False).potential_v, criterion_of(None, sulphate_reducers=False).potential_v
    (-0.85, -0.8)
    """
    if sulphate_reducers:
        return Criterion(potential_v=CRITERION_SULPHATE_REDUCERS_V, electrode=ReferenceElectrode.CSE)
    if water == "fresh":
        return Criterion(potential_v=CRITERION_FRESH_V, electrode=ReferenceElectrode.CSE)
    # -0.80 V against silver/silver chloride is -0.866 V against copper/copper sulphate.
    return Criterion(potential_v=CRITERION_SEA_V, electrode=ReferenceElectrode.AG_AGCL)


def potential_results(
    potentials: Sequence[Mapping[str, Any]], criterion: Criterion, material: str
) -> tuple[PotentialResult, ...]:
    """Return each potential against the criterion; of a hull that is not of steel or iron it is not judged."""
    return tuple(
        PotentialResult(
            station_m=read["station_m"],
            side=read["side"],
            potential_v=read["potential_v"],
            reference_electrode=read["reference_electrode"],
            judged_v=_told(read, criterion.electrode),
            state=_state(read, criterion, material),
        )
        for read in potentials
    )


def _told(read: Mapping[str, Any], electrode: ReferenceElectrode) -> float:
    return against(read["potential_v"], electrode_named(read["reference_electrode"]), electrode)


def _state(read: Mapping[str, Any], criterion: Criterion, material: str) -> PotentialState:
    if not is_of_steel(read["potential_v"], electrode_named(read["reference_electrode"])):
        return "implausible"
    if material not in FERROUS:
        return "not_judged"
    if below(criterion.potential_v, _told(read, criterion.electrode), "V"):
        return "not_protected"
    if read.get("shore_power") is None:
        return "shore_power_not_told"
    if read["shore_power"]:
        return "on_shore_power"
    return "overprotected" if below(_told(read, ReferenceElectrode.AG_AGCL), MOST_NEGATIVE_V, "V") else "protected"
