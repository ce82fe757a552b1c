"""Which known name a misspelt one is most like: the one place where names are compared."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

__all__ = ["nearest_name"]

#: So alike have two names to be: two thirds or so of their letters, in order.
_ALIKE = 0.6
#: No name that anybody knows is so long; the time that a comparison takes grows with it.
_LONGEST = 200


def nearest_name(name: str, known: Iterable[str]) -> str | None:
    """Return the known name most like `name`, whatever the case of its letters, or None where none is like it.

    Examples
    --------
    >>> nearest_name("Plat_mm", ["plate_mm", "pit_depth_mm"]), nearest_name("mast", ["plate_mm"])
    ('plate_mm', None)
    """
    if len(name) > _LONGEST:
        return None
    by_letters = {one.lower(): one for one in known}
    return next((by_letters[one] for one in get_close_matches(name.lower(), by_letters, n=1, cutoff=_ALIKE)), None)
