"""Means of readings in buckets and the work marked on a chart, from the rollups.

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

# Channels from the 5-minute rollups, as arrays for each: buckets since a start, means, and numbers of readings.
_FINE: LiteralString = """
SELECT channel_id, array_agg((extract(epoch FROM at - %(start)s) / 300)::integer), array_agg(mean), array_agg(n)
FROM rollup_5m WHERE channel_id = ANY (%(channels)s) AND at >= %(start)s AND at < %(end)s GROUP BY channel_id
"""

# The same from the hourly rollups.
_COARSE: LiteralString = """
SELECT channel_id, array_agg((extract(epoch FROM at - %(start)s) / 3600)::integer), array_agg(mean), array_agg(n)
FROM rollup_1h WHERE channel_id = ANY (%(channels)s) AND at >= %(start)s AND at < %(end)s GROUP BY channel_id
"""

_FINE_BUCKET, _COARSE_BUCKET = timedelta(minutes=5), timedelta(hours=1)

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
class WorkRow:
    """What a person did."""

    at: datetime
    kind: str
    subject_type: str
    subject_id: UUID
    person: str | None
    note: str


def means(
    conn: Connection, channel_ids: Sequence[int], start: datetime, end: datetime, every: timedelta
) -> dict[int, NDArray[np.float64]]:
    """Mean (T,) of each bucket in [start, end) by channel, NaN where there is none; channels without one are left out.

    Buckets are `every` wide and counted from `start`. `every` is a multiple of five minutes, and `start` stands on
    one; from an hour on the hourly rollups serve, and both are of hours.
    """
    statement, width = (_FINE, _FINE_BUCKET) if every < _COARSE_BUCKET else (_COARSE, _COARSE_BUCKET)
    length = -((start - end) // every)
    values = {"channels": list(channel_ids), "start": start, "end": end}
    found = {}
    for channel, numbers, of_bucket, counts in conn.execute(statement, values, binary=True):
        bucket = np.array(numbers) // (every // width)
        heard = np.bincount(bucket, counts, length)
        total = np.bincount(bucket, np.multiply(of_bucket, counts), length)
        found[channel] = np.divide(total, heard, out=np.full(length, np.nan), where=heard > 0)
    return found


def bucket_end(at: datetime, every: timedelta) -> datetime:
    """The end of the bucket that a time falls in, where buckets stand on whole multiples of their width since 1970."""
    seconds = every.total_seconds()
    return datetime.fromtimestamp((at.timestamp() // seconds + 1) * seconds, at.tzinfo)


def attached_since(conn: Connection, channel_ids: Sequence[int], now: datetime) -> dict[int, datetime | None]:
    """From when on channels have measured what they measure now; None where that was always so."""
    return dict(conn.execute(_SINCE, (list(channel_ids), now)).fetchall())


def work_of_alarm(conn: Connection, alarm_id: UUID) -> list[WorkRow]:
    """Work recorded in answer to an alarm, oldest first."""
    return [WorkRow(*row) for row in conn.execute(_WORK_OF_ALARM, (alarm_id,))]
