"""Weekly reports as they are kept: editions with their key figures and files, and what is asked for.

An order is claimed for a while by one copy of the reporter, so that a crash costs only that while. Not here: what a
report says (`report`), nor what it is made from (`store.report_reads`).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, LiteralString
from uuid import UUID

from psycopg.types.json import Jsonb

from wickwatch.store.connect import Connection
from wickwatch.texts import N_

#: How often an order is tried before it is given up.
TRIES = 3

# One more order, unless one of that week is still open, or the clock has ordered that week before.
_ORDER: LiteralString = """
INSERT INTO report_order (facility_id, week, scheduled, person_id, ordered_at) VALUES (%s, %s, %s, %s, %s)
ON CONFLICT DO NOTHING RETURNING id
"""

# Whether the clock has ordered a week's report.
_SCHEDULED: LiteralString = "SELECT FROM report_order WHERE facility_id = %s AND week = %s AND scheduled"

# The order that waits longest and that nobody is at, taken for a while.
_CLAIM: LiteralString = """
UPDATE report_order o SET claimed_until = %(until)s, tries = o.tries + 1, doing = '', share = 0
FROM (
    SELECT id FROM report_order WHERE done_at IS NULL AND tries < %(tries)s
    AND (claimed_until IS NULL OR claimed_until <= %(now)s)
    ORDER BY ordered_at, id LIMIT 1 FOR UPDATE SKIP LOCKED
) waiting WHERE o.id = waiting.id
RETURNING o.id, o.facility_id, o.week, o.scheduled, o.ordered_at, o.tries
"""

# How far an order is; whoever tells so keeps it.
_PROGRESS: LiteralString = "UPDATE report_order SET doing = %s, share = %s, claimed_until = %s WHERE id = %s"

# It is made, or given up.
_DONE: LiteralString = """
UPDATE report_order SET done_at = %s, report_id = %s, failure = %s, share = 1, doing = '', claimed_until = NULL
WHERE id = %s AND done_at IS NULL
"""

# Said of those below, to whoever asked for them.
_STOPPED = N_("the reporter stopped while it was made")

# Orders that a copy took up for the last time and did not come back from.
_LOST: LiteralString = """
UPDATE report_order SET done_at = %(now)s, failure = %(why)s
WHERE done_at IS NULL AND tries >= %(tries)s AND claimed_until <= %(now)s
"""

# The next edition of a week.
_SAVE: LiteralString = """
INSERT INTO report (facility_id, week, edition, starts_at, ends_at, made_at, reached_at, figures)
SELECT %(facility)s, %(week)s, coalesce(max(edition), 0) + 1, %(start)s, %(end)s, %(made)s, %(reached)s, %(figures)s
FROM report WHERE facility_id = %(facility)s AND week = %(week)s
RETURNING id
"""
_FILE: LiteralString = "INSERT INTO report_file (report_id, name, media_type, body) VALUES (%s, %s, %s, %s)"

# Files of earlier editions of the same week go; their figures stay.
_OLD_FILES: LiteralString = """
DELETE FROM report_file f USING report r, report newest
WHERE f.report_id = r.id AND newest.id = %s AND r.facility_id = newest.facility_id AND r.week = newest.week
AND r.edition < newest.edition
"""

# The newest edition of each week of some facilities, the newest week first.
_LISTED: LiteralString = """
SELECT DISTINCT ON (r.starts_at, r.facility_id) r.id, r.facility_id, r.week, r.edition, r.starts_at, r.ends_at,
    r.made_at, r.reached_at, r.figures,
    ARRAY(SELECT f.name FROM report_file f WHERE f.report_id = r.id ORDER BY f.name COLLATE "C")
FROM report r WHERE r.facility_id = ANY (%(facilities)s) AND (%(week)s::text IS NULL OR r.week = %(week)s)
ORDER BY r.starts_at DESC, r.facility_id, r.edition DESC LIMIT %(limit)s
"""

# One file of a report of one of some facilities.
_BODY: LiteralString = """
SELECT f.media_type, f.body FROM report_file f JOIN report r ON r.id = f.report_id
WHERE r.id = %s AND f.name = %s AND r.facility_id = ANY (%s)
"""

# Orders under way, and those that failed since a moment, the newest first.
_ORDERS: LiteralString = """
SELECT o.id, o.facility_id, o.week, o.ordered_at, o.doing, o.share, o.failure, o.claimed_until IS NOT NULL
FROM report_order o WHERE o.facility_id = ANY (%(facilities)s)
AND (o.done_at IS NULL OR (o.failure IS NOT NULL AND o.done_at >= %(since)s
     AND NOT EXISTS (SELECT FROM report_order n WHERE n.facility_id = o.facility_id AND n.week = o.week
                     AND n.ordered_at > o.ordered_at)))
ORDER BY o.ordered_at DESC
"""


@dataclass(frozen=True)
class Order:
    """A report that was asked for and is to be made now; `scheduled` by the clock, and then sent."""

    id: UUID
    facility_id: UUID
    week: str
    scheduled: bool
    ordered_at: datetime
    tries: int


@dataclass(frozen=True)
class Underway:
    """An order as people see it: `doing` in words, `share` 0 to 1, or why it failed; `taken` once it is begun."""

    id: UUID
    facility_id: UUID
    week: str
    ordered_at: datetime
    doing: str
    share: float
    failure: str | None
    taken: bool


@dataclass(frozen=True)
class Report:
    """The newest edition of a week; `figures` as `report.key_figures` makes them, `files` their names."""

    id: UUID
    facility_id: UUID
    week: str
    edition: int
    starts_at: datetime
    ends_at: datetime
    made_at: datetime
    reached_at: datetime | None
    figures: Mapping[str, Any]
    files: Sequence[str]


@dataclass(frozen=True)
class NewReport:
    """A report to be kept."""

    facility_id: UUID
    week: str
    start: datetime
    end: datetime
    made: datetime
    reached: datetime | None
    figures: Mapping[str, Any]


def order(
    conn: Connection,
    facility_id: UUID,
    week: str,
    at: datetime,
    person_id: UUID | None = None,
    *,
    scheduled: bool = False,
) -> bool:
    """Ask for a report; False where the same is under way already, or the clock has asked for it before."""
    return conn.execute(_ORDER, (facility_id, week, scheduled, person_id, at)).fetchone() is not None


def was_scheduled(conn: Connection, facility_id: UUID, week: str) -> bool:
    """Whether the clock has ordered that week's report before."""
    return conn.execute(_SCHEDULED, (facility_id, week)).fetchone() is not None


def claim(conn: Connection, now: datetime, lease: timedelta) -> Order | None:
    """Take the order that waits longest; None where none waits. Gives up those that were lost too often."""
    conn.execute(_LOST, {"now": now, "tries": TRIES, "why": _STOPPED})
    row = conn.execute(_CLAIM, {"now": now, "until": now + lease, "tries": TRIES}).fetchone()
    return Order(*row) if row else None


def progress(conn: Connection, order_id: UUID, doing: str, share: float, until: datetime) -> None:
    """Tell how far an order is, and keep it until a time."""
    conn.execute(_PROGRESS, (doing, min(max(share, 0.0), 1.0), until, order_id))


def fulfil(conn: Connection, order_id: UUID, report_id: UUID, at: datetime) -> None:
    """Close an order with the report that was made."""
    conn.execute(_DONE, (at, report_id, None, order_id))


def give_up(conn: Connection, order_id: UUID, why: str, at: datetime) -> None:
    """Close an order with why it failed."""
    conn.execute(_DONE, (at, None, why[:500] or "it failed", order_id))


def save(conn: Connection, new: NewReport, files: Iterable[tuple[str, str, bytes]]) -> UUID:
    """Keep a report as the next edition of its week, with its files (name, media type, body)."""
    values = vars(new) | {"facility": new.facility_id, "figures": Jsonb(dict(new.figures))}
    row = conn.execute(_SAVE, values).fetchone()
    assert row is not None
    id: UUID = row[0]
    for file in files:
        conn.execute(_FILE, (id, *file))
    conn.execute(_OLD_FILES, (id,))
    return id


def listed(conn: Connection, facilities: Collection[UUID], week: str | None = None, limit: int = 200) -> list[Report]:
    """The newest edition of each week, the newest week first."""
    asked = {"facilities": list(facilities), "week": week, "limit": limit}
    return [Report(*row) for row in conn.execute(_LISTED, asked)]


def file(conn: Connection, report_id: UUID, name: str, facilities: Collection[UUID]) -> tuple[str, bytes] | None:
    """Media type and body of one file, None where it is not there or may not be seen."""
    row = conn.execute(_BODY, (report_id, name, list(facilities)), binary=True).fetchone()
    return (row[0], bytes(row[1])) if row else None


def underway(conn: Connection, facilities: Collection[UUID], failed_since: datetime) -> list[Underway]:
    """Orders not done, and those that failed lately and were not asked for again."""
    asked = {"facilities": list(facilities), "since": failed_since}
    return [Underway(*row) for row in conn.execute(_ORDERS, asked)]
