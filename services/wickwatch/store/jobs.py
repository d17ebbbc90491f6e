"""Heartbeats of the parts and runs of the jobs: what tells whether the watching itself is alive.

Not here: what follows from a part that stopped (`watch.health`), nor the alarm for it.
"""

from __future__ import annotations

import os
import socket
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from psycopg.types.json import Jsonb

from wickwatch.store.connect import Connection

#: The parts without which nobody is called or sees anything, and how often they beat at least (seconds). A part is late
#: after three beats missed.
NEEDED = ("ingest", "watch", "notify", "web")
#: All parts that beat. A house may do without reports; one that has the reporter misses it when it is gone.
PARTS = (*NEEDED, "report")
BEAT_SECONDS = 10

# A part says that it lives; one row per copy, so the table stays small.
_BEAT = """
INSERT INTO heartbeat (part, instance, at, healthy, detail) VALUES (%s, %s, now(), %s, %s)
ON CONFLICT (part, instance) DO UPDATE SET at = excluded.at, healthy = excluded.healthy, detail = excluded.detail
"""

# Every copy heard within the last day, with its age by the database's own clock.
_PARTS = """
SELECT part, instance, at, healthy, detail, extract(epoch FROM now() - at)::float
FROM heartbeat WHERE at > now() - interval '1 day' ORDER BY part, at DESC
"""

# A copy that stopped on purpose leaves, so that it is not missed.
_LEAVE = "DELETE FROM heartbeat WHERE part = %s AND instance = %s"

# A run of a job that has ended, well or not.
_RECORD = """
INSERT INTO job_run (job, facility_id, as_of, started_at, ended_at, ok, detail)
VALUES (%s, %s, %s, %s, clock_timestamp(), %s, %s)
"""

# The newest run of a job for a facility that ended well.
_LAST_OK = """
SELECT as_of FROM job_run WHERE job = %s AND facility_id IS NOT DISTINCT FROM %s AND ok ORDER BY started_at DESC LIMIT 1
"""

# Why the newest run failed, if it did.
_LAST_FAILURE = """
SELECT CASE WHEN ok THEN '' ELSE detail END FROM job_run
WHERE job = %s AND facility_id IS NOT DISTINCT FROM %s ORDER BY started_at DESC LIMIT 1
"""

# Runs older than a week tell nothing that the alarm journal does not; the newest of each job stays.
_FORGET = """
DELETE FROM job_run r WHERE started_at < now() - interval '7 days'
AND EXISTS (
    SELECT FROM job_run n WHERE n.job = r.job AND n.facility_id IS NOT DISTINCT FROM r.facility_id
    AND n.as_of > r.as_of AND n.ok
)
"""


@dataclass(frozen=True)
class Beat:
    """The last sign of life of one copy of a part; `age_s` by the database's clock."""

    part: str
    instance: str
    at: datetime
    healthy: bool
    detail: Mapping[str, object]
    age_s: float

    @property
    def alive(self) -> bool:
        """Heard lately, and well by its own account."""
        return self.healthy and self.age_s <= 3 * BEAT_SECONDS


def this_instance() -> str:
    """Name of this copy of a part: host and process."""
    return f"{socket.gethostname()}:{os.getpid()}"


def beat(
    conn: Connection,
    part: str,
    instance: str,
    healthy: bool = True,
    detail: Mapping[str, object] | None = None,
) -> None:
    """Record a sign of life."""
    conn.execute(_BEAT, (part, instance, healthy, Jsonb(dict(detail or {}))))


def leave(conn: Connection, part: str, instance: str) -> None:
    """Say that this copy stopped on purpose."""
    conn.execute(_LEAVE, (part, instance))


def parts(conn: Connection) -> list[Beat]:
    """Every copy heard within a day, by part, the newest first."""
    return [Beat(*row) for row in conn.execute(_PARTS)]


def record(
    conn: Connection,
    job: str,
    facility_id: UUID | None,
    as_of: datetime,
    started: datetime,
    ok: bool,
    detail: str = "",
) -> None:
    """Record a run that has ended."""
    conn.execute(_RECORD, (job, facility_id, as_of, started, ok, detail[:1000]))


def last_ok(conn: Connection, job: str, facility_id: UUID | None) -> datetime | None:
    """As-of time of the newest run that ended well, or None."""
    row = conn.execute(_LAST_OK, (job, facility_id)).fetchone()
    return row[0] if row else None


def last_failure(conn: Connection, job: str, facility_id: UUID | None) -> str:
    """Why the newest run failed; empty where it did not."""
    row = conn.execute(_LAST_FAILURE, (job, facility_id)).fetchone()
    return str(row[0]) if row else ""


def forget_old_runs(conn: Connection) -> int:
    """Drop runs older than a week; returns how many."""
    return conn.execute(_FORGET).rowcount
