"""POST /v1/calculations/hull-survey."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from platemargin.attack_findings import named
from platemargin.corrosion_rate import Governing
from platemargin.hull_survey import ASSUMED, FAULTS, FINDINGS, hull_survey
from platemargin.judged import LIMIT_WORKING
from platemargin.plate_margin import WORKING
from platemargin.plating import NOTATION
from platemargin.quantities import text
from platemargin.reference import (
    API_570,
    API_570_INTERVAL,
    ASTM_G46,
    BESIDE_PREVIOUS,
    DECIMAL_POINT,
    EN_10029,
    FAST_RATE,
    FEW_READINGS,
    FIELLER,
    GAUGE_UNCERTAINTY,
    GUM,
    INSURER_MINIMUM,
    ISO_9224,
    PIVOTAL_PREDICTION,
    PLATING_NOTATION,
    RESIDUAL_DATUM,
    SHIBATA,
    STATION_TOLERANCE,
    SURVEY_INTERVAL,
    VALUE_PATTERNS,
    ZONE_EXPOSURE,
)
from platemargin.remaining_life import LifeStatus
from platemargin.residual_thickness import PlateState
from platemargin.rules import RULE_EXPOSURES
from platemargin.survey_advice import ADVICE
from platemargin_api.calculation import Brought, Calculation, Figures
from platemargin_api.calculations import anode_condition, anode_sizing, attack_form, common, judged
from platemargin_api.calculations.corrosion_rate import rate_members
from platemargin_api.calculations.deepest_pit import DeepestPitResult, patch_area_m2, sampling
from platemargin_api.calculations.plate_margin import PlateMarginResult
from platemargin_api.calculations.remaining_life import LIFE_CAUTIONS, band_words
from platemargin_api.calculations.residual_thickness import thickness_members
from platemargin_api.calculations.threshold_check import rule_sentence, verdict_sentence
from platemargin_api.fields import Choice, Day, Flag, Integer, List, Member, Number, Object, Request, Response, Rows, Text
from platemargin_api.renderings.plate_map import plate_map
from platemargin_api.renderings.report import survey_report
from platemargin_api.writer import compiled

__all__ = ["HullSurveyRequest", "HullSurveyResult", "calculation"]

_NOT_A_CONDITION_SURVEY = (
    "These are calculations on plate readings, not a condition survey: they say nothing of welds, skin fittings, stern gear, "
    "openings, gas, fuel or electrics."
)
_SAFETY = (
    "Plate is read under a hull that is safely shored, by people who know how; blasting, hot work near tanks and linings, and "
    "work in confined spaces follow local codes and licensed practice."
)
_REASONS = ("docking_blocks", "afloat", "ballast", "lining", "tank", "fouling", "other")


class HullRequest(Member):
    """The hull."""

    name = Text(1, 100, description="Name of the boat.")
    length_m = judged.length_m()
    beam_m = judged.beam_m(required=True)
    draught_m = judged.draught_m(required=True)
    water = Choice(("fresh", "brackish", "sea"), description="Water it lies in.", default="fresh", basis="an inland boat")
    frame_spacing_mm = judged.frame_spacing_mm()
    material = Choice(
        ("steel", "wrought_iron", "aluminium", "other"),
        description="Material of the shell.",
        default="steel",
        basis="what inland hulls are mostly built of",
    )
    construction = Choice(
        ("welded", "riveted", "composite"),
        description="How the shell is held together.",
        default="welded",
        basis="how steel hulls are mostly built",
    )


class PlatingRequest(Member):
    """What a zone, or a part of it, was plated with."""

    zone = judged.zone(required=True)
    side = judged.side()
    from_m = judged.station_m("Where the part begins, from the stem.")
    to_m = judged.station_m("Where the part ends, from the stem.")
    original_mm = common.original_mm()
    original_basis = Choice(
        ("certificate", "builder", "measured_unattacked", "assumed", "unknown"), description="How original_mm is known."
    )
    layer = judged.layer()
    fitted_on = judged.partial_date("When this plate was fitted, where that is not when the boat was built.")
    area_m2 = Number("m2", 0.01, 5000, description="Area of the part.")
    exposure = judged.exposure()
    protected_years = Number("year", 0, 200, description="Years of its age in which a coating kept the steel.")
    pit_sampling = sampling()
    pit_patch_area_m2 = patch_area_m2()


class GaugeRequest(Member):
    """How the plate was read."""

    mode = Choice(
        ("single_echo", "multiple_echo", "unknown"),
        description="Ultrasonic mode; multiple echo does not count the coating.",
        default="unknown",
        basis="no mode was stated",
    )
    through_coating = Flag(
        description="Whether the plate was read through its coating; absent = where coating_um is sent, else on bare steel."
    )
    coating_um = Number("um", 0, 5000, description="Thickness of the coating's film.")
    plate_standard_uncertainty_mm = common.plate_standard_uncertainty_mm()
    pit_standard_uncertainty_mm = common.pit_standard_uncertainty_mm()


class UnexaminedRequest(Member):
    """A part of the hull that nobody could read."""

    zone = judged.zone(required=True)
    side = judged.side()
    from_m = judged.station_m("Where the part begins, from the stem.")
    to_m = judged.station_m("Where the part ends, from the stem.")
    reason = Choice(_REASONS, description="Why not.", required=True)


class HullSurveyRequest(Request):
    """A whole survey."""

    hull = Object(HullRequest, description="The hull.", required=True)
    built_on = judged.partial_date("When the boat was built; the last day of the period counts, not after the survey.")
    surveyed_on = Day(description="Day of the survey.", required=True)
    as_of = Day(description="Day at which the survey's age counts.")
    max_survey_age_months = Integer(1, 240, unit="month", description="Older than this at as_of, a survey passes nothing.")
    plating = Rows(PlatingRequest, 0, 500, description="What the zones were plated with.", default=[])
    plating_notation = Text(
        1,
        24,
        pattern=NOTATION,
        says="must be two to four thicknesses from 0.5 to 40 mm between strokes, such as 10/6/5",
        description="The trade's short form [mm]: bottom / sides / cabin sides / roof.",
    )
    readings = judged.readings()
    rule_sets = judged.rule_sets()
    rules = judged.rules()
    thresholds_mm = List(
        common.threshold_mm(),
        1,
        10,
        description="Limits for the remaining life; absent = those of the rules that apply.",
    )
    confidence = common.confidence()
    gauge = Object(GaugeRequest, description="How the plate was read.")
    unexamined = Rows(UnexaminedRequest, 0, 500, description="What nobody could read, and why.", default=[])
    ashore = Flag(description="Whether the boat is out of the water.")
    inside_seen = Flag(description="Whether the plate was seen from inside.")
    what_if_original_mm = List(
        common.original_mm(), 0, 10, description="What would be left had the plate started at these.", default=[]
    )
    previous_survey = judged.survey("An earlier survey of the same hull.")
    observations = attack_form.observations()
    anodes = anode_condition.anodes()
    potentials = anode_condition.potentials()
    reach_lengths = Number("1", 1, 20, description="How far an anode reaches each way from its centre, in its own lengths.")
    coating = anode_sizing.coating()
    anode_sizing = Object(
        anode_sizing.SurveySizingRequest,
        description="Anodes that are thought of, as anode-sizing takes them; coating is above.",
    )


class ZoneThresholdResponse(Response):
    """The life of a zone's thinnest reading to one limit."""

    threshold_mm = common.threshold_mm()
    years = Number("year", 0, 1e6, description="Years from the survey until the limit.", nullable=True)
    years_low = Number("year", 0, 1e6, description="Lower end of the band.", nullable=True)
    years_high = Number("year", 0, 1e6, description="Upper end of the band.", nullable=True)
    years_from_as_of = Number("year", 0, 1e6, description="Years from as_of until the limit.", nullable=True)
    probability_below_now = Number("probability", 0, 1, description="That it is below the limit already.")
    status = Choice(LifeStatus, description="Where the plate stands towards the limit.")


class FirstToLimitResponse(Response):
    """The reading whose life to its next limit may be the shortest."""

    zone = judged.zone()
    reading = Text(1, 64, description="The reading.")
    reading_index = Integer(0, judged.MOST_READINGS, description="Its index.")
    threshold_mm = common.threshold_mm()
    years = Number("year", 0, 1e6, description="Years from the survey until the limit.", nullable=True)
    years_low = Number("year", 0, 1e6, description="Lower end of the band.")
    years_high = Number("year", 0, 1e6, description="Upper end of the band.", nullable=True)
    years_from_as_of = Number("year", 0, 1e6, description="Years from as_of until the limit.", nullable=True)
    governing = Choice(Governing, description="The rate that it is followed with.")
    short_term_significant = Flag(
        description="Whether a rate since the previous survey is more than its uncertainty.", nullable=True
    )


class ZoneResponse(Response):
    """One zone that was read."""

    zone = judged.zone()
    exposure = judged.exposure()
    original_mm = common.original_mm(nullable=True)
    readings = Integer(1, judged.MOST_READINGS, description="Readings.")
    pits_measured = Integer(0, judged.MOST_READINGS, description="Pits that were measured.")
    thinnest_residual_mm = Number("mm", 0, 200, description="What is left at the thinnest.")
    thinnest_reading = Text(1, 64, description="The reading with that, ties to the first.")
    thinnest_reading_index = Integer(0, judged.MOST_READINGS, description="Its index.")
    thinnest_plate_mm = Number("mm", 0, 200, description="The thinnest plate beside the pits.")
    mean_plate_mm = Number("mm", 0, 200, description="Mean plate beside the pits.")
    max_pit_depth_mm = Number("mm", 0, 200, description="The deepest pit.")
    max_loss_percent = Number("%", -39900, 100, description="The greatest loss over its original.", nullable=True)
    mean_general_loss_mm = Number("mm", -199.5, 40, description="Mean loss beside the pits.", nullable=True)
    pitting_factor = Number(
        "ratio",
        0,
        1e6,
        description="Greatest loss over mean general loss; null where the mean is within its uncertainty.",
        nullable=True,
    )
    rate_mm_per_year = Number("mm/year", -4e4, 8e3, description="Governing rate at the thinnest.", nullable=True)
    rate_governing = Choice(Governing, description="Which rate that is.", nullable=True)
    short_term_mm_per_year, short_term_significant = (
        rate_members()[name] for name in ("short_term_mm_per_year", "short_term_significant")
    )
    verdict = judged.verdict()
    thresholds = Rows(ZoneThresholdResponse, 0, 3000, description="The thinnest reading's life to each limit.")
    deepest_pit = Object(
        DeepestPitResult,
        description="The deepest pit nobody measured; null where plating does not state how pits were sampled.",
        nullable=True,
    )


class PartResponse(Response):
    """A part of the hull."""

    zone = judged.zone()
    side = judged.side(nullable=True)
    from_m = judged.station_m("Where the part begins, from the stem.", nullable=True)
    to_m = judged.station_m("Where the part ends, from the stem.", nullable=True)


class UnexaminedResponse(PartResponse):
    """A part of the hull that nobody could read."""

    reason = Choice(_REASONS, description="Why not.")


class AssessedResponse(Response):
    """What was looked at, and what was not."""

    zones_unread = List(judged.zone(), 0, 1000, description="Plated zones in the water that nobody read.")
    parts_unread = Rows(PartResponse, 0, 1000, description="Parts plated or named apart, in zones read elsewhere.")
    sides_unread = List(judged.side(), 0, 2, description="Sides that nobody read in the water.")
    unexamined = Rows(UnexaminedResponse, 0, 500, description="What nobody could read, and why.")
    immersed_read = Flag(description="Whether the shell was read anywhere under water.")
    area_per_reading_m2 = Number("m2", 0, 3e6, description="Stated area over readings.", nullable=True)


class ReadingResponse(Response):
    """One reading's own result."""

    id = Text(1, 64, description="The reading's name.")
    zone = judged.zone()
    side = judged.side(nullable=True)
    station_m = judged.station_m(nullable=True)
    original_mm = common.original_mm(nullable=True)
    (
        residual_mm,
        loss_mm,
        loss_percent,
        general_loss_mm,
        general_loss_percent,
        pit_depth_mm,
        pit_share_percent,
        plate_state,
    ) = thickness_members(nullable=True).values()
    margin_mm = Number(
        "mm",
        -200,
        200,
        description="What is left over the highest limit that applies; null where none does.",
        nullable=True,
    )
    verdict = judged.verdict()
    previous_reading = Text(1, 64, description="The previous survey's reading of the same place.", nullable=True)
    previous_mm = Number("mm", 0, 200, description="What it left.", nullable=True)
    short_term_mm_per_year = rate_members()["short_term_mm_per_year"]


class WhatIfResponse(Response):
    """The same loss taken from another original thickness."""

    zone = judged.zone()
    reading = Text(1, 64, description="The zone's thinnest reading.")
    original_mm = common.original_mm()
    loss_mm = Number("mm", -199.5, 40, description="Its loss.", nullable=True)
    residual_mm = Number("mm", 0, 240, description="What would be left.", nullable=True)
    plate_state = Choice(PlateState, description="What the plate would be.", nullable=True)


class PreviousSurveyResponse(Response):
    """What the previous survey could be compared with."""

    surveyed_on = Day(description="Its day.")
    years_since = Number("year", 0.1, 10_000, description="Years from it to this survey.")
    readings = Integer(1, judged.MOST_READINGS, description="Its readings.")
    matched = Integer(0, judged.MOST_READINGS, description="Those whose place, and plate, was read again.")


class AdviceResponse(Response):
    """What to do, how soon, and why."""

    code = Choice(tuple(rule.code for rule in ADVICE), description="The advice.")
    urgency = Choice(("before_afloat", "before_cover", "next_docking", "monitor"), description="How soon.")
    statement = Text(1, 500, description="The advice in a sentence.")
    because = List(Text(1, 80, description="Code of a finding."), 1, 50, description="The findings that call for it.")
    reasons = List(
        Text(1, 1000, description="A finding's statement."),
        1,
        5 * 50,
        description="What they say, with their figures: the first five of each.",
    )


class SurveyAnodesResponse(Response):
    """Anodes: those found, and those that are thought of."""

    condition = Object(
        anode_condition.AnodeConditionResult,
        description="What the anodes found tell; null where anodes were not sent.",
        nullable=True,
    )
    sizing = Object(
        anode_sizing.AnodeSizingResult,
        description="What anodes that are thought of achieve; null where nobody asked.",
        nullable=True,
    )


class HullSurveyResult(Response):
    """The survey's answer."""

    verdict = judged.verdict()
    governing_zone = judged.zone()
    governing_reading = Text(1, 64, description="The reading that decides.")
    governing_reading_index = Integer(0, judged.MOST_READINGS, description="Its index.")
    zones = Rows(ZoneResponse, 1, judged.MOST_READINGS, description="Each zone that was read, in order of appearance.")
    assessed = Object(AssessedResponse, description="What was looked at, and what was not.")
    readings = Rows(ReadingResponse, 1, judged.MOST_READINGS, description="Each reading's own result, in order.")
    what_if = Rows(WhatIfResponse, 0, 200_000, description="The same losses taken from other originals.")
    rules = judged.rules_told()
    holed_count = Integer(0, judged.MOST_READINGS, description="Readings of a hole.")
    first_to_limit = Object(
        FirstToLimitResponse, description="The reading that may reach its next limit first; null where none.", nullable=True
    )
    previous_survey = Object(PreviousSurveyResponse, description="The survey before, where one was sent.", nullable=True)
    advice = Rows(AdviceResponse, 0, 50, description="What to do, the most urgent first.")
    attack_forms = attack_form.attack_forms()
    anodes = Object(SurveyAnodesResponse, description="Anodes; null where nothing was asked of them.", nullable=True)
    next_survey_within_years = Number("year", 0, 50, description="When the next survey is due.", nullable=True)


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


def _working_figures(figures: Figures, result: Any) -> Sequence[Figures]:
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
    told = [*_unread(figures), *_attack(figures), *_anodes(figures)]
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


def _unread(figures: Figures) -> list[str]:
    assessed = figures["assessed"]
    parts = [f"part of {part['zone']}" for part in assessed["parts_unread"]]
    sides = [f"{side} side" for side in assessed["sides_unread"]]
    unread = list(dict.fromkeys([*assessed["zones_unread"], *parts, *sides]))
    return [f"not read: {', '.join(unread)}"] if unread else []


def _summary(figures: Figures) -> Sequence[str]:
    return [
        verdict_sentence(figures),
        _thinnest_sentence(figures),
        *rule_sentence(figures["rules"]),
        *_life_sentence(figures),
        *_last_sentence(figures),
    ]


calculation = Calculation(
    id="hull-survey",
    version="2.0.0",
    title="A whole hull survey",
    description="Every reading, every zone, every limit, the life that is left at the thinnest places, what was not looked "
    "at and what to do.",
    request=HullSurveyRequest,
    response=HullSurveyResult,
    run=hull_survey,
    faults=FAULTS,
    findings=FINDINGS,
    assumed=ASSUMED,
    # The benchmark is not part of a survey: its steps have nothing to show.
    working=(
        *(step for step in WORKING if step.value != "benchmark_ratio"),
        *LIMIT_WORKING,
        *anode_condition.calculation.working,
        *anode_sizing.calculation.working,
    ),
    working_figures=_working_figures,
    summary=_summary,
    brought={
        member: Brought(references=made.references, cautions=made.cautions)
        for member, made in (
            ("observations", attack_form.calculation),
            ("anodes", anode_condition.calculation),
            ("anode_sizing", anode_sizing.calculation),
        )
    },
    references=(
        RESIDUAL_DATUM,
        GAUGE_UNCERTAINTY,
        API_570,
        API_570_INTERVAL,
        EN_10029,
        FIELLER,
        GUM,
        ISO_9224,
        ASTM_G46,
        SURVEY_INTERVAL,
        ZONE_EXPOSURE,
        PLATING_NOTATION,
        FEW_READINGS,
        VALUE_PATTERNS,
        DECIMAL_POINT,
        FAST_RATE,
        STATION_TOLERANCE,
        SHIBATA,
        PIVOTAL_PREDICTION,
        BESIDE_PREVIOUS,
        INSURER_MINIMUM,
    ),
    cautions=(
        _NOT_A_CONDITION_SURVEY,
        common.ADVICE_ONLY,
        common.PLACES_READ,
        *LIFE_CAUTIONS,
        _SAFETY,
    ),
    example={
        "hull": {"name": "Example", "length_m": 17.5, "beam_m": 2.1, "draught_m": 0.65},
        "built_on": "2008",
        "surveyed_on": "2024-12-31",
        "as_of": "2025-03-01",
        "plating_notation": "10/6/5",
        "readings": [
            {"id": "b1", "zone": "baseplate", "side": "port", "station_m": 4.0, "plate_mm": 8.8, "pit_depth_mm": 2.6},
            {
                "id": "b2",
                "zone": "baseplate",
                "side": "starboard",
                "station_m": 9.0,
                "plate_mm": 9.8,
                "pit_depth_mm": 2.8,
            },
            {"id": "c1", "zone": "chine", "side": "starboard", "station_m": 9.0, "plate_mm": 5.6},
            {"id": "s1", "zone": "side", "side": "port", "station_m": 6.0, "plate_mm": 5.4, "pit_depth_mm": 0.8},
            {"id": "w1", "zone": "swim", "side": "starboard", "station_m": 16.0, "plate_mm": 5.5},
        ],
        "gauge": {"mode": "multiple_echo", "through_coating": True, "coating_um": 250},
        "unexamined": [{"zone": "baseplate", "from_m": 7.8, "to_m": 8.0, "reason": "docking_blocks"}],
        "ashore": True,
        "inside_seen": False,
        "what_if_original_mm": [6.0],
    },
    renderings={"image/svg+xml": plate_map, "text/html": survey_report},
)
