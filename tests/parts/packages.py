"""Debian packages that the tests' servers come from: installed as root, named to anybody else."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

_APT = ["apt-get", "-qq", "-o", "DPkg::Lock::Timeout=300"]


class MissingPartError(Exception):
    """A part of the machine that the tests need; the text says what to install."""


def debian() -> int:
    """The major release of this Debian, 0 where it is another system."""
    try:
        major = Path("/etc/debian_version").read_text().split(".")[0].strip()
    except FileNotFoundError:
        return 0
    return int(major) if major.isdigit() else 0


def program(name: str, package: str) -> Path:
    """Where a program is; MissingPartError if it is not installed."""
    found = shutil.which(name, path=os.environ.get("PATH", "") + os.pathsep + "/usr/sbin" + os.pathsep + "/sbin")
    if found is None:
        raise MissingPartError(f"{name} is not installed; install Debian's package {package}, or `make test` as root")
    return Path(found)


def install(*packages: str) -> None:
    """Install as root; MissingPartError naming them where that cannot be done."""
    if os.geteuid() != 0 or shutil.which("apt-get") is None:
        raise MissingPartError(
            f"not installed: {', '.join(packages)}; install them from Debian's packages, or run `make test` as root"
        )
    env = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for command in (["update"], ["install", "-y", "--no-install-recommends", *packages]):
        done = subprocess.run([*_APT, *command], env=env, capture_output=True, text=True, check=False)
        if done.returncode != 0:
            raise MissingPartError(f"could not install {', '.join(packages)}: {done.stderr.strip()[-500:]}")
