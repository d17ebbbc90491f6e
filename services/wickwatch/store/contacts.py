"""How people are reached: their contacts in the order they are tried, and the secrets these need.

Not here: who is called when (`store.rota`), or how anything is sent (`notify.channels`).
"""

from __future__ import annotations

import secrets
from base64 import b64decode, b64encode
from datetime import datetime
from email.utils import parseaddr
from typing import LiteralString
from uuid import UUID

from wickwatch.alarms import Contact
from wickwatch.errors import InputError
from wickwatch.store.connect import Connection
from wickwatch.urls import WEB_SCHEMES, endpoint

#: Ways a person can be reached.
WAYS = ("email", "webhook")

#: Form of a webhook's secret by the Standard Webhooks convention.
_PREFIX = "whsec_"
_KEY_LEAST, _KEY_MOST = 24, 64

# One more contact, after those the person has.
_ADD: LiteralString = """
INSERT INTO contact (person_id, position, way, address, secret)
SELECT %(person)s, coalesce(max(position), 0) + 1, %(way)s, %(address)s, %(secret)s
FROM contact WHERE person_id = %(person)s AND removed_at IS NULL
RETURNING id
"""

# A contact that is no longer used; its notices still name it.
_REMOVE: LiteralString = "UPDATE contact SET removed_at = %s WHERE id = %s AND person_id = %s AND removed_at IS NULL"

# A person's contacts in the order they are tried.
_OF_PERSON: LiteralString = """
SELECT id, way, address FROM contact WHERE person_id = %s AND removed_at IS NULL ORDER BY position
"""


def of_person(conn: Connection, person_id: UUID) -> list[Contact]:
    """A person's contacts in the order they are tried."""
    return [Contact(*row) for row in conn.execute(_OF_PERSON, (person_id,))]


def add(conn: Connection, person_id: UUID, way: str, address: str, secret: str | None = None) -> UUID:
    """Add a way to reach a person, tried after those they have. Raises InputError.

    A webhook needs a secret to sign with (`whsec_` and 24 to 64 bytes in base64); one is made where none is given.
    """
    checked = _address(way, address.strip())
    if way == "webhook":
        secret = secret or new_secret()
        signing_key(secret)
    values = {"person": person_id, "way": way, "address": checked, "secret": secret}
    row = conn.execute(_ADD, values).fetchone()
    assert row is not None
    id: UUID = row[0]
    return id


def remove(conn: Connection, person_id: UUID, contact_id: UUID, at: datetime) -> None:
    """No longer use a contact. Raises InputError where the person has no such contact."""
    if conn.execute(_REMOVE, (at, contact_id, person_id)).rowcount == 0:
        raise InputError("contact", str(contact_id), "the id of a contact of this person")


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
        raise InputError("webhook secret", "hidden", f"{_PREFIX} and {_KEY_LEAST} to {_KEY_MOST} bytes in base64")
    return key


def _address(way: str, address: str) -> str:
    if way == "email":
        name, at, domain = parseaddr(address)[1].rpartition("@")
        if not (name and at and domain) or not address.isprintable() or len(address) > 254 or " " in address:
            raise InputError("mail address", address, "one address such as name@example.org")
    elif way == "webhook":
        endpoint(address, WEB_SCHEMES)
    else:
        raise InputError("way to reach a person", way, " or ".join(WAYS))
    return address
