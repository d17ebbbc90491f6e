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
    rows = [
        (
            r.at,
            r.facility_id,
            _text(r.topic),
            r.payload[:KEPT_BYTES],
            len(r.payload),
            r.reason,
            _text(r.detail),
            r.records,
        )
        for r in refused
        if (r.facility_id, r.reason, r.at.date()) not in full
    ]
    with conn.cursor() as cursor:
        cursor.executemany(_ADD, rows)


def forget(conn: Connection, before: datetime) -> int:
    """Let go of what was refused before a moment; the counts stay. Returns how many rows went."""
    return conn.execute(_FORGET, (before,)).rowcount


def _text(value: str) -> str:
    """Text as the database can hold it: no NUL, at most 1000 characters."""
    return value.replace("\0", "\\0")[:1000]
