"""People with a role in one facility, as that facility's administrators see and change them.

Somebody with a role elsewhere, too, is nobody's alone, and that they are is not theirs to know. Not here: accounts
(`store.people`), or who can be put on the rota (`store.colleagues`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import LiteralString
from uuid import UUID

from wickwatch.errors import InputError
from wickwatch.store.connect import Connection
from wickwatch.store.people import ROLES, Role
from wickwatch.texts import _

# Everybody with a role in a facility or in every one, by name, with the ways they can be reached in order.
_OF_FACILITY: LiteralString = """
SELECT p.id, p.name, here.role, everywhere.role,
       p.password_hash IS NOT NULL OR p.sign_in_address IS NOT NULL,
       array(SELECT way FROM contact WHERE person_id = p.id AND removed_at IS NULL ORDER BY position),
       (SELECT address FROM contact WHERE person_id = p.id AND removed_at IS NULL AND way = 'email'
        ORDER BY position LIMIT 1),
       EXISTS (SELECT FROM membership m WHERE m.person_id = p.id AND m.facility_id IS DISTINCT FROM %(facility)s)
FROM person p
LEFT JOIN membership here ON here.person_id = p.id AND here.facility_id = %(facility)s
LEFT JOIN membership everywhere ON everywhere.person_id = p.id AND everywhere.facility_id IS NULL
WHERE p.disabled_at IS NULL AND (here.person_id IS NOT NULL OR everywhere.person_id IS NOT NULL)
ORDER BY lower(p.name)
"""

# Another role in the facility.
_SET_ROLE: LiteralString = "UPDATE membership SET role = %s WHERE facility_id = %s AND person_id = %s"

# No role in the facility any longer.
_LEAVE: LiteralString = "DELETE FROM membership WHERE facility_id = %s AND person_id = %s"


@dataclass(frozen=True)
class Member:
    """Somebody with a role in a facility: `role` given there, `everywhere` one that holds in every facility.

    `signs_in` where there is a password, or a provider of sign-ins knows them; `ways` how they are called in order,
    `mail` their first mail address, `elsewhere` where they have a role in another facility or in every one.
    """

    id: UUID
    name: str
    role: Role | None
    everywhere: Role | None
    signs_in: bool
    ways: tuple[str, ...]
    mail: str | None
    elsewhere: bool


def of_facility(conn: Connection, facility_id: UUID) -> list[Member]:
    """Everybody with a role in a facility who is not disabled, by name."""
    rows = conn.execute(_OF_FACILITY, {"facility": facility_id})
    return [
        Member(id, name, role, everywhere, signs_in, tuple(ways), mail, elsewhere)
        for id, name, role, everywhere, signs_in, ways, mail, elsewhere in rows
    ]


def member(conn: Connection, facility_id: UUID, person_id: UUID) -> Member | None:
    """One of them, None for anybody else."""
    return next((each for each in of_facility(conn, facility_id) if each.id == person_id), None)


def set_role(conn: Connection, facility_id: UUID, person_id: UUID, role: str) -> None:
    """Give somebody who has a role in the facility another one. Raises InputError."""
    if role not in ROLES:
        raise InputError(_("role"), role, ", ".join(ROLES))
    if conn.execute(_SET_ROLE, (role, facility_id, person_id)).rowcount != 1:
        raise InputError(_("person"), str(person_id), _("somebody with a role in this facility"))


def leave(conn: Connection, facility_id: UUID, person_id: UUID) -> None:
    """Take somebody's role in the facility away; what they did stays on record. Raises InputError."""
    if conn.execute(_LEAVE, (facility_id, person_id)).rowcount != 1:
        raise InputError(_("person"), str(person_id), _("somebody with a role in this facility"))
