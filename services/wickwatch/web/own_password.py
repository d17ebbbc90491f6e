"""Links by which somebody chooses their own password, so that nobody else ever knows it.

Whoever makes one hands it over. It names the person, its end, and a mark of what they sign in by today: it is over once
it was used, or once that was changed in any other way. Nothing is kept of it. Not here: who may make one
(`web.pages.set_up_people`), or the page behind it (`web.pages.own_password`).
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from hmac import compare_digest
from uuid import UUID

from wickwatch.sealed import opened, seal
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
    return seal(secret_key, "password", person_id.bytes + until + name_and_mark[1])


def holder(conn: Connection, secret_key: str, token: str, now: datetime) -> Holder | None:
    """Who may choose a password by a link, held until the transaction ends; None where it does not hold any longer."""
    octets = opened(secret_key, "password", token, _OCTETS)
    if octets is None or now >= datetime.fromtimestamp(int.from_bytes(octets[16:21], "big"), UTC):
        return None
    person_id = UUID(bytes=octets[:16])
    name, mark = people.signs_in_by(conn, person_id) or ("", b"")
    return Holder(person_id, name) if compare_digest(mark, octets[21:]) else None
