"""Random but seeded events over all rooms of a scenario, for evaluation sets of any size.

Each room's events depend on the seed and the room's number only. Faults of one room that would hide one another lie
apart; harmless events fall anywhere, also into faults. Not here: what events do (`effects`).
"""

from __future__ import annotations

from datetime import UTC, timedelta
from zoneinfo import ZoneInfo

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
        events += _of_room(
            scenario, room, rng, harmless, tuple(n for n in HARMLESS if not only or n in only), apart=False
        )
    return events


def _of_room(
    scenario: Scenario,
    room: Room,
    rng: np.random.Generator,
    per_month: float,
    kinds: tuple[str, ...],
    apart: bool,
) -> list[Event]:
    length = scenario.days - QUIET_DAYS
    if not kinds or length <= 0:
        return []
    if not any(c.twin for c in room.containers):
        # With one probe in a pot nobody can tell a drifting probe from a drifting emitter.
        kinds = tuple(name for name in kinds if name != "probe-drift")
    made: list[Event] = []
    for name in rng.choice(kinds, int(rng.poisson(per_month * scenario.days / MONTH_DAYS))):
        for _ in range(30):
            event = _one(scenario, room, rng, str(name), length)
            if not apart or not any(_hides(room, event, other) for other in made):
                made.append(event)
                break
    return made


def _hides(room: Room, one: Event, other: Event) -> bool:
    """Whether two faults would hide one another: near in time, and on the same water or instrument."""
    pause = timedelta(hours=RECOVERY_HOURS)
    if "gateway" in (one.kind.target, other.kind.target):
        # A gateway silent in the midst of a long fault hides little; at the beginning of one it hides what matters.
        return abs(one.begin - other.begin) < pause
    first, second = sorted((one, other), key=lambda e: e.begin)
    if first.end is not None and first.end + pause <= second.begin:
        return False
    if one.kind.target == other.kind.target == "container":
        return one.subject == other.subject
    return bool(_reservoirs(room, one) & _reservoirs(room, other))


def _reservoirs(room: Room, event: Event) -> set[str]:
    """Reservoirs whose water or containers an event touches."""
    of_line = {line.slug: line.reservoir for line in room.lines}
    if event.kind.target == "container":
        return {of_line[c.line] for c in room.containers if c.slug == event.subject}
    if event.kind.target == "line":
        return {of_line[event.subject]}
    return {event.subject} if event.kind.target == "reservoir" else set(of_line.values())


def _one(scenario: Scenario, room: Room, rng: np.random.Generator, name: str, length: float) -> Event:
    kind = EVENTS[name]
    hours = float(rng.uniform(*kind.hours))
    latest = max(length - hours / 24.0, 0.0)
    begin = scenario.start + timedelta(minutes=round(1440 * (QUIET_DAYS + rng.uniform(0, latest))))
    if kind.begins is not None:
        zone = next(f.zone for f in scenario.facilities if f.slug == room.facility)
        wanted = timedelta(minutes=round(60 * rng.uniform(*kind.begins)))
        midnight = begin.astimezone(ZoneInfo(zone)).replace(hour=0, minute=0)
        begin = max((midnight + wanted).astimezone(UTC), scenario.start)
    values = {key: float(rng.uniform(low, high)) for key, (low, high) in kind.values.items()}
    subjects = {
        "container": [c.slug for c in room.containers if c.twin or name != "probe-drift"],
        "line": [line.slug for line in room.lines],
        "reservoir": [r.slug for r in room.reservoirs],
        "gateway": [room.gateway],
        "room": [room.slug],
    }[kind.target]
    subject = str(rng.choice(subjects))
    end = begin + timedelta(minutes=max(round(60 * hours), 1))
    return Event(name, room.facility, room.slug, subject, begin, end, values)
