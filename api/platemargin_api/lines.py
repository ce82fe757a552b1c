"""Physical lines of a body that comes in blocks, numbered from 1; a line beyond the limit is passed over, not kept."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

__all__ = ["lines"]


def lines(blocks: Iterable[bytes], limit: int) -> Iterator[tuple[int, bytes | None]]:
    r"""Yield each line with its number, without its LF; None in place of one that is longer than the limit.

    A CR at its end is kept, and does not count.

    Examples
    --------
    >>> list(lines([b"ab\r\nc", b"d\n\nlonger than that\nx"], 4))
    [(1, b'ab\r'), (2, b'cd'), (3, b''), (4, None), (5, b'x')]
    """
    number, held, lost = 0, b"", False
    for block in blocks:
        *ended, held = (held + block).split(b"\n")
        for line in ended:
            number += 1
            yield number, None if lost else _within(line, limit)
            lost = False
        # One more than the limit, for the CR of the line's end.
        if lost or len(held) > limit + 1:
            held, lost = b"", True
    if held or lost:
        yield number + 1, None if lost else _within(held, limit)


def _within(line: bytes, limit: int) -> bytes | None:
    return line if len(line) - line.endswith(b"\r") <= limit else None
