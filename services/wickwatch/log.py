"""Log lines as events with fields: `reading.rejected reason=unit channel=…`, one line each, no prose.

Not here: metrics. Standard `logging` carries the lines, so that any handler works.
"""

from __future__ import annotations

import logging
import sys
import time
from typing import TextIO

_LOGGER = logging.getLogger("wickwatch")


def _field(value: object) -> str:
    text = str(value).replace("\n", "\\n")
    return f'"{text}"' if " " in text or not text else text


def event(name: str, level: int = logging.INFO, /, **fields: object) -> None:
    """Write one event; fields keep the order they are given in."""
    if _LOGGER.isEnabledFor(level):
        _LOGGER.log(level, "%s", " ".join([name, *(f"{key}={_field(value)}" for key, value in fields.items())]))


def warning(name: str, /, **fields: object) -> None:
    """One event that somebody should look at."""
    event(name, logging.WARNING, **fields)


def to_stream(stream: TextIO = sys.stderr, level: int = logging.INFO) -> None:
    """Send events to a stream with UTC time and process id; called once by each command."""
    handler = logging.StreamHandler(stream)
    formatter = logging.Formatter("%(asctime)s.%(msecs)03dZ %(process)d %(levelname)s %(message)s", "%Y-%m-%dT%H:%M:%S")
    formatter.converter = time.gmtime
    handler.setFormatter(formatter)
    _LOGGER.handlers[:] = [handler]
    _LOGGER.setLevel(level)
    _LOGGER.propagate = False
