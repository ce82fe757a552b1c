"""An answer agrees with itself: sentences, findings, working, sources and assumptions tell of the figures that it holds.

Each check is made of the example and of a spread of requests that between them reach every state and every finding that a
calculation declares. Figures come from the answer and from what was sent, never from the code that wrote the sentence.
"""

import json
import random
import re
import zlib
from itertools import groupby
from math import floor, log, log10
from string import Formatter

import numpy as np
import orjson
import pytest

from platemargin.attack_evidence import FORMS as FORM_NAMES
from platemargin.quantities import DECIMALS, FIGURES, decimals_of, unit_of
from platemargin_api.answer import answer as members
from platemargin_api.answer import arguments_of, encoded, load
from platemargin_api.app import create_app
from platemargin_api.media import PDF
from platemargin_api.registry import load_registry
from platemargin_api.rendering_checks import unsafe
from platemargin_api.testing import evaluate

registry = load_registry()
client = create_app(registry).test_client()


# The requests

BASE = {
    "residual-thickness": {"original_mm": 10.0, "plate_mm": 8.8, "pit_depth_mm": 2.6},
    "corrosion-rate": {"original_mm": 10.0, "residual_mm": 6.2, "years_in_service": 16.0},
    "remaining-life": {"original_mm": 10.0, "residual_mm": 6.2, "years_in_service": 16.0, "threshold_mm": 4.0},
    "plate-margin": {"original_mm": 10.0, "plate_mm": 8.8, "pit_depth_mm": 2.6, "years_in_service": 16.0},
    "ultrasonic-thickness": {"indicated_mm": 6.8},
    # Not elementwise, but its answer is as flat as theirs: the same is asked of it.
    "reading-coverage": {"area_m2": 12.0},
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
    "ultrasonic-thickness": [
        {},
        {"coating_um": 0.0, "temperature_c": 20.0},
        {"coating_um": 250.0, "mode": "single_echo"},
        {"coating_um": 400.0},
        {"coating_um": 2850.0},
        {"coating_um": 400.0, "mode": "multiple_echo", "readings_averaged": 4},
        {"gauge_velocity_m_per_s": 5960.0, "velocity_m_per_s": 5850.0, "temperature_c": -8.0, "mode": "multiple_echo"},
        {"temperature_c": 95.0, "coating_um": 120.0, "mode": "single_echo"},
        {"temperature_c": 20.0, "reference_temperature_c": -20.0, "velocity_standard_uncertainty_m_per_s": 0.0},
        {"velocity_m_per_s": 6320.0, "coating_um": 0.0},
        {"velocity_m_per_s": 4600.0, "coating_um": 0.0},
        {"velocity_m_per_s": 5850.0, "coating_um": 0.0},
        {"indicated_mm": None, "transit_time_us": 2.2972},
        {"indicated_mm": None, "transit_time_us": 0.3, "mode": "multiple_echo"},
        {"indicated_mm": 1.2, "coating_um": 480.0, "mode": "single_echo"},
        {"indicated_mm": 10.1234567, "gauge_velocity_m_per_s": 5931.234, "temperature_c": 33.3333, "coating_um": 212.3456},
    ],
    "reading-coverage": [
        {"readings_taken": 1},
        {"readings_taken": 29},
        {"readings_taken": 28, "confidence": 0.9},
        {"attacked_fraction": 0.1},
        {"attacked_fraction": 0.00001, "confidence": 0.999},
        {"attacked_fraction": 0.99},
        {"attacked_fraction": 0.02, "readings_taken": 200},
        {"attacked_fraction": 0.05, "readings_taken": 12, "area_m2": 0.04},
        {"patch_diameter_mm": 100.0},
        {"patch_diameter_mm": 100.0, "readings_taken": 40, "confidence": 0.5},
        {"patch_diameter_mm": 100.0, "grid_spacing_mm": 250.0},
        {"patch_diameter_mm": 300.0, "grid_spacing_mm": 300.0},
        {"patch_diameter_mm": 300.0, "grid_spacing_mm": 250.0},
        {"patch_diameter_mm": 300.0, "grid_spacing_mm": 212.132},
        {"patch_diameter_mm": 300.0, "grid_spacing_mm": 100.0, "attacked_fraction": 0.2, "readings_taken": 9},
        {"patch_diameter_mm": 300.0, "grid_spacing_mm": 4000.0},
        {"patch_diameter_mm": 123.4567, "grid_spacing_mm": 111.1111, "area_m2": 7.6543219},
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
        chance = random.Random(calculation)
        if "original_mm" in BASE[calculation]:
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
    chance = random.Random(17)
    readings = []
    for index in range(120):
        zone = chance.choice(["baseplate", "side", "chine", "swim", "counter", "cabin-side"])
        original = {"baseplate": 10.0, "cabin-side": 5.0}.get(zone, 6.0)
        plate = round(original - chance.uniform(0, 1.6), 1)
        pit = round(chance.uniform(0, 1.8), 1) if chance.random() < 0.5 else None
        readings.append(reading(f"n{index}", zone, plate, pit, chance.choice(["port", "starboard"])))
    return survey(readings=readings, rule_sets=["trade-practice", "loss-fraction", "loss-fraction-light"])


def before(*readings, on="2020-12-31", **more):
    """Return what says that a survey came before."""
    return survey(previous_survey={"surveyed_on": on, "readings": list(readings)}, **more)


def patches(*depths, sampling="random_patches", area_m2=20.0):
    """Return a survey whose side was read in patches, and plating that says how they were chosen."""
    entry = {"zone": "side", "original_mm": 6.0, "area_m2": area_m2, "pit_sampling": sampling, "pit_patch_area_m2": 0.25}
    read = [reading(f"p{place}", "side", 5.8, depth) for place, depth in enumerate(depths)]
    return survey(plating=[entry], readings=[told for told in GOOD_READINGS if told["zone"] != "side"] + read)


COARSE = (*(10 * [0.4]), *(10 * [0.5]), 3.0)
DEPTHS = (0.4, 0.5, 0.45, 0.5, 0.4, 0.6)

SURVEYS = {
    "sound": survey(),
    "faster": before({**GOOD_READINGS[0], "plate_mm": 9.9}, GOOD_READINGS[2]),
    "faster beside the thinnest": before(
        GOOD_READINGS[0],
        reading("thick", "baseplate", 10.0, station_m=5.0),
        **and_readings(reading("thick", "baseplate", 8.9, station_m=5.0)),
    ),
    "perhaps faster": before({**GOOD_READINGS[0], "plate_mm": 9.6, "pit_depth_mm": 2.5}),
    "slower": before(reading("gone", "side", 5.9), *({**told, "plate_mm": told["plate_mm"] + 0.1} for told in GOOD_READINGS)),
    "a survey of long ago": before(reading("aft", "baseplate", 9.9), on="0008-09-10", built_on=None),
    "grown": before({**GOOD_READINGS[4], "plate_mm": 4.2}),
    "first by its short term": before(
        {**GOOD_READINGS[0], "plate_mm": 9.9, "pit_depth_mm": 1.2345678},
        on="2021-07-19",
        **and_readings(reading("q", "stem", 5.9)),
    ),
    "thin before": before(reading("gone", "swim", 3.9, station_m=3.0), reading("gone-2", "counter", 3.2, 0.1)),
    "patches": patches(*DEPTHS, 0.5, 0.55, 0.45, 0.65),
    "patches picked": patches(*DEPTHS, sampling="selected_by_eye"),
    "patches said to be all": patches(*DEPTHS, sampling="deepest_of_every_patch"),
    "all patches": patches(0.4, 0.5, 0.4, 0.5, 0.4, 3.0, sampling="deepest_of_every_patch", area_m2=1.5),
    "patches of much": patches(*DEPTHS, 0.0, area_m2=1000.0),
    "patches through": patches(0.2, 0.9, 0.3, 0.4, 2.0, 0.3, area_m2=200.0),
    "coarse patches": patches(*COARSE),
    "mild patches": patches(0.05, 0.06, 0.055, 0.06, 0.05, 0.065),
    "two patches": patches(0.4, 0.5),
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
    "a benchmark beside the trade's limits": survey(
        rule_sets=["trade-practice", "inland-vessel-benchmark"],
        hull={**HULL, "frame_spacing_mm": 612.3456},
        **and_readings(reading("skeg", "skeg", 5.0, 0.1), reading("wing", "wing", 5.0, 0.1)),
    ),
    "a benchmark that is broken": survey(
        rule_sets=["inland-vessel-benchmark", "trade-practice"],
        hull={"length_m": 24.4, "beam_m": 3.6, "draught_m": 0.9, "frame_spacing_mm": 700.0},
        **and_readings(reading("thin", "chine", 4.4, 0.1), reading("thin-2", "side", 4.2, 0.1)),
    ),
    "a benchmark alone": survey(rule_sets=["inland-vessel-benchmark"], hull={**HULL, "frame_spacing_mm": 450.0}),
    "a benchmark that lacks the frame spacing": survey(rule_sets=["trade-practice", "inland-vessel-benchmark"]),
    "no ids": survey(readings=[{k: v for k, v in told.items() if k != "id"} for told in GOOD_READINGS]),
    "at random": random_survey(),
}
#: One needs a rule set that says what a survey has to contain, and none of those that ship does; the other ten thousand
#: readings, which tests/contract sends once.
NOT_REACHED = {"minimum_content_missing", "too_many_candidates"}


def strewn(zone, values, **more):
    """Return readings of a zone, alternately of port and starboard, a station a pair."""
    return [
        reading(f"{zone}-{index}", zone, value, side=("port", "starboard")[index % 2], station_m=float(index // 2 % 17), **more)
        for index, value in enumerate(values)
    ]


def honest(zone, count, around, seed):
    chance = random.Random(seed)
    return strewn(zone, [round(chance.gauss(around, 0.35), 1) for _ in range(count)])


def same_on_both_sides(zone, values):
    return [{**told, "plate_mm": values[index // 2]} for index, told in enumerate(strewn(zone, [0.0] * (2 * len(values))))]


def other_plate(told, share):
    """Return a reading whose plate is thicker by a share."""
    return {**told, "plate_mm": round(told["plate_mm"] * (1 + share), 2)}


BOTTOM, SIDES = honest("baseplate", 34, 9.3, 1), honest("side", 34, 5.5, 2)
BY_TURNS = [5.3, 5.9, 4.8, 5.5, 5.1, 6.0, 5.2, 5.7, 4.9, 5.8, 5.0, 5.6]
#: What hull-survey refuses, and what it has no eye for; each is a finding of survey-consistency.
ANODE = {
    "station_m": 3.1234567,
    "side": "port",
    "material": "magnesium",
    "original_mass_kg": 4.5678912,
    "remaining_percent": 61.2345678,
    "years_fitted": 3.4567891,
    "length_m": 0.3214567,
}
CELL = {"station_m": 8.0, "side": "port", "potential_v": -0.9012345, "reference_electrode": "cse", "shore_power": False}
CANAL_ANODE = {
    "material": "magnesium",
    "net_mass_kg": 4.0,
    "length_m": 0.29,
    "width_m": 0.14,
    "thickness_m": 0.06,
    "mounting": "flush",
}

DOUBTFUL = {
    "honest": survey(readings=[*BOTTOM, *SIDES]),
    "honest, of stated area": survey(
        readings=[*BOTTOM, *SIDES],
        plating=[{"zone": "baseplate", "original_mm": 10.0, "area_m2": 90.0}],
        as_of="2025-01-31",
        max_survey_age_months=24,
    ),
    "five favourite values": survey(readings=[*BOTTOM, *strewn("side", [5.2, 5.5, 5.5, 5.8, 5.8, 6.0, 5.8, 5.5] * 6)]),
    "one last digit": survey(
        readings=[
            *strewn("baseplate", [8.7, 9.7, 9.2, 8.7, 9.7, 8.2, 9.7, 9.1, 8.9] * 4),
            *strewn("side", [4.7, 5.7, 5.2, 5.4] * 8),
        ]
    ),
    "two sides alike": survey(readings=[*BOTTOM, *same_on_both_sides("side", BY_TURNS)]),
    "two zones alike": survey(readings=[*SIDES, *[{**told, "zone": "chine", "id": f"c{told['id']}"} for told in SIDES]]),
    "one value throughout": survey(readings=[*BOTTOM, *strewn("side", [5.6] * 20)]),
    "the survey before once more": before(*BOTTOM, *SIDES, readings=[*BOTTOM, *SIDES]),
    "ten times the survey before": before(
        *(other_plate(told, -0.9) for told in BOTTOM), readings=BOTTOM, plating_notation=None
    ),
    "thicker than the survey before": before(*(other_plate(told, -0.1) for told in SIDES), readings=[*BOTTOM, *SIDES]),
    "half gone since the survey before": before(*(other_plate(told, 1.2) for told in SIDES), on="2023-12-31", readings=SIDES),
    "in inches": survey(readings=strewn("side", [0.21, 0.22, 0.2, 0.22, 0.23])),
    "the wrong way round": survey(readings=[*BOTTOM, *SIDES], plating_notation="6/10/5"),
    "evenly another figure": survey(readings=strewn("baseplate", [5.9, 6.0, 6.1, 5.8, 6.0, 6.2])),
    "a zone that is plated nowhere": survey(
        plating_notation=None, plating=[{"zone": "side", "original_mm": 6.0}], readings=[*BOTTOM, *SIDES]
    ),
    "worn in a year": survey(built_on="2024-03", readings=strewn("side", [4.0, 2.2, 5.0])),
    "of one name and place": survey(**and_readings(*[reading("same", "side", 5.0, 7.0, station_m=99.0) for _ in range(25)])),
    "of too many zones": survey(readings=[reading(f"n{index}", f"zone {index}", 5.0) for index in range(201)]),
    "days that cannot be": survey(
        built_on="2009-02-30", as_of="2024-12-01", readings=[{**told, "fitted_on": "2031"} for told in GOOD_READINGS]
    ),
    "parts that cannot be": survey(
        plating=[
            {"zone": "side", "from_m": 9.0, "to_m": 3.0, "original_mm": 6.0},
            *[{"zone": "chine", "original_mm": 6.0, "protected_years": 40.0}] * 2,
        ],
        unexamined=[{"zone": "skeg", "from_m": 5.0, "to_m": 1.0, "reason": "tank"}],
    ),
    "a previous survey that cannot be": before(reading("a", "side", 5.0), on="2025-01-01", built_on="2026"),
    "anodes that cannot be": survey(
        anodes=[{**ANODE, "station_m": 18.0, "capacity_ah_per_kg": 2900.0}],
        potentials=[{**CELL, "station_m": 18.0}],
        observations={
            "pits": [{"id": "a"}, {"id": "a"}],
            "tubercles": {"seen": False, "diameter_mm": 40.0},
            "setting": {"anodes_fitted": False},
            "tests": {"bacteria_found": ["none", "iron_oxidising"]},
        },
    ),
    "potentials without anodes": survey(potentials=[CELL]),
    "observations of nothing that cannot be": survey(observations={"tubercles": {}}),
    "a sizing that cannot be": survey(
        coating={"category": "I", "initial_breakdown": 0.1},
        anode_sizing={
            "design_life_years": 5.0,
            "electrolyte": {"water": "fresh", "resistivity_ohm_m": 20.0},
            "anode": {**CANAL_ANODE, "stand_off_m": 0.3, "capacity_ah_per_kg": 2900.0, "driving_voltage_v": 0.6},
            "protection_potential_v": -0.85,
        },
    ),
    "a sizing of nothing": survey(anode_sizing={"design_life_years": 5.0, "anode": CANAL_ANODE}),
    "a sizing told twice": survey(
        coating={"category": "I"},
        anode_sizing={
            "design_life_years": 5.0,
            "anode": CANAL_ANODE,
            "wetted_area_m2": 50.0,
            "surfaces": [{"name": "all", "area_m2": 50.0, "coating": {"initial_breakdown": 0.1}}] * 2,
        },
    ),
    "a sizing with too weak an anode": survey(
        coating={"category": "I"},
        anode_sizing={
            "design_life_years": 5.0,
            "anode": {**CANAL_ANODE, "material": "zinc", "net_mass_kg": 14.0},
            "protection_potential_v": -1.2,
            "reference_electrode": "ag_agcl",
        },
    ),
    "a sizing of another hull": survey(
        coating={"category": "I"},
        hull={**HULL, "material": "aluminium"},
        anode_sizing={
            "design_life_years": 5.0,
            "anode": CANAL_ANODE,
            "electrolyte": {"water": "fresh"},
            "moves_to": "fresh",
            "protection_potential_v": 0.85,
            "reference_electrode": "cse",
        },
    ),
    "rules that cannot be": survey(
        rules=[{**LIMIT, "quantity": "plate_mm"}, {**LIMIT, "quantity": "plate_mm", "at_least": 4.0}],
        as_of=None,
        max_survey_age_months=12,
    ),
}

REFUSED = ("of one name", "of too many", "a sizing", "potentials without")
#: Those of them that hull-survey answers too.
ASKED_ABOUT = {name: sent for name, sent in DOUBTFUL.items() if not name.endswith("cannot be") and not name.startswith(REFUSED)}

CHECKS = {
    name: {
        "readings": whole["readings"],
        **{member: whole[member] for member in ("rules", "rule_sets") if member in whole},
    }
    for name, whole in SURVEYS.items()
}


def pits(*depths, **changes):
    """Return a request about the deepest pits of some patches."""
    whole = {
        "pit_depths_mm": list(depths),
        "sampling": "random_patches",
        "patch_area_m2": 0.25,
        "total_area_m2": 30.0,
        "plate_mm": 5.6,
        **changes,
    }
    return {name: value for name, value in whole.items() if value is not None}


TWENTY = [0.52, 0.61, 0.48, 0.75, 0.66, 0.57, 0.93, 0.71, 0.64, 0.55, 0.81, 0.59, 0.68, 0.62, 0.73, 0.5, 0.79, 0.66, 1.02, 0.6]
PITS = {
    "twenty": pits(*TWENTY),
    "by l-moments": pits(*TWENTY, method="l_moments", confidence=0.9),
    "by lieblein": pits(*TWENTY[:16], method="lieblein", confidence=0.999),
    "plate unknown": pits(*TWENTY, plate_mm=None),
    "picked": pits(*TWENTY, sampling="selected_by_eye"),
    "unknown": pits(*TWENTY[:6], sampling="unknown", plate_mm=None),
    "all": pits(*TWENTY, sampling="deepest_of_every_patch", total_area_m2=5.0),
    "said to be all": pits(*TWENTY, sampling="deepest_of_every_patch"),
    "far": pits(*TWENTY, total_area_m2=2000.0),
    "through": pits(*TWENTY, 5.7),
    "thin plate": pits(*TWENTY, plate_mm=1.2),
    "coarse": pits(*COARSE),
    "no pit": pits(*TWENTY, 0.0, 0.0),
    "one deep": pits(0.4, 0.5, 0.4, 0.5, 0.4, 3.0, total_area_m2=2.0),
    "one deep, all read": pits(0.4, 0.5, 0.4, 0.5, 0.4, 3.0, total_area_m2=1.5, plate_mm=3.2),
    "one through, all read": pits(0.4, 0.5, 0.4, 0.5, 0.4, 3.0, total_area_m2=1.6, plate_mm=3.0),
    "half a patch unread": pits(0.4, 0.5, 0.4, 0.5, 0.4, 3.0, total_area_m2=1.625, plate_mm=3.2),
    "areas alike to their last figure": pits(0.4, 0.5, 0.4, 0.5, 0.6, patch_area_m2=0.00109, total_area_m2=0.005),
    "no plate left": pits(0.1, 0.2, 0.0, 0.3, 0.4, plate_mm=0.0),
    "thick plate": pits(*TWENTY, plate_mm=200.0),
    "all but certain": pits(*TWENTY, plate_mm=1.5, total_area_m2=50000.0, patch_area_m2=0.001),
    "many decimals": pits(*(depth + 0.0012345 for depth in TWENTY), patch_area_m2=0.2345678, total_area_m2=27.654321),
    "many": pits(*(round(0.5 - 0.2 * log(-log((place + 0.5) / 300)), 3) for place in range(300)), total_area_m2=900.0),
    **{
        f"drawn {seed}": pits(
            *(round(random.Random(seed * 31 + place).gammavariate(9, 0.07), 2) for place in range(5 + 3 * seed)),
            total_area_m2=25.0 + seed,
            method=("maximum_likelihood", "l_moments")[seed % 2],
        )
        for seed in range(10)
    },
}


def compared(earlier, later, *, days=("2016-05-02", "2024-05-02"), **options):
    """Return two surveys, eight years apart."""
    told = {
        name: {"surveyed_on": day, "readings": each}
        for name, day, each in zip(("earlier", "later"), days, (earlier, later), strict=True)
    }
    return {**told, **options}


def lost(count, mm, zone="baseplate", plate=9.0):
    """Return the readings of two surveys of as many places, between which so much went."""
    return [[reading(f"{zone}{n}", zone, round(plate - each, 3)) for n in range(count)] for each in (0.0, mm)]


def random_comparison():
    chance = random.Random(19)
    surveys = []
    for worn in (0.0, 0.6):
        readings = []
        for index in range(80):
            zone = chance.choice(["baseplate", "side", "chine", "swim"])
            pit = round(chance.uniform(0, 1.8), 1) if chance.random() < 0.5 else None
            place = {"station_m": round(chance.uniform(0, 17), 1), "height_m": round(chance.uniform(0, 1.2), 1)}
            side = chance.choice(["port", "starboard"])
            readings.append(reading(f"{index}-{worn}", zone, round(chance.uniform(5, 6) - worn, 1), pit, side, **place))
        surveys.append(readings)
    return compared(*surveys, built_on="2001", plating_notation="8/6/5")


AGED = {"built_on": "2004", "plating_notation": "10/6/5"}
SIDELESS = [{"zone": "side", "plate_mm": 5.0, "station_m": 2}]
COMPARISONS = {
    "lost steel": compared(*lost(5, 0.6), **AGED),
    "faster": compared(*lost(9, 2.4), **AGED),
    "slower": compared(*lost(12, 0.0), built_on="2012", plating=[{"zone": "baseplate", "original_mm": 12.0}]),
    "a zone faster": compared(
        *([*fast, *slow] for fast, slow in zip(lost(2, 1.6, "swim", 5.6), lost(60, 0.0, "side", 5.0), strict=True)), **AGED
    ),
    "unchanged": compared(*lost(4, 0.0)),
    "thicker": compared(*lost(12, -0.4)),
    "one grew": compared([reading("a", "side", 5.0)], [reading("a", "side", 6.1)]),
    "one of many grew a little": compared(lost(30, 0.0)[0], [reading("baseplate0", "baseplate", 9.5), *lost(30, 0.0)[0][1:]]),
    "many grew a little": compared(
        lost(30, 0.0)[0], [reading(f"baseplate{n}", "baseplate", 9.5 if n % 5 == 0 else 9.0) for n in range(30)]
    ),
    "one of many grew much": compared(lost(30, 0.0)[0], [reading("baseplate0", "baseplate", 9.9), *lost(30, 0.0)[0][1:]]),
    "one of many lost a little": compared(lost(30, 0.0)[0], [reading("baseplate0", "baseplate", 8.5), *lost(30, 0.0)[0][1:]]),
    "holed since": compared(
        [reading("a", "side", 3.0, 1.0), reading("b", "side", 5.0)],
        [reading("a", "side", 3.0, 3.2), reading("b", "side", 4.9), reading("c", "swim", 4.0, holed=True)],
    ),
    "nothing matched": compared([reading("a", "side", 5.0)], [reading("b", "side", 5.0)]),
    "nothing matched and holed": compared([reading("a", "side", 5.0)], [reading("b", "side", 5.0, holed=True)]),
    "few matched": compared([reading(name, "side", 5.0) for name in "abc"], [reading(name, "side", 5.0) for name in "ade"]),
    "a zone not compared": compared([reading("a", "side", 5.0)], [reading("a", "side", 5.0), reading("b", "swim", 5.0)]),
    "very fast": compared([reading("a", "side", 12.0)], [reading("a", "side", 3.0)]),
    "renewed": compared(
        [reading(name, "side", 5.0) for name in "abc"],
        [
            reading("a", "side", 6.0, fitted_on="2020"),
            reading("b", "side", 6.0, fitted_on="2016"),
            reading("c", "side", 4.9, fitted_on="2010"),
        ],
    ),
    "ids of two places": compared(
        [reading("1", "side", 5.0, station_m=2.0), reading("2", "swim", 5.0, station_m=17.0)],
        [reading("1", "swim", 4.9, station_m=17.1), reading("2", "side", 4.8, station_m=2.0)],
    ),
    "ids at other stations": compared(
        [reading("a", "side", 5.0, station_m=2.0)], [reading("a", "side", 5.0, station_m=4.5)], station_tolerance_m=1.0
    ),
    "a pit measured once": compared([reading("a", "side", 5.0)], [reading("a", "side", 5.0, 0.5)]),
    "heights differ": compared(
        [reading("a", "side", 5.0, station_m=2.0, height_m=0.2)], [reading("b", "side", 5.0, station_m=2.0, height_m=1.0)]
    ),
    "no sides": compared(SIDELESS, SIDELESS),
    "uneven": compared(
        [reading(name, "side", 5.9) for name in "abc"],
        [reading(name, "side", plate) for name, plate in zip("abc", (5.8, 4.9, 5.7), strict=True)],
        **AGED,
    ),
    "a misspelt zone": compared([reading("a", "base plate", 9.0)], [reading("a", "base plate", 8.6)]),
    "stated uncertainties": compared(
        *lost(6, 0.25),
        standard_uncertainty_mm=0.1234567,
        calibration_standard_uncertainty_mm=0.0345678,
        confidence=0.95,
        days=("2016-05-02", "2023-11-17"),
    ),
    "many decimals": compared(
        [reading("a", "side", 5.1234567, 0.7654321)], [reading("a", "side", 4.9876543, 1.2345678)], **AGED
    ),
    "at random": random_comparison(),
}
for name, size in {
    "a benchmark beside the trade's limits": {**HULL, "frame_spacing_mm": 612.3456},
    "a benchmark that is broken": {"length_m": 24.4, "draught_m": 0.9, "frame_spacing_mm": 700.0},
    "a benchmark alone": {"length_m": 17.5, "draught_m": 0.65, "frame_spacing_mm": 450.0},
}.items():
    CHECKS[name]["hull"] = size

#: The calculations that judge readings; what is neither these nor elementwise answers one call from its own members.
JUDGING = ("threshold-check", "hull-survey")
PANEL = {"panel_length_mm": 900.0, "pressure_kpa": 16.0, "yield_mpa": 235.0, "ultimate_mpa": 360.0}
PLATING = {"length_m": 21.336, "draught_m": 0.75, "frame_spacing_mm": 600.0, "zone": "bottom"}
ONE_CALL = {
    "minimum-plating": [
        PLATING,
        {**PLATING, "zone": "bilge", "beam_m": 3.6},
        {**PLATING, "zone": "side", "length_m": 17.5},
        {**PLATING, "length_m": 17.5, "beam_m": 2.1, "frame_spacing_mm": 400.0},
        {**PLATING, "length_m": 19.9, "beam_m": 5.1, "draught_m": 1.2},
        {**PLATING, "length_m": 40.0, "draught_m": 2.5, "frame_spacing_mm": 500.0},
        {**PLATING, "length_m": 40.0004, "draught_m": 2.5, "double_hull": True},
        {**PLATING, "length_m": 67.0, "draught_m": 2.5, "frame_spacing_mm": 550.0, **PANEL},
        {**PLATING, **PANEL},
        {**PLATING, **PANEL, "zone": "side", "pressure_kpa": 4.0, "yield_mpa": 355.0, "ultimate_mpa": 490.0},
        {**PLATING, **PANEL, "panel_length_mm": 300.0, "pressure_kpa": 5.5},
        {**PLATING, **PANEL, "panel_length_mm": 1200.0},
        {**PLATING, **PANEL, "panel_length_mm": 1234.5678, "frame_spacing_mm": 512.3456},
        {**PLATING, **{name: value for name, value in PANEL.items() if name != "panel_length_mm"}},
        {**PLATING, **PANEL, "length_m": 21.1234567, "draught_m": 0.7654321, "pressure_kpa": 17.6543217, "yield_mpa": 234.5678},
    ]
}
PATCH = {"zone": "baseplate", "area_m2": 12.3456789, "thickness_mm": 6.0}
SIDED = {**PATCH, "zone": "side", "side": "port", "area_m2": 4.0, "station_m": 3.0, "height_m": 0.4}
BOAT = {"length_m": 17.1234567, "beam_m": 2.1, "draught_m": 0.6543217, "gm_m": 0.45}
WATERS = {water: {"length_m": 17.1234567, "water": water} for water in ("fresh", "brackish", "sea")}
ONE_CALL |= {
    "anode-condition": [
        {"hull": {"length_m": 15.0}, "anodes": []},
        {"hull": WATERS["fresh"], "anodes": [], "potentials": [CELL]},
        {"hull": WATERS["fresh"], "anodes": [ANODE]},
        {"hull": WATERS["fresh"], "anodes": [ANODE, {**ANODE, "side": "centreline", "station_m": 9.0}], "potentials": [CELL]},
        {"hull": WATERS["fresh"], "anodes": [{**ANODE, "painted": True}, {**ANODE, "continuity_ohm": 0.1234567}]},
        {"hull": WATERS["fresh"], "anodes": [{**ANODE, "material": "zinc"}, {**ANODE, "remaining_percent": 12.3456789}]},
        {"hull": WATERS["fresh"], "anodes": [{**ANODE, "remaining_percent": 99.5}, {**ANODE, "years_fitted": 0.2}]},
        {"hull": WATERS["fresh"], "anodes": [{**ANODE, "remaining_percent": 100.0, "years_fitted": 0.2}]},
        {"hull": WATERS["sea"], "anodes": [ANODE, {**ANODE, "material": "aluminium", "remaining_percent": 98.7}]},
        {"hull": WATERS["sea"], "anodes": [{**ANODE, "remaining_percent": 25.0}], "reach_lengths": 3.3333333},
        {"hull": {**WATERS["brackish"], "material": "aluminium"}, "anodes": [ANODE], "potentials": [CELL]},
        {
            "hull": WATERS["fresh"],
            "anodes": [{**ANODE, "capacity_ah_per_kg": 1234.5678912, "utilisation": 0.9}],
            "potentials": [
                {**CELL, "potential_v": -0.7},
                {**CELL, "potential_v": -1.3, "reference_electrode": "ag_agcl"},
                {**CELL, "shore_power": True},
                {**CELL, "potential_v": 0.9},
                {**CELL, "side": "starboard", "shore_power": None},
            ],
            "sulphate_reducers_suspected": False,
        },
        {"hull": {"length_m": 9.0}, "anodes": [ANODE], "potentials": [CELL], "sulphate_reducers_suspected": True},
    ],
    "overplating": [
        {"patches": [PATCH], "hull": {"length_m": 17.0, "beam_m": 2.1}},
        {"patches": [SIDED], "hull": BOAT, "freeboard_mm": 600.1234567},
        {"patches": [{**PATCH, "thickness_mm": 40.0, "area_m2": 30.0, "station_m": 8.6}], "hull": BOAT},
        {"patches": [{**SIDED, "side": "starboard"}], "hull": {**BOAT, "lowest_opening_mm": 250.0}, "freeboard_mm": 500.0},
        {"patches": [{**SIDED, "side": "centreline"}], "hull": {**BOAT, "lowest_opening_mm": 155.0}},
        {"patches": [SIDED, {**SIDED, "side": "starboard"}], "hull": BOAT, "freeboard_mm": 160.0},
        {"patches": [{**PATCH, "thickness_mm": 12.0}], "hull": {**BOAT, "lowest_opening_mm": 10.0}, "freeboard_mm": 15.0},
        {"patches": [{**SIDED, "zone": "sid", "edge_length_m": 3.5}], "hull": {"length_m": 17.0, "beam_m": 2.1}},
        {"patches": [{**SIDED, "zone": "wing", "edge_length_m": 9.25}], "hull": {**BOAT, "displacement_kg": 15_500.0}},
        {"patches": [{**SIDED, "offset_m": 0.9, "height_m": 1.5}], "hull": {**BOAT, "gm_m": 0.03}},
        {"patches": [{**SIDED, "height_m": 2.0}], "hull": {**BOAT, "gm_m": 0.01}},
        {"patches": [{**SIDED, "area_m2": 20.0, "thickness_mm": 12.0, "station_m": 0.5}], "hull": BOAT, "freeboard_mm": 600.0},
        {"patches": [{**SIDED, "station_m": None}], "hull": {**BOAT, "water": "brackish", "ballast_removed_kg": 900.0}},
        {
            "patches": [{**SIDED, "height_m": None}],
            "hull": {**BOAT, "water": "sea", "ballast_removed_kg": 400.0, "ballast_station_m": 15.5},
        },
        {
            "patches": [PATCH],
            "hull": {**BOAT, "draught_m": None, "gm_m": None, "displacement_kg": 16_000.0, "waterplane_coefficient": 0.83},
            "freeboard_mm": 700.0,
        },
    ],
}

ANODES = {
    "magnesium": CANAL_ANODE,
    "zinc": {**CANAL_ANODE, "material": "zinc", "net_mass_kg": 14.0},
    "aluminium": {**CANAL_ANODE, "material": "aluminium", "net_mass_kg": 5.5},
    "long": {**CANAL_ANODE, "length_m": 1.2, "net_mass_kg": 16.0},
    "bar": {**CANAL_ANODE, "mounting": "stand_off", "length_m": 1.0, "width_m": 0.1, "thickness_m": 0.1, "net_mass_kg": 16.0},
    "stub": {**CANAL_ANODE, "mounting": "stand_off", "length_m": 0.2, "width_m": 0.1, "thickness_m": 0.1, "net_mass_kg": 3.5},
}
PARTS = [
    {"name": "baseplate", "area_m2": 36.0, "coating": {"category": "bare"}},
    {
        "name": "sides",
        "area_m2": 22.0,
        "coating": {"initial_breakdown": 0.05, "breakdown_per_year": 0.02},
        "current_density": {"initial_a_per_m2": 0.0654321, "mean_a_per_m2": 0.0432109, "final_a_per_m2": 0.05},
    },
]
OWN_DENSITY = {"initial_a_per_m2": 0.05, "mean_a_per_m2": 0.03, "final_a_per_m2": 0.04}


def sizing(of="magnesium", /, **changes):
    whole = {
        "hull": HULL,
        "electrolyte": {"resistivity_ohm_m": 20.0},
        "coating": {"category": "III"},
        "design_life_years": 4.0,
        "anode": ANODES[of],
        **changes,
    }
    return {name: value for name, value in whole.items() if value is not None}


def salt(of="zinc", /, **changes):
    return sizing(of, **{"electrolyte": {"resistivity_ohm_m": 0.30}, **changes})


SIZINGS = {
    "fresh": sizing(electrolyte={"water": "fresh"}),
    "fresh, zinc": sizing("zinc", electrolyte={"water": "fresh"}, coating={"category": "II"}),
    "sea": salt(electrolyte={"water": "sea"}),
    "sea, aluminium": salt("aluminium", electrolyte={"water": "sea", "temperature_c": 22.0}, coating={"category": "II"}),
    "sea, magnesium": salt("magnesium", anode_count=4),
    "brackish": salt("aluminium", electrolyte={"water": "brackish", "temperature_c": 4.0}),
    "between": sizing(electrolyte={"resistivity_ohm_m": 4.0}),
    "between, aluminium": sizing("aluminium", electrolyte={"resistivity_ohm_m": 4.0}),
    "a meter": sizing(electrolyte={"conductivity_us_per_cm": 612.5, "temperature_c": 14.5}),
    "salinity": salt(electrolyte={"salinity": 18.25, "temperature_c": 16.0}),
    "bare": salt(coating={"category": "bare"}, design_life_years=10.0),
    "bare, for a while": salt(hull=None, wetted_area_m2=300.0, coating={"category": "bare"}, design_life_years=0.5),
    "bare, fresh": sizing(coating={"category": "bare"}),
    "category I": salt(coating={"category": "I"}, design_life_years=15.0),
    "own coating": sizing(coating={"initial_breakdown": 0.1234567, "breakdown_per_year": 0.0123456}),
    "in parts": sizing(coating=None, surfaces=PARTS),
    "in parts, salt": salt(coating=None, surfaces=PARTS, current_density=OWN_DENSITY),
    "in parts, all own": salt(coating=None, hull=None, surfaces=[PARTS[1]]),
    "no hull": salt(hull=None, wetted_area_m2=42.125, extra_current_a=0.31),
    "long": sizing("long", coating={"category": "II"}),
    "long, salt": salt("long", anode={**ANODES["long"], "material": "zinc", "net_mass_kg": 60.0}, design_life_years=20.0),
    "bar": sizing("bar"),
    "bar, near": sizing("bar", anode={**ANODES["bar"], "stand_off_m": 0.2}),
    "stub": sizing("stub"),
    "stub, too near": sizing("stub", anode={**ANODES["stub"], "stand_off_m": 0.1, "length_m": 0.1, "net_mass_kg": 1.7}),
    "sulphate reducers": sizing(protection_potential_v=-0.95, reference_electrode="cse"),
    "sulphate reducers, salt": salt(protection_potential_v=-0.90, reference_electrode="ag_agcl"),
    "asked too little": sizing(protection_potential_v=-0.40, reference_electrode="she"),
    "asked too much": sizing(protection_potential_v=-0.20, reference_electrode="zinc"),
    "own voltage": sizing(anode={**CANAL_ANODE, "driving_voltage_v": 0.7, "utilisation": 0.6, "capacity_ah_per_kg": 1230.0}),
    "these four": sizing(anode_count=4),
    "one": sizing(hull=None, wetted_area_m2=3.0, electrolyte={"resistivity_ohm_m": 10.0}, anode_count=1),
    "seven": sizing(anode_count=7),
    "too few for long": salt(coating={"category": "bare"}, anode_count=12, design_life_years=20.0),
    "going to sea": sizing(moves_to="sea"),
    "five thousand": sizing(anode_count=5000),
    "between brackish and fresh": sizing(electrolyte={"resistivity_ohm_m": 9.5}),
    "more than the box": sizing(wetted_area_m2=500.0),
    "longer than magnesium": sizing(design_life_years=25.0),
    "going inland": salt(moves_to="fresh"),
    "going up the estuary": salt("magnesium", moves_to="fresh"),
    "wrong metal": sizing("zinc", anode={**CANAL_ANODE, "material": "zinc"}),
    "thicker than wide": sizing(anode={**CANAL_ANODE, "width_m": 0.05, "thickness_m": 0.1}),
    "very little": sizing(
        "zinc",
        hull=None,
        wetted_area_m2=0.5,
        electrolyte={"resistivity_ohm_m": 900.0},
        coating={"initial_breakdown": 0.005, "breakdown_per_year": 0.0},
    ),
    "many decimals": sizing(
        electrolyte={"resistivity_ohm_m": 21.2345678},
        design_life_years=4.1234567,
        anode={**CANAL_ANODE, "net_mass_kg": 4.1234567, "length_m": 0.2912345, "width_m": 0.1412345, "thickness_m": 0.0612345},
    ),
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
    "against it elsewhere": {
        "pits": [{**NARROW, "location": "near_propeller"}, {"profile": "wide_shallow"}],
        "setting": {"dissimilar_metals_near": True},
    },
    "no tubercles": {"tubercles": {"density_per_m2": 0.0}},
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


def of_a_survey(calculation, sent):
    """Return the survey that asks within it what a calculation is asked alone."""
    if calculation == "attack-form":
        return survey(observations=sent)
    if calculation == "anode-condition":
        # The survey says itself, of what was observed, whether sulphate reducers are suspected.
        own = {name: value for name, value in sent.items() if name not in ("hull", "sulphate_reducers_suspected")}
        return survey(**own, hull={**HULL, **sent["hull"], "length_m": HULL["length_m"]})
    beside = {name: sent[name] for name in ("coating", "reach_lengths") if name in sent}
    within = {name: value for name, value in sent.items() if name not in ("hull", *beside)}
    return survey(anode_sizing=within, hull=sent.get("hull", HULL), **beside)


def alone(calculation, sent):
    """Return what a calculation is asked alone where the survey asks it of its own hull."""
    if calculation == "anode-condition":
        told = {name: value for name, value in sent.items() if name != "sulphate_reducers_suspected"}
        return {**told, "hull": {"water": "fresh", **sent["hull"], "length_m": HULL["length_m"]}}
    return {"hull": HULL, **sent} if calculation == "anode-sizing" else sent


WITHIN = [
    *(("attack-form", sent) for sent in ATTACKS.values()),
    *(("anode-condition", sent) for sent in ONE_CALL["anode-condition"]),
    *(("anode-sizing", sent) for sent in SIZINGS.values()),
]
NESTED = {
    "a pit that is not measured again": before(
        reading("r", "side", 5.6, 1.0, station_m=5.0), **and_readings(reading("r", "side", 5.5, station_m=5.0))
    ),
    **{f"{calculation} {number}": of_a_survey(calculation, sent) for number, (calculation, sent) in enumerate(WITHIN)},
    "potentials held to sulphate reducers": survey(
        observations=ATTACKS["sulphate reducers, fast"], anodes=[ANODE], potentials=[CELL]
    ),
    "none fitted, as observed": survey(observations=ATTACKS["tubercles"], coating={"category": "I"}),
    "two waters": survey(
        observations={"setting": {"water": "sea"}},
        coating={"category": "I"},
        anode_sizing={"design_life_years": 5.0, "anode": CANAL_ANODE, "electrolyte": {"water": "brackish"}},
    ),
    "one of those needed": survey(
        anodes=[ANODE],
        coating={"category": "III"},
        anode_sizing={"design_life_years": 5.0, "anode": CANAL_ANODE, "electrolyte": {"resistivity_ohm_m": 20.0}},
    ),
    "everything at once": survey(
        observations=ATTACKS["two forms at one boat"],
        anodes=[ANODE, {**ANODE, "side": "starboard", "painted": True}],
        potentials=[CELL],
        reach_lengths=5.5,
        coating={"category": "II"},
        anode_sizing={"design_life_years": 5.0, "anode": CANAL_ANODE},
    ),
}

REQUESTS = [
    *(
        pytest.param(name, sent, id=f"{name}-{number}")
        for name, requests in ONE_CALL.items()
        for number, sent in enumerate(requests)
    ),
    *(pytest.param(name, dict(served.offered.example), id=f"{name}-example") for name, served in registry.calculations.items()),
    *elementwise_requests(),
    *(
        pytest.param("hull-survey", sent, id=f"hull-survey-{name}")
        for name, sent in {**SURVEYS, **ASKED_ABOUT, **NESTED}.items()
    ),
    *(
        pytest.param("survey-consistency", sent, id=f"survey-consistency-{name}")
        for name, sent in {**SURVEYS, **DOUBTFUL}.items()
    ),
    *(pytest.param("threshold-check", sent, id=f"threshold-check-{name}") for name, sent in CHECKS.items()),
    *(pytest.param("anode-sizing", sent, id=f"anode-sizing-{name}") for name, sent in SIZINGS.items()),
    *(pytest.param("attack-form", sent, id=f"attack-form-{name}") for name, sent in ATTACKS.items()),
    *(pytest.param("treatment-plan", sent, id=f"treatment-plan-{name}") for name, sent in PLANS.items()),
    *(pytest.param("deepest-pit", sent, id=f"deepest-pit-{name}") for name, sent in PITS.items()),
    *(pytest.param("survey-comparison", sent, id=f"survey-comparison-{name}") for name, sent in COMPARISONS.items()),
]
of_every_request = pytest.mark.parametrize(("calculation", "sent"), REQUESTS)
of_every_elementwise_request = pytest.mark.parametrize(
    ("calculation", "sent"), [request for request in REQUESTS if request.values[0] in STATES]
)
of_every_rendered_request = pytest.mark.parametrize(
    ("calculation", "sent"), [request for request in REQUESTS if registry.calculations[request.values[0]].offered.renderings]
)
of_every_survey = pytest.mark.parametrize(
    ("calculation", "sent"), [request for request in REQUESTS if request.values[0] == "hull-survey"]
)
of_every_judgement = pytest.mark.parametrize(
    ("calculation", "sent"), [request for request in REQUESTS if request.values[0] in JUDGING]
)
of_every_one_call = pytest.mark.parametrize(
    ("calculation", "sent"), [request for request in REQUESTS if request.values[0] in ONE_CALL]
)
of_every_sample = pytest.mark.parametrize(
    ("calculation", "sent"), [request for request in REQUESTS if request.values[0] == "deepest-pit"]
)
of_every_sizing = pytest.mark.parametrize(
    ("calculation", "sent"), [request for request in REQUESTS if request.values[0] == "anode-sizing"]
)
of_every_attack_and_plan = pytest.mark.parametrize(
    ("calculation", "sent"), [request for request in REQUESTS if request.values[0] in ("attack-form", "treatment-plan")]
)
of_every_comparison = pytest.mark.parametrize(
    ("calculation", "sent"), [request for request in REQUESTS if request.values[0] == "survey-comparison"]
)
of_every_consistency = pytest.mark.parametrize(
    ("calculation", "sent"), [request for request in REQUESTS if request.values[0] == "survey-consistency"]
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


@of_every_rendered_request
def test_every_answer_can_be_looked_at(calculation, sent):
    """Whatever is answered is shown in every medium that is offered, and that runs and fetches nothing.

    PDF has the words of the HTML and a process of its own for each: one answer in five is set.
    """
    is_set = zlib.crc32(orjson.dumps(sent)) % 5 == 0
    for medium in registry.calculations[calculation].offered.renderings:
        if medium == PDF and not is_set:
            continue
        seen = client.post(
            f"/v1/calculations/{calculation}",
            data=orjson.dumps(sent),
            headers={"Content-Type": "application/json", "Accept": medium},
        )
        assert seen.status_code == 200
        assert not list(unsafe(medium, seen.data))


def turned(value):
    """Return a value with the members of every object in the opposite order."""
    if isinstance(value, dict):
        return {name: turned(member) for name, member in reversed(value.items())}
    return [turned(item) for item in value] if isinstance(value, list) else value


@of_every_request
def test_the_order_of_members_changes_nothing(calculation, sent):
    """An object's members have no order (RFC 8259, 4)."""
    one, other = answer(calculation, sent), answer(calculation, turned(sent))
    provenance = {**other["provenance"], "request_digest": one["provenance"]["request_digest"]}
    assert json.dumps(one) == json.dumps({**other, "provenance": provenance})


# Figures and how they are shown


def shown(value):
    """Write a number as a sentence does: no tail of zeros; below a thousandth four significant figures."""
    if isinstance(value, float) and 1e-6 <= abs(value) < 1e-3:
        return np.format_float_positional(value, precision=4, unique=False, fractional=False, trim="-")
    return f"{value:.6f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)


def said(name, value):
    """Write a figure as a sentence does: a probability with two figures of it or of what it lacks of one, to a thousandth."""
    if not re.fullmatch(r"probability_.*|.*_probability|p_value", name) or value is None:
        return shown(value)
    if not 0.001 <= value <= 0.999:
        return "less than 0.001" if value < 0.5 else "more than 0.999"
    _, exponent = f"{min(value, 1 - value):e}".split("e")
    return shown(float(f"{value:.{1 - int(exponent)}f}"))


def declared(name, value):
    """Return a figure rounded as the unit that its name ends in declares."""
    if isinstance(value, float) and unit_of(name) in FIGURES:
        return float(np.format_float_scientific(value, precision=FIGURES[unit_of(name)] - 1, unique=False))
    return round(value, decimals_of(name)) if isinstance(value, float) else value


def place(unit, value):
    """Return one unit in the last place that a figure of some unit is written with."""
    if unit in FIGURES:
        return 10.0 ** (floor(log10(abs(value))) + 1 - FIGURES[unit]) if value else 1e-6
    return 10.0 ** -DECIMALS.get(unit, 6)


def figures(sent, told):
    """Return the figures of an elementwise answer by name: those sent, assumed and resulting, rounded as declared."""
    assumed = {entry["field"]: entry["value"] for entry in told["assumed"]}
    return {name: declared(name, value) for name, value in {**sent, **assumed, **told["result"]}.items()}


def figures_used(sent, told):
    """Return an elementwise answer's figures by name, as its working shows them: those sent as sent, the result's as told."""
    assumed = {entry["field"]: entry["value"] for entry in told["assumed"]}
    return {**sent, **assumed, **told["result"], **figures_within(told["result"])}


def figures_within(result):
    """Return the members of a result's objects by name, and of a budget's lines as u_(quantity)_mm, as working calls them."""
    within = {name: value for member in result.values() if isinstance(member, dict) for name, value in member.items()}
    return within | {f"u_{line['quantity']}_mm": line["contribution_mm"] for line in result.get("budget", ())}


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
    return {shown(declared(name, value)), shown(abs(declared(name, value))), *numbers_in(said(name, declared(name, value)))}


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
    told_of = {name: value for name, value in known.items() if isinstance(value, (int, float))}
    allowed = {number for name, value in told_of.items() for number in (shown(value), *numbers_in(said(name, value)))}
    if "margin_mm" in known:
        allowed.add(shown(abs(known["margin_mm"])))  # so many mm below the limit
    if "confidence" in known:
        allowed.add(shown(round(100.0 * known["confidence"], 1)))  # told in percent
    for sentence in told["summary"]:
        assert set(numbers_in(sentence)) <= allowed, sentence


@pytest.mark.parametrize(
    ("spacing_mm", "told"),
    [(300.0, "meets it."), (353.6, "of more than 0.999."), (400.0, "meets it with a probability of 0.972.")],
)
def test_a_grid_that_surely_meets_the_attack_has_no_odds(spacing_mm, told):
    """Of a round patch of 500 mm: surely from 500 / sqrt(2) mm on, else the share of the cell nearer than 250 mm.

    0.972: of 4e6 places drawn in a square of 400 mm, in a computation outside the project.
    """
    sent = {"area_m2": 12.0, "patch_diameter_mm": 500.0, "grid_spacing_mm": spacing_mm}
    assert answer("reading-coverage", sent)["summary"][-1].endswith(told)


@of_every_one_call
def test_the_figures_of_one_calls_sentences_are_the_answers(calculation, sent):
    told = answer(calculation, sent)
    known = all_numbers(told["result"]) | all_numbers(sent)
    for sentence in told["summary"]:
        assert set(numbers_in(without_names(sentence, sent))) <= known, sentence
    for finding in told["findings"]:
        assert all_numbers(finding["values"]) <= known, finding
    for name, value in told["result"].items():
        assert isinstance(value, (str, bool)) or value is None or value == declared(name, value)


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


@of_every_sample
def test_the_figures_of_a_samples_sentences_are_the_results(calculation, sent):
    """A confidence is told in percent, as is how often depths lie as far from their fit, never all; a count is of patches."""
    told = answer(calculation, sent)
    result, count = told["result"], len(sent["pit_depths_mm"])
    known = all_numbers(result) | all_numbers(sent) | {shown(round(100.0 * confidence_of(sent, told), 1))}
    counts = {str(number) for number in range(count + 1)}
    often = f"{100 * result['fit']['p_value']:.1f}"
    often = {"100.0": "99.9", "0.0": "0.1"}.get(often, often)
    for sentence in (*told["summary"], *(finding["statement"] for finding in told["findings"])):
        numbers = set(numbers_in(sentence)) - counts - {often}
        if "extreme value distribution" in sentence:
            numbers -= {shown(round(result["fit"]["shape"], 3))}
        assert numbers <= known, sentence


@of_every_sample
def test_a_samples_depths_are_in_order(calculation, sent):
    """What is told with the fit's uncertainty is never below what is told without it, nor below what was read."""
    result = answer(calculation, sent)["result"]
    if result["most_likely_mm"] is None:
        extrapolated = ("quantile_mm", "expected_mm", "upper_mm", "upper_if_parameters_known_mm", "probability_holed")
        assert {result[name] for name in extrapolated} == {None}
        return
    assert result["quantile_mm"] <= result["most_likely_mm"] <= result["expected_mm"]
    assert result["upper_mm"] >= max(result["upper_if_parameters_known_mm"], result["deepest_read_mm"])


@of_every_comparison
def test_the_figures_of_a_comparisons_summary_are_the_results(calculation, sent):
    """A confidence is told in percent, with its sign; everything else as the result has it."""
    told = answer(calculation, sent)
    allowed = all_numbers(told["result"])
    percent = shown(round(100.0 * confidence_of(sent, told), 1))
    for sentence in told["summary"]:
        plain = sentence.replace(f"at {percent} % confidence", "")
        assert set(numbers_in(without_names(plain, told["result"]))) <= allowed, sentence


@of_every_comparison
def test_a_comparisons_summary_says_what_the_result_says(calculation, sent):
    told = answer(calculation, sent)
    result, summary = told["result"], " ".join(told["summary"])
    assert ("read holes" in summary) == (result["holed_count"] > 0) == ("holed" in {one["code"] for one in told["findings"]})
    assert ("faster between the surveys" in summary) == (result["pace"] == "faster")
    assert ("slower between the surveys" in summary) == (result["pace"] == "slower")
    assert ("could be matched: nothing" in summary) == (result["matched_count"] == 0)
    assert ("no rate here can be relied on" in summary) == any(
        zone["differs_from_zero"] and zone["mean_loss_mm"] < 0 for zone in result["zones"]
    )


@of_every_comparison
def test_the_values_of_a_comparisons_finding_are_in_the_answer_or_the_request(calculation, sent):
    """A count is of readings or pairs; what chance explains is a fortieth of the pairs (2.5 %, one side of 5 %)."""
    told = answer(calculation, sent)
    known = all_numbers(told["result"]) | all_numbers(sent)
    readings = max(len(sent[survey]["readings"]) for survey in ("earlier", "later"))
    known |= {str(count) for count in range(readings + 1)} | {shown(told["result"]["matched_count"] / 40)}
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
        texts = {name: said(name, value) for name, value in finding["values"].items()}
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
    """Some are derived: a count is of readings, the worst value of a broken rule is its limit and its margin; a difference is
    what a reading of the previous survey left, and what the deepest pit leaves.
    """
    told = answer(calculation, sent)
    known = all_numbers(told["result"]) | all_numbers(sent) | {"95"}
    past = sent.get("previous_survey", {"readings": []})["readings"]
    known |= {shown(round(one["plate_mm"] - one.get("pit_depth_mm", 0.0), 3)) for one in past}
    counts = {str(count) for count in range(len(sent["readings"]) + len(past) + 1)}
    rules = {rule["id"]: rule for rule in told["result"]["rules"]}
    for finding in told["findings"]:
        values = finding["values"]
        if "value" in values:
            rule = rules[values["rule"]]
            sign = 1 if values["bound"] == "below" else -1
            assert values["value"] == round(rule["limit"] + sign * rule["margin"], 3)
        for name, value in values.items():
            if name in COUNTED:
                assert set(numbers_in(shown(value))) <= counts | known, finding
            elif name in WORKED or name == "share_percent":
                assert finding["pointer"].startswith("/anode_sizing")  # held against the same made alone, below
            elif name in DERIVED:
                assert DERIVED[name](value, values), finding
            elif isinstance(value, (int, float)) and name != "value":
                assert shown(value) in known, finding


COUNTED = ("count", "equal", "places", "broken_count", "checked_count", "readings", "why", "lacks", "patches", "different")
#: What a value of a finding follows from, where it is no figure of the answer.
DERIVED = {
    "missed_percent": lambda value, values: value == pytest.approx(100 * (1 - 0.05 ** (1 / values["count"])), abs=0.0051),
    "few": lambda value, _: value == 29,
    "few_percent": lambda value, _: value == 10,
    "most": lambda value, _: value == 2,
    "left_mm": lambda value, values: value == pytest.approx(max(values["plate_mm"] - values["upper_mm"], 0), abs=0.0011),
    # What survey-consistency's own tests hold against the readings.
    **dict.fromkeys(("pairs", "pairs_expected", "count_expected", "digit", "length", "median_mm"), lambda value, _: value >= 0),
    # What deepest-pit's own tests hold against the fit.
    **dict.fromkeys(("meaning", "shape"), lambda value, _: value is not None),
}


@of_every_consistency
def test_the_checks_of_a_consistency_agree_with_its_findings_and_its_summary(calculation, sent):
    told = answer(calculation, sent)
    result = told["result"]
    asked = {finding["code"] for finding in told["findings"] if finding["severity"] != "note"}
    assert {check["code"] for check in result["checks"] if check["outcome"] == "queried"} == asked
    assert result["consistent"] is (not asked)
    assert (result["standing"] == "queries") is bool(asked)
    for outcome in ("queried", "passed", "not_judged"):
        assert result[f"{outcome}_count"] == sum(check["outcome"] == outcome for check in result["checks"])
    assert all((check["reason"] is None) == (check["outcome"] != "not_judged") for check in result["checks"])
    assert set(numbers_in(" ".join(told["summary"][:2]))) <= all_numbers(result)
    assert not re.search(r"invented|fraud|fake|false|dishonest|forged|lie\b|cheat", json.dumps(told["findings"]))


@of_every_consistency
def test_the_counts_of_a_consistency_are_of_the_readings_sent(calculation, sent):
    """Each count is counted again from what was sent; a pattern's are of readings too."""
    for finding in answer(calculation, sent)["findings"]:
        values = finding["values"]
        for name in ("count", "readings", "more", "equal", "places", "length"):
            assert 0 < values.get(name, 1) <= 3 * len(sent["readings"]), finding
        if finding["code"] == "few_readings":
            own = [one for one in sent["readings"] if one["zone"] == values["zone"] and one.get("layer") != "overplate"]
            assert values["count"] == sum(one.get("exposure", "immersed") in ("immersed", "waterline") for one in own)


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


@of_every_sizing
def test_the_figures_of_a_sizings_summary_are_sent_or_the_results(calculation, sent):
    told = answer(calculation, sent)
    allowed = all_numbers(told["result"]) | all_numbers(sent)
    for sentence in told["summary"]:
        assert set(numbers_in(sentence)) <= allowed, sentence


@of_every_sizing
def test_the_values_of_a_sizings_finding_are_in_the_answer_or_the_request(calculation, sent):
    told = answer(calculation, sent)
    known = all_numbers(told["result"]) | all_numbers(sent)
    for finding in told["findings"]:
        for name, value in finding["values"].items():
            if name == "share_percent":
                rows = {row["name"]: row["current_mean_a"] for row in told["result"]["surface_demands"]}
                share = 100 * rows[finding["values"]["name"]] / told["result"]["current_mean_a"]
                assert value == round(share, 2)
            elif isinstance(value, (int, float)) and name not in WORKED:
                assert shown(value) in known, (finding, name)


@of_every_sizing
def test_what_a_sizing_assumes_is_told(calculation, sent):
    told = assumed_of(answer(calculation, sent))
    anode, surfaces = sent["anode"], sent.get("surfaces", [{}])
    potential = "protection_potential_v" in sent or "driving_voltage_v" in anode
    expected = {
        "electrolyte.temperature_c": "temperature_c" not in sent["electrolyte"],
        "electrolyte.resistivity_ohm_m": "water" in sent["electrolyte"],
        "extra_current_a": "extra_current_a" not in sent,
        "reach_lengths": True,
        "spacing_m": True,
        "wetted_area_m2": not {"wetted_area_m2", "surfaces"} & set(sent),
        "current_density": "current_density" not in sent and not all("current_density" in one for one in surfaces),
        "protection_potential_v": not potential,
        "densest_count": True,
        "hull.material": "hull" in sent and "material" not in sent["hull"],
        "anode.stand_off_m": anode["mounting"] == "stand_off" and "stand_off_m" not in anode,
        **{f"anode.{name}": name not in anode for name in ("capacity_ah_per_kg", "utilisation", "driving_voltage_v")},
    }
    assert {field for field, is_assumed in expected.items() if is_assumed} == set(told)


#: Values of a sizing's findings that the answer's result does not hold: constants, and what they are compared with.
WORKED = {"asked_v", "criterion_v", "usual_v", "bacteria_v", "most_negative_v", "nearest_m", "longest_years", "solid_kg"} | {
    "box_m2",
    "salt_a_per_m2",
    "fresh_a_per_m2",
    "fresh_ohm_m",
}


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


STATUSES = {
    "residual-thickness": {"plate_state": {"metal_remains", "thicker_than_original", "holed"}},
    "corrosion-rate": {"governing": {"long_term", "short_term"}, "short_term_significant": {True, False, None}},
    "remaining-life": {"status": {"above", "no_measurable_loss", "already_below"}, "governing": {"long_term", "short_term"}},
    "plate-margin": {"status": {"above", "no_measurable_loss", "already_below"}, "plate_state": {"metal_remains", "holed"}},
    "anode-sizing": {
        "governing": {"mass", "initial_current", "final_current", "spacing"},
        "shape": {"long_stand_off", "short_stand_off", "long_flush", "short_flush"},
        "material_suited": {True, False},
    },
    "minimum-plating": {"governing": {"least", "length", "draught", "bending"}},
    "threshold-check": {"verdict": {"act", "watch", "not_judged", "no_limit_broken"}},
    "hull-survey": {"verdict": {"act", "watch", "not_judged", "no_limit_broken"}},
    "survey-comparison": {"pace": {"unknown", "no_difference_shown", "slower", "faster"}},
    "survey-consistency": {"standing": {"queries", "cannot_judge", "no_query"}, "consistent": {True, False}},
}


@pytest.mark.parametrize("calculation", STATUSES)
def test_the_spread_reaches_every_state(calculation):
    results = [answer(*request.values)["result"] for request in REQUESTS if request.values[0] == calculation]
    assert len(results) >= (15 if calculation in ONE_CALL else 25)
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


def made_by(calculation, line):
    """Return the calculation whose figures a line of working shows."""
    if line.get("of", "").startswith("anodes."):
        return "anode-sizing" if line["of"].startswith("anodes.sizing") else "anode-condition"
    return "plate-margin" if calculation in JUDGING else calculation


def half_a_unit(calculation, name, line, value):
    """Return how far a figure in a line of working may be from the one that was used.

    What was sent is shown as it was sent, to the six decimals that a sentence writes; what the answer tells is rounded there
    as declared, and what a rule judged is rounded as its limit is.
    """
    if calculation == "survey-comparison":
        return 0.5 * 10 ** -decimals_of(name)
    told_by = registry.calculations[made_by(calculation, line)].response.fields
    if name in told_by or any(name in getattr(getattr(field, "schema", None), "fields", ()) for field in told_by.values()):
        return 0.5 * place(unit_of(name), value)
    if name.startswith("u_"):
        return 0.5 * 10 ** -decimals_of(name)
    if name.startswith("rule_"):
        return 0.5 * 10 ** -DECIMALS[line["unit"]]
    return min(0.5e-6, 0.5 * place("A", value))


def tolerance(calculation, step, line, value):
    """Return how far a line may miss its value because its figures, and the value, are shown rounded.

    Half a unit in the last decimal of each figure in turn, either way, added up; and half of one of the value. What is of the
    second order in those is a part of it, and a tenth more is allowed for that.
    """
    texts = figures_shown(step.substituted, line["substituted"])
    total = 0.0
    for name, text in texts.items():
        half = half_a_unit(calculation, name, line, float(text))
        filled = (step.substituted.format_map({**texts, name: f"({float(text) + moved:.9f})"}) for moved in (-half, half))
        total += max(abs(evaluate(other) - value) for other in filled)
    return 1.1 * total + 0.5 * place(line["unit"], line["value"]) * (1 + 1e-6) + 1e-9 * abs(value)


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


@pytest.mark.parametrize("plate", [6.2, 5.4, 5.2, 4.95])
def test_the_lower_end_of_a_life_is_worked_out_where_it_is_now_too(plate):
    """It decides when the next survey is due: by a growth, or because the limit may be passed already (GUM, 6.2)."""
    told = answer("plate-margin", {"original_mm": 7, "plate_mm": plate, "pit_depth_mm": 0.9, "years_in_service": 20})
    (line,) = [line for line in told["working"] if line["symbol"] == "years_low"]
    assert line["value"] == told["result"]["years_low"]
    assert line["formula"].startswith("0 where") == (line["value"] == 0)
    # 1.645 standard uncertainties of 0.25 mm: 5 % of a normal distribution lie beyond.
    assert (line["value"] == 0) == (plate - 0.9 - 4 <= 1.645 * 0.25)
    assert evaluate(line["substituted"]) == pytest.approx(line["value"], abs=0.01)


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
    groups = [(name, lines) for name, lines in worked(calculation, told) if not name.startswith("anodes.")]
    assert [name for name, _ in groups] == [governing["id"], *others]

    lines = groups[0][1]
    values = {name: line["value"] for name, line in lines.items()}
    for name in ("residual_mm", "loss_mm", "loss_percent", "general_loss_mm"):
        assert (name in values) == (governing[name] is not None)
        assert values.get(name) == governing[name]
    zone = next(zone for zone in result["zones"] if zone["zone"] == governing["zone"])
    if zone["thinnest_reading_index"] == index and "years" in values:
        assert values["years"] in [threshold["years"] for threshold in zone["thresholds"]]
        assert values[f"{zone['rate_governing']}_mm_per_year"] == zone["rate_mm_per_year"]
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
            key=lambda one: (
                -severity[one["severity"]] * bool(one["broken_count"]),
                not one["may_clear"],
                one["margin"] / max(one["limit"], 1e-9),
            ),
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


BENCHMARK = "inland-vessel-benchmark"


def of_the_hull(rule, sent):
    """Return the limit of a rule of the benchmark as the calculation that it uses tells it; None without a frame spacing."""
    size = {name: sent.get("hull", {}).get(name) for name in ("length_m", "draught_m", "frame_spacing_mm")}
    if None in size.values():
        return None
    part, local = re.fullmatch(r"inland-vessel-(bottom|bilge|side)(-local)?", rule["id"]).groups()
    return answer("minimum-plating", {**size, "zone": part})["result"][f"inland_vessel{'_local' if local else ''}_mm"]


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
        assert outcome["limit"] == (of_the_hull(rule, sent) if rule_set == BENCHMARK else round(rule[bound], 3))
        assert outcome["may_clear"] == (rule_set != BENCHMARK)
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


# Calculations within a survey


@pytest.mark.parametrize(("calculation", "sent"), WITHIN)
def test_what_is_made_within_a_survey_is_what_is_made_alone(calculation, sent):
    """The same figures, findings, references and cautions; a pointer leads to the member of the survey."""
    told, own = answer("hull-survey", of_a_survey(calculation, sent)), answer(calculation, alone(calculation, sent))
    found = {
        "attack-form": lambda result: result["attack_forms"],
        "anode-condition": lambda result: result["anodes"]["condition"],
        "anode-sizing": lambda result: result["anodes"]["sizing"],
    }[calculation](told["result"])
    assert found == own["result"]
    statements = [(finding["code"], finding["statement"]) for finding in told["findings"]]
    # What both anodes and observations may say is told once, in the words of the anodes.
    assert {(one["code"], one["statement"]) for one in own["findings"] if one["code"] != "no_anodes"} <= set(statements)
    assert ("no_anodes" in dict(statements)) == ("no_anodes" in {one["code"] for one in own["findings"]})
    assert all(reference in told["references"] for reference in own["references"])
    assert set(own["cautions"]) <= set(told["cautions"])
    assert {step["symbol"] for step in own["working"]} <= {step["symbol"] for step in told["working"]}


def test_a_survey_without_them_neither_cites_nor_warns_of_them():
    plain, whole = answer("hull-survey", survey()), answer("hull-survey", NESTED["everything at once"])
    assert (plain["result"]["attack_forms"], plain["result"]["anodes"]) == (None, None)
    for member in ("references", "cautions"):
        assert len(plain[member]) < len(whole[member])
        assert all(one in whole[member] for one in plain[member])


@of_every_survey
def test_advice_is_in_order_of_urgency_and_says_what_caused_it(calculation, sent):
    """Each line names findings that were made, with their words and figures."""
    told = answer(calculation, sent)
    statements = {}
    for finding in told["findings"]:
        statements.setdefault(finding["code"], []).append(finding["statement"])
    urgencies = ("before_afloat", "before_cover", "next_docking", "monitor")
    places = [urgencies.index(line["urgency"]) for line in told["result"]["advice"]]
    assert places == sorted(places)
    for line in told["result"]["advice"]:
        assert line["because"]
        assert line["reasons"] == [words for code in line["because"] for words in statements[code][:5]]


def test_potentials_are_held_to_sulphate_reducers_where_they_are_suspected():
    """EN 12954 (from memory): -0.95 V against copper/copper sulphate; without them -0.85 V in fresh water."""
    sent = NESTED["potentials held to sulphate reducers"]
    suspected, plain = answer("hull-survey", sent), answer("hull-survey", {**sent, "observations": ATTACKS["galvanic"]})
    assert suspected["result"]["anodes"]["condition"]["criterion"] == {"potential_v": -0.95, "electrode": "cse"}
    assert plain["result"]["anodes"]["condition"]["criterion"] == {"potential_v": -0.85, "electrode": "cse"}
    assert assumed_of(suspected)["sulphate_reducers_suspected"]["value"] is True


def test_anodes_thought_of_are_held_to_sulphate_reducers_where_they_are_suspected():
    """As the calculation alone says that is asked for -0.95 V against copper/copper sulphate (EN 12954, from memory)."""
    sizing = {"design_life_years": 4.0, "anode": CANAL_ANODE, "electrolyte": {"resistivity_ohm_m": 20.0}}
    coating = {"category": "II"}
    sent = survey(observations=ATTACKS["sulphate reducers, fast"], anode_sizing=sizing, coating=coating)
    asked = {"protection_potential_v": -0.95, "reference_electrode": "cse"}
    own = answer("anode-sizing", {**sizing, **asked, "hull": HULL, "coating": coating})
    told = answer("hull-survey", sent)
    assert told["result"]["anodes"]["sizing"] == own["result"]
    assert {finding["statement"] for finding in own["findings"]} <= {finding["statement"] for finding in told["findings"]}
    assert assumed_of(told)["anode_sizing.protection_potential_v"]["value"] == -0.95


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
    "ultrasonic-thickness": {
        "velocity_m_per_s": (5920.0, "m/s"),
        "reference_temperature_c": (20.0, "degC"),
        "coating_velocity_m_per_s": (2500.0, "m/s"),
        "mode": ("unknown", None),
        "transit_time_resolution_us": (0.01, "us"),
        "indicated_resolution_mm": (0.1, "mm"),
        "repeatability_standard_uncertainty_mm": (0.1, "mm"),
        "readings_averaged": (1, "1"),
        "velocity_standard_uncertainty_m_per_s": (30.0, "m/s"),
        "temperature_standard_uncertainty_c": (5.0, "degC"),
        "coating_standard_uncertainty_um": (25.0, "um"),
        "coating_velocity_standard_uncertainty_m_per_s": (250.0, "m/s"),
    },
    "reading-coverage": {"confidence": (0.95, "probability")},
}


def assumed_of_others(calculation, sent):
    """Return what is assumed by what else was sent, with its unit."""
    told = {}
    if calculation == "ultrasonic-thickness":
        told["temperature_c"] = (sent.get("reference_temperature_c", 20.0), "degC")
        if "indicated_mm" in sent:
            told["gauge_velocity_m_per_s"] = (sent.get("velocity_m_per_s", 5920.0), "m/s")
        if sent.get("mode") != "multiple_echo":
            told["coating_um"] = (0.0, "um")
    if calculation == "reading-coverage" and "patch_diameter_mm" in sent:
        patch_m2 = 3.141592653589793 * (sent["patch_diameter_mm"] / 2000) ** 2
        told["attacked_fraction"] = (round(patch_m2 / sent["area_m2"], 6), "1")
    return told


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
    expected = {**DEFAULTS[calculation], **assumed_of_others(calculation, sent)}
    expected = {name: value for name, value in expected.items() if name not in sent}
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


#: Every example, and surveys whose rule sets bring references of their own, some, and none.
ENCODED = [
    *((name, served.offered.example) for name, served in registry.calculations.items()),
    *(("hull-survey", SURVEYS[case]) for case in ("a benchmark alone", "at random", "no rule", "own rules")),
]


@pytest.mark.parametrize(("calculation", "sent"), ENCODED)
@pytest.mark.parametrize("minimal", [False, True])
def test_what_is_encoded_is_the_answer(calculation, sent, minimal):
    """What never changes is spliced in, and every other byte is as the members are."""
    served, body = registry.calculations[calculation], orjson.dumps(sent)
    assert encoded(served, registry, body, minimal=minimal) == orjson.dumps(members(served, registry, body, minimal=minimal))


@of_every_request
def test_the_result_is_what_the_schema_dumps(calculation, sent):
    served = registry.calculations[calculation]
    request = load(served, registry, orjson.dumps(sent)).request
    result = served.offered.run(**arguments_of(served, registry, request))
    written = served.write(result)
    assert orjson.dumps(written) == orjson.dumps(served.response.dump(result))
    assert json.loads(orjson.dumps(written)) == answer(calculation, sent)["result"]
    assert list(written) == list(served.response.fields)
