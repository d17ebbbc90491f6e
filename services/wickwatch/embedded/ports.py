"""Free ports on loopback, asked of the system."""

from __future__ import annotations

import socket
import subprocess
import time
from pathlib import Path

from wickwatch.errors import InputError, UnavailableError


def free_port() -> int:
    """A port that is free now; another program may take it before it is used, which then shows as an error."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def must_be_free(port: int, thing: str) -> None:
    """Raise InputError where something listens on the port already."""
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
        except (OSError, OverflowError) as error:
            raise InputError(
                thing,
                port,
                "a port that no other program uses; choose another, such as --port 8010",
            ) from error


def wait_for_port(port: int, process: subprocess.Popen[bytes], part: str, log: Path, patience_s: float = 60.0) -> None:
    """Wait until a child takes connections; raises UnavailableError when it ends before or takes too long."""
    until = time.monotonic() + patience_s
    while True:
        try:
            socket.create_connection(("127.0.0.1", port), 1).close()
            return
        except OSError as error:
            if process.poll() is not None or time.monotonic() > until:
                process.kill()
                process.wait()
                raise UnavailableError(part, f"its last words are in {log}") from error
            time.sleep(0.05)
