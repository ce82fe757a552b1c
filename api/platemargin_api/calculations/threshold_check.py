"""POST /v1/calculations/threshold-check."""

from __future__ import annotations

from collections.abc import Sequence

from platemargin.quantities import text
from platemargin.reference import GAUGE_UNCERTAINTY, RESIDUAL_DATUM, ZONE_EXPOSURE
from platemargin.threshold_check import ASSUMED, FAULTS, FINDINGS, threshold_check
from platemargin_api.calculation import Calculation, Figures
from platemargin_api.calculations import common, judged
from platemargin_api.fields import Integer, Request, Response

__all__ = ["ThresholdCheckRequest", "ThresholdCheckResult", "calculation", "rule_sentence", "verdict_sentence"]

_VERDICTS = {
    "act": "A limit that calls for action is broken.",
    "watch": "A limit that calls for watching is broken; none that calls for action is.",
    "not_judged": "Nothing is passed: not all that the limits ask about could be judged.",
    "no_limit_broken": "No limit is broken at the places that were read.",
}


class ThresholdCheckRequest(Request):
    """Readings, and what to judge them by."""

    readings = judged.readings()
    rule_sets = judged.rule_sets()
    rules = judged.rules()
    hull = judged.hull_size()


class ThresholdCheckResult(Response):
    """The verdict, rule by rule."""

    verdict = judged.verdict()
    rules = judged.rules_told()
    readings_count = Integer(1, judged.MOST_READINGS, description="Readings sent.")
    outside_count = Integer(0, judged.MOST_READINGS, description="Readings that no rule speaks of.")


def verdict_sentence(verdict: str) -> str:
    """Return the sentence on the verdict."""
    return _VERDICTS[verdict]


def rule_sentence(rules: Sequence[Figures]) -> list[str]:
    """Return the sentence on the rule with the worst verdict; of equals the one with the smallest margin."""
    checked = [rule for rule in rules if rule["margin"] is not None]
    if not checked:
        return []
    rank = {"act": 0, "watch": 1, "not_judged": 2, "no_limit_broken": 3}
    rule = min(checked, key=lambda told: (rank[told["verdict"]], told["margin"] / max(told["limit"], 1e-9)))
    unit = "% loss" if rule["unit"] == "%" else "mm"
    where = "past" if rule["margin"] < 0 else "within"
    told = (
        f"Reading {rule['governing_reading']} is {text(abs(rule['margin']))} {rule['unit']} {where} the limit of "
        f"{text(rule['limit'])} {unit} ({rule['id']}); readings that break it: "
        f"{rule['broken_count']} of {rule['checked_count']}."
    )
    return [told]


def _summary(figures: Figures) -> Sequence[str]:
    outside = figures["outside_count"]
    told = [f"{outside} of {figures['readings_count']} readings are where no rule applies."] if outside else []
    return [verdict_sentence(figures["verdict"]), *rule_sentence(figures["rules"]), *told]


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
