"""Rollups into the grids that detectors look at, many rows packed into few.

A facility of 20,000 channels has 11 million 5-minute buckets in its window: rows of a result set would cost more than
the judging. The server packs them into binary strings that numpy reads as they are. Not here: keeping the rollups
(`store.rollups`) or a window between sweeps (`watch.window`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from wickwatch.store.connect import Connection

#: One 5-minute bucket as packed by the server: `bucket` counts steps since 1970, `last_at` is microseconds since then.
FINE_ROW = np.dtype(
    [
        ("channel", ">i4"),
        ("bucket", ">i4"),
        ("mean", ">f4"),
        ("low", ">f4"),
        ("high", ">f4"),
        ("last", ">f8"),
        ("last_at", ">i8"),
    ]
)
#: One hourly bucket.
COARSE_ROW = np.dtype(
    [
        ("channel", ">i4"),
        ("bucket", ">i4"),
        ("mean", ">f4"),
        ("low", ">f4"),
        ("high", ">f4"),
    ]
)
#: The newest reading of a channel.
LAST_ROW = np.dtype([("channel", ">i4"), ("last", ">f8"), ("last_at", ">i8")])

# 5-minute buckets of a facility between two times, packed by groups of channels.
_FINE = """
SELECT string_agg(int4send(channel_id) || int4send((extract(epoch FROM at) / 300)::int4)
                  || float4send(mean) || float4send(low) || float4send(high)
                  || float8send(last) || int8send((extract(epoch FROM last_at) * 1000000)::int8), '')
FROM rollup_5m
WHERE at >= %(start)s AND at < %(end)s
  AND channel_id = ANY (ARRAY(
      SELECT id FROM channel WHERE facility_id = %(facility)s
      AND (%(channels)s::int[] IS NULL OR id = ANY (%(channels)s))))
GROUP BY channel_id / 256
"""

# Hourly buckets of a facility between two times, packed likewise.
_COARSE = """
SELECT string_agg(int4send(channel_id) || int4send((extract(epoch FROM at) / 3600)::int4)
                  || float4send(mean) || float4send(low) || float4send(high), '')
FROM rollup_1h
WHERE at >= %(start)s AND at < %(end)s
  AND channel_id = ANY (ARRAY(
      SELECT id FROM channel WHERE facility_id = %(facility)s
      AND (%(channels)s::int[] IS NULL OR id = ANY (%(channels)s))))
GROUP BY channel_id / 256
"""

# The newest reading of each channel of a facility up to a time, if it has one since `start`.
_LAST = """
SELECT string_agg(int4send(c.id) || float8send(r.value) || int8send((extract(epoch FROM r.at) * 1000000)::int8), '')
FROM channel c
CROSS JOIN LATERAL (
    SELECT at, value FROM reading WHERE channel_id = c.id AND at >= %(start)s AND at <= %(end)s ORDER BY at DESC LIMIT 1
) r
WHERE c.facility_id = %(facility)s AND (%(channels)s::int[] IS NULL OR c.id = ANY (%(channels)s))
GROUP BY c.id / 256
"""

# 5-minute buckets of a facility computed from its readings between two times, as `store.rollups` computes them.
_FINE_OF_READINGS = """
SELECT string_agg(int4send(channel_id) || int4send((extract(epoch FROM bucket) / 300)::int4)
                  || float4send(mean) || float4send(low) || float4send(high)
                  || float8send(high) || int8send((extract(epoch FROM bucket) * 1000000)::int8), '')
FROM (
    SELECT channel_id, date_bin('5 minutes', at, 'epoch') AS bucket, min(value)::real AS low, max(value)::real AS high,
           avg(value)::real AS mean
    FROM reading
    WHERE at >= %(start)s AND at < %(end)s
  AND channel_id = ANY (ARRAY(
      SELECT id FROM channel WHERE facility_id = %(facility)s
      AND (%(channels)s::int[] IS NULL OR id = ANY (%(channels)s))))
    GROUP BY channel_id, bucket
) fine
GROUP BY channel_id / 256
"""

# Hourly buckets likewise, from the 5-minute ones.
_COARSE_OF_READINGS = """
SELECT string_agg(int4send(channel_id) || int4send((extract(epoch FROM hour) / 3600)::int4)
                  || float4send(mean) || float4send(low) || float4send(high), '')
FROM (
    SELECT channel_id, date_bin('1 hour', bucket, 'epoch') AS hour, min(low) AS low, max(high) AS high,
           (sum(mean * n) / sum(n))::real AS mean
    FROM (
        SELECT channel_id, date_bin('5 minutes', at, 'epoch') AS bucket, count(*) AS n, min(value)::real AS low,
               max(value)::real AS high, avg(value)::real AS mean
        FROM reading
        WHERE at >= %(start)s AND at < %(end)s
  AND channel_id = ANY (ARRAY(
      SELECT id FROM channel WHERE facility_id = %(facility)s
      AND (%(channels)s::int[] IS NULL OR id = ANY (%(channels)s))))
        GROUP BY channel_id, bucket
    ) fine
    GROUP BY channel_id, hour
) coarse
GROUP BY channel_id / 256
"""

# Readings themselves after one time and up to another.
_READINGS = """
SELECT string_agg(int4send(channel_id) || float8send(value) || int8send((extract(epoch FROM at) * 1000000)::int8), '')
FROM reading
WHERE at > %(start)s AND at <= %(end)s
  AND channel_id = ANY (ARRAY(
      SELECT id FROM channel WHERE facility_id = %(facility)s
      AND (%(channels)s::int[] IS NULL OR id = ANY (%(channels)s))))
GROUP BY channel_id / 256
"""

#: Channels by id, or all of a facility.
Channels = Sequence[int] | None

# All channels of a facility, in order.
_CHANNELS = "SELECT id FROM channel WHERE facility_id = %s ORDER BY id"


def channel_ids(conn: Connection, facility_id: UUID) -> NDArray[np.int64]:
    """Ids of all channels of a facility, ascending, shape (C,)."""
    return np.array([row[0] for row in conn.execute(_CHANNELS, (facility_id,))], dtype=np.int64)


def fine_rows(
    conn: Connection, facility_id: UUID, start: datetime, end: datetime, channels: Channels = None
) -> Iterator[NDArray[np.void]]:
    """5-minute buckets beginning in [start, end), as arrays of FINE_ROW in no order."""
    return _packed(conn, _FINE, FINE_ROW, facility_id, start, end, channels)


def coarse_rows(
    conn: Connection, facility_id: UUID, start: datetime, end: datetime, channels: Channels = None
) -> Iterator[NDArray[np.void]]:
    """Hourly buckets beginning in [start, end), as arrays of COARSE_ROW in no order."""
    return _packed(conn, _COARSE, COARSE_ROW, facility_id, start, end, channels)


def last_rows(
    conn: Connection, facility_id: UUID, start: datetime, end: datetime, channels: Channels = None
) -> Iterator[NDArray[np.void]]:
    """Newest reading of each channel in [start, end], as arrays of LAST_ROW."""
    return _packed(conn, _LAST, LAST_ROW, facility_id, start, end, channels)


def fine_rows_of_readings(
    conn: Connection, facility_id: UUID, start: datetime, end: datetime, channels: Channels = None
) -> Iterator[NDArray[np.void]]:
    """5-minute buckets of readings in [start, end), whatever rollups are kept; `last`, `last_at` mean nothing here."""
    return _packed(conn, _FINE_OF_READINGS, FINE_ROW, facility_id, start, end, channels)


def coarse_rows_of_readings(
    conn: Connection, facility_id: UUID, start: datetime, end: datetime, channels: Channels = None
) -> Iterator[NDArray[np.void]]:
    """Hourly buckets of readings in [start, end), whatever rollups are kept."""
    return _packed(conn, _COARSE_OF_READINGS, COARSE_ROW, facility_id, start, end, channels)


def reading_rows(
    conn: Connection, facility_id: UUID, start: datetime, end: datetime, channels: Channels = None
) -> Iterator[NDArray[np.void]]:
    """Readings in (start, end], as arrays of LAST_ROW in no order."""
    return _packed(conn, _READINGS, LAST_ROW, facility_id, start, end, channels)


def _packed(
    conn: Connection,
    statement: str,
    row: np.dtype[np.void],
    facility_id: UUID,
    start: datetime,
    end: datetime,
    channels: Channels,
) -> Iterator[NDArray[np.void]]:
    asked = {"facility": facility_id, "start": start, "end": end, "channels": None if channels is None else [*channels]}
    with conn.cursor(binary=True) as cursor:
        for (packed,) in cursor.stream(statement, asked):
            yield np.frombuffer(packed, dtype=row)
