"""Reservoirs that run empty one after another, as their level sensors tell it.

Not here: how the readings are published, nor what is measured or proved with them.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from uuid import UUID

from wickwatch.fleet.document import parse
from wickwatch.store import contacts, people, rota
from wickwatch.store.connect import Connection
from wickwatch.store.fleet import apply_declared, facilities

TOPIC = "wickwatch/1/birchwood/gw-01/senml"
EMPTY_MM = 70.0
MM_PER_S = 0.1

_FACILITY = '[[facility]]\nslug = "birchwood"\nname = "Birchwood House"\nzone = "Europe/Oslo"\n'
_ROOM = """
  [[facility.room]]
  slug = "room-{n:02d}"
  name = "Room {n}"
  lights_on = "06:00"
  lights_off = "18:00"
    [[facility.room.reservoir]]
    slug = "tank"
    name = "R{n}"
    shape = "cylinder"
    diameter_mm = 580
    height_mm = 900
    outlet_mm = 40
    head_mm = 30
    level = "{device}:level"
"""


def house(conn: Connection, rooms: int, since: datetime) -> UUID:
    """A facility of rooms with a reservoir each, and somebody on duty who has a mail address; the caller commits."""
    fleet = _FACILITY + "".join(_ROOM.format(n=n, device=_device(n)) for n in range(1, rooms + 1))
    apply_declared(conn, parse(fleet), since)
    person = people.add_person(conn, "Grower on duty", "grower", None, None)
    contacts.add(conn, person, "email", "on-duty@wickwatch.example")
    (site,) = facilities(conn)
    rota.add_turn(conn, site.id, 1, person, since, None)
    return site.id


def records(at: float, empties: Mapping[int, float]) -> list[dict[str, object]]:
    """Level readings at a time [s since 1970] of reservoirs by number, each passing empty at its own time."""
    levels = {number: round(EMPTY_MM + (when - at) * MM_PER_S, 1) for number, when in empties.items()}
    return [
        {"n": f"{_device(number)}:level", "u": "mm", "t": at, "v": max(level, EMPTY_MM - 20)}
        for number, level in levels.items()
    ]


def _device(number: int) -> str:
    return f"urn:dev:mac:0024befffe80{number:04x}"
