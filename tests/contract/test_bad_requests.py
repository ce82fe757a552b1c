"""One table of bad requests: each is refused with the status, the kind of problem and a pointer to every fault."""

import copy
import http.client
import json
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

from platemargin_api.app import create_app
from platemargin_api.registry import Served, load_registry

GONE = object()
MIB = 1024 * 1024
JSON = {"content_type": "application/json"}

RULE = {
    "id": "own-limit",
    "quantity": "residual_mm",
    "at_least": 4.5,
    "severity": "watch",
    "statement": "Our terms ask for more.",
    "reference": "Own terms, 2026",
}
GOOD = {
    "residual-thickness": {"original_mm": 10.0, "plate_mm": 8.8, "pit_depth_mm": 2.6},
    "corrosion-rate": {"original_mm": 10.0, "residual_mm": 6.2, "years_in_service": 16.0},
    "remaining-life": {"original_mm": 10.0, "residual_mm": 6.2, "years_in_service": 16.0, "threshold_mm": 4.0},
    "plate-margin": {"original_mm": 10.0, "plate_mm": 8.8, "pit_depth_mm": 2.6, "years_in_service": 16.0},
    "minimum-plating": {"length_m": 21.3, "draught_m": 0.75, "frame_spacing_mm": 600.0, "zone": "bottom"},
    "ultrasonic-thickness": {"indicated_mm": 6.8, "coating_um": 250.0, "mode": "single_echo"},
    "reading-coverage": {"area_m2": 12.0, "patch_diameter_mm": 300.0, "grid_spacing_mm": 400.0},
    "threshold-check": {
        "readings": [{"id": "a", "zone": "baseplate", "plate_mm": 8.8}, {"id": "b", "zone": "side", "plate_mm": 5.6}],
        "rules": [RULE],
    },
    "deepest-pit": {
        "pit_depths_mm": [0.6, 0.9, 0.7, 1.2, 0.8, 1.0],
        "sampling": "random_patches",
        "patch_area_m2": 0.25,
        "total_area_m2": 30.0,
        "plate_mm": 5.6,
    },
    "survey-comparison": {
        "earlier": {
            "surveyed_on": "2016-05-02",
            "readings": [
                {"id": "a", "zone": "baseplate", "side": "port", "station_m": 4.0, "plate_mm": 9.4, "pit_depth_mm": 1.0},
                {"id": "b", "zone": "side", "side": "starboard", "station_m": 9.5, "plate_mm": 5.8},
            ],
        },
        "later": {
            "surveyed_on": "2024-05-02",
            "readings": [
                {"id": "a", "zone": "baseplate", "side": "port", "station_m": 4.0, "plate_mm": 8.8, "pit_depth_mm": 2.6},
                {"id": "b", "zone": "side", "side": "starboard", "station_m": 9.6, "plate_mm": 5.6},
            ],
        },
    },
    "hull-survey": {
        "hull": {"length_m": 17.5, "beam_m": 2.1, "draught_m": 0.65},
        "built_on": "2008",
        "surveyed_on": "2024-12-31",
        "plating": [{"zone": "baseplate", "original_mm": 10.0}, {"zone": "side", "original_mm": 6.0}],
        "readings": [
            {"id": "a", "zone": "baseplate", "side": "port", "station_m": 4.0, "plate_mm": 8.8, "pit_depth_mm": 2.6},
            {"id": "b", "zone": "side", "side": "starboard", "station_m": 9.5, "plate_mm": 5.6},
        ],
    },
    "anode-condition": {
        "hull": {"length_m": 17.0, "water": "fresh"},
        "anodes": [
            {
                "station_m": 3.0,
                "side": "port",
                "material": "magnesium",
                "original_mass_kg": 4.5,
                "remaining_percent": 60.0,
                "years_fitted": 3.0,
                "length_m": 0.3,
            }
        ],
        "potentials": [{"station_m": 8.0, "side": "port", "potential_v": -0.9, "reference_electrode": "cse"}],
    },
    "overplating": {
        "patches": [{"zone": "baseplate", "area_m2": 12.0, "thickness_mm": 6.0, "station_m": 8.0}],
        "hull": {"length_m": 17.0, "beam_m": 2.1, "draught_m": 0.6},
        "freeboard_mm": 600.0,
    },
    "anode-sizing": {
        "hull": {"length_m": 17.5, "beam_m": 2.1, "draught_m": 0.6},
        "electrolyte": {"water": "fresh"},
        "coating": {"category": "II"},
        "design_life_years": 4.0,
        "anode": {
            "material": "magnesium",
            "net_mass_kg": 4.0,
            "length_m": 0.29,
            "width_m": 0.14,
            "thickness_m": 0.06,
            "mounting": "flush",
        },
    },
    "attack-form": {
        "pits": [{"id": "a", "profile": "narrow_deep"}, {"id": "b", "colours": ["black"]}],
        "tubercles": {"diameter_mm": 60.0},
    },
    "treatment-plan": {"forms": ["tubercles", "galvanic"], "area_m2": 30.0, "coating": {"coats": 4}},
}
FITTED = GOOD["anode-condition"]["anodes"][0]
CELL = GOOD["anode-condition"]["potentials"][0]
#: Wet steel in one part.
PART = {"name": "all", "area_m2": 50.0, "coating": {"category": "I"}}


GOOD["survey-consistency"] = GOOD["hull-survey"]


def but(calculation: str, changes: dict[str, Any]) -> dict[str, Any]:
    """Return a good request with the members that some JSON pointers lead to set, added or GONE."""
    request = copy.deepcopy(GOOD[calculation])
    for pointer, value in changes.items():
        *path, last = [int(part) if part.isdigit() else part for part in pointer[1:].split("/")]
        place: Any = request
        for part in path:
            place = place[part] if isinstance(place, list) else place.setdefault(part, {})
        if value is GONE:
            del place[last]
        elif isinstance(place, list) and last == len(place):
            place.append(value)
        else:
            place[last] = value
    return request


@dataclass(frozen=True)
class Bad:
    """A row: what is sent, and how it is refused. A fault is (pointer, code, other members)."""

    name: str
    path: str
    body: Any = None
    status: int = 422
    problem: str = "invalid-request"
    faults: list[tuple[str, str, dict[str, Any]]] = field(default_factory=list)
    method: str = "POST"
    headers: dict[str, str] = field(default_factory=lambda: {"Content-Type": "application/json"})
    says: str = ""
    answers: dict[str, str] = field(default_factory=dict)

    @property
    def bytes(self) -> bytes:
        if self.body is None or isinstance(self.body, bytes):
            return self.body or b""
        return json.dumps(self.body).encode()


def malformed(name: str, body: bytes, says: str = "") -> Bad:
    path = "/v1/calculations/residual-thickness"
    return Bad(f"malformed: {name}", path, body, 400, "malformed-body", says=says)


def invalid(name: str, calculation: str, changes: dict[str, Any], *faults: tuple[str, str, dict[str, Any]]) -> Bad:
    return Bad(f"{calculation}: {name}", f"/v1/calculations/{calculation}", but(calculation, changes), faults=list(faults))


def together(name: str, calculation: str, changes: dict[str, Any], *faults: tuple[str, str]) -> Bad:
    return Bad(
        f"{calculation}: {name}",
        f"/v1/calculations/{calculation}",
        but(calculation, changes),
        problem="not-applicable",
        faults=[(pointer, code, {}) for pointer, code in faults],
    )


def media(name: str, status: int, problem: str, says: str, **headers: str) -> Bad:
    calculation = "residual-thickness"
    named = {key.replace("_", "-"): value for key, value in headers.items()}
    return Bad(
        f"media: {name}", f"/v1/calculations/{calculation}", GOOD[calculation], status, problem, headers=named, says=says
    )


def get(path: str, status: int, problem: str, says: str, **more: Any) -> Bad:
    return Bad(f"{more.get('method', 'GET')} {path}", path, None, status, problem, says=says, **{"method": "GET", **more})


def no_method(method: str, path: str, allow: str) -> Bad:
    return Bad(f"{method} {path}", path, None, 405, "method-not-allowed", method=method, says=method, answers={"Allow": allow})


def out_of_range(pointer: str, minimum: float, maximum: float) -> tuple[str, str, dict[str, Any]]:
    return pointer, "out_of_range", {"minimum": minimum, "maximum": maximum}


def wrong_type(pointer: str) -> tuple[str, str, dict[str, Any]]:
    return pointer, "wrong_type", {}


def missing(pointer: str) -> tuple[str, str, dict[str, Any]]:
    return pointer, "missing", {}


def unknown(pointer: str, nearest: str | None = None) -> tuple[str, str, dict[str, Any]]:
    return pointer, "unknown_field", {"nearest": nearest}


def bad_format(pointer: str) -> tuple[str, str, dict[str, Any]]:
    return pointer, "bad_format", {}


def not_one_of(pointer: str, nearest: str | None, *allowed: str) -> tuple[str, str, dict[str, Any]]:
    return pointer, "not_one_of", {"nearest": nearest, "allowed": list(allowed)}


SIDES = ("port", "starboard", "centreline")
WATERS = ("fresh_water", "polluted_fresh_water", "sea_splash", "sea_immersed")
EXPOSURES = ("immersed", "waterline", "topside", "superstructure", "internal")
JSON_TYPE = {"Content_Type": "application/json"}

TABLE = [
    malformed("empty", b""),
    malformed("only blanks", b" \n\t "),
    malformed("cut off", b'{"original_mm": 10, "plate_mm"'),
    malformed("cut off in a text", b'{"id": "a'),
    malformed("something after it", b'{"original_mm": 10, "plate_mm": 8} x'),
    malformed("two texts", b'{"original_mm": 10, "plate_mm": 8}{"original_mm": 10, "plate_mm": 8}'),
    malformed("a zero byte after it", b'{"original_mm": 10, "plate_mm": 8}\x00'),
    malformed("NaN", b'{"original_mm": NaN, "plate_mm": 8}'),
    malformed("Infinity", b'{"original_mm": Infinity, "plate_mm": 8}'),
    malformed("-Infinity", b'{"original_mm": -Infinity, "plate_mm": 8}'),
    malformed("beyond a double", b'{"original_mm": 1e400, "plate_mm": 8}'),
    malformed("beyond a double, negative", b'{"original_mm": -1e400, "plate_mm": 8}'),
    malformed("beyond a double, in digits", b'{"original_mm": 1' + b"0" * 400 + b', "plate_mm": 8}'),
    malformed("1_000", b'{"original_mm": 1_000, "plate_mm": 8}'),
    malformed("a leading zero", b'{"original_mm": 010, "plate_mm": 8}'),
    malformed("a leading plus", b'{"original_mm": +10, "plate_mm": 8}'),
    malformed("a bare fraction", b'{"original_mm": .5, "plate_mm": 8}'),
    malformed("hexadecimal", b'{"original_mm": 0x0A, "plate_mm": 8}'),
    malformed("Arabic digits", '{"original_mm": \u0661\u0660, "plate_mm": 8}'.encode()),
    malformed("single quotes", b"{'original_mm': 10, 'plate_mm': 8}"),
    malformed("a trailing comma", b'{"original_mm": 10, "plate_mm": 8,}'),
    malformed("a comment", b'{"original_mm": 10, "plate_mm": 8} // bow'),
    malformed("a member twice", b'{"original_mm": 10, "plate_mm": 8, "plate_mm": 8}', says="'plate_mm' is named twice"),
    malformed("a member twice, escaped", b'{"a": 1, "\\u0061": 2}', says="'a' is named twice"),
    malformed("a member twice, both escaped", b'{"\\u0061": 1, "\\u0061": 2}', says="'a' is named twice"),
    malformed("a member twice, deep down", b'{"a": [{"b": {"c": 1, "d": 2, "c": 1}}]}', says="'c' is named twice"),
    malformed("a member twice beside an escape", b'{"id": "\\n", "plate_mm": 8, "plate_mm": 8}', says="'plate_mm'"),
    malformed("a byte order mark", b'\xef\xbb\xbf{"original_mm": 10, "plate_mm": 8}', says="byte order mark"),
    malformed("UTF-16", '{"original_mm": 10, "plate_mm": 8}'.encode("utf-16"), says="UTF-8"),
    malformed("Latin-1", '{"id": "Güte", "original_mm": 10, "plate_mm": 8}'.encode("latin-1"), says="UTF-8 from byte 9"),
    malformed("an overlong form", b'{"id": "\xc0\x80", "original_mm": 10, "plate_mm": 8}', says="UTF-8"),
    malformed("a lone surrogate, escaped", b'{"id": "\\ud800", "original_mm": 10, "plate_mm": 8}'),
    malformed("a lone surrogate, in bytes", b'{"id": "\xed\xa0\x80", "original_mm": 10, "plate_mm": 8}'),
    malformed("a control character in a text", b'{"id": "a\nb", "original_mm": 10, "plate_mm": 8}'),
    malformed("an escape that is none", b'{"id": "\\x41", "original_mm": 10, "plate_mm": 8}'),
    malformed("100,000 arrays deep", b"[" * 100_000 + b"]" * 100_000),
    malformed("100,000 arrays opened", b"[" * 100_000),
    malformed("100,000 objects deep", b'{"a":' * 100_000 + b"1" + b"}" * 100_000),
    malformed("1,000 objects deep beside an escape", b'{"\\n":' * 1000 + b"1" + b"}" * 1000, says="nested"),
    *(
        Bad(f"no object: {name}", "/v1/calculations/plate-margin", body, faults=[wrong_type("")], says="The request: must")
        for name, body in (
            ("array", b"[]"),
            ("string", b'"plate"'),
            ("number", b"4.0"),
            ("true", b"true"),
            ("null", b"null"),
            ("300 arrays deep", b"[" * 300 + b"]" * 300),
        )
    ),
    # Types
    invalid("text for a number", "residual-thickness", {"/plate_mm": "8.8"}, wrong_type("/plate_mm")),
    invalid("1_000 as text", "residual-thickness", {"/plate_mm": "1_000"}, wrong_type("/plate_mm")),
    invalid("Arabic digits as text", "residual-thickness", {"/plate_mm": "\u0668"}, wrong_type("/plate_mm")),
    invalid("NaN as text", "residual-thickness", {"/plate_mm": "NaN"}, wrong_type("/plate_mm")),
    invalid("true for a number", "residual-thickness", {"/plate_mm": True}, wrong_type("/plate_mm")),
    invalid("false for an optional number", "plate-margin", {"/pit_depth_mm": False}, wrong_type("/pit_depth_mm")),
    invalid("array for a number", "remaining-life", {"/threshold_mm": [4.0]}, wrong_type("/threshold_mm")),
    invalid("object for a number", "remaining-life", {"/threshold_mm": {"mm": 4.0}}, wrong_type("/threshold_mm")),
    invalid("1.7 for an integer", "corrosion-rate", {"/faces": 1.7}, wrong_type("/faces")),
    invalid("true for an integer", "corrosion-rate", {"/faces": True}, wrong_type("/faces")),
    invalid("text for an integer", "corrosion-rate", {"/faces": "1"}, wrong_type("/faces")),
    invalid("number for a label", "corrosion-rate", {"/id": 17}, wrong_type("/id")),
    invalid("number for an enumeration", "corrosion-rate", {"/environment": 0}, wrong_type("/environment")),
    invalid("0 for a boolean", "minimum-plating", {"/double_hull": 0}, wrong_type("/double_hull")),
    invalid("no frames", "minimum-plating", {"/frame_spacing_mm": GONE}, missing("/frame_spacing_mm")),
    invalid("frames in metres", "minimum-plating", {"/frame_spacing_mm": 0.6}, out_of_range("/frame_spacing_mm", 100, 2000)),
    invalid("a zone of a survey", "minimum-plating", {"/zone": "chine"}, not_one_of("/zone", None, "bottom", "side", "bilge")),
    invalid("yes for a boolean", "hull-survey", {"/ashore": "yes"}, wrong_type("/ashore")),
    invalid('"true" for a boolean', "hull-survey", {"/inside_seen": "true"}, wrong_type("/inside_seen")),
    invalid("1 for a boolean", "hull-survey", {"/readings/0/holed": 1}, wrong_type("/readings/0/holed")),
    invalid("array for an object", "hull-survey", {"/hull": []}, wrong_type("/hull")),
    invalid("object for an array", "hull-survey", {"/readings": {"zone": "side"}}, wrong_type("/readings")),
    invalid("text for an array", "threshold-check", {"/rule_sets": "trade-practice"}, wrong_type("/rule_sets")),
    invalid("number for a reading", "threshold-check", {"/readings/1": 5.6}, wrong_type("/readings/1")),
    invalid("null for a reading", "threshold-check", {"/readings/1": None}, wrong_type("/readings/1")),
    invalid("null in an array", "hull-survey", {"/thresholds_mm": [4.0, None]}, ("/thresholds_mm/1", "null", {})),
    invalid("text in an array", "hull-survey", {"/what_if_original_mm": ["6"]}, wrong_type("/what_if_original_mm/0")),
    invalid(
        "bitumen is no category",
        "anode-sizing",
        {"/coating/category": "bitumen"},
        not_one_of("/coating/category", None, "bare", "I", "II", "III"),
    ),
    invalid("no metal", "anode-sizing", {"/anode/material": GONE}, missing("/anode/material")),
    invalid(
        "out of range", "anode-sizing", {"/electrolyte/temperature_c": -1}, out_of_range("/electrolyte/temperature_c", 0, 35)
    ),
    # Presence
    invalid("missing", "residual-thickness", {"/plate_mm": GONE}, missing("/plate_mm")),
    invalid("null where required", "residual-thickness", {"/plate_mm": None}, missing("/plate_mm")),
    invalid(
        "nothing at all",
        "remaining-life",
        dict.fromkeys(["/original_mm", "/residual_mm", "/years_in_service", "/threshold_mm"], GONE),
        *map(missing, ["/original_mm", "/residual_mm", "/years_in_service", "/threshold_mm"]),
    ),
    invalid("missing in an object", "hull-survey", {"/hull/beam_m": GONE}, missing("/hull/beam_m")),
    invalid("missing in a survey", "survey-comparison", {"/later/surveyed_on": GONE}, missing("/later/surveyed_on")),
    invalid("too few patches", "deepest-pit", {"/pit_depths_mm": [1, 2, 3, 4]}, ("/pit_depths_mm", "too_short", {})),
    invalid("a depth of text", "deepest-pit", {"/pit_depths_mm/2": "0.7"}, wrong_type("/pit_depths_mm/2")),
    invalid("missing sampling", "deepest-pit", {"/sampling": GONE}, missing("/sampling")),
    invalid("a patch too small", "deepest-pit", {"/patch_area_m2": 0.0009}, out_of_range("/patch_area_m2", 0.001, 1000)),
    invalid("a plate too thick", "deepest-pit", {"/plate_mm": 200.1}, out_of_range("/plate_mm", 0, 200)),
    invalid("confidence of one", "deepest-pit", {"/confidence": 1}, out_of_range("/confidence", 0.5, 0.999)),
    invalid("missing survey", "survey-comparison", {"/earlier": GONE}, missing("/earlier")),
    invalid("missing in a row", "survey-comparison", {"/later/readings/1/zone": GONE}, missing("/later/readings/1/zone")),
    invalid("missing in a row", "hull-survey", {"/readings/1/zone": GONE}, missing("/readings/1/zone")),
    invalid("missing in a rule", "threshold-check", {"/rules/0/reference": GONE}, missing("/rules/0/reference")),
    invalid("missing in the unexamined", "hull-survey", {"/unexamined": [{"zone": "side"}]}, missing("/unexamined/0/reason")),
    invalid("unknown, near another", "residual-thickness", {"/pit_dept_mm": 1.0}, unknown("/pit_dept_mm", "pit_depth_mm")),
    invalid("unknown, near none", "residual-thickness", {"/colour": "red"}, unknown("/colour")),
    invalid("unknown though null", "residual-thickness", {"/colour": None}, unknown("/colour")),
    invalid("a name of another case", "corrosion-rate", {"/Original_mm": 10.0}, unknown("/Original_mm", "original_mm")),
    invalid("unknown in an object", "hull-survey", {"/hull/lenght_m": 17.5}, unknown("/hull/lenght_m", "length_m")),
    invalid("unknown in a row", "hull-survey", {"/readings/1/stationm": 1.0}, unknown("/readings/1/stationm", "station_m")),
    Bad(
        "residual-thickness: names that a pointer escapes",
        "/v1/calculations/residual-thickness",
        {**GOOD["residual-thickness"], "a/b": 1, "c~d": 2, "": 3, "_schema": 4},
        faults=[unknown("/"), unknown("/_schema"), unknown("/a~1b"), unknown("/c~0d")],
    ),
    # Bounds
    invalid("too small", "residual-thickness", {"/original_mm": 0.4999}, out_of_range("/original_mm", 0.5, 40)),
    invalid("too large", "residual-thickness", {"/plate_mm": 200.001}, out_of_range("/plate_mm", 0, 200)),
    invalid("negative", "residual-thickness", {"/pit_depth_mm": -0.001}, out_of_range("/pit_depth_mm", 0, 200)),
    invalid("far too large", "plate-margin", {"/plate_mm": 1e300}, out_of_range("/plate_mm", 0, 200)),
    invalid("a large integer", "plate-margin", {"/plate_mm": 10**30}, out_of_range("/plate_mm", 0, 200)),
    invalid("no age", "corrosion-rate", {"/years_in_service": 0}, out_of_range("/years_in_service", 0.1, 200)),
    invalid("three faces", "corrosion-rate", {"/faces": 3}, out_of_range("/faces", 1, 2)),
    invalid(
        "no uncertainty",
        "remaining-life",
        {"/residual_standard_uncertainty_mm": 0},
        out_of_range("/residual_standard_uncertainty_mm", 0.001, 10),
    ),
    invalid("certainty", "remaining-life", {"/confidence": 1}, out_of_range("/confidence", 0.5, 0.999)),
    invalid("confidence in percent", "remaining-life", {"/confidence": 90}, out_of_range("/confidence", 0.5, 0.999)),
    invalid("exponent", "remaining-life", {"/exponent": 0.1}, out_of_range("/exponent", 0.2, 2)),
    invalid("limit", "plate-margin", {"/threshold_mm": 40.5}, out_of_range("/threshold_mm", 0, 40)),
    invalid("tolerance", "survey-comparison", {"/station_tolerance_m": 5.1}, out_of_range("/station_tolerance_m", 0, 5)),
    invalid("length", "survey-consistency", {"/hull/length_m": 2.9}, out_of_range("/hull/length_m", 3, 150)),
    invalid("text for a number", "survey-consistency", {"/readings/0/plate_mm": "9,8"}, wrong_type("/readings/0/plate_mm")),
    invalid("no readings", "survey-consistency", {"/readings": GONE}, missing("/readings")),
    invalid("length", "hull-survey", {"/hull/length_m": 2.9}, out_of_range("/hull/length_m", 3, 150)),
    invalid("months", "hull-survey", {"/max_survey_age_months": 0}, out_of_range("/max_survey_age_months", 1, 240)),
    invalid("in an array", "hull-survey", {"/thresholds_mm": [4, 41]}, out_of_range("/thresholds_mm/1", 0, 40)),
    invalid("in a row", "threshold-check", {"/readings/1/plate_mm": 201}, out_of_range("/readings/1/plate_mm", 0, 200)),
    invalid("in a rule", "threshold-check", {"/rules/0/at_least": -1}, out_of_range("/rules/0/at_least", 0, 200)),
    # Enumerations
    invalid(
        "nearly one", "corrosion-rate", {"/environment": "fresh water"}, not_one_of("/environment", "fresh_water", *WATERS)
    ),
    invalid("another case", "plate-margin", {"/environment": "SEA_SPLASH"}, not_one_of("/environment", "sea_splash", *WATERS)),
    invalid("an empty one", "corrosion-rate", {"/environment": ""}, not_one_of("/environment", None, *WATERS)),
    invalid("side", "hull-survey", {"/readings/0/side": "prt"}, not_one_of("/readings/0/side", "port", *SIDES)),
    invalid("water", "hull-survey", {"/hull/water": "salt"}, not_one_of("/hull/water", None, "fresh", "brackish", "sea")),
    invalid(
        "exposure",
        "threshold-check",
        {"/readings/0/exposure": "immersd"},
        not_one_of("/readings/0/exposure", "immersed", *EXPOSURES),
    ),
    invalid(
        "exposure of a rule",
        "threshold-check",
        {"/rules/0/exposures": ["topsides"]},
        not_one_of("/rules/0/exposures/0", "topside", *EXPOSURES),
    ),
    invalid(
        "severity", "threshold-check", {"/rules/0/severity": "note"}, not_one_of("/rules/0/severity", None, "watch", "act")
    ),
    invalid(
        "a reason",
        "hull-survey",
        {"/unexamined": [{"zone": "side", "reason": "docking-blocks"}]},
        not_one_of(
            "/unexamined/0/reason",
            "docking_blocks",
            "docking_blocks",
            "afloat",
            "ballast",
            "lining",
            "tank",
            "fouling",
            "other",
        ),
    ),
    invalid(
        "an unknown rule set",
        "hull-survey",
        {"/rule_sets": ["trade-practise"]},
        not_one_of(
            "/rule_sets/0",
            "trade-practice",
            "inland-vessel-benchmark",
            "loss-fraction",
            "loss-fraction-light",
            "trade-practice",
        ),
    ),
    # Lengths
    invalid("an empty label", "residual-thickness", {"/id": ""}, ("/id", "too_short", {"minimum": 1, "maximum": 100})),
    invalid("a long label", "residual-thickness", {"/id": "x" * 101}, ("/id", "too_long", {"minimum": 1, "maximum": 100})),
    invalid(
        "a long zone",
        "hull-survey",
        {"/readings/0/zone": "z" * 41},
        ("/readings/0/zone", "too_long", {"minimum": 1, "maximum": 40}),
    ),
    invalid("a blank zone", "hull-survey", {"/readings/0/zone": " \t"}, ("/readings/0/zone", "bad_format", {})),
    invalid("a blank zone of a rule", "threshold-check", {"/rules/0/zones": ["\x1c"]}, ("/rules/0/zones/0", "bad_format", {})),
    invalid("no reading", "threshold-check", {"/readings": []}, ("/readings", "too_short", {"minimum": 1, "maximum": 20_000})),
    invalid(
        "20,001 readings",
        "threshold-check",
        {"/readings": [{"zone": "side", "plate_mm": "5"}] * 20_001},
        ("/readings", "too_long", {"minimum": 1, "maximum": 20_000}),
    ),
    invalid("no limit", "hull-survey", {"/thresholds_mm": []}, ("/thresholds_mm", "too_short", {"minimum": 1, "maximum": 10})),
    invalid(
        "21 rule sets",
        "threshold-check",
        {"/rule_sets": ["trade-practice"] * 21},
        ("/rule_sets", "too_long", {"minimum": 0, "maximum": 20}),
    ),
    # Dates
    invalid("no leap year", "plate-margin", {"/surveyed_on": "2023-02-29"}, bad_format("/surveyed_on")),
    invalid("no leading zeros", "remaining-life", {"/surveyed_on": "2023-2-3"}, bad_format("/surveyed_on")),
    invalid("a time too", "hull-survey", {"/surveyed_on": "2024-12-31T00:00:00Z"}, bad_format("/surveyed_on")),
    invalid("basic form", "hull-survey", {"/surveyed_on": "20241231"}, bad_format("/surveyed_on")),
    invalid("a week", "hull-survey", {"/surveyed_on": "2024-W52-2"}, bad_format("/surveyed_on")),
    invalid("day first", "hull-survey", {"/surveyed_on": "31/12/2024"}, bad_format("/surveyed_on")),
    invalid("the year nought", "hull-survey", {"/surveyed_on": "0000-01-01"}, bad_format("/surveyed_on")),
    invalid("a number", "hull-survey", {"/surveyed_on": 20241231}, bad_format("/surveyed_on")),
    invalid("a line's end", "hull-survey", {"/surveyed_on": "2024-12-31\n"}, bad_format("/surveyed_on")),
    invalid(
        "Arabic digits",
        "hull-survey",
        {"/surveyed_on": "\u0662\u0660\u0662\u0664-\u0661\u0662-\u0663\u0661"},
        bad_format("/surveyed_on"),
    ),
    invalid("thirteen months", "hull-survey", {"/built_on": "2008-13"}, bad_format("/built_on")),
    invalid("two digits", "hull-survey", {"/built_on": "08-12"}, bad_format("/built_on")),
    invalid("before steel", "hull-survey", {"/built_on": "1799"}, bad_format("/built_on")),
    invalid("a line's end in a period", "hull-survey", {"/built_on": "2008\n"}, bad_format("/built_on")),
    invalid("notation of one figure", "hull-survey", {"/plating_notation": "10"}, bad_format("/plating_notation")),
    invalid("notation of five", "hull-survey", {"/plating_notation": "10/6/5/4/3"}, bad_format("/plating_notation")),
    invalid("notation out of bounds", "hull-survey", {"/plating_notation": "41/6/5"}, bad_format("/plating_notation")),
    invalid("notation with a unit", "hull-survey", {"/plating_notation": "10/6/5 mm"}, bad_format("/plating_notation")),
    # Several at once
    invalid(
        "everything at once",
        "hull-survey",
        {
            "/hull/water": "salt",
            "/hull/length_m": "17.5",
            "/hull/colour": "red",
            "/surveyed_on": "yesterday",
            "/readings/0/plate_mm": -1,
            "/readings/1/side": "left",
            "/readings/1/plates_mm": 1,
            "/confidence": None,
            "/ashore": 1,
            "/zzz": 1,
            "/aaa": 1,
        },
        wrong_type("/hull/length_m"),
        not_one_of("/hull/water", None, "fresh", "brackish", "sea"),
        unknown("/hull/colour"),
        bad_format("/surveyed_on"),
        out_of_range("/readings/0/plate_mm", 0, 200),
        not_one_of("/readings/1/side", None, *SIDES),
        unknown("/readings/1/plates_mm", "plate_mm"),
        wrong_type("/ashore"),
        unknown("/aaa"),
        unknown("/zzz"),
    ),
    # The form of attack and its treatment
    invalid(
        "a profile",
        "attack-form",
        {"/pits/0/profile": "narrow-deep"},
        not_one_of("/pits/0/profile", "narrow_deep", "narrow_deep", "wide_shallow", "irregular"),
    ),
    invalid("a colour alone", "attack-form", {"/pits/1/colours": "black"}, wrong_type("/pits/1/colours")),
    invalid("pH", "attack-form", {"/pits/0/deposit_ph": 14.1}, out_of_range("/pits/0/deposit_ph", 0, 14)),
    invalid("no width", "attack-form", {"/pits/0/width_mm": 0}, out_of_range("/pits/0/width_mm", 0.1, 2000)),
    invalid("yes for a setting", "attack-form", {"/setting": {"shore_power": "yes"}}, wrong_type("/setting/shore_power")),
    invalid("an unknown test", "attack-form", {"/tests": {"sulphide": True}}, unknown("/tests/sulphide")),
    invalid("201 pits", "attack-form", {"/pits": [{}] * 201}, ("/pits", "too_long", {"minimum": 0, "maximum": 200})),
    invalid("no form", "treatment-plan", {"/forms": []}, ("/forms", "too_short", {"minimum": 1, "maximum": 9})),
    invalid("no area", "treatment-plan", {"/area_m2": 0}, out_of_range("/area_m2", 0.01, 10_000)),
    invalid("five halves of a coat", "treatment-plan", {"/coating/coats": 2.5}, wrong_type("/coating/coats")),
    invalid(
        "no solids",
        "treatment-plan",
        {"/coating/volume_solids_percent": 0},
        out_of_range("/coating/volume_solids_percent", 10, 100),
    ),
    invalid("all lost", "treatment-plan", {"/coating/loss_percent": 100}, out_of_range("/coating/loss_percent", 0, 90)),
    invalid(
        "both biocides",
        "treatment-plan",
        {"/biocide": {"agent": ["sodium_hypochlorite", "isopropyl_alcohol"]}},
        wrong_type("/biocide/agent"),
    ),
    # Fields each valid, together not
    together("no reading", "ultrasonic-thickness", {"/indicated_mm": GONE}, ("/indicated_mm", "no_reading")),
    together("both readings", "ultrasonic-thickness", {"/transit_time_us": 2.0}, ("/transit_time_us", "two_readings")),
    together(
        "a gauge's velocity with a time",
        "ultrasonic-thickness",
        {"/indicated_mm": GONE, "/transit_time_us": 2.0, "/gauge_velocity_m_per_s": 5900.0},
        ("/gauge_velocity_m_per_s", "gauge_velocity_without_indication"),
    ),
    together(
        "more film than reading",
        "ultrasonic-thickness",
        {"/coating_um": 4000.0},
        ("/coating_um", "coating_thicker_than_reading"),
    ),
    together(
        "an area alone",
        "reading-coverage",
        {"/patch_diameter_mm": GONE, "/grid_spacing_mm": GONE},
        ("/attacked_fraction", "nothing_asked"),
    ),
    together(
        "a grid for no patch",
        "reading-coverage",
        {"/patch_diameter_mm": GONE, "/attacked_fraction": 0.1},
        ("/patch_diameter_mm", "grid_without_patch"),
    ),
    together("a patch in um", "reading-coverage", {"/area_m2": 0.05}, ("/patch_diameter_mm", "patch_larger_than_area")),
    together("two pits of one id", "attack-form", {"/pits/1/id": "a"}, ("/pits/1/id", "id_not_unique")),
    together(
        "a pit called as another's index",
        "attack-form",
        {"/pits/0/id": GONE, "/pits/1/id": "0"},
        ("/pits/1/id", "id_not_unique"),
    ),
    together(
        "tubercles that are none",
        "attack-form",
        {"/tubercles/seen": False},
        ("/tubercles/seen", "tubercles_described_and_none"),
    ),
    together("nothing of tubercles", "attack-form", {"/tubercles": {}}, ("/tubercles", "tubercles_not_described")),
    together(
        "bacteria and none",
        "attack-form",
        {"/tests": {"bacteria_found": ["acid_producing", "none"]}},
        ("/tests/bacteria_found", "bacteria_found_and_none"),
    ),
    together("a form twice", "treatment-plan", {"/forms": ["general", "general"]}, ("/forms/1", "form_named_twice")),
    together(
        "pit deeper than the plate",
        "residual-thickness",
        {"/plate_mm": 2.0, "/pit_depth_mm": 2.501},
        ("/pit_depth_mm", "pit_deeper_than_plate"),
    ),
    together(
        "pit deeper than the plate",
        "plate-margin",
        {"/plate_mm": 2.0, "/pit_depth_mm": 2.6},
        ("/pit_depth_mm", "pit_deeper_than_plate"),
    ),
    together(
        "protected all its life",
        "corrosion-rate",
        {"/protected_years": 16.0},
        ("/protected_years", "protected_longer_than_service"),
    ),
    together(
        "protected longer than its life",
        "remaining-life",
        {"/protected_years": 20.0},
        ("/protected_years", "protected_longer_than_service"),
    ),
    together(
        "half a previous reading", "corrosion-rate", {"/previous_mm": 7.0}, ("/years_since_previous", "previous_incomplete")
    ),
    together(
        "a pressure and no steel",
        "minimum-plating",
        {"/pressure_kpa": 16.0},
        ("/yield_mpa", "bending_incomplete"),
        ("/ultimate_mpa", "bending_incomplete"),
    ),
    together(
        "a panel and nothing on it",
        "minimum-plating",
        {"/panel_length_mm": 900.0, "/yield_mpa": 235.0, "/ultimate_mpa": 360.0},
        ("/pressure_kpa", "bending_incomplete"),
    ),
    together(
        "steel that yields after it breaks",
        "minimum-plating",
        {"/pressure_kpa": 16.0, "/yield_mpa": 360.01, "/ultimate_mpa": 360.0},
        ("/yield_mpa", "yield_over_ultimate"),
    ),
    together("the other half", "remaining-life", {"/years_since_previous": 4.0}, ("/previous_mm", "previous_incomplete")),
    together(
        "previous reading before the plate",
        "plate-margin",
        {"/previous_mm": 7.0, "/years_since_previous": 16.1},
        ("/years_since_previous", "previous_before_service"),
    ),
    together(
        "three at once",
        "plate-margin",
        {"/pit_depth_mm": 9.4, "/protected_years": 17.0, "/years_since_previous": 17.0},
        ("/pit_depth_mm", "pit_deeper_than_plate"),
        ("/protected_years", "protected_longer_than_service"),
        ("/previous_mm", "previous_incomplete"),
        ("/years_since_previous", "previous_before_service"),
    ),
    together("nothing says how much", "anode-sizing", {"/hull": GONE}, ("/wetted_area_m2", "area_missing")),
    together(
        "an area told twice",
        "anode-sizing",
        {"/wetted_area_m2": 50.0, "/coating": GONE, "/surfaces": [PART]},
        ("/wetted_area_m2", "area_given_twice"),
    ),
    together("nothing says how coated", "anode-sizing", {"/coating": GONE}, ("/coating", "coating_missing")),
    together("a coating told twice", "anode-sizing", {"/surfaces": [PART]}, ("/coating", "coating_given_twice")),
    together("no coating in it", "anode-sizing", {"/coating": {}}, ("/coating", "coating_contradicts_itself")),
    together(
        "half a coating",
        "anode-sizing",
        {"/coating": {"initial_breakdown": 0.1}},
        ("/coating", "coating_contradicts_itself"),
    ),
    together(
        "category and a constant",
        "anode-sizing",
        {"/coating/breakdown_per_year": 0.1},
        ("/coating", "coating_contradicts_itself"),
    ),
    together(
        "half a coating of a part",
        "anode-sizing",
        {"/coating": GONE, "/surfaces": [{**PART, "coating": {"breakdown_per_year": 0.1}}]},
        ("/surfaces/0/coating", "coating_of_surface_contradicts_itself"),
    ),
    together(
        "two parts of one name",
        "anode-sizing",
        {"/coating": GONE, "/surfaces": [PART, PART]},
        ("/surfaces/1/name", "name_not_unique"),
    ),
    together("no water", "anode-sizing", {"/electrolyte": {}}, ("/electrolyte", "water_not_told_once")),
    together("two waters", "anode-sizing", {"/electrolyte/salinity": 5}, ("/electrolyte", "water_not_told_once")),
    together(
        "a potential of no electrode",
        "anode-sizing",
        {"/protection_potential_v": -0.95},
        ("/reference_electrode", "potential_without_electrode"),
    ),
    together(
        "an electrode of no potential",
        "anode-sizing",
        {"/reference_electrode": "cse"},
        ("/reference_electrode", "potential_without_electrode"),
    ),
    together(
        "two driving voltages",
        "anode-sizing",
        {"/protection_potential_v": -0.95, "/reference_electrode": "cse", "/anode/driving_voltage_v": 0.5},
        ("/protection_potential_v", "driving_voltage_given_twice"),
    ),
    together(
        "a potential without its sign",
        "anode-sizing",
        {"/protection_potential_v": 0.85, "/reference_electrode": "cse"},
        ("/protection_potential_v", "potential_not_of_steel"),
    ),
    together("an aluminium hull", "anode-sizing", {"/hull/material": "aluminium"}, ("/hull/material", "hull_not_of_steel")),
    together(
        "a move to the water that it lies in",
        "anode-sizing",
        {"/electrolyte": {"water": "fresh"}, "/moves_to": "fresh"},
        ("/moves_to", "moves_to_same_water"),
    ),
    together(
        "an anode too weak",
        "anode-sizing",
        {"/protection_potential_v": -1.05, "/reference_electrode": "cse", "/anode/material": "zinc"},
        ("/protection_potential_v", "anode_too_weak"),
    ),
    together(
        "more than a kilogram holds",
        "anode-sizing",
        {"/anode/capacity_ah_per_kg": 2205.6},
        ("/anode/capacity_ah_per_kg", "capacity_over_faraday"),
    ),
    together(
        "flush and standing off",
        "anode-sizing",
        {"/anode/stand_off_m": 0.1},
        ("/anode/stand_off_m", "flush_anode_stands_off"),
    ),
    together("two readings of one id", "threshold-check", {"/readings/1/id": "a"}, ("/readings/1/id", "id_not_unique")),
    together(
        "201 zones",
        "threshold-check",
        {"/readings": [{"zone": f"zone {number}", "plate_mm": 5.0} for number in range(201)]},
        ("/readings", "too_many_zones"),
    ),
    together(
        "an id that is another's index",
        "threshold-check",
        {"/readings/0/id": GONE, "/readings/1/id": "0"},
        ("/readings/1/id", "id_not_unique"),
    ),
    together(
        "pit of a row",
        "threshold-check",
        {"/readings/1/pit_depth_mm": 6.2},
        ("/readings/1/pit_depth_mm", "pit_deeper_than_plate"),
    ),
    together("a rule with two limits", "threshold-check", {"/rules/0/at_most": 5.0}, ("/rules/0", "rule_contradicts_itself")),
    together(
        "a rule with none",
        "hull-survey",
        {"/rules": [{k: v for k, v in RULE.items() if k != "at_least"}]},
        ("/rules/0", "rule_contradicts_itself"),
    ),
    together(
        "a rule for no plate",
        "threshold-check",
        {"/rules/0/original_at_least_mm": 8.0, "/rules/0/original_at_most_mm": 6.0},
        ("/rules/0", "rule_contradicts_itself"),
    ),
    together("two rules of one id", "threshold-check", {"/rules/1": RULE}, ("/rules/1/id", "id_not_unique")),
    together("potentials without anodes", "hull-survey", {"/potentials": [CELL]}, ("/potentials", "anodes_needed")),
    together(
        "anodes that are said not to be there",
        "hull-survey",
        {"/anodes": [FITTED], "/observations": {"setting": {"anodes_fitted": False}}},
        ("/observations/setting/anodes_fitted", "anodes_contradicted"),
    ),
    together(
        "within a survey",
        "hull-survey",
        {
            "/anodes": [{**FITTED, "station_m": 99.0}],
            "/observations": {"pits": [{"id": "a"}, {"id": "a"}]},
            "/anode_sizing": {"design_life_years": 4.0, "anode": GOOD["anode-sizing"]["anode"]},
        },
        ("/observations/pits/1/id", "id_not_unique"),
        ("/anodes/0/station_m", "station_beyond_hull"),
        ("/coating", "coating_missing"),
    ),
    together(
        "beyond the hull",
        "threshold-check",
        {"/hull": {"length_m": 15.0}, "/readings/0/station_m": 15.01},
        ("/readings/0/station_m", "station_beyond_hull"),
    ),
    together(
        "beyond the hull", "hull-survey", {"/readings/1/station_m": 17.6}, ("/readings/1/station_m", "station_beyond_hull")
    ),
    *(
        together(f"{name}, {survey}", "survey-comparison", {f"/{survey}/readings/1/{member}": value}, (pointer, code))
        for survey in ("earlier", "later")
        for name, member, value, pointer, code in (
            ("two readings of one id", "id", "a", f"/{survey}/readings/1/id", "id_not_unique"),
            ("pit of a row", "pit_depth_mm", 6.4, f"/{survey}/readings/1/pit_depth_mm", "pit_deeper_than_plate"),
            ("no day of the calendar", "fitted_on", "2015-02-29", f"/{survey}/readings/1/fitted_on", "day_not_possible"),
            ("fitted after it was read", "fitted_on", "2024-06", f"/{survey}/readings/1/fitted_on", "day_not_possible"),
        )
    ),
    together("more patches than area", "deepest-pit", {"/total_area_m2": 1.4}, ("/total_area_m2", "patches_over_area")),
    together("no spread", "deepest-pit", {"/pit_depths_mm": [0.8] * 6}, ("/pit_depths_mm", "no_spread")),
    together("zeros", "deepest-pit", {"/pit_depths_mm": [0] * 6}, ("/pit_depths_mm", "no_spread")),
    together(
        "too many for Lieblein",
        "deepest-pit",
        {"/pit_depths_mm": [number / 10 for number in range(17)], "/method": "lieblein"},
        ("/method", "too_many_for_lieblein"),
    ),
    together("pit of a list", "deepest-pit", {"/plate_mm": 0.6}, ("/pit_depths_mm/3", "pit_deeper_than_plate")),
    together(
        "previous on the same day",
        "hull-survey",
        {"/previous_survey": {"surveyed_on": "2024-12-31", "readings": [{"zone": "side", "plate_mm": 5.0}]}},
        ("/previous_survey/surveyed_on", "surveys_out_of_order"),
    ),
    together(
        "previous before the boat was built",
        "hull-survey",
        {"/previous_survey": {"surveyed_on": "2007-12-31", "readings": [{"zone": "side", "plate_mm": 5.0}]}},
        ("/built_on", "built_after_survey"),
    ),
    together(
        "previous pit deeper than its plate",
        "hull-survey",
        {"/previous_survey": {"surveyed_on": "2020-12-31", "readings": [{"zone": "side", "plate_mm": 5, "pit_depth_mm": 6}]}},
        ("/previous_survey/readings/0/pit_depth_mm", "pit_deeper_than_plate"),
    ),
    together(
        "201 zones",
        "survey-comparison",
        {"/earlier/readings": [{"zone": f"zone {number}", "plate_mm": 5.0} for number in range(201)]},
        ("/earlier/readings", "too_many_zones"),
    ),
    *(
        together(name, "survey-comparison", {"/earlier/surveyed_on": day}, ("/earlier/surveyed_on", "surveys_out_of_order"))
        for name, day in (("one day", "2024-05-02"), ("out of order", "2025-01-01"), ("a month apart", "2024-04-02"))
    ),
    together("built after it was surveyed", "survey-comparison", {"/built_on": "2017"}, ("/built_on", "built_after_survey")),
    together(
        "built after both",
        "survey-comparison",
        {"/built_on": "2025"},
        ("/built_on", "built_after_survey"),
        ("/built_on", "day_not_possible"),
    ),
    together(
        "protected all its life",
        "survey-comparison",
        {"/built_on": "2010", "/plating": [{"zone": "side", "protected_years": 14.0}]},
        ("/plating/0/protected_years", "protected_longer_than_service"),
    ),
    together(
        "a reading protected all its life",
        "survey-comparison",
        {"/built_on": "2000", "/plating": [{"zone": "side", "protected_years": 14.0}], "/later/readings/1/fitted_on": "2012"},
        ("/later/readings/1/fitted_on", "protected_longer_than_service"),
    ),
    together(
        "a part backwards",
        "survey-comparison",
        {"/plating": [{"zone": "side", "from_m": 9.0, "to_m": 8.0}]},
        ("/plating/0/to_m", "range_backwards"),
    ),
    together(
        "a calibration worse than a reading",
        "survey-comparison",
        {"/calibration_standard_uncertainty_mm": 0.15},
        ("/calibration_standard_uncertainty_mm", "calibration_over_reading"),
    ),
    together(
        "too many readings of one place",
        "survey-comparison",
        {
            f"/{survey}/readings": [{"zone": "side", "station_m": 4.0, "plate_mm": 5.0}] * 5001
            for survey in ("earlier", "later")
        },
        ("/station_tolerance_m", "too_many_candidates"),
    ),
    invalid("no list of anodes", "anode-condition", {"/anodes": GONE}, missing("/anodes")),
    invalid(
        "no electrode",
        "anode-condition",
        {"/potentials/0/reference_electrode": GONE},
        missing("/potentials/0/reference_electrode"),
    ),
    invalid(
        "more than all",
        "anode-condition",
        {"/anodes/0/remaining_percent": 101},
        out_of_range("/anodes/0/remaining_percent", 0, 100),
    ),
    invalid("just now", "anode-condition", {"/anodes/0/years_fitted": 0}, out_of_range("/anodes/0/years_fitted", 0.01, 100)),
    invalid(
        "a metal",
        "anode-condition",
        {"/anodes/0/material": "zink"},
        not_one_of("/anodes/0/material", "zinc", "magnesium", "aluminium", "zinc"),
    ),
    together(
        "beyond the hull",
        "anode-condition",
        {"/anodes/0/station_m": 17.01},
        ("/anodes/0/station_m", "station_beyond_hull"),
    ),
    together(
        "read beyond the hull",
        "anode-condition",
        {"/potentials/0/station_m": 18},
        ("/potentials/0/station_m", "station_beyond_hull"),
    ),
    together(
        "more than every atom",
        "anode-condition",
        {"/anodes/0/capacity_ah_per_kg": 2206},
        ("/anodes/0/capacity_ah_per_kg", "capacity_over_faraday"),
    ),
    invalid("no patch", "overplating", {"/patches": []}, ("/patches", "too_short", {"minimum": 1, "maximum": 200})),
    invalid("no thickness", "overplating", {"/patches/0/thickness_mm": GONE}, missing("/patches/0/thickness_mm")),
    invalid(
        "a coefficient",
        "overplating",
        {"/hull/waterplane_coefficient": 1.1},
        out_of_range("/hull/waterplane_coefficient", 0.5, 1),
    ),
    invalid("no metacentric height", "overplating", {"/hull/gm_m": 0}, out_of_range("/hull/gm_m", 0.01, 20)),
    together(
        "beyond the hull", "overplating", {"/patches/0/station_m": 17.01}, ("/patches/0/station_m", "station_beyond_hull")
    ),
    together(
        "ballast beyond the hull",
        "overplating",
        {"/hull/ballast_station_m": 18},
        ("/hull/ballast_station_m", "station_beyond_hull"),
    ),
    together("no side to be off to", "overplating", {"/patches/0/offset_m": 0.5}, ("/patches/0/offset_m", "offset_off_hull")),
    together(
        "more plate than hull",
        "overplating",
        {"/patches/0/area_m2": 500.0},
        ("/patches", "patches_over_hull"),
        ("/patches", "patches_over_bottom"),
    ),
    together(
        "all of it ballast",
        "overplating",
        {"/hull/ballast_removed_kg": 17_000.0},
        ("/hull/ballast_removed_kg", "ballast_over_displacement"),
    ),
    together(
        "heavier than a box",
        "overplating",
        {"/hull/displacement_kg": 21_421.0},
        ("/hull/displacement_kg", "displacement_over_box"),
    ),
    together("stiffer than a box", "overplating", {"/hull/gm_m": 2.0}, ("/hull/gm_m", "gm_over_box")),
    together("no day of the calendar", "hull-survey", {"/built_on": "2023-02-30"}, ("/built_on", "day_not_possible")),
    together("built after the survey", "hull-survey", {"/built_on": "2025"}, ("/built_on", "day_not_possible")),
    together(
        "fitted after the survey",
        "hull-survey",
        {"/plating/0/fitted_on": "2025-01-01"},
        ("/plating/0/fitted_on", "day_not_possible"),
    ),
    together(
        "read before it was fitted",
        "hull-survey",
        {"/readings/0/fitted_on": "2025-01"},
        ("/readings/0/fitted_on", "day_not_possible"),
    ),
    together("as of before the survey", "hull-survey", {"/as_of": "2024-12-30"}, ("/as_of", "as_of_before_survey")),
    together("an age without its day", "hull-survey", {"/max_survey_age_months": 60}, ("/as_of", "as_of_needed")),
    together(
        "plating twice",
        "hull-survey",
        {"/plating/2": {"zone": "side", "original_mm": 5.0}},
        ("/plating/2", "plating_stated_twice"),
    ),
    together(
        "plating backwards",
        "hull-survey",
        {"/plating/0/from_m": 9.0, "/plating/0/to_m": 8.0},
        ("/plating/0/to_m", "range_backwards"),
    ),
    together(
        "unexamined backwards",
        "hull-survey",
        {"/unexamined": [{"zone": "side", "reason": "ballast", "from_m": 2.0, "to_m": 1.0}]},
        ("/unexamined/0/to_m", "range_backwards"),
    ),
    together(
        "plate protected all its life",
        "hull-survey",
        {"/plating/1/protected_years": 16.0},
        ("/plating/1/protected_years", "protected_longer_than_service"),
    ),
    # Media
    media("no type", 415, "unsupported-media-type", "Content-Type: application/json"),
    media("text", 415, "unsupported-media-type", "text/plain is not read here", Content_Type="text/plain"),
    media("a form", 415, "unsupported-media-type", "application/json", Content_Type="application/x-www-form-urlencoded"),
    media("almost JSON", 415, "unsupported-media-type", "merge-patch", Content_Type="application/merge-patch+json"),
    media("UTF-16", 415, "unsupported-media-type", "utf-16", Content_Type="application/json; charset=utf-16"),
    media("Latin-1", 415, "unsupported-media-type", "latin-1", Content_Type='application/json; charset="latin-1"'),
    media("gzip", 415, "unsupported-media-type", "gzip", **JSON_TYPE, Content_Encoding="gzip"),
    media("two codings", 415, "unsupported-media-type", "identity, br", **JSON_TYPE, Content_Encoding="identity, br"),
    media("HTML asked for", 406, "not-acceptable", "application/json", **JSON_TYPE, Accept="text/html"),
    media("JSON refused", 406, "not-acceptable", "application/json", **JSON_TYPE, Accept="application/json;q=0, */*;q=0.5"),
    media("no media type", 406, "not-acceptable", "application/json", **JSON_TYPE, Accept="JSON"),
    # Paths and methods
    get("/v1/calculations/residual-thicknes", 404, "unknown-calculation", "the nearest is residual-thickness"),
    get("/v1/calculations/hull_survey", 404, "unknown-calculation", "the nearest is hull-survey", method="POST"),
    get("/v1/calculations/zzz", 404, "unknown-calculation", "'zzz'"),
    get("/v1/rule-sets/trade-practise", 404, "unknown-rule-set", "the nearest is trade-practice"),
    get("/v1/rule-sets/zzz", 404, "unknown-rule-set", "'zzz'"),
    get("/problems/too-big", 404, "not-found", "the nearest is too-large"),
    get("/v1/calculation", 404, "not-found", "/openapi.json"),
    get("/v1/calculations/", 404, "not-found", "/v1/calculations/"),
    get("/v1/calculations/residual-thickness/", 404, "not-found", "/openapi.json"),
    get("/v1", 404, "not-found", "/v1"),
    get("/static/app.js", 404, "not-found", "/static/app.js"),
    *(
        get(path, 406, "not-acceptable", "application/json", headers={"Accept": "text/csv"})
        for path in (
            "/",
            "/openapi.json",
            "/v1/calculations",
            "/v1/calculations/hull-survey",
            "/v1/rule-sets",
            "/v1/rule-sets/trade-practice",
            "/problems/timeout",
        )
    ),
    *(no_method(method, "/v1/calculations/plate-margin", "GET HEAD OPTIONS POST") for method in ("PUT", "DELETE", "PATCH")),
    *(
        no_method("POST", path, "GET HEAD OPTIONS")
        for path in ("/", "/openapi.json", "/v1/calculations", "/v1/rule-sets", "/v1/rule-sets/trade-practice", "/health/live")
    ),
    no_method("TRACE", "/v1/calculations", "GET HEAD OPTIONS"),
]


def send(client, row: Bad):
    return client.open(row.path, method=row.method, data=row.bytes, headers=row.headers)


def assert_is_problem(answer, document):
    """Hold what is true of every failure, whatever its kind."""
    assert answer.content_type == "application/problem+json"
    assert answer.headers["Cache-Control"] == "no-store"
    assert "Accept" in answer.headers["Vary"]
    problem = answer.json
    jsonschema.validate(problem, {"$ref": "#/components/schemas/Problem", "components": document["components"]})
    assert problem["status"] == answer.status_code
    assert problem.get("detail", "nothing to tell") or problem["type"] != "about:blank"
    assert all(fault["detail"] for fault in problem.get("errors", []))
    text = answer.get_data(as_text=True)
    assert not [trace for trace in ("Traceback", "marshmallow", "orjson", ".py", "site-packages") if trace in text]


def test_the_table_is_long_enough_and_every_row_has_its_own_name():
    names = [row.name for row in TABLE]
    assert len(set(names)) == len(names) >= 70
    posted = {row.path.rsplit("/", 1)[1] for row in TABLE if row.problem in ("invalid-request", "not-applicable")}
    assert posted == set(GOOD)


def test_the_table_has_every_code():
    """Of the fields, and of every relation that a calculation declares."""
    of_fields = {code for row in TABLE if row.problem == "invalid-request" for _, code, _ in row.faults}
    assert of_fields == {
        *("wrong_type", "missing", "unknown_field", "out_of_range", "not_one_of", "too_short", "too_long", "bad_format", "null")
    }
    of_relations = {code for row in TABLE if row.problem == "not-applicable" for _, code, _ in row.faults}
    declared = {fault.code for served in load_registry().calculations.values() for fault in served.offered.faults}
    assert of_relations == declared


@pytest.mark.parametrize("calculation", GOOD)
def test_what_the_rows_differ_from_is_good(client, calculation):
    assert client.post(f"/v1/calculations/{calculation}", json=GOOD[calculation]).status_code == 200


@pytest.mark.parametrize("row", TABLE, ids=lambda row: row.name)
def test_a_bad_request_is_refused(client, document, row):
    answer = send(client, row)
    assert answer.status_code == row.status, answer.data
    assert_is_problem(answer, document)
    problem = answer.json
    assert problem["type"] == f"/problems/{row.problem}"
    assert row.says in problem["detail"]
    told = [(fault["pointer"], fault["code"]) for fault in problem.get("errors", [])]
    assert told == [(pointer, code) for pointer, code, _ in row.faults]
    for fault, (_, _, more) in zip(problem.get("errors", []), row.faults, strict=True):
        assert {name: fault.get(name) for name in more} == more
    if "Allow" in row.answers:
        assert set(answer.headers["Allow"].split(", ")) == set(row.answers["Allow"].split())
    known = row.method == "POST" and row.path.rsplit("/", 1)[-1] in GOOD
    assert ("Calculation-Version" in answer.headers) == known
    if row.faults:
        assert problem["detail"].startswith(row.faults[0][0] or "The request")
        assert (f"({len(row.faults)} faults in all)" in problem["detail"]) == (len(row.faults) > 1)


@pytest.mark.parametrize(
    ("calculation", "changes"),
    [
        ("corrosion-rate", {"/faces": 2.0}),
        ("corrosion-rate", {"/faces": 1e0}),
        ("hull-survey", {"/max_survey_age_months": 60.0, "/as_of": "2025-06-01"}),
        ("residual-thickness", {"/plate_mm": 9}),
        ("residual-thickness", {"/plate_mm": 2.0, "/pit_depth_mm": 2.5}),
        ("residual-thickness", {"/original_mm": 0.5, "/plate_mm": 200, "/pit_depth_mm": 0}),
        ("residual-thickness", {"/id": "x" * 100}),
        ("corrosion-rate", {"/previous_mm": 7.0, "/years_since_previous": 16.0}),
        ("plate-margin", {"/surveyed_on": "2024-02-29"}),
        ("hull-survey", {"/built_on": "2024-12-31"}),
        ("hull-survey", {"/as_of": "2024-12-31"}),
        ("hull-survey", {"/readings/1/station_m": 17.5}),
        ("hull-survey", {"/rule_sets": []}),
        ("minimum-plating", {"/pressure_kpa": 0.1, "/yield_mpa": 360.0, "/ultimate_mpa": 360.0}),
        ("anode-sizing", {"/anode/capacity_ah_per_kg": 2205.4}),
        ("anode-sizing", {"/protection_potential_v": -1.04, "/reference_electrode": "cse", "/anode/material": "zinc"}),
        ("anode-sizing", {"/coating": {"initial_breakdown": 1.0, "breakdown_per_year": 0.0}}),
        ("anode-sizing", {"/coating": GONE, "/hull": GONE, "/surfaces": [PART]}),
        ("anode-sizing", {"/coating": GONE, "/surfaces": [PART, {**PART, "name": "rest"}]}),
    ],
)
def test_what_is_just_inside_is_accepted(client, calculation, changes):
    """A refusal of everything would pass the table: each bound and rule has a neighbour that is accepted."""
    answer = client.post(f"/v1/calculations/{calculation}", json=but(calculation, changes))
    assert answer.status_code == 200, answer.data


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"/readings/0/zone": "side\x00"}, "a zone's name may be any text"),
        ({"/readings/0/id": "a\x00", "/readings/1/id": "a"}, "ids that differ by any character differ"),
        ({"/surveyed_on": "9999-12-31", "/as_of": "9999-12-31", "/max_survey_age_months": 12}, "the last day that there is"),
        ({"/surveyed_on": "2099-12-31", "/built_on": "2099"}, "an age of nought"),
        ({"/surveyed_on": "0001-01-01", "/built_on": GONE}, "the first day that there is"),
    ],
)
def test_what_is_odd_but_in_range_is_answered(client, changes, why):
    for calculation in ("hull-survey", "survey-consistency"):
        answer = client.post(f"/v1/calculations/{calculation}", json=but("hull-survey", changes))
        assert answer.status_code == 200, f"{why}: {answer.data}"


@pytest.mark.parametrize(
    "row",
    [row for row in TABLE if row.problem == "not-applicable" and row.path.endswith("hull-survey")],
    ids=lambda row: row.name,
)
def test_what_a_survey_is_refused_for_is_a_finding_of_its_consistency(client, row):
    """Of values that each are in range, nothing is refused there: the same code, at the same place."""
    answer = client.post("/v1/calculations/survey-consistency", json=row.body)
    assert answer.status_code == 200, answer.data
    told = {(finding.get("pointer"), finding["code"]) for finding in answer.json["findings"]}
    assert {(pointer, code) for pointer, code, _ in row.faults} <= told
    assert answer.json["result"]["standing"] == "queries"


def test_at_most_a_hundred_faults_are_told_and_all_are_counted(client, document):
    readings = [{"zone": "side", "plate_mm": "5", "side": "left", "plat_mm": 5}] * 150
    answer = client.post("/v1/calculations/threshold-check", json={"readings": readings})
    assert_is_problem(answer, document)
    assert len(answer.json["errors"]) == 100
    assert "(450 faults in all)" in answer.json["detail"]
    assert [fault["pointer"] for fault in answer.json["errors"][:4]] == [
        "/readings/0/side",
        "/readings/0/plate_mm",
        "/readings/0/plat_mm",
        "/readings/1/side",
    ]


def test_at_most_a_hundred_relations_are_told(client, document):
    readings = [{"id": "same", "zone": "side", "plate_mm": 5.0}] * 150
    answer = client.post("/v1/calculations/threshold-check", json={"readings": readings})
    assert_is_problem(answer, document)
    assert answer.json["type"] == "/problems/not-applicable"
    assert len(answer.json["errors"]) == 100
    assert "(149 faults in all)" in answer.json["detail"]


def test_a_fault_reads_the_same_in_every_process():
    """Python shuffles sets from process to process; what a caller reads must not be."""
    body = {**GOOD["residual-thickness"], **dict.fromkeys("qwertyuiopasdfghjkl", 1)}
    program = (
        "import sys; from platemargin_api.app import create_app; "
        "print(create_app().test_client().post('/v1/calculations/residual-thickness', json="
        f"{body!r}).get_data(as_text=True))"
    )
    told = {
        subprocess.run(
            [sys.executable, "-c", program],
            env={**os.environ, "PYTHONHASHSEED": seed},
            check=True,
            capture_output=True,
            text=True,
        ).stdout
        for seed in ("1", "2", "3")
    }
    assert len(told) == 1
    assert len(json.loads(told.pop())["errors"]) == len(body) - 3


def with_run(run):
    """Return an application in which residual-thickness is calculated by `run`, given the real one and the arguments."""
    registry = load_registry()
    served = registry.calculations["residual-thickness"]
    offered = replace(served.offered, run=lambda **arguments: run(served.offered.run, arguments))
    broken = Served(offered=offered, distribution=served.distribution)
    return create_app(replace(registry, calculations={**registry.calculations, "residual-thickness": broken}))


def raises(real, arguments):
    if arguments["original_mm"][0] == 11:
        raise ZeroDivisionError("secret")
    return real(**arguments)


def returns_no_number(real, arguments):
    result = real(**arguments)
    return replace(result, residual_mm=result.residual_mm * np.nan) if arguments["original_mm"][0] == 11 else result


def returns_infinity(real, arguments):
    result = real(**arguments)
    return replace(result, pit_share_percent=result.loss_mm * np.inf) if arguments["original_mm"][0] == 11 else result


def returns_too_little(real, arguments):
    return object() if arguments["original_mm"][0] == 11 else real(**arguments)


@pytest.mark.parametrize("run", [raises, returns_no_number, returns_infinity, returns_too_little])
def test_a_failure_inside_is_a_problem_too_and_tells_nothing_of_the_code(document, run):
    client = with_run(run).test_client()
    answer = client.post("/v1/calculations/residual-thickness", json=but("residual-thickness", {"/original_mm": 11}))
    assert answer.status_code == 500
    assert_is_problem(answer, document)
    assert answer.json["type"] == "/problems/calculation-failed"
    assert "residual-thickness 1.0.0" in answer.json["detail"]
    assert b"secret" not in answer.data
    good = client.post("/v1/calculations/residual-thickness", json=GOOD["residual-thickness"])
    assert good.status_code == 200


def test_a_failure_of_the_service_itself_is_about_blank(document):
    application = create_app()

    def fails():
        raise ZeroDivisionError("secret")

    application.add_url_rule("/fails", view_func=fails)
    answer = application.test_client().get("/fails")
    assert answer.status_code == 500
    assert_is_problem(answer, document)
    assert answer.json == {"type": "about:blank", "title": "Internal Server Error", "status": 500}
    assert b"secret" not in answer.data


# Size and pace, through the real server and a socket of its own.

LIMIT = 4096


def listens(address):
    """Tell whether a socket takes connections: its file is there from bind(2) on, and refuses until listen(2)."""
    with socket.socket(socket.AF_UNIX) as connection:
        return connection.connect_ex(str(address)) == 0


@pytest.fixture(scope="module")
def server():
    """Start the service as it is served, on a socket in a folder of its own, and stop it."""
    folder = Path(tempfile.mkdtemp(prefix="platemargin-"))
    address = folder / "socket"
    environment = {
        **os.environ,
        "PLATEMARGIN_BIND": f"unix:{address}",
        "PLATEMARGIN_MAX_BODY_BYTES": str(LIMIT),
        "PLATEMARGIN_READ_TIMEOUT_SECONDS": "1",
        "WEB_CONCURRENCY": "1",
    }
    command = [sys.executable, "-m", "gunicorn", "-c", "python:platemargin_api.server"]
    with (folder / "log").open("wb") as log, subprocess.Popen(command, env=environment, stdout=log, stderr=log) as process:
        try:
            deadline = time.monotonic() + 60
            while not listens(address):
                assert process.poll() is None, (folder / "log").read_text()
                assert time.monotonic() < deadline
                time.sleep(0.05)
            yield str(address)
        finally:
            process.terminate()
            process.wait(timeout=30)
    shutil.rmtree(folder)


class Reply:
    """What came back over the socket, with the members that the test client's answers have."""

    def __init__(self, raw: http.client.HTTPResponse) -> None:
        self.status_code = raw.status
        self.headers = raw.headers
        self.data = raw.read()

    @property
    def content_type(self) -> str:
        return self.headers["Content-Type"]

    @property
    def json(self) -> Any:
        return json.loads(self.data)

    def get_data(self, *, as_text: bool) -> str | bytes:
        return self.data.decode() if as_text else self.data


def exchange(address: str, *parts: bytes, pause: float = 0.0, over: bool = False) -> Reply:
    """Send parts of a request as they are, say so where that is all, and read the one answer."""
    with socket.socket(socket.AF_UNIX) as connection:
        connection.settimeout(30)
        connection.connect(address)
        for part in parts:
            try:
                connection.sendall(part)
            except (BrokenPipeError, ConnectionResetError):
                break  # the service has answered and listens no more
            time.sleep(pause)
        if over:
            connection.shutdown(socket.SHUT_WR)
        raw = http.client.HTTPResponse(connection, method="POST")
        raw.begin()
        return Reply(raw)


def head(*headers: str) -> bytes:
    lines = ["POST /v1/calculations/residual-thickness HTTP/1.1", "Host: here", "Content-Type: application/json", *headers]
    return "\r\n".join([*lines, "", ""]).encode()


def chunk(content: bytes) -> bytes:
    return f"{len(content):x}\r\n".encode() + content + b"\r\n"


GOOD_BODY = json.dumps(GOOD["residual-thickness"]).encode()


def test_a_body_of_exactly_the_limit_is_read(server):
    body = GOOD_BODY.ljust(LIMIT)
    declared = exchange(server, head(f"Content-Length: {LIMIT}"), body)
    chunked = exchange(server, head("Transfer-Encoding: chunked"), chunk(body[:100]), chunk(body[100:]), chunk(b""))
    assert (declared.status_code, chunked.status_code) == (200, 200), (declared.data, chunked.data)
    assert declared.data == chunked.data


def test_a_body_declared_too_large_is_refused_unread(server, document):
    answer = exchange(server, head(f"Content-Length: {LIMIT + 1}"))
    assert answer.status_code == 413
    assert_is_problem(answer, document)
    assert answer.json["type"] == "/problems/too-large"
    assert f"{LIMIT} bytes" in answer.json["detail"]
    assert answer.headers["Calculation-Version"] == "1.0.0"


def test_a_body_that_grows_too_large_is_refused(server, document):
    chunks = [chunk(b" " * 1024)] * (LIMIT // 1024) + [chunk(GOOD_BODY), chunk(b"")]
    answer = exchange(server, head("Transfer-Encoding: chunked"), *chunks)
    assert answer.status_code == 413
    assert_is_problem(answer, document)
    assert answer.json["type"] == "/problems/too-large"
    assert answer.headers["Calculation-Version"] == "1.0.0"


def test_a_body_that_stalls_is_given_up(server, document):
    answer = exchange(server, head(f"Content-Length: {len(GOOD_BODY)}"), GOOD_BODY[:10], pause=0.1)
    assert answer.status_code == 408
    assert_is_problem(answer, document)
    assert answer.json["type"] == "/problems/timeout"
    assert answer.headers["Calculation-Version"] == "1.0.0"


@pytest.mark.parametrize(
    ("headers", "part"),
    [
        ("Transfer-Encoding: chunked", chunk(GOOD_BODY) + b"zz\r\n"),
        ("Transfer-Encoding: chunked", chunk(GOOD_BODY)),
        (f"Content-Length: {len(GOOD_BODY) + 1}", GOOD_BODY[:-1]),
    ],
    ids=["no chunk", "no last chunk", "cut off"],
)
def test_a_body_that_breaks_off_is_refused(server, document, headers, part):
    answer = exchange(server, head(headers), part, over=True)
    assert answer.status_code == 400
    assert_is_problem(answer, document)
    assert answer.json["type"] == "/problems/malformed-body"


def test_a_slow_body_that_does_not_stall_is_read(server):
    parts = [GOOD_BODY[index : index + 10] for index in range(0, len(GOOD_BODY), 10)]
    answer = exchange(server, head(f"Content-Length: {len(GOOD_BODY)}"), *parts, pause=0.3)
    assert answer.status_code == 200


def test_the_limit_is_8_mebibytes_unless_it_is_set(client, document):
    """Declared, as the test client does; the socket above shows that a declaration is not trusted."""
    body = GOOD_BODY.ljust(8 * MIB)
    assert client.post("/v1/calculations/residual-thickness", data=body, **JSON).status_code == 200
    answer = client.post("/v1/calculations/residual-thickness", data=body + b" ", **JSON)
    assert answer.status_code == 413
    assert_is_problem(answer, document)
    assert "8388608 bytes" in answer.json["detail"]
