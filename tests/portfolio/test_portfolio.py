"""Files in; answers, rejects and counts out: every row is in one of the two, the same whatever file it stood in."""

import csv
import os
import shutil
from datetime import UTC, datetime

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from platemargin_api.answer import answer
from platemargin_api.body import dump
from platemargin_api.calls import NO_SUCH, REFUSED
from platemargin_api.portfolio import refused
from platemargin_api.portfolio.command import NOT_INSTALLED, SOME_REJECTED
from platemargin_api.registry import load_registry

REGISTRY = load_registry()
NAMES = ["a.parquet", "a.csv", "a.arrow", "a.arrows"]


def single(row, calculation="plate-margin"):
    """Return the answer to one row alone, as HTTP gives it."""
    request = {name: value for name, value in row.items() if name != "hull" and value is not None}
    return answer(REGISTRY.calculations[calculation], REGISTRY, dump(request), minimal=True)


def rejects(path):
    with path.open(newline="") as file:
        return list(csv.DictReader(file))


def without_place(folder):
    """Return the roll-up without the name of the file and the row, which differ by the kind of file."""
    made = pq.read_table(folder / "hulls.parquet").to_pylist()
    return [{name: value for name, value in row.items() if name not in ("worst_file", "worst_row")} for row in made]


@pytest.mark.parametrize("name", NAMES)
def test_each_row_is_answered_as_alone(run, files, tmp_path, name):
    rows = files.readings(60, 1)
    files.write(tmp_path / name, rows)
    assert run(tmp_path / name, tmp_path / "out")[0] == 0
    told = files.answers(tmp_path / "out")
    # Of a table it is the line, after that of the header.
    assert [row["row"] for row in told] == [place + (2 if name.endswith("csv") else 1) for place in range(60)]
    for row, made in zip(rows, told, strict=True):
        alone = single(row)
        assert (made["hull"], made["id"]) == (row["hull"], row["id"])
        assert made["finding_codes"] == [finding["code"] for finding in alone["findings"]]
        own = ("pit_depth_mm", "original_standard_uncertainty_mm")
        assert made["assumed"] == [name for name in own if name in [assumed["field"] for assumed in alone["assumed"]]]
        for member, value in alone["result"].items():
            got = made[member].isoformat() if hasattr(made[member], "isoformat") else made[member]
            # The answer alone is rounded as declared, to four decimals in the finest; a column need not be.
            assert got == (pytest.approx(value, abs=5.1e-3) if isinstance(value, float) else value), member


def test_every_kind_of_file_says_the_same(run, files, tmp_path):
    for name in NAMES:
        files.write(tmp_path / name, files.readings(200, 2))
        assert run(tmp_path / name, tmp_path / f"out-{name}")[0] == 0
    first, *others = [without_place(tmp_path / f"out-{name}") for name in NAMES]
    assert all(other == first for other in others)


BAD = {
    "no hull": ({"hull": None}, "the row names no hull", None),
    "a hull of spaces": ({"hull": "  "}, "the row names no hull", None),
    "missing": ({"plate_mm": None}, "/plate_mm", "Hull 007"),
    "out of range": ({"plate_mm": 201.0}, "/plate_mm", "Hull 007"),
    "together not": ({"pit_depth_mm": 30.0}, "/pit_depth_mm", "Hull 007"),
    "no such water": ({"environment": "soup"}, "/environment", "Hull 007"),
}


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("fault", BAD)
def test_a_bad_row_is_rejected_with_its_reason_and_the_others_answered(run, files, tmp_path, name, fault):
    changed, reason, hull = BAD[fault]
    rows = [{**row, "hull": "Hull 007"} for row in files.readings(9, 3)]
    rows[4] |= changed
    files.write(tmp_path / name, rows)
    code, printed, _ = run(tmp_path / name, tmp_path / "out")
    assert (code, printed.splitlines()[0]) == (SOME_REJECTED, "9 rows: 8 answered, 1 rejected (rejects/ says why)")
    (reject,) = rejects(tmp_path / "out" / "rejects" / f"{name}.csv")
    assert (reject["row"], reject["hull"], reject["id"]) == ("6" if name == "a.csv" else "5", hull or "", "3-4")
    assert reason in reject["reason"]
    assert [row["id"] for row in files.answers(tmp_path / "out")] == [f"3-{place}" for place in range(9) if place != 4]


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("Hull 1,x,10,9,5", "The row has 5 cells, the header 4"),
        ("Hull 1,10", "The row has 2 cells"),
        ("Hull 1,10;2,9,5", "original_mm: must be a number"),
        ("Hull 1,10,nan,5", "plate_mm: must be a number"),
        ("Hull 1,10,1e999,5", "plate_mm: must be a number"),
        ('Hull 1,"10,9,5', "The row is not as RFC 4180 has it"),
        ("Hull 1,=10,9,5", "original_mm: must be a number"),
    ],
)
def test_a_line_that_cannot_be_read_is_rejected(run, files, tmp_path, line, reason):
    text = f"hull,original_mm,plate_mm,years_in_service\nHull 1,10,9.5,20\n\n{line}"
    (tmp_path / "a.csv").write_text(text)
    assert run(tmp_path / "a.csv", tmp_path / "out")[0] == SOME_REJECTED
    (reject,) = rejects(tmp_path / "out" / "rejects" / "a.csv.csv")
    assert reject["row"] == "4"
    assert reason in reject["reason"]
    told = files.manifest(tmp_path / "out")
    assert (told["rows"], told["answered"], told["rejected"]) == (2, 1, 1)


def test_not_a_number_is_not_taken_for_absent(run, files, tmp_path):
    rows = files.table([{**row, "pit_depth_mm": float("nan")} for row in files.readings(3, 4)])
    files.write(tmp_path / "a.parquet", rows)
    assert run(tmp_path / "a.parquet", tmp_path / "out")[0] == SOME_REJECTED
    assert files.manifest(tmp_path / "out")["rejected"] == 3


def test_counts_in_equal_counts_out_plus_rejects(run, files, folder, tmp_path):
    rows = files.readings(500, 9)
    for place in range(0, 500, 7):
        rows[place] |= [{"plate_mm": None}, {"hull": None}, {"original_mm": 99.0}][place % 3]
    files.write(folder / "z.csv", rows)
    assert run(folder, tmp_path / "out")[0] == SOME_REJECTED
    told = files.manifest(tmp_path / "out")
    rejected = [row for path in (tmp_path / "out" / "rejects").rglob("*.csv") for row in rejects(path)]
    assert told["rows"] == 4 * 300 + 500
    assert (told["answered"], told["rejected"]) == (len(files.answers(tmp_path / "out")), len(rejected))
    assert told["rows"] == told["answered"] + told["rejected"]
    for record in told["files"]:
        assert record["rows"] == record["answered"] + record["rejected"]
    by_hull = files.hulls(tmp_path / "out")
    assert sum(hull["rows"] for hull in by_hull.values()) == told["rows"]
    assert all(hull["rows"] == hull["answered"] + hull["rejected"] for hull in by_hull.values())


def test_columns_of_other_names(run, files, tmp_path):
    rows = files.table(files.readings(20, 5)).rename_columns(
        ["boat", "id", "original_mm", "dikte", "pit_depth_mm", "years_in_service", "environment", "surveyed_on"]
    )
    rows = rows.append_column("surveyor", pa.array([f"S{place}" for place in range(20)]))
    files.write(tmp_path / "a.parquet", rows)
    options = ["--hull-column", "boat", "--column", "dikte=plate_mm", "--keep", "surveyor"]
    assert run(tmp_path / "a.parquet", tmp_path / "out", *options)[0] == 0
    told = files.answers(tmp_path / "out")
    assert [row["surveyor"] for row in told] == [f"S{place}" for place in range(20)]
    assert [row["residual_mm"] for row in told] == [
        pytest.approx(single(row)["result"]["residual_mm"]) for row in files.readings(20, 5)
    ]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(
    ("names", "options", "reason"),
    [
        ({"plate_mm": "plate_m"}, [], "'plate_m' is not known: --column plate_m=plate_mm"),
        ({"plate_mm": "plate_m"}, [], "no column is plate_mm"),
        ({"hull": "boat"}, [], "no column is called 'hull'"),
        ({"id": "pit_mm"}, ["--column", "pit_mm=pit_depth_mm"], "'pit_mm' and 'pit_depth_mm' are both pit_depth_mm"),
        ({"id": "residual_mm"}, ["--keep", "residual_mm"], "'residual_mm' cannot be kept"),
        ({}, ["--keep", "surveyor"], "no input has the column 'surveyor'"),
        ({}, ["--column", "dikte=plate_mm"], "no input has the column 'dikte'"),
        ({"id": "hull"}, [], "'hull' is there 2 times"),
    ],
)
def test_columns_that_do_not_fit_are_refused_by_name_before_anything_is_done(
    run, files, tmp_path, name, names, options, reason
):
    rows = files.table(files.readings(5, 6))
    files.write(tmp_path / name, rows.rename_columns([names.get(column, column) for column in rows.column_names]))
    code, printed, faults = run(tmp_path / name, tmp_path / "out", *options)
    assert (code, printed) == (REFUSED, "")
    assert reason in faults
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("kind", [pa.float64(), pa.list_(pa.int64()), pa.bool_()])
def test_a_column_that_cannot_name_hulls_is_refused(run, files, tmp_path, kind):
    rows = files.table(files.readings(2, 6)).set_column(0, "hull", pa.array([None, None], kind))
    files.write(tmp_path / "a.parquet", rows)
    code, _, faults = run(tmp_path / "a.parquet", tmp_path / "out")
    assert (code, "cannot name hulls" in faults) == (REFUSED, True)


@pytest.mark.parametrize(
    ("member", "values"),
    [
        ("plate_mm", ["9.8", "9.1"]),
        ("plate_mm", [True, False]),
        ("plate_mm", [datetime(2026, 5, 4, tzinfo=UTC), None]),
        ("surveyed_on", [datetime(2026, 5, 4, 12, tzinfo=UTC), None]),
        ("environment", [1, 2]),
        ("id", [1, 2]),
        ("plate_mm", [[9.8], [9.1]]),
    ],
)
def test_a_column_of_another_type_is_refused_and_nothing_guessed(run, files, tmp_path, member, values):
    rows = files.table(files.readings(2, 6))
    files.write(tmp_path / "a.parquet", rows.set_column(rows.column_names.index(member), member, pa.array(values)))
    code, printed, faults = run(tmp_path / "a.parquet", tmp_path / "out")
    assert (code, printed) == (REFUSED, "")
    assert f"the column '{member}' holds" in faults


@pytest.mark.parametrize(
    ("kind", "plate"),
    [
        (pa.float32(), 9.8),
        (pa.decimal128(5, 2), 9.8),
        (pa.int16(), 9.0),
        (pa.dictionary(pa.int8(), pa.float64()), 9.8),
    ],
)
def test_numbers_of_every_type_are_taken(run, files, tmp_path, kind, plate):
    rows = [{**files.readings(1, 6)[0], "original_mm": 10.0, "pit_depth_mm": 2.8}]
    column = pa.array([plate]).dictionary_encode() if pa.types.is_dictionary(kind) else pa.array([plate]).cast(kind)
    files.write(tmp_path / "a.arrow", files.table(rows).set_column(3, "plate_mm", column))
    assert run(tmp_path / "a.arrow", tmp_path / "out")[0] == 0
    # 9.8 of single precision is 9.80000019: the reading was 9.8.
    assert files.hulls(tmp_path / "out")[rows[0]["hull"]]["worst_margin_mm"] == round(plate - 2.8 - 4.0, 3)


@pytest.mark.parametrize("kind", [pa.int32(), pa.large_string(), pa.dictionary(pa.int8(), pa.string())])
def test_hulls_are_named_by_text_and_whole_numbers(run, files, tmp_path, kind):
    rows = files.table(files.readings(3, 6))
    files.write(tmp_path / "a.parquet", rows.set_column(0, "hull", pa.array(["7", "7", "12"]).cast(kind)))
    assert run(tmp_path / "a.parquet", tmp_path / "out")[0] == 0
    assert {name: hull["rows"] for name, hull in files.hulls(tmp_path / "out").items()} == {"7": 2, "12": 1}


def test_hulls_of_a_table_keep_their_zeros(run, files, tmp_path):
    (tmp_path / "a.csv").write_text("hull,original_mm,plate_mm,years_in_service\n007,10,9.5,20\n7,10,9.5,20\n")
    assert run(tmp_path / "a.csv", tmp_path / "out")[0] == 0
    assert set(files.hulls(tmp_path / "out")) == {"007", "7"}


def test_other_calculations_and_no_hulls(run, files, tmp_path):
    rows = files.table(files.readings(30, 7)).select(["id", "original_mm", "plate_mm", "pit_depth_mm"])
    files.write(tmp_path / "a.parquet", rows)
    code, printed, _ = run(tmp_path / "a.parquet", tmp_path / "out", "--calculation", "residual-thickness", "--no-hulls")
    assert (code, printed) == (0, "30 rows: 30 answered, 0 rejected\n")
    assert not (tmp_path / "out" / "hulls.parquet").exists()
    assert files.manifest(tmp_path / "out")["hulls"] is None


def test_what_is_no_input_is_passed_over_and_said(run, files, folder, tmp_path):
    (folder / "letter.txt").write_text("Dear underwriter")
    (folder / ".hidden.csv").write_text("x")
    code, _, faults = run(folder, tmp_path / "out")
    assert (code, faults) == (0, "letter.txt: passed over, its name does not end as one of readings does\n")
    assert files.manifest(tmp_path / "out")["passed_over"] == ["letter.txt"]


def test_what_is_not_there_or_cannot_be(run, folder, tmp_path):
    (tmp_path / "empty").mkdir()
    (tmp_path / "file").write_text("x")
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "accounts.txt").write_text("x")
    for arguments, code, reason in [
        ([tmp_path / "none", tmp_path / "out"], NO_SUCH, "is not there"),
        ([folder, tmp_path / "out", "--calculation", "plate-margn"], NO_SUCH, "the nearest is plate-margin"),
        ([folder, tmp_path / "out", "--calculation", "hull-survey"], REFUSED, "is not elementwise"),
        ([tmp_path / "empty", tmp_path / "out"], REFUSED, "is no file of readings"),
        ([folder, folder / "out"], REFUSED, "would be read as inputs"),
        ([folder, tmp_path / "file"], REFUSED, "is a file"),
        ([folder, tmp_path / "other"], REFUSED, "holds something else"),
    ]:
        told = run(*arguments)
        assert (told[0], told[1]) == (code, "")
        assert reason in told[2]
    assert not (tmp_path / "out").exists()
    assert [path.name for path in (tmp_path / "other").iterdir()] == ["accounts.txt"]


@pytest.mark.parametrize("name", ["a.parquet", "a.arrow", "a.arrows", "a.csv"])
def test_a_file_that_is_not_what_its_name_says_is_refused(run, tmp_path, name):
    (tmp_path / name).write_bytes(b"\x89\xff\x00 not it")
    code, _, faults = run(tmp_path / name, tmp_path / "out")
    assert (code, faults.startswith(f"{name}: ")) == (REFUSED, True)


def test_a_file_that_breaks_off_is_told_the_others_are_done_and_nothing_is_passed(run, files, folder, tmp_path):
    files.write(folder / "broken.parquet", files.readings(3000, 8))
    whole = (folder / "broken.parquet").read_bytes()
    half = len(whole) // 2
    (folder / "broken.parquet").write_bytes(whole[:half] + bytes(200) + whole[half + 200 :])
    code, _, faults = run(folder, tmp_path / "out")
    assert code == REFUSED
    assert "broken.parquet: it cannot be read" in faults
    assert "there is no roll-up" in faults
    assert not (tmp_path / "out" / "hulls.parquet").exists()
    assert not list((tmp_path / "out").rglob("*broken*"))
    done = [record["input"] for record in files.manifest(tmp_path / "out")["files"]]
    assert done == ["a.parquet", "b.csv", "north/c.arrow", "north/d.arrows"]
    (folder / "broken.parquet").write_bytes(whole)
    files.write(folder / "a.parquet", files.readings(3000, 8))
    (folder / "a.parquet").write_bytes(whole[:half] + bytes(200) + whole[half + 200 :])
    # Its answers of before are not those of the file that is there now.
    assert run(folder, tmp_path / "out")[0] == REFUSED
    assert not list((tmp_path / "out").rglob("*a.parquet*"))
    files.write(folder / "a.parquet", files.readings(300, 0))
    assert run(folder, tmp_path / "out")[0] == 0
    assert (tmp_path / "out" / "hulls.parquet").exists()


def test_a_stream_that_ends_without_its_end_may_be_cut_between_batches(run, files, tmp_path):
    files.write(tmp_path / "cut.arrows", files.readings(1500, 8))
    whole = (tmp_path / "cut.arrows").read_bytes()
    # The last eight bytes are the end-of-stream marker (Arrow columnar format, "IPC Streaming Format").
    (tmp_path / "cut.arrows").write_bytes(whole[:-8])
    code, _, faults = run(tmp_path / "cut.arrows", tmp_path / "out")
    assert (code, "it may be cut" in faults) == (REFUSED, True)


def test_the_extra_is_named_where_it_is_missing(run, folder, tmp_path, monkeypatch):
    def missing(name):
        raise ModuleNotFoundError(f"No module named 'pyarrow' for {name}", name="pyarrow")

    monkeypatch.setattr(refused, "import_module", missing)
    code, _, faults = run(folder, tmp_path / "out")
    assert (code, faults) == (NOT_INSTALLED, "pyarrow is not installed: pip install 'platemargin[portfolio]' brings it\n")


def test_a_formula_in_a_name_is_no_formula_in_the_rejects(run, files, tmp_path):
    files.write(tmp_path / "a.parquet", [{**files.readings(1, 1)[0], "hull": "=HYPERLINK(1)", "plate_mm": None}])
    assert run(tmp_path / "a.parquet", tmp_path / "out")[0] == SOME_REJECTED
    assert rejects(tmp_path / "out" / "rejects" / "a.parquet.csv")[0]["hull"] == "'=HYPERLINK(1)"


@pytest.mark.parametrize("name", [b"\xff.csv", b"a\nb.csv"])
def test_a_file_whose_name_cannot_be_printed_is_refused(run, tmp_path, name):
    (tmp_path / "in").mkdir()
    with open(os.fsencode(tmp_path / "in") + b"/" + name, "wb") as file:  # noqa: PTH123  a path is text
        file.write(b"hull,original_mm,plate_mm,years_in_service\n")
    code, _, faults = run(tmp_path / "in", tmp_path / "out")
    assert (code, "a name that can be printed" in faults) == (REFUSED, True)


def test_no_room_is_told(run, folder, tmp_path):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / ".lock").touch()
    # A file stands where the folder of the answers would: the system refuses to write there.
    (tmp_path / "out" / "answers").touch()
    code, _, faults = run(folder, tmp_path / "out")
    assert code == REFUSED
    assert faults.count("it cannot be read or answered") == 4


def test_answers_do_not_depend_on_where_the_files_are(run, files, folder, tmp_path):
    shutil.copytree(folder, tmp_path / "elsewhere")
    assert run(folder, tmp_path / "out")[0] == 0
    assert run(tmp_path / "elsewhere", tmp_path / "again")[0] == 0
    assert files.tree(tmp_path / "out") == files.tree(tmp_path / "again")
