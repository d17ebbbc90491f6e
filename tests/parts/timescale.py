"""PostgreSQL with TimescaleDB, from whatever this machine can have.

In order: a server with the extension already installed; Debian 13's package; on an older Debian a Debian 13 tree in a
cache folder, which the server gets as its root directory. The last needs root. No container here: see `containers`.
"""

from __future__ import annotations

import fcntl
import os
import shutil
import subprocess
from pathlib import Path

from tests.parts.packages import MissingPartError, debian, install
from tests.parts.postgres import Binaries

_PACKAGE = "postgresql-17-timescaledb"
#: What the extension needs beside `postgres.SETTINGS`.
PRELOAD = {
    "shared_preload_libraries": "timescaledb",
    "timescaledb.telemetry_level": "off",
    "timescaledb.max_background_workers": "24",
}
_HELP = (
    f"no PostgreSQL with TimescaleDB: install {_PACKAGE} (Debian 13 has it), start a container engine, "
    "or run `make test` as root once, which installs it"
)


def binaries() -> Binaries:
    """An installed TimescaleDB; MissingPartError says what to install where there is none."""
    for library in sorted(Path("/usr/lib/postgresql").glob("*/lib/timescaledb.so"), reverse=True):
        return Binaries("timescaledb", library.parents[1], PRELOAD)
    tree = _tree()
    if os.geteuid() == 0 and _works(tree):
        return Binaries("timescaledb", Path("/usr/lib/postgresql/17"), PRELOAD, root=tree)
    raise MissingPartError(_HELP)


def provide() -> Binaries:
    """An installed TimescaleDB, installing it first where this machine lacks it and we may."""
    try:
        return binaries()
    except MissingPartError:
        if os.geteuid() != 0 or not debian():
            raise
    if debian() >= 13:
        install(_PACKAGE)
    else:
        _make_tree(_tree())
    return binaries()


def _tree() -> Path:
    cache = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return cache / "wickwatch" / "debian-13-timescaledb"


def _works(tree: Path) -> bool:
    """Whether the tree is whole: its server runs in it and the extension is there."""
    if not (tree / "usr/lib/postgresql/17/lib/timescaledb.so").exists():
        return False
    version = subprocess.run(
        ["chroot", str(tree), "/usr/lib/postgresql/17/bin/postgres", "--version"], capture_output=True, check=False
    )
    return version.returncode == 0


def _make_tree(tree: Path) -> None:
    """Build the tree beside its place and move it in whole, one builder at a time."""
    if shutil.which("mmdebstrap") is None:
        install("mmdebstrap")
    tree.parent.mkdir(parents=True, exist_ok=True)
    with (tree.parent / f"{tree.name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if _works(tree):
            return
        fresh = tree.with_name(f"{tree.name}.new")
        for old in (tree, fresh):
            shutil.rmtree(old, ignore_errors=True)
        made = subprocess.run(
            [
                "mmdebstrap",
                "--mode=root",
                "--variant=essential",
                f"--include={_PACKAGE}",
                '--aptopt=APT::Install-Recommends "false"',
                "--dpkgopt=path-exclude=/usr/share/doc/*",
                "--dpkgopt=path-exclude=/usr/share/man/*",
                "--dpkgopt=path-exclude=/usr/share/locale/*",
                "trixie",
                str(fresh),
            ],
            capture_output=True,
            text=True,
            check=False,
        )
        if made.returncode != 0:
            raise MissingPartError(f"could not make a Debian 13 tree for TimescaleDB: {made.stderr.strip()[-500:]}")
        fresh.rename(tree)
