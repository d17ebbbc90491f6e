"""Random but seeded events over all rooms of a scenario, for evaluation sets of any size.

Each room's events depend on the seed and the room's number only. Faults that would hide one another do not overlap in
one room; harmless events fall anywhere, also into faults. Not here: what events do (`effects`).
"""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from wickwatch.errors import InputError
from wickwatch_simulator import keyed
from wickwatch_simulator.catalogue import EVENTS, FAULTS, HARMLESS
from wickwatch_simulator.plan import Room
from wickwatch_simulator.read_toml import Table
from wickwatch_simulator.scenario import QUIET_DAYS, Event, Scenario

MONTH_DAYS = 30.0
#: Hours kept free of other faults after one ends, so that a room recovers before the next.
RECOVERY_HOURS = 24.0


def draw(scenario: Scenario, chance: Table) -> list[Event]:
    """Events by the `[random]` table: how many faults and harmless events a room has in a month, on average."""
    faults = chance.number("faults_per_room_month", 0, 60, 0)
    harmless = chance.number("harmless_per_room_month", 0, 200, 0)
    only = chance.tables("only")
    for name in only:
        if name not in EVENTS:
            raise InputError(f"{chance.where}: only", name, "any of " + ", ".join(EVENTS))
    events: list[Event] = []
    for number, room in enumerate(scenario.rooms):
        rng = keyed.generator(scenario.seed, "events", number)
        events += _of_room(scenario, room, rng, faults, tuple(n for n in FAULTS if not only or n in only), apart=True)
        events += _of_room(scenario, room, rng, harmless, tuple(n for n in HARMLESS if not only or n in only), apart=False)
    return events


def _of_room(
    scenario: Scenario, room: Room, rng: np.random.Generator, per_month: float, kinds: tuple[str, ...], apart: bool
) -> list[Event]:
    length = scenario.days - QUIET_DAYS
    if not kinds or length <= 0:
        return []
    wanted = int(rng.poisson(per_month * scenario.days / MONTH_DAYS))
    made: list[Event] = []
    taken: list[tuple[datetime, datetime]] = []
    for name in rng.choice(kinds, wanted):
        for _ in range(20):
            event = _one(scenario, room, rng, str(name), length)
            end = event.end or scenario.end
            pause = timedelta(hours=RECOVERY_HOURS)
            if not apart or all(end + pause <= b or event.begin >= e + pause for b, e in taken):
                taken.append((event.begin, end))
                made.append(event)
                break
    return made


def _one(scenario: Scenario, room: Room, rng: np.random.Generator, name: str, length: float) -> Event:
    kind = EVENTS[name]
    hours = float(rng.uniform(*kind.hours))
    latest = max(length - hours / 24.0, 0.0)
    begin = scenario.start + timedelta(minutes=round(1440 * (QUIET_DAYS + rng.uniform(0, latest))))
    values = {key: float(rng.uniform(low, high)) for key, (low, high) in kind.values.items()}
    subjects = {
        "container": [c.slug for c in room.containers],
        "line": [line.slug for line in room.lines],
        "reservoir": [r.slug for r in room.reservoirs],
        "gateway": [room.gateway],
        "room": [room.slug],
    }[kind.target]
    subject = str(rng.choice(subjects))
    end = begin + timedelta(minutes=max(round(60 * hours), 1))
    return Event(name, room.facility, room.slug, subject, begin, end, values)
