"""What is told of a hull: recomputed from single answers, the same however its rows are dealt to files, never a silent pass."""

import doctest
import random
from collections import Counter, defaultdict

import pyarrow.parquet as pq
import pytest

from platemargin_api.answer import answer
from platemargin_api.body import dump
from platemargin_api.portfolio import lists
from platemargin_api.problems import ProblemError
from platemargin_api.registry import load_registry

REGISTRY = load_registry()
SOUND = {"original_mm": 10.0, "plate_mm": 9.3, "pit_depth_mm": 0.2, "years_in_service": 16.0}


def test_examples_of_lists_hold():
    assert doctest.testmod(lists).attempted == 2
    assert doctest.testmod(lists).failed == 0


def told_of(rows, calculation="plate-margin"):
    """Return the roll-up as a person would make it: one answer at a time, with rounded figures."""
    of_hull = defaultdict(lambda: {"rows": 0, "answered": 0, "margins": [], "years_low": [], "codes": {}, "assumed": Counter()})
    for place, row in enumerate(rows, 1):
        hull = of_hull[row["hull"]]
        hull["rows"] += 1
        request = {name: value for name, value in row.items() if name != "hull" and value is not None}
        try:
            told = answer(REGISTRY.calculations[calculation], REGISTRY, dump(request), minimal=True)
        except ProblemError:
            continue
        hull["answered"] += 1
        hull["margins"].append((told["result"]["margin_mm"], place, row["id"]))
        hull["years_low"] += [] if told["result"]["years_low"] is None else [told["result"]["years_low"]]
        hull["assumed"].update(assumed["field"] for assumed in told["assumed"])
        hull["codes"] |= {finding["code"]: finding["severity"] for finding in told["findings"]}
    return {name: _hull(name, hull) for name, hull in sorted(of_hull.items())}


def _hull(name, hull):
    worst = min(hull["margins"], default=(None, None, None))
    rejected = hull["rows"] - hull["answered"]
    severities = set(hull["codes"].values())
    passed = "not_judged" if rejected else "no_limit_broken"
    return {
        "hull": name,
        "verdict": "act" if "act" in severities else "watch" if "watch" in severities else passed,
        "rows": hull["rows"],
        "answered": hull["answered"],
        "rejected": rejected,
        "worst_margin_mm": worst[0],
        "worst_row": worst[1],
        "worst_id": worst[2],
        "years_low": min(hull["years_low"], default=None),
        "pit_depth_mm_assumed": hull["assumed"]["pit_depth_mm"],
        "original_standard_uncertainty_mm_assumed": hull["assumed"]["original_standard_uncertainty_mm"],
        "finding_codes": sorted(hull["codes"]),
    }


@pytest.mark.parametrize("seed", range(3))
def test_the_roll_up_is_that_of_single_answers(run, files, tmp_path, seed):
    rows = files.readings(400, seed, hulls=60)
    for place in range(0, 400, 23):
        rows[place] |= [{"plate_mm": None}, {"pit_depth_mm": 40.0}, {"plate_mm": -1.0}][place % 3]
    rows[200] |= {"plate_mm": 2.1}
    files.write(tmp_path / "a.parquet", rows)
    run(tmp_path / "a.parquet", tmp_path / "out")
    made = files.hulls(tmp_path / "out")
    for hull in made.values():
        assert hull.pop("worst_file") == ("a.parquet" if hull["answered"] else None)
        hull["finding_codes"] = sorted(hull["finding_codes"])
    assert made == told_of(rows)
    assert {hull["verdict"] for hull in made.values()} == {"act", "watch", "not_judged", "no_limit_broken"}


@pytest.mark.parametrize("seed", range(4))
def test_it_does_not_matter_to_which_files_rows_are_dealt(run, files, tmp_path, seed):
    rows = files.readings(300, 7)
    draw = random.Random(seed)
    dealt = [draw.randrange(4) for _ in rows]
    files.write(tmp_path / "whole.parquet", rows)
    for number in set(dealt):
        files.write(tmp_path / "in" / f"{number}.arrow", [row for row, to in zip(rows, dealt, strict=True) if to == number])
    run(tmp_path / "whole.parquet", tmp_path / "one")
    run(tmp_path / "in", tmp_path / "many")
    one, many = files.hulls(tmp_path / "one"), files.hulls(tmp_path / "many")
    for hull in (*one.values(), *many.values()):
        # Where two readings are equally bad the first is named, and which that is follows from the files.
        del hull["worst_file"], hull["worst_row"], hull["worst_id"]
    assert one == many


def test_of_readings_that_are_equally_bad_the_first_is_named(run, files, tmp_path):
    for name in ("b.parquet", "a.parquet"):
        files.write(tmp_path / "in" / name, [{"hull": "H", **SOUND, "id": f"{name}{place}"} for place in range(3)])
    run(tmp_path / "in", tmp_path / "out")
    hull = files.hulls(tmp_path / "out")["H"]
    assert (hull["worst_file"], hull["worst_row"], hull["worst_id"]) == ("a.parquet", 1, "a.parquet0")


@pytest.mark.parametrize(
    ("rows", "verdict"),
    [
        ([{}], "no_limit_broken"),
        ([{}, {"plate_mm": None}], "not_judged"),
        ([{}, {"pit_depth_mm": 50.0}], "not_judged"),
        ([{"plate_mm": None}], "not_judged"),
        ([{"plate_mm": 3.0, "pit_depth_mm": None}], "act"),
        ([{"plate_mm": 3.0, "pit_depth_mm": None}, {"plate_mm": None}], "act"),
        ([{"plate_mm": 4.2, "pit_depth_mm": None}, {}], "watch"),
        # A plate of 98 where 9.8 was meant is no sound plate.
        ([{"plate_mm": 98.0}], "watch"),
    ],
)
def test_a_hull_with_a_row_that_is_rejected_is_never_passed(run, files, tmp_path, rows, verdict):
    made = [{"hull": "H", **SOUND, **row} for row in rows] + [{"hull": "Other", **SOUND}]
    files.write(tmp_path / "a.parquet", made)
    run(tmp_path / "a.parquet", tmp_path / "out")
    told = files.hulls(tmp_path / "out")
    rejected = sum(row.get("plate_mm", 1) is None or row.get("pit_depth_mm") == 50.0 for row in rows)
    assert (told["H"]["verdict"], told["H"]["rejected"]) == (verdict, rejected)
    assert told["Other"]["verdict"] == "no_limit_broken"


def test_rows_that_name_no_hull_are_told_by_themselves(run, files, tmp_path):
    made = [{"hull": "H", **SOUND}, {"hull": None, **SOUND, "plate_mm": 2.0}]
    files.write(tmp_path / "a.parquet", made)
    _, printed, _ = run(tmp_path / "a.parquet", tmp_path / "out")
    nobody = files.hulls(tmp_path / "out")[None]
    assert (nobody["verdict"], nobody["rows"], nobody["answered"], nobody["rejected"]) == ("not_judged", 1, 0, 1)
    # What was rejected counts for nothing, however bad it reads.
    assert (nobody["worst_margin_mm"], nobody["finding_codes"]) == (None, [])
    assert "1 hulls: 0 act, 0 watch, 0 not judged, 1 no limit broken" in printed
    assert "1 of the rejected rows name no hull: they may be of any" in printed
    assert files.manifest(tmp_path / "out")["without_hull"] == 1


def test_without_a_limit_nothing_is_passed(run, files, tmp_path):
    made = [
        {"hull": name, **SOUND, **plate} for name, plate in [("Sound", {}), ("Holed", {"plate_mm": 0.0, "pit_depth_mm": None})]
    ]
    rows = files.table(made).select(["hull", "original_mm", "plate_mm", "pit_depth_mm"])
    files.write(tmp_path / "a.parquet", rows)
    run(tmp_path / "a.parquet", tmp_path / "out", "--calculation", "residual-thickness")
    told = files.hulls(tmp_path / "out")
    assert (told["Sound"]["verdict"], told["Sound"]["worst_residual_mm"]) == ("not_judged", 9.1)
    assert (told["Holed"]["verdict"], told["Holed"]["finding_codes"]) == ("act", ["no_plate_left"])
    assert "years_low" not in pq.read_schema(tmp_path / "out" / "hulls.parquet").names


def test_where_the_highest_is_the_worst(run, files, tmp_path):
    text = "hull,original_mm,residual_mm,years_in_service\nH,10,9,20\nH,10,6,20\nH,10,8,20\n"
    (tmp_path / "a.csv").write_text(text)
    run(tmp_path / "a.csv", tmp_path / "out", "--calculation", "corrosion-rate")
    told = files.hulls(tmp_path / "out")["H"]
    assert (told["worst_governing_mm_per_year"], told["worst_row"], told["verdict"]) == (0.2, 3, "not_judged")


def test_figures_are_those_that_are_printed(run, files, tmp_path):
    # 9.8 - 2.8 - 4.0 is not 3.0 in binary arithmetic.
    files.write(tmp_path / "a.parquet", [{"hull": "H", **SOUND, "plate_mm": 9.8, "pit_depth_mm": 2.8}])
    run(tmp_path / "a.parquet", tmp_path / "out")
    assert files.hulls(tmp_path / "out")["H"]["worst_margin_mm"] == 3.0
