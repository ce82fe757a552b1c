"""Readings as somebody typed them into a spreadsheet: the same answer as the readings, or refused with row and column."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platemargin_api.app import create_app
from platemargin_api.demo import SURVEY

client = create_app().test_client()

TABLE = "id;zone;side;plate_mm;pit_depth_mm\nb1;baseplate;port;9,8;2,8\nb2;baseplate;starboard;8,8;\ns1;side;port;4,6;0,6\n"
READINGS = [
    {"id": "b1", "zone": "baseplate", "side": "port", "plate_mm": 9.8, "pit_depth_mm": 2.8},
    {"id": "b2", "zone": "baseplate", "side": "starboard", "plate_mm": 8.8},
    {"id": "s1", "zone": "side", "side": "port", "plate_mm": 4.6, "pit_depth_mm": 0.6},
]
HULL = {"hull": {"length_m": 17.5, "beam_m": 2.1, "draught_m": 0.6}, "surveyed_on": "2026-02-11"}
CALCULATIONS = {"threshold-check": {}, "hull-survey": HULL, "survey-consistency": HULL}


def post(calculation, **members):
    return client.post(f"/v1/calculations/{calculation}", json={**CALCULATIONS.get(calculation, {}), **members})


def without_places(told):
    """Return an answer without what tells the two requests apart: digest of the bytes, and places in them."""
    findings = [{k: v for k, v in one.items() if k not in ("pointer", "row", "column")} for one in told["findings"]]
    return {**told, "findings": findings, "provenance": {**told["provenance"], "request_digest": None}}


FORMS = {
    "semicolons and decimal commas": TABLE,
    "semicolons and decimal points": TABLE.replace(",", "."),
    "tabs": TABLE.replace(";", "\t"),
    "commas and decimal points": TABLE.replace(",", ".").replace(";", ","),
    "lines as Windows ends them": TABLE.replace("\n", "\r\n"),
    "a mark of byte order": "\ufeff" + TABLE,
    "blanks around cells": TABLE.replace(";", " ; "),
    "blank lines": TABLE.replace("\nb2", "\n\n;;;;\nb2"),
    "empty cells at the end": TABLE.replace("0,6\n", "0,6;;\n"),
    "columns in another order": "plate_mm;zone;pit_depth_mm;id;side\n9,8;baseplate;2,8;b1;port\n"
    "8,8;baseplate;;b2;starboard\n4,6;side;0,6;s1;port",
}


@pytest.mark.parametrize("calculation", CALCULATIONS)
@pytest.mark.parametrize("text", FORMS.values(), ids=FORMS)
def test_a_table_is_answered_as_the_readings_are(calculation, text):
    typed, sent = post(calculation, readings_csv=text), post(calculation, readings=READINGS)
    assert (typed.status_code, sent.status_code) == (200, 200), typed.data
    assert without_places(typed.json) == without_places(sent.json)
    assert typed.json["provenance"]["arguments_digest"] == sent.json["provenance"]["arguments_digest"]
    assert typed.json["provenance"]["request_digest"] != sent.json["provenance"]["request_digest"]


def test_a_finding_names_the_row_of_the_spreadsheet():
    told = post(
        "threshold-check", readings_csv=TABLE.replace("\nb2", "\n\nb2").replace("4,6", "3,9"), rule_sets=["trade-practice"]
    )
    (found,) = [one for one in told.json["findings"] if one["code"] == "watch_limit_broken"]
    assert (found["pointer"], found["row"]) == ("/readings_csv", 5)


def test_flags_and_quotes():
    text = 'zone;plate_mm;holed\n"side; aft";9,5;yes\n"the ""swim""";9,5;FALSE\n'
    sent = [{"zone": "side; aft", "plate_mm": 9.5, "holed": True}, {"zone": 'the "swim"', "plate_mm": 9.5, "holed": False}]
    assert post("threshold-check", readings_csv=text).json["result"] == post("threshold-check", readings=sent).json["result"]


#: A text, the row and the column that its refusal names, its code, and some of its words.
REFUSED = {
    "two marks of decimals": (TABLE.replace("8,8", "8.8"), 3, "plate_mm", "ambiguous", "9,8 in row 2"),
    "decimal commas between commas": (TABLE.replace(";", ","), 2, None, "malformed_row", "has 7 cells, and the first line 5"),
    "one that may be two": ("zone,plate_mm,pit_depth_mm\nside,9,8\n", 2, "plate_mm", "ambiguous", "write 9.0"),
    "a quoted decimal comma": ('zone,plate_mm\nside,"9,8"\n', 2, "plate_mm", "ambiguous", "separate columns with semicolons"),
    "two separators": ("zone;plate_mm,id\nside;9\n", 1, None, "ambiguous", "semicolons and commas"),
    "a misspelt column": ("zone;plat_mm\nside;9\n", 1, "plat_mm", "unknown_field", "the nearest is plate_mm"),
    "a column of its own": ("zone;plate_mm;weather\nside;9;wet\n", 1, "weather", "unknown_field", "columns are id, zone"),
    "a column twice": ("zone;plate_mm;zone\nside;9;side\n", 1, "zone", "named_twice", "is named twice"),
    "no plate": ("zone;id\nside;a\n", 1, "plate_mm", "missing", "no column is called so"),
    "a unit": ("zone;plate_mm\nside;9\nside;9,5 mm\n", 3, "plate_mm", "wrong_type", "without its unit"),
    "a point in front": ("zone;plate_mm\nside;.5\n", 2, "plate_mm", "wrong_type", "is no number such as 9.8"),
    "thousands": ("zone;plate_mm\nside;1.234,5\n", 2, "plate_mm", "wrong_type", "is no number"),
    "infinity": ("zone;plate_mm\nside;inf\n", 2, "plate_mm", "wrong_type", "is no number"),
    "out of bounds": ("zone;plate_mm\nside;98\nside;980\n", 3, "plate_mm", "out_of_range", "must be from 0 to 200"),
    "a misspelt side": ("zone;plate_mm;side\nside;9;prot\n", 2, "side", "not_one_of", "must be one of"),
    "an empty zone": ("zone;plate_mm\nside;9\n;9\n", 3, "zone", "missing", "is required"),
    "a flag in words": ("zone;plate_mm;holed\nside;9;perhaps\n", 2, "holed", "wrong_type", "none of true, yes, false, no"),
    "too many cells": ("zone;plate_mm\nside;9;1\n", 2, None, "malformed_row", "has 3 cells, and the first line 2"),
    "too few cells": ("zone;plate_mm\nside\n", 2, None, "malformed_row", "has 1 cells"),
    "a quote that does not end": ('zone;plate_mm\n"side;9\n', None, None, "malformed_table", "is no table"),
    "no rows": ("zone;plate_mm\n", None, None, "out_of_range", "no row below"),
    "nothing": ("", 1, "zone", "missing", "is required"),
    "too many rows": ("zone;plate_mm\n" + 20_001 * "side;9,5\n", None, None, "too_long", "not 20001"),
    "blank lines without end": ("zone;plate_mm\n" + 3_000_000 * "\n", None, None, "too_long", "no more blank lines"),
    "no text": (5, None, None, "wrong_type", "must be a JSON string"),
}


@pytest.mark.parametrize(("text", "row", "column", "code", "words"), REFUSED.values(), ids=REFUSED)
def test_what_is_refused_is_told_with_row_and_column(text, row, column, code, words):
    told = post("threshold-check", readings_csv=text)
    assert (told.status_code, told.json["type"]) == (422, "/problems/invalid-request")
    fault = told.json["errors"][0]
    assert (fault["pointer"], fault.get("row"), fault.get("column"), fault["code"]) == ("/readings_csv", row, column, code)
    assert words in fault["detail"]
    assert words in told.json["detail"]


def test_what_does_not_go_together_is_told_with_row_and_column():
    told = post("threshold-check", readings_csv="zone;plate_mm;pit_depth_mm\nside;9;1\nside;9;12\n")
    assert told.json["type"] == "/problems/not-applicable"
    (fault,) = told.json["errors"]
    assert (fault["pointer"], fault["row"], fault["column"]) == ("/readings_csv", 3, "pit_depth_mm")


def test_of_many_faults_a_hundred_are_told():
    told = post("threshold-check", readings_csv="zone;plate_mm\n" + 500 * "side;thin\n")
    assert [fault["row"] for fault in told.json["errors"]] == list(range(2, 102))


def test_readings_are_sent_once():
    both = post("threshold-check", readings_csv=TABLE, readings=READINGS)
    assert (both.status_code, both.json["errors"][0]["code"]) == (422, "given_twice")
    neither = post("threshold-check")
    assert neither.json["errors"][0]["pointer"] == "/readings"


@pytest.mark.parametrize("null", ["readings_csv", "readings"])
def test_null_is_absence(null):
    sent = {"readings_csv": TABLE, "readings": READINGS} | {null: None}
    assert post("threshold-check", **sent).status_code == 200
    assert post("threshold-check", **{null: None}).json["errors"][0]["pointer"] == "/readings"


def test_the_rest_of_the_request_is_judged_as_ever():
    told = post("hull-survey", readings_csv=TABLE, built_on="never", readings_cvs=1)
    assert {fault["pointer"] for fault in told.json["errors"]} == {"/built_on", "/readings_cvs"}
    twice = b'{"readings_csv": "a", "readings_csv": "b"}'
    refused = client.post("/v1/calculations/threshold-check", data=twice, content_type="application/json")
    assert (refused.status_code, refused.json["type"]) == (400, "/problems/malformed-body")


def test_lines_may_hold_tables():
    lines = "\n".join(json.dumps({"readings_csv": text}) for text in (TABLE, "zone;plate_mm\nside;thin\n"))
    told = client.post("/v1/calculations/threshold-check", data=lines, content_type="application/x-ndjson")
    answered, refused, _ = map(json.loads, told.data.splitlines())
    assert answered["result"]["verdict"] == "no_limit_broken"
    assert refused["problem"]["errors"][0]["row"] == 2


def test_renderings_take_tables():
    body = {**json.loads(SURVEY.read_text()), "readings_csv": TABLE}
    del body["readings"]
    told = client.post("/v1/calculations/hull-survey", json=body, headers={"Accept": "text/html"})
    assert told.status_code == 200
    assert "4.6" in told.text


@settings(deadline=None, derandomize=True, max_examples=500)
@given(st.text(alphabet='zone;,plate_m\t"\n9.8-\ufeff\x00e ', max_size=80))
def test_any_text_is_answered_or_refused(text):
    told = post("threshold-check", readings_csv=text)
    assert told.status_code in (200, 422)
    assert told.status_code == 200 or {fault["pointer"] for fault in told.json["errors"]} == {"/readings_csv"}


cells = st.one_of(st.none(), st.floats(0, 40).map(lambda value: round(value, 3)))


@settings(deadline=None, derandomize=True, max_examples=200)
@given(st.lists(st.tuples(st.floats(1, 40).map(lambda value: round(value, 2)), cells), min_size=1, max_size=12), st.booleans())
def test_numbers_are_read_as_they_are_written(rows, commas):
    """Semicolons; what Python writes for a number, with a point or with a comma."""
    written = [(f"{plate}", "" if station is None else f"{station}") for plate, station in rows]
    if any("e" in cell for row in written for cell in row):
        return
    text = "zone;plate_mm;station_m\n" + "\n".join(f"side;{plate};{station}" for plate, station in written)
    sent = [{"zone": "side", "plate_mm": plate, "station_m": station} for plate, station in rows]
    typed = post("threshold-check", readings_csv=text.replace(".", ",") if commas else text)
    assert typed.status_code == 200, typed.data
    assert typed.json["result"] == post("threshold-check", readings=sent).json["result"]
