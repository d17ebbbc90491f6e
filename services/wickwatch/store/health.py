"""What tells whether the whole is well: jobs and their failures, what waits, gateways, batteries, what was refused.

Each statement is given the facilities that may be looked at. Not here: signs of life of the parts (`store.jobs`), sizes
(`store.timescale`), or what is wrong with any of it (`web.views.health`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import LiteralString
from uuid import UUID

from wickwatch.store.connect import Connection

# The newest run of each job, the newest that ended well, and the newest failure with its reason.
_JOBS: LiteralString = """
SELECT r.job, f.name, f.zone, max(r.started_at), max(r.as_of) FILTER (WHERE r.ok),
       max(r.ended_at - r.started_at) FILTER (WHERE r.started_at > %(at)s - interval '1 hour'),
       count(*) FILTER (WHERE NOT r.ok AND r.started_at > %(at)s - interval '1 day'),
       max(r.started_at) FILTER (WHERE NOT r.ok),
       (array_agg(r.detail ORDER BY r.started_at DESC) FILTER (WHERE NOT r.ok))[1]
FROM job_run r LEFT JOIN facility f ON f.id = r.facility_id
WHERE (r.facility_id IS NULL OR r.facility_id = ANY (%(facilities)s)) AND r.started_at > %(at)s - interval '1 day'
GROUP BY r.job, f.name, f.zone ORDER BY r.job, f.name
"""

# Buckets of readings that wait to be rolled up, and the oldest of them, by facility.
_WAITING: LiteralString = """
SELECT f.name, f.zone, count(d.at), min(d.at), (
    SELECT max(g.heard_at) FROM gateway g WHERE g.facility_id = f.id AND g.retired_at IS NULL)
FROM facility f LEFT JOIN rollup_due d ON d.facility_id = f.id
WHERE f.id = ANY (%s) GROUP BY f.id ORDER BY f.name
"""

# Notices of facilities that wait to leave, and since when the oldest is due.
_QUEUED: LiteralString = """
SELECT count(*), min(due_at) FROM notice WHERE state = 'queued' AND facility_id = ANY (%s)
"""

# Gateways in use, with how many devices were last heard through each.
_GATEWAYS: LiteralString = """
SELECT f.name, f.zone, g.slug, g.status, g.status_at, g.heard_at, g.declared, count(d.id)
FROM gateway g JOIN facility f ON f.id = g.facility_id LEFT JOIN device d ON d.gateway_id = g.id
WHERE g.facility_id = ANY (%s) AND g.retired_at IS NULL
GROUP BY f.name, f.zone, g.id ORDER BY g.heard_at NULLS FIRST, f.name, g.slug
"""

# Batteries with their newest charge, the emptiest first, and what the device beside each measures, with its room.
_BATTERIES: LiteralString = """
SELECT f.name, f.zone, d.urn, c.unit, newest.last, newest.last_at, (
    SELECT string_agg(DISTINCT concat_ws(', ', coalesce(k.name, v.name, l.name), r.name), '; ') FROM channel h
    JOIN assignment a ON a.channel_id = h.id AND a.during @> %(at)s
    LEFT JOIN container k ON k.id = a.container_id LEFT JOIN reservoir v ON v.id = a.reservoir_id
    LEFT JOIN supply_line l ON l.id = a.line_id
    JOIN room r ON r.id = coalesce(a.room_id, k.room_id, v.room_id, l.room_id)
    WHERE h.device_id = d.id)
FROM channel c JOIN facility f ON f.id = c.facility_id JOIN device d ON d.id = c.device_id
JOIN LATERAL (
    SELECT last, last_at FROM rollup_5m WHERE channel_id = c.id AND at <= %(at)s ORDER BY at DESC LIMIT 1
) newest ON true
WHERE c.quantity = 'battery' AND c.facility_id = ANY (%(facilities)s)
ORDER BY c.unit, newest.last, d.urn LIMIT %(limit)s
"""

# What was refused of facilities, newest first; of no known facility only for who may see every facility.
_REFUSED: LiteralString = """
SELECT q.id, q.at, f.name, f.zone, q.topic, left(encode(q.payload, 'hex'), 2 * %(octets)s), q.payload_bytes, q.reason,
       q.detail, q.records, octet_length(q.payload) = q.payload_bytes, q.tried_at, q.taken_at, q.stored, q.known
FROM quarantine q LEFT JOIN facility f ON f.id = q.facility_id
WHERE (q.facility_id = ANY (%(facilities)s) OR (q.facility_id IS NULL AND %(every)s))
  AND (%(reason)s::text IS NULL OR q.reason = %(reason)s) AND (%(before)s::bigint IS NULL OR q.id < %(before)s)
ORDER BY q.id DESC LIMIT %(limit)s
"""

# How many records were refused within the last week, by reason.
_REASONS: LiteralString = """
SELECT reason, sum(records)::bigint FROM quarantine_count
WHERE (facility_id = ANY (%(facilities)s) OR (facility_id IS NULL AND %(every)s)) AND day > %(at)s::date - 7
GROUP BY reason ORDER BY 2 DESC
"""

# The newest migration the database has.
_SCHEMA: LiteralString = "SELECT max(number) FROM schema_migration"


@dataclass(frozen=True)
class JobRow:
    """A job of a facility, or of none, over the last day; `slowest` is of the last hour."""

    job: str
    facility: str | None
    zone: str | None
    started_at: datetime
    ok_as_of: datetime | None
    slowest: timedelta | None
    failures: int
    failed_at: datetime | None
    why: str | None


@dataclass(frozen=True)
class LagRow:
    """What of a facility waits to be rolled up, and when a gateway of it was last heard."""

    facility: str
    zone: str
    buckets: int
    oldest: datetime | None
    heard_at: datetime | None


@dataclass(frozen=True)
class GatewayRow:
    """One gateway."""

    facility: str
    zone: str
    slug: str
    status: str | None
    status_at: datetime | None
    heard_at: datetime | None
    declared: bool
    devices: int


@dataclass(frozen=True)
class BatteryRow:
    """One battery; `measures` names what its device measures and where, None where that is attached to nothing."""

    facility: str
    zone: str
    urn: str
    unit: str
    last: float
    last_at: datetime
    measures: str | None


@dataclass(frozen=True)
class RefusedRow:
    """What was refused of one pack; `payload_hex` is its beginning, `payload_bytes` its whole length.

    `whole` where all of the payload was kept. Once it was tried again `tried_at` tells when, and `taken_at` when that
    took it in, with the readings it brought (`stored`) and those that were `known` before.
    """

    id: int
    at: datetime
    facility: str | None
    zone: str | None
    topic: str
    payload_hex: str
    payload_bytes: int
    reason: str
    detail: str
    records: int
    whole: bool
    tried_at: datetime | None
    taken_at: datetime | None
    stored: int
    known: int


def job_runs(conn: Connection, facility_ids: Sequence[UUID], now: datetime) -> list[JobRow]:
    """Jobs of facilities, and those of none."""
    return [JobRow(*row) for row in conn.execute(_JOBS, {"facilities": list(facility_ids), "at": now})]


def lags(conn: Connection, facility_ids: Sequence[UUID]) -> list[LagRow]:
    """What waits in each facility."""
    return [LagRow(*row) for row in conn.execute(_WAITING, (list(facility_ids),))]


def queued(conn: Connection, facility_ids: Sequence[UUID]) -> tuple[int, datetime | None]:
    """Notices that wait to leave, and since when the oldest is due."""
    row = conn.execute(_QUEUED, (list(facility_ids),)).fetchone()
    assert row is not None
    return row[0], row[1]


def gateways(conn: Connection, facility_ids: Sequence[UUID]) -> list[GatewayRow]:
    """Gateways of facilities, those not heard for longest first."""
    return [GatewayRow(*row) for row in conn.execute(_GATEWAYS, (list(facility_ids),))]


def batteries(conn: Connection, facility_ids: Sequence[UUID], now: datetime, limit: int) -> list[BatteryRow]:
    """Batteries of facilities by unit, the emptiest first."""
    values = {"facilities": list(facility_ids), "at": now, "limit": limit}
    return [BatteryRow(*row) for row in conn.execute(_BATTERIES, values)]


def refused(
    conn: Connection,
    facility_ids: Sequence[UUID],
    every: bool,
    limit: int,
    octets: int,
    *,
    reason: str | None = None,
    before: int | None = None,
) -> list[RefusedRow]:
    """What was refused, newest first, with the first `octets` of each payload; `every` adds that of no known facility.

    `before` continues after the row with this id.
    """
    values = {
        "facilities": list(facility_ids),
        "every": every,
        "limit": limit,
        "octets": octets,
        "reason": reason,
        "before": before,
    }
    return [RefusedRow(*row) for row in conn.execute(_REFUSED, values)]


def reasons(conn: Connection, facility_ids: Sequence[UUID], every: bool, now: datetime) -> dict[str, int]:
    """Records refused within the last week by reason, the most frequent first."""
    values = {"facilities": list(facility_ids), "every": every, "at": now}
    return dict(conn.execute(_REASONS, values).fetchall())


def schema(conn: Connection) -> int:
    """Number of the newest migration the database has."""
    row = conn.execute(_SCHEMA).fetchone()
    assert row is not None
    return int(row[0] or 0)
