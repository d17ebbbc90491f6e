"""Child processes that never outlive the command that started them.

On Linux the kernel itself ends a child when its parent dies, however that happens; elsewhere a normal stop ends it.
Not here: which children there are (`cli.processes`).
"""

from __future__ import annotations

import ctypes
import signal
import subprocess
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import IO

_PR_SET_PDEATHSIG = 1


def die_with_parent(wanted: signal.Signals) -> Callable[[], None] | None:
    """For a child to run before its program starts: ask the kernel for `wanted` when the parent is gone."""
    if sys.platform != "linux":
        return None
    prctl = ctypes.CDLL(None).prctl

    def ask() -> None:
        prctl(_PR_SET_PDEATHSIG, int(wanted))

    return ask


def start(
    command: Sequence[str | Path], log: Path | IO[bytes], env: Mapping[str, str] | None = None, wanted: signal.Signals = signal.SIGTERM
) -> subprocess.Popen[bytes]:
    """Start a child in its own process group, so that Ctrl-C reaches only the parent, which stops children in order."""
    out = log.open("ab") if isinstance(log, Path) else log
    try:
        return subprocess.Popen(
            [str(part) for part in command],
            stdin=subprocess.DEVNULL,
            stdout=out,
            stderr=subprocess.STDOUT,
            env=dict(env) if env is not None else None,
            process_group=0,
            preexec_fn=die_with_parent(wanted),
        )
    finally:
        if isinstance(log, Path):
            out.close()


def stop(child: subprocess.Popen[bytes], gently: signal.Signals, patience_s: float) -> None:
    """Ask a child to end; end it after `patience_s`."""
    if child.poll() is None:
        child.send_signal(gently)
        try:
            child.wait(patience_s)
        except subprocess.TimeoutExpired:
            child.kill()
            child.wait()
