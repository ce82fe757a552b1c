"""An answer agrees with itself: sentences, findings, working, sources and assumptions tell of the figures that it holds.

Each check is made of the example and of a spread of requests that between them reach every state and every finding that a
calculation declares. Figures come from the answer and from what was sent, never from the code that wrote the sentence.
"""

import json
import random
import re
from itertools import groupby
from string import Formatter

import orjson
import pytest

from platemargin.attack_evidence import FORMS as FORM_NAMES
from platemargin.quantities import DECIMALS, decimals_of
from platemargin_api.answer import arguments_of, load
from platemargin_api.app import create_app
from platemargin_api.registry import load_registry
from platemargin_api.testing import evaluate

registry = load_registry()
client = create_app(registry).test_client()


# The requests

BASE = {
    "residual-thickness": {"original_mm": 10.0, "plate_mm": 8.8, "pit_depth_mm": 2.6},
    "corrosion-rate": {"original_mm": 10.0, "residual_mm": 6.2, "years_in_service": 16.0},
    "remaining-life": {"original_mm": 10.0, "residual_mm": 6.2, "years_in_service": 16.0, "threshold_mm": 4.0},
    "plate-margin": {"original_mm": 10.0, "plate_mm": 8.8, "pit_depth_mm": 2.6, "years_in_service": 16.0},
}
PREVIOUS = {"previous_mm": 7.5, "years_since_previous": 4.0}

#: What each request changes in the base of its calculation; None = not sent.
STATES = {
    "residual-thickness": [
        {"pit_depth_mm": None},
        {"pit_depth_mm": 0.0},
        {"pit_depth_mm": 8.8},
        {"pit_depth_mm": 9.3},
        {"pit_depth_mm": 8.7996},
        {"plate_mm": 0.0, "pit_depth_mm": None},
        {"plate_mm": 0.0, "pit_depth_mm": 0.4},
        {"plate_mm": 10.0, "pit_depth_mm": None},
        {"plate_mm": 10.4, "pit_depth_mm": 0.4},
        {"plate_mm": 10.9, "pit_depth_mm": 2.0},
        {"plate_mm": 11.0, "pit_depth_mm": 0.1},
        {"original_mm": 0.5, "plate_mm": 200.0, "pit_depth_mm": 0.0},
        {"original_mm": 10.1234567, "plate_mm": 8.8765432, "pit_depth_mm": 2.6543219},
        {"original_mm": 6, "plate_mm": 4.6, "pit_depth_mm": 0.6},
    ],
    "corrosion-rate": [
        {"environment": "fresh_water", "general_loss_mm": 0.2},
        {"environment": "polluted_fresh_water", "general_loss_mm": 1.2, "faces": 2},
        {"environment": "sea_splash", "general_loss_mm": 3.0, "years_in_service": 33.0},
        {"environment": "sea_immersed", "general_loss_mm": -0.4, "years_in_service": 62.5},
        {"environment": "sea_immersed", "years_in_service": 110.0},
        {"environment": "fresh_water", "general_loss_mm": 2.0, "years_in_service": 101.0, "protected_years": 1.0},
        {"protected_years": 5.0},
        {"protected_years": 15.99},
        {"residual_mm": 10.0},
        {"residual_mm": 10.4},
        PREVIOUS,
        {**PREVIOUS, "previous_mm": 6.3},
        {**PREVIOUS, "previous_mm": 5.4},
        {**PREVIOUS, "previous_mm": 7.3, "previous_standard_uncertainty_mm": 1.5},
        {**PREVIOUS, "previous_mm": 9.9, "residual_standard_uncertainty_mm": 0.15},
        {"original_mm": 10.1234567, "residual_mm": 6.7654321, "years_in_service": 16.1234567},
    ],
    "remaining-life": [
        {**PREVIOUS, "exponent": 0.5},
        {"residual_mm": 3.9},
        {"residual_mm": 4.0},
        {"residual_mm": 4.1},
        {"residual_mm": 4.3, "confidence": 0.99},
        {"residual_mm": 9.9},
        {"residual_mm": 10.0},
        {"residual_mm": 10.6},
        {"residual_mm": 9.7, "original_standard_uncertainty_mm": 0.05, "surveyed_on": "2024-02-29"},
        {"exponent": 0.7},
        {"exponent": 1.6, "surveyed_on": "2026-05-04"},
        {"rate_factor": 0.5},
        {"rate_factor": 0.0},
        {"rate_factor": 3.0, "exponent": 0.8, "years_ahead": 4.0},
        {"threshold_mm": 10.0},
        {"threshold_mm": 12.0, "residual_mm": 12.5},
        {"original_mm": 2.5, "residual_mm": 1.9, "threshold_mm": 1.2},
        {**PREVIOUS, "surveyed_on": "2026-05-04"},
        {**PREVIOUS, "previous_mm": 5.4},
        {**PREVIOUS, "previous_mm": 7.3, "previous_standard_uncertainty_mm": 1.5},
        {"protected_years": 5.0, "interval_cap_years": 2.5},
        {"threshold_mm": 0.0, "years_ahead": 200.0},
        {"original_mm": 10.1234567, "residual_mm": 6.7654321, "threshold_mm": 4.0004567},
    ],
    "plate-margin": [
        {**PREVIOUS, "exponent": 0.5},
        {"rate_factor": 0.0},
        {"pit_depth_mm": None},
        {"pit_depth_mm": 4.8},
        {"pit_depth_mm": 4.9},
        {"pit_depth_mm": 9.0},
        {"plate_mm": 0.0, "pit_depth_mm": None},
        {"plate_mm": 10.2, "pit_depth_mm": None},
        {"plate_mm": 11.2, "pit_depth_mm": 1.0},
        {"environment": "fresh_water", "surveyed_on": "2026-05-04"},
        {"environment": "sea_splash", "faces": 2, "years_in_service": 40.0},
        {"environment": "polluted_fresh_water", "years_in_service": 130.0},
        {**PREVIOUS, "exponent": 0.9},
        {**PREVIOUS, "previous_mm": 5.2},
        {**PREVIOUS, "previous_mm": 7.3, "previous_standard_uncertainty_mm": 1.5},
        {"rate_factor": 0.8, "confidence": 0.5},
        {"threshold_mm": 11.0},
        {"original_mm": 2.0, "plate_mm": 1.8, "pit_depth_mm": 0.2, "threshold_mm": 1.0},
        {"plate_standard_uncertainty_mm": 0.1, "pit_standard_uncertainty_mm": 0.05, "protected_years": 6.0},
        {"plate_mm": 12.1, "pit_depth_mm": 3.0},
        {"plate_mm": 4.2, "pit_depth_mm": None},
        {"original_mm": 10.1234567, "plate_mm": 8.8765432, "pit_depth_mm": 2.6543219, "years_in_service": 15.4321},
    ],
}


def drawn(calculation, chance):
    """Return one more request of a calculation, as a gauge would give it: tenths and hundredths of a millimetre."""
    original = chance.choice([3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0])
    plate = round(original * chance.uniform(0.55, 1.03), chance.choice([1, 2]))
    pit = round(plate * chance.uniform(0.0, 0.6), 1)
    age = round(chance.uniform(2, 45), chance.choice([0, 1]))
    reading = {"plate_mm": plate, **({"pit_depth_mm": pit} if chance.random() < 0.7 else {})}
    left = {"residual_mm": round(plate - pit, 2)}
    request = {"original_mm": original, **(reading if calculation in ("residual-thickness", "plate-margin") else left)}
    if calculation == "residual-thickness":
        return request
    request["years_in_service"] = age
    if chance.random() < 0.4:
        request["protected_years"] = round(age * chance.uniform(0, 0.6), 1)
    if chance.random() < 0.4:
        request["previous_mm"] = round(left["residual_mm"] + chance.uniform(-0.2, 1.5), 1)
        request["years_since_previous"] = round(age * chance.uniform(0.2, 0.9), 1)
    if calculation != "remaining-life" and chance.random() < 0.5:
        request["environment"] = chance.choice(["fresh_water", "polluted_fresh_water", "sea_splash", "sea_immersed"])
        if calculation == "corrosion-rate":
            request["general_loss_mm"] = round(original - plate, 2)
    if calculation != "corrosion-rate":
        request["threshold_mm"] = round(original * chance.uniform(0.3, 0.7), 1)
        if chance.random() < 0.3:
            request["exponent"] = round(chance.uniform(0.6, 1.4), 1)
    return request


def elementwise_requests():
    for calculation, changes in STATES.items():
        requests = [{**BASE[calculation], **change} for change in changes]
        chance = random.Random(calculation)  # noqa: S311  the same every time, no secret
        requests += [drawn(calculation, chance) for _ in range(32 - len(requests))]
        for number, request in enumerate(requests):
            sent = {name: value for name, value in request.items() if value is not None}
            yield pytest.param(calculation, sent, id=f"{calculation}-{number}")


HULL = {"length_m": 17.5, "beam_m": 2.1, "draught_m": 0.65}


def reading(name, zone, plate, pit=None, side="port", **more):
    return {"id": name, "zone": zone, "side": side, "plate_mm": plate, **({} if pit is None else {"pit_depth_mm": pit}), **more}


GOOD_READINGS = [
    reading("aft", "baseplate", 8.8, 2.6, station_m=14.2),
    reading("mid", "baseplate", 9.8, 2.8, side="starboard", station_m=9.0),
    reading("bow", "side", 5.6, 0.3, station_m=2.0),
    reading("bow-s", "side", 5.5, 0.0, side="starboard", station_m=2.0),
    reading("chine", "chine", 5.4, 0.5, side="starboard", station_m=8.0),
    reading("swim", "swim", 5.2, 0.2, station_m=16.0),
    reading("counter", "counter", 5.8, 0.1, station_m=17.0),
]
LIMIT = {"id": "own", "severity": "act", "statement": "Our terms.", "reference": "Own terms"}


def survey(**changes):
    whole = {
        "hull": HULL,
        "built_on": "2008-06",
        "surveyed_on": "2024-12-31",
        "as_of": "2025-03-01",
        "plating_notation": "10/6/5",
        "readings": GOOD_READINGS,
        **changes,
    }
    return {name: value for name, value in whole.items() if value is not None}


def and_readings(*more):
    return {"readings": [*GOOD_READINGS, *more]}


def random_survey():
    chance = random.Random(17)  # noqa: S311  the same every time, no secret
    readings = []
    for index in range(120):
        zone = chance.choice(["baseplate", "side", "chine", "swim", "counter", "cabin-side"])
        original = {"baseplate": 10.0, "cabin-side": 5.0}.get(zone, 6.0)
        plate = round(original - chance.uniform(0, 1.6), 1)
        pit = round(chance.uniform(0, 1.8), 1) if chance.random() < 0.5 else None
        readings.append(reading(f"n{index}", zone, plate, pit, chance.choice(["port", "starboard"])))
    return survey(readings=readings, rule_sets=["trade-practice", "loss-fraction", "loss-fraction-light"])


SURVEYS = {
    "sound": survey(),
    "below the watch limit": survey(**and_readings(reading("thin", "side", 4.5, 0.6))),
    "below the act limit": survey(**and_readings(reading("thin", "side", 4.5, 1.2), reading("thin-2", "chine", 4.0, 0.6))),
    "at the limit": survey(**and_readings(reading("at", "side", 4.6, 0.6))),
    "holed": survey(**and_readings(reading("hole", "swim", 3.0, holed=True), reading("pit", "chine", 3.0, 3.3))),
    "nearly below": survey(**and_readings(reading("nearly", "side", 4.2, 0.1))),
    "a misspelt zone": survey(**and_readings(reading("x", "base plate", 8.0), reading("y", "mast", 3.0))),
    "unread": survey(readings=[reading("aft", "baseplate", 8.8, 2.6)]),
    "no original": survey(plating_notation=None),
    "one original": survey(plating_notation=None, plating=[{"zone": "side", "original_mm": 6.0}]),
    "no age": survey(built_on=None),
    "too young": survey(built_on="2024-12"),
    "no loss": survey(readings=[reading("a", "baseplate", 10.0, 0.0), reading("b", "side", 6.2, 0.1, "starboard")]),
    "over the mill": survey(**and_readings(reading("thick", "side", 7.4, 0.1), reading("thick-2", "side", 6.3, 0.1))),
    "slipped decimal points": survey(
        **and_readings(
            reading("slip", "side", 98, 0.2, original_mm=10.0),
            reading("slip-2", "rudder", 98.0),
            reading("slip-3", "rudder", 42.1, 0.4),
            reading("thick", "skeg", 20.2),
        )
    ),
    "aluminium": survey(hull={**HULL, "material": "aluminium", "name": "Testling"}),
    "riveted": survey(hull={**HULL, "construction": "riveted", "water": "brackish"}),
    "single echo": survey(gauge={"mode": "single_echo", "through_coating": True}),
    "unknown echo": survey(gauge={"through_coating": True, "plate_standard_uncertainty_mm": 0.1}),
    "film known": survey(gauge={"mode": "single_echo", "through_coating": True, "coating_um": 312.25}),
    "film alone": survey(gauge={"mode": "single_echo", "coating_um": 400}),
    "film not stated": survey(gauge={"mode": "single_echo", "pit_standard_uncertainty_mm": 0.05}),
    "multiple echo": survey(gauge={"mode": "multiple_echo"}),
    "bare steel": survey(gauge={"mode": "single_echo", "through_coating": False}),
    "no rule": survey(rule_sets=[]),
    "own rules": survey(rules=[{**LIMIT, "quantity": "loss_percent", "at_most": 20.0, "zones": ["side", "chine"]}]),
    "a rule on pits": survey(
        rules=[{**LIMIT, "quantity": "pit_depth_mm", "at_most": 1.0, "exposures": ["immersed"]}],
        **and_readings(reading("unmeasured", "chine", 5.0)),
    ),
    "a rule that meets nothing": survey(
        rules=[{**LIMIT, "quantity": "plate_mm", "at_least": 2.5, "exposures": ["internal"]}], rule_sets=["loss-fraction"]
    ),
    "a limit that says nothing": survey(
        rules=[{**LIMIT, "quantity": "residual_mm", "at_least": 6.0, "exposures": ["immersed", "waterline"]}],
        **and_readings(reading("insert", "side", 5.9, 0.0, original_mm=6.0)),
    ),
    "rules that pass nothing": survey(
        rules=[
            {**LIMIT, "quantity": "residual_mm", "at_most": 12.0},
            {**LIMIT, "id": "own-2", "quantity": "loss_percent", "at_least": 1.5, "severity": "watch"},
            {**LIMIT, "id": "own-3", "quantity": "plate_mm", "at_least": 0.16, "exposures": ["immersed", "waterline"]},
        ]
    ),
    "rules of both kinds": survey(
        rule_sets=["trade-practice"],
        rules=[{**LIMIT, "quantity": "plate_mm", "at_least": 5.35, "zones": ["basplate", "swim"], "reference": "gum, twice"}],
        **and_readings(reading("swim-2", "swim", 5.3, 0.2)),
    ),
    "too old": survey(as_of="2030-01-01", max_survey_age_months=60),
    "used up since": survey(as_of="2044-12-31"),
    "used up soon": survey(**and_readings(reading("soon", "swim", 4.2, 0.05), reading("soon-2", "side", 3.65, 0.1))),
    "out of the water": survey(**and_readings(reading("roof", "roof", 3.1), reading("cabin", "cabin-side", 3.9))),
    "topside baseplate": survey(
        **and_readings(
            reading("dry", "baseplate", 9.6, exposure="topside"), reading("dry-2", "Chine", 5.6, exposure="internal")
        )
    ),
    "sides alone": survey(plating_notation=None, readings=[GOOD_READINGS[2], GOOD_READINGS[3]]),
    "overplated": survey(**and_readings(reading("over", "side", 5.9, 0.0, layer="overplate", original_mm=6.0))),
    "overplate alone": survey(**and_readings(reading("over", "stem", 5.9, 0.0, layer="overplate", original_mm=6.0))),
    "in parts": survey(
        plating=[
            {"zone": "baseplate", "from_m": 12.0, "original_mm": 12.0, "area_m2": 9.5, "fitted_on": "2015"},
            {"zone": "side", "original_mm": 6.0, "side": "port", "protected_years": 5.0, "area_m2": 14.0},
            {"zone": "wing", "original_mm": 5.0, "exposure": "topside"},
        ],
        unexamined=[{"zone": "baseplate", "from_m": 7.8, "to_m": 8.0, "reason": "docking_blocks"}],
        **and_readings(reading("wing", "wing", 4.9, 0.1)),
    ),
    "part by part": survey(
        plating=[
            {"zone": "side", "side": "port", "original_mm": 6.0, "original_basis": "assumed", "fitted_on": "1999"},
            {"zone": "side", "side": "starboard", "from_m": 0.0, "to_m": 1.5, "original_mm": 6.0},
            {"zone": "baseplate", "from_m": 3.0, "to_m": 6.5, "original_mm": 10.0, "fitted_on": "2014-09"},
        ],
        unexamined=[{"zone": "swim", "side": "starboard", "reason": "fouling"}],
    ),
    "limits of no use asked for": survey(thresholds_mm=[10.0, 6.0, 5.5, 5.0, 0.0]),
    "many decimals": survey(
        plating=[{"zone": "baseplate", "original_mm": 10.1234567, "protected_years": 1.2345678}],
        readings=[
            reading("aft", "baseplate", 7.6543219, 2.6543217),
            reading("mid", "baseplate", 9.8765432, 2.7654321, side="starboard"),
            *GOOD_READINGS[2:],
        ],
        gauge={
            "mode": "multiple_echo",
            "plate_standard_uncertainty_mm": 0.1234567,
            "pit_standard_uncertainty_mm": 0.2345678,
        },
        rules=[{**LIMIT, "quantity": "residual_mm", "at_least": 4.0004567, "reference": "Own terms, clause {7}"}],
    ),
    "limits asked for": survey(
        thresholds_mm=[4.0, 5.0, 3.0], confidence=0.95, what_if_original_mm=[6.0, 8.0], inside_seen=True
    ),
    "no ids": survey(readings=[{k: v for k, v in told.items() if k != "id"} for told in GOOD_READINGS]),
    "at random": random_survey(),
}
#: Needs a rule set that says what a survey has to contain; none of those that ship does.
NOT_REACHED = {"minimum_content_missing"}

CHECKS = {
    name: {
        "readings": whole["readings"],
        **{member: whole[member] for member in ("rules", "rule_sets") if member in whole},
    }
    for name, whole in SURVEYS.items()
}

NARROW = {"profile": "narrow_deep", "outline": "round"}
SLUDGE = {"deposit": "orange_over_black", "smell": "bad_eggs_with_acid"}
ATTACKS = {
    "nothing": {},
    "nothing of a pit": {"pits": [{"id": "a"}], "setting": {}},
    "galvanic": {"pits": [{**NARROW, "location": "near_propeller"}], "setting": {"dissimilar_metals_near": True}},
    "stray current": {"pits": [{**NARROW, "edge": "sharp"}], "tests": {"dc_leakage_to_hull": True}},
    "stray current perhaps": {"setting": {"stray_current_source_near": True}},
    "sulphate reducers, fast": {"pits": [{**SLUDGE, "rate_mm_per_year": 0.75}, {**SLUDGE, "rate_mm_per_year": 0.49994}]},
    "colour alone": {"pits": [{"colours": ["bright_silvery", "yellow_brown"]}]},
    "tubercles": {"tubercles": {"diameter_mm": 60.0, "density_per_m2": 30.0}, "setting": {"anodes_fitted": False}},
    "two forms at one boat": {
        "pits": [SLUDGE, {**NARROW, "location": "near_propeller"}],
        "setting": {"dissimilar_metals_near": True, "shore_power": True, "galvanic_isolator": False},
    },
    "contradictory": {"pits": [{**NARROW, **SLUDGE}], "tests": {"sulphide_in_deposit": False}},
    "size says otherwise": {
        "pits": [{"profile": "narrow_deep", "depth_mm": 1.2345678, "width_mm": 30.0}, {"depth_mm": 3.0, "width_mm": 2.0}]
    },
    "isolator unknown": {"setting": {"shore_power": True}},
    "even": {"pits": [{"distribution": "even", "deposit": "loose_rust"}], "setting": {"paint": "none", "thinning": "even"}},
}
PLANS = {
    "tubercles": {"forms": ["tubercles"], "area_m2": 30.0, "coating": {"volume_solids_percent": 80.0, "loss_percent": 20.0}},
    "all": {"forms": list(FORM_NAMES), "area_m2": 120.5, "biocide": {"agent": "isopropyl_alcohol", "contact_minutes": 20.0}},
    "afloat": {"forms": ["mechanical"], "area_m2": 0.4, "ashore": False},
    "weak": {
        "forms": ["iron_oxidising"],
        "area_m2": 12.3456789,
        "ashore": True,
        "biocide": {"agent": "isopropyl_alcohol", "concentration_percent": 60.0},
    },
    "thin and thick": {
        "forms": ["galvanic", "general"],
        "area_m2": 55.0,
        "coating": {"dry_film_um": 240.0, "coats": 1, "volume_solids_percent": 33.3333, "loss_percent": 0.0},
        "biocide": {"agent": "sodium_hypochlorite"},
    },
    "smallest": {
        "forms": ["acid_producing"],
        "area_m2": 0.01,
        "coating": {"dry_film_um": 20.0, "coats": 12, "volume_solids_percent": 100.0, "loss_percent": 0.0},
    },
}

REQUESTS = [
    *(pytest.param(name, dict(served.offered.example), id=f"{name}-example") for name, served in registry.calculations.items()),
    *elementwise_requests(),
    *(pytest.param("hull-survey", sent, id=f"hull-survey-{name}") for name, sent in SURVEYS.items()),
    *(pytest.param("threshold-check", sent, id=f"threshold-check-{name}") for name, sent in CHECKS.items()),
    *(pytest.param("attack-form", sent, id=f"attack-form-{name}") for name, sent in ATTACKS.items()),
    *(pytest.param("treatment-plan", sent, id=f"treatment-plan-{name}") for name, sent in PLANS.items()),
]
#: Calculations on readings and limits.
JUDGEMENTS = ("threshold-check", "hull-survey")
of_every_request = pytest.mark.parametrize(("calculation", "sent"), REQUESTS)
of_every_elementwise_request = pytest.mark.parametrize(
    ("calculation", "sent"), [request for request in REQUESTS if request.values[0] in STATES]
)
of_every_survey = pytest.mark.parametrize(
    ("calculation", "sent"), [request for request in REQUESTS if request.values[0] == "hull-survey"]
)
of_every_judgement = pytest.mark.parametrize(
    ("calculation", "sent"), [request for request in REQUESTS if request.values[0] in JUDGEMENTS]
)
of_every_attack_and_plan = pytest.mark.parametrize(
    ("calculation", "sent"), [request for request in REQUESTS if request.values[0] in ("attack-form", "treatment-plan")]
)

_answers = {}


def answer(calculation, sent):
    """Return the answer to a request; each is asked for once."""
    body = orjson.dumps(sent)
    if (calculation, body) not in _answers:
        told = client.post(f"/v1/calculations/{calculation}", data=body, content_type="application/json")
        assert told.status_code == 200, told.data
        _answers[calculation, body] = told.json
    return _answers[calculation, body]


def catalogue(calculation):
    return client.get(f"/v1/calculations/{calculation}").json


# Figures and how they are shown


def shown(value):
    """Write a number as a sentence does: no tail of zeros."""
    return f"{value:.6f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)


def declared(name, value):
    """Return a figure rounded as the unit that its name ends in declares."""
    return round(value, decimals_of(name)) if isinstance(value, float) else value


def figures(sent, told):
    """Return the figures of an elementwise answer by name: those sent, assumed and resulting, rounded as declared."""
    assumed = {entry["field"]: entry["value"] for entry in told["assumed"]}
    return {name: declared(name, value) for name, value in {**sent, **assumed, **told["result"]}.items()}


def figures_used(sent, told):
    """Return an elementwise answer's figures by name, as its working shows them: those sent as sent, the result's as told."""
    assumed = {entry["field"]: entry["value"] for entry in told["assumed"]}
    return {**sent, **assumed, **told["result"]}


def numbers_in(sentence):
    """Return the numbers in a sentence, without those that are part of a standard's name, a date or a word."""
    plain = re.sub(r"EN \d+(-\d+)?(:\d{4})?|\d{4}-\d{2}-\d{2}", " ", sentence)
    return re.findall(r"(?<![\w.-])-?\d+(?:\.\d+)?(?![\w-]|\.\d)", plain)


def all_numbers(value, name=""):
    """Return every number within a JSON value as a sentence would show it."""
    if isinstance(value, dict):
        return {number for key, member in value.items() for number in all_numbers(member, key)}
    if isinstance(value, list):
        return {number for item in value for number in all_numbers(item, name)}
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return set()
    return {shown(declared(name, value)), shown(abs(declared(name, value)))}


def without_names(sentence, *values):
    """Return a sentence without the ids, zones and other texts of some JSON values."""
    texts = sorted({text for value in values for text in all_texts(value)}, key=len, reverse=True)
    for text in texts:
        sentence = re.sub(rf"(?<![\w.]){re.escape(text)}(?![\w]|\.\d)", "*", sentence)
    return sentence


def all_texts(value):
    if isinstance(value, dict):
        return {text for member in value.values() for text in all_texts(member)}
    if isinstance(value, list):
        return {text for item in value for text in all_texts(item)}
    return {value} if isinstance(value, str) else set()


def test_numbers_are_found_in_a_sentence():
    sentence = "EN 10029 and EN 1993-5 on 2024-12-31: 6.2 mm (38 %), b1, -0.4, 9.26 (6.51 to 13.38), n-7, 0."
    assert numbers_in(sentence) == ["6.2", "38", "-0.4", "9.26", "6.51", "13.38", "0"]


# The summary


@of_every_request
def test_the_summary_is_one_to_five_sentences(calculation, sent):
    summary = answer(calculation, sent)["summary"]
    assert 1 <= len(summary) <= 5
    for sentence in summary:
        assert re.fullmatch(r"[A-Z0-9-].*\.", sentence)
        assert not re.search(
            r"None|nan|inf\b|null|\{|\}|  |_", without_names(sentence, sent, answer(calculation, sent)["result"])
        )


@of_every_elementwise_request
def test_the_figures_of_the_summary_are_the_answers(calculation, sent):
    told = answer(calculation, sent)
    known = figures(sent, told)
    allowed = {shown(value) for value in known.values() if isinstance(value, (int, float))}
    if "margin_mm" in known:
        allowed.add(shown(abs(known["margin_mm"])))  # so many mm below the limit
    if "confidence" in known:
        allowed.add(shown(round(100.0 * known["confidence"], 1)))  # told in percent
    for sentence in told["summary"]:
        assert set(numbers_in(sentence)) <= allowed, sentence


@of_every_judgement
def test_the_figures_of_a_judgements_summary_are_the_results(calculation, sent):
    """Counts are the result's own too; a margin is told as a distance past or within, and a confidence in percent."""
    told = answer(calculation, sent)
    result = told["result"]
    allowed = all_numbers(result)
    of_a_life = shown(round(100.0 * confidence_of(sent, told), 1)) if calculation == "hull-survey" else None
    for sentence in told["summary"]:
        numbers = numbers_in(without_names(sentence, result))
        if sentence.startswith("Next to a limit is "):
            assert f"at {of_a_life} % confidence" in sentence
            numbers.remove(of_a_life)
        assert set(numbers) <= allowed, sentence


@of_every_attack_and_plan
def test_the_figures_of_an_attacks_or_plans_sentences_are_the_answers(calculation, sent):
    told = answer(calculation, sent)
    allowed = all_numbers(told["result"]) | all_numbers(sent) | {str(len(told["result"].get("steps", [])))}
    for sentence in [*told["summary"], *(step["action"] for step in told["result"].get("steps", []))]:
        plain = re.sub(r"Sa 2 1/2|St 3|at least 70 %|3 degrees C", " ", sentence)  # grades and the trade's own limits
        assert set(numbers_in(without_names(plain, told["result"].get("surface_grade", "")))) <= allowed, sentence


@of_every_attack_and_plan
def test_the_values_of_an_attacks_or_plans_finding_are_in_the_answer_or_the_request(calculation, sent):
    told = answer(calculation, sent)
    known = all_numbers(told["result"]) | all_numbers(sent) | {str(n) for n in range(len(told["result"].get("steps", [])) + 1)}
    for finding in told["findings"]:
        assert all_numbers(finding["values"]) <= known, finding


def confidence_of(sent, told):
    return sent["confidence"] if "confidence" in sent else assumed_of(told)["confidence"]["value"]


@of_every_survey
def test_the_life_that_a_summary_tells_is_of_the_reading_that_is_first_to_a_limit(calculation, sent):
    told = answer(calculation, sent)
    sentences = [sentence for sentence in told["summary"] if sentence.startswith("Next to a limit is ")]
    first = told["result"]["first_to_limit"]
    assert len(sentences) == (first is not None)
    if first is not None:
        where = f"reading {first['reading']} in {first['zone']}: it reaches {shown(first['threshold_mm'])} mm "
        assert where in sentences[0]
        assert f"{shown(first['years_low'])} " in sentences[0].partition(where)[2]


@of_every_judgement
def test_the_first_sentence_of_a_judgement_tells_its_verdict_or_a_hole(calculation, sent):
    told = answer(calculation, sent)
    result = told["result"]
    holed = sum(is_a_hole(one) for one in sent["readings"])
    assert result["holed_count"] == holed
    begins = {
        "act": "A limit that calls for action is broken",
        "watch": "A limit that calls for watching is broken",
        "not_judged": "The plate is not passed",
        "no_limit_broken": "No limit is broken",
    }
    expected = f"The plate is holed (readings: {holed})" if holed else begins[result["verdict"]]
    assert told["summary"][0].startswith(expected)
    if holed:
        assert result["verdict"] == "act"
        assert "holed" in {finding["code"] for finding in told["findings"]}


def is_a_hole(one):
    return one.get("holed", False) or round(one["plate_mm"] - one.get("pit_depth_mm", 0.0), 3) <= 0


# Findings


@of_every_request
def test_a_finding_is_its_template_filled_with_its_values(calculation, sent):
    templates = {finding["code"]: finding for finding in catalogue(calculation)["findings"]}
    for finding in answer(calculation, sent)["findings"]:
        declared_as = templates[finding["code"]]
        assert finding["severity"] == declared_as["severity"]
        assert list(finding["values"]) == declared_as["values"]
        texts = {name: shown(value) for name, value in finding["values"].items()}
        assert finding["statement"] == declared_as["template"].format_map(texts)


@of_every_elementwise_request
def test_the_values_of_a_finding_are_the_answers_figures(calculation, sent):
    told = answer(calculation, sent)
    known = figures(sent, told)
    for finding in told["findings"]:
        assert finding["values"] == {name: known[name] for name in finding["values"]}
        assert finding.get("pointer", "").removeprefix("/") in {"", *registry.calculations[calculation].request.fields}


@of_every_judgement
def test_the_values_of_a_judgements_finding_are_in_the_answer_or_the_request(calculation, sent):
    """Two kinds are derived: a count is of readings, and the worst value of a broken rule is its limit and its margin."""
    told = answer(calculation, sent)
    known = all_numbers(told["result"]) | all_numbers(sent)
    counts = {str(count) for count in range(len(sent["readings"]) + 1)}
    rules = {rule["id"]: rule for rule in told["result"]["rules"]}
    for finding in told["findings"]:
        values = finding["values"]
        if "value" in values:
            rule = rules[values["rule"]]
            sign = 1 if values["bound"] == "below" else -1
            assert values["value"] == round(rule["limit"] + sign * rule["margin"], 3)
        for name, value in values.items():
            if name in ("count", "broken_count", "checked_count", "readings", "why", "lacks"):
                assert set(numbers_in(shown(value))) <= counts, finding
            elif isinstance(value, (int, float)) and name != "value":
                assert shown(value) in known, finding


@of_every_request
def test_a_finding_points_at_something_sent(calculation, sent):
    """A pointer leads to a member of the request, or to one that was left to its default."""
    for finding in answer(calculation, sent)["findings"]:
        *parents, last = finding.get("pointer", "/").split("/")[1:]
        place = sent
        for part in parents:
            place = place[int(part)] if isinstance(place, list) else place.get(part, {})
        if isinstance(place, list):
            assert 0 <= int(last) < len(place), finding


@pytest.mark.parametrize("calculation", registry.calculations)
def test_the_spread_reaches_every_finding_and_every_finding_is_declared(calculation):
    codes = {finding["code"] for finding in catalogue(calculation)["findings"]}
    made = {
        finding["code"]
        for request in REQUESTS
        if request.values[0] == calculation
        for finding in answer(*request.values)["findings"]
    }
    assert made <= codes
    assert codes - made <= NOT_REACHED


STATUSES = {
    "residual-thickness": {"plate_state": {"metal_remains", "thicker_than_original", "holed"}},
    "corrosion-rate": {"governing": {"long_term", "short_term"}, "short_term_significant": {True, False, None}},
    "remaining-life": {"status": {"above", "no_measurable_loss", "already_below"}, "governing": {"long_term", "short_term"}},
    "plate-margin": {"status": {"above", "no_measurable_loss", "already_below"}, "plate_state": {"metal_remains", "holed"}},
    "threshold-check": {"verdict": {"act", "watch", "not_judged", "no_limit_broken"}},
    "hull-survey": {"verdict": {"act", "watch", "not_judged", "no_limit_broken"}},
}


@pytest.mark.parametrize("calculation", STATUSES)
def test_the_spread_reaches_every_state(calculation):
    results = [answer(*request.values)["result"] for request in REQUESTS if request.values[0] == calculation]
    assert len(results) >= 30
    for name, states in STATUSES[calculation].items():
        assert {result[name] for result in results} >= states


def test_the_spread_reaches_lives_with_and_without_an_end():
    results = [answer(*request.values)["result"] for request in REQUESTS if request.values[0] == "remaining-life"]
    bands = {(result["years"] is None, result["years_low"] is None, result["years_high"] is None) for result in results}
    assert {(False, False, False), (False, False, True), (True, True, True)} <= bands


# Working


def steps(calculation, told):
    """Return each line of working with the declared step that it was filled from.

    A step whose reference is told by a function is a rule's: its line cites what the rule cites.
    """
    declared_steps = registry.calculations[calculation].offered.working
    for line in told["working"]:
        (step,) = [
            step
            for step in declared_steps
            if (step.symbol, step.formula, step.unit) == (line["symbol"], line["formula"], line["unit"])
            and (callable(step.reference) or step.reference == line["reference"])
        ]
        yield line, step


def figures_shown(template, line):
    """Return the figures that a template was filled with, by name, as they are shown."""
    pattern, seen = "", set()
    for literal, name, _, _ in Formatter().parse(template):
        pattern += re.escape(literal)
        if name is not None:
            pattern += f"(?P={name})" if name in seen else rf"(?P<{name}>-?[0-9.]+)"
            seen.add(name)
    matched = re.fullmatch(pattern, line)
    assert matched, (template, line)
    return matched.groupdict()


def half_a_unit(calculation, name, line):
    """Return how far a figure in a line of working may be from the one that was used.

    What was sent is shown as it was sent, to the six decimals that a sentence writes; what the answer tells is rounded there
    as declared, and what a rule judged is rounded as its limit is.
    """
    told_by = registry.calculations["plate-margin" if calculation in JUDGEMENTS else calculation].response.fields
    if name in told_by:
        return 0.5 * 10 ** -decimals_of(name)
    if name.startswith("rule_"):
        return 0.5 * 10 ** -DECIMALS[line["unit"]]
    return 0.5e-6


def tolerance(calculation, step, line, value):
    """Return how far a line may miss its value because its figures, and the value, are shown rounded.

    Half a unit in the last decimal of each figure in turn, either way, added up; and half of one of the value. What is of the
    second order in those is a part of it, and a tenth more is allowed for that.
    """
    texts = figures_shown(step.substituted, line["substituted"])
    total = 0.0
    for name, text in texts.items():
        half = half_a_unit(calculation, name, line)
        filled = (step.substituted.format_map({**texts, name: f"({float(text) + moved:.9f})"}) for moved in (-half, half))
        total += max(abs(evaluate(other) - value) for other in filled)
    return 1.1 * total + 0.5 * 10 ** -DECIMALS[line["unit"]] * (1 + 1e-6) + 1e-9 * abs(value)


@of_every_request
def test_every_line_of_working_evaluates_to_its_value(calculation, sent):
    told = answer(calculation, sent)
    for line, step in steps(calculation, told):
        value = evaluate(line["substituted"])
        assert abs(value - line["value"]) <= tolerance(calculation, step, line, value), line


def test_the_tolerance_is_small():
    """It is what rounding explains, not what anything passes: within a thousandth or so of the value, nearly always."""
    ratios = []
    for request in REQUESTS:
        calculation, sent = request.values
        for line, step in steps(calculation, answer(calculation, sent)):
            value = evaluate(line["substituted"])
            ratios.append(tolerance(calculation, step, line, value) / max(abs(line["value"]), 0.1))
    ratios.sort()
    assert len(ratios) > 1000
    assert ratios[len(ratios) // 2] < 0.002
    assert ratios[int(0.95 * len(ratios))] < 0.05


def test_what_was_sent_is_shown_in_the_working_as_it_was_sent():
    """Not rounded as the answer's own figures are: else a line is not what was worked out."""
    shown_as_sent = {
        "plate-margin": {"original_mm": "10.123457", "plate_mm": "8.876543", "years_in_service": "15.4321"},
        "hull-survey": {
            "original_mm": "10.123457",
            "plate_mm": "7.654322",
            "protected_years": "1.234568",
            "plate_standard_uncertainty_mm": "0.123457",
            "pit_standard_uncertainty_mm": "0.234568",
            "rule_at_least": "4.000457",
        },
        "threshold-check": {"plate_mm": "7.654322", "rule_at_least": "4.000457"},
    }
    sent = {
        "plate-margin": {**BASE["plate-margin"], **STATES["plate-margin"][-1]},
        "hull-survey": {**SURVEYS["many decimals"], "readings": SURVEYS["many decimals"]["readings"][:1]},
        "threshold-check": {**CHECKS["many decimals"], "readings": CHECKS["many decimals"]["readings"][:1]},
    }
    for calculation, expected in shown_as_sent.items():
        seen = {}
        for line, step in steps(calculation, answer(calculation, sent[calculation])):
            for name, text in figures_shown(step.substituted, line["substituted"]).items():
                seen.setdefault(name, set()).add(text)
        assert {name: seen[name] for name in expected} == {name: {text} for name, text in expected.items()}


@of_every_elementwise_request
def test_the_figures_of_the_working_are_the_answers(calculation, sent):
    told = answer(calculation, sent)
    known = figures_used(sent, told)
    assert told["working"]
    for line, step in steps(calculation, told):
        assert "of" not in line  # there is one place, and the request is of it
        for name, text in figures_shown(step.substituted, line["substituted"]).items():
            assert text == shown(known[name]), line
        assert line["value"] == known[step.value]


def worked(calculation, told):
    """Return the working as it is told, reading by reading: the name of each and its lines by what they arrive at."""
    return [
        (name, {step.value: line for line, step in lines})
        for name, lines in groupby(steps(calculation, told), key=lambda pair: pair[0]["of"])
    ]


@of_every_survey
def test_the_working_of_a_survey_is_of_the_reading_that_decides_and_of_the_first_to_a_limit(calculation, sent):
    told = answer(calculation, sent)
    result = told["result"]
    index, first = result["governing_reading_index"], result["first_to_limit"]
    governing = result["readings"][index]
    assert (governing["id"], governing["zone"]) == (result["governing_reading"], result["governing_zone"])
    others = [] if first is None or first["reading_index"] == index else [first["reading"]]
    groups = worked(calculation, told)
    assert [name for name, _ in groups] == [governing["id"], *others]

    lines = groups[0][1]
    values = {name: line["value"] for name, line in lines.items()}
    for name in ("residual_mm", "loss_mm", "loss_percent", "general_loss_mm"):
        assert (name in values) == (governing[name] is not None)
        assert values.get(name) == governing[name]
    zone = next(zone for zone in result["zones"] if zone["zone"] == governing["zone"])
    if zone["thinnest_reading_index"] == index and "years" in values:
        assert values["years"] in [threshold["years"] for threshold in zone["thresholds"]]
        assert values["long_term_mm_per_year"] == zone["rate_mm_per_year"]
    if first is not None:
        assert (result["readings"][first["reading_index"]]["id"], first["zone"]) == (
            first["reading"],
            result["readings"][first["reading_index"]]["zone"],
        )
    if others:
        values = {name: line["value"] for name, line in groups[1][1].items()}
        assert values.get("years", first["years"]) == first["years"]
        assert values.get("years_low", first["years_low"]) == first["years_low"]
        assert values.get("years_high", first["years_high"]) == first["years_high"]
        assert {"years", "years_low", "next_survey_within_years"} & set(values)
        assert "rule_margin" not in values


@of_every_survey
def test_the_reading_that_is_first_to_a_limit_is_not_above_any_zones_own(calculation, sent):
    """The thinnest reading of each zone in the water has lives of its own: none may be shorter at its lower end."""
    result = answer(calculation, sent)["result"]
    first = result["first_to_limit"]
    lives = [
        limit["years_low"]
        for zone in result["zones"]
        if zone["exposure"] in ("immersed", "waterline")
        for limit in zone["thresholds"]
        if limit["status"] != "already_below" and limit["years_low"] is not None
    ]
    assert not lives or (first is not None and first["years_low"] <= min(lives))


@of_every_judgement
def test_the_working_shows_the_margin_to_the_limit_of_the_rule_that_decides(calculation, sent):
    """The worst that is broken, else the least margin for the size of its limit; a hole needs no limit."""
    told = answer(calculation, sent)
    result = told["result"]
    groups = worked(calculation, told)
    checked = [rule for rule in result["rules"] if rule["margin"] is not None]
    margins = [(name, lines["rule_margin"]) for name, lines in groups if "rule_margin" in lines]
    if result["holed_count"] or not checked:
        assert margins == []
    else:
        severity = {"act": 2, "watch": 1}
        rule = min(
            checked,
            key=lambda one: (-severity[one["severity"]] * bool(one["broken_count"]), one["margin"] / max(one["limit"], 1e-9)),
        )
        ((name, line),) = margins
        assert name == groups[0][0] == rule["governing_reading"]
        assert (line["value"], line["unit"], line["reference"]) == (rule["margin"], rule["unit"], rule["reference"])
        assert line["formula"] == ("value - at_least" if rule["bound"] == "at_least" else "at_most - value")
        assert rule["limit"] in [round(float(number), 3) for number in numbers_in(line["substituted"])]
    if calculation == "threshold-check":
        holes = [one.get("id", str(index)) for index, one in enumerate(sent["readings"]) if is_a_hole(one)]
        assert len(groups) == (1 if holes or checked else 0)
        assert not holes or groups[0][0] in holes


# The rules


@of_every_judgement
def test_a_rules_outcome_repeats_the_rule(calculation, sent):
    told = answer(calculation, sent)["result"]["rules"]
    by_default = [] if sent.get("rules") else ["trade-practice"]
    named = [
        (name, rule) for name in sent.get("rule_sets", by_default) for rule in client.get(f"/v1/rule-sets/{name}").json["rules"]
    ]
    expected = [*named, *((None, rule) for rule in sent.get("rules", []))]
    assert len(told) == len(expected)
    for outcome, (rule_set, rule) in zip(told, expected, strict=True):
        bound = "at_most" if rule.get("at_least") is None else "at_least"
        assert (outcome["rule_set"], outcome["bound"]) == (rule_set, bound)
        assert outcome["limit"] == round(rule[bound], 3)
        for name in ("id", "severity", "statement", "reference", "quantity"):
            assert outcome[name] == rule[name]


@of_every_judgement
def test_nothing_is_passed_beside_a_finding_that_withholds_it(calculation, sent):
    told = answer(calculation, sent)
    offered = registry.calculations[calculation].offered
    withholding = {finding.code for finding in offered.findings if finding.withholds_pass}
    found = {finding["code"] for finding in told["findings"]}
    if found & {*withholding, "no_rules", "rule_not_judged"}:
        assert told["result"]["verdict"] != "no_limit_broken"
    assert told["result"]["verdict"] == "act" or not found & {"holed", "act_limit_broken"}
    assert told["result"]["verdict"] in ("act", "watch") or "watch_limit_broken" not in found


# References


@of_every_request
def test_every_reference_cited_is_given(calculation, sent):
    told = answer(calculation, sent)
    given = [reference["id"] for reference in told["references"]]
    assert len(set(given)) == len(given)
    own = {rule["reference"] for rule in sent.get("rules", [])}
    for line in told["working"]:
        # A rule of the caller's own is cited in the caller's own words.
        assert line["reference"] in given or (line["symbol"] == "margin" and line["reference"] in own), line
    for entry in told["provenance"]["rule_sets"]:
        rules = client.get(f"/v1/rule-sets/{entry['id']}").json["rules"]
        assert {rule["reference"] for rule in rules} <= set(given)


# Assumptions

LIFE = {
    "protected_years": (0.0, "year"),
    "previous_standard_uncertainty_mm": (0.25, "mm"),
    "exponent": (1.0, "1"),
    "rate_factor": (1.0, "1"),
    "confidence": (0.9, "probability"),
    "years_ahead": (10.0, "year"),
    "interval_cap_years": (5.0, "year"),
}
#: Every default of a request as the contract declares it, with its unit.
DEFAULTS = {
    "residual-thickness": {"pit_depth_mm": (0.0, "mm")},
    "corrosion-rate": {
        "protected_years": (0.0, "year"),
        "faces": (1, "1"),
        "residual_standard_uncertainty_mm": (0.25, "mm"),
        "previous_standard_uncertainty_mm": (0.25, "mm"),
    },
    "remaining-life": {**LIFE, "residual_standard_uncertainty_mm": (0.25, "mm")},
    "plate-margin": {
        **LIFE,
        "pit_depth_mm": (0.0, "mm"),
        "threshold_mm": (4.0, "mm"),
        "plate_standard_uncertainty_mm": (0.15, "mm"),
        "pit_standard_uncertainty_mm": (0.2, "mm"),
        "faces": (1, "1"),
    },
}
#: Standard uncertainty of a new plate, EN 10029:2010 class A, of the rows below 5, 8 and 15 mm.
NEW_PLATE_MM = [(5, 0.351), (8, 0.4), (15, 0.451)]


def assumed_of(told):
    """Return what an answer assumed, by field."""
    fields = [entry["field"] for entry in told["assumed"]]
    assert len(set(fields)) == len(fields)
    assert all(entry["basis"] for entry in told["assumed"])
    return {entry["field"]: entry for entry in told["assumed"]}


@of_every_elementwise_request
def test_every_default_that_is_used_is_told_and_nothing_that_was_sent(calculation, sent):
    told = assumed_of(answer(calculation, sent))
    expected = {name: value for name, value in DEFAULTS[calculation].items() if name not in sent}
    of_a_new_plate = told.pop("original_standard_uncertainty_mm", None)
    assert {name: (entry["value"], entry["unit"]) for name, entry in told.items()} == expected
    takes_one = calculation in ("remaining-life", "plate-margin")
    assert (of_a_new_plate is not None) == (takes_one and "original_standard_uncertainty_mm" not in sent)
    if of_a_new_plate is not None:
        rounded = next(u for limit, u in NEW_PLATE_MM if sent["original_mm"] < limit)
        assert (of_a_new_plate["value"], of_a_new_plate["unit"]) == (rounded, "mm")


@of_every_survey
def test_what_a_survey_assumes_is_told(calculation, sent):
    result, told = answer(calculation, sent)["result"], assumed_of(answer(calculation, sent))
    gauge = sent.get("gauge", {})
    followed = "years_ahead" in told
    stated_lives = [
        limit
        for zone in result["zones"]
        for limit in zone["thresholds"]
        if limit["status"] != "already_below" and limit["years_low"] is not None
    ]
    assert followed or not stated_lives
    supposed = {one["zone"]: one["original_mm"] for one in sent.get("plating", []) if one.get("original_basis") == "assumed"}
    expected = {
        "confidence": "confidence" not in sent,
        **{f"hull.{name}": name not in sent["hull"] for name in ("water", "material", "construction")},
        "thresholds_mm": "thresholds_mm" not in sent,
        "plating[].original_mm": bool(supposed),
        "plating[].protected_years": followed and any("protected_years" not in one for one in sent.get("plating", []) or [{}]),
        **dict.fromkeys(
            ("exponent", "rate_factor", "interval_cap_years", "original_standard_uncertainty_mm"),
            followed,
        ),
        "plating": "plating_notation" in sent,
        "built_on": len(sent.get("built_on", "YYYY-MM-DD")) < len("YYYY-MM-DD"),
        "gauge.mode": "gauge" in sent and "mode" not in gauge,
        "gauge.through_coating": gauge.get("mode") != "multiple_echo" and not {"through_coating", "coating_um"} & set(gauge),
        **{f"gauge.{name}": name not in gauge for name in ("plate_standard_uncertainty_mm", "pit_standard_uncertainty_mm")},
    }
    for field, is_assumed in expected.items():
        assert (field in told) == is_assumed, field
    if followed:
        for name in ("exponent", "rate_factor", "years_ahead", "interval_cap_years"):
            assert (told[name]["value"], told[name]["unit"]) == LIFE[name]
        originals = {zone["original_mm"] for zone in result["zones"]} - {None}
        of_new_plates = told["original_standard_uncertainty_mm"]["value"]
        assert {round(float(original), 3): u for original, u in of_new_plates.items()} == {
            original: next(u for limit, u in NEW_PLATE_MM if original < limit) for original in originals
        }
    if supposed:
        assert told["plating[].original_mm"]["value"] == supposed
    if "thresholds_mm" in told:
        followed = {threshold["threshold_mm"] for zone in result["zones"] for threshold in zone["thresholds"]}
        assert set(told["thresholds_mm"]["value"]) == followed


@of_every_judgement
def test_the_rule_sets_that_are_judged_by_are_told_even_where_they_are_none(calculation, sent):
    told = assumed_of(answer(calculation, sent))
    assert ("rule_sets" in told) == ("rule_sets" not in sent)
    if "rule_sets" in told:
        assert told["rule_sets"]["value"] == ([] if sent.get("rules") else ["trade-practice"])
        assert told["rule_sets"]["value"] == [entry["id"] for entry in answer(calculation, sent)["provenance"]["rule_sets"]]


@of_every_judgement
def test_what_a_judgement_assumes_of_its_readings_is_told(calculation, sent):
    told = assumed_of(answer(calculation, sent))
    unmeasured = [one for one in sent["readings"] if "pit_depth_mm" not in one and not one.get("holed")]
    assert ("readings[].pit_depth_mm" in told) == bool(unmeasured)
    if unmeasured:
        assert f"{len(unmeasured)} of {len(sent['readings'])} readings" in told["readings[].pit_depth_mm"]["basis"]
    assert ("readings[].exposure" in told) == any("exposure" not in one for one in sent["readings"])
    assert ("readings[].layer" in told) == any("layer" not in one for one in sent["readings"])
    assert told.get("readings[].layer", {}).get("value", "shell") == "shell"


@of_every_survey
def test_the_exposures_that_are_told_are_those_that_are_judged_by(calculation, sent):
    zones = {zone["zone"]: zone["exposure"] for zone in answer(calculation, sent)["result"]["zones"]}
    told = assumed_of(answer(calculation, sent))["readings[].exposure"]["value"]
    assert told == {zone: zones[zone] for zone in told}


@of_every_judgement
def test_where_an_own_rule_applies_is_told_where_it_does_not_say(calculation, sent):
    silent = [rule for rule in sent.get("rules", []) if "exposures" not in rule]
    entry = assumed_of(answer(calculation, sent)).get("rules[].exposures")
    assert (entry is not None) == bool(silent)
    if entry is not None:
        assert entry["value"] == ["immersed", "waterline"]


# The writer


@of_every_request
def test_the_result_is_what_the_schema_dumps(calculation, sent):
    served = registry.calculations[calculation]
    request = load(served, registry, orjson.dumps(sent))[1]
    result = served.offered.run(**arguments_of(served, registry, request))
    written = served.write(result)
    assert orjson.dumps(written) == orjson.dumps(served.response.dump(result))
    assert json.loads(orjson.dumps(written)) == answer(calculation, sent)["result"]
    assert list(written) == list(served.response.fields)
