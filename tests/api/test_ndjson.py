"""JSON lines: each line is answered as it would be alone, whatever the others are, in memory that does not grow."""

import base64
import dataclasses
import hashlib
import http.client
import json
import random
import socket
import threading
import time

import numpy as np
import orjson
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from platemargin.errors import NotApplicableError
from platemargin_api import bulk, spool
from platemargin_api.app import create_app
from platemargin_api.lines import lines
from platemargin_api.registry import Served, load_registry
from platemargin_api.settings import Settings
from platemargin_api.tally import MOST_ASSUMPTIONS, Tally

NDJSON = "application/x-ndjson"
MIB = 1024 * 1024
registry = load_registry()
EXAMPLES = {name: dict(served.offered.example) for name, served in registry.calculations.items()}
ELEMENTWISE = [name for name, served in registry.calculations.items() if served.offered.elementwise]
PLATE = {"original_mm": 10.0, "plate_mm": 8.8, "pit_depth_mm": 2.6}
client = create_app(registry).test_client()


def post(calculation, body, of=client, **headers):
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return of.post(f"/v1/calculations/{calculation}", data=body, headers={"Content-Type": NDJSON, **named})


def records(answer):
    """Return an answer's lines and its summary, after what holds of every answer."""
    assert answer.status_code == 200, answer.data
    assert answer.content_type == NDJSON
    *told, last = answer.data.splitlines(keepends=True)
    read, summary = [json.loads(line) for line in told], json.loads(last)["summary"]
    assert answer.data.endswith(b"\n")
    assert summary["digest"] == sha_256(b"".join(told))
    assert summary["answered"] == sum("result" in record for record in read)
    assert summary["refused"] == sum("problem" in record for record in read)
    assert [record["line"] for record in read] == sorted({record["line"] for record in read})
    return read, summary


def sha_256(content):
    return f"sha-256=:{base64.b64encode(hashlib.sha256(content).digest()).decode()}:"


def alone(calculation, body, of=client):
    return of.post(f"/v1/calculations/{calculation}", data=body, headers={"Content-Type": "application/json"})


def expected(calculation, body, of=client):
    """Return what a line is answered with: the members that the same request alone is answered with."""
    answer = alone(calculation, body, of)
    if answer.status_code != 200:
        return {"problem": answer.json}
    return {name: answer.json[name] for name in ("id", "result", "findings") if name in answer.json}


def without_line(record):
    return {name: member for name, member in record.items() if name != "line"}


# A line is answered as it would be alone


@pytest.mark.parametrize("calculation", EXAMPLES)
def test_a_line_is_answered_as_alone(calculation, bad_requests):
    sent = [EXAMPLES[calculation], {**EXAMPLES[calculation], "id": "a \u2603"}, bad_requests.GOOD[calculation], {}]
    bodies = [orjson.dumps(request) for request in sent]
    read, summary = records(post(calculation, b"\n".join(bodies)))
    assert [without_line(record) for record in read] == [expected(calculation, body) for body in bodies]
    assert [record["line"] for record in read] == [1, 2, 3, 4]
    assert summary["lines"] == 4
    assert summary["calculation"] == alone(calculation, bodies[0]).json["calculation"]
    assert summary["service_version"] == alone(calculation, bodies[0]).json["provenance"]["service_version"]
    assert summary["stopped_by"] is None


@pytest.mark.parametrize("calculation", EXAMPLES)
def test_a_whole_answer_is_the_one_that_is_given_alone(calculation, bad_requests):
    bodies = [orjson.dumps({**EXAMPLES[calculation], "id": "x"}), b"[]", orjson.dumps(bad_requests.GOOD[calculation])]
    answer = post(calculation, b"\n".join(bodies), Prefer="return=representation")
    read, _ = records(answer)
    assert answer.headers["Preference-Applied"] == "return=representation"
    assert [without_line(record) for record in read[::2]] == [alone(calculation, body).json for body in bodies[::2]]
    assert read[1] == {"line": 2, "problem": alone(calculation, b"[]").json}


def test_a_bad_line_is_refused_as_alone_and_the_others_are_answered(bad_requests):
    """Every request of the table that is one line long, between good ones."""
    tried = 0
    for calculation, good in bad_requests.GOOD.items():
        rows = [row for row in bad_requests.TABLE if row.path == f"/v1/calculations/{calculation}" and row.method == "POST"]
        bad = [row.bytes for row in rows if row.headers == {"Content-Type": "application/json"} and row.status in (400, 422)]
        bad = [body for body in bad if body.strip(b" \t\r\n") and b"\n" not in body]
        bodies = [body for each in bad for body in (each, orjson.dumps(good))]
        read, summary = records(post(calculation, b"\n".join(bodies)))
        for body, record in zip(bodies, read, strict=True):
            told = {name: member for name, member in record.items() if name not in ("line", "id")}
            assert told == {name: m for name, m in expected(calculation, body).items() if name != "id"}, body
        assert (summary["answered"], summary["refused"]) == (len(bad), len(bad))
        tried += len(bad)
    assert tried > 200


def requests_of(calculation):
    """Return a strategy for requests that fit the schema of an elementwise calculation; their members may not go together."""
    properties = client.get(f"/v1/calculations/{calculation}").json["request_schema"]["properties"]
    required = {name for name, field in registry.calculations[calculation].request.fields.items() if field.required}
    of = {name: values_of(schema, name not in required) for name, schema in properties.items()}
    return st.fixed_dictionaries(
        {name: of[name] for name in sorted(required)}, optional={name: of[name] for name in sorted(set(of) - required)}
    )


def values_of(schema, nullable):
    """Return a strategy for the values of one member, those of a gauge and any other."""
    if "enum" in schema:
        values = st.sampled_from([name for name in schema["enum"] if name is not None])
    elif "minimum" in schema:
        low, high = schema["minimum"], schema["maximum"]
        gauged = st.integers(int(np.ceil(low * 10)), int(high * 10)).map(lambda number: number / 10)
        whole = "integer" in schema["type"]
        values = st.integers(low, high) if whole else st.one_of(st.sampled_from([low, high]), st.floats(low, high), gauged)
    elif schema.get("format") == "date":
        values = st.dates().map(str)
    else:
        values = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=schema["maxLength"])
    return st.one_of(st.none(), values) if nullable else values


@pytest.mark.parametrize("calculation", ELEMENTWISE)
def test_many_rows_in_one_call_are_answered_as_each_alone(calculation):
    @settings(max_examples=20, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck))
    @given(sent=st.lists(requests_of(calculation), min_size=1, max_size=25))
    def check(sent):
        bodies = [json.dumps(request).encode() for request in sent]
        read, _ = records(post(calculation, b"\n".join(bodies)))
        assert [without_id(record) for record in read] == [without_id(expected(calculation, body)) for body in bodies]

    check()


def without_id(record):
    return {name: member for name, member in record.items() if name not in ("line", "id")}


def drawn(count, seed=1):
    """Return plates as a gauge would read them, some of them refused and some with something to be found."""
    chance = random.Random(seed)
    for _ in range(count):
        plate = round(chance.uniform(3.0, 11.0), 1)
        yield {
            "original_mm": chance.choice([6.0, 8.0, 10.0]),
            "plate_mm": plate,
            "pit_depth_mm": round(chance.uniform(0.0, plate + 0.8), 1),
            "years_in_service": chance.choice([16.0, 0.5]),
            "protected_years": chance.choice([0.0, 0.5]),
        }


def counted(calculation, run=None):
    """Return an application whose calculation keeps how many rows it was called with, and the list that it keeps them in."""
    served, calls = registry.calculations[calculation], []

    def counting(**arguments):
        calls.append(len(arguments["original_mm"]))
        return (run or served.offered.run)(**arguments)

    own = Served(offered=dataclasses.replace(served.offered, run=counting), distribution=served.distribution)
    calculations = {**registry.calculations, calculation: own}
    of = create_app(dataclasses.replace(registry, calculations=calculations)).test_client()
    calls.clear()  # the document was made of an example
    return of, calls


def test_rows_are_computed_together_and_those_that_it_refuses_are_left_out():
    of, calls = counted("plate-margin")
    bodies = [orjson.dumps(request) for request in drawn(3000)]
    read, summary = records(post("plate-margin", b"\n".join(bodies), of))
    assert summary["refused"] > 300
    most = bulk.ROWS_TOGETHER
    whole, rest = divmod(len(bodies), most)
    assert calls[::2] == [*([most] * whole), rest]  # each batch once, and once more without what it refused
    assert len(calls) == 2 * (whole + 1)
    assert sum(calls[1::2]) == summary["answered"]
    for number in range(0, 3000, 61):
        assert without_line(read[number]) == expected("plate-margin", bodies[number])


# A row that fails fails alone

FAILING = 5.5


def fails(arguments):
    if FAILING in arguments["original_mm"]:
        raise ZeroDivisionError("secret")


def is_not_applicable_as_a_whole(arguments):
    if FAILING in arguments["original_mm"]:
        raise NotApplicableError([("odd", ("plate_mm",), "no such plate")])


def refuses_its_first_alone(arguments):
    for row in np.flatnonzero(arguments["original_mm"] == FAILING):
        raise NotApplicableError([("odd", ("plate_mm", int(row)), "no such plate")])


def gives_no_number(arguments):
    return {"residual_mm": np.where(arguments["original_mm"] == FAILING, np.nan, 5.0)}


@pytest.mark.parametrize("odd", [fails, is_not_applicable_as_a_whole, refuses_its_first_alone, gives_no_number])
def test_a_row_that_fails_fails_alone(odd):
    real = registry.calculations["residual-thickness"].offered.run

    def run(**arguments):
        changes = odd(arguments)
        result = real(**arguments)
        return dataclasses.replace(result, **changes) if changes else result

    of, _ = counted("residual-thickness", run)
    failing = {17, 18, 40, 99}
    sent = [{**PLATE, "id": str(n), **({"original_mm": FAILING} if n in failing else {})} for n in range(100)]
    bodies = [orjson.dumps(request) for request in sent]
    answer = post("residual-thickness", b"\n".join(bodies), of)
    read, summary = records(answer)
    assert summary["refused"] == len(failing)
    assert {int(record["id"]) for record in read if "problem" in record} == failing
    assert all("secret" not in json.dumps(record) for record in read)
    for record, body in zip(read, bodies, strict=True):
        assert without_id(record) == without_id(expected("residual-thickness", body, of))


@pytest.mark.parametrize("prefer", ["return=minimal", "return=representation"])
def test_a_call_that_fails_fails_its_line_alone(prefer):
    served = registry.calculations["threshold-check"]

    def run(**arguments):
        if len(arguments["readings"]) == 7:
            raise KeyError("secret")
        return served.offered.run(**arguments)

    own = Served(offered=dataclasses.replace(served.offered, run=run), distribution=served.distribution)
    calculations = {**registry.calculations, "threshold-check": own}
    of = create_app(dataclasses.replace(registry, calculations=calculations)).test_client()
    one = {"zone": "side", "plate_mm": 5.0}
    body = b"\n".join(orjson.dumps({"readings": [one] * count}) for count in (1, 7, 1))
    read, _ = records(post("threshold-check", body, of, Prefer=prefer))
    assert [record.get("problem", {}).get("type") for record in read] == [None, "/problems/calculation-failed", None]


# What a line is

GOOD_LINE = orjson.dumps(PLATE)


@pytest.mark.parametrize(
    ("body", "good", "total"),
    [
        (b"", [], 0),
        (b"\n", [], 1),
        (b" \t\r\n\n\r\n  ", [], 4),
        (GOOD_LINE, [1], 1),
        (GOOD_LINE + b"\n", [1], 1),
        (GOOD_LINE + b"\r\n", [1], 1),
        (b"\n\n" + GOOD_LINE + b"\n \n" + GOOD_LINE, [3, 5], 5),
        (GOOD_LINE + b"\r\n\r\n" + GOOD_LINE + b"\r\n", [1, 3], 3),
        (GOOD_LINE.replace(b",", b",\r"), [1], 1),
        (b"  " + GOOD_LINE + b"\t\n", [1], 1),
    ],
)
def test_lines_are_counted_as_they_stand_and_blank_ones_passed_over(body, good, total):
    read, summary = records(post("residual-thickness", body))
    assert [record["line"] for record in read if "result" in record] == good == [record["line"] for record in read]
    assert summary["lines"] == total


@pytest.mark.parametrize(
    ("line", "problem"),
    [
        (b"\xff\xfe", "malformed-body"),
        (b'{"id": "\xc3"}', "malformed-body"),
        (b"\xef\xbb\xbf" + GOOD_LINE, "malformed-body"),
        (b"\x00", "malformed-body"),
        (GOOD_LINE + b"\x00", "malformed-body"),
        (GOOD_LINE + b" " + GOOD_LINE, "malformed-body"),
        (GOOD_LINE + b"\r" + GOOD_LINE, "malformed-body"),
        (b"\x0c", "malformed-body"),
        (b"[" * 100_000, "malformed-body"),
        (b'{"a":' * 100_000 + b"1" + b"}" * 100_000, "malformed-body"),
        (b'{"original_mm": 1e400, "plate_mm": 8}', "malformed-body"),
        (b'{"original_mm": NaN, "plate_mm": 8}', "malformed-body"),
        (b'{"original_mm": 10, "original_mm": 10, "plate_mm": 8}', "malformed-body"),
        (b'{"original_mm": ' + b"9" * 5000 + b', "plate_mm": 8}', "malformed-body"),
        (b'{"original_mm": ' + b"9" * 300 + b', "plate_mm": 8}', "invalid-request"),
        (b'{"original_mm": 10, "plate_mm": 8, "id": "a\\u0000b", "plate": 1}', "invalid-request"),
        (b"[]", "invalid-request"),
        (b"null", "invalid-request"),
        (b'"' + b"x" * (MIB - 2) + b'"', "invalid-request"),
        (b'"' + b"x" * (MIB - 1) + b'"', "too-large"),
        (b"x" * (3 * MIB), "too-large"),
    ],
    ids=range(21),
)
def test_a_hostile_line_is_refused_and_the_next_answered(line, problem):
    read, summary = records(post("residual-thickness", GOOD_LINE + b"\n" + line + b"\r\n" + GOOD_LINE))
    kinds = [record.get("problem", {"type": "/problems/"})["type"].rsplit("/", 1)[1] for record in read]
    assert kinds == ["", problem, ""]
    assert summary["lines"] == 3
    assert read[0]["result"] == read[2]["result"]


def test_a_refused_line_tells_its_label_where_that_can_be_read():
    bodies = [b'{"id": "a", "plate_mm": 8}', b'{"id": 7}', b'{"id": ""}', b'{"id": "' + b"x" * 101 + b'"}', b"{", b"[1]"]
    read, _ = records(post("residual-thickness", b"\n".join(bodies)))
    assert [record.get("id") for record in read] == ["a", None, None, None, None, None]


@given(
    body=st.lists(st.sampled_from([b"", b"a", b"ab\r", b"abcd", b"abcd\r", b"abcde", b"abcdefghijkl", b"\r"])).map(b"\n".join),
    cuts=st.lists(st.integers(0, 60)),
)
@settings(max_examples=300, deadline=None, derandomize=True, database=None)
def test_lines_are_the_same_wherever_the_blocks_end(body, cuts):
    """Against the plain reading of the whole body."""
    ends = sorted({min(cut, len(body)) for cut in cuts} | {len(body)})
    blocks = [body[start:end] for start, end in zip([0, *ends], ends, strict=False) if start < end]
    whole = body.split(b"\n")
    if not whole[-1]:
        whole.pop()
    expected_lines = [(number, line if len(line.removesuffix(b"\r")) <= 4 else None) for number, line in enumerate(whole, 1)]
    assert list(lines(blocks, 4)) == expected_lines


def test_a_line_may_lie_over_several_blocks():
    """The lines are about 300 kB, a block is 256 KiB."""
    readings = [{"zone": "side", "plate_mm": 5.0 + number % 10 / 10, "id": f"reading {number}"} for number in range(6000)]
    body = orjson.dumps({"readings": readings})
    assert len(body) > 256 * 1024
    read, _ = records(post("threshold-check", b"\n".join([body] * 4)))
    assert [without_line(record) for record in read] == [expected("threshold-check", body)] * 4


# The summary


def test_the_summary_tells_what_was_assumed_and_of_how_many_rows():
    plates = [PLATE, {"original_mm": 10.0, "plate_mm": 8.0}, {"original_mm": 10.0, "plate_mm": 7.0, "pit_depth_mm": None}, {}]
    _, summary = records(post("residual-thickness", b"\n".join(map(orjson.dumps, plates))))
    of_one = alone("residual-thickness", orjson.dumps(plates[1])).json["assumed"]
    assert summary["assumed"] == [{**told, "rows": 2} for told in of_one]


@pytest.mark.parametrize("calculation", EXAMPLES)
def test_what_one_line_assumes_is_what_its_answer_tells(calculation):
    body = orjson.dumps(EXAMPLES[calculation])
    _, summary = records(post(calculation, body))
    answer = alone(calculation, body).json
    assert summary["assumed"] == [{**told, "rows": 1} for told in answer["assumed"]]
    assert summary["rule_sets"] == answer["provenance"]["rule_sets"]
    whole = records(post(calculation, body, Prefer="return=representation"))[1]
    assert {name: whole[name] for name in summary if name != "digest"} == {
        name: summary[name] for name in summary if name != "digest"
    }


def test_values_that_differ_are_told_as_null_and_their_reasons_apart():
    plates = [
        {"original_mm": original, "residual_mm": 2.0, "years_in_service": 9.0, "threshold_mm": 1.0} for original in (2, 4, 10)
    ]
    _, summary = records(post("remaining-life", b"\n".join(map(orjson.dumps, plates))))
    told = [used for used in summary["assumed"] if used["field"] == "original_standard_uncertainty_mm"]
    apart = {used["basis"]: used for plate in plates for used in alone("remaining-life", orjson.dumps(plate)).json["assumed"]}
    assert {used["basis"] for used in told} == {b for b, used in apart.items() if used["field"] == told[0]["field"]}
    assert sum(used["rows"] for used in told) == 3
    echoes = [{"indicated_mm": 6.0, "velocity_m_per_s": velocity} for velocity in (5900.0, 5910.0, 5910.0)]
    _, summary = records(post("ultrasonic-thickness", b"\n".join(map(orjson.dumps, echoes))))
    (velocity,) = [used for used in summary["assumed"] if used["field"] == "gauge_velocity_m_per_s"]
    assert (velocity["value"], velocity["rows"]) == (None, 3)


def test_the_summary_tells_every_rule_set_that_was_used():
    sent = [
        {"readings": [{"zone": "side", "plate_mm": 5.0}], "rule_sets": sets} for sets in (["trade-practice"], ["loss-fraction"])
    ]
    _, summary = records(post("threshold-check", b"\n".join(map(orjson.dumps, [*sent, *sent]))))
    assert [used["id"] for used in summary["rule_sets"]] == ["trade-practice", "loss-fraction"]


def test_the_summary_does_not_grow_with_the_rows():
    tally = Tally()
    for number in range(3 * MOST_ASSUMPTIONS):
        tally.count(1, [({"field": "f", "value": number, "unit": "mm", "basis": f"as {number} says"}, 1)])
    told = tally.told(3 * MOST_ASSUMPTIONS)["assumed"]
    assert len(told) == MOST_ASSUMPTIONS + 1
    assert told[-1] == {"field": "f", "value": None, "unit": "mm", "basis": None, "rows": 2 * MOST_ASSUMPTIONS}


@pytest.mark.parametrize("calculation", ["residual-thickness", "threshold-check"])
def test_the_answer_comes_with_its_length_and_digest(calculation):
    answer = post(calculation, orjson.dumps(EXAMPLES[calculation]))
    assert answer.headers["Content-Digest"] == sha_256(answer.data)
    assert int(answer.headers["Content-Length"]) == len(answer.data)
    assert answer.headers["Cache-Control"] == "no-store"
    assert answer.headers["Vary"] == "Accept, Prefer"
    assert answer.headers["Calculation-Version"] == registry.calculations[calculation].offered.version


def test_the_same_lines_have_the_same_answer():
    body = b"\n".join(orjson.dumps(request) for request in drawn(200))
    assert post("plate-margin", body).data == post("plate-margin", body).data


# Preferences and negotiation


@pytest.mark.parametrize(
    ("prefer", "applied"),
    [
        ("return=minimal", "return=minimal"),
        ("stream", "stream"),
        ("stream, return=representation", "return=representation, stream"),
        ("return=minimal, return=representation", "return=minimal"),
        ("stream; foo=bar", "stream"),
        ("streams", None),
        ("stream=no", None),
        ("return=all", None),
    ],
)
def test_preferences_are_told_as_applied(prefer, applied):
    body = b"\n".join(orjson.dumps(request) for request in drawn(50))
    answer = post("plate-margin", body, Prefer=prefer)
    assert answer.headers.get("Preference-Applied") == applied
    streamed = "stream" in (applied or "")
    assert ("Content-Digest" in answer.headers) != streamed
    records(answer)
    if "representation" not in (applied or ""):
        assert answer.data == post("plate-margin", body).data


@pytest.mark.parametrize("accept", [None, "*/*", "application/*", NDJSON, "text/html, */*;q=0.1", f"{NDJSON}; charset=utf-8"])
def test_lines_are_answered_in_lines(accept):
    answer = post("hull-survey", b"", **({} if accept is None else {"Accept": accept}))
    assert (answer.status_code, answer.content_type) == (200, NDJSON)


@pytest.mark.parametrize(
    ("calculation", "accept", "offered"),
    [
        ("hull-survey", "application/json", [NDJSON]),
        ("hull-survey", "text/csv", [NDJSON]),
        ("plate-margin", "application/json", [NDJSON, "text/csv"]),
        ("plate-margin", f"{NDJSON};q=0, text/html", [NDJSON, "text/csv"]),
    ],
)
def test_what_is_not_offered_is_refused_by_naming_what_is(calculation, accept, offered):
    answer = post(calculation, b"", Accept=accept)
    assert (answer.status_code, answer.json["type"]) == (406, "/problems/not-acceptable")
    assert answer.json["detail"] == f"The answer is offered as {', '.join(offered)}."


@pytest.mark.parametrize("content_type", [f"{NDJSON}; charset=utf-8", f'{NDJSON};charset="UTF-8"', "Application/X-NDJSON"])
def test_lines_are_read_however_their_type_is_written(content_type):
    assert records(post("residual-thickness", GOOD_LINE, Content_Type=content_type))[1]["answered"] == 1


@pytest.mark.parametrize(
    ("headers", "says"),
    [
        ({"Content_Type": f"{NDJSON}; charset=latin-1"}, "latin-1"),
        ({"Content_Encoding": "gzip"}, "gzip"),
        ({"Content_Type": "application/jsonl"}, "application/json or application/x-ndjson or text/csv"),
    ],
)
def test_another_type_charset_or_coding_is_not_read(headers, says):
    answer = post("residual-thickness", GOOD_LINE, **headers)
    assert (answer.status_code, answer.json["type"]) == (415, "/problems/unsupported-media-type")
    assert says in answer.json["detail"]


def test_one_request_is_not_answered_in_lines():
    answer = client.post("/v1/calculations/plate-margin", json=EXAMPLES["plate-margin"], headers={"Accept": NDJSON})
    assert (answer.status_code, answer.json["detail"]) == (406, "The answer is offered as application/json.")


# Limits


def limited(**limits):
    return create_app(registry, Settings(**limits)).test_client()


def test_a_call_answers_so_many_rows_and_says_where_it_stopped():
    of = limited(max_rows=1500)
    within = b"\n\n".join([GOOD_LINE] * 1500)
    read, summary = records(post("residual-thickness", within, of))
    assert (len(read), summary["stopped_by"]) == (1500, None)
    read, summary = records(post("residual-thickness", within + b"\n\n\n" + b"\n".join([GOOD_LINE] * 700), of))
    assert (summary["answered"], summary["refused"], summary["lines"]) == (1500, 1, 3002)
    assert summary["stopped_by"] == "/problems/too-large"
    assert read[-1]["line"] == 3002
    assert read[-1]["problem"]["detail"] == "One call answers 1500 rows; send the rest in another."


def test_the_limits_may_be_set_and_are_told():
    environment = {"PLATEMARGIN_MAX_LINE_BYTES": "2000", "PLATEMARGIN_MAX_ROWS": "7"}
    of = create_app(registry, Settings.from_environment(environment)).test_client()
    told = of.get("/v1/calculations/residual-thickness").json
    assert (told["limits"]["max_line_bytes"], told["limits"]["max_rows"]) == (2000, 7)
    read, summary = records(post("residual-thickness", b"\n".join([GOOD_LINE.ljust(2000), GOOD_LINE.ljust(2001)]), of))
    assert ("result" in read[0], read[1]["problem"]["type"]) == (True, "/problems/too-large")
    assert "2000 bytes" in read[1]["problem"]["detail"]
    assert summary["stopped_by"] is None
    default = client.get("/v1/calculations/hull-survey").json
    assert default["limits"] == {"max_body_bytes": 8 * MIB, "max_line_bytes": MIB, "max_rows": 100_000_000}
    assert default["media"] == [
        {"request": "application/json", "answers": ["application/json", "image/svg+xml", "text/html", "application/pdf"]},
        {"request": NDJSON, "answers": [NDJSON]},
    ]


def test_a_disk_that_is_full_is_a_problem(monkeypatch):
    """/dev/full (full(4)): every write fails for want of room, that of closing too."""
    monkeypatch.setattr(spool, "SpooledTemporaryFile", lambda **_: open("/dev/full", "wb"))  # noqa: PTH123, SIM115
    answer = post("residual-thickness", b"\n".join([GOOD_LINE] * 10_000))
    assert (answer.status_code, answer.json["type"]) == (503, "/problems/busy")


def test_no_room_to_hold_the_answer_is_a_problem(monkeypatch, tmp_path):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "gone"))
    body = b"\n".join([GOOD_LINE] * 10_000)
    answer = post("residual-thickness", body)
    assert (answer.status_code, answer.json["type"]) == (503, "/problems/busy")
    assert records(post("residual-thickness", body, Prefer="stream"))[1]["answered"] == 10_000


def test_a_hundred_thousand_rows():
    bodies = [orjson.dumps({**PLATE, "id": str(number)}) for number in range(100_000)]
    read, summary = records(post("residual-thickness", b"\n".join(bodies)))
    assert (summary["lines"], summary["answered"], summary["refused"]) == (100_000, 100_000, 0)
    assert [record["id"] for record in read] == [str(number) for number in range(100_000)]
    assert all(record["result"] == read[0]["result"] for record in read)


# Through the real server


def head(*headers):
    line = "POST /v1/calculations/residual-thickness HTTP/1.1"
    return "\r\n".join([line, "Host: here", f"Content-Type: {NDJSON}", *headers, "", ""]).encode()


def exchange(server, *parts, headers=(), over=False, pause=0.0, together=False):
    """Send the parts as chunks, and read then, or together with it; return the status, the headers and what came."""
    with server.connect() as connection:

        def send():
            connection.sendall(head("Transfer-Encoding: chunked", *headers))
            for part in parts:
                connection.sendall(f"{len(part):x}\r\n".encode() + part + b"\r\n")
                time.sleep(pause)
            if over:
                connection.sendall(b"0\r\n\r\n")

        sender = threading.Thread(target=send)
        sender.start()
        if not together:
            sender.join()
        raw = http.client.HTTPResponse(connection, method="POST")
        raw.begin()
        answer = raw.status, raw.headers, raw.read()
        sender.join()
        return answer


class Answer:
    """What came over the socket, with the members that the test client's answers have."""

    def __init__(self, status, headers, data):
        self.status_code, self.content_type, self.data = status, headers["Content-Type"], data


def test_a_body_that_stalls_is_given_up_before_anything_is_sent(server):
    status, _, data = exchange(server, GOOD_LINE + b"\n" + GOOD_LINE)
    assert (status, json.loads(data)["type"]) == (408, "/problems/timeout")


def test_a_streamed_answer_tells_that_the_body_stalled(server):
    """The last line is the first that was not answered; what had come of it, and after it, is dropped."""
    part = (GOOD_LINE + b"\n") * 1000
    answer = Answer(*exchange(server, *[part] * 20, GOOD_LINE[:9], headers=["Prefer: stream"], together=True))
    read, summary = records(answer)
    answered = summary["answered"]
    assert 15_000 < answered <= 20_000
    assert [record["line"] for record in read] == list(range(1, answered + 2))
    assert read[-1]["problem"]["type"] == summary["stopped_by"] == "/problems/timeout"
    assert (summary["lines"], summary["refused"]) == (answered + 1, 1)


def test_a_body_that_is_cut_between_two_lines_is_not_taken_for_a_whole_one(server):
    body = GOOD_LINE + b"\n"
    for prefer in ("return=minimal", "stream"):
        with server.connect() as connection:
            connection.sendall(head(f"Prefer: {prefer}", f"Content-Length: {2 * len(body)}") + body)
            connection.shutdown(socket.SHUT_WR)
            raw = http.client.HTTPResponse(connection, method="POST")
            raw.begin()
            answer = Answer(raw.status, raw.headers, raw.read())
        if prefer == "stream":
            read, summary = records(answer)
            assert summary["stopped_by"] == read[1]["problem"]["type"] == "/problems/malformed-body"
        else:
            assert (answer.status_code, json.loads(answer.data)["type"]) == (400, "/problems/malformed-body")


def test_a_streamed_answer_is_the_one_that_is_held(server):
    part = b"".join(orjson.dumps({name: request[name] for name in PLATE}) + b"\n" for request in drawn(3000))
    _, _, held = exchange(server, part, part, over=True)
    _, headers, streamed = exchange(server, part, part, headers=["Prefer: stream"], over=True, together=True)
    assert (headers["Preference-Applied"], headers["Transfer-Encoding"]) == ("stream", "chunked")
    assert streamed == held
    assert b'"result"' in held
    assert b'"problem"' in held


def test_a_slow_body_that_does_not_stall_is_answered(server):
    parts = [GOOD_LINE + b"\n"] * 5
    read, _ = records(Answer(*exchange(server, *parts, over=True, pause=0.5)))
    assert [record["line"] for record in read] == [1, 2, 3, 4, 5]


def test_memory_does_not_grow_with_the_rows_and_a_caller_may_send_all_before_it_reads(server):
    """Rows of one and of twenty times the blocks; 6 million and 48 million are for tests/load."""
    block = b"\n".join([GOOD_LINE] * 5000) + b"\n"
    for _ in range(2):
        status, _, data = exchange(server, *[block] * 3, over=True)
    assert (status, data.count(b"\n")) == (200, 15_001)
    before = server.resident_mb()
    status, headers, data = exchange(server, *[block] * 60, over=True)
    after = server.resident_mb()
    assert (status, data.count(b"\n")) == (200, 300_001)
    assert headers["Content-Digest"] == sha_256(data)
    assert json.loads(data.splitlines()[-1])["summary"]["answered"] == 300_000
    assert len(data) > 60 * MIB
    assert after - before < 25, (before, after)


def test_readers_that_stall_do_not_keep_the_threads(server):
    """Four threads, five callers who send everything and read nothing: the sixth is answered."""
    block = b"\n".join([GOOD_LINE] * 20_000) + b"\n"
    stalled = []
    for _ in range(5):
        stalled.append(server.connect())
        stalled[-1].sendall(head(f"Content-Length: {len(block)}") + block)
    started = time.monotonic()
    status, _, data = exchange(server, GOOD_LINE, over=True)
    assert (status, data.count(b"\n")) == (200, 2)
    assert time.monotonic() - started < 45
    for connection in stalled:
        connection.close()
