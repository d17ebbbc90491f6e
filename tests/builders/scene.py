"""A day in two houses, for tests of pages and for looking at them: something of everything that a page can show."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from uuid import UUID

from argon2 import PasswordHasher

from tests.builders import events, place
from wickwatch.store import people

PASSWORD = "open sesame today"


@dataclass(frozen=True)
class Scene:
    """Ids that tests name."""

    birchwood: UUID
    saltmarsh: UUID
    rooms: dict[str, UUID]
    alarms: dict[str, UUID]
    people: dict[str, UUID]


def scene(conn: place.Connection, now: datetime, days: float = 1.5) -> Scene:
    """Two facilities, twelve rooms, six pots in each, and alarms of several kinds and states."""
    birchwood = place.facility(conn, "birchwood", "Birchwood House")
    saltmarsh = place.facility(conn, "saltmarsh", "Saltmarsh Farm", zone="Europe/Lisbon")
    persons = {
        "mara": people.add_person(conn, "Mara", "grower", ["birchwood"], None),
        "otto": people.add_person(conn, "Otto", "viewer", ["birchwood"], None),
        "ines": people.add_person(conn, "Ines", "manager", ["saltmarsh"], None),
        "root": people.add_person(conn, "Root", "administrator", None, None),
    }
    conn.execute("UPDATE person SET password_hash = %s", (hashed_password(),))
    rooms: dict[str, UUID] = {}
    for number in range(1, 13):
        facility = birchwood if number <= 8 else saltmarsh
        slug = f"room-{number:02d}"
        rooms[slug] = _room(conn, facility, slug, f"Room {number}", now, days, number)
    place.roll_up(conn, [row[0] for row in conn.execute("SELECT id FROM channel").fetchall()])
    alarms = _alarms(conn, birchwood, rooms, persons, now)
    events.alive(conn, [birchwood, saltmarsh], now)
    conn.commit()
    return Scene(birchwood, saltmarsh, rooms, alarms, persons)


@cache
def hashed_password() -> str:
    """The hash of everybody's password, made once for all scenes."""
    return PasswordHasher().hash(PASSWORD)


def _room(
    conn: place.Connection,
    facility: UUID,
    slug: str,
    name: str,
    now: datetime,
    days: float,
    number: int,
) -> UUID:
    room = place.room(conn, facility, slug, name, ("06:00", "18:00") if number % 2 else ("18:00", "12:00"))
    length, every = timedelta(days=days), timedelta(minutes=5)
    since = now - length - timedelta(days=1)
    level_now = {3: 62.0, 5: 150.0}.get(number, 300.0 + 40 * (number % 5))
    tank = place.reservoir(conn, room, "east", f"R{number} east")
    fall = 9.0 if number == 5 else 2.4
    levels = place.series(now, length, every, lambda hours: min(level_now - fall * hours, 880.0))
    place.measured(conn, facility, "reservoir", tank, levels, since, roll=False)
    loop = place.line(conn, room, tank)
    chance = random.Random(number)
    for pot in range(1, 7):
        made = place.container(conn, room, f"pot-{pot:02d}", loop)
        middle = chance.uniform(86, 124)
        value = _tension(number, pot, middle)
        until = timedelta(hours=2) if (number, pot) == (8, 5) else timedelta()
        points = [(at, each) for at, each in place.series(now, length, every, value) if at <= now - until]
        place.measured(conn, facility, "container", made, points, since, roll=False)
    return room


def _tension(number: int, pot: int, middle: float) -> Callable[[float], float]:
    """What a pot's probe says so many hours from now: Room 3 dries out, one pot is flooded, one drifts."""
    usual = place.wavy(middle, 9.0, number * 10 + pot)
    if number == 3:
        return lambda hours: usual(hours) + 20.0 + max(0.0, 14.0 * (hours + 5.0))
    if (number, pot) == (6, 4):
        return lambda hours: 38.0 if hours > -2 else 100.0
    if (number, pot) == (7, 2):
        return lambda hours: 110.0 + 3.2 * (hours + 36)
    return usual


def _alarms(
    conn: place.Connection,
    facility: UUID,
    rooms: dict[str, UUID],
    persons: dict[str, UUID],
    now: datetime,
) -> dict[str, UUID]:
    def subject(table: str, room: str, slug: str) -> tuple[str, UUID, str]:
        row = conn.execute(
            f"SELECT id, name FROM {table} WHERE room_id = %s AND slug = %s",
            (rooms[room], slug),
        ).fetchone()
        assert row is not None
        kind = {"reservoir": "reservoir", "container": "container"}[table]
        return kind, row[0], str(row[1])

    empty = events.alarm(
        conn,
        facility,
        rooms["room-03"],
        subject("reservoir", "room-03", "east"),
        now - timedelta(hours=5),
        "reservoir-empty",
        "high",
        message="R3 east in Room 3 is empty since 04:12: 62 mm of water, 70 mm needed; 6 pots hang on it.",
        evidence={"level_mm": 62.0, "empty_level_mm": 70.0, "usable_l": 0.0, "fall_mm_per_h": 2.4, "containers": 6},
    )
    found = {"empty": empty}
    for pot in range(1, 5):
        slug = f"pot-{pot:02d}"
        found[slug] = events.alarm(
            conn,
            facility,
            rooms["room-03"],
            subject("container", "room-03", slug),
            now - timedelta(hours=2),
            state="suppressed-by-design",
            message=f"Pot {pot:02d} in Room 3 is drying out: 196 mbar, past its dry limit of 180 mbar.",
            cause_id=empty,
        )
    found["wet"] = events.alarm(
        conn,
        facility,
        rooms["room-06"],
        subject("container", "room-06", "pot-04"),
        now - timedelta(minutes=50),
        "sudden-wetting",
        "high",
        state="acknowledged",
        person_id=persons["mara"],
        message="Pot 04 in Room 6 is getting water it does not need, its emitter may be stuck open: "
        "38 mbar, wet limit 60 mbar.",
        evidence={"tension_mbar": 38.0, "wet_limit_mbar": 60.0, "excess_l_per_h": 3.4},
    )
    found["drift"] = events.alarm(
        conn,
        facility,
        rooms["room-07"],
        subject("container", "room-07", "pot-02"),
        now - timedelta(hours=9),
        message="Pot 02 in Room 7 is drying out: 225 mbar, 6.1 mbar more each day, past its dry limit of 180 mbar.",
    )
    found["silent"] = events.alarm(
        conn,
        facility,
        rooms["room-08"],
        subject("container", "room-08", "pot-05"),
        now - timedelta(hours=1, minutes=40),
        "probe-silent",
        "low",
        message="The probe of Pot 05 in Room 8 is silent since 2 h; its usual time between readings is 1 min.",
        evidence={"last_at": (now - timedelta(hours=2)).isoformat(), "interval_s": 60.0, "silent_minutes": 120.0},
    )
    return found
