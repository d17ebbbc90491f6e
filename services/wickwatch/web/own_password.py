"""Links by which somebody chooses their own password, so that nobody else ever knows it.

Whoever makes one hands it over. It names the person, its end, and a mark of what they sign in by today: it is over once
it was used, or once that was changed in any other way. Nothing is kept of it. Not here: who may make one
(`web.pages.set_up_people`), or the page behind it (`web.pages.own_password`).
"""

from __future__ import annotations

from base64 import urlsafe_b64decode, urlsafe_b64encode
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from hmac import compare_digest
from uuid import UUID

from itsdangerous import BadSignature, Signer

from wickwatch.store import people
from wickwatch.store.access import Holder
from wickwatch.store.connect import Connection

#: How long one may be used.
LASTS = timedelta(days=7)

#: An id, a time and a mark: 16 + 5 + 32 octets.
_OCTETS = 53


def token(conn: Connection, secret_key: str, person_id: UUID, now: datetime) -> str:
    """The last part of a link's address, for somebody whose account is open."""
    name_and_mark = people.signs_in_by(conn, person_id)
    assert name_and_mark is not None
    until = int((now + LASTS).timestamp()).to_bytes(5, "big")
    return _signer(secret_key).sign(urlsafe_b64encode(person_id.bytes + until + name_and_mark[1]).rstrip(b"=")).decode()


def holder(conn: Connection, secret_key: str, token: str, now: datetime) -> Holder | None:
    """Who may choose a password by a link, held until the transaction ends; None where it does not hold any longer."""
    try:
        said = _signer(secret_key).unsign(token.encode())
        octets = urlsafe_b64decode(said + b"=" * (-len(said) % 4))
    except (BadSignature, ValueError):
        return None
    if len(octets) != _OCTETS or now >= datetime.fromtimestamp(int.from_bytes(octets[16:21], "big"), UTC):
        return None
    person_id = UUID(bytes=octets[:16])
    name, mark = people.signs_in_by(conn, person_id) or ("", b"")
    return Holder(person_id, name) if compare_digest(mark, octets[21:]) else None


def _signer(secret_key: str) -> Signer:
    return Signer(secret_key, salt="wickwatch.password", key_derivation="hmac", digest_method=sha256)
