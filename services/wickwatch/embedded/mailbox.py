"""A mail server of one's own on loopback that delivers nothing: it keeps each message as a file.

So a demo shows what would go out, and to whom, without any mail leaving the machine. Not here: writing the mail.
"""

from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path

from wickwatch.embedded import child
from wickwatch.embedded.ports import free_port, wait_for_port


class Mailbox:
    """One embedded mail server, as a child process; `folder` holds what came, one `.eml` file each."""

    def __init__(self, home: Path) -> None:
        self.folder = home / "mail"
        self.log = home / "log" / "mail.log"
        self.process: subprocess.Popen[bytes] | None = None
        self.url = ""

    def start(self) -> None:
        """Start and wait until it takes connections. Raises UnavailableError."""
        self.folder.mkdir(exist_ok=True)
        port = free_port()
        command: list[str | Path] = [sys.executable, "-m", "wickwatch.embedded.mailbox_process", str(port), self.folder]
        self.process = child.start(command, self.log)
        wait_for_port(port, self.process, "embedded mail server", self.log)
        self.url = f"smtp://127.0.0.1:{port}"

    def stop(self) -> None:
        """End it."""
        if self.process is not None:
            child.stop(self.process, signal.SIGTERM, 5.0)
