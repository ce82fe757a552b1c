"""The demo: the real service, a survey of an invented boat, and the answer as a person reads it."""

from __future__ import annotations

import json
import os
import shlex
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import groupby
from pathlib import Path
from typing import Any

__all__ = ["SURVEY", "demo", "served", "table", "told"]

#: A survey of an invented boat, in an invented water, with invented readings.
SURVEY = Path(__file__).with_name("survey.json")
_START_SECONDS = 20


def demo(port: int, *, whole: bool = False) -> int:
    """Start the service, post the survey, print the answer, stop; return the exit code."""
    with served(port) as address:
        url = f"{address}/v1/calculations/hull-survey"
        answer = _post(url, SURVEY.read_bytes())
        sys.stdout.write(json.dumps(answer, indent=2, ensure_ascii=False) + "\n" if whole else _shown(url, answer))
    return 0


@contextmanager
def served(port: int) -> Iterator[str]:
    """Run the service at `port`, or at a free one where that is taken; yield its address."""
    address = f"127.0.0.1:{_free(port)}"
    command = [sys.executable, "-m", "platemargin_api", "serve", "--bind", address]
    # What is shown is the answer, not a line of the log beside it.
    environment = {**os.environ, "PLATEMARGIN_REQUEST_LOG": "off"}
    with subprocess.Popen(command, env=environment) as process:  # noqa: S603  our own interpreter and module
        try:
            _wait_ready(f"http://{address}", process)
            yield f"http://{address}"
        finally:
            process.terminate()
            process.wait()


def _free(port: int) -> int:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
        except OSError:
            probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _wait_ready(address: str, process: subprocess.Popen[bytes]) -> None:
    deadline = time.monotonic() + _START_SECONDS
    while process.poll() is None and time.monotonic() < deadline:
        try:
            with urllib.request.urlopen(f"{address}/health/ready"):  # noqa: S310  our own service
                return
        except (urllib.error.URLError, ConnectionError):
            time.sleep(0.05)
    raise SystemExit("the service did not start")


def _post(url: str, body: bytes) -> dict[str, Any]:
    request = urllib.request.Request(url, body, {"Content-Type": "application/json"})  # noqa: S310  our own service
    with urllib.request.urlopen(request) as response:  # noqa: S310
        answer: dict[str, Any] = json.load(response)
    return answer


def _shown(url: str, answer: dict[str, Any]) -> str:
    survey = json.loads(SURVEY.read_text(encoding="utf-8"))
    hull = survey["hull"]
    curl = f"curl -s {url} -H 'Content-Type: application/json' --data-binary @{shlex.quote(str(SURVEY))}"
    boat = f"{hull['name']} (invented), {hull['length_m']} m, built {survey['built_on']}"
    parts = [
        f"Posted {SURVEY.name} to {url}; the service stops when this is printed.",
        "",
        f"{boat}, surveyed {survey['surveyed_on']}, {len(survey['readings'])} readings",
        *told(answer),
        "",
        *answer["cautions"][:2],
        "",
        "The same from a shell, while `make serve` runs:",
        "  " + curl.replace(url, "http://127.0.0.1:8000/v1/calculations/hull-survey"),
    ]
    return "\n".join(parts) + "\n"


def told(answer: dict[str, Any]) -> list[str]:
    """Return the answer of a survey as lines that a person can read."""
    result = answer["result"]
    return [
        f"VERDICT  {result['verdict'].replace('_', ' ')}",
        *answer["summary"],
        "",
        *table(result["zones"]),
        "",
        f"The governing reading is {result['governing_reading']} in {result['governing_zone']}",
        *_working(answer.get("working", [])),
        "",
        "Findings",
        *(f"  [{finding['severity']}] {finding['statement']}" for finding in answer["findings"]),
        "",
        "Advice",
        *(f"  [{line['urgency'].replace('_', ' ')}] {line['statement']}" for line in result["advice"]),
    ]


def table(zones: list[dict[str, Any]]) -> list[str]:
    """Return the zones as lines that a person can read; the life is that to the first limit of the zone."""
    heads = ("zone", "read", "original", "thinnest", "at", "loss %", "mm/year", "limit", "years", "low", "high", "verdict")
    rows = [heads, *(_row(zone) for zone in zones)]
    widths = [max(len(row[column]) for row in rows) for column in range(len(heads))]
    text_columns = {0, 4, 11}
    return [
        "  ".join(
            cell.ljust(width) if column in text_columns else cell.rjust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]


def _row(zone: dict[str, Any]) -> tuple[str, ...]:
    life = next(iter(zone["thresholds"]), dict.fromkeys(("threshold_mm", "years", "years_low", "years_high")))
    return (
        zone["zone"],
        str(zone["readings"]),
        _number(zone["original_mm"]),
        _number(zone["thinnest_residual_mm"]),
        zone["thinnest_reading"],
        _number(zone["max_loss_percent"]),
        _number(zone["rate_mm_per_year"]),
        _number(life["threshold_mm"]),
        _number(life["years"]),
        _number(life["years_low"]),
        _number(life["years_high"]),
        zone["verdict"].replace("_", " "),
    )


def _number(value: float | None) -> str:
    return "-" if value is None else f"{value:g}"


def _working(steps: list[dict[str, Any]]) -> Iterator[str]:
    """Yield the steps under the reading that they are of."""
    for reading, of_it in groupby(steps, key=lambda step: step["of"]):
        yield f"Working of {reading if reading.startswith('anodes.') else f'reading {reading}'}"
        yield from map(_step, of_it)


def _step(step: dict[str, Any]) -> str:
    unit = "" if step["unit"] in ("1", "ratio", "probability") else f" {step['unit']}"
    return f"  {step['symbol']} = {step['substituted']} = {step['value']:g}{unit}  [{step['reference']}]"
