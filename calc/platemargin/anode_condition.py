"""What the anodes found on a hull tell: what they gave, how long they last, and where nothing reaches."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import fsum
from typing import Any, Literal

from platemargin.anode_layout import REACH_LENGTHS, SPACING_M
from platemargin.anode_materials import MORE_THAN_FARADAY, more_than_faraday
from platemargin.anode_reach import Interval, Stretch, gaps_between, parts_within, united
from platemargin.declared import Arguments, Fault, Place, Step, refuse
from platemargin.fitted_anodes import AnodeResult, FittedAnode, anode_results
from platemargin.hull_potentials import PROTECTS, Criterion, PotentialResult, criterion_of, potential_results
from platemargin.quantities import at_least, below
from platemargin.readings import HULL_SIDES, HullSide

__all__ = ["FAULTS", "WORKING", "AnodeCondition", "anode_condition"]

Protection = Literal["protected", "not_protected", "not_measured"]

#: A potential that shows protection speaks for so much plate each way [m]: half the distance at which hulls are fitted (own
#: rule; no source).
SPEAKS_FOR_M = SPACING_M / 2
#: States of a potential that leave it open whether a hull is protected, whatever the others show.
_PROVES_NOTHING = {"on_shore_power", "shore_power_not_told", "implausible"}


@dataclass(frozen=True, kw_only=True)
class AnodeCondition:
    """Each anode, what they reach together, and what the potentials say, which goes before all reach."""

    protection: Protection
    anodes: tuple[AnodeResult, ...]
    fitted_count: int
    working_count: int
    mean_output_total_a: float
    governing_anode_index: int | None
    next_renewal_years: float | None
    covered_port_m: float
    covered_starboard_m: float
    covered_percent: float
    gaps: tuple[Stretch, ...]
    criterion: Criterion
    potentials: tuple[PotentialResult, ...]


def _beyond_hull(member: str) -> Any:
    def broken(arguments: Arguments) -> Iterable[Place]:
        length = arguments["hull"]["length_m"]
        for index, one in enumerate(arguments[member]):
            if below(length, one["station_m"], "m"):
                yield Place(path=(index, "station_m"), values={"station_m": one["station_m"], "length_m": length})

    return broken


def _over_faraday(arguments: Arguments) -> Iterable[Place]:
    for index, anode in enumerate(arguments["anodes"]):
        too_much = more_than_faraday(anode)
        if too_much:
            yield Place(path=(index, "capacity_ah_per_kg"), values=too_much)


FAULTS = (
    Fault(
        field="anodes",
        code="station_beyond_hull",
        message="station {station_m} m lies beyond the hull of {length_m} m",
        broken=_beyond_hull("anodes"),
    ),
    Fault(
        field="potentials",
        code="station_beyond_hull",
        message="station {station_m} m lies beyond the hull of {length_m} m",
        broken=_beyond_hull("potentials"),
    ),
    Fault(
        field="anodes",
        code="capacity_over_faraday",
        message=MORE_THAN_FARADAY,
        broken=_over_faraday,
    ),
)

WORKING = (
    Step(
        symbol="consumption_kg_per_year",
        formula="original_mass_kg x (1 - remaining_percent / 100) / years_fitted",
        substituted="{original_mass_kg} * (1 - {remaining_percent} / 100) / {years_fitted}",
        value="consumption_kg_per_year",
        unit="kg/year",
        reference="dnv-rp-b401-design",
    ),
    Step(
        symbol="mean_output_a",
        formula="capacity_ah_per_kg x original_mass_kg x (1 - remaining_percent / 100) / (8760 x years_fitted)",
        substituted="{capacity_ah_per_kg} * {original_mass_kg} * (1 - {remaining_percent} / 100) / (8760 * {years_fitted})",
        value="mean_output_a",
        unit="A",
        reference="dnv-rp-b401-design",
    ),
    Step(
        symbol="remaining_years",
        formula="years_fitted x (utilisation / (1 - remaining_percent / 100) - 1)",
        substituted="{years_fitted} * ({utilisation} / (1 - {remaining_percent} / 100) - 1)",
        value="remaining_years",
        unit="year",
        reference="dnv-rp-b401-design",
        when=lambda v: v["state"] == "working",
    ),
    Step(
        symbol="reach_m",
        formula="reach_lengths x length_m",
        substituted="{reach_lengths} * {anode_length_m}",
        value="reach_m",
        unit="m",
        reference="anode-practice",
    ),
    Step(
        symbol="covered_percent",
        formula="100 x (covered_port_m + covered_starboard_m) / (2 x length_m of the hull)",
        substituted="100 * ({covered_port_m} + {covered_starboard_m}) / (2 * {hull_length_m})",
        value="covered_percent",
        unit="%",
        reference="anode-practice",
    ),
)


def anode_condition(
    *,
    hull: Mapping[str, Any],
    anodes: Sequence[FittedAnode],
    potentials: Sequence[Mapping[str, Any]] = (),
    reach_lengths: float = REACH_LENGTHS,
    sulphate_reducers_suspected: bool | None = None,
) -> AnodeCondition:
    """Read what went of each anode, and lay what they reach along both sides.

    consumption = what went / years fitted; mean output = capacity x consumption / 8760 h; years left = utilisation x original
    mass / consumption - years fitted; covered = the union, within the hull, of station - reach to station + reach.

    Parameters
    ----------
    hull : mapping
        Its length [m]; its water and material, as far as they are known.
    anodes : sequence of mappings, 0 to 500
        Station from the stem [m], side, material, original mass [kg], what remains [%], years fitted, length [m]; whether
        painted, and capacity [Ah/kg], utilisation and continuity to the hull [ohm] where known.
    potentials : sequence of mappings, optional
        Hull potentials [V] with station [m], side, electrode, and whether shore power was connected.
    reach_lengths : float, optional
        How far an anode reaches each way from its centre, in its own lengths.
    sulphate_reducers_suspected : bool, optional
        Whether the more negative criterion holds.

    Returns
    -------
    AnodeCondition
        Covered and gaps are geometry within an assumed reach, not protection: `protection` is what the potentials say.

    Raises
    ------
    NotApplicableError
        A station beyond the hull, a capacity of more than Faraday's law allows.

    Notes
    -----
    Valid for the pace so far: a coating that wears, another mooring or shore power changes it. The output is a mean and at the
    most: what a metal loses by itself counts as output unless the capacity allows for it, as the defaults do. An anode counts
    within its reach where it is not painted, disconnected or used up, something is gone of it (or it is younger than a year),
    and its metal suits the water; one at the centreline counts for both sides.

    Examples
    --------
    >>> fitted = {"side": "port", "material": "magnesium", "original_mass_kg": 4.0, "years_fitted": 4.0, "length_m": 0.29}
    >>> told = anode_condition(hull={"length_m": 4.06}, anodes=[{**fitted, "station_m": 2.03, "remaining_percent": 60.0}])
    >>> told.anodes[0].consumption_kg_per_year, round(told.anodes[0].remaining_years, 2), round(told.covered_percent, 2)
    (0.4, 4.0, 50.0)

    References
    ----------
    dnv-rp-b401-design, roberge-2008, faraday, anode-practice, anode-continuity, hull-potential-practice,
    en-12473-electrodes, en-12473-criteria, ufc-3-570-06-criteria, en-12954-sulphate-reducers
    """
    arguments = dict(locals())
    refuse(FAULTS, arguments)
    fitted = anode_results(anodes, hull.get("water"), hull.get("material"), reach_lengths)
    criterion = criterion_of(hull.get("water"), sulphate_reducers=bool(sulphate_reducers_suspected))
    read = potential_results(potentials, criterion, hull.get("material", "steel"))
    covered = {side: _covered(fitted, side, hull["length_m"]) for side in HULL_SIDES}
    port, starboard = (fsum(high - low for low, high in covered[side]) for side in HULL_SIDES)
    left = [(one.remaining_years, index) for index, one in enumerate(fitted) if one.remaining_years is not None]
    soonest, governing = min(left, default=(None, 0 if fitted else None))
    return AnodeCondition(
        protection=_protection(read),
        anodes=fitted,
        fitted_count=len(fitted),
        working_count=sum(one.counts for one in fitted),
        mean_output_total_a=fsum(one.mean_output_a for one in fitted),
        governing_anode_index=governing,
        next_renewal_years=soonest,
        covered_port_m=port,
        covered_starboard_m=starboard,
        covered_percent=100.0 * (port + starboard) / (2.0 * hull["length_m"]),
        gaps=tuple(gap for side in HULL_SIDES for gap in _gaps(read, side, covered[side], hull["length_m"])),
        criterion=criterion,
        potentials=read,
    )


def _covered(fitted: Iterable[AnodeResult], side: HullSide, length_m: float) -> tuple[Interval, ...]:
    return united((reached for one in fitted if (reached := one.reaches(side)) is not None), length_m)


def _protection(read: Sequence[PotentialResult]) -> Protection:
    states = {one.state for one in read}
    if "not_protected" in states:
        return "not_protected"
    return "protected" if states & set(PROTECTS) and not states & _PROVES_NOTHING else "not_measured"


def _gaps(read: Sequence[PotentialResult], side: HullSide, covered: Sequence[Interval], length_m: float) -> Iterable[Stretch]:
    """Yield what is left of a side, with what the potentials in it say.

    One that is not protected speaks for the whole of a gap, one that is protected for the plate around it.
    """
    here = [one for one in read if one.side in (side, "centreline")]
    bare = [one.station_m for one in here if one.state == "not_protected"]
    around = ((one.station_m - SPEAKS_FOR_M, one.station_m + SPEAKS_FOR_M) for one in here if one.state in PROTECTS)
    shown = united(around, length_m)
    for low, high in gaps_between(covered, length_m):
        if any(at_least(station, low, "m") and at_least(high, station, "m") for station in bare):
            yield Stretch(side=side, from_m=low, to_m=high, measured="not_protected")
            continue
        for start, end, protected in parts_within((low, high), shown):
            yield Stretch(side=side, from_m=start, to_m=end, measured="protected" if protected else None)
