"""Install what this machine lacks for the tests' real parts: `python -m tests.parts`.

Does nothing, quickly, where all of it is there. Not here: starting anything.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

from tests.parts import broker, browser, containers, packages, timescale
from tests.parts.packages import MissingPartError


def main() -> int:
    """Provide each part; one sentence on standard error and 1 where one cannot be had."""
    try:
        _provide("a broker", broker.describe, lambda: packages.install("mosquitto"))
        _provide("a browser", browser.executable, lambda: packages.install("chromium"))
        if not containers.provide():
            _provide("PostgreSQL with TimescaleDB", timescale.binaries, timescale.provide)
    except MissingPartError as missing:
        print(f"Tests need real servers: {missing}", file=sys.stderr)
        return 1
    return 0


def _provide(what: str, look: Callable[[], object], install: Callable[[], object]) -> None:
    try:
        look()
    except MissingPartError:
        print(f"Installing {what} (once)", flush=True)
        start = time.monotonic()
        install()
        look()
        print(f"Installed {what} in {time.monotonic() - start:.0f} s", flush=True)


if __name__ == "__main__":
    sys.exit(main())
