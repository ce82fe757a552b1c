"""Members that every calculation on readings and limits shares: a reading, a rule, a rule's outcome."""

from __future__ import annotations

from typing import Any, get_args

from platemargin.dates import PARTIAL_DATE
from platemargin.matching import STATION_TOLERANCE_M
from platemargin.readings import Layer, Side
from platemargin.rules import HULL_SIZE, QUANTITIES, RULE_EXPOSURES, Verdict
from platemargin.zones import EXPOSURES
from platemargin_api.calculations import common
from platemargin_api.fields import Choice, Day, Flag, Integer, List, Member, Number, Object, Response, Rows, RuleSets, Text

__all__ = [
    "ReadingRequest",
    "RuleRequest",
    "RuleResultResponse",
    "SurveyReadingsRequest",
    "beam_m",
    "draught_m",
    "exposure",
    "frame_spacing_mm",
    "layer",
    "length_m",
    "partial_date",
    "readings",
    "rule_sets",
    "rules",
    "rules_told",
    "side",
    "station_m",
    "station_tolerance_m",
    "survey",
    "verdict",
    "zone",
]

MOST_READINGS = 20_000
#: What is blank for Python and what is for JSON Schema, so that one pattern means the same to both.
_NOT_BLANK = r"[^\s\x1c-\x1f\x85\ufeff]"


def zone(**kwargs: Any) -> Text:
    """Return a zone's name."""
    description = "Part of the hull, such as baseplate, chine, side or swim."
    return Text(1, 40, pattern=_NOT_BLANK, says="must not be blank", description=description, **kwargs)


def side(*, nullable: bool = False) -> Choice:
    """Return a side of the boat."""
    return Choice(get_args(Side), description="Side of the boat.", nullable=nullable)


def station_m(description: str = "Distance from the stem.", *, nullable: bool = False) -> Number:
    """Return a station along the hull."""
    return Number("m", 0, 200, description=description, nullable=nullable)


def exposure() -> Choice:
    """Return where something stands towards the water."""
    return Choice(EXPOSURES, description="Where it stands towards the water; by default what its zone's name says.")


def layer() -> Choice:
    """Return which plate is meant where there are two."""
    return Choice(get_args(Layer), description="Which plate it is; absent = the shell.")


def partial_date(description: str) -> Text:
    """Return a year, a month or a day."""
    says = "must be a year, a month or a day from 1800 to 2099, written YYYY, YYYY-MM or YYYY-MM-DD"
    return Text(4, 10, pattern=PARTIAL_DATE, says=says, description=description)


class ReadingRequest(Member):
    """One reading."""

    id = Text(1, 64, description="The reading's own name, unique in the survey; by default its index.")
    zone = zone(required=True)
    side = side()
    station_m = station_m()
    height_m = Number("m", 0, 20, description="Height above the baseplate; kept with the reading, used in no calculation.")
    plate_mm = common.plate_mm()
    pit_depth_mm = common.pit_depth_mm()
    pit_face = Choice(
        ("outside", "inside", "unknown"), description="Face of the plate that the pit is on; used in no calculation."
    )
    original_mm = common.original_mm()
    layer = layer()
    fitted_on = partial_date("When this plate was fitted, where that is not when the boat was built.")
    exposure = exposure()
    holed = Flag(description="Whether the plate is holed here.")


class RuleRequest(Member):
    """A rule of the caller's own: exactly one of at_least and at_most, in the quantity's unit."""

    id = Text(1, 80, description="The rule's name.", required=True)
    quantity = Choice(tuple(QUANTITIES), description="What it limits.", required=True)
    at_least = Number("as quantity", 0, 200, description="The least that it accepts.")
    at_most = Number("as quantity", 0, 200, description="The most that it accepts.")
    exposures = List(
        Choice(EXPOSURES, description="Where something stands towards the water."),
        1,
        5,
        description=f"Where it applies; absent = {' and '.join(RULE_EXPOSURES)}.",
    )
    zones = List(zone(), 1, 50, description="Zones that it applies to; absent = all.")
    original_at_least_mm = common.original_mm()
    original_at_most_mm = common.original_mm()
    severity = Choice(("watch", "act"), description="What breaking it calls for.", required=True)
    statement = Text(1, 500, description="What it means, in a sentence.", required=True)
    reference = Text(1, 500, description="Where it comes from.", required=True)


class RuleResultResponse(Response):
    """One rule's outcome."""

    id = Text(1, 80, description="The rule's name.")
    rule_set = Text(1, 80, description="Its rule set; null for a rule that the caller sent.", nullable=True)
    may_clear = Flag(description="Whether keeping it passes plate; where not, it is not_judged unless it is broken.")
    verdict = Choice(Verdict, description="What it says.")
    severity = Choice(("watch", "act"), description="What breaking it calls for.")
    statement = Text(1, 500, description="What it means, in a sentence.")
    reference = Text(1, 500, description="Where it comes from: the id of a reference, or the caller's own words.")
    quantity = Choice(tuple(QUANTITIES), description="What it limits.")
    bound = Choice(("at_least", "at_most"), description="Which way it limits.")
    limit = Number(
        "as quantity",
        0,
        200,
        description="The limit; null where it depends on the hull, and what it needs of that was not told.",
        nullable=True,
    )
    unit = Choice(("mm", "%"), description="Unit of limit and margin.")
    checked_count = Integer(0, MOST_READINGS, description="Readings that it checked.")
    broken_count = Integer(0, MOST_READINGS, description="Readings that break it.")
    not_checked_count = Integer(0, MOST_READINGS, description="Readings that it speaks of and could not check.")
    margin = Number("as quantity", -1e5, 1e5, description="The smallest margin; negative = broken.", nullable=True)
    governing_reading = Text(1, 64, description="The reading with that margin.", nullable=True)
    governing_reading_index = Integer(0, MOST_READINGS, description="Its index.", nullable=True)


def readings(typed_as: str | None = None) -> Rows:
    """Return the readings of a survey."""
    return Rows(ReadingRequest, 1, MOST_READINGS, description="The readings.", required=True, typed_as=typed_as)


class SurveyReadingsRequest(Member):
    """The day of a survey, and its readings."""

    surveyed_on = Day(description="Day of the survey.", required=True)
    readings = readings()


def survey(description: str, *, required: bool = False) -> Object:
    """Return a survey within a request, to be compared with another."""
    return Object(SurveyReadingsRequest, description=description, required=required)


def station_tolerance_m() -> Number:
    """Return how far apart readings of one place may be noted."""
    return Number(
        "m",
        0,
        5,
        description="How far apart along the hull two surveys may note readings of one place.",
        default=STATION_TOLERANCE_M,
        basis="common practice: about half a frame space",
    )


def rule_sets() -> RuleSets:
    """Return the rule sets to judge by."""
    return RuleSets(
        default_ids=("trade-practice",),
        unless="rules",
        description="Rule sets to judge by; absent = trade-practice, or none where rules are sent.",
    )


def rules() -> Rows:
    """Return the caller's own rules."""
    return Rows(RuleRequest, 0, 100, description="Rules of the caller's own.", default=[])


def verdict() -> Choice:
    """Return a verdict."""
    return Choice(Verdict, description="The worst that was found; silence (not_judged) outranks a pass.")


def rules_told() -> Rows:
    """Return every rule's outcome."""
    return Rows(RuleResultResponse, 0, 3000, description="Every rule's outcome.")


def length_m() -> Number:
    """Return a hull's length."""
    return Number("m", *HULL_SIZE["length_m"], description="Length of the hull.", required=True)


def beam_m(*, required: bool = False) -> Number:
    """Return a hull's beam."""
    return Number("m", *HULL_SIZE["beam_m"], description="Beam of the hull.", required=required)


def draught_m(*, required: bool = False) -> Number:
    """Return a hull's draught."""
    return Number("m", *HULL_SIZE["draught_m"], description="Draught of the hull.", required=required)


def frame_spacing_mm(*, required: bool = False) -> Number:
    """Return a hull's frame spacing."""
    return Number("mm", *HULL_SIZE["frame_spacing_mm"], description="Frame spacing.", required=required)


class HullSizeRequest(Member):
    """The hull's size."""

    length_m = length_m()
    beam_m = beam_m()
    draught_m = draught_m()
    frame_spacing_mm = frame_spacing_mm()


def hull_size() -> Object:
    """Return the hull's size, where only that is asked."""
    return Object(
        HullSizeRequest, description="The hull's size: no station may lie beyond it, and some rule sets' limits depend on it."
    )
