"""API tokens: what lets a program act as a person, or as less than that person may.

A token is shown once and kept as its SHA-256. Not here: what a scope allows (`web.permits`).
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import datetime
from typing import LiteralString
from uuid import UUID

from wickwatch.errors import InputError
from wickwatch.store import people
from wickwatch.store.access import SCOPES, USED_TO, Holder, Scope, digest
from wickwatch.store.connect import Connection
from wickwatch.texts import _

#: Marks a token, so that one that leaked into a file is recognised.
TOKEN_PREFIX = "wickwatch_"  # noqa: S105 -- a mark, no secret

# Whose token this is, if it holds and the person is not disabled.
_HOLDER: LiteralString = """
SELECT p.id, p.name, t.scope, t.used_at FROM api_token t JOIN person p ON p.id = t.person_id AND p.disabled_at IS NULL
WHERE t.token_hash = %s AND t.revoked_at IS NULL AND (t.expires_at IS NULL OR t.expires_at > %s)
"""

# A token in use.
_USED: LiteralString = "UPDATE api_token SET used_at = %s WHERE token_hash = %s"

# A new token.
_ADD: LiteralString = """
INSERT INTO api_token (token_hash, person_id, label, scope, expires_at) VALUES (%s, %s, %s, %s, %s)
"""

# A person's tokens that were not revoked, newest first.
_TOKENS: LiteralString = """
SELECT id, label, scope, created_at, expires_at, used_at FROM api_token
WHERE person_id = %s AND revoked_at IS NULL ORDER BY created_at DESC, id
"""

# Revoke one token of a person.
_REVOKE: LiteralString = """
UPDATE api_token SET revoked_at = %s WHERE id = %s AND person_id = %s AND revoked_at IS NULL
"""


@dataclass(frozen=True)
class Token:
    """An API token as its owner may see it again: never the token itself. `used_at` is None where it never was."""

    id: UUID
    label: str
    scope: Scope
    created_at: datetime
    expires_at: datetime | None
    used_at: datetime | None


def by_token(conn: Connection, secret: str, at: datetime) -> Holder | None:
    """Who holds this API token; None where it does not hold."""
    key = digest(secret)
    row = conn.execute(_HOLDER, (key, at)).fetchone()
    if row is None:
        return None
    person_id, name, scope, used = row
    if used is None or at - used >= USED_TO:
        conn.execute(_USED, (at, key))
    return Holder(person_id, name, scope)


def new_token(conn: Connection, name: str, label: str, expires_at: datetime | None = None, scope: str = "admin") -> str:
    """Make an API token for the person with this name; what is returned is shown once and kept nowhere.

    Raises InputError for an unknown name or scope, or an empty label.
    """
    text = people.line(_("label"), label)
    if scope not in SCOPES:
        raise InputError(_("scope"), scope, ", ".join(SCOPES))
    secret = TOKEN_PREFIX + secrets.token_urlsafe(32)
    conn.execute(_ADD, (digest(secret), people.person_named(conn, name), text, scope, expires_at))
    return secret


def tokens(conn: Connection, person_id: UUID) -> list[Token]:
    """A person's tokens that still count, newest first."""
    return [Token(*row) for row in conn.execute(_TOKENS, (person_id,))]


def revoke_token(conn: Connection, person_id: UUID, token_id: UUID, at: datetime) -> bool:
    """Revoke one token of a person; False where there is none such."""
    return conn.execute(_REVOKE, (at, token_id, person_id)).rowcount == 1
