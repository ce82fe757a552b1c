"""What hull-survey is asked: the boat, its readings, the rules, and what else was seen."""

from __future__ import annotations

from platemargin.plating import NOTATION
from platemargin_api.calculations import anode_condition, anode_sizing, attack_form, common, judged
from platemargin_api.calculations.deepest_pit import patch_area_m2, sampling
from platemargin_api.fields import Choice, Day, Flag, Integer, List, Member, Number, Object, Request, Rows, Text

__all__ = ["REASONS", "HullSurveyRequest", "PlatingRequest"]

REASONS = ("docking_blocks", "afloat", "ballast", "lining", "tank", "fouling", "other")


class HullRequest(Member):
    """The hull."""

    name = Text(1, 100, description="Name of the boat.")
    length_m = judged.length_m()
    beam_m = judged.beam_m(required=True)
    draught_m = judged.draught_m(required=True)
    water = Choice(("fresh", "brackish", "sea"), description="Water it lies in.", default="fresh", basis="an inland boat")
    frame_spacing_mm = judged.frame_spacing_mm()
    material = common.hull_material()
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
    reason = Choice(REASONS, description="Why not.", required=True)


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
    readings = judged.readings(typed_as="readings_csv")
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
