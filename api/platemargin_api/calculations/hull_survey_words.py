"""What fills the working of hull-survey, and its answer in a few sentences."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from platemargin.attack_findings import named
from platemargin.quantities import text
from platemargin.rules import RULE_EXPOSURES
from platemargin_api.calculation import Figures
from platemargin_api.calculations import anode_condition, anode_sizing
from platemargin_api.calculations.corrosion_rate import rate_members
from platemargin_api.calculations.plate_margin import PlateMarginResult
from platemargin_api.calculations.remaining_life import band_words
from platemargin_api.calculations.residual_thickness import thickness_members
from platemargin_api.calculations.threshold_check import rule_sentence, verdict_sentence
from platemargin_api.writer import compiled

__all__ = ["summary", "working_figures"]

_write_margin = compiled(PlateMarginResult())
#: What the life's steps of working are filled with.
_OF_A_LIFE = (
    "residual_mm",
    "residual_standard_uncertainty_mm",
    "base_mm",
    "base_years",
    "base_standard_uncertainty_mm",
    "coverage_factor",
    "growth_low",
    "growth_high",
    "years",
    "years_low",
    "years_high",
    "status",
    "next_survey_within_years",
    "long_term_mm_per_year",
    "short_term_mm_per_year",
    "short_term_standard_uncertainty_mm_per_year",
    "governing_mm_per_year",
)
#: What of plate-margin's answer stands without a limit.
_WITHOUT_LIMIT = {*thickness_members(), *rate_members(), "residual_standard_uncertainty_mm"}


def working_figures(figures: Figures, result: Any) -> Sequence[Figures]:
    """Return the figures of the reading that decides, of the life that the summary tells, and of the anodes."""
    return [*_reading_figures(result), *_anode_figures(figures, result)]


def _reading_figures(result: Any) -> Sequence[Figures]:
    governing, first = result.governing, result.first_to_limit
    figures: dict[str, Any] = {"of": result.governing_reading, **governing.arguments, **governing.figures}
    if governing.margin is not None:
        written = _write_margin(governing.margin)
        limited = "threshold_mm" in governing.arguments
        figures |= written if limited else {name: written[name] for name in _WITHOUT_LIMIT}
    if first is None or first.reading_index == governing.index:
        return [figures]
    written = _write_margin(first.margin)
    life = {name: written[name] for name in _OF_A_LIFE}
    return [figures, {"of": first.reading, **first.arguments, **life}]


def _anode_figures(figures: Figures, result: Any) -> Iterable[Figures]:
    """Yield what the working of the anodes found, and of those thought of, is filled with."""
    for name, told in (("condition", anode_condition), ("sizing", anode_sizing)):
        found = getattr(result.anodes, name, None)
        if found is not None:
            room = told.calculation
            asked = result.parts[room.id.replace("-", "_")].asked
            own = {**asked, **figures["anodes"][name]}
            yield from ({**subject, "of": _of(name, subject)} for subject in room.working_figures(own, found))


def _of(name: str, subject: Figures) -> str:
    return f"anodes.{name}" + (f" {subject['of']}" if "of" in subject else "")


def _thinnest_sentence(figures: Figures) -> str:
    wet = [told for told in figures["zones"] if told["exposure"] in RULE_EXPOSURES]
    zone = min(wet or figures["zones"], key=lambda told: told["thinnest_residual_mm"])
    loss = zone["max_loss_percent"]
    lost = f" (greatest loss there {text(loss)} %)" if loss is not None and loss > 0 else ""
    original = f" of {text(zone['original_mm'])} mm" if zone["original_mm"] is not None else ""
    return (
        f"The thinnest plate is in {zone['zone']}: {text(zone['thinnest_residual_mm'])} mm{original}, reading "
        f"{zone['thinnest_reading']}{lost}."
    )


def _life_sentence(figures: Figures) -> list[str]:
    """Return the sentence on the next limit; what is below a limit already is told before it, as a limit broken."""
    first = figures["first_to_limit"]
    if first is None:
        return []
    limit, where = text(first["threshold_mm"]), f"reading {first['reading']} in {first['zone']}"
    band, pace = band_words(first, figures["confidence"]), _pace(first)
    return [f"Next to a limit is {where}: it reaches {limit} mm {band} from the survey{pace}."]


def _pace(first: Figures) -> str:
    """Say that a life is followed with the rate since the previous survey."""
    if first["governing"] == "long_term":
        return ""
    return ", at the pace since the previous survey" + ("" if first["short_term_significant"] else ", which may be chance")


def _last_sentence(figures: Figures) -> list[str]:
    """Say in one sentence what was not read, and what was found of attack and anodes."""
    told = [*_unread(figures), *_attack(figures), *_anodes(figures), *_sizing(figures)]
    sentence = "; ".join(told)
    return [f"{sentence[0].upper()}{sentence[1:]}."] if told else []


def _attack(figures: Figures) -> list[str]:
    forms = figures["attack_forms"]
    if forms is None:
        return []
    consistent = [one["form"] for one in forms["candidates"] if one["standing"] == "consistent"]
    return [f"what was observed is consistent with {named(consistent)}" if consistent else "no form of attack is settled"]


def _anodes(figures: Figures) -> list[str]:
    condition = (figures["anodes"] or {}).get("condition")
    if condition is None:
        return []
    fitted = condition["fitted_count"]
    return [f"anodes that count: {condition['working_count']} of {fitted}" if fitted else "no anodes are fitted"]


def _sizing(figures: Figures) -> list[str]:
    sizing = (figures["anodes"] or {}).get("sizing")
    if sizing is None:
        return []
    if not sizing["material_suited"]:
        return ["the metal of the anodes thought of does not suit the water"]
    needed = sizing["count_needed"]
    return [
        f"anodes thought of: {needed} needed" if needed <= sizing["densest_count"] else "no sensible number of anodes serves"
    ]


def _unread(figures: Figures) -> list[str]:
    assessed = figures["assessed"]
    parts = [f"part of {part['zone']}" for part in assessed["parts_unread"]]
    sides = [f"{side} side" for side in assessed["sides_unread"]]
    unread = list(dict.fromkeys([*assessed["zones_unread"], *parts, *sides]))
    return [f"not read: {', '.join(unread)}"] if unread else []


def summary(figures: Figures) -> Sequence[str]:
    """Return the answer in a few sentences."""
    return [
        verdict_sentence(figures),
        _thinnest_sentence(figures),
        *rule_sentence(figures["rules"]),
        *_life_sentence(figures),
        *_last_sentence(figures),
    ]
