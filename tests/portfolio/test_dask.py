"""The same inputs by workers of a Dask scheduler, one of which is killed: the same bytes."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from platemargin_api.calls import REFUSED
from platemargin_api.portfolio import one_file
from platemargin_api.portfolio.columns import Asked
from platemargin_api.portfolio.command import NOT_INSTALLED, SOME_REJECTED
from platemargin_api.portfolio.refused import InputError


@pytest.fixture
def cluster():
    """Start a real cluster of two worker processes; yield its address and their process ids."""
    command = [sys.executable, str(Path(__file__).with_name("cluster.py"))]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as started:
        yield json.loads(started.stdout.readline())
        started.stdin.close()
        started.wait(timeout=60)


def done(folder):
    return {path.name for path in folder.glob(".done/*.json")}


def test_a_worker_that_is_killed_changes_nothing(run, process, cluster, files, many, tmp_path):
    assert run(many, tmp_path / "here")[0] == SOME_REJECTED
    out = tmp_path / "there"
    engine = process(many, out, "--scheduler", cluster["address"])
    deadline = time.monotonic() + 60
    # Both workers are at an input by then, and most inputs are still to be done.
    while not done(out) or len(list((out / "answers").glob(".*.part"))) < 2:
        assert engine.poll() is None, engine.communicate()
        assert time.monotonic() < deadline
        time.sleep(0.002)
    os.kill(cluster["workers"][0], signal.SIGKILL)
    assert len(done(out)) < 22
    engine.communicate(timeout=120)
    assert engine.returncode == SOME_REJECTED
    assert files.tree(out) == files.tree(tmp_path / "here")


def test_a_scheduler_that_is_not_there(process, folder, tmp_path, monkeypatch):
    monkeypatch.setenv("DASK_DISTRIBUTED__COMM__TIMEOUTS__CONNECT", "1s")
    tried = process(folder, tmp_path / "out", "--scheduler", "tcp://127.0.0.1:9")
    _, faults = tried.communicate(timeout=120)
    assert tried.returncode == REFUSED
    assert "no scheduler answers at tcp://127.0.0.1:9" in faults


def test_a_worker_of_another_version_answers_nothing(folder, tmp_path):
    there = one_file.Task("a.parquet", folder / "a.parquet", tmp_path / "out", Asked("plate-margin"), "of another version")
    with pytest.raises(InputError, match="of another version"):
        one_file.answer_file(there)
    assert not (tmp_path / "out").exists()


def test_the_extra_is_named_where_it_is_missing(run, folder, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    code, _, faults = run(folder, tmp_path / "out", "--scheduler", "tcp://127.0.0.1:9")
    assert (code, faults) == (NOT_INSTALLED, "distributed is not installed: pip install 'platemargin[dask]' brings it\n")
