"""What was observed of an attack, place by place, as facts that the table of evidence speaks of."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, TypeAlias

import numpy as np

from platemargin.attack_evidence import Facts
from platemargin.declared import Arguments, Assumption, Fault, Place
from platemargin.quantities import below, decimals_of, rounded

__all__ = ["OBSERVED_FAULTS", "PROFILE_ASSUMED", "Observed", "pit_ids", "places_observed", "shape_by_size"]

Observed: TypeAlias = Mapping[str, Any] | None

#: Depth over width from which a pit counts as narrow and deep, and to which as wide and shallow. Own rule.
DEEP_RATIO = 1.0
SHALLOW_RATIO = 0.25


def pit_ids(pits: Sequence[Mapping[str, Any]] | None) -> list[str]:
    """Return the name of each pit: its own, or its index."""
    return [pit.get("id", str(index)) for index, pit in enumerate(pits or ())]


def shape_by_size(pit: Mapping[str, Any]) -> str | None:
    """Return the profile that a pit's depth and width give; None where they are not known or say neither.

    Examples
    --------
    >>> shape_by_size({"depth_mm": 3.0, "width_mm": 2.5}), shape_by_size({"depth_mm": 2.0, "width_mm": 30.0})
    ('narrow_deep', 'wide_shallow')
    """
    if "depth_mm" not in pit or "width_mm" not in pit:
        return None
    ratio = float(rounded(pit["depth_mm"] / pit["width_mm"], "ratio"))
    return "narrow_deep" if ratio >= DEEP_RATIO else "wide_shallow" if ratio <= SHALLOW_RATIO else None


def places_observed(
    pits: Sequence[Mapping[str, Any]] | None, tubercles: Observed, setting: Observed, tests: Observed
) -> tuple[tuple[str, Facts], ...]:
    """Return the facts of each pit, with those of the whole boat; of the boat alone, under no name, where no pit was sent."""
    growths = tubercles if tubercles is None else {"seen": not _none_seen(tubercles), **tubercles}
    boat = {**_facts("tubercles", growths), **_facts("setting", setting), **_facts("tests", tests)}
    named = zip(pit_ids(pits), pits or (), strict=True)
    return tuple((name, {**boat, **_facts("pits", _shaped(pit))}) for name, pit in named) or (("", boat),)


def _none_seen(tubercles: Mapping[str, Any]) -> bool:
    """Tell whether it is said, in a word or as a density of none, that there are no tubercles."""
    density = tubercles.get("density_per_m2")
    return tubercles.get("seen") is False or (density is not None and not below(0.0, density, "1/m2"))


def _shaped(pit: Mapping[str, Any]) -> Mapping[str, Any]:
    shape = shape_by_size(pit)
    return pit if shape is None else {"profile": shape, **pit}


def _facts(of: str, observed: Observed) -> Facts:
    told = {f"{of}.{name}": _fact(name, value) for name, value in (observed or {}).items() if name != "id"}
    return {name: fact for name, fact in told.items() if fact is not None}


def _fact(name: str, value: Any) -> Any:
    if isinstance(value, bool):
        return {"yes" if value else "no"}
    if isinstance(value, str):
        return {value}
    if isinstance(value, Sequence):
        return set(value) or None
    return None if value is None else float(np.round(value, decimals_of(name)))


def _ids_twice(arguments: Arguments) -> Iterable[Place]:
    ids = pit_ids(arguments["pits"])
    first = {name: index for index, name in reversed(list(enumerate(ids)))}
    return [Place(path=(index, "id"), values={"id": name}) for index, name in enumerate(ids) if first[name] != index]


def _described_and_none(arguments: Arguments) -> Iterable[Place]:
    """Yield the member that says there are none where another one says that there are some."""
    growths = arguments["tubercles"] or {}
    says_some = set(growths) - {"seen", "density_per_m2"} or growths.get("seen") or growths.get("density_per_m2")
    if _none_seen(growths) and says_some:
        yield Place(path=("seen",) if growths.get("seen") is False else ("density_per_m2",))


def _not_described(arguments: Arguments) -> Iterable[Place]:
    if arguments["tubercles"] is not None and not arguments["tubercles"]:
        yield Place()


def _bacteria_and_none(arguments: Arguments) -> Iterable[Place]:
    found = (arguments["tests"] or {}).get("bacteria_found") or ()
    if "none" in found and set(found) != {"none"}:
        yield Place(path=("bacteria_found",))


OBSERVED_FAULTS = (
    Fault(field="pits", code="id_not_unique", message="two pits are called {id}; give each its own id", broken=_ids_twice),
    Fault(
        field="tubercles",
        code="tubercles_described_and_none",
        message="says that there are none, and the members beside it describe some; leave out one or the other",
        broken=_described_and_none,
    ),
    Fault(
        field="tubercles",
        code="tubercles_not_described",
        message="says nothing of tubercles: send seen, describe them, or leave it out",
        broken=_not_described,
    ),
    Fault(
        field="tests",
        code="bacteria_found_and_none",
        message="names bacteria and says that there are none; leave out one or the other",
        broken=_bacteria_and_none,
    ),
)

PROFILE_ASSUMED = Assumption(
    field="pits[].profile",
    value=lambda a, _: {
        name: shape_by_size(pit)
        for name, pit in zip(pit_ids(a["pits"]), a["pits"] or (), strict=True)
        if "profile" not in pit and shape_by_size(pit)
    },
    unit=None,
    basis=f"depth over width of {DEEP_RATIO:g} and more is read as narrow and deep, of {SHALLOW_RATIO:g} and less as wide and "
    "shallow, where no profile was sent; an own rule",
    when=lambda a, _: any("profile" not in pit and shape_by_size(pit) for pit in a["pits"] or ()),
)
