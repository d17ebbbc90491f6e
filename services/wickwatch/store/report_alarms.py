"""A week's alarms as a report reads them.

Not here: stepping alarms (`store.alarms`), or work (`store.judged`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import LiteralString
from uuid import UUID

from wickwatch.store.connect import Connection
from wickwatch.store.report_reads import Span

# Alarms raised within a span, with what explains them.
_ALARMS: LiteralString = """
SELECT a.id, a.kind, a.priority, a.room_id, a.subject_name, a.raised_at, a.cleared_at, a.closed_at, a.outcome,
    a.message, a.evidence, a.made_of, cause.kind
FROM alarm a LEFT JOIN alarm cause ON cause.id = a.cause_id
WHERE a.facility_id = %(facility)s AND a.raised_at >= %(start)s AND a.raised_at < %(end)s
ORDER BY a.raised_at, a.id
"""

# When alarms that nothing explains were raised within a span, and in which room.
_MOMENTS: LiteralString = """
SELECT a.room_id, a.raised_at FROM alarm a
WHERE a.facility_id = %(facility)s AND a.raised_at >= %(start)s AND a.raised_at < %(end)s AND a.cause_id IS NULL
"""


@dataclass(frozen=True)
class Raised:
    """An alarm of the week; `cause_kind` is that of the alarm that explains it, and then nobody was called."""

    id: UUID
    kind: str
    priority: str
    room_id: UUID | None
    subject: str
    raised_at: datetime
    cleared_at: datetime | None
    closed_at: datetime | None
    outcome: str | None
    message: str
    evidence: Mapping[str, object]
    made_of: Mapping[str, object]
    cause_kind: str | None


def raised(conn: Connection, span: Span) -> list[Raised]:
    """Alarms raised in the span, the oldest first."""
    return [Raised(*row) for row in conn.execute(_ALARMS, vars(span))]


def moments(conn: Connection, span: Span) -> list[tuple[UUID | None, datetime]]:
    """Room and time of each alarm of its own cause that was raised in the span."""
    return [(room, at) for room, at in conn.execute(_MOMENTS, vars(span))]
