"""Rollups of readings into 5-minute and 1-hour buckets, exact under late data.

Whoever writes readings marks the 5-minute buckets it touched in `rollup_due`, in the same transaction. `refresh`
takes the marks away and computes those buckets again from the readings, in one transaction: a mark that another
transaction commits meanwhile stays for the next time, so no late reading is ever left out. Not here: the grids that
detectors look at (`store.frames`).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from wickwatch.store.connect import Connection

FINE = timedelta(minutes=5)
COARSE = timedelta(hours=1)

#: Rows of readings rolled up in one statement at most, in hours of buckets; keeps the memory of a backfill small.
_HOURS_AT_ONCE = 24

# Takes the marks of a facility away and says which buckets they named.
_TAKE_DUE = """
WITH taken AS (DELETE FROM rollup_due WHERE facility_id = %s RETURNING at)
SELECT DISTINCT at FROM taken ORDER BY at
"""

# Rolls up the named 5-minute buckets (a day at most between first and last) from the readings themselves.
_FINE = """
INSERT INTO rollup_5m AS r (channel_id, at, n, low, high, mean, last, last_at)
SELECT e.channel_id, date_bin('5 minutes', e.at, 'epoch') AS bucket, count(*), min(e.value), max(e.value), avg(e.value),
       (array_agg(e.value ORDER BY e.at DESC))[1], max(e.at)
FROM reading e
WHERE e.at >= %(start)s AND e.at < %(end)s
  AND e.channel_id = ANY (ARRAY(SELECT id FROM channel WHERE facility_id = %(facility)s))
  AND date_bin('5 minutes', e.at, 'epoch') = ANY (%(buckets)s)
GROUP BY e.channel_id, bucket
ON CONFLICT (channel_id, at) DO UPDATE
SET n = excluded.n, low = excluded.low, high = excluded.high, mean = excluded.mean,
    last = excluded.last, last_at = excluded.last_at
WHERE (r.n, r.last_at) IS DISTINCT FROM (excluded.n, excluded.last_at)
"""

# Rolls up the named hours from their 5-minute buckets; the mean weighs each by its number of readings.
_COARSE = """
INSERT INTO rollup_1h AS r (channel_id, at, n, low, high, mean)
SELECT f.channel_id, date_bin('1 hour', f.at, 'epoch') AS bucket, sum(f.n), min(f.low), max(f.high),
       sum(f.mean * f.n) / sum(f.n)
FROM rollup_5m f
WHERE f.at >= %(start)s AND f.at < %(end)s
  AND f.channel_id = ANY (ARRAY(SELECT id FROM channel WHERE facility_id = %(facility)s))
  AND date_bin('1 hour', f.at, 'epoch') = ANY (%(buckets)s)
GROUP BY f.channel_id, bucket
ON CONFLICT (channel_id, at) DO UPDATE
SET n = excluded.n, low = excluded.low, high = excluded.high, mean = excluded.mean
WHERE (r.n, r.low, r.high, r.mean) IS DISTINCT FROM (excluded.n, excluded.low, excluded.high, excluded.mean)
"""

# Whether no copy of the watch looks at a facility, which would miss the marks that somebody else takes. The key is that
# of the watch's own lock.
_UNWATCHED = "SELECT pg_try_advisory_xact_lock(hashtextextended('wickwatch.sweep ' || %s::text, 0))"

#: 5-minute buckets serve the last days of detection and the pages' longest chart; the hourly ones stay.
FINE_KEPT = timedelta(days=40)

# Fine buckets past their use.
_FORGET_FINE = "DELETE FROM rollup_5m WHERE at < %s"


@dataclass(frozen=True)
class Refreshed:
    """Beginnings of the buckets that were computed again, ascending."""

    fine: tuple[datetime, ...]
    coarse: tuple[datetime, ...]


def refresh(conn: Connection, facility_id: UUID) -> Refreshed:
    """Compute every due bucket of a facility again, in the caller's transaction.

    The caller holds the facility's lock, so that two copies do not do the same work.
    """
    fine = tuple(row[0] for row in conn.execute(_TAKE_DUE, (facility_id,)))
    coarse = tuple(sorted({_hour(at) for at in fine}))
    for statement, buckets, width in ((_FINE, fine, FINE), (_COARSE, coarse, COARSE)):
        for group in _runs(buckets):
            conn.execute(
                statement,
                {
                    "facility": facility_id,
                    "start": group[0],
                    "end": group[-1] + width,
                    "buckets": group,
                },
            )
    return Refreshed(fine, coarse)


def refresh_unless_watched(conn: Connection, facility_id: UUID) -> None:
    """Compute due buckets again where no watch runs that would do it within a sweep, in the caller's transaction."""
    row = conn.execute(_UNWATCHED, (facility_id,)).fetchone()
    if row is not None and row[0]:
        refresh(conn, facility_id)


def forget_fine(conn: Connection, now: datetime) -> int:
    """Drop 5-minute buckets past their use; returns how many."""
    return conn.execute(_FORGET_FINE, (now - FINE_KEPT,)).rowcount


def _hour(at: datetime) -> datetime:
    return at.replace(minute=0, second=0, microsecond=0)


def _runs(buckets: tuple[datetime, ...]) -> list[list[datetime]]:
    """Buckets in groups that each span a limited time, so that one old straggler does not widen the scan."""
    groups: list[list[datetime]] = []
    for at in buckets:
        if groups and at - groups[-1][0] < timedelta(hours=_HOURS_AT_ONCE) and at - groups[-1][-1] <= COARSE:
            groups[-1].append(at)
        else:
            groups.append([at])
    return groups
