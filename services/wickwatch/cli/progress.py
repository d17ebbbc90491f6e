"""How far a long piece of work is: a bar on a terminal, plain log lines elsewhere, nothing for what is soon done.

Not here: measuring anything. A command tells how much it did; this decides whether and how that is shown.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TextIO

from wickwatch import log

#: Work shorter than this [s] shows nothing; log lines come this far apart [s].
QUIET_S = 2.0
LINE_EVERY_S = 10.0

Advance = Callable[[int], None]


@contextmanager
def progress(
    what: str,
    total: int | None,
    *,
    stream: TextIO | None = None,
    clock: Callable[[], float] = time.monotonic,
) -> Iterator[Advance]:
    """Yield a function to call with each amount done; `total` is None where nobody knows it."""
    out = sys.stderr if stream is None else stream
    with _bar(what, total, out, clock) if out.isatty() else _lines(what, total, clock) as advance:
        yield advance


@contextmanager
def _bar(what: str, total: int | None, out: TextIO, clock: Callable[[], float]) -> Iterator[Advance]:
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    bar = Progress(*columns, console=Console(file=out), transient=True)
    task = bar.add_task(what, total=total)
    began, shown = clock(), False

    def advance(amount: int) -> None:
        nonlocal shown
        bar.advance(task, amount)
        if not shown and clock() - began >= QUIET_S:
            bar.start()
            shown = True

    try:
        yield advance
    finally:
        if shown:
            bar.stop()


@contextmanager
def _lines(what: str, total: int | None, clock: Callable[[], float]) -> Iterator[Advance]:
    done, last = 0, clock() - LINE_EVERY_S + QUIET_S

    def advance(amount: int) -> None:
        nonlocal done, last
        done += amount
        if clock() - last >= LINE_EVERY_S:
            last = clock()
            log.event("progress", what=what, done=done, total="unknown" if total is None else total)

    yield advance
