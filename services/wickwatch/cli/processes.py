"""Several services as one process tree: started in order, watched, and stopped in the opposite order.

When one of them ends by itself, all are stopped and the command says which one and where its log is: half a system
that looks alive is worse than none, and whatever starts this command can start it again. Not here: which services
there are (`run`, `demo`).
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from wickwatch.embedded import child
from wickwatch.errors import UnavailableError
from wickwatch.settings import PREFIX, Settings, variable

_PATIENCE_S = 15.0


@dataclass(frozen=True)
class Part:
    """One service: a name for people, its command, and the file its output is appended to."""

    name: str
    command: Sequence[str]
    log: Path


class Tree:
    """The running parts; what was started from outside (an embedded server) may be added to be watched, too."""

    def __init__(self) -> None:
        self._running: list[tuple[str, subprocess.Popen[bytes], Path]] = []

    def start(self, part: Part, env: Mapping[str, str]) -> None:
        """Start a part."""
        part.log.parent.mkdir(parents=True, exist_ok=True)
        self.watch(part.name, child.start(part.command, part.log, env), part.log)

    def watch(self, name: str, process: subprocess.Popen[bytes] | None, log: Path) -> None:
        """Watch a process that was started elsewhere."""
        if process is not None:
            self._running.append((name, process, log))

    def forget(self, name: str) -> None:
        """Leave a process to whoever started it."""
        self._running = [each for each in self._running if each[0] != name]

    def check(self) -> None:
        """Raise UnavailableError for the first part that ended by itself."""
        for name, process, log in self._running:
            code = process.poll()
            if code is not None:
                raise UnavailableError(
                    name,
                    f"{_ending(code)}, so all is stopped; its last words are in {log}",
                )

    def wait(self, stop: threading.Event) -> None:
        """Return when `stop` is set; raise UnavailableError when a part ends before."""
        while not stop.wait(0.3):
            self.check()

    def wait_for(
        self,
        ready: Callable[[], bool],
        what: str,
        patience_s: float,
        stop: threading.Event,
    ) -> None:
        """Wait until `ready` says so; raise UnavailableError when it does not in time or a part ends."""
        until = time.monotonic() + patience_s
        while not stop.is_set() and not ready():
            self.check()
            if time.monotonic() > until:
                raise UnavailableError(what, f"not ready within {patience_s:.0f} s")
            time.sleep(0.1)

    def stop(self) -> None:
        """Stop all parts, the last started first."""
        for _, process, _ in reversed(self._running):
            child.stop(process, signal.SIGTERM, _PATIENCE_S)
        self._running.clear()


@contextmanager
def stopping() -> Iterator[threading.Event]:
    """An event that SIGINT and SIGTERM set, while the block runs."""
    stop = threading.Event()
    before = {number: signal.signal(number, lambda *_: stop.set()) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def service(name: str, log_folder: Path, *arguments: str) -> Part:
    """One of our own services as a part."""
    return Part(
        name,
        [sys.executable, "-m", "wickwatch", name, *arguments],
        log_folder / f"{name}.log",
    )


def environment(settings: Settings) -> dict[str, str]:
    """The environment of a child: ours, with these settings in place of those given."""
    kept = {name: value for name, value in os.environ.items() if not name.upper().startswith(PREFIX)}
    given = settings.model_dump()
    return kept | {variable(field): str(value) for field, value in given.items() if value}


def _ending(code: int) -> str:
    if code < 0:
        return f"it was ended by {signal.Signals(-code).name}"
    return f"it ended with code {code}"
