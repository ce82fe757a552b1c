"""A plug-in that fails: its own calls fail, with a problem that names it and its package; all others are answered."""

import json
import time
from http.client import IncompleteRead, RemoteDisconnected

import pytest

from platemargin_api.bulk import ROWS_TOGETHER

FAILING = [
    "raises",
    "ends-the-process",
    "gives-nan",
    "gives-too-many",
    "gives-another-type",
    "changes-its-column",
    "changes-its-list",
    "sums-up-wrongly",
    "finds-wrongly",
    "exits-in-its-summary",
    "exits-in-its-findings",
]
IN_COLUMNS = ["raises", "gives-nan", "gives-too-many", "changes-its-column", "exits-in-its-findings"]


def named(name):
    return f"The calculation {name} 1.2.0 of the package platemargin-faulty 0.3.0"


@pytest.mark.parametrize("name", FAILING)
def test_its_own_calls_fail_and_name_it(name, service, calling):
    with calling(service) as callers:
        for _ in range(5):
            status, problem = service.fault(name, 1)
            assert (status, problem["type"], problem["detail"]) == (
                500,
                "/problems/calculation-failed",
                f"{named(name)} failed.",
            )
            # What it is asked next it answers, and as it was before.
            status, told = service.fault(name, 0)
            assert (status, told["result"]) == (200, {"given": 0.0})
            assert [one["value"] for one in told["assumed"] if one["field"] == "numbers"] in ([], [[3.0, 1.0]])
    assert set(callers.outcomes) == {"right"}


@pytest.mark.parametrize("name", IN_COLUMNS)
def test_of_many_rows_the_row_that_fails_fails_alone(name, service):
    body = "".join(f'{{"fault": {fault}}}\n' for fault in (0, 1, 0))
    status, _, told = service.call(f"/v1/calculations/{name}", body, "application/x-ndjson")
    lines = [json.loads(line) for line in told.splitlines()]
    assert status == 200
    assert [line.get("problem", {}).get("detail") for line in lines[:3]] == [None, f"{named(name)} failed.", None]
    assert (lines[3]["summary"]["answered"], lines[3]["summary"]["refused"]) == (2, 1)


@pytest.mark.parametrize("fault", ["exits-in-its-summary", "exits-in-its-findings", "exits-in-its-rendering"])
def test_one_that_would_end_the_process_ends_its_call_and_nothing_else(fault, service):
    workers = service.workers()
    accepted = {"Accept": "text/html"} if fault.endswith("rendering") else {}
    status, _, told = service.call(f"/v1/calculations/{fault}", {"fault": 1}, headers=accepted)
    assert (status, json.loads(told)["type"]) == (500, "/problems/calculation-failed")
    assert service.workers() == workers


@pytest.mark.parametrize(("rows", "prefer"), [(1, ""), (2 * ROWS_TOGETHER, "stream")])
def test_one_that_ends_its_thread_ends_its_call_and_nothing_else(rows, prefer, service):
    """It has no answer, or half of one: what no code of a calculation raises by mistake is not told as its failure."""
    workers = service.workers()
    body = '{"fault": 0}\n' * (rows - 1) + '{"fault": 1}\n'
    with pytest.raises((RemoteDisconnected, IncompleteRead)):
        service.call("/v1/calculations/ends-its-thread", body, "application/x-ndjson", {"Prefer": prefer})
    time.sleep(1)  # a worker that goes is missed a moment later
    assert service.workers() == workers


def test_one_that_kills_its_worker_takes_what_is_there_along_and_no_more(serving, calling):
    """Nothing that runs in a process can be kept from ending it; the master starts another."""
    with serving() as service:
        before = service.workers()
        with calling(service) as callers:
            for _ in range(3):
                with pytest.raises((ConnectionError, RemoteDisconnected)):
                    service.fault("kills-its-worker", 1)
                time.sleep(0.5)
            assert len(service.workers()) == 2
            lost = callers.outcomes["lost"]
            time.sleep(1)
            assert callers.outcomes["lost"] == lost
        assert callers.outcomes["lost"] <= 3 * 4
        assert set(callers.outcomes) <= {"right", "lost"}
        assert set(service.workers()) != set(before)


def test_one_that_leaks_has_its_worker_replaced(serving, calling):
    with serving(PLATEMARGIN_WORKER_MEMORY_MB="256") as service:
        before = service.workers()
        with calling(service) as callers:
            while not service.told("the worker is replaced: memory"):
                assert service.fault("leaks", 20)[0] == 200
            ended = time.monotonic()
            while set(before) <= set(service.workers()):
                assert time.monotonic() - ended < 10
                time.sleep(0.05)
            while len(service.workers()) < 2:
                assert time.monotonic() - ended < 10
                time.sleep(0.05)
        assert set(callers.outcomes) == {"right"}
        assert service.counted("platemargin_workers_replaced_total") >= 1
