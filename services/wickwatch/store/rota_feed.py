"""Secret addresses at which a rota is read as a calendar, by readers that can't sign in.

What is in the address is 256 random bits; the database holds only their SHA-256. Not here: the calendar
(`alarms.rota_calendar`).
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import datetime
from typing import LiteralString
from uuid import UUID

from wickwatch.errors import InputError
from wickwatch.store.access import digest
from wickwatch.store.connect import Connection
from wickwatch.texts import _

# A new address.
_ADD: LiteralString = """
INSERT INTO rota_feed (token_hash, facility_id, person_id, made_by, created_at) VALUES (%s, %s, %s, %s, %s)
"""

# Addresses of a facility that hold, newest first.
_OF_FACILITY: LiteralString = """
SELECT r.id, r.person_id, p.name, r.made_by, m.name, r.created_at
FROM rota_feed r JOIN person m ON m.id = r.made_by LEFT JOIN person p ON p.id = r.person_id
WHERE r.facility_id = %s AND r.revoked_at IS NULL ORDER BY r.created_at DESC, r.id
"""

# An address that no longer holds.
_REVOKE: LiteralString = """
UPDATE rota_feed SET revoked_at = %s WHERE facility_id = %s AND id = %s AND revoked_at IS NULL
"""

# What an address leads to, if it holds, its facility is in use and whoever made it is not disabled.
_SHOWN: LiteralString = """
SELECT f.id, f.name, r.person_id
FROM rota_feed r JOIN facility f ON f.id = r.facility_id AND f.retired_at IS NULL
JOIN person m ON m.id = r.made_by AND m.disabled_at IS NULL
WHERE r.token_hash = %s AND r.revoked_at IS NULL
"""

# Everybody who can have a turn: names by id.
_NAMES: LiteralString = "SELECT id, name FROM person WHERE disabled_at IS NULL"


@dataclass(frozen=True)
class Feed:
    """One address without its secret; `person` is None where it shows everybody's turns."""

    id: UUID
    person_id: UUID | None
    person: str | None
    made_by: UUID
    maker: str
    created_at: datetime


@dataclass(frozen=True)
class Shown:
    """What an address leads to."""

    facility_id: UUID
    facility_name: str
    person_id: UUID | None


def add(conn: Connection, facility_id: UUID, person_id: UUID | None, made_by: UUID, at: datetime) -> str:
    """Make an address for everybody's turns, or one person's; its secret is shown once and kept nowhere."""
    secret = secrets.token_urlsafe(32)
    conn.execute(_ADD, (digest(secret), facility_id, person_id, made_by, at))
    return secret


def of_facility(conn: Connection, facility_id: UUID) -> list[Feed]:
    """Addresses that hold, newest first."""
    return [Feed(*row) for row in conn.execute(_OF_FACILITY, (facility_id,))]


def revoke(conn: Connection, facility_id: UUID, feed_id: UUID, at: datetime) -> None:
    """End an address at once. Raises InputError where the facility has no such address."""
    if conn.execute(_REVOKE, (at, facility_id, feed_id)).rowcount == 0:
        raise InputError(_("calendar's address"), str(feed_id), _("the id of an address of this facility"))


def by_secret(conn: Connection, secret: str) -> Shown | None:
    """What an address leads to; None where it does not hold."""
    row = conn.execute(_SHOWN, (digest(secret),)).fetchone()
    return None if row is None else Shown(*row)


def names(conn: Connection) -> dict[UUID, str]:
    """Names of everybody who is not disabled, by id."""
    return dict(conn.execute(_NAMES).fetchall())
