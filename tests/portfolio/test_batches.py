"""The kernel for engines of one's own: batches in, batches out, every row with an answer or the reason why it has none."""

import os
import shutil
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from platemargin_api.portfolio.batches import answer_batches, answer_schema


def test_batches_are_answered_as_the_command_answers(run, files, tmp_path):
    rows = files.readings(500, 1)
    rows[20] |= {"plate_mm": None}
    files.write(tmp_path / "a.parquet", rows)
    run(tmp_path / "a.parquet", tmp_path / "out")
    batches = files.table(rows).to_batches(max_chunksize=170)
    answered = pa.Table.from_batches(answer_batches("plate-margin", batches, keep=["hull"]))
    assert answered.schema == answer_schema("plate-margin", batches[0].schema, keep=["hull"])
    assert answered.num_rows == 500
    assert [row["error"] is None for row in answered.to_pylist()] == [place != 20 for place in range(500)]
    assert "/plate_mm" in answered["error"][20].as_py()
    good = [{name: value for name, value in row.items() if name != "error"} for row in answered.to_pylist() if not row["error"]]
    assert good == [
        {name: value for name, value in row.items() if name not in ("row", "assumed")}
        for row in files.answers(tmp_path / "out")
    ]


@pytest.mark.skipif(shutil.which("java") is None, reason="needs Java (Debian's default-jre-headless)")
@pytest.mark.skipif(find_spec("pyspark") is None, reason="needs pyspark, which is in no lock: pip install pyspark")
def test_spark_maps_the_same_answers(files, tmp_path):
    rows = files.readings(2000, 2)
    rows[20] |= {"plate_mm": None}
    files.write(tmp_path / "a.parquet", rows)
    script = [sys.executable, str(Path(__file__).with_name("on_spark.py")), str(tmp_path / "a.parquet"), str(tmp_path / "out")]
    subprocess.run(script, env={**os.environ, "PYSPARK_PYTHON": sys.executable}, check=True, timeout=300)
    made = pq.read_table(tmp_path / "out").sort_by("id").to_pylist()
    batches = pq.read_table(tmp_path / "a.parquet").to_batches()
    here = pa.Table.from_batches(answer_batches("plate-margin", batches, keep=["hull"])).sort_by("id").to_pylist()
    assert made == here
