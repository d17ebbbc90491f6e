"""When the place changed: the moments at which what is measured by what began or ended.

Not here: the place as of a moment (`fleet_read`).
"""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from wickwatch.store.connect import Connection

# Beginnings and ends of a facility's assignments after one time and up to another.
_TURNS = """
SELECT DISTINCT at FROM assignment a JOIN channel c ON c.id = a.channel_id
CROSS JOIN LATERAL (VALUES (lower(a.during)), (upper(a.during))) AS turn (at)
WHERE c.facility_id = %(facility)s AND at > %(start)s AND at <= %(end)s ORDER BY at
"""


# When the first channel of a facility was attached to anything.
_FIRST = "SELECT min(lower(during)) FROM assignment a JOIN channel c ON c.id = a.channel_id WHERE c.facility_id = %s"


def first_attached(conn: Connection, facility_id: UUID) -> datetime | None:
    """Since when any channel of a facility has measured anything; None: none ever did."""
    return conn.execute(_FIRST, (facility_id,)).fetchone()[0]  # type: ignore[index,no-any-return]


def changes_between(conn: Connection, facility_id: UUID, start: datetime, end: datetime) -> list[datetime]:
    """Moments in (start, end] at which an assignment began or ended, ascending."""
    return [row[0] for row in conn.execute(_TURNS, {"facility": facility_id, "start": start, "end": end})]
