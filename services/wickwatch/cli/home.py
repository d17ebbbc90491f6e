"""The folder that holds the embedded parts' state: made, written to, and used by one command at a time.

Not here: what is in it.
"""

from __future__ import annotations

import fcntl
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from wickwatch.errors import RefusedError, UnavailableError

#: A server needs this much to begin with; less ends in the middle of writing.
_NEEDED_BYTES = 600_000_000


@contextmanager
def held(home: Path, needed_bytes: int = _NEEDED_BYTES) -> Iterator[Path]:
    """The home folder, ours alone while the block runs; raises UnavailableError where it can't be used."""
    try:
        (home / "log").mkdir(parents=True, exist_ok=True)
        free = shutil.disk_usage(home).free
    except OSError as error:
        raise UnavailableError(f"folder {home}", error.strerror or str(error)) from error
    if free < needed_bytes:
        raise UnavailableError(
            f"disk of {home}",
            f"{free / 1e6:.0f} MB free, {needed_bytes / 1e6:.0f} MB are needed",
        )
    with (home / "held").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            raise RefusedError(f"another wickwatch runs on {home}; stop it first, or set WICKWATCH_HOME") from error
        yield home
