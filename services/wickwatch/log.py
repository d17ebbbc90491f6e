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


class _OfLibraries(logging.Formatter):
    """What a library warns of as one event, so that whoever reads the log by machine can."""

    def format(self, record: logging.LogRecord) -> str:
        error = f" error={_field(repr(record.exc_info[1]))}" if record.exc_info and record.exc_info[1] else ""
        said = f"library.warned logger={_field(record.name)} message={_field(record.getMessage())}{error}"
        as_event = logging.LogRecord(record.name, record.levelno, record.pathname, record.lineno, "%s", (said,), None)
        as_event.created, as_event.msecs, as_event.process = record.created, record.msecs, record.process
        return super().format(as_event)


class _Stream(logging.StreamHandler[TextIO]):
    """Ours, so that it is told from other handlers of the root when it is set again."""

    def __init__(self, stream: TextIO, formatter: type[logging.Formatter]) -> None:
        super().__init__(stream)
        made = formatter("%(asctime)s.%(msecs)03dZ %(process)d %(levelname)s %(message)s", "%Y-%m-%dT%H:%M:%S")
        made.converter = time.gmtime
        self.setFormatter(made)


def to_stream(stream: TextIO = sys.stderr, level: int = logging.INFO) -> None:
    """Send events, and what libraries warn of, to a stream with UTC time and process; called once by each command."""
    _LOGGER.handlers[:] = [_Stream(stream, logging.Formatter)]
    _LOGGER.setLevel(level)
    _LOGGER.propagate = False
    root = logging.getLogger()
    root.handlers[:] = [each for each in root.handlers if not isinstance(each, _Stream)]
    root.addHandler(_Stream(stream, _OfLibraries))
