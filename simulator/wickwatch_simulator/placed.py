"""A planned event placed in the flat world: its subject as an array index, its times in seconds.

Not here: what it does. Kept apart so that physics, readings and truth speak of the same numbered events.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from wickwatch_simulator.scenario import Scenario


@dataclass(frozen=True)
class Placed:
    """One event.

    `index` is the number of its container, line, reservoir, gateway or room; `end_s` may be infinite.
    """

    number: int
    event: str
    index: int
    room: int
    begin_s: float
    end_s: float
    values: Mapping[str, float]

    @property
    def hours(self) -> float:
        """Its length as planned."""
        return (self.end_s - self.begin_s) / 3600.0


def seconds(at: datetime | None) -> float:
    """Seconds since 1970; infinite for never."""
    return float("inf") if at is None else at.timestamp()


def place(scenario: Scenario) -> tuple[Placed, ...]:
    """All events of a scenario, numbered in its order."""
    index: dict[tuple[str, str, str, str], int] = {}

    counts = {"container": 0, "line": 0, "reservoir": 0, "gateway": 0, "room": 0}

    def add(kind: str, facility: str, room: str, slug: str) -> None:
        index[kind, facility, room, slug] = counts[kind]
        counts[kind] += 1

    for facility in scenario.facilities:
        for gateway in facility.gateways:
            add("gateway", facility.slug, "", gateway.slug)
    room_number: dict[tuple[str, str], int] = {}
    for i, room in enumerate(scenario.rooms):
        room_number[room.facility, room.slug] = i
        add("room", room.facility, room.slug, room.slug)
        for line in room.lines:
            add("line", room.facility, room.slug, line.slug)
        for reservoir in room.reservoirs:
            add("reservoir", room.facility, room.slug, reservoir.slug)
        # The world numbers containers line by line; build makes them in that order.
        for container in room.containers:
            add("container", room.facility, room.slug, container.slug)
    placed = []
    for n, event in enumerate(scenario.events):
        kind = event.kind.target
        at = index[kind, event.facility, "" if kind == "gateway" else event.room, event.subject]
        inside = room_number[event.facility, event.room]
        placed.append(Placed(n, event.event, at, inside, seconds(event.begin), seconds(event.end), event.values))
    return tuple(placed)
