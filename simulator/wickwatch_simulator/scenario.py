"""A scenario: a fleet, its planned events, a beginning and a seed; all that a run depends on.

Here: the frozen data. Not here: finding and reading a file (`load`, `scenario_file`), how rooms are made from templates
(`build`), or where random events fall (`random_events`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from wickwatch_simulator.catalogue import EVENTS, EventKind
from wickwatch_simulator.plan import Facility, Room

#: Days before a room's first random event: watchers need a healthy stretch to learn from.
QUIET_DAYS = 4.0


@dataclass(frozen=True)
class Event:
    """One planned event; `end` is `None` while nobody has put it right.

    `subject` is the slug of a container, line, reservoir, gateway or room. Times are aware UTC.
    """

    event: str
    facility: str
    room: str
    subject: str
    begin: datetime
    end: datetime | None
    values: Mapping[str, float] = field(default_factory=dict)

    @property
    def kind(self) -> EventKind:
        """Its row in the table of events."""
        return EVENTS[self.event]


@dataclass(frozen=True)
class Scenario:
    """What is simulated. History runs from `start` for `days`; `step_s` is the longest step of integration."""

    name: str
    seed: int
    start: datetime
    days: float
    facilities: tuple[Facility, ...]
    events: tuple[Event, ...]
    step_s: int = 60

    @property
    def end(self) -> datetime:
        """Where history ends and live readings begin."""
        return self.start + timedelta(days=self.days)

    @property
    def rooms(self) -> tuple[Room, ...]:
        """All rooms, facility by facility; events count them from 1 in this order."""
        return tuple(room for facility in self.facilities for room in facility.rooms)
