"""Every way to reach a person, each with a real server that takes what is sent: for promises that hold for all.

Not here: what is peculiar to a way; each has a file of its own.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from cryptography.hazmat.primitives.asymmetric import ec

from tests.integration.alarms.house import person
from tests.parts import mail, webhook
from tests.parts.mail import Mailbox
from tests.parts.push import Device
from tests.parts.webhook import Receiver
from wickwatch.notify.channels import Channel, Email, Push, Service, Webhook
from wickwatch.notify.vapid import Vapid
from wickwatch.store.connect import Connection
from wickwatch.store.contacts import new_secret
from wickwatch.urls import MAIL_SCHEMES, endpoint

SENDER = "wickwatch@example.net"
WAYS = ("email", "webhook", "push", "service")


@dataclass
class Way:
    """One way, its server, and the contact that leads to it."""

    way: str
    server: Any
    address: str
    secret: str | None = None
    device: Device | None = None

    @property
    def settings(self) -> dict[str, Any]:
        """What the process needs to be told."""
        return {"smtp_url": self.server.url} if self.way == "email" else {}

    @property
    def channel(self) -> Channel:
        """The channel, set up as the process does."""
        if self.way == "email":
            return Email(endpoint(self.server.url, MAIL_SCHEMES), SENDER)
        if self.way == "push":
            return Push(lambda: vapid)
        return Webhook() if self.way == "webhook" else Service()

    def references(self) -> list[str]:
        """What each arrival can be told by, in order: the same for duplicates of one notice."""
        if isinstance(self.server, Mailbox):
            return [str(each.message["Message-ID"]) for each in self.server.mails]
        if self.way == "webhook":
            return [call.headers["webhook-id"] for call in self.server.calls]
        if self.device is not None:
            return [self.device.read(call)["key"] for call in self.server.calls]
        return [re.findall(r"Call ([0-9a-f]{8})\s*$", call.json["message"])[0] for call in self.server.calls]

    def refuse(self, final: bool = False) -> None:
        """Take nothing more: for now, or for good where the way can say so."""
        if isinstance(self.server, Mailbox):
            self.server.refusal = "550 5.1.1 nobody here" if final else "451 4.3.0 later"
        else:
            self.server.status = 410 if final else 503

    def accept(self) -> None:
        """Take again."""
        if isinstance(self.server, Mailbox):
            self.server.refusal = None
        else:
            self.server.status = 200


def _make_vapid() -> Vapid:
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    key = ec.generate_private_key(ec.SECP256R1())
    return Vapid(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()).decode(), SENDER)


vapid = _make_vapid()


@contextmanager
def open_way(way: str) -> Iterator[Way]:
    """A server for a way."""
    if way == "email":
        with mail.running() as box:
            yield Way(way, box, "ane@example.org")
        return
    with webhook.running() as receiver:
        device = Device() if way == "push" else None
        address = receiver.url + ("push/1" if device else "hook")
        if way == "service":
            address = address.replace("http://", "json://")
        secret = {"webhook": new_secret(), "push": device.secret if device else None}.get(way)
        yield Way(way, receiver, address, secret, device)


def on_call_by(conn: Connection, name: str, *ways: Way) -> UUID:
    """Somebody on duty for ever, reached by these ways in this order.

    Contacts are put in as they stand: a browser's address is https, which a server of a test's own is not.
    """
    from tests.integration.alarms.house import START
    from tests.unit.alarms.places import HOUSE
    from wickwatch.store import rota

    who = person(conn, name)
    reached_by(conn, who, *ways)
    rota.add_turn(conn, HOUSE.id, 1, who, START.replace(year=2026, month=1), None)
    return who


def reached_by(conn: Connection, who: UUID, *ways: Way) -> None:
    for position, way in enumerate(ways, 1):
        conn.execute(
            "INSERT INTO contact (person_id, position, way, address, secret) VALUES (%s, %s, %s, %s, %s)",
            (who, position, way.way, way.address, way.secret),
        )


__all__ = ["SENDER", "WAYS", "Receiver", "Way", "on_call_by", "open_way", "reached_by", "vapid"]
