"""POST /v1/calculations/threshold-check."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from platemargin.quantities import text
from platemargin.reference import GAUGE_UNCERTAINTY, RESIDUAL_DATUM, ZONE_EXPOSURE
from platemargin.threshold_check import ASSUMED, FAULTS, FINDINGS, WORKING, threshold_check
from platemargin_api.calculation import Calculation, Figures
from platemargin_api.calculations import common, judged
from platemargin_api.fields import Integer, Request, Response

__all__ = ["ThresholdCheckRequest", "ThresholdCheckResult", "calculation", "rule_sentence", "verdict_sentence"]

_VERDICTS = {
    "act": "A limit that calls for action is broken.",
    "watch": "A limit that calls for watching is broken; none that calls for action is, as far as they could be judged.",
    "not_judged": "The plate is not passed: something was not read, not known or not judged, as the findings say.",
    "no_limit_broken": "No limit is broken at the places that were read.",
}


class ThresholdCheckRequest(Request):
    """Readings, and what to judge them by."""

    readings = judged.readings(typed_as="readings_csv")
    rule_sets = judged.rule_sets()
    rules = judged.rules()
    hull = judged.hull_size()


class ThresholdCheckResult(Response):
    """The verdict, rule by rule."""

    verdict = judged.verdict()
    rules = judged.rules_told()
    readings_count = Integer(1, judged.MOST_READINGS, description="Readings sent.")
    holed_count = Integer(0, judged.MOST_READINGS, unit="1", description="Readings of a hole.")
    outside_count = Integer(0, judged.MOST_READINGS, description="Readings that no rule speaks of which could pass them.")


def verdict_sentence(figures: Figures) -> str:
    """Return the sentence on the verdict; a hole comes before every limit."""
    if figures["holed_count"]:
        return f"The plate is holed (readings: {figures['holed_count']}): this calls for action, whatever the limits say."
    return _VERDICTS[figures["verdict"]]


def rule_sentence(rules: Sequence[Figures]) -> list[str]:
    """Return the sentence on the rule with the worst verdict; of equals the one with the smallest margin.

    One that keeping passes nothing, and that is kept, is told where there is no other.
    """
    checked = [rule for rule in rules if rule["margin"] is not None]
    if not checked:
        return []
    rank = {"act": 0, "watch": 1, "not_judged": 2, "no_limit_broken": 3}
    rule = min(
        checked,
        key=lambda told: (
            not (told["may_clear"] or told["broken_count"]),
            rank[told["verdict"]],
            not told["may_clear"],
            told["margin"] / max(told["limit"], 1e-9),
        ),
    )
    unit = "% loss" if rule["unit"] == "%" else "mm"
    unit_of_margin = "percentage points" if rule["unit"] == "%" else "mm"
    margin = text(abs(rule["margin"]))
    over = (rule["margin"] > 0) == (rule["bound"] == "at_least")
    by = f"{margin} {unit_of_margin} {'over' if over else 'below'}" if rule["margin"] else "exactly at"
    told = (
        f"Reading {rule['governing_reading']} is {by} the limit of {text(rule['limit'])} {unit} ({rule['id']}); readings that "
        f"break it: {rule['broken_count']} of {rule['checked_count']}."
    )
    return [told]


def _working_figures(_figures: Figures, result: Any) -> Sequence[Figures]:
    """Return the figures of the reading that decides, and those of its rule."""
    outcome, index = result.judged.governing
    return [] if index is None else [{"of": str(result.judged.table.id[index]), **result.judged.figures(index, outcome)}]


def _summary(figures: Figures) -> Sequence[str]:
    outside = figures["outside_count"]
    told = [f"{outside} of {figures['readings_count']} readings are where no rule applies."] if outside else []
    return [verdict_sentence(figures), *rule_sentence(figures["rules"]), *told]


calculation = Calculation(
    id="threshold-check",
    version="1.0.0",
    title="Readings against the limits of rule sets and of one's own",
    description="Checks every reading against every limit that speaks of its place; silence is never a pass.",
    request=ThresholdCheckRequest,
    response=ThresholdCheckResult,
    run=threshold_check,
    faults=FAULTS,
    findings=FINDINGS,
    assumed=ASSUMED,
    working=WORKING,
    working_figures=_working_figures,
    summary=_summary,
    references=(RESIDUAL_DATUM, GAUGE_UNCERTAINTY, ZONE_EXPOSURE),
    cautions=(
        common.ADVICE_ONLY,
        common.PLACES_READ,
        common.COATED_PLATE,
    ),
    example={
        "readings": [
            {"id": "b1", "zone": "baseplate", "side": "port", "station_m": 4.0, "plate_mm": 8.8, "pit_depth_mm": 2.6},
            {"id": "s1", "zone": "side", "side": "starboard", "station_m": 9.5, "plate_mm": 3.9},
        ],
        "rule_sets": ["trade-practice"],
    },
)
