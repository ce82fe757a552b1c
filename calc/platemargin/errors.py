"""What the calculations raise.

::

    PlatemarginError
    +-- NotApplicableError      each value is in its range, together they describe nothing real
    +-- RuleSetError            a rule or rule set that contradicts itself
"""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["NotApplicableError", "PlatemarginError", "RuleSetError"]


class PlatemarginError(ValueError):
    """The root: catch it to catch everything that this package raises on purpose."""


class NotApplicableError(PlatemarginError):
    """Values that are each in range but together describe nothing real.

    Parameters
    ----------
    faults : sequence of (code, path, message)
        Every relation that is broken; `path` leads to the argument, and the member within it, to change.
    """

    def __init__(self, faults: Sequence[tuple[str, tuple[str | int, ...], str]]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(f"{'.'.join(map(str, path))}: {message}" for _, path, message in self.faults))


class RuleSetError(PlatemarginError):
    """A rule or a rule set that contradicts itself; the message names it and says what to change."""
