"""A long-running service started from the command line and stopped by a signal.

Not here: what a service does, nor several of them in one process tree (`run` and `demo`).
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable
from types import FrameType

from wickwatch import log
from wickwatch.cli.database import database_url
from wickwatch.settings import Settings


def serve(name: str, run: Callable[[Settings, threading.Event], None], settings: Settings) -> int:
    """Run a service until SIGTERM or SIGINT; a second one ends it at once. Returns the exit code."""
    stop = threading.Event()

    def ask(number: int, frame: FrameType | None) -> None:
        if stop.is_set():
            raise KeyboardInterrupt
        stop.set()

    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, ask)
    with database_url(settings) as url:
        log.event("service.start", service=name)
        run(settings.model_copy(update={"database_url": url}), stop)
        log.event("service.stop", service=name)
    return 0
