"""E-mail over SMTP: encrypted where the server offers it, signed in where the address says how.

The Message-ID is made from the notice's key, so a mail sent twice after a crash is the same mail to a reader that
looks; calls for the same alarm refer to one another and stand together. Text only.
"""

from __future__ import annotations

import smtplib
import ssl
from contextlib import suppress
from datetime import datetime
from email.errors import MessageError
from email.headerregistry import Address
from email.message import EmailMessage
from email.utils import format_datetime, parseaddr

from wickwatch.notify.channels.channel import Result
from wickwatch.store.notices import Claimed
from wickwatch.urls import Endpoint

TIMEOUT_S = 15

_LOOPBACK = frozenset({"127.0.0.1", "::1", "localhost"})


class Email:
    """Sends through one mail server; without one every try fails and says what to set."""

    def __init__(self, server: Endpoint | None, sender: str) -> None:
        self._server = server
        self._sender = parseaddr(sender)[1]

    def send(self, notice: Claimed, at: datetime) -> Result:
        """Hand the notice to the mail server."""
        if self._server is None:
            return Result(False, "no mail server is set (WICKWATCH_SMTP_URL)")
        try:
            message = compose(notice, self._sender, at)
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


def compose(notice: Claimed, sender: str, at: datetime) -> EmailMessage:
    """The mail for a notice. Raises ValueError for an address that is none."""
    if not notice.address.isprintable() or not all(notice.address.rpartition("@")):
        raise ValueError(notice.address)
    domain = sender.rpartition("@")[2]
    message = EmailMessage()
    message["Subject"] = " ".join(notice.title.split())
    message["From"] = Address("Wickwatch", addr_spec=sender)
    message["To"] = Address(addr_spec=notice.address)
    message["Date"] = format_datetime(at)
    message["Message-ID"] = f"<{notice.key.replace(':', '.')}@{domain}>"
    if notice.alarm_id is not None:
        message["References"] = f"<{notice.alarm_id}@{domain}>"
    message["Auto-Submitted"] = "auto-generated"  # RFC 3834: so that no absence notice answers
    message.set_content(notice.body)
    return message


def _said(code: int, said: bytes | str) -> str:
    text = said.decode(errors="replace") if isinstance(said, bytes) else said
    return f"{code} {' '.join(text.split())}"
