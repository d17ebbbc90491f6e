"""People who are called in a simulated history: one on duty, two behind them, who answer after some minutes.

The same calls as live: climbing the ladder, quiet hours, summaries in a flood. They say "mine" to all they were called
for, and nothing else: what is wrong goes when the simulation ends it. Not here: what the calls are compared with.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime, time, timedelta
from uuid import NAMESPACE_URL, UUID, uuid5

from wickwatch import alarms
from wickwatch.alarms import Act, Alarm, Book, Call, Changes, Contact, Duty, Event, Load, OnDuty, Priority
from wickwatch.alarms.flood import WINDOW
from wickwatch.detect import Judgement
from wickwatch.fleet import Facility

#: When calls of low priority wait, by the facility's clock.
QUIET_FROM, QUIET_UNTIL = time(22), time(7)
#: How long people take to say "mine", in minutes.
ANSWERS_AFTER = (1, 9)


@dataclass(frozen=True)
class Message:
    """One message to one person: when, and for which alarms, by which event of each."""

    at: datetime
    person_id: UUID
    events: dict[UUID, Event]


@dataclass
class Crew:
    """Everybody who may be called at one facility, what they were told, and what they have said."""

    place: Facility
    seed: int = 1
    book: Book = field(init=False)
    alarms: dict[UUID, Alarm] = field(default_factory=dict)
    messages: list[Message] = field(default_factory=list)
    #: Calls for an alarm that the one called had said "mine" to, and that had not grown worse since.
    for_theirs: list[tuple[Message, UUID]] = field(default_factory=list)
    _loads: dict[UUID, list[tuple[datetime, str, Call]]] = field(default_factory=dict)
    _waiting: dict[UUID, tuple[Call, ...]] = field(default_factory=dict)
    _answers: list[tuple[datetime, UUID, UUID]] = field(default_factory=list)
    _said: dict[UUID, UUID] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.book = Book(self.place.id)
        self._chance = random.Random(f"{self.seed} {self.place.slug}")
        self._people = [self._person(step, name) for step, name in ((1, "first"), (2, "second"), (1, "manager"))]

    def live(self, judged: Iterator[Judgement]) -> None:
        """Go through a history."""
        for judgement in judged:
            self._answer(judgement.as_of)
            duty = self._duty(judgement.as_of)
            changes = alarms.step(self.book, judgement, self.place, (), (), duty.waiting)
            changes = changes.then(alarms.escalate(alarms.after(self.book, changes), duty, judgement.as_of))
            self._take(changes)
            self._call(alarms.calls(changes, duty), judgement.as_of)

    def _person(self, step: int, name: str) -> OnDuty:
        id = uuid5(NAMESPACE_URL, f"{self.place.slug} {name}")
        return OnDuty(step, id, name, (Contact(uuid5(id, "mail"), "email", f"{name}@example.org"),))

    def _duty(self, at: datetime) -> Duty:
        local = at.astimezone(self.place.zone)
        asleep = local.time() >= QUIET_FROM or local.time() < QUIET_UNTIL
        quiet = at + timedelta(hours=1) if asleep else None
        first, second, manager = (replace(person, quiet_until=quiet) for person in self._people)
        return Duty((first, second), managers=(manager,))

    def _take(self, changes: Changes) -> None:
        for entry in changes.journal:
            if entry.event == "re-alarmed":
                self._said.pop(entry.alarm_id, None)  # it grew worse: perhaps told in the morning only
        self.book = alarms.after(self.book, changes)
        self.alarms.update({alarm.id: alarm for alarm in changes.alarms})

    def _call(self, new: list[Call], at: datetime) -> None:
        standing = {alarm.id: alarm for alarm in self.book.alarms.values() if alarm.state == "unacknowledged"}
        self._waiting = {
            person: tuple(replace(call, alarm=standing[call.alarm.id]) for call in calls if call.alarm.id in standing)
            for person, calls in self._waiting.items()
        }
        loads = {person.person_id: self._load(person.person_id, at) for person in self._people}
        leaving = alarms.leaving(new, loads, False, "", self.place, at)
        told: dict[str, list[Call]] = {}
        self._waiting = {}
        for each in leaving.told:
            person = each.call.person.person_id
            if each.notice is None:
                self._waiting[person] = (*self._waiting.get(person, ()), each.call)
            else:
                self._loads.setdefault(person, []).append((at, each.how, each.call))
                told.setdefault(f"{person} {each.notice}", []).append(each.call)
        for calls in told.values():
            self._told(Message(at, calls[0].person.person_id, {call.alarm.id: call.event for call in calls}))

    def _told(self, message: Message) -> None:
        self.messages.append(message)
        after = message.at + timedelta(minutes=self._chance.randint(*ANSWERS_AFTER))
        for alarm_id in message.events:
            if self._said.get(alarm_id) == message.person_id:
                self.for_theirs.append((message, alarm_id))
            self._answers.append((after, message.person_id, alarm_id))

    def _load(self, person: UUID, at: datetime) -> Load:
        lately = [each for each in self._loads.get(person, []) if each[0] > at - WINDOW]
        self._loads[person] = lately
        summaries = [when for when, how, _ in lately if how == "summary"]
        told: list[Priority] = [call.alarm.priority for _, _, call in lately]
        worst = min(told, key=alarms.PRIORITIES.index, default=None)
        seen = frozenset(call.alarm.id for _, _, call in lately)
        return Load(seen, self._waiting.get(person, ()), max(summaries, default=None), worst)

    def _answer(self, at: datetime) -> None:
        due = [each for each in self._answers if each[0] <= at]
        self._answers = [each for each in self._answers if each[0] > at]
        open_alarms = {alarm.id: alarm for alarm in self.book.alarms.values()}
        for _, person, alarm_id in due:
            alarm = open_alarms.get(alarm_id)
            if alarm is not None and alarm.state in ("unacknowledged", "returned-unacknowledged"):
                after, entry = alarms.apply(alarm, Act("acknowledge"), person, at)
                self._take(Changes(at, (), (after,), (entry,) if entry else ()))
                self._said[alarm_id] = person
        # What came and went before its call was made, or while nobody had to be called, is seen on the page.
        for alarm in list(self.book.alarms.values()):
            waits = any(alarm.id == asked for _, _, asked in self._answers)
            if alarm.state == "returned-unacknowledged" and not waits:
                after, entry = alarms.apply(alarm, Act("acknowledge"), None, at)
                self._take(Changes(at, (), (after,), (entry,) if entry else ()))
