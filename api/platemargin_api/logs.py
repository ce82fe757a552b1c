"""The log: one JSON object a line, on standard output, for machines to read."""

from __future__ import annotations

import logging
import sys
from datetime import UTC, datetime
from typing import Any

import orjson

__all__ = ["JsonLines", "configure"]

_OURS = "platemargin_api"
#: What sends spans tells where it cannot.
_SENDER = "opentelemetry"


class JsonLines(logging.Formatter):
    """A record as a line of JSON; what a record says beyond its message is its member `told`."""

    def format(self, record: logging.LogRecord) -> str:
        """Return the line."""
        told: dict[str, Any] = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "event": record.getMessage(),
            **getattr(record, "told", {}),
        }
        if record.exc_info:
            told["traceback"] = self.formatException(record.exc_info)
        return orjson.dumps(told, default=str).decode()


def configure(*, requests: bool) -> None:
    """Write the service's log to standard output: what went wrong, and, if so chosen, a line for each request."""
    handler = logging.StreamHandler(sys.stdout)
    handler.setFormatter(JsonLines())
    for name, level in ((_OURS, logging.INFO if requests else logging.WARNING), (_SENDER, logging.WARNING)):
        logger = logging.getLogger(name)
        logger.handlers[:] = [handler]
        logger.setLevel(level)
        logger.propagate = False
