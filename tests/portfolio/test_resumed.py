"""Killed, stopped, run again: nothing is lost, nothing is half, nothing that is done is done again."""

import fcntl
import os
import signal
import struct
import subprocess
import sys
import termios
import time
from contextlib import suppress

import pyarrow.parquet as pq
import pytest

from platemargin_api.calls import REFUSED
from platemargin_api.portfolio import one_file
from platemargin_api.portfolio.command import SOME_REJECTED, STOPPED


def stamps(folder):
    """Return when each file was written, and which one it is: neither stays where it is written again."""
    return {path.name: (path.stat().st_mtime_ns, path.stat().st_ino) for path in (folder / "answers").rglob("*.parquet")}


def until(condition, process):
    deadline = time.monotonic() + 60
    while not condition():
        assert process.poll() is None, process.communicate()
        assert time.monotonic() < deadline
        time.sleep(0.002)


@pytest.mark.parametrize("after", [1, 9])
def test_a_killed_run_goes_on_as_if_it_had_not_been(run, process, files, many, tmp_path, after):
    assert run(many, tmp_path / "whole")[0] == SOME_REJECTED
    out = tmp_path / "out"
    killed = process(many, out)
    until(lambda: len(list(out.glob(".done/*.json"))) >= after and any((out / "answers").glob(".*.part")), killed)
    killed.send_signal(signal.SIGKILL)
    assert killed.wait() == -signal.SIGKILL

    left = stamps(out)
    assert after <= len(left) < 48
    assert not (out / "manifest.json").exists()
    assert not (out / "hulls.parquet").exists()
    for path in (out / "answers").glob("*.parquet"):
        assert pq.read_metadata(path).num_rows == 2999

    assert run(many, out)[0] == SOME_REJECTED
    done = stamps(out)
    kept = sorted(name for name in left if done[name] == left[name])
    # It was at one input, whose answers may have been there already, but not its record.
    assert kept == sorted(left)[: len(kept)]
    assert len(kept) >= max(after, len(left) - 1)
    assert files.tree(out) == files.tree(tmp_path / "whole")


def test_what_is_done_is_not_done_again(run, files, folder, tmp_path):
    first = run(folder, tmp_path / "out")
    before, tree = stamps(tmp_path / "out"), files.tree(tmp_path / "out")
    assert run(folder, tmp_path / "out") == first
    assert (stamps(tmp_path / "out"), files.tree(tmp_path / "out")) == (before, tree)


def test_an_input_that_changed_is_done_again_alone(run, files, folder, tmp_path):
    run(folder, tmp_path / "out")
    before = stamps(tmp_path / "out")
    stood = (folder / "b.csv").stat()
    files.write(folder / "b.csv", files.readings(300, 17))
    # Of the same time, too: what it holds decides.
    os.utime(folder / "b.csv", ns=(stood.st_atime_ns, stood.st_mtime_ns))
    assert run(folder, tmp_path / "out")[0] == 0
    after = stamps(tmp_path / "out")
    assert [name for name in after if after[name] != before[name]] == ["b.csv.parquet"]
    run(folder, tmp_path / "fresh")
    assert files.tree(tmp_path / "out") == files.tree(tmp_path / "fresh")


def test_an_input_that_is_gone_leaves_nothing_behind(run, files, folder, tmp_path):
    files.write(folder / "bad.csv", [{**files.readings(1, 1)[0], "plate_mm": None}])
    run(folder, tmp_path / "out")
    assert (tmp_path / "out" / "rejects" / "bad.csv.csv").exists()
    (folder / "bad.csv").unlink()
    (folder / "a.parquet").unlink()
    assert run(folder, tmp_path / "out")[0] == 0
    run(folder, tmp_path / "fresh")
    assert files.tree(tmp_path / "out") == files.tree(tmp_path / "fresh")


def test_rejects_that_were_put_right_are_gone(run, files, tmp_path):
    rows = files.readings(5, 1)
    files.write(tmp_path / "a.csv", [{**row, "plate_mm": None} for row in rows])
    run(tmp_path / "a.csv", tmp_path / "out")
    files.write(tmp_path / "a.csv", rows)
    assert run(tmp_path / "a.csv", tmp_path / "out")[0] == 0
    assert not (tmp_path / "out" / "rejects" / "a.csv.csv").exists()


@pytest.mark.parametrize("lost", ["answers/a.parquet.parquet", ".done/a.parquet.parquet", ".done/a.parquet.json"])
@pytest.mark.parametrize("how", ["gone", "cut"])
def test_an_output_that_is_not_as_it_was_written_is_made_again(run, files, folder, tmp_path, lost, how):
    run(folder, tmp_path / "out")
    tree = files.tree(tmp_path / "out")
    path = tmp_path / "out" / lost
    path.unlink() if how == "gone" else path.write_bytes(path.read_bytes()[:100])
    assert run(folder, tmp_path / "out")[0] == 0
    assert files.tree(tmp_path / "out") == tree


def test_another_version_or_other_columns_are_done_again(run, folder, tmp_path, monkeypatch):
    run(folder, tmp_path / "out")
    before = stamps(tmp_path / "out")
    options = ["--no-hulls", "--keep", "hull"]
    assert run(folder, tmp_path / "out", *options)[0] == 0
    other = stamps(tmp_path / "out")
    assert all(other[name] != before[name] for name in before)
    monkeypatch.setattr(one_file, "SERVICE_VERSION", "9.9.9")
    assert run(folder, tmp_path / "out", *options)[0] == 0
    assert all(stamps(tmp_path / "out")[name] != other[name] for name in other)


def test_two_runs_do_not_write_into_one_folder(run, files, folder, tmp_path):
    run(folder, tmp_path / "out")
    tree = files.tree(tmp_path / "out")
    with (tmp_path / "out" / ".lock").open("rb") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        code, _, faults = run(folder, tmp_path / "out")
    assert (code, "another run is writing" in faults) == (REFUSED, True)
    assert files.tree(tmp_path / "out") == tree


def test_a_run_that_is_stopped_says_how_it_goes_on(process, many, tmp_path):
    for attempt in range(5):
        out = tmp_path / f"out-{attempt}"
        stopped = process(many, out)
        until(lambda out=out: any(out.glob(".done/*.json")), stopped)
        stopped.send_signal(signal.SIGINT)
        _, faults = stopped.communicate(timeout=60)
        # On a busy machine it may be done before it hears.
        if stopped.returncode != SOME_REJECTED:
            break
    assert (stopped.returncode, faults) == (STOPPED, "stopped; run it again, and it goes on from there\n")
    assert not list(out.rglob(".*.part"))


def test_a_terminal_is_shown_how_far_it_is(many, tmp_path):
    for source in sorted(many.iterdir())[8:]:
        source.unlink()
    shown, terminal = os.openpty()
    fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    command = [sys.executable, "-m", "platemargin_api", "portfolio", str(many), str(tmp_path / "out")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=terminal, text=True) as process:
        os.close(terminal)
        bar = b""
        # A terminal that nobody writes to any more is an error to read from.
        with suppress(OSError):
            while part := os.read(shown, 4096):
                bar += part
        printed = process.stdout.read()
    os.close(shown)
    assert process.returncode == SOME_REJECTED
    assert b"100%" in bar
    assert "100%" not in printed
