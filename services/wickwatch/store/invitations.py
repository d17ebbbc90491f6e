"""Invitations: a role in a facility for whoever opens a secret address and is signed in.

So somebody with an account of another facility gets a role here, and whoever invites them learns nothing of accounts:
no name is asked for and none is answered. An invitation holds for a week and for one person. Not here: accounts
(`store.people`), or roles that are held (`store.members`).
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import LiteralString
from uuid import UUID

from wickwatch.errors import InputError, RefusedError
from wickwatch.store import people
from wickwatch.store.access import digest
from wickwatch.store.connect import Connection
from wickwatch.store.people import ROLES, Role
from wickwatch.texts import _

#: How long one may be accepted.
LASTS = timedelta(days=7)

# A new invitation.
_ADD: LiteralString = """
INSERT INTO invitation (token_hash, facility_id, role, label, made_by, created_at, expires_at)
VALUES (%s, %s, %s, %s, %s, %s, %s)
"""

# Those of a facility that may still be accepted, newest first.
_OPEN: LiteralString = """
SELECT id, label, role, expires_at FROM invitation
WHERE facility_id = %(facility)s AND ended_at IS NULL AND expires_at > %(now)s ORDER BY created_at DESC, id
"""

# One that nobody may accept any longer.
_TAKE_BACK: LiteralString = """
UPDATE invitation SET ended_at = %s WHERE facility_id = %s AND id = %s AND ended_at IS NULL
"""

# What a secret address offers, as long as it holds: the facility is in use, and whoever made it administers it still.
_OFFERED: LiteralString = """
SELECT i.id, f.id, f.slug, f.name, i.role, p.name
FROM invitation i JOIN facility f ON f.id = i.facility_id AND f.retired_at IS NULL
JOIN person p ON p.id = i.made_by AND p.disabled_at IS NULL
WHERE i.token_hash = %(hash)s AND i.ended_at IS NULL AND i.expires_at > %(now)s AND EXISTS (
    SELECT FROM membership m WHERE m.person_id = i.made_by AND m.role = 'administrator'
    AND (m.facility_id = i.facility_id OR m.facility_id IS NULL))
FOR UPDATE OF i
"""

# It is accepted, and by whom.
_ACCEPTED: LiteralString = "UPDATE invitation SET ended_at = %s, accepted_by = %s WHERE id = %s"

# The role, unless there is one.
_JOIN: LiteralString = """
INSERT INTO membership (person_id, facility_id, role) VALUES (%s, %s, %s) ON CONFLICT DO NOTHING
"""


@dataclass(frozen=True)
class Invitation:
    """One that may still be accepted, without its secret; `label` tells whom it is for."""

    id: UUID
    label: str
    role: Role
    expires_at: datetime


@dataclass(frozen=True)
class Offer:
    """What a secret address offers, and who made it."""

    id: UUID
    facility_id: UUID
    facility_slug: str
    facility_name: str
    role: Role
    made_by: str


def add(conn: Connection, facility_id: UUID, role: str, label: str, made_by: UUID, now: datetime) -> str:
    """Make an invitation; its secret is shown once and kept nowhere. Raises InputError."""
    if role not in ROLES:
        raise InputError(_("role"), role, ", ".join(ROLES))
    shown = people.line(_("whom it is for"), label)
    secret = secrets.token_urlsafe(32)
    conn.execute(_ADD, (digest(secret), facility_id, role, shown, made_by, now, now + LASTS))
    return secret


def of_facility(conn: Connection, facility_id: UUID, now: datetime) -> list[Invitation]:
    """Those that may still be accepted, newest first."""
    return [Invitation(*row) for row in conn.execute(_OPEN, {"facility": facility_id, "now": now})]


def take_back(conn: Connection, facility_id: UUID, invitation_id: UUID, now: datetime) -> bool:
    """End one before it is accepted; False where the facility has no such invitation."""
    return conn.execute(_TAKE_BACK, (now, facility_id, invitation_id)).rowcount == 1


def offered(conn: Connection, secret: str, now: datetime) -> Offer | None:
    """What a secret address offers; None where it does not hold."""
    row = conn.execute(_OFFERED, {"hash": digest(secret), "now": now}).fetchone()
    return None if row is None else Offer(*row)


def accept(conn: Connection, offer: Offer, person_id: UUID, now: datetime) -> None:
    """Give the role to somebody, once. Raises RefusedError where they have a role there already."""
    if conn.execute(_JOIN, (person_id, offer.facility_id, offer.role)).rowcount != 1:
        raise RefusedError(_("you have a role there already; an administrator of the facility changes it"))
    conn.execute(_ACCEPTED, (now, person_id, offer.id))
