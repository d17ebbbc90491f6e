"""When a person is not called for what is of low priority. Not here: what waits until they are over (`alarms`)."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import time
from typing import LiteralString
from uuid import UUID

from wickwatch.errors import InputError
from wickwatch.store.connect import Connection
from wickwatch.texts import _

# A person's quiet hours.
_OF: LiteralString = "SELECT starts, ends FROM quiet_hours WHERE person_id = %s"

# New ones in place of those they had.
_SET: LiteralString = """
INSERT INTO quiet_hours (person_id, starts, ends) VALUES (%s, %s, %s)
ON CONFLICT (person_id) DO UPDATE SET starts = excluded.starts, ends = excluded.ends
"""

# None any longer.
_END: LiteralString = "DELETE FROM quiet_hours WHERE person_id = %s"


@dataclass(frozen=True)
class QuietHours:
    """From `starts` to `ends` by the clock of the facility that calls; over midnight where `ends` is not later."""

    starts: time
    ends: time


def of_person(conn: Connection, person_id: UUID) -> QuietHours | None:
    """A person's quiet hours; None where they have none."""
    row = conn.execute(_OF, (person_id,)).fetchone()
    return None if row is None else QuietHours(*row)


def set_hours(conn: Connection, person_id: UUID, hours: QuietHours | None) -> None:
    """Replace a person's quiet hours, or end them (None). Raises InputError where they begin when they end."""
    if hours is None:
        conn.execute(_END, (person_id,))
        return
    if hours.starts == hours.ends:
        raise InputError(_("end of the quiet hours"), f"{hours.ends:%H:%M}", _("another time than their beginning"))
    conn.execute(_SET, (person_id, hours.starts, hours.ends))
