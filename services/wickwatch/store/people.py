"""People who may sign in: their names, passwords and roles.

A role holds in one facility, or in every one where the membership names none. Not here: what a session or a token is
(`store.access`, `store.tokens`), how passwords are kept (`store.passwords`), what a role may do (`web.permits`), or how
people are called (`store.notices`).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, LiteralString
from uuid import UUID

import psycopg

from wickwatch.errors import InputError
from wickwatch.store import passwords
from wickwatch.store.connect import Connection
from wickwatch.texts import _

Role = Literal["viewer", "grower", "manager", "administrator"]

#: Every role, each may do what those before it may.
ROLES: tuple[Role, ...] = ("viewer", "grower", "manager", "administrator")

_MAIL = re.compile(r"[^\s@\x00-\x1f]{1,64}@[^\s@\x00-\x1f]{1,189}")

# A new person, without roles yet.
_ADD: LiteralString = "INSERT INTO person (name, password_hash) VALUES (%s, %s) RETURNING id"

# One role in one facility, or in every one.
_JOIN: LiteralString = "INSERT INTO membership (person_id, facility_id, role) VALUES (%s, %s, %s)"

# A facility in use by its slug.
_FACILITY: LiteralString = "SELECT id FROM facility WHERE slug = %s AND retired_at IS NULL"

# One person by name, whatever the case it was typed in.
_BY_NAME: LiteralString = "SELECT id, password_hash, disabled_at FROM person WHERE lower(name) = lower(%s)"

# Everyone with their roles, by name; the facility is null where a role holds everywhere.
_EVERYONE: LiteralString = """
SELECT p.id, p.name, p.created_at, p.disabled_at,
       array_agg(m.role || '@' || coalesce(f.slug, '') ORDER BY f.slug NULLS FIRST)
FROM person p
LEFT JOIN (membership m LEFT JOIN facility f ON f.id = m.facility_id) ON m.person_id = p.id
GROUP BY p.id ORDER BY lower(p.name)
"""

# Close a person's account; the row stays, since alarms and work entries name it.
_DISABLE: LiteralString = "UPDATE person SET disabled_at = %s WHERE id = %s AND disabled_at IS NULL"

# What somebody whose account is open signs in by, as a mark that is another one as soon as any of it changes.
_SIGNS_IN_BY: LiteralString = """
SELECT name, sha256(convert_to(coalesce(password_hash, '') || ' ' || coalesce(sign_in_address, ''), 'UTF8'))
FROM person WHERE id = %s AND disabled_at IS NULL FOR UPDATE
"""

# Replace a password.
_REPLACE_HASH: LiteralString = "UPDATE person SET password_hash = %s WHERE id = %s"

# End every session of a person.
_END_SESSIONS: LiteralString = "DELETE FROM session WHERE person_id = %s"

# Revoke every API token of a person.
_REVOKE_TOKENS: LiteralString = "UPDATE api_token SET revoked_at = %s WHERE person_id = %s AND revoked_at IS NULL"

# Who a provider of sign-ins means by an address.
_BY_ADDRESS: LiteralString = """
SELECT id, name FROM person WHERE lower(sign_in_address) = lower(%s) AND disabled_at IS NULL
"""

# By which address a provider of sign-ins knows a person, or by none.
_SET_ADDRESS: LiteralString = "UPDATE person SET sign_in_address = %s WHERE id = %s"

# The facilities a person has a role in, and the highest role there.
_FACILITIES: LiteralString = """
SELECT f.id, f.slug, f.name, f.zone, array_agg(m.role)
FROM membership m JOIN facility f ON (f.id = m.facility_id OR m.facility_id IS NULL) AND f.retired_at IS NULL
WHERE m.person_id = %s
GROUP BY f.id ORDER BY f.name, f.slug
"""

# Whether somebody has one of some roles in every facility.
_EVERYWHERE: LiteralString = "SELECT FROM membership WHERE person_id = %s AND facility_id IS NULL AND role = ANY (%s)"


@dataclass(frozen=True)
class Membership:
    """A role in one facility; `facility` is its slug, `None` where the role holds in every one."""

    role: Role
    facility: str | None


@dataclass(frozen=True)
class Person:
    """One person who may, or could once, sign in."""

    id: UUID
    name: str
    created_at: datetime
    disabled_at: datetime | None
    memberships: tuple[Membership, ...]


@dataclass(frozen=True)
class Visible:
    """A facility somebody may see, and the highest role they have there."""

    id: UUID
    slug: str
    name: str
    zone: str
    role: Role

    def allows(self, role: Role) -> bool:
        """Whether the role held here includes `role`."""
        return ROLES.index(self.role) >= ROLES.index(role)


def add_person(
    conn: Connection, name: str, role: str, facility_slugs: Sequence[str] | None, password: str | None
) -> UUID:
    """Add a person with one role in the facilities named, or in every one (`None`); returns the id.

    Without a password the person can be called but not sign in. Raises InputError for a name taken or empty, an
    unknown role or facility, or a password that is too short.
    """
    checked = line(_("name"), name)
    if role not in ROLES:
        raise InputError(_("role"), role, ", ".join(ROLES))
    if facility_slugs is not None and not facility_slugs:
        raise InputError(_("facilities"), [], _("at least one facility, or all of them"))
    hashed = None if password is None else passwords.hashed(password, checked)
    try:
        with conn.transaction():
            person_id = _one(conn, _ADD, checked, hashed)
    except psycopg.errors.UniqueViolation:
        free = _("a name nobody has yet, in any case; whoever has an account already is invited")
        raise InputError(_("name"), checked, free) from None
    assert isinstance(person_id, UUID)
    for facility_id in [None] if facility_slugs is None else [_facility(conn, slug) for slug in facility_slugs]:
        conn.execute(_JOIN, (person_id, facility_id, role))
    return person_id


def everyone(conn: Connection) -> list[Person]:
    """All people by name, those disabled too."""
    return [
        Person(id, name, created, disabled, tuple(_membership(text) for text in roles if text))
        for id, name, created, disabled, roles in conn.execute(_EVERYONE)
    ]


def disable(conn: Connection, name: str, at: datetime) -> None:
    """Close an account from `at` on: no sign-in, no session and no token works any longer. Raises InputError."""
    person_id = _person(conn, name)
    conn.execute(_DISABLE, (at, person_id))
    conn.execute(_END_SESSIONS, (person_id,))
    conn.execute(_REVOKE_TOKENS, (at, person_id))


def set_password(conn: Connection, name: str, password: str) -> None:
    """Replace a password and end the person's sessions, wherever they are. Raises InputError."""
    person_id = _person(conn, name)
    conn.execute(_REPLACE_HASH, (passwords.hashed(password, name), person_id))
    conn.execute(_END_SESSIONS, (person_id,))


def password_fits(conn: Connection, name: str, password: str) -> UUID | None:
    """Id of the person with this name and password who may sign in, else None; takes as long for any name.

    A hash made with other parameters than today's is renewed.
    """
    row = conn.execute(_BY_NAME, (name[:200],)).fetchone()
    person_id, known, disabled = row or (None, None, None)
    if not passwords.fits(password, known) or person_id is None or known is None or disabled is not None:
        return None
    if passwords.outdated(known):
        conn.execute(_REPLACE_HASH, (passwords.renewed(password), person_id))
    assert isinstance(person_id, UUID)
    return person_id


def signs_in_by(conn: Connection, person_id: UUID) -> tuple[str, bytes] | None:
    """Name of a person, and a mark of 32 octets of what they sign in by; None where the account is closed.

    The person is held until the transaction ends.
    """
    row = conn.execute(_SIGNS_IN_BY, (person_id,)).fetchone()
    return None if row is None else (row[0], bytes(row[1]))


def set_sign_in_address(conn: Connection, name: str, address: str | None) -> None:
    """Say by which mail address a provider of sign-ins knows a person; by none (`None`). Raises InputError."""
    person_id = _person(conn, name)
    if address is not None and not _MAIL.fullmatch(address):
        raise InputError(_("address"), address, _("one mail address such as name@example.org"))
    try:
        with conn.transaction():
            conn.execute(_SET_ADDRESS, (address, person_id))
    except psycopg.errors.UniqueViolation:
        raise InputError(_("address"), address, _("one that nobody else signs in by")) from None


def by_sign_in_address(conn: Connection, address: str) -> tuple[UUID, str] | None:
    """Id and name of the person whom a provider means by a verified mail address; None where that is nobody."""
    row = conn.execute(_BY_ADDRESS, (address[:254],)).fetchone()
    return None if row is None else (row[0], row[1])


def facilities_of(conn: Connection, person_id: UUID) -> list[Visible]:
    """Facilities a person has a role in, by name; the highest role counts where there are two."""
    return [
        Visible(id, slug, name, zone, max(roles, key=ROLES.index))
        for id, slug, name, zone, roles in conn.execute(_FACILITIES, (person_id,))
    ]


def everywhere(conn: Connection, person_id: UUID, roles: Sequence[Role]) -> bool:
    """Whether somebody has one of these roles in every facility there is and will be."""
    return conn.execute(_EVERYWHERE, (person_id, list(roles))).fetchone() is not None


def person_named(conn: Connection, name: str) -> UUID:
    """Id of the person with this name, disabled or not. Raises InputError."""
    return _person(conn, name)


def line(thing: str, text: str) -> str:
    """A name or a label as it is kept: one line, single spaces. Raises InputError."""
    shown = " ".join(text.split())
    if not 1 <= len(shown) <= 100 or not shown.isprintable():
        raise InputError(thing, text, _("1 to 100 printable characters"))
    return shown


def _person(conn: Connection, name: str) -> UUID:
    row = conn.execute(_BY_NAME, (name,)).fetchone()
    if row is None:
        raise InputError(_("name"), name, _("the name of somebody who was added before"))
    found: UUID = row[0]
    return found


def _facility(conn: Connection, slug: str) -> UUID:
    row = conn.execute(_FACILITY, (slug,)).fetchone()
    if row is None:
        raise InputError(_("facility"), slug, _("the slug of a facility in use"))
    found: UUID = row[0]
    return found


def _membership(text: str) -> Membership:
    role, _, slug = text.partition("@")
    return Membership(next(known for known in ROLES if known == role), slug or None)


def _one(conn: Connection, statement: LiteralString, *values: object) -> object:
    row = conn.execute(statement, values).fetchone()
    return None if row is None else row[0]
