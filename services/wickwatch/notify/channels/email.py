"""E-mail over SMTP: encrypted where the server offers it, signed in where the address says how.

The Message-ID is made from the notice's key, so a mail sent twice after a crash is the same mail to a reader that
looks; calls for the same alarm refer to one another and stand together. The text is whole without the HTML, and the
HTML without its picture. Not here: the HTML (`notify.page`), or the picture.
"""

from __future__ import annotations

import smtplib
import ssl
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from email.errors import MessageError
from email.headerregistry import Address
from email.message import EmailMessage
from email.utils import format_datetime, parseaddr

from wickwatch import log
from wickwatch.notify.channels.channel import Result
from wickwatch.notify.page import page
from wickwatch.notify.picture import Picture
from wickwatch.store.notices import Claimed
from wickwatch.urls import Endpoint

TIMEOUT_S = 15

_LOOPBACK = frozenset({"127.0.0.1", "::1", "localhost"})


#: Gives a notice its picture, None where it has none.
Draw = Callable[[Claimed, datetime], Picture | None]


def no_picture(notice: Claimed, at: datetime) -> None:
    """For mail without pictures."""


class Email:
    """Sends through one mail server; without one every try fails and says what to set."""

    def __init__(self, server: Endpoint | None, sender: str, draw: Draw = no_picture) -> None:
        self._server = server
        self._sender = parseaddr(sender)[1]
        self._draw = draw

    def send(self, notice: Claimed, at: datetime) -> Result:
        """Hand the notice to the mail server."""
        if self._server is None:
            return Result(False, "no mail server is set (WICKWATCH_SMTP_URL)")
        try:
            message = compose(notice, self._sender, at, self._picture(notice, at))
        except (ValueError, MessageError) as error:
            return Result(False, f"not an address mail can go to: {error}", final=True)
        try:
            return self._hand_over(self._server, message)
        except smtplib.SMTPRecipientsRefused as error:
            code, said = next(iter(error.recipients.values()))
            return Result(False, _said(code, said), final=code >= 500)
        except smtplib.SMTPDataError as error:
            return Result(False, _said(error.smtp_code, error.smtp_error), final=error.smtp_code >= 500)
        except smtplib.SMTPResponseException as error:
            return Result(False, _said(error.smtp_code, error.smtp_error))
        except (OSError, smtplib.SMTPException) as error:
            return Result(False, f"{self._server.host}:{self._server.port}: {error or type(error).__name__}")

    def _picture(self, notice: Claimed, at: datetime) -> Picture | None:
        try:
            return self._draw(notice, at)
        except Exception as error:
            # A bug in drawing is loud in the log, and costs nobody their call.
            log.warning("picture.bug", notice=notice.id, error=type(error).__name__, why=error)
            return None

    def _hand_over(self, server: Endpoint, message: EmailMessage) -> Result:
        here = self._sender.rpartition("@")[2]
        context = ssl.create_default_context()
        smtp: smtplib.SMTP = (
            smtplib.SMTP_SSL(server.host, server.port, here, timeout=TIMEOUT_S, context=context)
            if server.tls
            else smtplib.SMTP(server.host, server.port, here, timeout=TIMEOUT_S)
        )
        try:
            smtp.ehlo()
            encrypted = server.tls
            if not encrypted and smtp.has_extn("starttls"):
                smtp.starttls(context=context)
                smtp.ehlo()
                encrypted = True
            if server.username is not None:
                if not encrypted and server.host not in _LOOPBACK:
                    return Result(False, "the mail server offers no encryption, so the password is not sent to it")
                smtp.login(server.username, server.password or "")
            smtp.send_message(message, self._sender, [str(message["To"].addresses[0].addr_spec)])
            return Result(True, f"taken by {server.host}")
        finally:
            # The mail is taken or not by now; how the goodbye goes changes nothing.
            with suppress(OSError, smtplib.SMTPException):
                smtp.quit()
            smtp.close()


def compose(notice: Claimed, sender: str, at: datetime, picture: Picture | None = None) -> EmailMessage:
    """The mail for a notice: text, and HTML with the picture in it. Raises ValueError for an address that is none."""
    if not notice.address.isprintable() or not all(notice.address.rpartition("@")):
        raise ValueError(notice.address)
    domain = sender.rpartition("@")[2]
    message = EmailMessage()
    subject = " ".join(notice.title.split())
    message["Subject"] = subject
    message["From"] = Address("Wickwatch", addr_spec=sender)
    message["To"] = Address(addr_spec=notice.address)
    message["Date"] = format_datetime(at)
    name = notice.key.replace(":", ".")
    message["Message-ID"] = f"<{name}@{domain}>"
    if notice.alarm_id is not None:
        message["References"] = f"<{notice.alarm_id}@{domain}>"
    message["Auto-Submitted"] = "auto-generated"  # RFC 3834: so that no absence notice answers
    message.set_content(notice.body)
    cid = f"day.{name}@{domain}"
    message.add_alternative(page(subject, notice.body, picture, cid), subtype="html")
    if picture is not None:
        parts = message.get_payload()
        assert isinstance(parts, list)
        html = parts[1]
        assert isinstance(html, EmailMessage)
        html.add_related(picture.png, "image", "png", cid=f"<{cid}>", disposition="inline", filename="last-day.png")
    return message


def _said(code: int, said: bytes | str) -> str:
    text = said.decode(errors="replace") if isinstance(said, bytes) else said
    return f"{code} {' '.join(text.split())}"
