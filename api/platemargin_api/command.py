"""The command: ``platemargin serve``, ``platemargin demo``, ``platemargin openapi``."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

import orjson
from gunicorn.app.wsgiapp import run

# The server's module comes first: it says how many threads numpy may start.
from platemargin_api import server
from platemargin_api.answer import SERVICE_VERSION
from platemargin_api.demo import demo
from platemargin_api.openapi import document
from platemargin_api.registry import RegistryError, load_registry

__all__ = ["main"]


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

    serve = commands.add_parser("serve", help="start the service; WEB_CONCURRENCY sets the number of workers")
    serve.add_argument("--bind", metavar="HOST:PORT", help="address to listen at (default 127.0.0.1:8000)")
    serve.set_defaults(run=_serve)

    show = commands.add_parser("demo", help="start the service, post a survey of an invented boat, show the answer, stop")
    show.add_argument("--port", type=int, default=8000, help="port to try first (default 8000); another if it is taken")
    show.add_argument("--json", action="store_true", help="print the whole answer as JSON instead of the table")
    show.set_defaults(run=lambda chosen: demo(chosen.port, whole=chosen.json))

    describe = commands.add_parser("openapi", help="print the OpenAPI document of what is served")
    describe.set_defaults(run=_openapi)
    return parser


def _serve(chosen: argparse.Namespace) -> int:
    """Become the gunicorn master, in this process: what it has imported is not imported again.

    Its only children are workers, and signals reach it directly.
    """
    # What keeps the service from starting is told in a line here, not in a worker's traceback.
    load_registry()
    bind = ["--bind", chosen.bind] if chosen.bind else []
    # gunicorn reads its own arguments, and starts a successor (SIGUSR2) with them.
    sys.argv = [str(Path(sys.executable).with_name("gunicorn")), "-c", f"python:{server.__name__}", *bind]
    run(prog="gunicorn")
    return 0


def _openapi(_chosen: argparse.Namespace) -> int:
    described = orjson.dumps(document(load_registry()), option=orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE)
    sys.stdout.buffer.write(described)
    return 0
