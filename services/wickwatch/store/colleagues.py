"""Everybody with a role in one facility: who can be put on its rota. Not here: passwords and roles (`store.people`)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import LiteralString
from uuid import UUID

from wickwatch.store.connect import Connection

# Everybody who has a role in a facility, by name, with the ways they can be reached in order.
_OF_FACILITY: LiteralString = """
SELECT p.id, p.name, array(SELECT way FROM contact WHERE person_id = p.id AND removed_at IS NULL ORDER BY position)
FROM person p
WHERE p.disabled_at IS NULL AND EXISTS (
    SELECT FROM membership WHERE person_id = p.id AND (facility_id = %s OR facility_id IS NULL))
ORDER BY lower(p.name)
"""


@dataclass(frozen=True)
class Colleague:
    """Somebody with a role in a facility, and the ways they can be reached, in order."""

    id: UUID
    name: str
    ways: tuple[str, ...]


def of_facility(conn: Connection, facility_id: UUID) -> list[Colleague]:
    """Everybody with a role in a facility who is not disabled, by name."""
    return [Colleague(id, name, tuple(ways)) for id, name, ways in conn.execute(_OF_FACILITY, (facility_id,))]
