"""What a weekly report reads: bucketed means of a long span, and what measured what, what was judged, what lit.

Not here: the reports themselves (`store.reports`), nor any figure made of these rows.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, time
from typing import LiteralString
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from wickwatch.store.connect import Connection

#: One bucket as packed by the server: `bucket` counts steps of its rollup since 1970.
MEAN_ROW = np.dtype([("channel", ">i4"), ("bucket", ">i4"), ("mean", ">f4")])

# Means of 5 minutes of a facility's channels between two times, packed by groups of channels.
_FINE: LiteralString = """
SELECT string_agg(int4send(channel_id) || int4send((extract(epoch FROM at) / 300)::int4) || float4send(mean), '')
FROM rollup_5m
WHERE at >= %(start)s AND at < %(end)s
  AND channel_id = ANY (ARRAY(SELECT id FROM channel WHERE facility_id = %(facility)s))
GROUP BY channel_id / 128
"""

# Means of hours likewise.
_COARSE: LiteralString = """
SELECT string_agg(int4send(channel_id) || int4send((extract(epoch FROM at) / 3600)::int4) || float4send(mean), '')
FROM rollup_1h
WHERE at >= %(start)s AND at < %(end)s
  AND channel_id = ANY (ARRAY(SELECT id FROM channel WHERE facility_id = %(facility)s))
GROUP BY channel_id / 128
"""

# What each channel of a facility measured within a span, the earlier assignments first.
_STRETCHES: LiteralString = """
SELECT a.channel_id, CASE WHEN a.twin THEN 'twin' ELSE a.quantity END,
    coalesce(a.container_id, a.reservoir_id, a.line_id, a.room_id), lower(a.during), upper(a.during), c.interval_s
FROM assignment a JOIN channel c ON c.id = a.channel_id
WHERE c.facility_id = %(facility)s AND a.during && tstzrange(%(start)s, %(end)s)
ORDER BY lower(a.during), a.channel_id
"""

# The newest reading of a facility's channels within a span.
_REACHED: LiteralString = """
SELECT max(newest.at) FROM channel c CROSS JOIN LATERAL (
    SELECT at FROM reading WHERE channel_id = c.id AND at >= %(start)s AND at < %(end)s ORDER BY at DESC LIMIT 1) newest
WHERE c.facility_id = %(facility)s
"""

# The same from hours that are kept when readings are not.
_REACHED_HOURS: LiteralString = """
SELECT max(at) + interval '1 hour' FROM rollup_1h WHERE at >= %(start)s AND at < %(end)s
AND channel_id = ANY (ARRAY(SELECT id FROM channel WHERE facility_id = %(facility)s))
"""

# When the probes of a facility's containers were judged not to tell the truth.
_FAULTS: LiteralString = """
SELECT subject_id, since, gone_at FROM finding
WHERE facility_id = %(facility)s AND kind = 'probe-fault'
  AND since < %(end)s AND coalesce(gone_at, 'infinity') > %(start)s
ORDER BY since
"""

# How long each room's lights have been set as they are, and were before.
_LIGHTS: LiteralString = """
SELECT l.room_id, l.lights_on, l.lights_off, lower(l.during), upper(l.during)
FROM room_lights l JOIN room r ON r.id = l.room_id
WHERE r.facility_id = %(facility)s AND l.during && tstzrange(%(start)s, %(end)s) ORDER BY lower(l.during) NULLS FIRST
"""

# The newest charge of each container's probe, where its device tells it in percent.
_CHARGES: LiteralString = """
SELECT DISTINCT ON (a.container_id) a.container_id, h.mean
FROM assignment a JOIN channel c ON c.id = a.channel_id
JOIN channel b ON b.device_id = c.device_id AND b.quantity = 'battery' AND b.unit = '%%EL'
JOIN rollup_1h h ON h.channel_id = b.id AND h.at >= %(start)s AND h.at < %(end)s
WHERE c.facility_id = %(facility)s AND a.container_id IS NOT NULL AND a.during @> %(end)s::timestamptz
ORDER BY a.container_id, h.at DESC
"""


@dataclass(frozen=True)
class Stretch:
    """What a channel measured from when until when (None: still); `quantity` is `twin` for a second probe."""

    channel_id: int
    quantity: str
    subject_id: UUID
    start: datetime
    end: datetime | None
    interval_s: float | None


@dataclass(frozen=True)
class Lights:
    """How a room's lights were set, in facility time, from when (None: always) until when (None: still)."""

    room_id: UUID
    lights_on: time
    lights_off: time
    start: datetime | None
    end: datetime | None


@dataclass(frozen=True)
class Fault:
    """When a container's probe, or a reservoir's sensor, was judged not to tell the truth."""

    subject_id: UUID
    start: datetime
    end: datetime | None


@dataclass(frozen=True)
class Span:
    """Of which facility and time something is read."""

    facility: UUID
    start: datetime
    end: datetime


def fine_means(conn: Connection, span: Span) -> Iterator[NDArray[np.void]]:
    """Means of the 5-minute buckets that begin in the span, as arrays of MEAN_ROW in no order."""
    return _packed(conn, _FINE, span)


def coarse_means(conn: Connection, span: Span) -> Iterator[NDArray[np.void]]:
    """Means of the hours that begin in the span, likewise."""
    return _packed(conn, _COARSE, span)


def stretches(conn: Connection, span: Span) -> list[Stretch]:
    """What measured what within the span, the earlier assignments first."""
    return [Stretch(*row) for row in conn.execute(_STRETCHES, vars(span))]


def reached(conn: Connection, span: Span) -> datetime | None:
    """The newest reading in the span; where readings are no longer kept, the end of the newest hour; else None."""
    for statement in (_REACHED, _REACHED_HOURS):
        row = conn.execute(statement, vars(span)).fetchone()
        if row is not None and row[0] is not None:
            found: datetime = row[0]
            return found
    return None


def faults(conn: Connection, span: Span) -> list[Fault]:
    """When probes and level sensors were judged not to tell the truth."""
    return [Fault(*row) for row in conn.execute(_FAULTS, vars(span))]


def lights(conn: Connection, span: Span) -> list[Lights]:
    """How the lights of the facility's rooms were set within the span, the earlier first."""
    return [Lights(*row) for row in conn.execute(_LIGHTS, vars(span))]


def charges(conn: Connection, span: Span) -> Mapping[UUID, float]:
    """Newest charge [%] of the containers' probes in the span, by container."""
    return {row[0]: float(row[1]) for row in conn.execute(_CHARGES, vars(span))}


def _packed(conn: Connection, statement: LiteralString, span: Span) -> Iterator[NDArray[np.void]]:
    with conn.cursor(binary=True) as cursor:
        for (packed,) in cursor.stream(statement, vars(span)):
            yield np.frombuffer(packed, dtype=MEAN_ROW)
