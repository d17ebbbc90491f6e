"""Sessions: who a browser is, since when, and until when.

What a browser holds is 256 random bits; the database holds only their SHA-256 (no slow hash is needed for what can't
be guessed). Not here: people and passwords (`store.people`), tokens for programs (`store.tokens`), how often a
sign-in may be tried (`store.tries`), cookies and headers (`web.access`).
"""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal, LiteralString
from uuid import UUID

from wickwatch.store.connect import Connection

Device = Literal["phone", "computer"]

#: What a token is for; each includes those before it.
Scope = Literal["read", "write", "admin"]
SCOPES: tuple[Scope, ...] = ("read", "write", "admin")

#: A session ends this long after it was last used, and in any case after the second.
SESSION_IDLE = timedelta(days=14)
SESSION_MOST = timedelta(days=90)

#: When a session or a token was last used is kept to this, so that looking costs no writing.
USED_TO = timedelta(minutes=5)

# A new session.
_OPEN: LiteralString = """
INSERT INTO session (token_hash, person_id, created_at, expires_at, used_at, address, device)
VALUES (%s, %s, %s, %s, %s, %s, %s)
"""

# End one session.
_END: LiteralString = "DELETE FROM session WHERE token_hash = %s"

# End one session of a person, or all of them.
_END_OWN: LiteralString = "DELETE FROM session WHERE person_id = %(person)s AND (%(id)s::uuid IS NULL OR id = %(id)s)"

# A person's sessions that hold, the one last used first.
_SESSIONS: LiteralString = """
SELECT id, device, address, created_at, used_at, token_hash = %s FROM session
WHERE person_id = %s AND expires_at > %s ORDER BY used_at DESC, created_at DESC, id
"""

# Sessions that ran out are of no use to anybody.
_FORGET_SESSIONS: LiteralString = "DELETE FROM session WHERE expires_at <= %s"

# Whose session this is, if it holds and the person is not disabled.
_SESSION: LiteralString = """
SELECT p.id, p.name, s.created_at, s.used_at
FROM session s JOIN person p ON p.id = s.person_id AND p.disabled_at IS NULL
WHERE s.token_hash = %s AND s.expires_at > %s
"""

# Somebody by id, if the person is not disabled.
_PERSON: LiteralString = "SELECT id, name FROM person WHERE id = %s AND disabled_at IS NULL"

# A session in use lives on.
_PROLONG: LiteralString = "UPDATE session SET expires_at = %s, used_at = %s WHERE token_hash = %s"


@dataclass(frozen=True)
class Holder:
    """Somebody recognised by a session, a token or a signed link; `scope` is a token's."""

    person_id: UUID
    name: str
    scope: Scope | None = None


@dataclass(frozen=True)
class Session:
    """A session as its owner may see it; `here` is the one that asks."""

    id: UUID
    device: Device
    address: str
    created_at: datetime
    used_at: datetime
    here: bool


def digest(secret: str) -> bytes:
    """What the database keeps of a session's or API token."""
    return hashlib.sha256(secret.encode()).digest()


def open_session(
    conn: Connection,
    person_id: UUID,
    address: str,
    at: datetime,
    former: str | None,
    device: Device = "computer",
) -> str:
    """Start a session for somebody who proved to be this person, and end the one the browser had.

    Returns what the browser keeps. A session is never carried over from before the sign-in.
    """
    if former is not None:
        end_session(conn, former)
    secret = secrets.token_urlsafe(32)
    conn.execute(_OPEN, (digest(secret), person_id, at, at + SESSION_IDLE, at, address[:100], device))
    return secret


def end_session(conn: Connection, secret: str) -> None:
    """Sign out."""
    conn.execute(_END, (digest(secret),))


def forget_ended(conn: Connection, at: datetime) -> None:
    """Forget the sessions, whoever's, that ran out."""
    conn.execute(_FORGET_SESSIONS, (at,))


def sessions(conn: Connection, person_id: UUID, here: str | None, at: datetime) -> list[Session]:
    """A person's sessions that hold, the one last used first; `here` is the secret of the one that asks."""
    return [Session(*row) for row in conn.execute(_SESSIONS, (digest(here or ""), person_id, at))]


def end_sessions(conn: Connection, person_id: UUID, session_id: UUID | None = None) -> bool:
    """End one session of a person, or every one (None); False where there is none such."""
    return conn.execute(_END_OWN, {"person": person_id, "id": session_id}).rowcount > 0


def by_session(conn: Connection, secret: str, at: datetime) -> Holder | None:
    """Who holds this session, and prolong it while it is used; None where it does not hold."""
    key = digest(secret)
    row = conn.execute(_SESSION, (key, at)).fetchone()
    if row is None:
        return None
    person_id, name, created, used = row
    if at - used >= USED_TO:
        conn.execute(_PROLONG, (min(at + SESSION_IDLE, created + SESSION_MOST), at, key))
    return Holder(person_id, name)


def by_person(conn: Connection, person_id: UUID) -> Holder | None:
    """The person a signed link names; None where the account is closed."""
    row = conn.execute(_PERSON, (person_id,)).fetchone()
    return None if row is None else Holder(*row)
