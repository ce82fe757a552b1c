"""How many readings, how far apart, and what clean ones leave possible."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from platemargin.declared import Arguments, Assumption, Fault, Finding, Place, Step, once, refuse
from platemargin.quantities import below
from platemargin.sampling import (
    FEW_CONFIDENCE,
    FEW_FRACTION,
    certain_hit_spacing_mm,
    detection_probability,
    hit_probability,
    missed_fraction_upper,
    readings_needed,
)

__all__ = ["ASSUMED", "FAULTS", "FINDINGS", "WORKING", "ReadingCoverage", "reading_coverage"]

#: One-sided confidence of what is told. Reference: few-readings.
CONFIDENCE = FEW_CONFIDENCE
#: The place that one reading covers [mm], and the share of the area from which readings are no small sample of it.
#: Reference: small-population.
PROBE_DIAMETER_MM = 10.0
SMALL_SHARE = 0.05
#: The arguments of which one at least says what is asked.
_ASKED = ("patch_diameter_mm", "grid_spacing_mm", "attacked_fraction", "readings_taken")


@dataclass(frozen=True, kw_only=True)
class ReadingCoverage:
    """What the readings can tell; None where what it needs was not sent."""

    fraction_looked_for: float | None
    readings_needed: int | None
    certain_hit_spacing_mm: float | None
    certain_hit_readings: int | None
    hit_probability: float | None
    miss_probability: float | None
    grid_readings: int | None
    detection_probability: float | None
    missed_fraction_upper: float | None
    missed_area_upper_m2: float | None
    few_below: int


def _disc_m2(diameter_mm: float) -> float:
    return math.pi * diameter_mm**2 / 4e6


def _broken(condition: Callable[[Arguments], object]) -> Callable[[Arguments], Iterable[Place]]:
    return lambda a: [Place(values={name: a[name] for name in ("area_m2", "patch_diameter_mm")})] if condition(a) else []


FAULTS = (
    Fault(
        field="attacked_fraction",
        code="nothing_asked",
        message="nothing can be told of an area alone: send attacked_fraction or patch_diameter_mm for the number of readings, "
        "patch_diameter_mm with grid_spacing_mm for a grid, or readings_taken for what clean readings leave possible",
        broken=_broken(
            lambda a: all(
                a[name] is None for name in ("patch_diameter_mm", "grid_spacing_mm", "attacked_fraction", "readings_taken")
            )
        ),
    ),
    Fault(
        field="patch_diameter_mm",
        code="grid_without_patch",
        message="grid_spacing_mm is given without patch_diameter_mm: send the smallest patch that the grid has to find",
        broken=_broken(lambda a: a["grid_spacing_mm"] is not None and a["patch_diameter_mm"] is None),
    ),
    Fault(
        field="patch_diameter_mm",
        code="patch_larger_than_area",
        message="a round patch of {patch_diameter_mm} mm is no smaller than the area of {area_m2} m2: send a smaller patch, "
        "in mm, or the whole area, in m2",
        broken=_broken(lambda a: a["patch_diameter_mm"] is not None and _disc_m2(a["patch_diameter_mm"]) > 0.99 * a["area_m2"]),
    ),
)

FINDINGS = (
    Finding(
        code="fewer_readings_than_needed",
        severity="watch",
        statement="{readings_taken} readings are fewer than the {readings_needed} that finding this attack asks for: placed at "
        "random, they meet it with a probability of {detection_probability}.",
        values=("readings_taken", "readings_needed", "detection_probability"),
        applies=once(
            lambda a, r: None not in (a["readings_taken"], r.readings_needed) and a["readings_taken"] < r.readings_needed,
            "readings_taken",
            names=("readings_taken", "readings_needed", "detection_probability"),
        ),
    ),
    Finding(
        code="few_readings",
        severity="watch",
        statement="{readings_taken} readings are few (under {few_below}): even if every one is clean, a fraction of up to "
        "{missed_fraction_upper} of the area may be attacked.",
        values=("readings_taken", "few_below", "missed_fraction_upper"),
        applies=once(
            lambda a, r: a["readings_taken"] is not None and a["readings_taken"] < r.few_below,
            "readings_taken",
            names=("readings_taken", "few_below", "missed_fraction_upper"),
        ),
    ),
    Finding(
        code="grid_can_miss",
        severity="watch",
        statement="A grid of {grid_spacing_mm} mm misses a round patch of {patch_diameter_mm} mm with a probability of "
        "{miss_probability}; one of {certain_hit_spacing_mm} mm misses none.",
        values=("grid_spacing_mm", "patch_diameter_mm", "miss_probability", "certain_hit_spacing_mm"),
        applies=once(
            lambda _, r: r.hit_probability is not None and below(r.hit_probability, 1, "probability"),
            "grid_spacing_mm",
            names=("grid_spacing_mm", "patch_diameter_mm", "miss_probability", "certain_hit_spacing_mm"),
        ),
    ),
    Finding(
        code="grid_wider_than_area",
        severity="watch",
        statement="A cell of a grid of {grid_spacing_mm} mm is larger than the area of {area_m2} m2: perhaps no point of the "
        "grid lies in it, and what is told of the grid does not hold.",
        values=("grid_spacing_mm", "area_m2"),
        applies=once(
            lambda a, _: a["grid_spacing_mm"] is not None and a["grid_spacing_mm"] ** 2 > a["area_m2"] * 1e6,
            "grid_spacing_mm",
            names=("grid_spacing_mm", "area_m2"),
        ),
    ),
    Finding(
        code="readings_placed_at_random",
        severity="note",
        statement="A number of readings holds for places drawn at random over the area, whatever they look like. Places "
        "picked by eye as the worst make clean readings tell more and attacked ones stand for less; places picked for easy "
        "reach tell nothing of the others.",
        applies=once(lambda _, r: r.readings_needed is not None or r.missed_fraction_upper is not None),
    ),
    Finding(
        code="only_if_all_clean",
        severity="note",
        statement="At most a fraction of {missed_fraction_upper} is attacked only if every one of the {readings_taken} "
        "readings was clean; one that was not makes the limit higher.",
        values=("missed_fraction_upper", "readings_taken"),
        applies=once(
            lambda _, r: r.missed_fraction_upper is not None,
            "readings_taken",
            names=("missed_fraction_upper", "readings_taken"),
        ),
    ),
    Finding(
        code="grid_origin_random",
        severity="note",
        statement="The probability of a hit holds for a square grid laid without regard to the attack and reaching past the "
        "edges, and for a round patch: a long narrow one, as along a weld or a water line, slips through more easily.",
        applies=once(lambda _, r: r.hit_probability is not None),
    ),
    Finding(
        code="readings_fill_the_area",
        severity="note",
        statement="So many readings would take up more than a twentieth of the area ({area_m2} m2): fewer do, and reading it "
        "all may be less work.",
        values=("area_m2",),
        applies=once(
            lambda a, r: (
                r.readings_needed is not None and r.readings_needed * _disc_m2(PROBE_DIAMETER_MM) > SMALL_SHARE * a["area_m2"]
            ),
            "area_m2",
            names=("area_m2",),
        ),
    ),
)

ASSUMED = (
    Assumption(
        field="attacked_fraction",
        value=lambda _, r: r.fraction_looked_for,
        unit="1",
        basis="one round patch of the diameter sent is all that is attacked",
        when=lambda a, _: a["attacked_fraction"] is None and a["patch_diameter_mm"] is not None,
    ),
)

_PI = f"{math.pi:.12f}"
WORKING = (
    Step(
        symbol="readings_needed",
        formula="ceil(ln(1 - confidence) / ln(1 - attacked_fraction))",
        substituted="ceil(ln(1 - {confidence}) / ln(1 - {attacked_fraction}))",
        value="readings_needed",
        unit="1",
        reference="clopper-pearson-1934",
    ),
    Step(
        symbol="readings_needed",
        formula="ceil(ln(1 - confidence) / ln(1 - pi patch_diameter_mm^2 / (4e6 area_m2)))",
        substituted=f"ceil(ln(1 - {{confidence}}) / ln(1 - {_PI} * {{patch_diameter_mm}}^2 / (4e6 * {{area_m2}})))",
        value="readings_needed",
        unit="1",
        reference="clopper-pearson-1934",
        when=lambda v: v.get("attacked_fraction") is None,
    ),
    Step(
        symbol="detection_probability",
        formula="1 - (1 - fraction_looked_for)^readings_taken",
        substituted="1 - (1 - {fraction_looked_for})^{readings_taken}",
        value="detection_probability",
        unit="probability",
        reference="clopper-pearson-1934",
    ),
    Step(
        symbol="missed_fraction_upper",
        formula="1 - (1 - confidence)^(1 / readings_taken)",
        substituted="1 - (1 - {confidence})^(1 / {readings_taken})",
        value="missed_fraction_upper",
        unit="1",
        reference="clopper-pearson-1934",
    ),
    Step(
        symbol="certain_hit_spacing_mm",
        formula="patch_diameter_mm / sqrt(2), rounded down",
        substituted="floor(1000 * {patch_diameter_mm} / sqrt(2)) / 1000",
        value="certain_hit_spacing_mm",
        unit="mm",
        reference="gilbert-1987",
    ),
    Step(
        symbol="hit_probability",
        formula="pi patch_diameter_mm^2 / (4 grid_spacing_mm^2)",
        substituted=f"{_PI} * {{patch_diameter_mm}}^2 / (4 * {{grid_spacing_mm}}^2)",
        value="hit_probability",
        unit="probability",
        reference="gilbert-1987",
        when=lambda v: v["patch_diameter_mm"] <= v["grid_spacing_mm"],
    ),
    Step(
        symbol="hit_probability",
        formula="(pi d^2 / 4 - d^2 acos(s / d) + s sqrt(d^2 - s^2)) / s^2; d = patch_diameter_mm, s = grid_spacing_mm",
        substituted=f"({_PI} * {{patch_diameter_mm}}^2 / 4 - {{patch_diameter_mm}}^2 * acos({{grid_spacing_mm}} / "
        "{patch_diameter_mm}) + {grid_spacing_mm} * sqrt({patch_diameter_mm}^2 - {grid_spacing_mm}^2)) / {grid_spacing_mm}^2",
        value="hit_probability",
        unit="probability",
        reference="gilbert-1987",
        when=lambda v: v["grid_spacing_mm"] < v["patch_diameter_mm"] < v["grid_spacing_mm"] * math.sqrt(2),
    ),
)


def reading_coverage(
    *,
    area_m2: float,
    patch_diameter_mm: float | None = None,
    grid_spacing_mm: float | None = None,
    attacked_fraction: float | None = None,
    confidence: float = CONFIDENCE,
    readings_taken: int | None = None,
) -> ReadingCoverage:
    """Tell how many readings find attack, how far apart they may lie, and what clean ones leave possible.

    readings needed = the least n with (1 - p)^n <= 1 - c; upper limit after n clean readings = 1 - (1 - c)^(1/n);
    a grid of spacing s meets a round patch of diameter d with probability pi d^2 / (4 s^2) while d <= s, and surely from
    d = s sqrt(2).

    Parameters
    ----------
    area_m2 : float
        The plate that the readings are to speak of [m2].
    patch_diameter_mm : float, optional
        The smallest round patch that is to be found [mm]; where no `attacked_fraction` is sent, p is its share of the area.
    grid_spacing_mm : float, optional
        Between the points of a square grid [mm].
    attacked_fraction : float, optional
        The fraction p of the area that is attacked, 0.00001 to 0.99 [1].
    confidence : float, optional
        One-sided confidence c.
    readings_taken : int, optional
        How many places were read.

    Returns
    -------
    ReadingCoverage
        None where what a figure needs was not sent.

    Raises
    ------
    NotApplicableError
        Nothing that can be told of, a grid without a patch, a patch as large as the area.

    Notes
    -----
    Valid for places drawn at random and for a grid laid without regard to the attack, edges left out of account. The limit
    after clean readings is exact: at a fraction as large as the limit, n clean readings have a probability of just 1 - c.

    Examples
    --------
    >>> coverage = reading_coverage(area_m2=12.0, attacked_fraction=0.1)
    >>> coverage.readings_needed
    29

    References
    ----------
    clopper-pearson-1934, gilbert-1987, few-readings, small-population
    """
    refuse(FAULTS, locals())
    fraction, taken, patch = attacked_fraction, readings_taken, patch_diameter_mm
    if fraction is None and patch is not None:
        fraction = _disc_m2(patch) / area_m2
    upper = None if taken is None else missed_fraction_upper(taken, confidence)
    certain = None if patch is None else certain_hit_spacing_mm(patch)
    hit = None if patch is None or grid_spacing_mm is None else hit_probability(patch, grid_spacing_mm)
    return ReadingCoverage(
        fraction_looked_for=fraction,
        readings_needed=None if fraction is None else readings_needed(fraction, confidence),
        certain_hit_spacing_mm=certain,
        certain_hit_readings=_points(area_m2, certain),
        hit_probability=hit,
        miss_probability=None if hit is None else 1 - hit,
        grid_readings=_points(area_m2, grid_spacing_mm),
        detection_probability=None if taken is None or fraction is None else detection_probability(taken, fraction),
        missed_fraction_upper=upper,
        missed_area_upper_m2=None if upper is None else upper * area_m2,
        few_below=readings_needed(FEW_FRACTION, FEW_CONFIDENCE),
    )


def _points(area_m2: float, spacing_mm: float | None) -> int | None:
    """Return how many cells of a grid the area holds, rounded up: about as many points, edges left out of account."""
    return None if spacing_mm is None else math.ceil(area_m2 * 1e6 / spacing_mm**2)
