"""How people are reached: their contacts in the order they are tried, and the secrets these need.

Not here: who is called when (`store.rota`), how anything is sent or which services there are (`notify`).
"""

from __future__ import annotations

import re
import secrets
from base64 import b64decode, b64encode, urlsafe_b64decode
from dataclasses import dataclass
from datetime import datetime
from email.utils import parseaddr
from hmac import compare_digest
from typing import LiteralString
from uuid import UUID

from wickwatch.alarms import Contact
from wickwatch.errors import InputError, Secret
from wickwatch.store.connect import Connection
from wickwatch.texts import _
from wickwatch.urls import WEB_SCHEMES, Hidden, endpoint

#: Ways a person can be reached.
WAYS = ("email", "webhook", "push", "service")

#: Form of a webhook's secret by the Standard Webhooks convention.
_PREFIX = "whsec_"
_KEY_LEAST, _KEY_MOST = 24, 64

#: Longer addresses are a mistake; push services' are the longest, some hundreds of letters.
_ADDRESS_MOST = 2000
_LABEL_MOST = 60

# One more contact, after those the person has.
_ADD: LiteralString = """
INSERT INTO contact (person_id, position, way, address, secret, label)
SELECT %(person)s, coalesce(max(position), 0) + 1, %(way)s, %(address)s, %(secret)s, %(label)s
FROM contact WHERE person_id = %(person)s AND removed_at IS NULL
RETURNING id
"""

# A contact that is no longer used; its notices still name it.
_REMOVE: LiteralString = "UPDATE contact SET removed_at = %s WHERE id = %s AND person_id = %s AND removed_at IS NULL"

# A contact that its service says is no more.
_GONE: LiteralString = "UPDATE contact SET removed_at = %s, removed_why = %s WHERE id = %s AND removed_at IS NULL"

# A browser's subscription, whoever had it.
_FREE_BROWSER: LiteralString = """
UPDATE contact SET removed_at = %s, removed_why = 'added again'
WHERE way = 'push' AND address = %s AND removed_at IS NULL
"""

# A person's contacts in the order they are tried.
_OF_PERSON: LiteralString = """
SELECT id, way, address FROM contact WHERE person_id = %s AND removed_at IS NULL ORDER BY position
"""

# The same with what each is called, and how the newest test of it went.
_REACHES: LiteralString = """
SELECT c.id, c.way, c.address, c.label, t.state, t.created_at,
    (SELECT a.detail FROM notice_attempt a WHERE a.notice_id = t.id ORDER BY a.try DESC LIMIT 1)
FROM contact c
LEFT JOIN LATERAL (
    SELECT n.id, n.state, n.created_at FROM notice n WHERE n.contact_id = c.id AND n.purpose = 'test'
    ORDER BY n.created_at DESC LIMIT 1
) t ON true
WHERE c.person_id = %s AND c.removed_at IS NULL ORDER BY c.position
"""

# The newest contact that a browser's subscription was, also where its service has ended it meanwhile.
_BROWSER: LiteralString = """
SELECT id, person_id, secret FROM contact
WHERE way = 'push' AND address = %s AND (removed_at IS NULL OR removed_why NOT IN ('added again', 'renewed'))
ORDER BY removed_at DESC NULLS FIRST LIMIT 1
"""

# A subscription that its browser has changed.
_FORMER: LiteralString = """
UPDATE contact SET removed_at = coalesce(removed_at, %s), removed_why = 'renewed' WHERE id = %s
"""

# The new one in the place of the former; last where another stands there meanwhile.
_RENEW: LiteralString = """
INSERT INTO contact (person_id, position, way, address, secret, label)
SELECT f.person_id, CASE WHEN bool_or(c.position = f.position) THEN max(c.position) + 1 ELSE f.position END, 'push',
    %(address)s, %(secret)s, f.label
FROM contact f LEFT JOIN contact c ON c.person_id = f.person_id AND c.removed_at IS NULL
WHERE f.id = %(former)s GROUP BY f.id
"""

# Positions of a person's contacts, held until the transaction ends.
_POSITIONS: LiteralString = """
SELECT id, position FROM contact WHERE person_id = %s AND removed_at IS NULL ORDER BY position FOR UPDATE
"""

_PLACE: LiteralString = "UPDATE contact SET position = %s WHERE id = %s"

# Contacts of a person that their services ended since a moment.
_ENDED: LiteralString = """
SELECT label, way, removed_at FROM contact
WHERE person_id = %s AND removed_at >= %s AND removed_why NOT IN ('added again', 'renewed')
ORDER BY removed_at DESC
"""


@dataclass(frozen=True)
class Reach:
    """One way to reach a person; `test_*` is how the newest test of it went, None where there was none."""

    id: UUID
    way: str
    address: str
    label: str
    test_state: str | None
    test_at: datetime | None
    test_detail: str | None


@dataclass(frozen=True)
class Ended:
    """A contact that is no more because its service said so."""

    label: str
    way: str
    at: datetime


def of_person(conn: Connection, person_id: UUID) -> list[Contact]:
    """A person's contacts in the order they are tried."""
    return [Contact(*row) for row in conn.execute(_OF_PERSON, (person_id,))]


def reaches(conn: Connection, person_id: UUID) -> list[Reach]:
    """The same for the person: with what each is called, and how its newest test went."""
    return [Reach(*row) for row in conn.execute(_REACHES, (person_id,))]


def ended(conn: Connection, person_id: UUID, since: datetime) -> list[Ended]:
    """Contacts of a person that were ended by their services, the newest first."""
    return [Ended(*row) for row in conn.execute(_ENDED, (person_id, since))]


def add(conn: Connection, person_id: UUID, way: str, address: str, secret: str | None = None, label: str = "") -> UUID:
    """Add a way to reach a person, tried after those they have. Raises InputError.

    A webhook needs a secret to sign with (`whsec_` and 24 to 64 bytes in base64); one is made where none is given. A
    browser needs its keys as `push_keys` joins them.
    """
    checked = _address(way, address.strip())
    if way == "webhook":
        secret = secret or new_secret()
        signing_key(secret)
    if way == "push":
        browser_keys(secret or "")
    named = " ".join(label.split())
    if len(named) > _LABEL_MOST or not named.isprintable():
        raise InputError(_("name of the contact"), label, _("at most %(most)s printable characters", most=_LABEL_MOST))
    values = {"person": person_id, "way": way, "address": checked, "secret": secret, "label": named}
    row = conn.execute(_ADD, values).fetchone()
    assert row is not None
    id: UUID = row[0]
    return id


def add_browser(conn: Connection, person_id: UUID, address: str, key: str, auth: str, label: str, at: datetime) -> UUID:
    """Add a browser's push subscription (RFC 8030), whoever had it before. Raises InputError.

    `key` and `auth` are base64url as browsers give them: a point of P-256 and 16 octets (RFC 8291).
    """
    secret = _browser_secret(address, key, auth)
    conn.execute(_FREE_BROWSER, (at, address))
    return add(conn, person_id, "push", address, secret, label)


def browser(conn: Connection, address: str, auth: str) -> tuple[UUID, UUID] | None:
    """The contact and the person of a browser's subscription, told by its secret; None where it is not known.

    One that a person removed is no longer known; one that its service ended is.
    """
    row = conn.execute(_BROWSER, (address,)).fetchone()
    if row is None or not compare_digest(row[2].partition(".")[2].encode(), auth.rstrip("=").encode()):
        return None
    return row[0], row[1]


def renew_browser(conn: Connection, former: UUID, address: str, key: str, auth: str, at: datetime) -> None:
    """Put a subscription that its browser has changed in the place of the contact it was. Raises InputError.

    Notices on their way to the former go to the new one.
    """
    secret = _browser_secret(address, key, auth)
    conn.execute(_FORMER, (at, former))
    conn.execute(_FREE_BROWSER, (at, address))
    conn.execute(_RENEW, {"former": former, "address": _address("push", address), "secret": secret})


def remove(conn: Connection, person_id: UUID, contact_id: UUID, at: datetime) -> None:
    """No longer use a contact. Raises InputError where the person has no such contact."""
    if conn.execute(_REMOVE, (at, contact_id, person_id)).rowcount == 0:
        raise _none(contact_id)


def set_mail(conn: Connection, person_id: UUID, address: str, at: datetime) -> None:
    """Call a person by this mail address in place of those they had; by none where it is empty. Raises InputError."""
    wanted = address.strip()
    there = [each for each in reaches(conn, person_id) if each.way == "email"]
    for each in there:
        if each.address != wanted:
            remove(conn, person_id, each.id, at)
    if wanted and all(each.address != wanted for each in there):
        add(conn, person_id, "email", wanted)


def gone(conn: Connection, contact_id: UUID, at: datetime, why: str) -> None:
    """No longer use a contact, because its service says that it is no more."""
    conn.execute(_GONE, (at, why, contact_id))


def move_up(conn: Connection, person_id: UUID, contact_id: UUID) -> None:
    """Try a contact before the one it came after. Raises InputError where the person has no such contact."""
    placed = conn.execute(_POSITIONS, (person_id,)).fetchall()
    ids = [id for id, _way in placed]
    if contact_id not in ids:
        raise _none(contact_id)
    place = ids.index(contact_id)
    if place > 0:
        (other, before), (_id, after) = placed[place - 1], placed[place]
        # Zero is nobody's place: two contacts never share one, not even in between.
        for position, id in ((0, contact_id), (after, other), (before, contact_id)):
            conn.execute(_PLACE, (position, id))


def shown(way: str, address: str) -> str:
    """An address as others may see it: of a URL where it leads, and nothing that may be secret."""
    return address if way == "email" else repr(Hidden(address)).strip("'")


def new_secret() -> str:
    """A secret for signing webhooks, as the Standard Webhooks convention writes it: prefix and 32 random bytes."""
    return _PREFIX + b64encode(secrets.token_bytes(32)).decode()


def signing_key(secret: str) -> bytes:
    """The bytes that a webhook's secret stands for. Raises InputError, which does not show the secret."""
    try:
        key = b64decode(secret.removeprefix(_PREFIX), validate=True)
    except ValueError:
        key = b""
    if not secret.startswith(_PREFIX) or not _KEY_LEAST <= len(key) <= _KEY_MOST:
        raise InputError(
            _("webhook secret"),
            Secret(),
            _(
                "%(prefix)s and %(least)s to %(most)s bytes in base64",
                prefix=_PREFIX,
                least=_KEY_LEAST,
                most=_KEY_MOST,
            ),
        )
    return key


def push_keys(key: str, auth: str) -> str:
    """A browser's two keys as one secret."""
    return f"{key.rstrip('=')}.{auth.rstrip('=')}"


def browser_keys(secret: str) -> tuple[bytes, bytes]:
    """A browser's public key (65 octets, an uncompressed point) and its secret (16 octets). Raises InputError."""
    key, _dot, auth = secret.partition(".")
    try:
        point, shared = (urlsafe_b64decode(part + "=" * (-len(part) % 4)) for part in (key, auth))
    except ValueError:
        point, shared = b"", b""
    if len(point) != 65 or point[0] != 4 or len(shared) != 16:
        raise InputError(_("push keys"), Secret(), _("a point of P-256 and 16 octets, both in base64url"))
    return point, shared


def _browser_secret(address: str, key: str, auth: str) -> str:
    if not address.startswith("https://"):
        raise InputError(_("push address"), Hidden(address), _("the https:// address that the browser gave"))
    secret = push_keys(key, auth)
    browser_keys(secret)
    return secret


def _address(way: str, address: str) -> str:
    if len(address) > _ADDRESS_MOST or not address.isprintable():
        raise InputError(
            _("address"),
            Hidden(address),
            _("at most %(most)s printable characters", most=_ADDRESS_MOST),
        )
    if way == "email":
        name, at, domain = parseaddr(address)[1].rpartition("@")
        if not (name and at and domain) or len(address) > 254 or " " in address:
            raise InputError(_("mail address"), address, _("one address such as name@example.org"))
    elif way in ("webhook", "push"):
        endpoint(address, WEB_SCHEMES)
    elif way == "service":
        if not re.match(r"[a-z][a-z0-9+.-]*://\S", address):
            raise InputError(_("address of a service"), Hidden(address), _("a URL such as jsons://example.org/calls"))
    else:
        raise InputError(_("way to reach a person"), way, " or ".join(WAYS))
    return address


def _none(contact_id: UUID) -> InputError:
    return InputError(_("contact"), str(contact_id), _("the id of a contact of this person"))
