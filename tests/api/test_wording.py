"""What a newcomer reads when something is wrong: what it was, where, what is allowed with its unit, and the nearest name."""

import json
import re
from pathlib import Path

import pytest

import platemargin_api
from platemargin_api.app import create_app
from platemargin_api.command import main
from platemargin_api.fields import Choice, Day, Flag, Integer, List, Number, Object, Rows, RuleSets, Text
from platemargin_api.keys import new_key, stanza
from platemargin_api.registry import load_registry
from platemargin_api.settings import NAMES, Settings, SettingsError
from platemargin_api.wording import came, figure, number_hint, within

REGISTRY = load_registry()
CALCULATIONS = list(REGISTRY.calculations)
MARGIN = "/v1/calculations/plate-margin"
PLATE = {"original_mm": 10, "plate_mm": 8.8, "years_in_service": 16}
SURVEY = {
    "hull": {"length_m": 17.5, "beam_m": 2.1, "draught_m": 0.65},
    "surveyed_on": "2024-12-31",
    "readings": [{"zone": "baseplate", "side": "port", "plate_mm": 8.8}],
}

client = create_app(REGISTRY).test_client()


def example(calculation):
    return REGISTRY.calculations[calculation].offered.example


def told(calculation, members):
    """Return the faults that a request is refused for, by pointer."""
    answer = client.post(f"/v1/calculations/{calculation}", json={**example(calculation), **members})
    assert answer.status_code == 422, answer.text
    return {fault["pointer"]: fault for fault in answer.json["errors"]}


def members_of(*kinds):
    """Return every member of every calculation whose field is of one of some classes, RuleSets and Rows apart from List."""
    return [
        pytest.param(calculation, name, id=f"{calculation}-{name}")
        for calculation, served in REGISTRY.calculations.items()
        for name, field in served.request.fields.items()
        if type(field) in kinds
    ]


def field_of(calculation, name):
    return REGISTRY.calculations[calculation].request.fields[name]


def bounds(field):
    return next((one.min, one.max) for one in field.validators if hasattr(one, "min"))


def unit_told(field):
    """Return the unit as a sentence has it; of a share or a count there is none."""
    return {"year": " years", "month": " months", "1": "", "probability": "", "pH": ""}.get(field.unit, f" {field.unit}")


# Every member of every calculation


@pytest.mark.parametrize(("calculation", "name"), members_of(Number, Integer))
def test_a_number_out_of_range_is_told_its_range_its_unit_and_what_came(calculation, name):
    field = field_of(calculation, name)
    low, high = bounds(field)
    wrong = int(high) + 1
    fault = told(calculation, {name: wrong})[f"/{name}"]
    assert (fault["code"], fault["minimum"], fault["maximum"]) == ("out_of_range", low, high)
    assert fault["detail"] == f"must be from {figure(low)} to {figure(high)}{unit_told(field)}, not {wrong}"


@pytest.mark.parametrize("written", ["8.8", "8,8", " 8.8 ", "+8.8", "\u0668\u066b\u0668", "\uff18\uff0e\uff18"])
@pytest.mark.parametrize(("calculation", "name"), members_of(Number))
def test_a_number_that_came_as_text_is_told_how_it_is_written(calculation, name, written):
    fault = told(calculation, {name: written})[f"/{name}"]
    low, high = bounds(field_of(calculation, name))
    assert fault["code"] == "wrong_type"
    assert fault["detail"].startswith(f"must be a number from {figure(low)} to {figure(high)}")
    assert f"not {came(written)}: write 8.8, with a decimal point" in fault["detail"]


@pytest.mark.parametrize(("calculation", "name"), members_of(Number, Integer, Flag, Text, Day, Object, Rows, List, RuleSets))
def test_another_type_is_told_what_is_wanted(calculation, name):
    field = field_of(calculation, name)
    wrong = 5 if not isinstance(field, (Number, Integer)) else True
    fault = told(calculation, {name: wrong})[f"/{name}"]
    assert fault["code"] in ("wrong_type", "bad_format")
    assert fault["detail"].startswith("must be ")
    if not isinstance(field, Object):
        assert fault["detail"] == f"must be {field.wanted}, not {came(wrong)}"


@pytest.mark.parametrize(("calculation", "name"), members_of(Choice))
def test_a_misspelt_name_is_told_with_all_of_them_and_the_nearest(calculation, name):
    names = field_of(calculation, name).names
    for meant in names:
        wrong = f"{meant.upper()}S"
        fault = told(calculation, {name: wrong})[f"/{name}"]
        assert fault["allowed"] == list(names)
        assert fault["detail"].startswith(f"must be one of {', '.join(names)}, not '{wrong}'")
        assert fault["detail"].endswith(f"; the nearest is {fault['nearest']}")
        assert fault["nearest"] in names


@pytest.mark.parametrize("calculation", CALCULATIONS)
def test_a_required_member_is_told_what_it_has_to_be_and_that_null_is_none(calculation):
    fields = REGISTRY.calculations[calculation].request.fields
    required = [name for name, field in fields.items() if field.required]
    nulls = told(calculation, dict.fromkeys(required)) if required else {}
    for name in required:
        assert nulls[f"/{name}"]["code"] == "missing"
        assert nulls[f"/{name}"]["detail"] == f"is required: {fields[name].wanted}; null is absence"


@pytest.mark.parametrize("calculation", CALCULATIONS)
def test_an_unknown_member_is_told_with_the_nearest_or_with_those_that_are_known(calculation):
    fields = REGISTRY.calculations[calculation].request.fields
    for name in fields:
        misspelt = f"{name}x".title()
        fault = told(calculation, {misspelt: 1})[f"/{misspelt}"]
        assert (fault["code"], fault["nearest"]) == ("unknown_field", name)
        assert fault["detail"] == f"is not known here; the nearest is {name}"
    strange = told(calculation, {"qqq": 1})["/qqq"]
    assert strange["detail"] == f"is not known here; members are {', '.join(fields)}"
    assert "nearest" not in strange


# Kinds of fault, one by one: what is sent, where it is told, and what has to be in the words


FAULTS = {
    "a unit": (PLATE, {"plate_mm": "8.8 mm"}, "/plate_mm", "from 0 to 200 mm", "'8.8 mm': write 8.8, ", "without quotation"),
    "a comma and a unit": (PLATE, {"plate_mm": "8,8mm"}, "/plate_mm", "write 8.8, "),
    "years": (PLATE, {"years_in_service": "16 years"}, "/years_in_service", "from 0.1 to 200 years", "write 16, "),
    "another unit": (PLATE, {"plate_mm": "0.35 in"}, "/plate_mm", "write the value in mm, with a decimal point"),
    "a unit of another language": (PLATE, {"plate_mm": "8,8 \u043c\u043c"}, "/plate_mm", "write the value in mm"),
    "a comma of thousands": (PLATE, {"plate_mm": "1,234"}, "/plate_mm", "'1,234'", "write the value in mm"),
    "words": (PLATE, {"plate_mm": "thick"}, "/plate_mm", "must be a number from 0 to 200 mm, not 'thick'"),
    "true": (PLATE, {"plate_mm": True}, "/plate_mm", "not true"),
    "too long": (PLATE, {"id": "x" * 101}, "/id", "must have from 1 to 100 characters, not 101"),
    "a long text": (PLATE, {"plate_mm": "x" * 9000}, "/plate_mm", f"not '{'x' * 40}...'"),
    "a day of another form": (PLATE, {"surveyed_on": "31/12/2024"}, "/surveyed_on", "written YYYY-MM-DD, not '31/12/2024'"),
    "no day": (PLATE, {"surveyed_on": "2023-02-29"}, "/surveyed_on", "a day of the calendar", "not '2023-02-29'"),
    "an empty array": (SURVEY, {"readings": []}, "/readings", "must have from 1 to 20000 items, not 0"),
    "null in an array": (SURVEY, {"thresholds_mm": [4, None]}, "/thresholds_mm/1", "must not be null: leave the item out"),
    "a misspelt rule set": (
        SURVEY,
        {"rule_sets": ["trade_practise"]},
        "/rule_sets/0",
        "inland-vessel-benchmark, loss-fraction, ",
        "not 'trade_practise'; the nearest is trade-practice",
    ),
    "a misspelt member of a row": (
        SURVEY,
        {"readings": [{"zone": "side", "plate_mm": 5, "stationm": 1}]},
        "/readings/0/stationm",
        "is not known here; the nearest is station_m",
    ),
    "a strange member of an object": (
        SURVEY,
        {"hull": {**SURVEY["hull"], "qqq": 1}},
        "/hull/qqq",
        "members are name, length_m, beam_m",
    ),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_says_what_where_and_what_is_allowed(fault):
    good, changed, pointer, *words = FAULTS[fault]
    calculation = "hull-survey" if good is SURVEY else "plate-margin"
    answer = client.post(f"/v1/calculations/{calculation}", json={**good, **changed})
    assert answer.status_code == 422
    (told,) = [one for one in answer.json["errors"] if one["pointer"] == pointer]
    assert [one for one in words if one not in told["detail"]] == []
    assert answer.json["detail"].startswith(f"{pointer}: {told['detail']}")


MALFORMED = {
    b"": ("character 1", "send an object"),
    b'{"plate_mm": 8,8}': ("character 16", "write decimals with a point, such as 8.8"),
    b'{"plate_mm": 8.8 mm}': ("character 18", "without its unit"),
    b'{"plate_mm": 1_000}': ("character 15", "without anything between them"),
    b'{"plate_mm": NaN}': ("character 14", "JSON has no NaN", "leave out what is not known"),
    b'{"plate_mm": -Infinity}': ("character 1", "no infinity"),
    b'{"plate_mm": +8}': ("character 14", "without its sign"),
    b'{"plate_mm": .8}': ("character 14", "such as 0.5"),
    b'{"plate_mm": 08}': ("character 14", "leading zero"),
    b'{"plate_mm": None}': ("character 14", "small letters"),
    b"{'plate_mm': 8}": ("character 2", "straight quotation marks"),
    "{\u201cplate_mm\u201d: 8}".encode(): ("character 2", "straight quotation marks"),
    b"{plate_mm: 8}": ("character 2", "quotation marks"),
    b'{"a": 1,\n "b": 2,\n}': ("line 2, character 8", "trailing comma"),
    b'{"a": 1} // bow': ("character 10", "no comments"),
    b'{"a": 1}\n{"a": 2}\n': ("line 2, character 1", "application/x-ndjson"),
    b"original_mm,plate_mm": ("character 1", "begins with {"),
    b'\xef\xbb\xbf{"a": 1}': ("character 1", "byte order mark", "without its first character"),
    b'{"id": "\xfc"}': ("not UTF-8 from byte 8 on", "send the text in UTF-8"),
    b'{"a": 1, "a": 2}': ("'a' is named twice", "name it once"),
    b"[" * 2000: ("depth limit",),
}


@pytest.mark.parametrize("body", MALFORMED, ids=range(len(MALFORMED)))
def test_what_is_no_json_is_told_where_and_what_was_meant(body):
    answer = client.post(MARGIN, data=body, content_type="application/json")
    assert (answer.status_code, answer.json["type"]) == (400, "/problems/malformed-body")
    assert [words for words in MALFORMED[body] if words not in answer.json["detail"]] == []


def test_a_line_that_is_no_json_is_told_by_its_own_number_and_the_place_in_it():
    body = b'\n\n{"plate_mm": 8,8}\n'
    first, _ = map(json.loads, client.post(MARGIN, data=body, content_type="application/x-ndjson").data.splitlines())
    assert first["line"] == 3
    assert first["problem"]["detail"].startswith("The request is not JSON at character 16: ")


HEADERS = {
    "Plate_mm,original_mm,years_in_service": ("the column 'Plate_mm'", "the nearest is plate_mm"),
    "original_mm,plate_mm,years_in_service,qqq": ("the column 'qqq'", "columns are id, original_mm, plate_mm"),
    "original_mm;plate_mm;years_in_service": ("columns are separated by commas, not by semicolons",),
    "original_mm\tplate_mm\tyears_in_service": ("columns are separated by commas, not by tabs",),
    "original_mm,plate_mm": ("the column 'years_in_service' is required: a number from 0.1 to 200 years",),
    "": ("the first line names the columns", "original_mm, plate_mm"),
}


@pytest.mark.parametrize("header", HEADERS, ids=range(len(HEADERS)))
def test_a_header_is_told_its_column_and_the_nearest(header):
    answer = client.post(MARGIN, data=f"{header}\n10,9,8\n", content_type="text/csv")
    assert (answer.status_code, answer.json["type"]) == (422, "/problems/invalid-request")
    assert answer.json["detail"].startswith("The header: ")
    assert [words for words in HEADERS[header] if words not in answer.json["errors"][0]["detail"]] == []


# Paths, methods and media


OTHERS = {
    "a misspelt calculation": ("POST", "/v1/calculations/plate-margn", {}, 404, "'plate-margn'", "the nearest is plate-margin"),
    "a strange calculation": ("GET", "/v1/calculations/qqq", {}, 404, "'qqq'", "known are anode-condition, anode-sizing"),
    "a misspelt rule set": ("GET", "/v1/rule-sets/trade_practice", {}, 404, "the nearest is trade-practice"),
    "a misspelt path": ("GET", "/v1/calculation", {}, 404, "/v1/calculation;", "the nearest is /v1/calculations;"),
    "a last stroke": ("GET", f"{MARGIN}/", {}, 404, f"the nearest is {MARGIN};", "/openapi.json"),
    "a strange path": ("GET", "/qqq", {}, 404, "Nothing is at /qqq; /openapi.json lists the paths"),
    "a method": ("PUT", MARGIN, {}, 405, f"PUT is not a method of {MARGIN}", "which takes", "POST"),
    "no media type": ("POST", MARGIN, {}, 415, "no Content-Type", "application/json or application/x-ndjson"),
    "a misspelt media type": ("POST", MARGIN, {"Content-Type": "application/jsn"}, 415, "the nearest is application/json."),
    "lines by another name": ("POST", MARGIN, {"Content-Type": "application/ndjson"}, 415, "nearest is application/x-ndjson."),
    "a table by another name": ("POST", MARGIN, {"Content-Type": "application/csv"}, 415, "the nearest is text/csv."),
    "another charset": ("POST", MARGIN, {"Content-Type": "application/json; charset=latin-1"}, 415, "latin-1", "in UTF-8"),
    "a misspelt answer": (
        "POST",
        "/v1/calculations/hull-survey",
        {"Content-Type": "application/json", "Accept": "image/svg"},
        406,
        "application/json, image/svg+xml",
        "the nearest is image/svg+xml.",
    ),
}


@pytest.mark.parametrize("other", OTHERS)
def test_a_path_a_method_and_a_media_type_are_told_with_those_that_are(other):
    method, path, headers, status, *words = OTHERS[other]
    answer = client.open(path, method=method, headers=headers, data=b"{}" if method == "POST" else None)
    assert answer.status_code == status
    assert [one for one in words if one not in answer.json["detail"]] == []


def test_a_medium_that_is_spelt_right_is_not_taken_for_another():
    answer = client.post(MARGIN, json=PLATE, headers={"Accept": "application/x-ndjson"})
    assert answer.json["detail"] == "The answer is offered as application/json."


def test_what_is_too_large_says_how_large_it_may_be_and_what_to_do():
    of = create_app(REGISTRY, Settings(max_body_bytes=1024)).test_client()
    answer = of.post(MARGIN, data=b" " * 1025, content_type="application/json")
    assert answer.status_code == 413
    assert "1024 bytes" in answer.json["detail"]
    assert "application/x-ndjson" in answer.json["detail"]


def test_a_key_is_told_what_it_has_to_look_like_and_what_it_may_call(tmp_path):
    key = new_key()
    file = tmp_path / "keys.toml"
    file.write_text(stanza("app", key, expires=None, calculations=["plate-margin"], per_minute=1))
    of = create_app(REGISTRY, Settings(key_file=file)).test_client()

    def post(calculation, **headers):
        return of.post(f"/v1/calculations/{calculation}", json=PLATE, headers=headers)

    assert "Authorization: Bearer" in post("plate-margin").json["detail"]
    assert "keys begin with plate_" in post("plate-margin", Authorization=f'Bearer "{key}"').json["detail"]
    assert "keys begin" not in post("plate-margin", Authorization=f"Bearer {new_key()}").json["detail"]
    kept = post("hull-survey", Authorization=f"Bearer {key}")
    assert (kept.status_code, kept.json["detail"]) == (403, "The key app may call plate-margin, and not hull-survey.")
    _, often = (post("plate-margin", Authorization=f"Bearer {key}") for _ in range(2))
    assert often.status_code == 429
    assert "1 per 1 minute" in often.json["detail"]
    assert "Retry-After" in often.json["detail"]
    assert int(often.headers["Retry-After"]) > 0


def test_a_key_where_its_hash_should_be_is_not_repeated(tmp_path):
    key = new_key()
    file = tmp_path / "keys.toml"
    file.write_text(f'[[keys]]\nname = "a"\nsha256 = "{key}"\n')
    with pytest.raises(RuntimeError) as refused:
        create_app(REGISTRY, Settings(key_file=file))
    assert "64 hexadecimal digits" in str(refused.value)
    assert key[6:20] not in str(refused.value)


# Settings and the command line


@pytest.mark.parametrize("name", NAMES)
def test_a_misspelt_setting_keeps_the_service_from_starting(name):
    """It would set nothing: a key file that is not read lets everybody call."""
    for misspelt in (name[:-1], name.replace("_", "-", 2).replace("-", "_", 1) + "S"):
        with pytest.raises(SettingsError, match=f"{misspelt} is no setting; the nearest is {name}$"):
            Settings.from_environment({misspelt: "1"})


@pytest.mark.parametrize("name", ["SERVICE_HOST", "SERVICE_PORT", "PORT", "PORT_8000_TCP", "PORT_8000_TCP_ADDR"])
def test_what_an_engine_of_containers_sets_is_let_pass(name):
    """Kubernetes sets these for a service that is called as this one is (its documentation, "Environment variables")."""
    assert Settings.from_environment({f"PLATEMARGIN_{name}": "1"}) == Settings()


def test_every_setting_that_is_read_is_known():
    package = Path(platemargin_api.__file__).parent
    read = {name for file in package.rglob("*.py") for name in re.findall(r"PLATEMARGIN_[A-Z_]*[A-Z]", file.read_text())}
    assert read == set(NAMES)


@pytest.mark.parametrize("value", ["0", "-1", "many", "1.5", ""])
def test_the_number_of_workers_is_a_whole_number(value):
    with pytest.raises(SettingsError, match=r"WEB_CONCURRENCY is .*: it must be a whole number from 1 to 1024"):
        Settings.from_environment({"WEB_CONCURRENCY": value})


COMMANDS = {
    ("chek", "survey.json"): "no command is called 'chek'; the nearest is check",
    ("qqq",): "commands are serve, demo, openapi, calculations, call, check, portfolio, key",
    ("call", "plate-margin", "--minmal", "x.json"): "--minmal is not known here; the nearest is --minimal",
    ("demo", "--port", "99999"): "'99999' is no port: a whole number from 0 to 65535",
    ("key", "new", "app", "--expires", "31/12/2027"): "'31/12/2027' is no day of the calendar, written YYYY-MM-DD",
}


@pytest.mark.parametrize("arguments", COMMANDS, ids=" ".join)
def test_a_misspelt_command_or_option_is_told_with_the_nearest(arguments, capsys):
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    assert ended.value.code == 2
    assert COMMANDS[arguments] in capsys.readouterr().err


def test_a_key_for_a_calculation_that_is_none_is_not_made(capsys):
    assert main(["key", "new", "app", "--calculation", "hul-survey"]) == 3
    printed = capsys.readouterr()
    assert printed.out == ""
    assert "no calculation is called 'hul-survey'; the nearest is hull-survey" in printed.err


# The pieces


@pytest.mark.parametrize(
    ("text", "unit", "words"),
    [
        ("8.", "mm", "write 8, "),
        ("007", "mm", "write 7, "),
        ("-1,5", "V", "write -1.5, "),
        ("\u22121.5 V.", "V", "write -1.5, "),
        ("12 %", "%", "write 12, "),
        ("3 Years", "year", "write 3, "),
        ("1,234.5", "mm", "write the value in mm, "),
        ("0x8", "mm", "write the value in mm, "),
        ("half", "mm", ""),
        ("", "mm", ""),
        ("9" * 9000, "mm", ""),
        ("90 %", "probability", "write the value, "),
    ],
)
def test_a_number_within_a_text_is_told_only_where_it_is_plain(text, unit, words):
    hint = number_hint(text, unit)
    assert hint.startswith(f": {words}") if words else hint == ""


def test_figures_and_bounds_are_written_as_a_caller_would():
    assert [figure(value) for value in (40.0, 40, 0.001, 5e7, 1e9)] == ["40", "40", "0.001", "50000000", "1000000000"]
    assert within(0.0, 5e7, "ohm m") == "from 0 to 50000000 ohm m"
    assert within(0, 1, "probability") == "from 0 to 1"
