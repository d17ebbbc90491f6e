"""Sessions, API tokens, and how often a sign-in may be tried.

What a browser or a program holds is 256 random bits; the database holds only their SHA-256 (no slow hash is needed
for what can't be guessed). Not here: people and passwords (`store.people`), cookies and headers (`web.access`).
"""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import LiteralString
from uuid import UUID

from wickwatch.errors import InputError
from wickwatch.store import people
from wickwatch.store.connect import Connection

#: A session ends this long after it was last used, and in any case after the second.
SESSION_IDLE = timedelta(days=14)
SESSION_MOST = timedelta(days=90)

#: Failed sign-ins within the window before the next is refused: from one address for one name, from one address, and
#: for one name from anywhere. The last is high, so that a stranger can't lock somebody out for the asking.
WINDOW = timedelta(minutes=15)
TRIES_NAME_AND_ADDRESS = 5
TRIES_ADDRESS = 30
TRIES_NAME = 100

#: Marks a token, so that one that leaked into a file is recognised.
TOKEN_PREFIX = "wickwatch_"  # noqa: S105 -- a mark, no secret

# A try is written before the password is looked at, so that many at once can't slip through.
_TRY: LiteralString = "INSERT INTO sign_in_try (name, address, at) VALUES (%s, %s, %s)"

# Tries of the window before this one: for the name from the address, from the address, for the name.
_TRIES: LiteralString = """
SELECT count(*) FILTER (WHERE name = %(name)s AND address = %(address)s), count(*) FILTER (WHERE address = %(address)s),
       count(*) FILTER (WHERE name = %(name)s), min(at)
FROM sign_in_try WHERE at > %(start)s AND (name = %(name)s OR address = %(address)s)
"""

# A sign-in that went well clears the count for that name and address.
_CLEAR: LiteralString = "DELETE FROM sign_in_try WHERE name = %s AND address = %s"

# Tries older than the window count for nothing.
_FORGET_TRIES: LiteralString = "DELETE FROM sign_in_try WHERE at <= %s"

# A new session.
_OPEN: LiteralString = "INSERT INTO session (token_hash, person_id, created_at, expires_at) VALUES (%s, %s, %s, %s)"

# End one session.
_END: LiteralString = "DELETE FROM session WHERE token_hash = %s"

# Sessions that ran out are of no use to anybody.
_FORGET_SESSIONS: LiteralString = "DELETE FROM session WHERE expires_at <= %s"

# Whose session this is, if it holds and the person is not disabled.
_SESSION: LiteralString = """
SELECT p.id, p.name, s.created_at, s.expires_at
FROM session s JOIN person p ON p.id = s.person_id AND p.disabled_at IS NULL
WHERE s.token_hash = %s AND s.expires_at > %s
"""

# Somebody by id, if the person is not disabled.
_PERSON: LiteralString = "SELECT id, name FROM person WHERE id = %s AND disabled_at IS NULL"

# A session in use lives on.
_PROLONG: LiteralString = "UPDATE session SET expires_at = %s WHERE token_hash = %s"

# Whose token this is, if it holds and the person is not disabled.
_HOLDER: LiteralString = """
SELECT p.id, p.name FROM api_token t JOIN person p ON p.id = t.person_id AND p.disabled_at IS NULL
WHERE t.token_hash = %s AND t.revoked_at IS NULL AND (t.expires_at IS NULL OR t.expires_at > %s)
"""

# A new token.
_ADD: LiteralString = "INSERT INTO api_token (token_hash, person_id, label, expires_at) VALUES (%s, %s, %s, %s)"

# A person's tokens that were not revoked, newest first.
_TOKENS: LiteralString = """
SELECT id, label, created_at, expires_at FROM api_token
WHERE person_id = %s AND revoked_at IS NULL ORDER BY created_at DESC, id
"""

# Revoke one token of a person.
_REVOKE: LiteralString = """
UPDATE api_token SET revoked_at = %s WHERE id = %s AND person_id = %s AND revoked_at IS NULL
"""


@dataclass(frozen=True)
class Holder:
    """Somebody recognised by a session, a token or a signed link."""

    person_id: UUID
    name: str


@dataclass(frozen=True)
class Token:
    """An API token as its owner may see it again: never the token itself."""

    id: UUID
    label: str
    created_at: datetime
    expires_at: datetime | None


def digest(secret: str) -> bytes:
    """What the database keeps of a session's or API token."""
    return hashlib.sha256(secret.encode()).digest()


def count_try(conn: Connection, name: str, address: str, at: datetime) -> timedelta | None:
    """Count one try to sign in; returns how long to wait where there were too many, else None.

    The caller commits before it looks at the password.
    """
    key = {"name": name.lower()[:100], "address": address[:100], "start": at - WINDOW}
    conn.execute(_FORGET_TRIES, (at - WINDOW,))
    row = conn.execute(_TRIES, key).fetchone()
    assert row is not None
    both, address_tries, name_tries, first = row
    if both >= TRIES_NAME_AND_ADDRESS or address_tries >= TRIES_ADDRESS or name_tries >= TRIES_NAME:
        wait: timedelta = first + WINDOW - at
        return wait
    conn.execute(_TRY, (key["name"], key["address"], at))
    return None


def open_session(conn: Connection, person_id: UUID, name: str, address: str, at: datetime, former: str | None) -> str:
    """Start a session for somebody whose password fitted, end the one the browser had, and forget failed tries.

    Returns what the browser keeps. A session is never carried over from before the sign-in.
    """
    conn.execute(_CLEAR, (name.lower()[:100], address[:100]))
    conn.execute(_FORGET_SESSIONS, (at,))
    if former is not None:
        end_session(conn, former)
    secret = secrets.token_urlsafe(32)
    conn.execute(_OPEN, (digest(secret), person_id, at, at + SESSION_IDLE))
    return secret


def end_session(conn: Connection, secret: str) -> None:
    """Sign out."""
    conn.execute(_END, (digest(secret),))


def by_session(conn: Connection, secret: str, at: datetime) -> Holder | None:
    """Who holds this session, and prolong it while it is used; None where it does not hold."""
    key = digest(secret)
    row = conn.execute(_SESSION, (key, at)).fetchone()
    if row is None:
        return None
    person_id, name, created, expires = row
    until = min(at + SESSION_IDLE, created + SESSION_MOST)
    if until - expires > timedelta(hours=1):
        conn.execute(_PROLONG, (until, key))
    return Holder(person_id, name)


def by_person(conn: Connection, person_id: UUID) -> Holder | None:
    """The person a signed link names; None where the account is closed."""
    row = conn.execute(_PERSON, (person_id,)).fetchone()
    return None if row is None else Holder(*row)


def by_token(conn: Connection, secret: str, at: datetime) -> Holder | None:
    """Who holds this API token; None where it does not hold."""
    row = conn.execute(_HOLDER, (digest(secret), at)).fetchone()
    return None if row is None else Holder(*row)


def new_token(conn: Connection, name: str, label: str, expires_at: datetime | None = None) -> str:
    """Make an API token for the person with this name; what is returned is shown once and kept nowhere.

    Raises InputError for an unknown name or an empty label.
    """
    text = " ".join(label.split())
    if not 1 <= len(text) <= 100 or not text.isprintable():
        raise InputError("label", label, "1 to 100 printable characters")
    secret = TOKEN_PREFIX + secrets.token_urlsafe(32)
    conn.execute(_ADD, (digest(secret), people.person_named(conn, name), text, expires_at))
    return secret


def tokens(conn: Connection, person_id: UUID) -> list[Token]:
    """A person's tokens that still count, newest first."""
    return [Token(*row) for row in conn.execute(_TOKENS, (person_id,))]


def revoke_token(conn: Connection, person_id: UUID, token_id: UUID, at: datetime) -> bool:
    """Revoke one token of a person; False where there is none such."""
    return conn.execute(_REVOKE, (at, token_id, person_id)).rowcount == 1
