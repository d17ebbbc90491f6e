"""Whether what a page would show has changed, and whether the watching is alive.

Not here: heartbeats of the parts (`store.jobs`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import LiteralString
from uuid import UUID

from wickwatch.store.connect import Connection

# What changes with every event of an open alarm and with what is out of service, of each facility.
_STAMP: LiteralString = """
SELECT f.id, count(a.id), coalesce(sum(a.version), 0), max(a.raised_at), (
    SELECT count(*) FROM out_of_service o
    WHERE o.facility_id = f.id AND o.until > %(at)s AND o.ended_at IS NULL)
FROM facility f LEFT JOIN alarm a ON a.facility_id = f.id AND a.closed_at IS NULL
WHERE f.id = ANY (%(facilities)s) GROUP BY f.id
"""

# The newest sweep of each facility that ended well.
_SWEEPS: LiteralString = """
SELECT f.id, (
    SELECT as_of FROM job_run j WHERE j.job = 'sweep' AND j.facility_id = f.id AND j.ok
    ORDER BY started_at DESC LIMIT 1)
FROM facility f WHERE f.id = ANY (%s)
"""

# When reservoirs that the watch found low are empty.
_LOW: LiteralString = """
SELECT subject_id, harm_at FROM finding
WHERE kind = 'reservoir-low' AND subject_id = ANY (%s) AND gone_at IS NULL AND ended_at IS NULL AND harm_at IS NOT NULL
"""

# When each gateway of a facility was last heard.
_HEARD: LiteralString = """
SELECT facility_id, max(heard_at) FROM gateway WHERE facility_id = ANY (%s) AND retired_at IS NULL GROUP BY facility_id
"""

# Channels that were heard and are attached to nothing, in each facility; batteries are never attached.
_WAITING: LiteralString = """
SELECT c.facility_id, count(*) FROM channel c
WHERE c.facility_id = ANY (%s) AND c.quantity <> 'battery'
  AND NOT EXISTS (SELECT FROM assignment a WHERE a.channel_id = c.id AND a.during @> now())
GROUP BY c.facility_id
"""

# Open alarms by kind, over all facilities.
_ALARMS: LiteralString = "SELECT kind, count(*) FROM alarm WHERE closed_at IS NULL GROUP BY kind"

# Quarantined records by reason, over all facilities.
_QUARANTINED: LiteralString = "SELECT reason, sum(records) FROM quarantine_count GROUP BY reason"

# Notices waiting to leave, and how long the oldest is due (seconds).
_NOTICES: LiteralString = """
SELECT count(*), coalesce(extract(epoch FROM now() - min(due_at)), 0)::float FROM notice WHERE state = 'queued'
"""


@dataclass(frozen=True)
class Stamp:
    """Differs when an alarm's life went on, or something went out of service or came back."""

    alarms: int
    events: int
    newest: datetime | None
    out: int


@dataclass(frozen=True)
class Counts:
    """Figures over all facilities, without names."""

    alarms: Mapping[str, int]
    quarantined: Mapping[str, int]
    notices_queued: int
    notice_oldest_due_s: float


def stamp(conn: Connection, facility_ids: Sequence[UUID], at: datetime) -> dict[UUID, Stamp]:
    """One stamp for each facility, as of now."""
    values = {"facilities": list(facility_ids), "at": at}
    return {row[0]: Stamp(*row[1:]) for row in conn.execute(_STAMP, values)}


def sweeps(conn: Connection, facility_ids: Sequence[UUID]) -> dict[UUID, datetime | None]:
    """As-of time of the newest sweep of each facility that ended well."""
    return dict(conn.execute(_SWEEPS, (list(facility_ids),)).fetchall())


def low_until(conn: Connection, reservoir_ids: Sequence[UUID]) -> dict[UUID, datetime]:
    """When each reservoir that the watch found low will be empty."""
    return dict(conn.execute(_LOW, (list(reservoir_ids),)).fetchall())


def heard(conn: Connection, facility_ids: Sequence[UUID]) -> dict[UUID, datetime | None]:
    """When a gateway of each facility was last heard; facilities without one are left out."""
    return dict(conn.execute(_HEARD, (list(facility_ids),)).fetchall())


def waiting_channels(conn: Connection, facility_ids: Sequence[UUID]) -> dict[UUID, int]:
    """How many channels of each facility are attached to nothing."""
    return dict(conn.execute(_WAITING, (list(facility_ids),)).fetchall())


def counts(conn: Connection) -> Counts:
    """Figures for the metrics."""
    row = conn.execute(_NOTICES).fetchone()
    assert row is not None
    quarantined = {reason: int(records) for reason, records in conn.execute(_QUARANTINED)}
    return Counts(dict(conn.execute(_ALARMS).fetchall()), quarantined, *row)
