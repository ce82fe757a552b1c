"""What hull-survey answers."""

from __future__ import annotations

from platemargin.corrosion_rate import Governing
from platemargin.remaining_life import LifeStatus
from platemargin.residual_thickness import PlateState
from platemargin.survey_advice import ADVICE
from platemargin_api.calculations import anode_condition, anode_sizing, attack_form, common, judged
from platemargin_api.calculations.corrosion_rate import rate_members
from platemargin_api.calculations.deepest_pit import DeepestPitResult
from platemargin_api.calculations.hull_survey_request import REASONS
from platemargin_api.calculations.residual_thickness import thickness_members
from platemargin_api.fields import Choice, Day, Flag, Integer, List, Number, Object, Response, Rows, Text

__all__ = ["HullSurveyResult"]


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

    reason = Choice(REASONS, description="Why not.")


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
