"""Measure what the service's speed is held against, and print it beside its floors and its peer; 1 where a goal is missed.

Each server has one worker on one core, the caller is on another, and the rounds go by turns. Only the ratios travel to other
machines, and only those of a machine that did nothing else meanwhile.
"""

import argparse
import os
import platform
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

import client
import many
import orjson
import servers
import work

from platemargin_api.answer import encoded

MINIMAL = ("Prefer: return=minimal",)


@dataclass(frozen=True)
class Target:
    """What is posted where."""

    name: str
    server: str
    path: str
    body: Callable[[], object]
    headers: tuple[str, ...] = ()

    @property
    def message(self):
        return client.message(self.path, orjson.dumps(self.body()), self.headers)


ECHO = Target("Flask, orjson echo", "flask", "/echo", work.plate)
SHORT = Target("plate-margin, return=minimal", "service", "/v1/calculations/plate-margin", work.plate, MINIMAL)
WHOLE = Target("plate-margin with its working", "service", "/v1/calculations/plate-margin", work.plate)
READINGS = Target("readings of 120", "service", "/v1/calculations/readings", lambda: {"readings": work.readings()}, MINIMAL)
LEAST = Target("plate-margin's result alone, in Flask", "flask", "/least/plate-margin", work.plate)
LEAST_READINGS = Target("readings of 120, the result alone, in Flask", "flask", "/least/readings", READINGS.body)
BOTH_WAYS = Target("readings of 120, marshmallow both ways", "flask", "/readings", READINGS.body)
PEER_READINGS = Target("readings of 120, FastAPI async def", "peer", "/readings", READINGS.body)
SURVEY = Target("hull-survey of 120", "service", "/v1/calculations/hull-survey", work.survey)
PEER_SURVEY = Target("hull-survey of 120, FastAPI async def", "peer", "/survey", work.survey)
TARGETS = [
    Target("bare WSGI constant", "bare", "/", work.plate),
    Target("Flask constant", "flask", "/constant", work.plate),
    Target("FastAPI async def, constant", "peer", "/constant", work.plate),
    ECHO,
    LEAST,
    SHORT,
    WHOLE,
    LEAST_READINGS,
    READINGS,
    BOTH_WAYS,
    PEER_READINGS,
    Target("readings of 120, FastAPI def", "peer", "/readings-in-threads", READINGS.body),
    SURVEY,
    PEER_SURVEY,
]
#: What is held against what, and the least that the ratio of their rates may be; None = told, with no goal.
RATIOS = [
    (SHORT, ECHO, 0.90),
    (WHOLE, ECHO, 0.75),
    (LEAST, ECHO, None),
    (READINGS, PEER_READINGS, 1.6),
    (READINGS, BOTH_WAYS, 7.0),
    (LEAST_READINGS, PEER_READINGS, None),
    (LEAST_READINGS, BOTH_WAYS, None),
    (SURVEY, PEER_SURVEY, None),
]
MOST_START_SECONDS = 0.5
MOST_PRIVATE_MB = 15.0


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=7)
    parser.add_argument("--seconds", type=float, default=1.0, help="of each target in each round")
    chosen = parser.parse_args()
    servers.pin_caller()
    machine = f"{_processor()}, {os.cpu_count()} cores, Python {platform.python_version()}"
    print(f"{machine}, load {os.getloadavg()[0]:.1f} before", flush=True)
    with _started() as ports:
        private = {"after its start": servers.private_megabytes(ports["service"])}
        measured = _measured(ports, chosen.rounds, chosen.seconds)
        private["after all of the above"] = servers.private_megabytes(ports["service"])
        rows = list(many.outcomes(ports["service"]))
    _tell_rates(measured)
    _tell_in_process()
    outcomes = [*_ratios(measured), *rows, *_costs(private)]
    print("\n| | measured (by processor time) | goal | |\n|---|---|---|---|")
    for words, value, goal, kept in outcomes:
        print(f"| {words} | {value} | {goal} | {'' if kept is None else 'kept' if kept else 'MISSED'} |")
    return int(any(kept is False for *_, kept in outcomes))


def _processor():
    lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    return next((line.partition(": ")[2] for line in lines if line.startswith("model name")), platform.machine())


@contextmanager
def _started():
    with ExitStack() as stack:
        running = {name: stack.enter_context(servers.running(name)) for name in servers.COMMANDS}
        yield running


def _measured(ports, rounds, seconds):
    """Return of each target, a round a row: answers a second, and [ms] processor time in one, what one takes alone, and p99."""
    found = {target: [] for target in TARGETS}
    for _ in range(rounds):
        for target in TARGETS:
            server, sent = ports[target.server], target.message
            busy = servers.busy_seconds(server)
            many = client.measure(server.port, sent, connections=8, seconds=seconds)
            busy = servers.busy_seconds(server) - busy
            alone = client.measure(server.port, sent, connections=1, seconds=seconds / 4)
            in_one = busy / (len(many.times) + 8)  # and the first of each connection
            found[target].append((many.rate, 1e3 * in_one, 1e3 * alone.percentile(0.5), 1e3 * many.percentile(0.99)))
    return found


def _tell_rates(measured):
    print("\n| medians of the rounds, 8 connections | answers/s | processor ms | p99 ms | p50 ms, 1 connection |")
    print("|---|---|---|---|---|")
    for target, rows in measured.items():
        rate, busy, middle, late = map(statistics.median, zip(*rows, strict=True))
        print(f"| {target.name} | {rate:,.0f} | {busy:.3f} | {late:.2f} | {middle:.2f} |")


def _tell_in_process():
    """Tell what the answers cost without HTTP: no service over them can be faster."""
    print("\n| in process, no HTTP | answers/s |\n|---|---|")
    registry = work.registry()
    for target in (SHORT, WHOLE, READINGS, SURVEY):
        served, body = registry.calculations[target.path.rpartition("/")[2]], orjson.dumps(target.body())
        times = []
        for _ in range(50):
            begun = time.perf_counter()
            encoded(served, registry, body, minimal=target.headers == MINIMAL)
            times.append(time.perf_counter() - begun)
        print(f"| {target.name} | {1 / statistics.median(times):,.0f} |")


def _ratios(measured):
    """Hold rate against rate of the same round, as the machine was then; beside it what the processor's time says."""
    for target, other, least in RATIOS:
        beside = list(zip(measured[target], measured[other], strict=True))
        ratio = statistics.median(ours[0] / theirs[0] for ours, theirs in beside)
        by_time = statistics.median(theirs[1] / ours[1] for ours, theirs in beside)
        goal = ("told", None) if least is None else (f"at least {least:g}", ratio >= least)
        yield f"{target.name} / {other.name}", f"{ratio:.2f} ({by_time:.2f})", *goal


def _costs(private):
    start = statistics.median(servers.seconds_to_first_answer() for _ in range(5))
    floor = statistics.median(servers.seconds_to_import() for _ in range(5))
    words = f"start to first 200, of which the libraries alone {floor:.2f} s"
    yield words, f"{start:.2f} s", f"at most {MOST_START_SECONDS:g} s", start <= MOST_START_SECONDS
    for when, held in private.items():
        yield f"private memory of a worker {when}", f"{held:.1f} MB", f"at most {MOST_PRIVATE_MB:g} MB", held <= MOST_PRIVATE_MB


if __name__ == "__main__":
    try:
        sys.exit(main())
    except subprocess.SubprocessError as error:
        sys.exit(f"A server did not start: {error}")
