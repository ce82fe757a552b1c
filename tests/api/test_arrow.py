"""Requests and answers in columns: the same as one by one after rounding, and nothing that lies gets further than the door."""

import datetime as dt
import io
import json
import os
import re
import struct
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platemargin.quantities import rounded
from platemargin_api.app import create_app
from platemargin_api.demo import served
from platemargin_api.registry import load_registry
from platemargin_api.settings import Settings

pa = pytest.importorskip("pyarrow", reason="the package pyarrow is not installed")
registry = load_registry()
client = create_app(registry).test_client()
ARROW = "application/vnd.apache.arrow.stream"
ELEMENTWISE = [name for name, served in registry.calculations.items() if served.offered.elementwise]
PLATES = {
    "id": ["a", "b", "c", "d", "e", None],
    "original_mm": [10.0, 10.0, 10.0, 10.0, None, 6.0],
    "plate_mm": [8.8, 8.8, 9.2, 999.0, 8.0, 5.6],
    "pit_depth_mm": [2.6, 12.0, None, 0.0, 1.0, 1.9],
    "years_in_service": [16.0] * 6,
    "surveyed_on": [None, None, "2026-02-11", None, None, None],
}


def written(*batches, schema=None, options=None):
    sink = io.BytesIO()
    with pa.ipc.new_stream(sink, schema or batches[0].schema, options=options) as writer:
        for batch in batches:
            writer.write_batch(batch)
    return sink.getvalue()


def batch_of(columns, **types):
    return pa.RecordBatch.from_arrays(
        [pa.array(values, types.get(name)) for name, values in columns.items()], names=list(columns)
    )


def plates(**changes):
    columns = {name: values for name, values in (PLATES | changes).items() if values is not None}
    return batch_of(columns, surveyed_on=None)


def post(calculation, body, **headers):
    return client.post(f"/v1/calculations/{calculation}", data=body, headers={"Content-Type": ARROW, **headers})


def read(response):
    assert (response.status_code, response.content_type) == (200, ARROW), response.data[:500]
    with pa.ipc.open_stream(response.data) as reader:
        return reader.read_all()


def told_of(table):
    return json.loads(table.schema.metadata[b"platemargin"])


def one_by_one(calculation, rows):
    """Return the answers to the same rows as JSON lines."""
    lines = "\n".join(json.dumps({k: v for k, v in row.items() if v is not None}) for row in rows)
    told = client.post(f"/v1/calculations/{calculation}", data=lines, content_type="application/x-ndjson")
    return [json.loads(line) for line in told.data.splitlines()][:-1]


def flat(value, path=()):
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from flat(inner, (*path, name))
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from flat(inner, (*path, str(place)))
    else:
        yield ".".join(path), value


def unit_of(calculation, name):
    from platemargin_api.csv_writer import result_columns  # noqa: PLC0415
    from platemargin_api.fields import Object  # noqa: PLC0415

    first, *rest = result_columns(registry.calculations[calculation])[name]
    field = registry.calculations[calculation].response.fields[first]
    for part in rest:
        field = field.schema.fields[part] if isinstance(field, Object) else field.inner
    return field


def assert_same(calculation, table, lines):
    """Each row has the result, after declared rounding, the codes and the refusal of its line."""
    for row, line in zip(table.to_pylist(), lines, strict=True):
        if "problem" in line:
            assert {value for name, value in row.items() if name not in ("id", "error")} == {None}
            assert row["error"].startswith(line["problem"]["type"].rsplit("/", 1)[1])
            assert all(fault["detail"] in row["error"] for fault in line["problem"].get("errors", ()))
            continue
        assert row["error"] is None
        assert row["finding_codes"] == [found["code"] for found in line["findings"]]
        for name, value in flat(line["result"]):
            told = row[name]
            if isinstance(value, float):
                field = unit_of(calculation, name)
                told = field.values(np.array([told]))[0]
            elif hasattr(told, "isoformat"):
                told = told.isoformat()
            assert told == value, (name, row[name], value)


def test_rows_are_answered_as_they_would_be_one_by_one():
    table = read(post("plate-margin", written(plates(surveyed_on=None))))
    rows = plates(surveyed_on=None).to_pylist()
    assert table["id"].to_pylist() == PLATES["id"]
    assert_same("plate-margin", table, one_by_one("plate-margin", rows))


@pytest.mark.parametrize("calculation", ELEMENTWISE)
def test_every_elementwise_calculation_has_it(calculation):
    """A spread of rows around the example, good and bad: each member left out, at and beyond its bounds."""
    served = registry.calculations[calculation]
    example = dict(served.offered.example)
    rows = [example]
    for name, field in served.request.fields.items():
        rows.append({**example, name: None})
        if name == "id":
            rows.append({**example, name: "x" * 101})
            continue
        for validator in field.validators:
            if hasattr(validator, "min"):
                step = 1 if type(validator.min) is int and isinstance(example.get(name, validator.min), int) else 0.001
                rows += [{**example, name: value} for value in (validator.min, validator.max, validator.min - step)]
            else:
                rows += [{**example, name: value} for value in (*validator.choices, "misspelt")]
    names = list(dict.fromkeys(name for row in rows for name in row))
    columns = {name: [row.get(name) for row in rows] for name in names}
    table = read(post(calculation, written(pa.RecordBatch.from_pydict(columns))))
    assert_same(calculation, table, one_by_one(calculation, rows))
    told = told_of(table)
    assert (told["lines"], told["answered"] + told["refused"]) == (len(rows), len(rows))
    assert 0 < told["answered"] < len(rows)


@settings(deadline=None, derandomize=True, max_examples=100)
@given(
    st.lists(
        st.tuples(
            st.floats(0.5, 40),
            st.floats(0, 40),
            st.none() | st.floats(0, 40),
            st.floats(0.1, 200),
            st.none() | st.floats(0, 60),
        ),
        min_size=1,
        max_size=40,
    )
)
def test_any_rows_are_answered_as_one_by_one(rows):
    names = ("original_mm", "plate_mm", "pit_depth_mm", "years_in_service", "protected_years")
    sent = [dict(zip(names, row, strict=True)) for row in rows]
    columns = {name: pa.array([row[name] for row in sent], pa.float64()) for name in names}
    table = read(post("plate-margin", written(pa.RecordBatch.from_pydict(columns))))
    assert_same("plate-margin", table, one_by_one("plate-margin", sent))


def test_what_the_whole_call_used_is_in_the_metadata():
    body = written(plates(surveyed_on=None))
    told = told_of(read(post("plate-margin", body)))
    lines = client.post(
        "/v1/calculations/plate-margin",
        data="\n".join(
            json.dumps({k: v for k, v in row.items() if v is not None}) for row in plates(surveyed_on=None).to_pylist()
        ),
        content_type="application/x-ndjson",
    )
    summary = json.loads(lines.data.splitlines()[-1])["summary"]
    by_field = {(one["field"], one["basis"]): one for one in summary["assumed"]}
    assert {(one["field"], one["basis"]): one for one in told["assumed"]} == by_field
    for member in ("lines", "answered", "refused", "stopped_by", "calculation", "service_version", "rule_sets"):
        assert told[member] == summary[member]
    from platemargin_api.answer import digest  # noqa: PLC0415

    assert told["request_digest"] == digest(body)


def test_single_precision_is_rounded_and_answered_in_single_precision():
    """9.8 in 32 bits is 9.8000002: a reading of tenths must not become another one."""
    columns = {"original_mm": [10.0, 4.6], "plate_mm": [9.8, 4.6], "pit_depth_mm": [2.8, 0.6]}
    types = {name: pa.float32() for name in columns}
    table = read(post("residual-thickness", written(batch_of(columns, **types))))
    assert table.schema.field("residual_mm").type == pa.float32()
    assert rounded(np.array(table["residual_mm"].to_pylist()), "mm").tolist() == [7.0, 4.0]
    mixed = read(post("residual-thickness", written(batch_of(columns, plate_mm=pa.float32()))))
    assert mixed.schema.field("residual_mm").type == pa.float64()


def test_answers_are_not_rounded_and_names_are_in_dictionaries():
    table = read(post("plate-margin", written(batch_of({"original_mm": [9.0], "plate_mm": [8.0], "years_in_service": [7.0]}))))
    assert table["loss_percent"].to_pylist() == [100 / 9]
    assert pa.types.is_dictionary(table.schema.field("plate_state").type)
    assert table.schema.field("finding_codes").type == pa.list_(pa.string())


@pytest.mark.parametrize(
    ("column", "kind"),
    [
        ("original_mm", pa.int32()),
        ("original_mm", pa.uint64()),
        ("original_mm", pa.decimal128(10, 2)),
        ("years_in_service", pa.float16()),
        ("environment", pa.large_string()),
        ("environment", pa.dictionary(pa.int8(), pa.string())),
        ("environment", pa.null()),
        ("faces", pa.float64()),
        ("faces", pa.int8()),
        ("surveyed_on", pa.date32()),
        ("surveyed_on", pa.string()),
        ("surveyed_on", pa.date64()),
    ],
)
def test_the_types_that_clients_write_are_read(column, kind):
    values = {
        "original_mm": [10, 10],
        "plate_mm": [8.8, 8.8],
        "years_in_service": [16, None if column == "none" else 16],
        "environment": [None, None] if kind == pa.null() else ["fresh_water", None],
        "faces": [1, None],
        "surveyed_on": ["2026-02-11" if kind == pa.string() else dt.date(2026, 2, 11), None],
    }
    chosen = {name: values[name] for name in ("original_mm", "plate_mm", "years_in_service", column)}
    table = read(post("plate-margin", written(batch_of(chosen, **{column: kind}))))
    assert table["error"].to_pylist() == [None, None]


REFUSED = {
    "an unknown column": (batch_of({"original_mm": [1.0], "plat_mm": [1.0]}), "the nearest is plate_mm"),
    "a required column left out": (batch_of({"original_mm": [1.0]}), "'plate_mm' is required"),
    "a column twice": (
        pa.RecordBatch.from_arrays([pa.array([1.0])] * 3, names=["original_mm", "plate_mm", "plate_mm"]),
        "is named twice",
    ),
    "text for numbers": (batch_of({"original_mm": ["10"], "plate_mm": [1.0]}), "holds string, not numbers"),
    "a list": (batch_of({"original_mm": [[1.0]], "plate_mm": [1.0]}), "not numbers"),
    "a struct": (batch_of({"original_mm": [{"a": 1}], "plate_mm": [1.0]}), "not numbers"),
    "flags": (batch_of({"original_mm": [True], "plate_mm": [1.0]}), "holds bool, not numbers"),
}


@pytest.mark.parametrize(("batch", "says"), REFUSED.values(), ids=REFUSED)
def test_a_schema_that_is_not_the_requests_is_refused_by_column(batch, says):
    told = post("residual-thickness", written(batch))
    assert (told.status_code, told.json["type"]) == (422, "/problems/invalid-request")
    assert says in told.json["detail"]
    assert told.json["errors"][0]["pointer"].startswith("/")


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
def test_what_is_not_finite_is_a_bad_row_and_not_an_absent_one(value):
    table = read(
        post(
            "residual-thickness",
            written(batch_of({"original_mm": [10.0] * 2, "plate_mm": [8.0] * 2, "pit_depth_mm": [value, None]})),
        )
    )
    assert table["error"].to_pylist() == ["invalid-request: /pit_depth_mm: must be a finite number; null is absence", None]


def test_no_batch_and_batches_of_nothing():
    empty = plates(surveyed_on=None).slice(0, 0)
    assert read(post("plate-margin", written(schema=empty.schema))).num_rows == 0
    table = read(post("plate-margin", written(empty, plates(surveyed_on=None), empty)))
    assert table.num_rows == 6


def test_dictionaries_may_change_from_batch_to_batch():
    def one(name):
        names = pa.DictionaryArray.from_arrays(pa.array([0], pa.int8()), pa.array([name]))
        columns = [pa.array([10.0]), pa.array([8.0]), pa.array([9.0]), names]
        return pa.RecordBatch.from_arrays(columns, names=["original_mm", "plate_mm", "years_in_service", "environment"])

    table = read(post("plate-margin", written(one("fresh_water"), one("misspelt"), one("sea_splash"))))
    assert [error is None for error in table["error"].to_pylist()] == [True, False, True]


def test_many_rows_in_one_batch():
    count = 100_000
    columns = {"original_mm": np.full(count, 10.0), "plate_mm": np.linspace(0, 11, count).round(1)}
    table = read(post("residual-thickness", written(pa.RecordBatch.from_pydict(columns))))
    assert table.num_rows == count
    assert table["error"].null_count == count
    assert np.allclose(table["residual_mm"].to_numpy(), columns["plate_mm"])
    assert read(post("residual-thickness", written(pa.RecordBatch.from_pydict(columns)), Prefer="stream")).equals(table)


def test_rows_beyond_the_limit_are_told_in_a_last_row():
    few = create_app(registry, Settings(max_rows=4)).test_client()
    body = written(plates(surveyed_on=None).slice(0, 3), plates(surveyed_on=None).slice(3))
    told = few.post("/v1/calculations/plate-margin", data=body, headers={"Content-Type": ARROW})
    table = read(told)
    assert table.num_rows == 4
    assert table["error"].to_pylist()[-1] == "too-large: One call answers 4 rows; send the rest in another."
    assert told_of(table)["stopped_by"] == "/problems/too-large"


def test_it_is_streamed_where_that_is_asked_for():
    told = post("plate-margin", written(*[plates(surveyed_on=None)] * 3), Prefer="stream")
    assert (told.headers["Preference-Applied"], "Content-Length" in told.headers) == ("stream", False)
    table = read(told)
    assert table.num_rows == 18
    assert set(told_of(table)) == {"calculation", "service_version"}


def test_a_stream_that_breaks_off_is_told_in_a_last_row_of_a_streamed_answer():
    body = written(*[plates(surveyed_on=None)] * 3)
    table = read(post("plate-margin", body[:-200], Prefer="stream"))
    assert table["error"].to_pylist()[-1].startswith("malformed-body: The stream broke off")
    assert post("plate-margin", body[:-200]).status_code == 400


# What lies

GOOD = written(plates(surveyed_on=None))


def refused(body, **headers):
    told = post("plate-margin", body, **headers)
    assert told.content_type == "application/problem+json"
    return told.status_code, told.json["type"].rsplit("/", 1)[1], told.json["detail"]


@pytest.mark.parametrize("codec", ["lz4", "zstd"])
def test_compressed_buffers_are_refused(codec):
    body = written(plates(surveyed_on=None), options=pa.ipc.IpcWriteOptions(compression=codec))
    assert refused(body) == (400, "malformed-body", "The buffers are compressed, which is not read here: send them plain.")


@pytest.mark.parametrize(
    "body",
    [b"", b"{}", b"ARROW1\0\0", b"\xff\xff\xff\xff", struct.pack("<Ii", 0xFFFFFFFF, 2**31 - 1), b"\0" * 4096, GOOD[:100]],
)
def test_what_is_no_stream_is_refused(body):
    status, kind, _ = refused(body)
    assert (status, kind) == (400, "malformed-body")


def test_a_file_is_no_stream():
    sink = io.BytesIO()
    with pa.ipc.new_file(sink, plates(surveyed_on=None).schema) as writer:
        writer.write_batch(plates(surveyed_on=None))
    assert refused(sink.getvalue())[:2] == (400, "malformed-body")


def test_a_batch_of_more_than_the_limit_is_refused_before_it_is_read():
    """Its length is enough: nothing of a body of 8 EiB is waited for."""
    at = GOOD.index(b"\xff\xff\xff\xff", 8)
    length = struct.unpack_from("<i", GOOD, at + 4)[0]
    metadata = bytearray(GOOD[at + 8 : at + 8 + length])
    body_length = pa.ipc.read_message(pa.py_buffer(GOOD[at:])).body.size
    where = bytes(metadata).index(struct.pack("<q", body_length))
    metadata[where : where + 8] = struct.pack("<q", 2**62)
    lying = GOOD[: at + 8] + bytes(metadata) + GOOD[at + 8 + length :]
    assert refused(lying)[:2] == (413, "too-large")


def test_rows_without_bytes_are_bounded():
    """A batch of nulls has no buffers: its rows are counted, and not believed."""
    names = ["original_mm", "plate_mm", "years_in_service"]
    nulls = pa.RecordBatch.from_arrays([pa.nulls(3)] * 3, names=names)
    body = written(nulls)
    lying = body.replace(struct.pack("<q", 3), struct.pack("<q", 2**40))
    assert lying != body
    assert refused(lying)[0] in (400, 413)


def test_offsets_that_lie_are_refused():
    names = pa.array(["fresh_water", "sea_splash"])
    columns = [pa.array([10.0] * 2), pa.array([8.0] * 2), pa.array([9.0] * 2), names]
    batch = pa.RecordBatch.from_arrays(columns, names=["original_mm", "plate_mm", "years_in_service", "environment"])
    body = written(batch)
    offsets = struct.pack("<3i", 0, 11, 21)
    for lie in (struct.pack("<3i", 0, 2**30, 21), struct.pack("<3i", 0, 11, 2**30), struct.pack("<3i", -5, 11, 21)):
        assert body.count(offsets) == 1
        assert refused(body.replace(offsets, lie))[:2] == (400, "malformed-body")


def test_indices_beyond_a_dictionary_are_refused():
    lying = pa.DictionaryArray.from_arrays(pa.array([5], pa.int8()), pa.array(["fresh_water"]), safe=False)
    columns = [pa.array([10.0]), pa.array([8.0]), pa.array([9.0]), lying]
    batch = pa.RecordBatch.from_arrays(columns, names=["original_mm", "plate_mm", "years_in_service", "environment"])
    assert refused(written(batch))[:2] == (400, "malformed-body")


@settings(deadline=None, derandomize=True, max_examples=1000)
@given(
    st.lists(st.tuples(st.integers(0, len(GOOD) - 1), st.integers(0, 255)), min_size=1, max_size=6), st.integers(0, len(GOOD))
)
def test_mutated_streams_are_answered_or_refused(changes, cut):
    """1,000 streams with bytes changed and an end cut off: an answer, or a problem of the caller's."""
    body = bytearray(GOOD)
    for at, value in changes:
        body[at] = value
    told = post("plate-margin", bytes(body[: len(body) if cut % 3 else cut]))
    assert told.status_code in (200, 400, 413, 422), told.data


# Without it, and with other libraries


def test_nothing_is_loaded_before_the_first_call():
    code = (
        "import sys; from platemargin_api.app import create_app; c = create_app().test_client();"
        "c.get('/openapi.json'); c.post('/v1/calculations/plate-margin', json={}); print('pyarrow' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "False\n"


def test_without_the_library_the_medium_is_refused_by_the_name_of_its_extra(tmp_path):
    """A finder that knows no pyarrow, as where it is not installed."""
    code = (
        "import sys, importlib.util as u; find = u.find_spec;"
        "u.find_spec = lambda name, *a: None if name == 'pyarrow' else find(name, *a);"
        "from platemargin_api.app import create_app; c = create_app().test_client();"
        f"r = c.post('/v1/calculations/plate-margin', data=b'', headers={{'Content-Type': '{ARROW}'}});"
        "print(r.status_code, r.json['detail']); print([m['request'] for m in "
        "c.get('/v1/calculations/plate-margin').json['media']])"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=tmp_path).stdout
    assert told.startswith(f"415 {ARROW} is not read here without the extra platemargin[arrow]")
    assert told.endswith("['application/json', 'application/x-ndjson', 'text/csv']\n")


def test_other_calculations_do_not_take_it():
    assert post("hull-survey", GOOD).status_code == 415


def test_polars_writes_and_reads_it():
    polars = pytest.importorskip("polars", reason="the package polars is not installed")
    frame = polars.DataFrame(
        {"id": ["a", "b"], "original_mm": [10.0, 10.0], "plate_mm": [8.8, 8.3], "pit_depth_mm": [2.6, None]}
    )
    sent = io.BytesIO()
    frame.write_ipc_stream(sent)
    told = polars.read_ipc_stream(io.BytesIO(post("residual-thickness", sent.getvalue()).data))
    assert told["residual_mm"].round(3).to_list() == [6.2, 8.3]
    assert told["id"].to_list() == ["a", "b"]


def test_pandas_writes_and_reads_it():
    pandas = pytest.importorskip("pandas", reason="the package pandas is not installed")
    frame = pandas.DataFrame(
        {"original_mm": [10.0, 10.0], "plate_mm": [8.8, 8.3], "environment": pandas.Categorical(["fresh_water", None])}
    )
    frame["years_in_service"] = 16
    batch = pa.RecordBatch.from_pandas(frame, preserve_index=False)
    told = read(post("plate-margin", written(batch))).to_pandas()
    assert told["margin_mm"].round(3).tolist() == [4.8, 4.3]
    assert told["error"].isna().all()


def test_duckdb_writes_and_reads_it():
    duckdb = pytest.importorskip("duckdb", reason="the package duckdb is not installed")
    sent = duckdb.sql(
        "select 10.0::double as original_mm, 8.8::double as plate_mm, 2.6::float as pit_depth_mm"
    ).to_arrow_table()
    told = read(post("residual-thickness", written(*sent.to_batches())))  # noqa: F841  named in the query
    assert duckdb.sql("select round(residual_mm, 3) from told").fetchall() == [(6.2,)]


def test_of_many_processes_none_differs():
    """The same bytes in, the same bytes out, whatever the seed of hashes."""
    code = (
        "import sys; from platemargin_api.app import create_app; c = create_app().test_client();"
        "r = c.post(sys.argv[1], data=sys.stdin.buffer.read(), headers={'Content-Type': sys.argv[2]});"
        "sys.stdout.buffer.write(r.data)"
    )
    command = [sys.executable, "-c", code, "/v1/calculations/plate-margin", ARROW]
    environments = [{**os.environ, "PYTHONHASHSEED": seed} for seed in ("1", "2")]
    outputs = {subprocess.run(command, input=GOOD, capture_output=True, check=True, env=env).stdout for env in environments}
    assert outputs == {post("plate-margin", GOOD).data}


def test_the_example_of_the_readme_runs():
    pytest.importorskip("polars", reason="the package polars is not installed")
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    example = next(block for block in re.findall(r"```python\n(.*?)```", readme, re.DOTALL) if "write_ipc_stream" in block)
    with served(0) as address:
        told = subprocess.run(
            [sys.executable, "-c", example.replace("http://127.0.0.1:8000", address)],
            capture_output=True,
            text=True,
            check=True,
        )
    assert "6.2" in told.stdout
    assert "8.3" in told.stdout
