"""POST /v1/calculations/survey-comparison."""

from __future__ import annotations

from collections.abc import Sequence

from platemargin.matching import Reason
from platemargin.plating import NOTATION
from platemargin.quantities import text
from platemargin.reference import (
    API_570,
    BIRGE,
    BONFERRONI,
    EN_10029,
    FAST_RATE,
    FEW_MATCHED,
    GAUGE_CALIBRATION,
    GAUGE_UNCERTAINTY,
    GUM,
    PLATING_NOTATION,
    RESIDUAL_DATUM,
    STATION_TOLERANCE,
)
from platemargin.survey_comparison import ASSUMED, FAULTS, FINDINGS, WORKING, Pace, SurveyComparison, survey_comparison
from platemargin_api.calculation import Calculation, Figures
from platemargin_api.calculations import common, judged
from platemargin_api.calculations.hull_survey_request import PlatingRequest
from platemargin_api.fields import Choice, Flag, Integer, Number, Object, Request, Response, Rows, Text

__all__ = ["SurveyComparisonRequest", "SurveyComparisonResult", "calculation"]

_REASONS = tuple(reason.name.lower() for reason in Reason if reason is not Reason.MATCHED)
_MOST = judged.MOST_READINGS


class SurveyComparisonRequest(Request):
    """Two surveys of one hull."""

    earlier = judged.survey("The earlier survey.", required=True)
    later = judged.survey("The later survey, of the same hull.", required=True)
    station_tolerance_m = judged.station_tolerance_m()
    standard_uncertainty_mm = Number(
        "mm",
        0.001,
        10,
        description="Standard uncertainty of every residual thickness; absent = 0.15 of a plate reading, 0.25 with a pit's.",
    )
    calibration_standard_uncertainty_mm = Number(
        "mm",
        0,
        10,
        description="The part of it that all readings of one survey share, less than the whole: how the gauge was set.",
    )
    confidence = common.confidence()
    built_on = judged.partial_date("When the boat was built; for the long-term rate.")
    plating = Rows(PlatingRequest, 0, 500, description="What the zones were plated with; for the long-term rate.", default=[])
    plating_notation = Text(
        1,
        24,
        pattern=NOTATION,
        says="must be two to four thicknesses from 0.5 to 40 mm between strokes, such as 10/6/5",
        description="The trade's short form [mm]: bottom / sides / cabin sides / roof.",
    )


def _rate(description: str, *, nullable: bool = False) -> Number:
    return Number("mm/year", -1e5, 1e5, description=description, nullable=nullable)


class PairResponse(Response):
    """One place that both surveys read."""

    earlier_id = Text(1, 64, description="The earlier reading.")
    earlier_index = Integer(0, _MOST, description="Its index.")
    later_id = Text(1, 64, description="The later reading.")
    later_index = Integer(0, _MOST, description="Its index.")
    matched_by = Choice(("id", "station"), description="How they were matched.")
    station_distance_m = Number("m", 0, 200, description="How far apart they are along the hull.", nullable=True)
    zone = judged.zone()
    side = judged.side(nullable=True)
    earlier_residual_mm = Number("mm", 0, 200, description="What was left at the earlier survey.")
    later_residual_mm = Number("mm", 0, 200, description="What was left at the later survey.")
    loss_mm = Number("mm", -200, 200, description="What went between them; negative = it reads thicker than before.")
    loss_standard_uncertainty_mm = Number("mm", 0, 20, description="Standard uncertainty of the loss.")
    rate_mm_per_year = _rate("Loss over the years between the surveys.")
    rate_standard_uncertainty_mm_per_year = _rate("Standard uncertainty of the rate.")
    significant = Flag(description="Whether this pair by itself differs from none, by more than 1.96 standard uncertainties.")
    beyond_chance = Flag(description="Whether it differs by more than the largest of so many pairs may by chance (Bonferroni).")
    grew = Flag(description="Whether it is significant and reads thicker than before.")
    loss_is_at_least = Flag(description="Whether it became a hole: more steel may have gone than there was to read.")
    plate_loss_mm = Number("mm", -200, 200, description="Loss of the plate beside the pits.")
    pit_growth_mm = Number(
        "mm", -200, 200, description="Growth of the pit; null where not both surveys measured one.", nullable=True
    )
    original_mm = common.original_mm(nullable=True)
    long_term_mm_per_year = _rate("Rate over the plate's unprotected life.", nullable=True)


class MeanRateResponse(Response):
    """What some pairs say together, of the places read."""

    pairs = Integer(1, _MOST, description="Pairs.")
    mean_loss_mm = Number("mm", -200, 200, description="Mean loss.")
    mean_loss_standard_uncertainty_mm = Number("mm", 0, 1e3, description="Its standard uncertainty.")
    averaged_standard_uncertainty_mm = Number("mm", 0, 1e3, description="The part of that which averages out over the pairs.")
    mean_plate_loss_mm = Number("mm", -200, 200, description="Mean loss of the plate beside the pits.")
    mean_rate_mm_per_year = _rate("Mean rate.")
    mean_rate_standard_uncertainty_mm_per_year = _rate("Its standard uncertainty.")
    rate_low_mm_per_year = _rate("Lower end of the mean rate's band.")
    rate_high_mm_per_year = _rate("Upper end of the mean rate's band.")
    differs_from_zero = Flag(description="Whether the mean differs from none; zones share a level of 5 %.")
    least_to_show_mm_per_year = _rate("A mean rate below this would not show.")
    scatter_ratio = Number(
        "ratio",
        0,
        1e15,
        description="Scatter of the losses within a zone over the gauges'; null for one pair.",
        nullable=True,
    )
    long_term_pairs = Integer(0, _MOST, description="Pairs whose original and age are known.")
    long_term_mm_per_year = _rate("Their mean rate over the plate's unprotected life.", nullable=True)
    difference_mm_per_year = _rate("Their mean rate between the surveys, less that.", nullable=True)
    difference_standard_uncertainty_mm_per_year = _rate("Its standard uncertainty.", nullable=True)
    differs_from_long_term = Flag(description="Whether the two rates differ; zones share a level of 5 %.", nullable=True)


class ZoneChangeResponse(MeanRateResponse):
    """What the pairs of a zone say together."""

    zone = judged.zone()
    worst_pair_index = Integer(0, _MOST, description="The pair that lost the most: its place in pairs.")
    worst_earlier_id = Text(1, 64, description="Its earlier reading.")
    worst_later_id = Text(1, 64, description="Its later reading.")
    worst_loss_mm = Number("mm", -200, 200, description="What it lost.")
    worst_rate_mm_per_year = _rate("How fast.")


class UnmatchedResponse(Response):
    """A reading without a counterpart in the other survey."""

    id = Text(1, 64, description="The reading.")
    index = Integer(0, _MOST, description="Its index.")
    zone = judged.zone()
    side = judged.side(nullable=True)
    station_m = judged.station_m(nullable=True)
    reason = Choice(_REASONS, description="Why it has none; the first that holds.")


class SurveyComparisonResult(Response):
    """The pairs, what they say, and what could not be matched."""

    pace = Choice(Pace, description="How the rate between the surveys, of all pairs together, stands to that over the life.")
    years_between = Number("year", 0.1, 1e4, description="Time between the surveys.")
    earlier_count = Integer(1, _MOST, description="Readings of the earlier survey.")
    later_count = Integer(1, _MOST, description="Readings of the later survey.")
    matched_count = Integer(0, _MOST, description="Pairs.")
    matched_by_id_count = Integer(0, _MOST, description="Pairs matched by id.")
    significant_count = Integer(0, _MOST, description="Pairs that are significant by themselves.")
    significant_by_chance = Number("ratio", 0, _MOST, description="About how many would be if nothing had changed.")
    grew_count = Integer(0, _MOST, description="Significant pairs that read thicker than before.")
    grew_beyond_chance_count = Integer(0, _MOST, description="Those of them that chance does not explain.")
    holed_count = Integer(0, _MOST, description="Later readings of a hole.")
    calibration_standard_uncertainty_mm = Number("mm", 0, 10, description="The part of a reading's uncertainty that is shared.")
    overall = Object(MeanRateResponse, description="What all pairs say together; null where there is none.", nullable=True)
    worst_pair_index = Integer(
        0, _MOST, description="The pair that lost the most: its place in pairs, ties to the first.", nullable=True
    )
    pairs = Rows(PairResponse, 0, _MOST, description="Every pair, in the order of the earlier survey.")
    zones = Rows(ZoneChangeResponse, 0, 200, description="Every zone with a pair.")
    unmatched_earlier = Rows(UnmatchedResponse, 0, _MOST, description="Earlier readings that could not be matched.")
    unmatched_later = Rows(UnmatchedResponse, 0, _MOST, description="Later readings that could not be matched.")


def _matched_sentence(figures: Figures) -> str:
    counts = f"the {figures['earlier_count']} earlier and {figures['later_count']} later readings"
    matched, by_id = figures["matched_count"], figures["matched_by_id_count"]
    hole = "The later survey read holes: this calls for action, whatever the rates say. " if figures["holed_count"] else ""
    if not matched:
        return f"{hole}Of {counts} not one could be matched: nothing can be said of the rate between the surveys."
    how = "by id" if by_id == matched else f"{by_id} of them by id, the others by station" if by_id else "by station"
    return f"{hole}Pairs of one place among {counts}: {matched}, matched {how}; {text(figures['years_between'])} years apart."


def _worst_sentence(figures: Figures) -> str:
    pair = figures["pairs"][figures["worst_pair_index"]]
    if pair["loss_mm"] <= 0:
        return "No place reads thinner than before."
    if not pair["significant"]:
        weight = "within the gauges' uncertainty"
    elif not pair["beyond_chance"]:
        weight = "no more than the largest of so many pairs may read by chance"
    else:
        weight = "more than gauges and chance explain"
    least = "at least " if pair["loss_is_at_least"] else ""
    return (
        f"The most was lost in {pair['zone']}, reading {pair['later_id']}: {least}{text(pair['loss_mm'])} mm, "
        f"{least}{text(pair['rate_mm_per_year'])} mm/year, {weight}."
    )


def _mean_sentence(figures: Figures) -> str:
    told = figures["overall"]
    band = (
        f"{text(told['rate_low_mm_per_year'])} to {text(told['rate_high_mm_per_year'])} mm/year at "
        f"{text(round(100.0 * figures['confidence'], 1))} % confidence"
    )
    mean = f"{text(told['mean_loss_mm'])} mm, {text(told['mean_rate_mm_per_year'])} mm/year ({band})"
    if told["differs_from_zero"] and told["mean_loss_mm"] < 0:
        return f"The places read thicker than before, the mean loss is {mean}: gauge, coating or places are in doubt."
    if told["differs_from_zero"]:
        return f"The mean loss of the places is {mean}: more than measurement explains."
    unseen = text(told["least_to_show_mm_per_year"])
    return f"The mean loss of the places is {mean}: it is not told from none; one below {unseen} mm/year would not show."


def _life_sentence(figures: Figures) -> str:
    told = figures["overall"]
    if told["differs_from_long_term"] is None:
        return "Whether that is faster than over the hull's life cannot be told: no original thickness or age is known."
    if figures["pace"] == "unknown":
        return "Whether steel goes faster than over the hull's life cannot be told while plate reads thicker than before."
    long_term = f"{text(told['long_term_mm_per_year'])} mm/year over the plate's life"
    where = f"Where original and age are known (pairs: {told['long_term_pairs']}) it was {long_term}"
    faster = [
        zone["zone"] for zone in figures["zones"] if zone["differs_from_long_term"] and zone["difference_mm_per_year"] > 0
    ]
    if figures["pace"] != "no_difference_shown":
        return f"{where}: steel was lost {figures['pace']} between the surveys than over its life."
    if faster:
        return f"{where}: on the whole no difference is shown, but these zones lost steel faster: {', '.join(faster)}."
    return f"{where}: no difference between the two is shown."


def _grew_sentences(figures: Figures) -> list[str]:
    zones = [zone["zone"] for zone in figures["zones"] if zone["differs_from_zero"] and zone["mean_loss_mm"] < 0]
    count = figures["grew_beyond_chance_count"]
    if zones:
        return [f"Zones that as a whole read thicker than before: {', '.join(zones)}; no rate here can be relied on."]
    if count:
        return [f"Pairs that read thicker than before by more than gauges and chance explain: {count}; see the findings."]
    return []


def _summary(figures: Figures) -> Sequence[str]:
    if not figures["matched_count"]:
        return [_matched_sentence(figures)]
    return [
        _matched_sentence(figures),
        _worst_sentence(figures),
        _mean_sentence(figures),
        _life_sentence(figures),
        *_grew_sentences(figures),
    ]


def _working_figures(figures: Figures, result: SurveyComparison) -> Sequence[Figures]:
    """Return the figures of the pair that lost the most, and those of all pairs together."""
    if not figures["matched_count"]:
        return []
    pair = figures["pairs"][figures["worst_pair_index"]]
    uncertainties = {
        "earlier_uncertainty_mm": float(result.earlier_uncertainty_mm[pair["earlier_index"]]),
        "later_uncertainty_mm": float(result.later_uncertainty_mm[pair["later_index"]]),
    }
    shared = {name: figures[name] for name in ("years_between", "calibration_standard_uncertainty_mm")}
    return [{"of": pair["later_id"], **shared, **pair, **uncertainties}, {"of": "all pairs", **shared, **figures["overall"]}]


calculation = Calculation(
    id="survey-comparison",
    version="1.0.0",
    title="Two surveys of one hull",
    description="Matches the readings of two surveys, each once, and tells what each place and each zone lost between them, "
    "whether gauges and chance explain it, whether it is faster than over the hull's life, and what could not be matched.",
    request=SurveyComparisonRequest,
    response=SurveyComparisonResult,
    run=survey_comparison,
    faults=FAULTS,
    findings=FINDINGS,
    assumed=ASSUMED,
    working=WORKING,
    working_figures=_working_figures,
    summary=_summary,
    references=(
        RESIDUAL_DATUM,
        GAUGE_UNCERTAINTY,
        GAUGE_CALIBRATION,
        STATION_TOLERANCE,
        API_570,
        GUM,
        EN_10029,
        BIRGE,
        BONFERRONI,
        FAST_RATE,
        FEW_MATCHED,
        PLATING_NOTATION,
    ),
    cautions=(
        common.ADVICE_ONLY,
        common.PLACES_READ,
        common.COATED_PLATE,
        common.NOMINAL_ORIGINAL,
        "Readings of one station are seldom of one spot: where attack is uneven, a pair compares two spots beside each other.",
        "A place that only the later survey read may be the worst: it has no rate here.",
        "A rate of the past is no promise: a lost anode, a changed mooring or shore power can multiply it.",
    ),
    example={
        "earlier": {
            "surveyed_on": "2016-05-02",
            "readings": [
                {"id": "b1", "zone": "baseplate", "side": "port", "station_m": 4.0, "plate_mm": 9.4, "pit_depth_mm": 1.0},
                {"id": "b2", "zone": "baseplate", "side": "starboard", "station_m": 9.0, "plate_mm": 9.6, "pit_depth_mm": 0.8},
                {"zone": "side", "side": "port", "station_m": 6.0, "plate_mm": 5.9},
                {"zone": "side", "side": "starboard", "station_m": 6.0, "plate_mm": 5.8},
            ],
        },
        "later": {
            "surveyed_on": "2024-05-02",
            "readings": [
                {"id": "b1", "zone": "baseplate", "side": "port", "station_m": 4.0, "plate_mm": 8.8, "pit_depth_mm": 2.6},
                {"id": "b2", "zone": "baseplate", "side": "starboard", "station_m": 9.1, "plate_mm": 9.3, "pit_depth_mm": 1.6},
                {"zone": "side", "side": "port", "station_m": 6.1, "plate_mm": 5.7},
                {"zone": "side", "side": "starboard", "station_m": 12.0, "plate_mm": 5.5},
            ],
        },
        "built_on": "2008",
        "plating_notation": "10/6/5",
    },
)
