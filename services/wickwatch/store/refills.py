"""Refills of a facility's reservoirs: those that the level shows, each with the entry that tells of it, if any.

Not here: finding a rise in a level (`detect.refills`).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import LiteralString, TypeVar
from uuid import UUID

from wickwatch.agronomy.tank import tank_from_keys
from wickwatch.detect.refills import rises
from wickwatch.errors import InputError
from wickwatch.store import work
from wickwatch.store.connect import Connection
from wickwatch.store.pages import means

Entry = TypeVar("Entry")

#: How far an entry's time may lie from the rise that it tells of: people write down when they come to it. Chosen here.
NEAR = timedelta(hours=2)

_BUCKET = timedelta(minutes=5)

# Reservoirs of a facility (of one room where it is given) with the channel that measured each, and from when to when.
_MEASURED: LiteralString = """
SELECT t.id, t.room_id, t.name, t.shape, t.keys, t.sensor_zero_mm, a.channel_id,
       greatest(lower(a.during), %(start)s), least(upper(a.during), %(end)s)
FROM reservoir t JOIN room r ON r.id = t.room_id
JOIN assignment a ON a.reservoir_id = t.id AND a.quantity = 'level' AND NOT a.twin
  AND a.during && tstzrange(%(start)s, %(end)s)
WHERE r.facility_id = %(facility)s AND (%(room)s::uuid IS NULL OR t.room_id = %(room)s) ORDER BY t.slug, 8
"""


@dataclass(frozen=True)
class Refill:
    """One refill that a level shows; `entry_id` is the work entry that tells of it, None where nobody wrote it down."""

    reservoir_id: UUID
    room_id: UUID
    reservoir: str
    start: datetime
    end: datetime
    litres: float
    entry_id: UUID | None


def seen(
    conn: Connection, facility_id: UUID, start: datetime, end: datetime, room_id: UUID | None = None
) -> list[Refill]:
    """Refills in [start, end), oldest first, of a facility or of one of its rooms.

    Reservoirs whose measures can't be right are left out.
    """
    start = _bucket(start)
    asked = {"facility": facility_id, "room": room_id, "start": start, "end": end}
    measured = conn.execute(_MEASURED, asked).fetchall()
    levels = means(conn, [row[6] for row in measured], start, end, _BUCKET)
    entries: dict[UUID, list[tuple[UUID, datetime]]] = {}
    for entry in work.recent(conn, facility_id, start - NEAR, end + NEAR):
        if entry.kind == "refilled":
            entries.setdefault(entry.subject_id, []).append((entry.id, entry.at))
    found: list[Refill] = []
    for id, of_room, name, shape, keys, zero_mm, channel_id, since, until in measured:
        if channel_id not in levels:
            continue
        try:
            tank = tank_from_keys(shape, keys)
        except InputError:
            continue
        first, last = -((start - since) // _BUCKET), -((start - until) // _BUCKET)
        level = levels[channel_id][first:last] + zero_mm
        for rise in rises(start + first * _BUCKET, level, tank):
            own = told(entries.get(id, []), rise.start, rise.end)
            found.append(Refill(id, of_room, name, rise.start, rise.end, rise.litres, own))
    return sorted(found, key=lambda refill: (refill.start, str(refill.reservoir_id)))


def told(entries: list[tuple[Entry, datetime]], start: datetime, end: datetime) -> Entry | None:
    """The entry that tells of a rise: of those with their time, the nearest within `NEAR`, which is taken away."""
    near = [each for each in entries if start - NEAR <= each[1] <= end + NEAR]
    if not near:
        return None
    entry = min(near, key=lambda each: abs(each[1] - start))
    entries.remove(entry)
    return entry[0]


def _bucket(at: datetime) -> datetime:
    return at.astimezone(UTC) - (at.astimezone(UTC) - datetime(1970, 1, 1, tzinfo=UTC)) % _BUCKET
