"""What the long studies share: a size for every day and one for `make simulate`, and a place for their tables."""

import os
from pathlib import Path
from types import SimpleNamespace

import pytest

LONG = os.environ.get("PLATEMARGIN_SIMULATIONS") == "long"
TABLES = Path(__file__).parents[2] / "build" / "simulate"


def _table(title, header, rows):
    """Write a study's table in Markdown, for DEVELOPERS.md; a short run is no result and writes none."""
    if not LONG:
        return
    lines = [f"**{title}**", "", *(f"| {' | '.join(map(str, row))} |" for row in [header, ["---"] * len(header), *rows]), ""]
    TABLES.mkdir(parents=True, exist_ok=True)
    name = "".join(letter if letter.isalnum() else "-" for letter in title.lower())
    (TABLES / f"{name}.md").write_text("\n".join(lines) + "\n")


@pytest.fixture(scope="session")
def study():
    """Return a study's means: `size(short, long)` draws, and `table(title, header, rows)`.

    Seeds are fixed: a study says the same at every run of its size. Each bound that is asserted holds at both sizes, with
    the sampling error of the size allowed for.
    """
    return SimpleNamespace(long=LONG, size=lambda short, long: long if LONG else short, table=_table)
