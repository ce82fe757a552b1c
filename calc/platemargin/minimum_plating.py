"""How thick plating has to be: what is asked of inland vessels, and what a clamped panel needs under a pressure."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import IntEnum
from math import sqrt
from typing import Any, Literal, TypeAlias

from platemargin.declared import Arguments, Assumption, Fault, Finding, Place, Step, refuse
from platemargin.quantities import below, rounded

__all__ = [
    "ASSUMED",
    "FAULTS",
    "FINDINGS",
    "PLATING_ZONES",
    "WORKING",
    "MinimumPlating",
    "MinimumPlatingGoverning",
    "PlatingZone",
    "minimum_plating",
    "outside_scope",
]

PlatingZone: TypeAlias = Literal["bottom", "side", "bilge"]

#: The article's factor b. Reference: es-trin-3-02.
PLATING_ZONES: dict[PlatingZone, float] = {"bottom": 1.0, "side": 1.0, "bilge": 1.25}
#: The article's factor c of a vessel with double bottom and wing voids, the inner side in line with the coaming.
DOUBLE_HULL_FACTOR = 0.95
#: No vessel has two skins unless it is said: the single one's plate is the thicker.
DOUBLE_HULL = False
#: Up to this length [m] the first of the article's lengths' formulas holds, above it the second.
SHORT_M = 40.0
#: What the formula of the length gives at the least [mm].
LEAST_MM = 3.0
#: Locally plate may be thinner, by a tenth.
LOCAL_FRACTION = 0.9
#: The directive speaks of vessels of this length [m], or of this length x beam x draught [m3]. Reference: eu-2016-1629-scope.
SCOPE_LENGTH_M, SCOPE_VOLUME_M3 = 20.0, 100.0
#: ISO 12215-5 speaks of hulls up to this length [m]. Reference: iso-12215-5.
SMALL_CRAFT_M = 24.0
#: From this ratio of its sides on a panel bends as if it had no ends. Reference: iso-12215-5.
LONG_PANEL, LONG_PANEL_K2 = 2.0, 0.5
#: Pressure of a metre of fresh water [kPa]. Reference: static-head.
HEAD_KPA_PER_M = 9.80665


class MinimumPlatingGoverning(IntEnum):
    """Which figure is the greatest."""

    LEAST = 0
    LENGTH = 1
    DRAUGHT = 2
    BENDING = 3


@dataclass(frozen=True, kw_only=True)
class MinimumPlating:
    """What is asked, by which formula; None where no pressure was given."""

    inland_vessel_mm: float
    inland_vessel_local_mm: float
    bending_mm: float | None
    governing: MinimumPlatingGoverning
    spacing_factor: float
    zone_factor: float
    structure_factor: float
    by_length_mm: float
    by_draught_mm: float
    panel_width_mm: float | None
    panel_aspect: float | None
    k2: float | None
    design_stress_mpa: float | None
    static_head_kpa: float
    volume_m3: float | None


_BENDING = ("pressure_kpa", "yield_mpa", "ultimate_mpa")


def _incomplete(name: str) -> Callable[[Arguments], Iterable[Place]]:
    def broken(arguments: Arguments) -> Iterable[Place]:
        given = [other for other in (*_BENDING, "panel_length_mm") if arguments[other] is not None]
        return [Place(values={"given": " and ".join(given), "missing": name})] if given and name not in given else []

    return broken


def _yield_over_ultimate(arguments: Arguments) -> Iterable[Place]:
    strengths = {name: arguments[name] for name in ("yield_mpa", "ultimate_mpa")}
    if None not in strengths.values() and below(strengths["ultimate_mpa"], strengths["yield_mpa"], "MPa"):
        yield Place(values=strengths)


FAULTS = (
    *(
        Fault(
            field=name,
            code="bending_incomplete",
            message="{given} is given without {missing}: bending needs pressure_kpa, yield_mpa and ultimate_mpa; send them "
            "all, or none and no panel_length_mm",
            broken=_incomplete(name),
        )
        for name in _BENDING
    ),
    Fault(
        field="yield_mpa",
        code="yield_over_ultimate",
        message="steel does not yield at {yield_mpa} MPa where it breaks at {ultimate_mpa} MPa; yield_mpa is at most "
        "ultimate_mpa",
        broken=_yield_over_ultimate,
    ),
)


def outside_scope(length_m: float, beam_m: float | None, draught_m: float) -> str | None:
    """Return why a hull is none of those that the standard speaks of, as far as its size is told; None where it is one.

    Examples
    --------
    >>> outside_scope(21.3, None, 0.75), outside_scope(19.0, 5.2, 1.2)
    (None, None)
    >>> outside_scope(17.5, None, 0.6)
    'it is shorter than 20 m, and its beam is not told: it is one only where length x beam x draught reaches 100 m3'
    """
    if not below(length_m, SCOPE_LENGTH_M, "m"):
        return None
    if beam_m is None:
        return (
            f"it is shorter than {SCOPE_LENGTH_M:g} m, and its beam is not told: it is one only where length x beam x draught "
            f"reaches {SCOPE_VOLUME_M3:g} m3"
        )
    if not below(length_m * beam_m * draught_m, SCOPE_VOLUME_M3, "m3"):
        return None
    return f"it is shorter than {SCOPE_LENGTH_M:g} m, and its length x beam x draught is below {SCOPE_VOLUME_M3:g} m3"


def _outside_scope(arguments: Arguments, _result: Any) -> Iterable[Place]:
    why = outside_scope(arguments["length_m"], arguments["beam_m"], arguments["draught_m"])
    if why is not None:
        # Where the beam would tell, it is the member to send.
        path = ("beam_m",) if arguments["beam_m"] is None else ("length_m",)
        yield Place(path=path, values={"length_m": arguments["length_m"], "scope": why})


def _long_for_bending(arguments: Arguments, result: Any) -> Iterable[Place]:
    if result.bending_mm is not None and below(SMALL_CRAFT_M, arguments["length_m"], "m"):
        yield Place(path=("length_m",), values={"length_m": arguments["length_m"]})


def _below_head(arguments: Arguments, result: Any) -> Iterable[Place]:
    pressure = arguments["pressure_kpa"]
    if pressure is not None and arguments["zone"] != "side" and below(pressure, result.static_head_kpa, "kPa"):
        values = {"pressure_kpa": pressure, "static_head_kpa": result.static_head_kpa, "draught_m": arguments["draught_m"]}
        yield Place(path=("pressure_kpa",), values=values)


FINDINGS = (
    Finding(
        code="outside_scope",
        severity="watch",
        statement="The standard does not speak of this hull of {length_m} m: {scope}. Its figures are a benchmark here, no "
        "requirement.",
        values=("length_m", "scope"),
        applies=_outside_scope,
    ),
    Finding(
        code="pressure_below_static_head",
        severity="watch",
        statement="The pressure of {pressure_kpa} kPa is less than the {static_head_kpa} kPa that still water of {draught_m} m "
        "puts on the bottom: the thickness in bending is too small.",
        values=("pressure_kpa", "static_head_kpa", "draught_m"),
        applies=_below_head,
    ),
    Finding(
        code="bending_outside_scope",
        severity="note",
        statement="ISO 12215-5 speaks of hulls up to 24 m, not of {length_m} m: the bending of a panel is the same, the "
        "stress that it allows may not be.",
        values=("length_m",),
        applies=_long_for_bending,
    ),
)

ASSUMED = (
    Assumption(
        field="panel_length_mm",
        value="more than twice frame_spacing_mm",
        unit=None,
        basis="the standard's k2 of a long panel, 0.5, is the greatest: so is the thickness in bending",
        when=lambda a, r: a["panel_length_mm"] is None and r.bending_mm is not None,
    ),
)

WORKING = (
    Step(
        symbol="f",
        formula="1 + 0.0013 max(frame_spacing_mm - 500, 0)",
        substituted="1 + 0.0013 * max({frame_spacing_mm} - 500, 0)",
        value="spacing_factor",
        unit="1",
        reference="es-trin-3-02",
    ),
    *(
        Step(
            symbol="by_length_mm",
            formula=f"max(f b c ({constant} + {slope} length_m), 3)",
            substituted=f"max({{spacing_factor}} * {{zone_factor}} * {{structure_factor}} * ({constant} + {slope} * "
            "{length_m}), 3)",
            value="by_length_mm",
            unit="mm",
            reference="es-trin-3-02",
            when=lambda v, long=long: bool(below(SHORT_M, v["length_m"], "m")) == long,  # type: ignore[misc]
        )
        for constant, slope, long in (("1.5", "0.06", False), ("2.3", "0.04", True))
    ),
    Step(
        symbol="by_draught_mm",
        formula="0.005 frame_spacing_mm sqrt(draught_m)",
        substituted="0.005 * {frame_spacing_mm} * sqrt({draught_m})",
        value="by_draught_mm",
        unit="mm",
        reference="es-trin-3-02",
    ),
    Step(
        symbol="inland_vessel_mm",
        formula="max(by_length_mm, by_draught_mm)",
        substituted="max({by_length_mm}, {by_draught_mm})",
        value="inland_vessel_mm",
        unit="mm",
        reference="es-trin-3-02",
    ),
    Step(
        symbol="inland_vessel_local_mm",
        formula="0.9 inland_vessel_mm",
        substituted="0.9 * {inland_vessel_mm}",
        value="inland_vessel_local_mm",
        unit="mm",
        reference="es-trin-3-02",
    ),
    Step(
        symbol="panel_aspect",
        formula="longer side / shorter side",
        substituted="max({panel_length_mm}, {frame_spacing_mm}) / min({panel_length_mm}, {frame_spacing_mm})",
        value="panel_aspect",
        unit="1",
        reference="iso-12215-5",
    ),
    Step(
        symbol="k2",
        formula="(0.271 panel_aspect^2 + 0.910 panel_aspect - 0.554) / (panel_aspect^2 - 0.313 panel_aspect + 1.351)",
        substituted="(0.271 * {panel_aspect}^2 + 0.910 * {panel_aspect} - 0.554) / ({panel_aspect}^2 - 0.313 * "
        "{panel_aspect} + 1.351)",
        value="k2",
        unit="1",
        reference="iso-12215-5",
        when=lambda v: v["panel_aspect"] <= LONG_PANEL,
    ),
    Step(
        symbol="design_stress_mpa",
        formula="min(0.6 ultimate_mpa, 0.9 yield_mpa)",
        substituted="min(0.6 * {ultimate_mpa}, 0.9 * {yield_mpa})",
        value="design_stress_mpa",
        unit="MPa",
        reference="iso-12215-5",
    ),
    Step(
        symbol="bending_mm",
        formula="panel_width_mm sqrt(pressure_kpa k2 / (1000 design_stress_mpa))",
        substituted="{panel_width_mm} * sqrt({pressure_kpa} * {k2} / (1000 * {design_stress_mpa}))",
        value="bending_mm",
        unit="mm",
        reference="iso-12215-5",
    ),
)


def minimum_plating(
    *,
    length_m: float,
    draught_m: float,
    frame_spacing_mm: float,
    zone: PlatingZone,
    beam_m: float | None = None,
    double_hull: bool = DOUBLE_HULL,
    panel_length_mm: float | None = None,
    pressure_kpa: float | None = None,
    yield_mpa: float | None = None,
    ultimate_mpa: float | None = None,
) -> MinimumPlating:
    """Return the least thickness that ES-TRIN asks of an inland vessel, and what a clamped panel needs in bending.

    by length = f b c (1.5 + 0.06 L) up to 40 m, f b c (2.3 + 0.04 L) above, at least 3.0 mm; by draught = 0.005 a sqrt(T);
    inland vessel = the greater; locally 0.9 of it. f = 1 + 0.0013 (a - 500), not below 1; b = 1, of the bilge 1.25; c = 1,
    of a double hull 0.95. Bending = s sqrt(P k2 / (1000 stress)); stress = min(0.6 ultimate, 0.9 yield).

    Parameters
    ----------
    length_m, draught_m : float
        L [m], 3 to 150, and T [m], 0.1 to 10.
    frame_spacing_mm : float
        a [mm], 100 to 2000.
    zone : {"bottom", "side", "bilge"}
        Part of the shell.
    beam_m : float, optional
        [m]; tells whether a hull under 20 m is within the standard's scope.
    double_hull : bool, optional
        Whether it has a double bottom and wing voids whose inner side stands in line with the coaming.
    panel_length_mm : float, optional
        The other side of the panel between stiffeners [mm]; the lesser of it and the spacing is s.
    pressure_kpa, yield_mpa, ultimate_mpa : float, optional
        Design pressure on the panel, P [kPa], and the steel's strengths [MPa]; all or none.

    Returns
    -------
    MinimumPlating
        `governing` is the greatest of the figures told, ties to the first of least, length, draught, bending.

    Raises
    ------
    NotApplicableError
        A part of what bending needs, or steel that yields after it breaks.

    Notes
    -----
    Valid for steel. The article lets f be 1 for one kind of plate; that relief is not taken, so the bilge is never thinner
    than bottom and side. k2 is six times the greatest edge moment of a flat plate clamped all round, over pressure and
    the shorter side squared: the standard's fit is within 0.3 % of it, its 0.5 of long panels up to 0.8 % too little near a
    ratio of 2.5 (0.4 % of thickness). Curvature, which helps, is left out. Nothing here speaks of stiffness, buckling or
    grounding.

    Examples
    --------
    >>> plating = minimum_plating(length_m=21.336, draught_m=0.75, frame_spacing_mm=600.0, zone="bottom")
    >>> round(plating.inland_vessel_mm, 4), round(plating.inland_vessel_local_mm, 4), plating.governing.name
    (3.1416, 2.8274, 'LENGTH')

    References
    ----------
    es-trin-3-02, eu-2016-1629-scope, iso-12215-5, static-head
    """
    arguments = dict(locals())
    refuse(FAULTS, arguments)
    spacing_factor = 1 + 0.0013 * max(frame_spacing_mm - 500, 0.0)
    structure_factor = DOUBLE_HULL_FACTOR if double_hull else 1.0
    base = 2.3 + 0.04 * length_m if below(SHORT_M, length_m, "m") else 1.5 + 0.06 * length_m
    by_formula = spacing_factor * PLATING_ZONES[zone] * structure_factor * base
    by_length, by_draught = max(by_formula, LEAST_MM), 0.005 * frame_spacing_mm * sqrt(draught_m)
    panel = _panel(frame_spacing_mm, panel_length_mm, pressure_kpa, yield_mpa, ultimate_mpa)
    figures = {"LENGTH": by_formula, "DRAUGHT": by_draught, "BENDING": panel["bending_mm"] or 0.0}
    return MinimumPlating(
        inland_vessel_mm=max(by_length, by_draught),
        inland_vessel_local_mm=LOCAL_FRACTION * max(by_length, by_draught),
        governing=_governing({"LEAST": LEAST_MM, **figures}),
        spacing_factor=spacing_factor,
        zone_factor=PLATING_ZONES[zone],
        structure_factor=structure_factor,
        by_length_mm=by_length,
        by_draught_mm=by_draught,
        static_head_kpa=HEAD_KPA_PER_M * draught_m,
        volume_m3=None if beam_m is None else length_m * beam_m * draught_m,
        **panel,
    )


def _governing(figures: dict[str, float]) -> MinimumPlatingGoverning:
    return MinimumPlatingGoverning[max(figures, key=lambda name: float(rounded(figures[name], "mm")))]


def _panel(
    spacing_mm: float, length_mm: float | None, pressure_kpa: float | None, yield_mpa: float | None, ultimate_mpa: float | None
) -> dict[str, float | None]:
    """Return what the panel needs in bending, and by what; without a pressure nothing of it is known."""
    if pressure_kpa is None or yield_mpa is None or ultimate_mpa is None:
        return dict.fromkeys(("panel_width_mm", "panel_aspect", "k2", "design_stress_mpa", "bending_mm"))
    width = spacing_mm if length_mm is None else min(spacing_mm, length_mm)
    ratio = None if length_mm is None else float(rounded(max(spacing_mm, length_mm) / width, "1"))
    k2 = _k2(ratio)
    stress = min(0.6 * ultimate_mpa, 0.9 * yield_mpa)
    return {
        "panel_width_mm": width,
        "panel_aspect": ratio,
        "k2": k2,
        "design_stress_mpa": stress,
        "bending_mm": width * sqrt(pressure_kpa * k2 / (1000 * stress)),
    }


def _k2(ratio: float | None) -> float:
    """Return the coefficient of a panel clamped all round, by the ratio of its sides. Reference: iso-12215-5."""
    if ratio is None or ratio > LONG_PANEL:
        return LONG_PANEL_K2
    return (0.271 * ratio**2 + 0.910 * ratio - 0.554) / (ratio**2 - 0.313 * ratio + 1.351)
