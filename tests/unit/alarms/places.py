"""A small facility for tests of alarms, and findings in it, each in one line.

Birchwood House has two rooms; each has a reservoir, a line, two containers; one gateway reports everything. Ids are
fixed, so that a failing example reads the same twice.
"""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from wickwatch.alarms import (
    POLICIES,
    Alarm,
    Book,
    Changes,
    Duty,
    NoticeDraft,
    Period,
    after,
    calls,
    escalate,
    leaving,
    step,
)
from wickwatch.detect.finding import Finding, Judgement, Key, Value
from wickwatch.fleet import Channel, Container, Facility, Gateway, Kind, Line, Reservoir, Room, Rules, Subject, Work

START = datetime(2026, 11, 20, 4, 0, tzinfo=UTC)
RULES = Rules()
EVERY: frozenset[Kind] = frozenset(POLICIES)


def named(name: str) -> UUID:
    """The id of a thing in these tests."""
    return uuid5(UUID(int=0), name)


GATEWAY = Subject("gateway", named("gw-01"), "gw-01")
EMPTY: dict[str, Value] = {"level_mm": 12.0, "empty_level_mm": 70.0, "containers": 2}
DRY: dict[str, Value] = {"tension_mbar": 152.0, "dry_limit_mbar": 180.0, "slope_mbar_per_day": 6.2}


def reservoir(room: int = 3) -> Subject:
    return Subject("reservoir", named(f"r{room}-east"), f"R{room} east")


def line(room: int = 3) -> Subject:
    return Subject("line", named(f"r{room}-loop"), f"r{room}-loop")


def pot(number: int = 1, room: int = 3) -> Subject:
    return Subject("container", named(f"r{room}-pot-{number}"), f"Pot {number}")


def room_id(room: int = 3) -> UUID:
    return named(f"room-{room:02}")


def _room(room: int) -> Room:
    def channel(number: int, quantity: str) -> Channel:
        return Channel(room * 10 + number, f"urn:x:{room}{number}:{quantity}", quantity, GATEWAY.id)

    pots = tuple(
        Container(pot(n, room).id, f"pot-{n}", f"Pot {n}", line(room).id, 20, "peat", 4, RULES, channel(n, "tension"))
        for n in (1, 2)
    )
    tank = Reservoir(reservoir(room).id, "east", f"R{room} east", "cylinder", {}, 0, 40, 30, RULES, channel(9, "level"))
    supply = Line(line(room).id, "loop", f"r{room}-loop", tank.id, "loop")
    return Room(room_id(room), f"room-{room:02}", f"Room {room}", time(6), time(18), RULES, (tank,), (supply,), pots)


HOUSE = Facility(
    id=named("birchwood"),
    slug="birchwood",
    name="Birchwood House",
    zone=ZoneInfo("Europe/Oslo"),
    rules=RULES,
    rooms=(_room(3), _room(4)),
    gateways=(Gateway(GATEWAY.id, "gw-01"),),
)


def found(
    kind: Kind,
    subject: Subject,
    *,
    room: int | None = 3,
    since: datetime = START,
    harm_at: datetime | None = None,
    explained_by: tuple[Key, ...] = (),
    **evidence: Value,
) -> Finding:
    default = EMPTY if kind == "reservoir-empty" else DRY if kind == "drying-drift" else {}
    where = None if room is None else room_id(room)
    return Finding(kind, subject, where, since, evidence or default, harm_at, explained_by)


def judged(
    minute: float,
    *findings: Finding,
    kinds: frozenset[Kind] = EVERY,
    unknown: frozenset[Key] = frozenset(),
    lasting: frozenset[Key] = frozenset(),
) -> Judgement:
    return Judgement(START + timedelta(minutes=minute), kinds, findings, unknown, lasting=lasting)


def work(kind: str, subject: Subject, minute: float) -> Work:
    at = START + timedelta(minutes=minute)
    return Work(named(f"{kind} {minute}"), kind, subject.type, subject.id, room_id(), at)


def drafts(changes: Changes, duty: Duty, base_url: str = "http://house", place: Facility = HOUSE) -> list[NoticeDraft]:
    """Notices of one moment, to people who were not called lately."""
    return list(leaving(calls(changes, duty), {}, duty.fallback, base_url, place, changes.as_of).drafts)


class Watch:
    """A book carried from sweep to sweep, with `duty` also up the ladder."""

    def __init__(self, place: Facility = HOUSE) -> None:
        self.place = place
        self.book = Book(place.id)
        self.work: list[Work] = []
        self.periods: list[Period] = []
        self.duty: Duty | None = None
        self.all: dict[UUID, Alarm] = {}
        self.last = Changes(START)

    def sweep(self, judgement: Judgement) -> Changes:
        waiting = self.duty.waiting if self.duty else frozenset()
        self.last = step(self.book, judgement, self.place, self.work, self.periods, waiting)
        if self.duty:
            self.last = self.last.then(escalate(after(self.book, self.last), self.duty, judgement.as_of))
        self.book = after(self.book, self.last)
        self.all |= {alarm.id: alarm for alarm in self.last.alarms}
        return self.last

    def sweeps(self, start: int, end: int, *findings: Finding, every: int = 1, kinds: frozenset[Kind] = EVERY) -> None:
        """Sweep at minutes start, start + every, … up to and with end."""
        for minute in range(start, end + 1, every):
            self.sweep(judged(minute, *findings, kinds=kinds))

    def sweep_at(self, minute: float, *findings: Finding) -> Changes:
        """Sweep once."""
        return self.sweep(judged(minute, *findings))

    def put(self, alarm: Alarm) -> None:
        """Take over an alarm that a person changed."""
        self.book = after(self.book, Changes(self.last.as_of, alarms=(alarm,)))
        self.all[alarm.id] = alarm

    def only(self, kind: Kind) -> Alarm:
        (alarm,) = [alarm for alarm in self.all.values() if alarm.kind == kind]
        return alarm

    @property
    def called(self) -> list[str]:
        """Subjects that the last sweep calls for."""
        return [alarm.subject.name for alarm in self.last.alarms if alarm.called_at == self.last.as_of]
