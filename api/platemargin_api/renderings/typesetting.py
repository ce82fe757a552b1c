"""Words and tables set as PDF: which letters the fonts have, and one document at a time.

Needs the extra ``platemargin[pdf]``. The fonts are those of this package and of typst; the machine's own are left out.
"""

from __future__ import annotations

import subprocess
import sys
import unicodedata
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from threading import Lock
from typing import Any

from fontTools.ttLib import TTFont

from platemargin_api.renderings.words import END, ISOLATE, REPLACEMENT

__all__ = ["Letters", "set_as_pdf"]

_HERE = Path(__file__).parent
_FONTS = _HERE / "fonts"
#: What nobody sees and every font is spared.
_UNSEEN = {ord("\n"), ord(ISOLATE), ord(END)}
_MOST_NAMED = 20
#: Longer than any document takes on a machine that does nothing else, by far.
_MOST_SECONDS = 300
#: A long document takes hundreds of MB while it is set: two at once would take twice that, and be no sooner done.
_one_at_a_time = Lock()


class Letters:
    """The letters that can be set; those that could not are kept to be told."""

    def __init__(self) -> None:
        self.missing: set[str] = set()

    def settable(self, value: Any) -> Any:
        """Return a copy of members, items and names in which every letter can be set; others are the replacement character."""
        if isinstance(value, str):
            return value if value.isascii() else "".join(map(self._settable, value))
        if isinstance(value, Mapping):
            return {self.settable(name): self.settable(member) for name, member in value.items()}
        return [self.settable(item) for item in value] if isinstance(value, (list, tuple)) else value

    def _settable(self, letter: str) -> str:
        if ord(letter) in _letters():
            return letter
        self.missing.add(letter)
        return REPLACEMENT

    def note(self) -> Iterable[str]:
        """Yield a sentence on the letters that could not be set, where there are any."""
        if self.missing:
            named = [_named(letter) for letter in sorted(self.missing)]
            more = f" and {len(named) - _MOST_NAMED} more" if len(named) > _MOST_NAMED else ""
            yield (
                f"Letters that the fonts of this document lack stand in it as {REPLACEMENT}: {', '.join(named[:_MOST_NAMED])}"
                f"{more}. The same report as a page (text/html) and the answer in JSON have them."
            )


def _named(letter: str) -> str:
    """Return a letter's number in Unicode and its name.

    Examples
    --------
    >>> _named(chr(0x1F6A2))
    'U+1F6A2 (ship)'
    """
    name = unicodedata.name(letter, "")
    return f"U+{ord(letter):04X}" + (f" ({name.lower()})" if name else "")


@cache
def _letters() -> frozenset[int]:
    """Return which characters every weight of the package's own font has; typst's fonts are asked first, and may have more."""
    return frozenset.intersection(*map(_letters_of, _FONTS.glob("*.ttf"))) | _UNSEEN


def _letters_of(font: Path) -> frozenset[int]:
    with TTFont(font, lazy=True) as opened:
        return frozenset(opened.getBestCmap())


def set_as_pdf(template: str, words: bytes) -> bytes:
    """Return a document: a template of this package, filled with words in JSON that it reads as data.

    It is set by a process of its own: typst keeps what it computed for the next document, hundreds of MB that way go back.
    """
    program = [sys.executable, "-P", "-m", "platemargin_api.renderings.typeset"]
    command = [*program, str(_HERE / "templates" / template), str(_FONTS)]
    with _one_at_a_time:
        done = subprocess.run(command, input=words, capture_output=True, check=False, timeout=_MOST_SECONDS)  # noqa: S603
    # What the process says of it may quote the survey, of which nothing is logged.
    if done.returncode:
        raise RuntimeError(f"{template} could not be set (exit status {done.returncode})")
    return done.stdout
