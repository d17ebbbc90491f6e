"""An MQTT broker of one's own, in pure Python, on loopback.

It keeps no messages over its own restart and takes any client of this machine: enough for a demo and for trying out.
A facility names a real broker in WICKWATCH_MQTT_URL. Not here: topics and payloads.
"""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

from wickwatch.embedded import child
from wickwatch.embedded.ports import free_port
from wickwatch.errors import UnavailableError


class Broker:
    """One embedded broker, as a child process."""

    def __init__(self, home: Path) -> None:
        self.log = home / "log" / "broker.log"
        self.process: subprocess.Popen[bytes] | None = None
        self.url = ""

    def start(self, patience_s: float = 20.0) -> None:
        """Start and wait until it takes connections. Raises UnavailableError."""
        port = free_port()
        self.process = child.start(
            [sys.executable, "-m", "wickwatch.embedded.broker_process", str(port)],
            self.log,
        )
        self.url = f"mqtt://127.0.0.1:{port}"
        until = time.monotonic() + patience_s
        while True:
            try:
                socket.create_connection(("127.0.0.1", port), 1).close()
                return
            except OSError as error:
                if self.process.poll() is not None or time.monotonic() > until:
                    self.stop()
                    raise UnavailableError("embedded broker", f"see {self.log}") from error
                time.sleep(0.05)

    def stop(self) -> None:
        """End it."""
        if self.process is not None:
            child.stop(self.process, signal.SIGTERM, 5.0)
