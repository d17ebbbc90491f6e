"""One thing by its type and id: what people call it and where it stands. Not here: everything else about it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import LiteralString
from uuid import UUID

from wickwatch.store.connect import Connection

# A thing in use in one of the facilities, with its room where it has one.
_SUBJECT: LiteralString = """
SELECT f.id, f.slug, r.id, r.slug, t.name FROM (
    SELECT facility_id, id AS room_id, name FROM room WHERE %(type)s = 'room' AND id = %(id)s AND retired_at IS NULL
    UNION ALL SELECT p.facility_id, p.id, v.name FROM reservoir v JOIN room p ON p.id = v.room_id
        WHERE %(type)s = 'reservoir' AND v.id = %(id)s AND v.retired_at IS NULL
    UNION ALL SELECT p.facility_id, p.id, l.name FROM supply_line l JOIN room p ON p.id = l.room_id
        WHERE %(type)s = 'line' AND l.id = %(id)s AND l.retired_at IS NULL
    UNION ALL SELECT p.facility_id, p.id, c.name FROM container c JOIN room p ON p.id = c.room_id
        WHERE %(type)s = 'container' AND c.id = %(id)s AND c.retired_at IS NULL
    UNION ALL SELECT facility_id, NULL, slug FROM gateway
        WHERE %(type)s = 'gateway' AND id = %(id)s AND retired_at IS NULL
) t
JOIN facility f ON f.id = t.facility_id AND f.id = ANY (%(facilities)s)
LEFT JOIN room r ON r.id = t.room_id
"""


@dataclass(frozen=True)
class SubjectRow:
    """A thing and where it stands."""

    facility_id: UUID
    facility_slug: str
    room_id: UUID | None
    room_slug: str | None
    name: str


def subject(conn: Connection, type: str, id: UUID, facility_ids: Sequence[UUID]) -> SubjectRow | None:
    """A thing in use, or None where it is not in these facilities."""
    row = conn.execute(_SUBJECT, {"type": type, "id": id, "facilities": list(facility_ids)}).fetchone()
    return None if row is None else SubjectRow(*row)
