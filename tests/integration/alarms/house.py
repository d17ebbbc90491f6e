"""The house of the alarms' tests in a real database, with people on duty."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

import psycopg

from tests.unit.alarms.places import HOUSE, START, named
from wickwatch.alarms import Changes
from wickwatch.detect.finding import Judgement
from wickwatch.fleet import Facility, Work
from wickwatch.store import contacts, rota
from wickwatch.store.connect import Connection
from wickwatch.watch import stepping

HERE = [HOUSE.id]
BASE_URL = "https://house.example.org"


def build(conn: Connection, place: Facility = HOUSE) -> None:
    """Insert the place as it is in `places`."""
    execute = conn.execute
    execute(
        "INSERT INTO facility (id, slug, name, zone) VALUES (%s, %s, %s, %s)",
        (place.id, place.slug, place.name, place.zone.key),
    )
    for gateway in place.gateways:
        execute("INSERT INTO gateway (id, facility_id, slug) VALUES (%s, %s, %s)", (gateway.id, place.id, gateway.slug))
    for room in place.rooms:
        execute(
            "INSERT INTO room (id, facility_id, slug, name, lights_on, lights_off) VALUES (%s, %s, %s, %s, %s, %s)",
            (room.id, place.id, room.slug, room.name, room.lights_on, room.lights_off),
        )
        for tank in room.reservoirs:
            execute(
                "INSERT INTO reservoir (id, room_id, slug, name, shape, keys, outlet_mm, head_mm)"
                """ VALUES (%s, %s, %s, %s, %s, '{"diameter_mm": 580, "height_mm": 900}', %s, %s)""",
                (tank.id, room.id, tank.slug, tank.name, tank.shape, tank.outlet_mm, tank.head_mm),
            )
        for line in room.lines:
            execute(
                "INSERT INTO supply_line (id, room_id, reservoir_id, slug, name, kind) VALUES (%s, %s, %s, %s, %s, %s)",
                (line.id, room.id, line.reservoir_id, line.slug, line.name, line.kind),
            )
        for pot in room.containers:
            execute(
                "INSERT INTO container (id, room_id, line_id, slug, name) VALUES (%s, %s, %s, %s, %s)",
                (pot.id, room.id, pot.line_id, pot.slug, pot.name),
            )


def person(conn: Connection, name: str, role: str = "grower", facility_id: UUID | None = HOUSE.id) -> UUID:
    """Somebody with a role."""
    conn.execute("INSERT INTO person (id, name) VALUES (%s, %s)", (named(name), name))
    conn.execute(
        "INSERT INTO membership (person_id, facility_id, role) VALUES (%s, %s, %s)", (named(name), facility_id, role)
    )
    return named(name)


def on_call(conn: Connection, name: str, way: str, address: str, secret: str | None = None) -> UUID:
    """Somebody on duty at step 1 from `START` on for ever, reached over one contact."""
    who = person(conn, name)
    contacts.add(conn, who, way, address, secret)
    rota.add_turn(conn, HOUSE.id, 1, who, START.replace(year=2026, month=1), None)
    return who


def sweep(conn: Connection, judgement: Judgement, work: tuple[Work, ...] = (), place: Facility = HOUSE) -> Changes:
    """One step as the watch takes it, in one transaction."""
    with conn.transaction():
        return stepping.step(conn, place, judgement, work, BASE_URL)[0]


def rows(conn: Connection, statement: str, *values: object) -> list[tuple]:  # type: ignore[type-arg]
    """What a statement of a test finds."""
    return conn.execute(statement.encode(), values).fetchall()


def connect(url: str) -> Connection:
    """A connection of a test's own."""
    return psycopg.connect(url, autocommit=True, options="-c timezone=UTC")


def utc(year: int, month: int, day: int, hour: int = 0, minute: int = 0) -> datetime:
    from datetime import UTC

    return datetime(year, month, day, hour, minute, tzinfo=UTC)
