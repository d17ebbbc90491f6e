"""An MQTT broker of one's own, in pure Python, on loopback.

It keeps no messages over its own restart and takes any client of this machine: enough for a demo and for trying out.
A facility names a real broker in WICKWATCH_MQTT_URL. Not here: topics and payloads.
"""

from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path

from wickwatch.embedded import child
from wickwatch.embedded.ports import free_port, wait_for_port


class Broker:
    """One embedded broker, as a child process."""

    def __init__(self, home: Path) -> None:
        self.log = home / "log" / "broker.log"
        self.process: subprocess.Popen[bytes] | None = None
        self.url = ""

    def start(self) -> None:
        """Start and wait until it takes connections. Raises UnavailableError."""
        port = free_port()
        self.process = child.start([sys.executable, "-m", "wickwatch.embedded.broker_process", str(port)], self.log)
        wait_for_port(port, self.process, "embedded broker", self.log)
        self.url = f"mqtt://127.0.0.1:{port}"

    def stop(self) -> None:
        """End it."""
        if self.process is not None:
            child.stop(self.process, signal.SIGTERM, 5.0)
