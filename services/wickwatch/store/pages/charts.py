"""Buckets of readings and the work marked on a chart, from the rollups.

Not here: raw readings (`store.readings`), or how a chart is drawn (`web.views.chart`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import LiteralString
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

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

# 5-minute means of channels, as two arrays for each: buckets since a start, and means.
_FINE_MEANS: LiteralString = """
SELECT channel_id, array_agg((extract(epoch FROM at - %(start)s) / 300)::integer), array_agg(mean)
FROM rollup_5m WHERE channel_id = ANY (%(channels)s) AND at >= %(start)s AND at < %(end)s GROUP BY channel_id
"""

# From when on channels have measured what they measure now; null where that was always so.
_SINCE: LiteralString = """
SELECT channel_id, lower(during) FROM assignment WHERE channel_id = ANY (%s) AND during @> %s::timestamptz
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


def bucket_end(at: datetime, every: timedelta) -> datetime:
    """The end of the bucket that a time falls in, where buckets stand on whole multiples of their width since 1970."""
    seconds = every.total_seconds()
    return datetime.fromtimestamp((at.timestamp() // seconds + 1) * seconds, at.tzinfo)


def hourly_means(
    conn: Connection, channel_ids: Sequence[int], start: datetime, end: datetime
) -> dict[int, dict[int, float]]:
    """Mean of each whole hour in [start, end) by channel and by hours since `start`, which stands on an hour."""
    values = {"channels": list(channel_ids), "start": start, "end": end}
    rows = conn.execute(_HOURLY, values, binary=True)
    return {channel: dict(zip(hours, means, strict=True)) for channel, hours, means in rows}


def fine_means(
    conn: Connection, channel_ids: Sequence[int], start: datetime, end: datetime
) -> dict[int, NDArray[np.float64]]:
    """Means of 5 minutes (T,) in [start, end) by channel, NaN where there is none; `start` stands on a bucket."""
    length = -((start - end) // timedelta(minutes=5))
    values = {"channels": list(channel_ids), "start": start, "end": end}
    found = {}
    for channel, numbers, means in conn.execute(_FINE_MEANS, values, binary=True):
        found[channel] = np.full(length, np.nan)
        found[channel][numbers] = means
    return found


def attached_since(conn: Connection, channel_ids: Sequence[int], now: datetime) -> dict[int, datetime | None]:
    """From when on channels have measured what they measure now; None where that was always so."""
    return dict(conn.execute(_SINCE, (list(channel_ids), now)).fetchall())


def work_of_alarm(conn: Connection, alarm_id: UUID) -> list[WorkRow]:
    """Work recorded in answer to an alarm, oldest first."""
    return [WorkRow(*row) for row in conn.execute(_WORK_OF_ALARM, (alarm_id,))]
