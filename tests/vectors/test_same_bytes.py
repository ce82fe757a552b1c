"""The same request has the same answer to the byte, whatever the process, hash seed, order, processor or worker."""

import json
import os
import re
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from urllib.request import Request, urlopen

import pytest
from numpy._core._multiarray_umath import __cpu_dispatch__, __cpu_features__

from platemargin_api.answer import encoded
from platemargin_api.body import dump
from platemargin_api.demo import served
from platemargin_api.registry import load_registry

FOLDER = Path(__file__).parents[2] / "openapi/vectors"
#: numpy, the C library and the algebra library choose their code by the processor; this is what any has.
ANY_PROCESSOR = {
    "NPY_DISABLE_CPU_FEATURES": " ".join(name for name in __cpu_dispatch__ if __cpu_features__[name]),
    "GLIBC_TUNABLES": "glibc.cpu.hwcaps=-AVX,-AVX2,-AVX512F,-FMA,-FMA4",
    "OPENBLAS_CORETYPE": "Prescott",
}


def begun(*arguments, **environment):
    command = [sys.executable, Path(__file__).with_name("answered.py"), FOLDER, *arguments]
    return subprocess.Popen(command, env={**os.environ, **environment}, stdout=subprocess.PIPE, text=True)


def test_no_process_answers_otherwise_than_another():
    processes = {
        "plain": begun(PYTHONHASHSEED="0"),
        "another hash seed, backwards": begun("backwards", PYTHONHASHSEED="1"),
        "a third, on any processor": begun(PYTHONHASHSEED="4242", **ANY_PROCESSOR),
    }
    told = {name: json.loads(process.communicate(timeout=300)[0]) for name, process in processes.items()}
    plain = told.pop("plain")
    assert sum(map(len, plain.values())) > 1500
    for name, digests in told.items():
        differ = {calculation: sum(map(str.__ne__, plain[calculation], digests[calculation])) for calculation in plain}
        assert {calculation: count for calculation, count in differ.items() if count} == {}, name


@pytest.fixture(scope="module")
def requests():
    """Return by path the body of each calculation's example, and of each whole survey, with the answer made here."""
    registry = load_registry()
    asked = {}
    for name, calculation in registry.calculations.items():
        for number, line in enumerate((FOLDER / f"{name}.ndjson").read_bytes().splitlines()):
            vector = json.loads(line)
            if vector["status"] == 200 and (number == 0 or vector["name"].startswith("whole survey: ")):
                body = dump(vector["request"])
                asked[name, vector["name"]] = body, encoded(calculation, registry, body, minimal=True)
    return asked


def test_no_worker_answers_otherwise_than_another_nor_after_a_new_start(requests, tmp_path, monkeypatch):
    assert sum(calculation == "hull-survey" for calculation, _ in requests) >= 4
    workers = {}
    for count in ("3", "1"):
        monkeypatch.setenv("WEB_CONCURRENCY", count)
        counts = tmp_path / count
        counts.mkdir()
        monkeypatch.setenv("PROMETHEUS_MULTIPROC_DIR", str(counts))
        with served(0) as address, ThreadPoolExecutor(8) as callers:
            for (calculation, name), (body, answer) in requests.items():
                again = callers.map(lambda _, path=calculation, body=body: post(address, path, body), range(8))
                assert set(again) == {answer}, (calculation, name)
            # Each worker that answered has a file of counts, called by its process.
            workers[count] = {re.search("[0-9]+", path.name).group() for path in counts.glob("counter_*.db")}
    assert len(workers["3"]) > 1
    assert len(workers["1"]) == 1


def post(address, calculation, body):
    headers = {"Content-Type": "application/json", "Prefer": "return=minimal"}
    with urlopen(Request(f"{address}/v1/calculations/{calculation}", body, headers), timeout=60) as response:
        return response.read()
