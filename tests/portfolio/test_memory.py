"""Memory does not grow with the rows of a file, however they are grouped in it."""

import re
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest

#: A few blocks, and text that is more than anything else of a row.
ROWS, TEXT_BYTES = 34_000, 1024


def table(rows):
    """Return readings, each with a text that no encoding makes shorter."""
    draw = np.random.default_rng(1)
    text = pa.FixedSizeBinaryArray.from_buffers(
        pa.binary(TEXT_BYTES), rows, [None, pa.py_buffer(draw.integers(32, 127, rows * TEXT_BYTES, dtype=np.uint8).tobytes())]
    )
    return pa.table(
        {
            "hull": [f"H{number % 50}" for number in range(rows)],
            "original_mm": pa.repeat(10.0, rows),
            "plate_mm": np.round(draw.uniform(7, 10, rows), 1),
            "notes": text.cast(pa.binary()).cast(pa.string()),
        }
    )


def peak_mb(source, target):
    """Return the most that a process held that answers a file (proc_pid_status(5): VmHWM, which begins anew with a program)."""
    command = [sys.executable, "-m", "platemargin_api", "portfolio", source, target, "--keep", "notes"]
    most = 0.0
    with subprocess.Popen([*command, "--calculation", "residual-thickness"], stdout=subprocess.DEVNULL) as process:
        while process.poll() is None:
            told = Path(f"/proc/{process.pid}/status").read_text()
            if held := re.search(r"VmHWM:\s+(\d+) kB", told):
                most = int(held[1]) / 1024
            time.sleep(0.01)
    assert process.returncode == 0
    return most


@pytest.mark.parametrize("name", ["a.parquet", "a.csv"])
def test_four_times_the_rows_need_no_more_memory(files, tmp_path, name):
    few, many = tmp_path / f"few-{name}", tmp_path / f"many-{name}"
    files.write(few, table(ROWS), row_group_size=ROWS)
    files.write(many, table(4 * ROWS), row_group_size=4 * ROWS)
    assert many.stat().st_size > 120 * 1024 * 1024
    first = peak_mb(few, tmp_path / "few")
    more = peak_mb(many, tmp_path / "many")
    # A hundred MB of text more, several times over where it were held.
    assert more < first + 100, (first, more)
