"""A real SMTP server that keeps what it is sent, and can be told to refuse.

Not here: reading what a mail says; the messages are the standard library's `EmailMessage`.
"""

from __future__ import annotations

import email
import email.policy
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from email.message import EmailMessage
from typing import Any, cast

from aiosmtpd.controller import Controller

from tests.parts.process import free_port, wait_until


@dataclass(frozen=True)
class Mail:
    """One message as it arrived, with the envelope that brought it."""

    sender: str
    recipients: tuple[str, ...]
    message: EmailMessage
    arrived: float = field(default_factory=time.time)

    @property
    def text(self) -> str:
        """The plain text part."""
        part = self.message.get_body(("plain",))
        return "" if part is None else str(part.get_content())


@dataclass
class Mailbox:
    """Everything that arrived, oldest first. `refusal` is an SMTP answer to give instead of taking a message."""

    port: int
    host: str = "127.0.0.1"
    mails: list[Mail] = field(default_factory=list)
    refusal: str | None = None
    refused: int = 0

    @property
    def url(self) -> str:
        """The server's address as the settings take it."""
        return f"smtp://{self.host}:{self.port}"

    def wait_for(self, count: int, limit_s: float = 15.0) -> list[Mail]:
        """The mails, once there are at least `count`."""
        wait_until(lambda: len(self.mails) >= count, f"{count} mails (there are {len(self.mails)})", limit_s)
        return list(self.mails)

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:  # aiosmtpd's name
        """Take one message, or refuse it."""
        if self.refusal is not None:
            self.refused += 1
            return self.refusal
        message = cast(EmailMessage, email.message_from_bytes(envelope.content, policy=email.policy.default))
        self.mails.append(Mail(envelope.mail_from, tuple(envelope.rcpt_tos), message))
        return "250 OK"


@contextmanager
def running() -> Iterator[Mailbox]:
    """An SMTP server of one's own, in a thread."""
    mailbox = Mailbox(free_port())
    controller = Controller(mailbox, hostname=mailbox.host, port=mailbox.port)
    controller.start()
    try:
        yield mailbox
    finally:
        controller.stop()
