"""POST /v1/calculations/reading-coverage."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from platemargin.quantities import odds, text
from platemargin.reading_coverage import ASSUMED, CONFIDENCE, FAULTS, FINDINGS, WORKING, reading_coverage
from platemargin.reference import CLOPPER_PEARSON, FEW_READINGS, GILBERT, SMALL_POPULATION
from platemargin_api.calculation import Calculation, Figures
from platemargin_api.calculations import common
from platemargin_api.fields import Integer, Number, Request, Response

__all__ = ["ReadingCoverageRequest", "ReadingCoverageResult", "calculation"]

#: More readings than the smallest patch in the largest area asks for.
_MOST = 10**12


class ReadingCoverageRequest(Request):
    """The area, and what is to be found in it or was read of it."""

    area_m2 = Number("m2", 0.01, 10_000, description="Plate that the readings are to speak of.", required=True)
    patch_diameter_mm = Number("mm", 1, 5000, description="The smallest round patch of attack that is to be found.")
    grid_spacing_mm = Number("mm", 1, 20_000, description="Spacing of a square grid of readings; with patch_diameter_mm.")
    attacked_fraction = Number(
        "1", 0.00001, 0.99, description="Fraction of the area that is attacked; absent = one patch's share of the area."
    )
    confidence = Number(
        "probability",
        0.5,
        0.999,
        description="One-sided confidence.",
        default=CONFIDENCE,
        basis="nineteen in twenty, common practice",
    )
    readings_taken = Integer(1, 1_000_000, description="Places that were read.")


class ReadingCoverageResult(Response):
    """How many, how far apart, and what clean readings leave possible."""

    fraction_looked_for = Number("1", 0, 1, description="The attacked fraction that is looked for.", nullable=True)
    readings_needed = Integer(
        1, _MOST, description="Readings at random of which one at least meets the attack, at that confidence.", nullable=True
    )
    certain_hit_spacing_mm = Number(
        "mm", 0.5, 5000, description="The widest square grid that no such patch escapes, rounded down.", nullable=True
    )
    certain_hit_readings = Integer(1, _MOST, description="About how many points such a grid has in the area.", nullable=True)
    hit_probability = Number("probability", 0, 1, description="That a point of the grid lies on a patch.", nullable=True)
    miss_probability = Number("probability", 0, 1, description="That none does.", nullable=True)
    grid_readings = Integer(1, _MOST, description="About how many points the grid has in the area.", nullable=True)
    detection_probability = Number(
        "probability", 0, 1, description="That one at least of readings_taken meets the attack.", nullable=True
    )
    missed_fraction_upper = Number(
        "1", 0, 1, description="Upper limit of the attacked fraction if every reading was clean.", nullable=True
    )
    missed_area_upper_m2 = Number("m2", 0, 10_000, description="The same as an area.", nullable=True)
    few_below = Integer(1, 1000, description="Readings are few below this: attack of 10 % can be missed at 95 %.")


def _percent(figures: Figures) -> str:
    return text(round(100 * figures["confidence"], 1))


def _readings(count: int) -> str:
    return "1 reading" if count == 1 else f"{count} readings"


def _sentences(figures: Figures) -> Iterator[str]:
    if figures["readings_needed"] is not None:
        found = "a patch" if figures.get("attacked_fraction") is None else f"attack of a fraction of {_fraction(figures)}"
        yield (
            f"Finding {found} anywhere in {text(figures['area_m2'])} m2 takes {_readings(figures['readings_needed'])} placed "
            f"at random, at {_percent(figures)} % confidence."
        )
    if figures["certain_hit_spacing_mm"] is not None:
        yield (
            f"A square grid of {text(figures['certain_hit_spacing_mm'])} mm (about "
            f"{_readings(figures['certain_hit_readings'])}) misses no round patch of {text(figures['patch_diameter_mm'])} mm."
        )
    if figures["hit_probability"] is not None:
        is_certain = figures["grid_spacing_mm"] <= figures["certain_hit_spacing_mm"]
        likely = "" if is_certain else f" with a probability of {odds(figures['hit_probability'])}"
        yield f"One of {text(figures['grid_spacing_mm'])} mm (about {_readings(figures['grid_readings'])}) meets it{likely}."
    if figures["missed_fraction_upper"] is not None:
        yield (
            f"If {_readings(figures['readings_taken'])} met no attack, up to {text(figures['missed_area_upper_m2'])} "
            f"m2 (a fraction of {text(figures['missed_fraction_upper'])}) may still be attacked, at {_percent(figures)} % "
            f"confidence."
        )


def _fraction(figures: Figures) -> str:
    return text(figures["fraction_looked_for"])


def _summary(figures: Figures) -> Sequence[str]:
    return list(_sentences(figures))


calculation = Calculation(
    id="reading-coverage",
    version="1.0.1",
    title="How many readings, how far apart",
    description="How many readings find attack of an extent, how far apart a grid may be, and what clean readings leave "
    "possible.",
    request=ReadingCoverageRequest,
    response=ReadingCoverageResult,
    run=reading_coverage,
    faults=FAULTS,
    findings=FINDINGS,
    assumed=ASSUMED,
    working=WORKING,
    summary=_summary,
    references=(CLOPPER_PEARSON, GILBERT, FEW_READINGS, SMALL_POPULATION),
    cautions=(
        common.ADVICE_ONLY,
        common.PLACES_READ,
        "Statistics stand for no look: rust, blisters, weeps and places where water lies are read whatever the plan says.",
        "Readings chosen by eye are no random sample: an upper limit reckoned from them is a figure of comparison only.",
    ),
    example={
        "area_m2": 12.0,
        "patch_diameter_mm": 300.0,
        "grid_spacing_mm": 400.0,
        "attacked_fraction": 0.1,
        "readings_taken": 20,
    },
)
