"""Readings: written once each, whatever comes twice; read back as arrays.

A reading is its channel and its time. `write` stores what is new, counts what was there already, and keeps the first
of two values for one time. Not here: which readings are taken (`ingest.accept`), nor rollups of them.

Almost every batch is new throughout, and COPY into the table costs half of what INSERT … ON CONFLICT does. So COPY is
tried first, in the order of the primary key, and the careful way is for the batches that it refuses.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import LiteralString
from uuid import UUID

import numpy as np
import psycopg
from numpy.typing import NDArray

from wickwatch.store.binary import as_copy, from_copy
from wickwatch.store.connect import Connection

_COPY: LiteralString = "COPY reading (channel_id, at, value) FROM STDIN (FORMAT BINARY)"

# Where readings are put down first when some of them may be there already; private to a connection.
_STAGE: LiteralString = """
CREATE TEMPORARY TABLE IF NOT EXISTS given (channel_id integer, at timestamptz, value double precision)
ON COMMIT DELETE ROWS
"""
_EMPTY_STAGE: LiteralString = "DELETE FROM given"
_COPY_TO_STAGE: LiteralString = "COPY given (channel_id, at, value) FROM STDIN (FORMAT BINARY)"

# What is not there yet; of two given for one time, the first.
_INSERT: LiteralString = """
INSERT INTO reading (channel_id, at, value) SELECT channel_id, at, value FROM given
ON CONFLICT (channel_id, at) DO NOTHING
"""

# By channel: readings given whose time is there with another value. OFFSET 0 keeps it one look-up by key for each,
# and the limits keep it out of chunks that can't hold them.
_CONFLICTS: LiteralString = """
SELECT g.channel_id, count(*)
FROM given g CROSS JOIN LATERAL (
    SELECT r.value FROM reading r
    WHERE r.channel_id = g.channel_id AND r.at = g.at AND r.at BETWEEN %s AND %s OFFSET 0) AS kept
WHERE kept.value <> g.value
GROUP BY g.channel_id ORDER BY g.channel_id
"""

# Conflicts are counted on their channel.
_COUNT_CONFLICTS: LiteralString = """
UPDATE channel SET conflicts = conflicts + g.n FROM unnest(%s::int[], %s::bigint[]) AS g (id, n) WHERE channel.id = g.id
"""

# 5-minute buckets to be rolled up again.
_MARK_DUE: LiteralString = """
INSERT INTO rollup_due (facility_id, at) SELECT * FROM unnest(%s::uuid[], %s::timestamptz[])
"""

# Readings of a channel from a moment until before another, oldest first.
_RAW: LiteralString = """
COPY (SELECT at, value FROM reading WHERE channel_id = %s AND at >= %s AND at < %s ORDER BY at)
TO STDOUT (FORMAT BINARY)
"""

# The same in buckets of one width, counted from 1970.
_BUCKETS: LiteralString = """
COPY (SELECT date_bin(%s, at, 'epoch'), avg(value), min(value), max(value), count(*)
      FROM reading WHERE channel_id = %s AND at >= %s AND at < %s GROUP BY 1 ORDER BY 1)
TO STDOUT (FORMAT BINARY)
"""

_BUCKET_US = 5 * 60 * 1_000_000
_US = np.dtype("M8[us]")


@dataclass(frozen=True)
class Rows:
    """N readings as columns of shape (N,): channel ids, times (UTC), values in their channel's unit, finite."""

    channel_ids: NDArray[np.int32]
    at: NDArray[np.datetime64]
    values: NDArray[np.float64]

    def __post_init__(self) -> None:
        if not len(self.channel_ids) == len(self.at) == len(self.values):
            raise ValueError("columns of readings differ in length")
        if not np.isfinite(self.values).all() or np.isnat(self.at).any():
            raise ValueError("a reading's time and value are finite")

    def __len__(self) -> int:
        return len(self.values)


@dataclass(frozen=True)
class Written:
    """What became of readings: stored, there already with the same value, there already with another one."""

    stored: int
    duplicates: int
    conflicts: int


@dataclass(frozen=True)
class Series:
    """Readings of one channel: times (datetime64[us], UTC) and, of each bucket, mean, low, high and number of readings.

    Without buckets each reading stands for itself.
    """

    at: NDArray[np.datetime64]
    mean: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    n: NDArray[np.int64]


def write(conn: Connection, facility_id: UUID, rows: Rows, *, likely_new: bool = True) -> Written:
    """Store readings of one facility's channels in the caller's transaction; as `write_all`."""
    return write_all(conn, {facility_id: rows}, likely_new=likely_new)


def write_all(conn: Connection, by_facility: Mapping[UUID, Rows], *, likely_new: bool = True) -> Written:
    """Store readings in the caller's transaction and mark the buckets they touch.

    With `likely_new` false the careful way is taken at once: right for what is known to come a second time.
    """
    parts = {facility_id: rows for facility_id, rows in by_facility.items() if len(rows)}
    if not parts:
        return Written(0, 0, 0)
    ids = np.concatenate([rows.channel_ids for rows in parts.values()]).astype(np.int32, copy=False)
    at = np.concatenate([rows.at for rows in parts.values()]).astype(_US, copy=False)
    values = np.concatenate([rows.values for rows in parts.values()]).astype(np.float64, copy=False)
    order = np.lexsort((at, ids))  # of what has the same key, the order of arrival stays
    ids, at, values = ids[order], at[order], values[order]
    data = as_copy((ids, at, values))
    _mark_due(conn, parts)
    twice = ((ids[1:] == ids[:-1]) & (at[1:] == at[:-1])).any()
    if likely_new and not twice and _copied(conn, data):
        return Written(len(ids), 0, 0)
    return _inserted(conn, data, len(ids), at)


def series(conn: Connection, channel_id: int, start: datetime, end: datetime, every: timedelta | None = None) -> Series:
    """Readings of a channel from `start` until before `end`, raw or in buckets of `every`, oldest first."""
    if every is None:
        at, value = from_copy(_copy_out(conn, _RAW, (channel_id, start, end)), ("M8[us]", "f8"))
        return Series(at, value, value, value, np.ones(len(at), np.int64))
    rows = _copy_out(conn, _BUCKETS, (every, channel_id, start, end))
    return Series(*from_copy(rows, ("M8[us]", "f8", "f8", "f8", "i8")))


def _copied(conn: Connection, data: bytes) -> bool:
    """Whether all of it was new and is stored now."""
    try:
        with conn.transaction(), conn.cursor().copy(_COPY) as copy:
            copy.write(data)
    except psycopg.errors.UniqueViolation:
        return False
    return True


def _inserted(conn: Connection, data: bytes, given: int, at: NDArray[np.datetime64]) -> Written:
    conn.execute(_STAGE)
    conn.execute(_EMPTY_STAGE)
    with conn.cursor().copy(_COPY_TO_STAGE) as copy:
        copy.write(data)
    stored = conn.execute(_INSERT).rowcount
    if stored == given:
        return Written(stored, 0, 0)
    conflicts: dict[int, int] = dict(conn.execute(_CONFLICTS, (_moment(at.min()), _moment(at.max()))).fetchall())
    if conflicts:
        conn.execute(_COUNT_CONFLICTS, (list(conflicts), list(conflicts.values())))
    counted = sum(conflicts.values())
    return Written(stored, given - stored - counted, counted)


def _mark_due(conn: Connection, parts: Mapping[UUID, Rows]) -> None:
    facilities: list[UUID] = []
    buckets: list[datetime] = []
    for facility_id, rows in sorted(parts.items()):
        touched = np.unique(rows.at.astype(_US).astype(np.int64) // _BUCKET_US) * _BUCKET_US
        buckets.extend(_moment(at) for at in touched.astype(_US))
        facilities.extend([facility_id] * len(touched))
    conn.execute(_MARK_DUE, (facilities, buckets))


def _moment(at: np.datetime64) -> datetime:
    naive: datetime = at.astype(_US).astype(datetime)
    return naive.replace(tzinfo=UTC)


def _copy_out(conn: Connection, statement: LiteralString, values: tuple[object, ...]) -> bytes:
    with conn.cursor().copy(statement, values) as copy:
        return b"".join(bytes(block) for block in copy)
