"""The command ``platemargin``: the service, its demo, its documents, and calls without a server."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TypeAlias

import orjson
from gunicorn.app.wsgiapp import run

# The server's module comes first: it says how many threads numpy may start.
from platemargin_api import server
from platemargin_api.answer import SERVICE_VERSION
from platemargin_api.calls import NO_SUCH, REFUSED, VERDICT_CODES, call, check, list_calculations
from platemargin_api.demo import demo
from platemargin_api.openapi import document
from platemargin_api.registry import RegistryError, installed, load_registry

__all__ = ["main"]

#: What adds a command to a parser; argparse has no public name for it.
Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"  # noqa: SLF001


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; return its exit code."""
    parser = _parser()
    chosen = parser.parse_args(arguments)
    try:
        return int(chosen.run(chosen))
    except RegistryError as error:
        sys.stderr.write(f"platemargin does not start: {error}\n")
        return 1


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="platemargin",
        description="How much steel an inland boat has left, how fast it goes and when it passes a limit, over HTTP.",
    )
    parser.add_argument("--version", action="version", version=f"platemargin {SERVICE_VERSION}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    _service(commands)
    _documents(commands)
    _calls(commands)
    return parser


def _service(commands: Commands) -> None:
    serve = commands.add_parser("serve", help="start the service; WEB_CONCURRENCY sets the number of workers")
    serve.add_argument("--bind", metavar="HOST:PORT", help="address to listen at (default 127.0.0.1:8000)")
    serve.set_defaults(run=_serve)

    show = commands.add_parser("demo", help="start the service, post a survey of an invented boat, show the answer, stop")
    show.add_argument("--port", type=int, default=8000, help="port to try first (default 8000); another if it is taken")
    show.add_argument("--json", action="store_true", help="print the whole answer as JSON instead of the table")
    show.set_defaults(run=lambda chosen: demo(chosen.port, whole=chosen.json))


def _documents(commands: Commands) -> None:
    describe = commands.add_parser(
        "openapi",
        help="print the OpenAPI document of what is served",
        description="Prints the OpenAPI 3.1 document of every calculation and rule set that is installed, as JSON.",
    )
    describe.set_defaults(run=_openapi)

    listed = commands.add_parser("calculations", help="list the calculations that are installed, or tell everything about one")
    listed.add_argument("id", nargs="?", metavar="ID", help="print this one's schemas, bounds, findings and example as JSON")
    listed.set_defaults(run=lambda chosen: list_calculations(chosen.id))


def _calls(commands: Commands) -> None:
    failed = f"{NO_SUCH} where the file or the calculation is not there, {REFUSED} where the request is refused"
    one = commands.add_parser(
        "call",
        help="answer the request in a file, without a server",
        description="Prints the answer as JSON, the same as over HTTP.",
        epilog=f"Exit code: 0 with an answer; {failed}, and why is printed to stderr as the problem that HTTP would tell.",
    )
    one.add_argument("id", metavar="ID", help="a calculation, such as plate-margin")
    one.add_argument("file", metavar="FILE", help="its request as JSON; - reads it from stdin")
    one.add_argument("--minimal", action="store_true", help="leave working, references and cautions out")
    one.set_defaults(run=lambda chosen: call(chosen.id, chosen.file, minimal=chosen.minimal))

    codes = ", ".join(f"{code} {verdict.replace('_', ' ')}" for verdict, code in VERDICT_CODES.items())
    survey = commands.add_parser(
        "check",
        help="judge the survey in a file, without a server; the exit code is the verdict",
        description="Prints verdict, zones, findings and advice of a survey, a request of hull-survey, as a person reads them.",
        epilog=f"Exit code: {codes}; {failed}.",
    )
    survey.add_argument("file", metavar="FILE", help="the survey as JSON; - reads it from stdin")
    survey.set_defaults(run=lambda chosen: check(chosen.file))


def _serve(chosen: argparse.Namespace) -> int:
    """Become the gunicorn master, in this process: what it has imported is not imported again.

    Its only children are workers, and signals reach it directly.
    """
    # What keeps the service from starting is told in a line here, not in a worker's traceback.
    installed()
    bind = ["--bind", chosen.bind] if chosen.bind else []
    # gunicorn reads its own arguments, and starts a successor (SIGUSR2) with them.
    sys.argv = [str(Path(sys.executable).with_name("gunicorn")), "-c", f"python:{server.__name__}", *bind]
    run(prog="gunicorn")
    return 0


def _openapi(_chosen: argparse.Namespace) -> int:
    described = orjson.dumps(document(load_registry()), option=orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE)
    sys.stdout.buffer.write(described)
    return 0
