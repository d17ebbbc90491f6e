"""Child processes that never outlive the command that started them.

On Linux the kernel itself ends a child when its parent dies, however that happens (`setpriv` of util-linux asks for
it between fork and exec, where Python code would not be safe beside threads); elsewhere a normal stop ends it. Not
here: which children there are (`cli.processes`).
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
from collections.abc import Mapping, Sequence
from pathlib import Path

from wickwatch.errors import UnavailableError

_NOBODY = 65534


def start(
    command: Sequence[str | Path],
    log: Path,
    env: Mapping[str, str] | None = None,
    gently: signal.Signals = signal.SIGTERM,
    as_nobody: bool = False,
) -> subprocess.Popen[bytes]:
    """Start a child in its own process group, so that Ctrl-C reaches only the parent, which stops children in order.

    `gently` is the signal it gets when the parent is gone; its output is appended to `log`.
    """
    with log.open("ab") as out:
        return subprocess.Popen(
            [*_prefix(gently, as_nobody), *map(str, command)],
            stdin=subprocess.DEVNULL,
            stdout=out,
            stderr=subprocess.STDOUT,
            env=dict(env) if env is not None else None,
            process_group=0,
        )


def stop(child: subprocess.Popen[bytes], gently: signal.Signals, patience_s: float) -> None:
    """Ask a child to end; end it after `patience_s`."""
    if child.poll() is None:
        child.send_signal(gently)
        try:
            child.wait(patience_s)
        except subprocess.TimeoutExpired:
            child.kill()
            child.wait()


def run_as_nobody(command: Sequence[str | Path], given: bytes) -> subprocess.CompletedProcess[bytes]:
    """Run a command to its end, not as root, with `given` as its input; standard error is in its output."""
    prefix = _prefix(signal.SIGTERM, as_nobody=True)
    return subprocess.run(
        [*prefix, *map(str, command)],
        input=given,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        check=False,
    )


def give_to_nobody(folder: Path) -> None:
    """Where this runs as root, make `nobody` the owner of a folder; elsewhere it is ours already."""
    if os.geteuid() == 0:
        os.chown(folder, _NOBODY, _NOBODY)


def _prefix(gently: signal.Signals, as_nobody: bool) -> list[str]:
    setpriv = shutil.which("setpriv")
    root = as_nobody and os.geteuid() == 0
    if setpriv is None:
        if root:
            raise UnavailableError(
                "setpriv",
                "as root this needs the package util-linux; or start as another user",
            )
        return []
    drop = [f"--reuid={_NOBODY}", f"--regid={_NOBODY}", "--clear-groups",
            "--inh-caps=+dac_override", "--ambient-caps=+dac_override",
            # access(2), with which initdb looks for its own programs, would else leave the right out.
            "--securebits=+no_setuid_fixup"]  # fmt: skip
    return [
        setpriv,
        *(drop if root else []),
        f"--pdeathsig={gently.name.removeprefix('SIG')}",
    ]
