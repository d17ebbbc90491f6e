"""What stands in a facility, one row at a time; every argument has a default that can be meant.

Rows are written as they are, past the program's own checks, so that a test can also build what those would refuse.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

import psycopg
from psycopg.types.json import Jsonb

Connection = psycopg.Connection[Any]

CYLINDER = {"diameter_mm": 580, "height_mm": 900}


def facility(
    conn: Connection,
    slug: str = "birchwood",
    name: str | None = None,
    zone: str = "Europe/Oslo",
    rules: Mapping[str, float] | None = None,
) -> UUID:
    """A facility."""
    statement = "INSERT INTO facility (slug, name, zone, rules) VALUES (%s, %s, %s, %s) RETURNING id"
    return _id(conn, statement, slug, name or slug.title() + " House", zone, Jsonb(rules or {}))


def slug(conn: Connection, facility_id: UUID) -> str:
    """The slug of a facility."""
    row = conn.execute("SELECT slug FROM facility WHERE id = %s", (facility_id,)).fetchone()
    assert row is not None
    return str(row[0])


def gateway(conn: Connection, facility_id: UUID, slug: str = "gw-01", heard_at: datetime | None = None) -> UUID:
    """A gateway that is online since it was heard, or was never heard."""
    statement = """
    INSERT INTO gateway (facility_id, slug, declared, status, status_at, heard_at)
    VALUES (%s, %s, true, %s, %s, %s) RETURNING id"""
    return _id(conn, statement, facility_id, slug, heard_at and "online", heard_at, heard_at)


def room(
    conn: Connection,
    facility_id: UUID,
    slug: str = "room-01",
    name: str | None = None,
    lights: tuple[str, str] = ("06:00", "18:00"),
    rules: Mapping[str, float] | None = None,
) -> UUID:
    """A room."""
    statement = """
    INSERT INTO room (facility_id, slug, name, lights_on, lights_off, rules)
    VALUES (%s, %s, %s, %s, %s, %s) RETURNING id"""
    return _id(conn, statement, facility_id, slug, name or _named(slug), *lights, Jsonb(rules or {}))


def reservoir(conn: Connection, room_id: UUID, slug: str = "r-east", name: str | None = None) -> UUID:
    """A standing cylinder of 580 mm by 900 mm that starves below 70 mm."""
    statement = """
    INSERT INTO reservoir (room_id, slug, name, shape, keys, outlet_mm, head_mm)
    VALUES (%s, %s, %s, 'cylinder', %s, 40, 30) RETURNING id"""
    return _id(conn, statement, room_id, slug, name or _named(slug), Jsonb(CYLINDER))


def line(conn: Connection, room_id: UUID, reservoir_id: UUID | None, slug: str = "loop") -> UUID:
    """A supply line fed from both ends."""
    statement = """
    INSERT INTO supply_line (room_id, reservoir_id, slug, name, kind) VALUES (%s, %s, %s, %s, 'loop') RETURNING id"""
    return _id(conn, statement, room_id, reservoir_id, slug, _named(slug))


def container(
    conn: Connection,
    room_id: UUID,
    slug: str = "pot-01",
    line_id: UUID | None = None,
    rules: Mapping[str, float] | None = None,
) -> UUID:
    """A pot of 20 l."""
    statement = """
    INSERT INTO container (room_id, line_id, slug, name, volume_l, medium, rules)
    VALUES (%s, %s, %s, %s, 20, 'peat-perlite', %s) RETURNING id"""
    return _id(conn, statement, room_id, line_id, slug, _named(slug), Jsonb(rules or {}))


def channel(conn: Connection, facility_id: UUID, quantity: str = "tension", interval_s: float | None = 60.0) -> int:
    """A channel of a device of its own, attached to nothing."""
    row = conn.execute(
        """
        WITH made AS (INSERT INTO device (facility_id, urn) VALUES (%(facility)s, %(urn)s) RETURNING id)
        INSERT INTO channel (facility_id, device_id, name, quantity, unit, interval_s)
        SELECT %(facility)s, id, %(urn)s || ':' || %(quantity)s, %(quantity)s, %(unit)s, %(interval)s FROM made
        RETURNING id""",
        {
            "facility": facility_id,
            "urn": f"urn:dev:mac:{uuid4().hex[:16]}",
            "quantity": quantity,
            "unit": {"tension": "hPa", "level": "mm", "battery": "%EL"}.get(quantity, "Cel"),
            "interval": interval_s,
        },
    ).fetchone()
    assert row is not None
    return int(row[0])


def attach(conn: Connection, channel_id: int, subject_type: str, subject_id: UUID, since: datetime) -> None:
    """Attach a channel from some time on."""
    column = {"container": "container_id", "reservoir": "reservoir_id", "line": "line_id", "room": "room_id"}[
        subject_type
    ]
    conn.execute(
        f"""INSERT INTO assignment (channel_id, quantity, {column}, during)
        SELECT id, quantity, %s, tstzrange(%s, NULL) FROM channel WHERE id = %s""",
        (subject_id, since, channel_id),
    )


def readings(conn: Connection, channel_id: int, values: Iterable[tuple[datetime, float]], *, roll: bool = True) -> None:
    """Readings with their rollups, which many channels may get at once (`roll_up`)."""
    with conn.cursor() as cursor, cursor.copy("COPY reading (channel_id, at, value) FROM STDIN") as copy:
        for at, value in values:
            copy.write_row((channel_id, at, value))
    if roll:
        roll_up(conn, [channel_id])


def roll_up(conn: Connection, channel_ids: list[int]) -> None:
    """Rollups of all readings of channels that have none yet."""
    conn.execute(
        """
        INSERT INTO rollup_5m
        SELECT channel_id, date_bin('5 minutes', at, 'epoch') AS bucket, count(*), min(value), max(value), avg(value),
               (array_agg(value ORDER BY at DESC))[1], max(at)
        FROM reading WHERE channel_id = ANY (%s) GROUP BY channel_id, bucket ON CONFLICT DO NOTHING""",
        (channel_ids,),
    )
    conn.execute(
        """
        INSERT INTO rollup_1h
        SELECT channel_id, date_bin('1 hour', at, 'epoch') AS bucket, sum(n), min(low), max(high),
               sum(mean * n) / sum(n)
        FROM rollup_5m WHERE channel_id = ANY (%s) GROUP BY channel_id, bucket ON CONFLICT DO NOTHING""",
        (channel_ids,),
    )


def measured(
    conn: Connection,
    facility_id: UUID,
    subject_type: str,
    subject_id: UUID,
    values: Iterable[tuple[datetime, float]],
    since: datetime,
    *,
    roll: bool = True,
) -> int:
    """A channel attached to a container or reservoir, with readings."""
    made = channel(conn, facility_id, "level" if subject_type == "reservoir" else "tension")
    attach(conn, made, subject_type, subject_id, since)
    readings(conn, made, values, roll=roll)
    return made


def series(
    now: datetime, length: timedelta, every: timedelta, value: Callable[[float], float]
) -> list[tuple[datetime, float]]:
    """Times up to `now` with the value at each many hours before it (0 is now, -24 a day ago)."""
    count = int(length / every)
    times = [now - number * every for number in range(count, -1, -1)]
    return [(at, value((at - now).total_seconds() / 3600)) for at in times]


def wavy(middle: float, swing: float, seed: int) -> Callable[[float], float]:
    """A tension that goes up and down with the day and with the drips of its emitter."""
    shift = random.Random(seed).uniform(0, 6)
    return lambda hours: (
        middle + swing * math.sin((hours + shift) * math.pi / 12) + swing / 3 * math.sin(hours * 4 + shift)
    )


def _named(slug: str) -> str:
    text = slug.replace("-", " ")
    return text[0].upper() + text[1:]


def _id(conn: Connection, statement: str, *values: object) -> UUID:
    row = conn.execute(statement.encode(), values).fetchone()
    assert row is not None
    found: UUID = row[0]
    return found
