"""Buckets of readings and the work marked on a chart, from the rollups.

Not here: raw readings (`store.readings`), or how a chart is drawn (`web.views.chart`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import LiteralString
from uuid import UUID

from wickwatch.store.connect import Connection

# Buckets of channels from the 5-minute rollups, gathered to a multiple of five minutes.
_FINE: LiteralString = """
SELECT channel_id, date_bin(%(every)s, at, %(start)s) AS bucket, sum(mean * n) / sum(n), min(low), max(high), sum(n)
FROM rollup_5m WHERE channel_id = ANY (%(channels)s) AND at >= %(start)s AND at < %(end)s
GROUP BY channel_id, bucket ORDER BY channel_id, bucket
"""

# The same from the hourly rollups.
_COARSE: LiteralString = """
SELECT channel_id, date_bin(%(every)s, at, %(start)s) AS bucket, sum(mean * n) / sum(n), min(low), max(high), sum(n)
FROM rollup_1h WHERE channel_id = ANY (%(channels)s) AND at >= %(start)s AND at < %(end)s
GROUP BY channel_id, bucket ORDER BY channel_id, bucket
"""

# Hourly means of channels, as two arrays for each: hours since a start, and means.
_HOURLY: LiteralString = """
SELECT channel_id, array_agg((extract(epoch FROM at - %(start)s) / 3600)::integer), array_agg(mean)
FROM rollup_1h WHERE channel_id = ANY (%(channels)s) AND at >= %(start)s AND at < %(end)s GROUP BY channel_id
"""

# Work recorded for a room between two times, oldest first.
_WORK: LiteralString = """
SELECT w.at, w.kind, w.subject_type, w.subject_id, p.name, w.note
FROM work_entry w LEFT JOIN person p ON p.id = w.person_id
WHERE w.facility_id = %s AND w.room_id = %s AND w.at >= %s AND w.at < %s
  AND NOT w.withdrawn AND NOT EXISTS (SELECT FROM work_entry c WHERE c.corrects = w.id)
ORDER BY w.at
"""

# Work recorded from an alarm's page or link.
_WORK_OF_ALARM: LiteralString = """
SELECT w.at, w.kind, w.subject_type, w.subject_id, p.name, w.note
FROM work_entry w LEFT JOIN person p ON p.id = w.person_id
WHERE w.alarm_id = %s AND NOT w.withdrawn AND NOT EXISTS (SELECT FROM work_entry c WHERE c.corrects = w.id)
ORDER BY w.at
"""


@dataclass(frozen=True)
class Bucket:
    """Readings of one channel in one bucket; `at` is its beginning."""

    channel_id: int
    at: datetime
    mean: float
    low: float
    high: float
    n: int


@dataclass(frozen=True)
class WorkRow:
    """What a person did."""

    at: datetime
    kind: str
    subject_type: str
    subject_id: UUID
    person: str | None
    note: str


def buckets(
    conn: Connection, channel_ids: Sequence[int], start: datetime, end: datetime, every: timedelta
) -> list[Bucket]:
    """Buckets of channels in [start, end), `every` wide and counted from `start`; those without readings are left out.

    `every` is a multiple of five minutes; from an hour on, the hourly rollups serve and `start` stands on an hour.
    """
    statement = _COARSE if every >= timedelta(hours=1) else _FINE
    values = {"channels": list(channel_ids), "start": start, "end": end, "every": every}
    return [Bucket(*row) for row in conn.execute(statement, values, binary=True)]


def hourly_means(
    conn: Connection, channel_ids: Sequence[int], start: datetime, end: datetime
) -> dict[int, dict[int, float]]:
    """Mean of each whole hour in [start, end) by channel and by hours since `start`, which stands on an hour."""
    values = {"channels": list(channel_ids), "start": start, "end": end}
    rows = conn.execute(_HOURLY, values, binary=True)
    return {channel: dict(zip(hours, means, strict=True)) for channel, hours, means in rows}


def work_between(conn: Connection, facility_id: UUID, room_id: UUID, start: datetime, end: datetime) -> list[WorkRow]:
    """Work recorded for a room in [start, end), oldest first."""
    return [WorkRow(*row) for row in conn.execute(_WORK, (facility_id, room_id, start, end))]


def work_of_alarm(conn: Connection, alarm_id: UUID) -> list[WorkRow]:
    """Work recorded in answer to an alarm, oldest first."""
    return [WorkRow(*row) for row in conn.execute(_WORK_OF_ALARM, (alarm_id,))]
