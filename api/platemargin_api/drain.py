"""Going out of service: for some seconds before it stops, the service answers, and says that it is not ready for more."""

from __future__ import annotations

import mmap
import time
from collections.abc import Callable

__all__ = ["before", "draining"]

#: One byte that the master and its workers share; made before they are forked.
_flag = mmap.mmap(-1, 1)


def draining() -> bool:
    """Tell whether the service is about to stop."""
    return _flag[0] != 0


def before(stop: Callable[[], None], wait: int) -> Callable[[], None]:
    """Return what stops the service after it has said for some seconds that it is not ready."""

    def drained() -> None:
        _flag[0] = 1
        time.sleep(wait)
        stop()

    return drained
