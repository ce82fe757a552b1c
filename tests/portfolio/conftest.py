"""What the tests of portfolios share: invented hulls in files, the command in this process and in one of its own."""

import json
import random
import shutil
import subprocess
import sys
from datetime import date
from types import SimpleNamespace

import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet as pq
import pytest

from platemargin_api.command import main

#: What a column holds, in a file that has it.
COLUMNS = {
    "hull": pa.string(),
    "id": pa.string(),
    "original_mm": pa.float64(),
    "plate_mm": pa.float64(),
    "pit_depth_mm": pa.float64(),
    "years_in_service": pa.float64(),
    "environment": pa.string(),
    "surveyed_on": pa.date32(),
}


def readings(count, seed, hulls=12):
    """Return readings of invented hulls, most of them in order and some that cannot be."""
    draw = random.Random(seed)
    made = []
    for number in range(count):
        original = draw.choice([6.0, 8.0, 10.0])
        made.append(
            {
                "hull": f"Hull {draw.randrange(hulls):03}",
                "id": f"{seed}-{number}",
                "original_mm": original,
                "plate_mm": round(original - abs(draw.gauss(0.4, 0.5)), 1),
                "pit_depth_mm": round(draw.uniform(0, 0.8), 1) if draw.random() < 0.5 else None,
                "years_in_service": round(draw.uniform(4, 60), 1),
                "environment": draw.choice(["fresh_water", None]),
                "surveyed_on": draw.choice([date(2026, 5, 4), None]),
            }
        )
    return made


def table(rows):
    names = [name for name in COLUMNS if any(name in row for row in rows)]
    return pa.table({name: pa.array([row.get(name) for row in rows], COLUMNS[name]) for name in names})


def write(path, rows, row_group_size=1000):
    """Write rows as the file's name says."""
    path.parent.mkdir(parents=True, exist_ok=True)
    made = rows if isinstance(rows, pa.Table) else table(rows)
    if path.suffix == ".parquet":
        pq.write_table(made, path, row_group_size=row_group_size)
    elif path.suffix == ".csv":
        pyarrow.csv.write_csv(made, path, pyarrow.csv.WriteOptions(quoting_style="needed"))
    else:
        new = pa.ipc.new_file if path.suffix == ".arrow" else pa.ipc.new_stream
        with new(path, made.schema) as writer:
            writer.write_table(made, max_chunksize=700)


def tree(folder):
    """Return the content of every file by its name."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name != ".lock"
    }


def manifest(folder):
    return json.loads((folder / "manifest.json").read_bytes())


def hulls(folder):
    return {row["hull"]: row for row in pq.read_table(folder / "hulls.parquet").to_pylist()}


def answers(folder):
    return pq.read_table(folder / "answers").to_pylist()


@pytest.fixture
def run(capfd):
    """Run the command; return its exit code, what it printed, and what it told of faults."""

    def of(*arguments):
        code = main(["portfolio", *map(str, arguments)])
        printed = capfd.readouterr()
        return code, printed.out, printed.err

    return of


@pytest.fixture
def process():
    """Start the command in a process of its own, which is ended with the test."""
    started = []

    def of(*arguments):
        command = [sys.executable, "-m", "platemargin_api", "portfolio", *map(str, arguments)]
        started.append(subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True))
        return started[-1]

    yield of
    for one in started:
        one.kill()
        one.communicate()


@pytest.fixture
def files():
    """Return what writes inputs and reads outputs."""
    return SimpleNamespace(
        readings=readings, table=table, write=write, tree=tree, manifest=manifest, hulls=hulls, answers=answers
    )


@pytest.fixture
def many(tmp_path):
    """Return a folder of so many inputs that a process can be killed while it is at them."""
    source = tmp_path / "many"
    rows = readings(3000, 1)
    rows[77] |= {"plate_mm": None}
    write(source / "00.parquet", rows)
    for number in range(1, 48):
        shutil.copy(source / "00.parquet", source / f"{number:02}.parquet")
    return source


@pytest.fixture
def folder(tmp_path):
    """Return a folder with an input of each kind."""
    source = tmp_path / "in"
    for number, name in enumerate(["a.parquet", "b.csv", "north/c.arrow", "north/d.arrows"]):
        write(source / name, readings(300, number))
    return source
