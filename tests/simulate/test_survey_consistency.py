"""How often an honest survey is asked about, and how often each fault is seen.

Invented boats. An honest surveyor reads with a gauge of a tenth (some of a hundredth, some round to a fifth or a half by
habit), mostly takes the worst of the spots at hand, and reads plates that scatter by 0.15 to 0.5 mm within what EN 10029
class A lets a mill deliver, worn and pitted since; some zones hold plates of several originals. A fault is planted in such a
survey and nothing else is changed.
"""

import copy
from datetime import date, timedelta
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import binom, binomtest

from platemargin.mill_tolerance import class_a_limits
from platemargin.survey_consistency import FINDINGS, Outcome, Standing, survey_consistency
from platemargin.value_patterns import ALPHA

NOTATIONS = ("10/6/5", "10/6/4", "8/6/4", "12/8/6/4", "10/8/6", "6/5/4", "10/6/5/4", "8/5/4")
ZONES = ("baseplate", "side", "chine", "swim", "counter")
STEPS, SHARES = (0.1, 0.2, 0.5, 0.05, 0.01), (0.8, 0.06, 0.06, 0.03, 0.05)
NOTES = {finding.code for finding in FINDINGS if finding.severity == "note"}
VALUE_CODES = ("values_repeat", "no_spread", "last_digits_improbable", "sides_alike", "runs_alike")
BESIDE_CODES = ("repeats_previous", "previous_in_other_unit", "lost_too_fast_since_previous", "thicker_than_previous")


def original_of(notation, zone):
    figures = [float(figure) for figure in notation.split("/")]
    return figures[{"baseplate": 0, "cabin-side": 2}.get(zone, 1)]


class Surveyor:
    """One honest surveyor, with the boat at hand."""

    def __init__(self, chance, readings=None):
        self.chance = chance
        self.length = round(chance.uniform(9, 26), 1)
        self.notation = str(chance.choice(NOTATIONS))
        self.age = int(chance.integers(3, 45))
        self.scatter = chance.uniform(0.15, 0.5)
        self.step = chance.choice(STEPS, p=SHARES)
        self.spots = int(chance.choice([1, 2, 4]))
        self.wear, self.pit = chance.uniform(0.0, 0.03), chance.uniform(0.01, 0.1)
        self.pits_told = chance.random()
        self.systematic = chance.random() < 0.5
        self.zones = [*ZONES, *(["cabin-side"] if chance.random() < 0.4 else [])]
        self.readings = int(chance.integers(30, 121)) if readings is None else readings
        self.places = {}

    def survey(self):
        surveyed_on = date(2024, 1, 1) + timedelta(days=int(self.chance.integers(0, 700)))
        shares = self.chance.dirichlet([6.0 if zone in ("baseplate", "side") else 2.0 for zone in self.zones])
        counts = np.maximum(np.round(shares * self.readings).astype(int), 2)
        told = [reading for zone, count in zip(self.zones, counts, strict=True) for reading in self.zone(zone, count)]
        return {
            "hull": {"length_m": self.length, "beam_m": 2.1, "draught_m": 0.6, "material": "steel"},
            "surveyed_on": surveyed_on,
            "as_of": surveyed_on + timedelta(days=90),
            "max_survey_age_months": 24,
            "built_on": str(surveyed_on.year - self.age),
            "plating_notation": self.notation,
            "plating": [],
            "readings": told,
        }

    def with_previous(self, years=None):
        """Return a survey and the one before it: the same plates, less worn, read by another gauge, set on another day.

        Half of the surveyors mark their spots; the others read the place again, where plate differs by 0.1 mm. Half share
        their ids, the others note a station that is out by some 0.1 m.
        """
        survey, chance = self.survey(), self.chance
        years = min(chance.uniform(0.3, 8.0), self.age - 1.5) if years is None else years
        self.setting = chance.normal(0, 0.06 * np.sqrt(2))
        self.local = chance.choice([0.0, 0.1])
        self.pace = chance.uniform(0.5, 2.0) * years / self.age
        step, self.step = self.step, self.step if chance.random() < 0.7 else chance.choice(STEPS, p=SHARES)
        again, named = chance.uniform(0.6, 1.0), chance.random() < 0.5
        told = [self.before(reading, named) for reading in survey["readings"] if chance.random() < again]
        self.step = step
        days = timedelta(days=round(365.25 * years))
        return {**survey, "previous_survey": {"surveyed_on": survey["surveyed_on"] - days, "readings": told}}

    def before(self, reading, named):
        true, wear, pit = self.places[reading["id"]]
        then = true + wear * min(self.pace, 1.0) + self.setting + self.chance.normal(0, np.hypot(0.05, self.local))
        told = {**reading, "plate_mm": self.rounded(then)}
        if "pit_depth_mm" in told:
            told["pit_depth_mm"] = min(
                self.rounded(pit * (1 - min(self.pace, 1.0)) * self.chance.uniform(0.5, 1.5)), told["plate_mm"]
            )
        if not named:
            out = self.chance.normal(0, 0.1)
            told |= {
                "id": f"then-{reading['id']}",
                "station_m": round(float(np.clip(told["station_m"] + out, 0, self.length)), 1),
            }
        return told

    def zone(self, zone, count):
        """Read a zone: stations along both sides, on several plates, some of them of another original."""
        original = original_of(self.notation, zone)
        plates = int(self.chance.integers(1, 5))
        offsets = self.chance.normal(0.1, self.scatter / 2, plates)
        inserts = self.chance.random(plates) < 0.05
        stations = np.sort(self.chance.uniform(0, self.length, (count + 1) // 2 if self.systematic else count))
        places = (
            [(station, side) for side in ("port", "starboard") for station in stations]
            if self.systematic
            else [(station, self.chance.choice(["port", "starboard"])) for station in stations]
        )
        common = dict.fromkeys(stations, 0.0) | {s: self.chance.gamma(2, self.wear * self.age / 4) for s in stations}
        for number, (station, side) in enumerate(places[:count]):
            plate = int(station / self.length * plates * 0.999)
            own = 5.0 if inserts[plate] else original
            yield self.reading(f"{zone}-{number}", zone, side, station, own, offsets[plate], common[station]) | (
                {"original_mm": own} if inserts[plate] else {}
            )

    def reading(self, name, zone, side, station, original, offset, common):
        lower, upper = class_a_limits(original)
        wear = self.chance.gamma(1.5, self.wear * self.age / 3 + 1e-9, self.spots) + common
        true = original + self.mill(offset, float(lower), float(upper)) - wear
        pits = np.minimum(self.chance.exponential(self.pit * self.age, self.spots), np.minimum(0.3 * self.age, 0.6 * true))
        worst = int(np.argmin(true - pits))
        self.places[name] = true[worst], wear[worst], pits[worst]
        read = self.rounded(true[worst] + self.chance.normal(0, 0.05))
        pit = {"pit_depth_mm": min(self.rounded(pits[worst]), read)} if self.chance.random() < self.pits_told else {}
        return {"id": name, "zone": zone, "side": str(side), "station_m": round(float(station), 1), "plate_mm": read, **pit}

    def mill(self, offset, lower, upper):
        """Return new plate at each spot, less its nominal: what a mill delivers, nothing beyond."""
        drawn = self.chance.normal(offset, self.scatter, (64, self.spots))
        allowed = (drawn >= lower) & (drawn <= upper)
        return drawn[np.argmax(allowed, axis=0), np.arange(self.spots)].clip(lower, upper)

    def rounded(self, value):
        return max(round(round(float(value) / self.step) * self.step, 3), 0.0)


def found_in(survey):
    """Return the answer, and the codes of its findings."""
    arguments = {**DEFAULTS, **survey}
    result = survey_consistency(**arguments)
    codes = {finding.code for finding in FINDINGS if any(True for _ in finding.applies(arguments, result))}
    return SimpleNamespace(result=result, codes=codes)


DEFAULTS = dict(survey_consistency.__kwdefaults__)


def percent(hits, of):
    """Return a share with its exact 95 % interval (Clopper and Pearson's, by scipy)."""
    band = binomtest(hits, of).proportion_ci(0.95)
    return f"{100 * hits / of:.2f} % ({100 * band.low:.2f} to {100 * band.high:.2f})"


@pytest.mark.parametrize(("kind", "readings"), [("30 to 120 readings", None), ("250 readings", 250)])
def test_honest_surveys_are_seldom_asked_about(study, kind, readings):
    """No more often than the level says for values among themselves, and never for anything else."""
    count = study.size(100 if readings is None else 25, 4000 if readings is None else 1000)
    chance = np.random.default_rng(11 if readings is None else 12)
    answers = [found_in(Surveyor(chance, readings).survey()) for _ in range(count)]
    hits = {code: sum(code in told.codes for told in answers) for code in (finding.code for finding in FINDINGS)}
    of_values = sum(bool(told.codes & set(VALUE_CODES)) for told in answers)
    asked = sum(not told.result.consistent for told in answers)
    no_query = sum(told.result.standing == Standing.NO_QUERY for told in answers)
    rows = [(f"`{code}`", hits[code], percent(hits[code], count)) for code in hits if hits[code] or code in VALUE_CODES]
    rows += [("any query on the values", of_values, percent(of_values, count)), ("any query", asked, percent(asked, count))]
    rows += [("standing no_query", no_query, percent(no_query, count))]
    study.table(f"survey-consistency, {count} honest surveys of {kind}", ("", "surveys", "share (95 %)"), rows)
    # As many as would be met once in a thousand studies at the level that is claimed.
    assert of_values <= binom.isf(0.001, count, ALPHA)
    assert {code for code in hits if hits[code]} <= {*VALUE_CODES, *NOTES}


def new_hull(chance, step):
    """Return the surveyor of a hull without wear, whose plates scatter as little as may be."""
    surveyor = Surveyor(chance)
    surveyor.wear, surveyor.pit, surveyor.age, surveyor.scatter, surveyor.step = 0.0, 0.001, 3, 0.15, step
    return surveyor


@pytest.mark.parametrize("step", [0.1, 0.2, 0.5, 1.0])
def test_a_new_hull_is_seldom_asked_why_it_does_not_scatter(study, step):
    """However coarsely it was read: the hardest case for readings that say the same, and for two surveys that do."""
    count = study.size(40, 1000)
    chance = np.random.default_rng(14)
    answers = [found_in(new_hull(chance, step).with_previous(0.5)) for _ in range(count)]
    codes = ("no_spread", "values_repeat", *BESIDE_CODES)
    rows = [(f"`{code}`", sum(code in told.codes for told in answers)) for code in codes]
    asked = sum(bool(told.codes & set(codes)) for told in answers)
    rows = [(code, hits, percent(hits, count)) for code, hits in [*rows, ("any of them", asked)]]
    study.table(f"survey-consistency, {count} new hulls read at {step} mm", ("", "pairs of surveys", "share (95 %)"), rows)
    assert asked <= binom.isf(0.001, count, ALPHA)


@pytest.mark.parametrize("kind", ["30 to 120 readings", "250 readings"])
def test_honest_pairs_of_surveys_are_seldom_asked_about(study, kind):
    """No more often than the levels of both kinds of test say, and never for anything but values."""
    readings = None if kind.startswith("30") else 250
    count = study.size(60 if readings is None else 15, 4000 if readings is None else 1000)
    chance = np.random.default_rng(15 if readings is None else 16)
    answers = [found_in(Surveyor(chance, readings).with_previous()) for _ in range(count)]
    hits = {code: sum(code in told.codes for told in answers) for code in (finding.code for finding in FINDINGS)}
    beside = sum(bool(told.codes & set(BESIDE_CODES)) for told in answers)
    asked = sum(not told.result.consistent for told in answers)
    rows = [(f"`{code}`", hits[code], percent(hits[code], count)) for code in BESIDE_CODES]
    rows += [
        ("any of them", beside, percent(beside, count)),
        ("any query", asked, percent(asked, count)),
    ]
    for code in BESIDE_CODES:
        could = sum(outcome_of(told.result, code) != Outcome.NOT_JUDGED for told in answers)
        rows.append((f"`{code}` could be judged", could, percent(could, count)))
    study.table(f"survey-consistency, {count} honest pairs of surveys of {kind}", ("", "pairs", "share (95 %)"), rows)
    assert beside <= binom.isf(0.001, count, ALPHA)
    assert asked <= binom.isf(0.001, count, 2 * ALPHA)
    assert {code for code in hits if hits[code]} <= {*VALUE_CODES, *BESIDE_CODES, *NOTES}


def outcome_of(result, code):
    return next(check.outcome for check in result.checks if check.code == code)


# -- faults to plant: each changes an honest survey in one way --


def of_zone(survey, zone):
    return [reading for reading in survey["readings"] if reading["zone"] == zone]


def largest(survey):
    return max(ZONES, key=lambda zone: len(of_zone(survey, zone)))


def one(survey, chance):
    return survey["readings"][int(chance.integers(len(survey["readings"])))]


def favourites(survey, chance):
    """Type five values a zone, some oftener than others, over the range that was read."""
    for zone in ZONES:
        read = of_zone(survey, zone)
        values = np.array([reading["plate_mm"] for reading in read])
        five = np.round(np.quantile(values, [0.05, 0.25, 0.5, 0.75, 0.95]), 1)
        for reading in read:
            reading["plate_mm"] = float(chance.choice(five, p=[0.1, 0.25, 0.3, 0.25, 0.1]))


def one_value(survey, _chance):
    for reading in of_zone(survey, largest(survey)):
        reading["plate_mm"] = 5.8


def all_alike(count, value):
    """Type one value so often in the zone that was read the most; what else was read there goes."""

    def plant(survey, _chance):
        read = of_zone(survey, largest(survey))
        gone = {reading["id"] for reading in read[count:]}
        for reading in read:
            reading["plate_mm"] = value
            reading.pop("pit_depth_mm", None)
            reading.pop("original_mm", None)
        survey["readings"] = [reading for reading in survey["readings"] if reading["id"] not in gone]

    return plant


twenty_fine, twenty_halves = all_alike(20, 9.4), all_alike(20, 9.5)


def one_value_a_zone(survey, _chance):
    for zone in dict.fromkeys(reading["zone"] for reading in survey["readings"]):
        value = round(float(np.median([reading["plate_mm"] for reading in of_zone(survey, zone)])), 1)
        for reading in of_zone(survey, zone):
            reading["plate_mm"] = value if round(2 * value, 6) % 1 else round(value + 0.1, 1)


def implausible(survey, _chance):
    """Type 91 for 9.1 throughout, of plate whose original nobody knows."""
    survey["plating_notation"] = None
    for reading in survey["readings"]:
        reading["plate_mm"] = round(10 * reading["plate_mm"], 2)
        reading.pop("original_mm", None)


def halves(survey, chance):
    for reading in survey["readings"]:
        if chance.random() < 0.5:
            reading["plate_mm"] = round(2 * reading["plate_mm"]) / 2


def digits(choice):
    """Keep the millimetres and invent the last digit."""

    def plant(survey, chance):
        for reading in survey["readings"]:
            reading["plate_mm"] = round(int(reading["plate_mm"]) + int(chance.choice(choice)) / 10, 1)

    return plant


def side_copied(survey, chance):
    for zone in ZONES:
        port = [reading for reading in of_zone(survey, zone) if reading["side"] == "port"]
        others = [reading for reading in survey["readings"] if not (reading["zone"] == zone and reading["side"] == "starboard")]
        copies = [{**reading, "id": f"{reading['id']}-s{chance.integers(1)}", "side": "starboard"} for reading in port]
        survey["readings"] = [*others, *copies]


def zone_copied(survey, _chance):
    read = of_zone(survey, "side")
    survey["readings"] = [reading for reading in survey["readings"] if reading["zone"] != "chine"]
    survey["readings"] += [{**reading, "id": f"copy-{reading['id']}", "zone": "chine"} for reading in read]


def point_lost(survey, chance):
    reading = one(survey, chance)
    reading["plate_mm"] = round(10 * reading["plate_mm"], 2)


def point_gained(survey, chance):
    reading = one(survey, chance)
    reading["plate_mm"] = round(reading["plate_mm"] / 10, 3)
    reading.pop("pit_depth_mm", None)


def inches(*zones):
    def plant(survey, _chance):
        for reading in survey["readings"]:
            if not zones or reading["zone"] in zones:
                reading["plate_mm"] = round(reading["plate_mm"] / 25.4, 3)
                reading.pop("pit_depth_mm", None)

    return plant


def inches_unplated(survey, chance):
    inches()(survey, chance)
    survey["plating_notation"] = None


def swapped(survey, _chance):
    first, second, *rest = survey["plating_notation"].split("/")
    survey["plating_notation"] = "/".join([second, first, *rest])


def turned(survey, _chance):
    survey["plating_notation"] = "/".join(reversed(survey["plating_notation"].split("/")))


def original_too_small(survey, _chance):
    first, *rest = survey["plating_notation"].split("/")
    survey["plating_notation"] = "/".join([f"{float(first) * 0.75:g}", *rest])


def over_mill(survey, chance):
    for reading in chance.choice(of_zone(survey, "side"), 2, replace=False):
        reading["plate_mm"] = round(original_of(survey["plating_notation"], "side") + 1.6, 1)
        reading.pop("original_mm", None)


def pit_through(survey, chance):
    reading = one(survey, chance)
    reading["pit_depth_mm"] = round(reading["plate_mm"] + 1.5, 1)


def station_beyond(survey, chance):
    one(survey, chance)["station_m"] = survey["hull"]["length_m"] + 1.0


def zone_unplated(survey, _chance):
    zones = dict.fromkeys(reading["zone"] for reading in survey["readings"])
    notation, survey["plating_notation"] = survey["plating_notation"], None
    survey["plating"] = [{"zone": z, "original_mm": original_of(notation, z)} for z in zones if z != "swim"]


def side_unread(survey, _chance):
    survey["readings"] = [reading for reading in survey["readings"] if reading["side"] == "port"]


def thin_cover(survey, _chance):
    survey["plating"] = [{"zone": "side", "original_mm": 6.0, "area_m2": 2.0 * len(of_zone(survey, "side")) + 1}]


def built_lately(survey, _chance):
    survey["built_on"] = (survey["surveyed_on"] - timedelta(days=200)).isoformat()
    for reading in of_zone(survey, "side")[:2]:
        reading["plate_mm"] = round(reading["plate_mm"] * 0.6, 1)


def sets(**members):
    def plant(survey, _chance):
        survey.update({name: value(survey) for name, value in members.items()})

    return plant


def fitted(year):
    def plant(survey, chance):
        one(survey, chance)["fitted_on"] = str(year(survey))

    return plant


def same_id(survey, _chance):
    survey["readings"][1]["id"] = survey["readings"][0]["id"]


def misspelt(survey, _chance):
    for reading in of_zone(survey, "baseplate"):
        reading["zone"] = "base plate"


# -- faults between two surveys --


def then_as_now(share, zones=None):
    """Send this survey's plate for that of the previous one, at a share of its places."""

    def plant(survey, chance):
        now = {reading["id"]: reading["plate_mm"] for reading in survey["readings"]}
        for reading in survey["previous_survey"]["readings"]:
            if chance.random() < share and (zones is None or reading["zone"] in zones):
                reading["plate_mm"] = now[reading["id"].removeprefix("then-")]
                reading.pop("pit_depth_mm", None)

    return plant


def times(factor, *, then=False, zones=None):
    """Multiply what one of the two surveys read, in all or some zones."""

    def plant(survey, _chance):
        for reading in (survey["previous_survey"] if then else survey)["readings"]:
            if zones is None or reading["zone"] in zones:
                reading["plate_mm"] = round(min(reading["plate_mm"] * factor, 200.0), 3)
                reading.pop("pit_depth_mm", None)

    return plant


def both_read(survey):
    """Return a reading of this survey whose place the previous one read."""
    then = {reading["id"].removeprefix("then-") for reading in survey["previous_survey"]["readings"]}
    return next(reading for reading in of_zone(survey, largest(survey)) if reading["id"] in then)


def half_gone(survey, _chance):
    reading = both_read(survey)
    reading["plate_mm"] = round(0.4 * reading["plate_mm"], 1)
    reading.pop("pit_depth_mm", None)


def thicker(millimetres, share=1.0):
    def plant(survey, chance):
        for reading in survey["readings"]:
            if chance.random() < share:
                reading["plate_mm"] = round(reading["plate_mm"] + millimetres, 2)

    return plant


#: Each with the years between the surveys; None = some.
BETWEEN = {
    "this survey's plate sent for the previous survey's": (then_as_now(1.0), "repeats_previous", None, 0.8),
    "the same, one in twenty changed": (then_as_now(0.95), "repeats_previous", None, 0.6),
    "the same in the sides alone": (then_as_now(1.0, ("side",)), "repeats_previous", None, 0.4),
    "this survey ten times the previous": (times(10), "previous_in_other_unit", None, 0.99),
    "the previous survey ten times this": (times(10, then=True), "previous_in_other_unit", None, 0.99),
    "this survey in inches": (times(1 / 25.4), "previous_in_other_unit", None, 0.99),
    "the previous survey in inches": (times(1 / 25.4, then=True), "previous_in_other_unit", None, 0.99),
    "the sides ten times the previous": (times(10, zones=("side",)), "previous_in_other_unit", None, 0.97),
    "one place that lost 60 % within a year": (half_gone, "lost_too_fast_since_previous", 1.0, 0.8),
    "this survey 0.3 mm thicker than it is": (thicker(0.3), "thicker_than_previous", 1.0, 0.05),
    "this survey 0.6 mm thicker than it is": (thicker(0.6), "thicker_than_previous", 1.0, 0.8),
    "two places in five 1.5 mm thicker": (thicker(1.5, 0.4), "thicker_than_previous", 1.0, 0.7),
}


def test_what_is_planted_between_two_surveys_is_found(study):
    """As for one survey; a previous survey is sent with each."""
    count = study.size(4, 300)
    chance = np.random.default_rng(17)
    rows = []
    for name, (plant, code, years, least) in BETWEEN.items():
        hits = 0
        for _ in range(count):
            surveyor = Surveyor(chance)
            surveyor.age = max(surveyor.age, 5)
            survey = copy.deepcopy(surveyor.with_previous(years))
            plant(survey, chance)
            hits += code in found_in(survey).codes
        rows.append((name, f"`{code}`", percent(hits, count)))
        assert hits >= binom.ppf(0.0005, count, least), name
    study.table(f"survey-consistency, {count} pairs of surveys with each fault", ("fault", "finding", "found (95 %)"), rows)


BACKWARDS = [{"zone": "side", "from_m": 6.0, "to_m": 2.0, "original_mm": 6.0}]
TWICE = [{"zone": "tank", "original_mm": 4.0}] * 2
FAULTS = {
    "five favourite values typed in every zone": (favourites, {"values_repeat", "last_digits_improbable"}, 0.5),
    "one value throughout the largest zone (150 readings)": (one_value, {"no_spread"}, 0.85),
    "twenty readings of a zone, all 9.4": (twenty_fine, {"no_spread"}, 0.8),
    "twenty readings of a zone, all 9.5, the others in tenths": (twenty_halves, {"no_spread"}, 0.7),
    "one value a zone": (one_value_a_zone, {"no_spread"}, 0.9),
    "ten times throughout, no plating": (implausible, {"plate_implausible", "plate_unusually_thick"}, 0.99),
    "half of the readings rounded to halves": (halves, {"values_repeat", "last_digits_improbable"}, 0.5),
    "last digits invented, all ten alike": (digits(range(10)), set(VALUE_CODES), 0.0),
    "last digits invented, 3 and 7 preferred": (digits([3, 3, 3, 7, 7, 7, *range(10)]), set(VALUE_CODES), 0.25),
    "the starboard side copied from port": (side_copied, {"sides_alike"}, 0.8),
    "the chine copied from the side": (zone_copied, {"runs_alike"}, 0.4),
    "a decimal point lost (98 for 9.8)": (point_lost, {"decimal_point_lost"}, 0.97),
    "a decimal point gained (0.98 for 9.8)": (point_gained, {"decimal_point_lost"}, 0.8),
    "every reading in inches": (inches(), {"looks_like_inches"}, 0.99),
    "every reading in inches, no plating": (inches_unplated, {"looks_like_inches"}, 0.99),
    "one zone in inches": (inches("side"), {"looks_like_inches"}, 0.99),
    "notation with bottom and sides swapped": (swapped, {"notation_contradicted"}, 0.7),
    "notation from the top down": (turned, {"notation_contradicted"}, 0.9),
    "a bottom of a quarter less in the notation": (original_too_small, {"plate_over_mill_tolerance"}, 0.9),
    "two readings 1.6 mm over the original": (over_mill, {"plate_over_mill_tolerance"}, 0.99),
    "a pit 1.5 mm deeper than its plate": (pit_through, {"pit_deeper_than_plate"}, 1.0),
    "a station beyond the hull": (station_beyond, {"station_beyond_hull"}, 1.0),
    "a zone that the plating leaves out": (zone_unplated, {"zone_unplated"}, 0.9),
    "one side unread": (side_unread, {"side_unread"}, 1.0),
    "fewer than 29 readings in a zone": (sets(), {"few_readings"}, 0.99),
    "over 2 m2 to a reading": (thin_cover, {"few_readings_for_area"}, 1.0),
    "a third gone in 200 days": (built_lately, {"rate_very_high"}, 0.9),
    "built after the survey": (sets(built_on=lambda s: str(s["surveyed_on"].year + 1)), {"day_not_possible"}, 1.0),
    "a day that no calendar has": (sets(built_on=lambda _: "2009-02-30"), {"day_not_possible"}, 1.0),
    "plate fitted after the survey": (fitted(lambda s: s["surveyed_on"].year + 1), {"day_not_possible"}, 1.0),
    "plate fitted before the boat was built": (fitted(lambda s: int(s["built_on"]) - 2), {"fitted_before_built"}, 1.0),
    "older than was asked": (sets(as_of=lambda s: s["surveyed_on"] + timedelta(days=800)), {"survey_too_old"}, 1.0),
    "as of a day before the survey": (sets(as_of=lambda s: s["surveyed_on"] - timedelta(1)), {"as_of_before_survey"}, 1.0),
    "two readings of one id": (same_id, {"id_not_unique"}, 1.0),
    "the bottom's name misspelt": (misspelt, {"unknown_zone"}, 1.0),
    "a part that ends before it begins": (sets(plating=lambda _: BACKWARDS), {"range_backwards"}, 1.0),
    "a part plated twice": (sets(plating=lambda _: TWICE), {"plating_stated_twice"}, 1.0),
}


#: How many readings a survey has in which something is planted, where not 30 to 120.
READINGS = {one_value: 300, twenty_fine: 120, twenty_halves: 120}


def test_what_is_planted_is_found(study):
    """Each fault is found at least as often as is stated here; what is not found is in the table too."""
    count = study.size(4, 300)
    chance = np.random.default_rng(13)
    rows = []
    for name, (plant, codes, least) in FAULTS.items():
        hits = 0
        for _ in range(count):
            surveyor = Surveyor(chance, READINGS.get(plant))
            survey = copy.deepcopy(surveyor.survey())
            plant(survey, chance)
            hits += bool(found_in(survey).codes & codes)
        rows.append((name, ", ".join(f"`{code}`" for code in sorted(codes)), percent(hits, count)))
        assert hits >= binom.ppf(0.0005, count, least), name
    study.table(f"survey-consistency, {count} surveys with each fault", ("fault", "finding", "found (95 %)"), rows)
