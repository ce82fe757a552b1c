"""Calls from a shell, without a server: the same answers as over HTTP, with exit codes for scripts."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import orjson

from platemargin_api.answer import answer
from platemargin_api.demo import told
from platemargin_api.openapi import describe
from platemargin_api.problems import ProblemError
from platemargin_api.registry import Registry, Served, operators_registry
from platemargin_api.settings import Settings
from platemargin_api.wording import hint

__all__ = ["NO_SUCH", "REFUSED", "VERDICT_CODES", "call", "check", "list_calculations", "named"]

#: Exit codes: 0 is an answer (of `check`, a pass); argparse exits with 2 for a command that it does not understand.
NO_SUCH = 3
REFUSED = 4
VERDICT_CODES = {"no_limit_broken": 0, "not_judged": 10, "watch": 11, "act": 12}

_STDIN = "-"


def list_calculations(name: str | None) -> int:
    """Print the calculations that are installed, or everything about one; return the exit code."""
    registry = operators_registry(Settings.from_environment())
    if name is None:
        width = max(map(len, registry.calculations))
        for served in registry.calculations.values():
            offered = served.offered
            sys.stdout.write(f"{offered.id:{width}}  {offered.version}  {offered.title}\n")
        return 0
    found = named(registry, name)
    if found is None:
        return NO_SUCH
    _write(describe(found, registry, Settings.from_environment()))
    return 0


def call(name: str, file: str, *, minimal: bool = False) -> int:
    """Print the answer of a calculation to the request in a file as JSON; return the exit code."""
    registry = operators_registry(Settings.from_environment())
    found = named(registry, name)
    if found is None:
        return NO_SUCH
    members = _answered(found, registry, file, minimal=minimal)
    if isinstance(members, int):
        return members
    _write(members)
    return 0


def check(file: str) -> int:
    """Print what is found of the survey in a file, as a person reads it; return its verdict's exit code."""
    registry = operators_registry(Settings.from_environment())
    members = _answered(registry.calculations["hull-survey"], registry, file, minimal=True)
    if isinstance(members, int):
        return members
    sys.stdout.write("\n".join(told(members)) + "\n")
    return VERDICT_CODES[members["result"]["verdict"]]


def named(registry: Registry, name: str) -> Served | None:
    """Return a calculation; None where it is not there, which is told on stderr."""
    if name not in registry.calculations:
        near = hint(name, registry.calculations)
        sys.stderr.write(f"no calculation is called {name!r}{near}: platemargin calculations lists them\n")
    return registry.calculations.get(name)


def _answered(served: Served, registry: Registry, file: str, *, minimal: bool) -> dict[str, Any] | int:
    """Return the members of the answer; an exit code where there is none, and why on stderr."""
    try:
        body = sys.stdin.buffer.read() if file == _STDIN else Path(file).read_bytes()
    except OSError as error:
        sys.stderr.write(f"{file} cannot be read: {error.strerror}\n")
        return NO_SUCH
    try:
        return answer(served, registry, body, minimal=minimal)
    except ProblemError as error:
        json.dump(error.document(), sys.stderr, indent=2, ensure_ascii=False)
        sys.stderr.write("\n")
        return REFUSED


def _write(members: Any) -> None:
    sys.stdout.buffer.write(orjson.dumps(members, option=orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE))
