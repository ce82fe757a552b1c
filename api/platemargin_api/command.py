"""The command ``platemargin``: the service, its demo, its documents, and calls without a server."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TypeAlias

import orjson

# The server's module comes first: it says how many threads numpy may start.
from platemargin_api import server
from platemargin_api.answer import SERVICE_VERSION
from platemargin_api.callers import known_keys
from platemargin_api.calls import NO_SUCH, REFUSED, VERDICT_CODES, call, check, list_calculations, named
from platemargin_api.demo import demo
from platemargin_api.keys import added_to, new_key, stanza
from platemargin_api.openapi import document
from platemargin_api.portfolio import command as portfolio
from platemargin_api.registry import RegistryError, operators_registry
from platemargin_api.settings import Settings, SettingsError
from platemargin_api.toml_files import FileError
from platemargin_api.wording import hint

__all__ = ["main"]

#: What adds a command to a parser; argparse has no public name for it.
Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"  # noqa: SLF001

_LAST_PORT = 65_535


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; return its exit code."""
    chosen = _chosen(sys.argv[1:] if arguments is None else arguments)
    try:
        return int(chosen.run(chosen))
    except (FileError, RegistryError, SettingsError) as error:
        sys.stderr.write(f"platemargin does not start: {error}\n")
        return 1


def _chosen(arguments: Sequence[str]) -> argparse.Namespace:
    """Return what is asked for; a misspelt command or option ends it with the nearest one, and exit code 2."""
    parser, commands = _parser()
    name = next(iter(arguments), "")
    if name and not name.startswith("-") and name not in commands.choices:
        others = hint(name, commands.choices, otherwise=f"commands are {', '.join(commands.choices)}")
        parser.error(f"no command is called {name!r}{others}")
    chosen, unknown = parser.parse_known_args(arguments)
    if unknown:
        of_command = commands.choices[chosen.command]
        options = re.findall(r"--[a-z][a-z-]*", of_command.format_usage())
        of_command.error(f"{unknown[0]} is not known here{hint(unknown[0], options)}")
    return chosen


def _parser() -> tuple[argparse.ArgumentParser, Commands]:
    parser = argparse.ArgumentParser(
        prog="platemargin",
        description="How much steel an inland boat has left, how fast it goes and when it passes a limit, over HTTP.",
    )
    parser.add_argument("--version", action="version", version=f"platemargin {SERVICE_VERSION}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND", dest="command")
    _service(commands)
    _documents(commands)
    _calls(commands)
    _keys(commands)
    return parser, commands


def _service(commands: Commands) -> None:
    serve = commands.add_parser("serve", help="start the service; WEB_CONCURRENCY sets the number of workers")
    serve.add_argument("--bind", metavar="HOST:PORT", help="address to listen at (default 127.0.0.1:8000)")
    serve.set_defaults(run=_serve)

    show = commands.add_parser("demo", help="start the service, post a survey of an invented boat, show the answer, stop")
    show.add_argument("--port", type=_port, default=8000, help="port to try first (default 8000); another if it is taken")
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

    many = commands.add_parser("portfolio", help="answer files of readings, and tell what they say of each hull")
    portfolio.add_options(many)
    many.set_defaults(run=portfolio.run)


def _keys(commands: Commands) -> None:
    key = commands.add_parser("key", help="make keys for those who may call")
    made = key.add_subparsers(required=True, metavar="COMMAND").add_parser(
        "new",
        help="make a key, show it once, and tell what the file of keys says of it",
        description="Prints a new key, which nobody can show again, and adds its hash to the file of keys (PLATEMARGIN_KEYS), "
        "or prints what to add. A service that runs takes it at once.",
    )
    made.add_argument("name", metavar="NAME", help="whose key it is: letters, digits, . _ and -")
    made.add_argument("--file", type=Path, metavar="FILE", help="the file of keys to add it to; made where there is none")
    made.add_argument("--expires", type=_day, metavar="YYYY-MM-DD", help="the first day on which it does not count")
    made.add_argument(
        "--calculation", action="append", default=[], metavar="ID", help="what it may call, as often as needed; all"
    )
    made.add_argument("--per-minute", type=int, metavar="N", help="how often it may call")
    made.set_defaults(run=_new_key)


def _port(text: str) -> int:
    if not text.isascii() or not text.isdigit() or int(text) > _LAST_PORT:
        raise argparse.ArgumentTypeError(f"{text!r} is no port: a whole number from 0 to {_LAST_PORT}")
    return int(text)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no day of the calendar, written YYYY-MM-DD") from None


def _new_key(chosen: argparse.Namespace) -> int:
    registry = operators_registry(Settings.from_environment()) if chosen.calculation else None
    if registry is not None and any(named(registry, name) is None for name in chosen.calculation):
        return NO_SUCH
    told = stanza(
        chosen.name, key := new_key(), expires=chosen.expires, calculations=chosen.calculation, per_minute=chosen.per_minute
    )
    if chosen.file is None:
        sys.stdout.write(f"{key}\n\n{told}")
        return 0
    added_to(chosen.file, told)
    sys.stdout.write(f"{key}\n")
    return 0


def _serve(chosen: argparse.Namespace) -> int:
    """Become the gunicorn master, in this process: what it has imported is not imported again.

    Its only children are workers, and signals reach it directly.
    """
    # What keeps the service from starting is told in a line here, not in a worker's traceback.
    settings = Settings.from_environment()
    operators_registry(settings)
    known_keys(settings)
    # Loaded here: it fails where a setting that it reads itself is wrong, which was told above.
    from gunicorn.app.wsgiapp import run  # noqa: PLC0415

    bind = ["--bind", chosen.bind] if chosen.bind else []
    # gunicorn reads its own arguments, and starts a successor (SIGUSR2) with them.
    sys.argv = [str(Path(sys.executable).with_name("gunicorn")), "-c", f"python:{server.__name__}", *bind]
    run(prog="gunicorn")
    return 0


def _openapi(_chosen: argparse.Namespace) -> int:
    served = operators_registry(Settings.from_environment())
    described = orjson.dumps(document(served), option=orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE)
    sys.stdout.buffer.write(described)
    return 0
