"""``platemargin portfolio``: its options, what it prints, and its exit codes. What it needs is imported when it is run."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from platemargin_api.calls import NO_SUCH, REFUSED, named
from platemargin_api.portfolio.columns import HULL, Asked
from platemargin_api.portfolio.refused import InputError, MissingExtraError, of_extra
from platemargin_api.registry import Served, load_registry

__all__ = ["SOME_REJECTED", "add_options", "run"]

#: Exit codes: 0 where every row is answered; as of the other commands where a part is missing or the input is refused.
NOT_INSTALLED, SOME_REJECTED, STOPPED = 1, 5, 130

DESCRIPTION = """\
Answers files of readings (Parquet, CSV, Arrow), or a folder of them, row by row, and tells what they say of each hull.

A column is a member of the calculation's request, the hull, or named here; any other is refused before anything is done.
Into OUT, which is made, go
  answers/NAME.parquet   every answered row: where it stood, its hull, what is kept, result, finding_codes
  rejects/NAME.csv       every other row and why; not there where all are answered
  hulls.parquet          each hull: verdict, rows, answered, rejected, worst reading, years_low, finding_codes
  manifest.json          counts, versions and digests

Run it again after it was stopped or killed, or with inputs added or changed: what is done is not done again.
"""
EPILOG = f"""\
Exit code: 0 with every row answered, {SOME_REJECTED} with rejects; {NO_SUCH} where IN or the calculation is not there,
{REFUSED} where an input is refused, {STOPPED} where it is stopped; {NOT_INSTALLED} where the extra is not installed,
which pip install 'platemargin[portfolio]' does.
"""


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command to its parser."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.description = DESCRIPTION
    parser.epilog = EPILOG
    parser.add_argument("source", metavar="IN", type=Path, help="a file, or a folder of files and folders")
    parser.add_argument("target", metavar="OUT", type=Path, help="a folder of its own, not within IN")
    parser.add_argument("--calculation", metavar="ID", default="plate-margin", help="an elementwise one (default plate-margin)")
    hulls = parser.add_mutually_exclusive_group()
    hulls.add_argument("--hull-column", metavar="NAME", default=HULL, help="the column that names the hull (default hull)")
    hulls.add_argument("--no-hulls", action="store_true", help="answer rows without telling what they say of hulls")
    parser.add_argument(
        "--column", metavar="NAME=MEMBER", action="append", default=[], type=_renamed, help="which member a column holds"
    )
    parser.add_argument("--keep", metavar="NAME", action="append", default=[], help="carry a column along into the answers")
    parser.add_argument(
        "--scheduler", metavar="ADDRESS", help="have it done by the workers of a Dask scheduler, tcp://HOST:PORT"
    )


def _renamed(text: str) -> tuple[str, str]:
    name, equals, member = text.rpartition("=")
    if not (name and equals and member):
        raise argparse.ArgumentTypeError(f"{text!r} is not NAME=MEMBER")
    return name, member


def run(chosen: argparse.Namespace) -> int:
    """Run the command; return its exit code."""
    served = named(load_registry(), chosen.calculation)
    if served is None:
        return NO_SUCH
    if not chosen.source.exists():
        return _failed(f"{chosen.source} is not there", NO_SUCH)
    try:
        return _told(_outcome(served, chosen))
    except MissingExtraError as error:
        return _failed(str(error), NOT_INSTALLED)
    except (InputError, OSError) as error:
        return _failed(str(error), REFUSED)
    except KeyboardInterrupt:
        return _failed("stopped; run it again, and it goes on from there", STOPPED)


def _outcome(served: Served, chosen: argparse.Namespace) -> Any:
    if not served.offered.elementwise:
        raise InputError(f"{chosen.calculation} is not elementwise: it does not answer rows")
    hull = None if chosen.no_hulls else chosen.hull_column
    asked = Asked(chosen.calculation, hull, tuple(chosen.column), tuple(dict.fromkeys(chosen.keep)))
    runner = of_extra("platemargin_api.portfolio.run", "portfolio")
    return runner.portfolio(chosen.source, chosen.target, asked, chosen.scheduler)


def _failed(why: str, code: int) -> int:
    sys.stderr.write(f"{why}\n")
    return code


def _told(outcome: Any) -> int:
    """Print what became of the inputs; return the exit code."""
    told = outcome.told
    rejects = " (rejects/ says why)" if told["rejected"] else ""
    sys.stdout.write(f"{told['rows']:,} rows: {told['answered']:,} answered, {told['rejected']:,} rejected{rejects}\n")
    if told["hulls"] is not None:
        counts = ", ".join(f"{count:,} {verdict.replace('_', ' ')}" for verdict, count in told["hulls"].items())
        sys.stdout.write(f"{sum(told['hulls'].values()):,} hulls: {counts}\n")
    if told["without_hull"]:
        sys.stdout.write(
            f"{told['without_hull']:,} of the rejected rows name no hull: they may be of any, and no verdict knows of them\n"
        )
    for name in outcome.passed_over:
        sys.stderr.write(f"{name}: passed over, its name does not end as one of readings does\n")
    for failure in outcome.failed:
        sys.stderr.write(f"{failure}\n")
    if outcome.failed:
        return _failed("Not every input is answered: there is no roll-up. Run it again when that is put right.", REFUSED)
    return SOME_REJECTED if told["rejected"] else 0
