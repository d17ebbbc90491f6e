"""The embedded mail server's own process: `python -m wickwatch.embedded.mailbox_process PORT FOLDER` until SIGTERM."""

from __future__ import annotations

import signal
import sys
import time
from pathlib import Path

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session


class _Keep:
    """Writes each message to a file of its own, under a name that sorts by time."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802
        name = time.strftime("%Y%m%dT%H%M%S", time.gmtime()) + f"-{time.time_ns() % 1_000_000_000:09d}.eml"
        content = envelope.original_content or b""
        unfinished = self._folder / f".{name}"
        unfinished.write_bytes(b"X-Envelope-To: " + ", ".join(envelope.rcpt_tos).encode() + b"\r\n" + content)
        unfinished.rename(self._folder / name)
        return "250 kept"


def _serve(port: int, folder: Path) -> None:
    controller = Controller(_Keep(folder), hostname="127.0.0.1", port=port)
    controller.start()
    signal.sigwait({signal.SIGTERM, signal.SIGINT})
    controller.stop()


if __name__ == "__main__":
    signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGTERM, signal.SIGINT})  # for the threads to come, too
    _serve(int(sys.argv[1]), Path(sys.argv[2]))
