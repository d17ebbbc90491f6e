"""Who we are to push services: a signed statement beside each message (RFC 8292), and the key browsers subscribe to.

Not here: where the key is kept (`store.push_key`), or what a message holds (`encryption`).
"""

from __future__ import annotations

from datetime import datetime, timedelta
from urllib.parse import urlsplit

from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat, PublicFormat
from py_vapid import Vapid02, b64urlencode

from wickwatch.store import push_key
from wickwatch.store.connect import Connection

#: How long a statement holds; RFC 8292 allows a day.
HOLDS = timedelta(hours=12)


class Vapid:
    """Signs for one key; `sender` is the mail address a push service may write to."""

    def __init__(self, private_pem: str, sender: str) -> None:
        self._vapid = Vapid02.from_pem(private_pem.encode())
        self._sender = sender

    @property
    def public_key(self) -> str:
        """The key browsers subscribe to: an uncompressed point in base64url."""
        point = self._vapid.public_key.public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
        return str(b64urlencode(point))

    def headers(self, address: str, at: datetime) -> dict[str, str]:
        """What goes with a message to a push service's address."""
        parts = urlsplit(address)
        claims = {
            "aud": f"{parts.scheme}://{parts.netloc}",
            "exp": int((at + HOLDS).timestamp()),
            "sub": f"mailto:{self._sender}",
        }
        return dict(self._vapid.sign(claims))


def load(conn: Connection, sender: str) -> Vapid:
    """The one of this database."""
    return Vapid(push_key.private_pem(conn, _new_pem), sender)


def _new_pem() -> str:
    fresh = Vapid02()
    fresh.generate_keys()
    pem: bytes = fresh.private_key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    return pem.decode()
