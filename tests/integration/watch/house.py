"""A small house under watch: one reservoir, two pots, readings minute by minute, as they come through a gateway."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from uuid import UUID

from wickwatch import ingest
from wickwatch.fleet.document import parse
from wickwatch.store import contacts, people, rota
from wickwatch.store.connect import Connection
from wickwatch.store.fleet import apply_declared, facilities

START = datetime(2026, 11, 20, 0, 0, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
PACK = 3000

FLEET = """
[[facility]]
slug = "birchwood"
name = "Birchwood House"
zone = "Europe/Oslo"

  [[facility.gateway]]
  slug = "gw-01"

  [[facility.room]]
  slug = "room-03"
  name = "Room 3"
  lights_on = "06:00"
  lights_off = "18:00"

    [[facility.room.reservoir]]
    slug = "r3-east"
    name = "R3 east"
    shape = "cylinder"
    diameter_mm = 580
    height_mm = 900
    outlet_mm = 40
    head_mm = 30
    level = "urn:dev:mac:0024befffe804fa1:level"

    [[facility.room.line]]
    slug = "r3-loop"
    reservoir = "r3-east"
    kind = "loop"

    [[facility.room.container]]
    slug = "pot-01"
    line = "r3-loop"
    volume_l = 20
    tension = "urn:dev:mac:0024befffe804ff1:tension"

    [[facility.room.container]]
    slug = "pot-02"
    line = "r3-loop"
    volume_l = 20
    tension = "urn:dev:mac:0024befffe804ff2:tension"
"""

Level = Callable[[float], float]


def house(conn: Connection) -> UUID:
    """The house, with somebody on duty who has a mail address."""
    with conn.transaction():
        apply_declared(conn, parse(FLEET), START - timedelta(days=30))
        (site,) = facilities(conn)
        person = people.add_person(conn, "Grower on duty", "grower", ["birchwood"], None)
        contacts.add(conn, person, "email", "on-duty@wickwatch.example")
        rota.add_turn(conn, site.id, 1, person, START - timedelta(days=30), None)
    return site.id


def publish(
    conn: Connection,
    start: datetime,
    end: datetime,
    level: Level,
    tension: Level = lambda hours: 100.0,
    every: timedelta = MINUTE,
) -> None:
    """Readings of every minute (or as given) in (start, end]; values by hours since START."""
    at = start + every
    records: list[dict[str, object]] = []
    while at <= end:
        hours = (at - START) / timedelta(hours=1)
        stamp = at.timestamp()
        records += [
            {"n": "urn:dev:mac:0024befffe804fa1:level", "u": "mm", "t": stamp, "v": level(hours)},
            {"n": "urn:dev:mac:0024befffe804ff1:tension", "u": "hPa", "t": stamp, "v": tension(hours)},
            {"n": "urn:dev:mac:0024befffe804ff2:tension", "u": "hPa", "t": stamp, "v": tension(hours) + 1},
        ]
        at += every
    with conn.transaction():
        for first in range(0, len(records), PACK):
            pack = records[first : first + PACK]
            taken = ingest.take(conn, "birchwood", "gw-01", json.dumps(pack).encode(), "application/senml+json", end)
            assert taken.stored == len(pack), taken
