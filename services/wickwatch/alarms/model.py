"""An alarm, what it stands on, and what one step changes: plain frozen data.

A condition is a finding followed over sweeps; an alarm is its life towards people. They are apart because a condition
may be pending, or come and go while nobody is to be called. Not here: which state follows which (`transitions`), what
a journal entry does to an alarm (`journal`), or how any of it is stored (`store.alarms`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal, get_args
from uuid import UUID, uuid5

from wickwatch.detect.finding import Key, Value
from wickwatch.fleet import Kind, Subject

#: States in the words of IEC 62682 / ANSI/ISA-18.2.
State = Literal[
    "unacknowledged",
    "acknowledged",
    "returned-unacknowledged",
    "normal",
    "shelved",
    "suppressed-by-design",
    "out-of-service",
]
STATES: tuple[State, ...] = get_args(State)

Priority = Literal["high", "medium", "low"]
#: The most urgent first.
PRIORITIES: tuple[Priority, ...] = get_args(Priority)

#: What can happen to an alarm. Those of `PERSON_EVENTS` are somebody's act, the others are seen by the watch.
Event = Literal[
    "raised",
    "cleared",
    "returned",
    "re-alarmed",
    "suppressed",
    "released",
    "shelving-over",
    "service-over",
    "retired",
    "called",
    "escalated",
    "handed-over",
    "acknowledged",
    "shelved",
    "unshelved",
    "taken-out-of-service",
    "returned-to-service",
]
EVENTS: tuple[Event, ...] = get_args(Event)
PERSON_EVENTS: tuple[Event, ...] = EVENTS[EVENTS.index("acknowledged") :]

#: States in which an alarm asks for somebody, the condition or its answer being open.
OPEN_TO_PEOPLE: tuple[State, ...] = ("unacknowledged", "acknowledged", "returned-unacknowledged")

#: Names made from kind, subject and time are ids, so that the same sweep run twice makes the same alarm.
_NAMESPACE = UUID("5d4f3c1e-7a52-5c0b-9a0e-1f1d1c6b2a77")


@dataclass(frozen=True)
class Condition:
    """A finding followed over sweeps, from the first that said so until it is gone for its off-delay.

    `gone_at` is the first sweep that no longer said so, `None` while it holds. `last_seen_at` is refreshed only every
    few minutes (`policy.REFRESH`), with the newest evidence.
    """

    id: UUID
    kind: Kind
    subject: Subject
    room_id: UUID | None
    since: datetime
    seen_at: datetime
    last_seen_at: datetime
    evidence: Mapping[str, Value]
    harm_at: datetime | None = None
    explained_by: tuple[Key, ...] = ()
    gone_at: datetime | None = None
    ended_at: datetime | None = None

    @property
    def key(self) -> Key:
        """Its kind and subject: at most one is open."""
        return self.kind, self.subject.id


@dataclass(frozen=True)
class Alarm:
    """One alarm as of its newest journal entry; `version` counts them.

    `evidence` and `message` hold the numbers that raised it, renewed when it returns, worsens or is released. `made_of`
    is what `message` and `outcome`, which are plain English, were made of beside it, so that they can be said again.
    `harm_at` is when harm was expected then. `acknowledged_at` is kept through shelving and suppression and dropped
    when the alarm wants an answer again. `called_at` is when it last asked for somebody to be called, and `rung` how
    many rungs of the duty's ladder have been called since: 0 while the call waits for the end of quiet hours, or for
    anybody who can be reached. `service_id` is the period that took its place out of service, `None` where it is in
    service or somebody put this alarm alone aside.
    """

    id: UUID
    facility_id: UUID
    room_id: UUID | None
    kind: Kind
    subject: Subject
    priority: Priority
    state: State
    condition_present: bool
    raised_at: datetime
    message: str
    evidence: Mapping[str, Value]
    version: int = 1
    acknowledged_at: datetime | None = None
    acknowledged_by: UUID | None = None
    cause_id: UUID | None = None
    shelved_until: datetime | None = None
    out_of_service_until: datetime | None = None
    service_id: UUID | None = None
    harm_at: datetime | None = None
    called_at: datetime | None = None
    rung: int = 0
    cleared_at: datetime | None = None
    closed_at: datetime | None = None
    outcome: str | None = None
    made_of: Mapping[str, object] = field(default_factory=dict)

    @property
    def key(self) -> Key:
        """Its kind and subject: at most one is open."""
        return self.kind, self.subject.id


@dataclass(frozen=True)
class JournalEntry:
    """One thing that happened to an alarm; `state` is the one after it.

    `detail` holds what the state alone does not tell (message, evidence, cause, end of shelving, outcome), as JSON
    holds it: times and ids are text. All entries of an alarm in order rebuild it (`journal.replay`).
    """

    alarm_id: UUID
    version: int
    at: datetime
    event: Event
    state: State
    person_id: UUID | None = None
    detail: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True)
class Book:
    """What is open in a facility before a step: conditions and alarms by their key, at most one of each.

    `ended_causes` are closed alarms by id that may still explain others: those that open ones name as their cause, and
    those that ended so lately that what follows from them may be seen only now.
    """

    facility_id: UUID
    conditions: Mapping[Key, Condition] = field(default_factory=dict)
    alarms: Mapping[Key, Alarm] = field(default_factory=dict)
    ended_causes: Mapping[UUID, Alarm] = field(default_factory=dict)


@dataclass(frozen=True)
class Changes:
    """What a step changes: rows as they are afterwards, and the journal entries that led there, in order."""

    as_of: datetime
    conditions: tuple[Condition, ...] = ()
    alarms: tuple[Alarm, ...] = ()
    journal: tuple[JournalEntry, ...] = ()

    def then(self, later: Changes) -> Changes:
        """These and what followed them, as one."""
        conditions = {c.id: c for c in (*self.conditions, *later.conditions)}
        alarms = {a.id: a for a in (*self.alarms, *later.alarms)}
        journal = (*self.journal, *later.journal)
        return Changes(later.as_of, tuple(conditions.values()), tuple(alarms.values()), journal)

    def __bool__(self) -> bool:
        return bool(self.conditions or self.alarms or self.journal)


def condition_id(key: Key, seen_at: datetime) -> UUID:
    """Id of the condition that a sweep saw first at `seen_at`."""
    return uuid5(_NAMESPACE, f"condition {key[0]} {key[1]} {seen_at.isoformat()}")


def alarm_id(key: Key, raised_at: datetime) -> UUID:
    """Id of the alarm raised at `raised_at`."""
    return uuid5(_NAMESPACE, f"alarm {key[0]} {key[1]} {raised_at.isoformat()}")


def plain(evidence: Mapping[str, object]) -> dict[str, Value]:
    """Evidence as JSON can hold it: array scalars become numbers, and a number that is not finite becomes None."""
    return {name: _plain(value) for name, value in evidence.items()}


def _plain(value: object) -> Value:
    if hasattr(value, "item"):
        value = value.item()
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if value is None or isinstance(value, str | bool | int):
        return value
    return value.isoformat() if isinstance(value, datetime) else str(value)
