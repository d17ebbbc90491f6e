"""Packs and records that could not be taken, kept as they came, and counted by reason and day.

One gateway that sends an unknown quantity with every pack would fill a disk in weeks. So of one facility, reason and
day so many are kept, and all are counted. Not here: the reasons themselves (`ingest.reasons`), nor lists of them for
pages (`store.pages`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date, datetime
from typing import LiteralString, NamedTuple
from uuid import UUID

from wickwatch.store.connect import Connection

#: Octets kept of a payload; enough to see what is wrong with it.
KEPT_BYTES = 64 * 1024

#: Records after which no further ones of a facility, reason and day are kept, only counted.
KEPT_PER_DAY = 10_000

# Rows of the quarantine.
_ADD: LiteralString = """
INSERT INTO quarantine (at, facility_id, topic, payload, payload_bytes, reason, detail, records)
VALUES (%s, %s, %s, %s, %s, %s, %s, %s)
"""

# Counts stay when the rows themselves are let go. Copies count in one order, so that none waits in a circle.
_COUNT: LiteralString = """
INSERT INTO quarantine_count AS c (facility_id, reason, day, records)
SELECT * FROM unnest(%s::uuid[], %s::text[], %s::date[], %s::bigint[]) AS g (facility_id, reason, day, n)
ORDER BY 1, 2, 3
ON CONFLICT (facility_id, reason, day) DO UPDATE SET records = c.records + excluded.records
RETURNING facility_id, reason, day, records
"""

# Packs to be tried again, those not tried for longest first: what a reader may see, whole, and still refused.
_TO_TRY: LiteralString = """
SELECT id FROM quarantine
WHERE (facility_id = ANY (%(facilities)s) OR (facility_id IS NULL AND %(every)s))
  AND taken_at IS NULL AND octet_length(payload) = payload_bytes
  AND (%(id)s::bigint IS NULL OR id = %(id)s) AND (%(reason)s::text IS NULL OR reason = %(reason)s)
ORDER BY tried_at NULLS FIRST, id LIMIT %(limit)s
"""

# All that is still refused of the pack that a row is of: a row for each reason. Whoever is at it has it alone.
_PACK: LiteralString = """
SELECT q.id, q.at, q.topic, q.payload, q.reason
FROM quarantine one JOIN quarantine q ON q.topic = one.topic AND q.at = one.at AND q.payload = one.payload
WHERE one.id = %s AND q.taken_at IS NULL
ORDER BY q.id FOR UPDATE OF q
"""

# A row whose records were taken in at last.
_TAKEN: LiteralString = """
UPDATE quarantine SET tried_at = %s, taken_at = %s, stored = %s, known = %s, facility_id = coalesce(facility_id,
    (SELECT id FROM facility WHERE slug = split_part(topic, '/', 3) AND retired_at IS NULL))
WHERE id = %s
"""

# A row of which records are refused as before, or for another reason by now.
_STILL: LiteralString = """
UPDATE quarantine SET tried_at = %s, facility_id = %s, reason = %s, detail = %s, records = %s
WHERE id = %s
"""

# Of which facility a row is, and what it came over.
_SENDER: LiteralString = "SELECT facility_id, topic FROM quarantine WHERE id = %s"

# Packs tried again at one moment, and how many of them were taken in.
_TRIED: LiteralString = """
SELECT count(*), count(taken_at) FROM quarantine
WHERE (facility_id = ANY (%(facilities)s) OR (facility_id IS NULL AND %(every)s)) AND tried_at = %(at)s
"""

# Rows from before a moment.
_FORGET: LiteralString = "DELETE FROM quarantine WHERE at < %s"


class Quarantined(NamedTuple):
    """What was refused of one pack for one reason. `facility_id` is `None` where the topic names none that is known."""

    at: datetime
    facility_id: UUID | None
    topic: str
    payload: bytes
    reason: str
    detail: str
    records: int


def add(conn: Connection, refused: Sequence[Quarantined]) -> None:
    """Count what was refused, and keep it unless there is too much of it."""
    if not refused:
        return
    counts: Counter[tuple[UUID | None, str, date]] = Counter()
    for r in refused:
        counts[r.facility_id, r.reason, r.at.date()] += r.records
    facilities, reasons, days = zip(*counts, strict=True)
    totals = conn.execute(_COUNT, (list(facilities), list(reasons), list(days), list(counts.values())))
    full = {(f, reason, day) for f, reason, day, total in totals if total - counts[f, reason, day] >= KEPT_PER_DAY}
    rows = [_row(r) for r in refused if (r.facility_id, r.reason, r.at.date()) not in full]
    with conn.cursor() as cursor:
        cursor.executemany(_ADD, rows)


class Kept(NamedTuple):
    """One row of a pack that is still refused."""

    id: int
    at: datetime
    topic: str
    payload: bytes
    reason: str


def to_try(
    conn: Connection,
    facility_ids: Sequence[UUID],
    every: bool,
    limit: int,
    *,
    id: int | None = None,
    reason: str | None = None,
) -> list[int]:
    """Ids of what can be tried again, of one row or one reason; `every` adds what is of no known facility."""
    values = {"facilities": list(facility_ids), "every": every, "id": id, "reason": reason, "limit": limit}
    return [row[0] for row in conn.execute(_TO_TRY, values)]


def pack_of(conn: Connection, id: int) -> list[Kept]:
    """All that is still refused of the pack that a row is of, locked; none where all of it was taken in."""
    return [Kept(*row) for row in conn.execute(_PACK, (id,))]


def settle(
    conn: Connection, pack: Sequence[Kept], refused: Sequence[Quarantined], stored: int, known: int, at: datetime
) -> None:
    """Keep what became of a pack that was tried again: `refused` is what of it is not taken to this day.

    Rows stand for what is still refused; one that is left over was taken in. Nothing is counted twice: the first row
    that was taken in tells how many readings the pack brought.
    """
    now = {row.reason: row for row in refused}
    rows = [(kept, now.pop(kept.reason, None)) for kept in pack]
    others = list(now.values())
    for kept, same in rows:
        still = same or (others.pop(0) if others else None)
        if still is None:
            conn.execute(_TAKEN, (at, at, stored, known, kept.id))
            stored, known = 0, 0
        else:
            conn.execute(_STILL, (at, still.facility_id, still.reason, _text(still.detail), still.records, kept.id))
    with conn.cursor() as cursor:
        cursor.executemany(_ADD, [_row(other) for other in others])


def sender(conn: Connection, id: int) -> tuple[UUID | None, str]:
    """The facility that a row is of, and its topic."""
    row = conn.execute(_SENDER, (id,)).fetchone()
    assert row is not None
    return row[0], row[1]


def tried(conn: Connection, facility_ids: Sequence[UUID], every: bool, at: datetime) -> tuple[int, int]:
    """How many packs were tried again at one moment, and how many of them were taken in."""
    row = conn.execute(_TRIED, {"facilities": list(facility_ids), "every": every, "at": at}).fetchone()
    assert row is not None
    return int(row[0]), int(row[1])


def _row(refused: Quarantined) -> tuple[object, ...]:
    r = refused
    payload = (r.payload[:KEPT_BYTES], len(r.payload))
    return (r.at, r.facility_id, _text(r.topic), *payload, r.reason, _text(r.detail), r.records)


def forget(conn: Connection, before: datetime) -> int:
    """Let go of what was refused before a moment; the counts stay. Returns how many rows went."""
    return conn.execute(_FORGET, (before,)).rowcount


def _text(value: str) -> str:
    """Text as the database can hold it: no NUL, at most 1000 characters."""
    return value.replace("\0", "\\0")[:1000]
