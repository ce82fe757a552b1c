"""CSV of elementwise calculations: a row is answered as the same request alone, and a spreadsheet may open the answer."""

import csv
import dataclasses
import io
import json
import random
import time

import orjson
import pytest

from platemargin_api.app import create_app
from platemargin_api.registry import Served, load_registry
from platemargin_api.settings import Settings

CSV, NDJSON = "text/csv", "application/x-ndjson"
registry = load_registry()
client = create_app(registry).test_client()
EXAMPLES = {name: dict(served.offered.example) for name, served in registry.calculations.items() if served.offered.elementwise}
PLATES = "original_mm,plate_mm,pit_depth_mm\r\n"
MIB = 1024 * 1024


def post(calculation, body, of=client, **headers):
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    data = body if isinstance(body, bytes) else body.encode()
    return of.post(f"/v1/calculations/{calculation}", data=data, headers={"Content-Type": CSV, **named})


def rows(answer):
    """Return an answer's rows by the names of its columns; Python's own reader is the oracle."""
    assert answer.status_code == 200, answer.data
    assert answer.content_type == "text/csv; charset=utf-8; header=present"
    assert int(answer.headers["Content-Length"]) == len(answer.data)
    assert answer.headers["Content-Digest"].startswith("sha-256=:")
    header, *found = csv.reader(io.StringIO(answer.data.decode(), newline=""), strict=True)
    assert answer.data.endswith(b"\r\n")
    return [dict(zip(header, row, strict=True)) for row in found]


def alone(calculation, request):
    return client.post(f"/v1/calculations/{calculation}", json=request)


def table(requests):
    """Return requests as CSV, as Python's own writer has it."""
    names = list(dict.fromkeys(name for request in requests for name in request))
    written = io.StringIO(newline="")
    writer = csv.DictWriter(written, names)
    writer.writeheader()
    writer.writerows(requests)
    return written.getvalue()


def flat(value, path=()):
    """Return what is within a result, by its path with dots."""
    if isinstance(value, (dict, list)):
        items = value.items() if isinstance(value, dict) else enumerate(value)
        return {name: leaf for key, member in items for name, leaf in flat(member, (*path, str(key))).items()}
    return {".".join(path): value}


def cell(value):
    """Return a cell as it is read: JSON's own numbers, nothing for null."""
    return "" if value is None else value if isinstance(value, str) else orjson.dumps(value).decode()


def drawn(calculation, count=60):
    """Return the example with some members left out and others moved; some of it is refused."""
    chance = random.Random(calculation)
    fields = registry.calculations[calculation].request.fields
    for number in range(count):
        request = {
            name: value for name, value in EXAMPLES[calculation].items() if fields[name].required or chance.random() < 0.6
        }
        for name, value in request.items():
            if isinstance(value, float) and chance.random() < 0.5:
                request[name] = round(value * chance.choice([0.2, 0.7, 0.9, 1.1, 3.0]), chance.choice([1, 2, 6]))
        yield {**request, "id": f"row {number}"}


# A row is answered as it would be alone


@pytest.mark.parametrize("calculation", EXAMPLES)
def test_a_row_is_answered_as_alone(calculation):
    requests = [*drawn(calculation), {**EXAMPLES[calculation], "id": "example"}]
    found = rows(post(calculation, table(requests)))
    assert [row["line"] for row in found] == [str(line) for line in range(2, len(requests) + 2)]
    columns = client.get(f"/v1/calculations/{calculation}").json["csv_columns"]
    answered = 0
    for row, request in zip(found, requests, strict=True):
        answer = alone(calculation, request)
        assert list(row) == ["line", "id", *columns, "finding_codes", "error"]
        assert row["id"] == request["id"]
        if answer.status_code == 200:
            answered += 1
            assert {name: row[name] for name in columns} == {n: cell(v) for n, v in flat(answer.json["result"]).items()}
            assert row["finding_codes"].split() == [finding["code"] for finding in answer.json["findings"]]
            assert row["error"] == ""
        else:
            assert {row[name] for name in (*columns, "finding_codes")} == {""}
            kind = answer.json["type"].rsplit("/", 1)[1]
            assert row["error"].startswith(
                f"{kind}: {answer.json['errors'][0]['pointer']}: {answer.json['errors'][0]['detail']}"
            )
            assert all(fault["detail"] in row["error"] for fault in answer.json["errors"])
    assert answered > 3


@pytest.mark.parametrize("calculation", EXAMPLES)
def test_the_answer_may_be_in_the_other_medium(calculation):
    requests = list(drawn(calculation))
    lines, of_table = b"\n".join(map(orjson.dumps, requests)), table(requests)
    direct = rows(post(calculation, of_table))
    by_lines = rows(post(calculation, lines, Content_Type=NDJSON, Accept=CSV))
    assert [{**row, "line": ""} for row in by_lines] == [{**row, "line": ""} for row in direct]
    in_lines = post(calculation, of_table, Accept=NDJSON)
    assert in_lines.content_type == NDJSON
    as_lines = post(calculation, lines, Content_Type=NDJSON)
    *told, last = map(json.loads, in_lines.data.splitlines())
    *told_of_lines, last_of_lines = map(json.loads, as_lines.data.splitlines())
    assert [{**record, "line": 0} for record in told] == [{**record, "line": 0} for record in told_of_lines]
    assert last["summary"]["lines"] == last_of_lines["summary"]["lines"] + 1  # the header
    assert last["summary"]["assumed"] == last_of_lines["summary"]["assumed"]


def test_lines_always_have_a_column_for_the_label_and_tables_where_it_is_sent():
    assert "id" in rows(post("residual-thickness", b'{"original_mm":10,"plate_mm":8}', Content_Type=NDJSON, Accept=CSV))[0]
    assert "id" not in rows(post("residual-thickness", PLATES + "10,8,1\n"))[0]


def test_a_table_prefers_nothing_that_it_could_not_tell_of():
    answer = post("residual-thickness", PLATES + "10,8,1\n", Prefer="return=representation, stream")
    assert len(rows(answer)) == 1
    assert "Preference-Applied" not in answer.headers


# How a table is written


@pytest.mark.parametrize(
    ("body", "lines"),
    [
        (PLATES + "10,8.8,2.6\r\n", ["2"]),
        (PLATES + "10,8.8,2.6", ["2"]),
        (PLATES.replace("\r", "") + "10,8.8,2.6\n10,8.8,2.6\n", ["2", "3"]),
        ("\ufeff" + PLATES + "10,8.8,2.6\r\n", ["2"]),
        (PLATES + '"10","8.8","2.6"\r\n', ["2"]),
        ('"original_mm","plate_mm",pit_depth_mm\n10,8.8,2.6\n', ["2"]),
        ("\ufeff" + '"original_mm",plate_mm,"pit_depth_mm"\r\n10,8.8,2.6\r\n', ["2"]),
        (PLATES + "\r\n\r\n10,8.8,2.6\r\n  \r\n1e1,88e-1,+2.6\r\n10,8.8,2.6\r\n", ["4", "7"]),
        ("id," + PLATES + '"a\r\nb",10,8.8,2.6\r\nc,10,8.8,2.6\r\n', ["2", "4"]),
        ("pit_depth_mm,plate_mm,original_mm\n2.60,8.8,1.0e1\n", ["2"]),
    ],
)
def test_a_table_is_read_however_it_is_written(body, lines):
    found = [row for row in rows(post("residual-thickness", body)) if not row["error"]]
    assert [row["line"] for row in found] == lines
    assert {row["residual_mm"] for row in found} == {"6.2"}


def test_an_empty_cell_is_an_absent_member():
    (row,) = rows(post("residual-thickness", PLATES + '10,8.8,""\n'))
    assert (row["residual_mm"], row["pit_depth_mm"]) == ("8.8", "0.0")


def test_a_header_alone_has_no_rows():
    answer = post("residual-thickness", PLATES)
    assert rows(answer) == []
    assert answer.data.decode().startswith("line,residual_mm,")


@pytest.mark.parametrize(
    ("body", "faults"),
    [
        (b"", [("", "missing", None)]),
        (b"\r\n", [("", "missing", None)]),
        (b"\xef\xbb\xbf", [("", "missing", None)]),
        ("original_mm,plate_mmm\n", [("/plate_mmm", "unknown_field", "plate_mm"), ("/plate_mm", "missing", None)]),
        ("original_mm,plate_mm,plate_mm\n", [("/plate_mm", "named_twice", None)]),
        ("original_mm,plate_mm,\n", [("/", "unknown_field", None)]),
        ("original_mm, plate_mm\n", [("/ plate_mm", "unknown_field", "plate_mm"), ("/plate_mm", "missing", None)]),
        ("Original_mm,plate_mm\n", [("/Original_mm", "unknown_field", "original_mm"), ("/original_mm", "missing", None)]),
        ("original_mm;plate_mm\n10;8\n", None),
        ("plate_mm\n8\n", [("/original_mm", "missing", None)]),
    ],
)
def test_a_header_that_does_not_fit_is_refused_before_any_row(body, faults):
    answer = post("residual-thickness", body)
    assert (answer.status_code, answer.json["type"]) == (422, "/problems/invalid-request")
    told = [(fault["pointer"], fault["code"], fault.get("nearest")) for fault in answer.json["errors"]]
    assert faults is None or told == faults
    assert all(fault["detail"] for fault in answer.json["errors"])
    assert answer.headers["Calculation-Version"] == "1.0.0"


@pytest.mark.parametrize(
    ("body", "status", "problem"),
    [
        (b"\xff\xfeo\x00r\x00", 400, "malformed-body"),
        (b'original_mm,"plate_mm\n10,8\n', 400, "malformed-body"),
        (b'original_mm,"plate_mm"x\n10,8\n', 400, "malformed-body"),
        (b"original_mm\rplate_mm\r10\r", 400, "malformed-body"),
        (b"x" * (MIB + 1), 413, "too-large"),
        (b"x," * 400_000, 422, "invalid-request"),
    ],
    ids=range(6),
)
def test_what_is_no_header_is_a_problem(body, status, problem):
    answer = post("residual-thickness", body)
    assert (answer.status_code, answer.json["type"]) == (status, f"/problems/{problem}")


NO_NUMBERS = [
    "8,8",
    "8.8 mm",
    " 8.8",
    "8.8 ",
    "+8.8",
    ".8",
    "8.",
    "08",
    "0x8",
    "8_8",
    "1e400",
    "-1e400",
    "NaN",
    "inf",
    "٨",
    "-",
]


def test_a_header_of_many_unknown_names_is_refused_soon():
    """Comparing sixty thousand names with those that are known would take a minute."""
    started = time.process_time()
    answer = post("residual-thickness", ",".join(f"plate_{number}" for number in range(60_000)))
    assert time.process_time() - started < 5
    assert len(answer.json["errors"]) == 100
    assert answer.json["detail"].endswith("(60002 faults in all)")


@pytest.mark.parametrize("number", NO_NUMBERS)
def test_a_number_is_written_as_json_writes_it(number):
    bad, good = rows(
        post("residual-thickness", table([{"original_mm": 10, "plate_mm": number}, {"original_mm": 10, "plate_mm": 8}]))
    )
    assert bad["error"].startswith(f"invalid-request: /plate_mm: must be a number from 0 to 200 mm, not {number!r}")
    assert good["error"] == ""


@pytest.mark.parametrize("digits", ["9" * 300, "9" * 5000, "0." + "1" * 5000, "1" + "0" * 30, "-" + "9" * 400])
def test_a_number_of_any_length_is_read_or_refused(digits):
    (row,) = rows(post("residual-thickness", table([{"original_mm": 10, "plate_mm": digits}])))
    assert (row["error"] == "") == (digits.startswith("0."))


def test_all_faults_of_a_row_are_told_in_one_cell():
    sent = {"original_mm": 99, "residual_mm": "x", "years_in_service": None, "faces": 1.5, "environment": "fresh-water"}
    (row,) = rows(post("corrosion-rate", table([sent])))
    assert row["error"] == (
        "invalid-request: /original_mm: must be from 0.5 to 40 mm, not 99; "
        "/residual_mm: must be a number from 0 to 200 mm, not 'x'; "
        "/years_in_service: is required: a number from 0.1 to 200 years; "
        "/faces: must be a whole number from 1 to 2, not 1.5; "
        "/environment: must be one of fresh_water, polluted_fresh_water, sea_splash, sea_immersed, not 'fresh-water'; "
        "the nearest is fresh_water"
    )


@pytest.mark.parametrize(
    ("row", "says"),
    [
        (b"b,10,8", "The row has 3 cells, the header 4."),
        (b"b,10,8,1,1", "The row has 5 cells, the header 4; write decimals with a point."),
        (b'"b"x,10,8,1', "The row is not as RFC 4180 has it"),
        (b"b,10,8\r,1", "The row is not as RFC 4180 has it"),
        (b"\xff,10,8,1", "The row is not UTF-8 from byte 0 of line 3 on; save the table as UTF-8."),
        (b"b" * (MIB + 1), "is longer than the 1048576 bytes read here"),
        (b"b" * 200_000 + b",10,8,1", "The row is not as RFC 4180 has it"),
    ],
    ids=range(7),
)
def test_a_bad_row_is_told_and_the_next_answered(row, says):
    good = b"a,10,8,1"
    answer = post("residual-thickness", b"\n".join([b"id," + PLATES.strip().encode(), good, row, good]))
    found = rows(answer)
    assert [row["line"] for row in found] == ["2", "3", "4"]
    assert [bool(row["error"]) for row in found] == [False, True, False]
    assert says in found[1]["error"]


def test_a_quote_that_is_never_closed_ends_at_the_limit_and_says_where_it_began():
    of = create_app(registry, Settings(max_line_bytes=1024)).test_client()
    row = "a,10,8,1\n"
    found = rows(post("residual-thickness", "id," + PLATES + row + '"' + row * 300, of))
    assert [row["line"] for row in found][:2] == ["2", "3"]
    assert "the row that begins on it, is longer than the 1024 bytes" in found[1]["error"]
    assert int(found[2]["line"]) > 100
    assert {row["error"] for row in found[2:]} == {""}
    at_the_end = rows(post("residual-thickness", "id," + PLATES + row + '"' + row * 3, of))
    assert [row["line"] for row in at_the_end] == ["2", "3"]
    assert "RFC 4180" in at_the_end[1]["error"]


# A spreadsheet may open it


@pytest.mark.parametrize(
    "label",
    ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", '=HYPERLINK("http://x.example","y")', "=1,2"],
)
def test_a_label_that_looks_like_a_formula_is_made_safe(label):
    answer = post("residual-thickness", table([{"id": label, "original_mm": 10, "plate_mm": 8.8}]))
    (row,) = rows(answer)
    assert row["id"] == f"'{label}"
    quoted = "\"'" + label.replace('"', '""') + '"'
    assert answer.data.decode().splitlines(keepends=True)[1:] != []
    assert f"\r\n2,{quoted},8.8," in answer.data.decode()


@pytest.mark.parametrize("label", ["a", "a,b", 'a "b"', "a\r\nb", "a\nb", " a ", "\u2603", "'a", "a=1", "\x00", "17", "1e5"])
def test_any_other_label_comes_back_as_it_was_sent(label):
    (row,) = rows(post("residual-thickness", table([{"id": label, "original_mm": 10, "plate_mm": 8.8}])))
    assert row["id"] == label


def test_a_negative_number_is_a_number():
    (row,) = rows(post("residual-thickness", PLATES + "10,11,\n"))
    assert row["loss_mm"] == "-1.0"


# Which calculations, and how many rows


def test_a_calculation_that_is_not_elementwise_has_no_tables():
    refused = post("hull-survey", "x\n")
    assert (refused.status_code, refused.json["type"]) == (415, "/problems/unsupported-media-type")
    assert refused.json["detail"] == "text/csv is not read here; send Content-Type: application/json or application/x-ndjson."
    assert client.get("/v1/calculations/hull-survey").json["csv_columns"] is None


def test_a_row_that_fails_fails_alone():
    served = registry.calculations["residual-thickness"]

    def run(**arguments):
        if 5.5 in arguments["original_mm"]:
            raise ZeroDivisionError("secret")
        return served.offered.run(**arguments)

    own = Served(offered=dataclasses.replace(served.offered, run=run), distribution=served.distribution)
    of = create_app(
        dataclasses.replace(registry, calculations={**registry.calculations, "residual-thickness": own})
    ).test_client()
    found = rows(post("residual-thickness", PLATES + "10,8,1\n5.5,8,1\n10,8,1\n", of))
    failed = f"calculation-failed: {registry.calculations['residual-thickness'].named} failed."
    assert [row["error"] for row in found] == ["", failed, ""]


def test_a_call_answers_so_many_rows_and_says_where_it_stopped():
    of = create_app(registry, Settings(max_rows=3)).test_client()
    found = rows(post("residual-thickness", PLATES + "10,8,1\n" * 9, of))
    assert [row["line"] for row in found] == ["2", "3", "4", "5"]
    assert found[-1]["error"] == "too-large: One call answers 3 rows; send the rest in another."


def test_twenty_thousand_rows():
    found = rows(post("residual-thickness", PLATES + "10,8.8,2.6\n" * 20_000))
    assert [row["line"] for row in found] == [str(line) for line in range(2, 20_002)]
    assert {row["residual_mm"] for row in found} == {"6.2"}
