"""Out of service: a part of the place under maintenance, always with an end, and what it covers.

What happens there is still judged and written down, and calls nobody; what still holds at the end calls then. Not
here: a single alarm that somebody takes out of service (`answer`), what is done to alarms (`step`), or how periods are
kept (`store.service`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, get_args
from uuid import UUID

from wickwatch.fleet import Channel, Facility, Room

#: What can be out of service. A device is a probe or a level sensor, known by its URN.
PartType = Literal["room", "reservoir", "line", "container", "gateway", "device"]
PART_TYPES: tuple[PartType, ...] = get_args(PartType)


@dataclass(frozen=True)
class Period:
    """One part out of service from `since` until `until`, or until somebody ended it before that.

    `name` is what people call the part; for a device it is its URN.
    """

    id: UUID
    type: PartType
    part_id: UUID
    name: str
    since: datetime
    until: datetime
    note: str = ""
    person_id: UUID | None = None
    ended_at: datetime | None = None
    ended_by: UUID | None = None

    def holds(self, at: datetime) -> bool:
        """Whether the part is out of service at a moment."""
        return self.since <= at < min(self.until, self.ended_at or self.until)


def covering(place: Facility, periods: Sequence[Period], at: datetime) -> dict[UUID, Period]:
    """By id of everything out of service at a moment the period that lasts longest."""
    found: dict[UUID, Period] = {}
    for period in sorted(periods, key=lambda each: (each.until, each.id)):
        if period.holds(at):
            found |= dict.fromkeys(covered(place, period.type, period.part_id, period.name), period)
    return found


def covered(place: Facility, part: PartType, part_id: UUID, name: str) -> frozenset[UUID]:
    """Everything that is out of service with a part: a line with its containers, a device with what it measures.

    Empty where the part is no longer in the place.
    """
    rooms = [room for room in place.rooms if part != "room" or room.id == part_id]
    match part:
        case "room":
            return frozenset(id for room in rooms for id in _all_of(room))
        case "reservoir":
            lines = {line.id for room in rooms for line in room.lines if line.reservoir_id == part_id}
            tanks = {tank.id for room in rooms for tank in room.reservoirs if tank.id == part_id}
            return frozenset(tanks | lines | _on_lines(rooms, lines))
        case "line":
            lines = {line.id for room in rooms for line in room.lines if line.id == part_id}
            return frozenset(lines | _on_lines(rooms, lines))
        case "container":
            return frozenset(pot.id for room in rooms for pot in room.containers if pot.id == part_id)
        case "gateway":
            return frozenset(gateway.id for gateway in place.gateways if gateway.id == part_id)
        case "device":
            return frozenset(id for room in rooms for id, channel in _measured(room) if _device(channel) == name)


def _all_of(room: Room) -> Iterator[UUID]:
    yield room.id
    yield from (part.id for parts in (room.reservoirs, room.lines, room.containers) for part in parts)


def _on_lines(rooms: Sequence[Room], lines: set[UUID]) -> set[UUID]:
    return {pot.id for room in rooms for pot in room.containers if pot.line_id in lines}


def _measured(room: Room) -> Iterator[tuple[UUID, Channel | None]]:
    for pot in room.containers:
        yield from ((pot.id, pot.tension), (pot.id, pot.twin))
    yield from ((tank.id, tank.level) for tank in room.reservoirs)


def _device(channel: Channel | None) -> str | None:
    """A channel is named by its device and its quantity."""
    return None if channel is None else channel.name.rpartition(":")[0]
