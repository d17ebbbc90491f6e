"""One step while it is taken: what is open, what happened to it so far, and what follows from the rules of the place.

Alarms change only through journal entries made here. Not here: what happens in a step, and in which order (`step`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from uuid import UUID

from wickwatch.alarms import cause, journal, message, policy, verdict
from wickwatch.alarms.conditions import follow, to_write
from wickwatch.alarms.facts import facts
from wickwatch.alarms.model import Alarm, Book, Changes, Condition, Event, JournalEntry, Priority, alarm_id
from wickwatch.alarms.service import Period, covering
from wickwatch.alarms.verdict import Failed
from wickwatch.detect.finding import Judgement, Key
from wickwatch.fleet import Facility, Rules, Subject, Work


class Taking:
    """The state of one step; `seen` are the conditions that the readings of this very step speak for.

    Only those may raise, return, release or worsen.
    """

    def __init__(
        self,
        book: Book,
        judgement: Judgement,
        place: Facility,
        work: Sequence[Work],
        out_of_service: Sequence[Period],
        waiting: frozenset[Priority],
    ) -> None:
        self.book = book
        self.waiting = waiting
        self.periods = {period.id: period for period in out_of_service}
        self.at: datetime = judgement.as_of
        self.place = place
        self.work = work
        self._work_by_subject: dict[UUID, list[Work]] = {}
        for entry in work:
            self._work_by_subject.setdefault(entry.subject_id, []).append(entry)
        self.topology = cause.topology(place)
        self.covering = covering(place, out_of_service, judgement.as_of) if out_of_service else {}
        self.alarms: dict[Key, Alarm] = dict(book.alarms)
        self.entries: dict[UUID, list[JournalEntry]] = {}
        active = frozenset(key for key, alarm in book.alarms.items() if alarm.condition_present)
        self.conditions = follow(book.conditions, judgement, active, self.topology.subjects, self._unaided())
        self.early = judgement.early
        self.seen = frozenset(f.key for f in judgement.findings) & frozenset(self.conditions)

    def _unaided(self) -> frozenset[Key]:
        """Alarms that somebody has said "mine" to, without work written down that mends or explains them."""
        return frozenset(
            key
            for key, alarm in self.book.alarms.items()
            if self._stays_answered(key, alarm) and key in self.book.conditions and not self._aided(key, alarm)
        )

    def _stays_answered(self, key: Key, alarm: Alarm) -> bool:
        """Whether somebody has it, also after this step: what is put aside no longer wants an answer again."""
        if alarm.acknowledged_at is None:
            return False
        ends = alarm.shelved_until or alarm.out_of_service_until
        if ends is not None and ends <= self.at:
            return False
        own = self.periods.get(alarm.service_id) if alarm.service_id else None
        return not alarm.service_id or key[1] in self.covering or (own is not None and own.holds(self.at))

    def _aided(self, key: Key, alarm: Alarm) -> bool:
        condition, done = self.book.conditions[key], self.work_on(alarm.subject, alarm.room_id)
        if not done:
            return False
        hours = self.rules(key).settled_hours
        return bool(verdict.mending(condition, done, self.at) or verdict.explaining(condition, done, hours))

    def changes(self) -> Changes:
        """What changed so far."""
        touched = [key for key in sorted(self.alarms) if self.alarms[key].id in self.entries]
        return Changes(
            as_of=self.at,
            conditions=tuple(
                self.conditions[key] for key in sorted(self.conditions) if key in touched or self._to_write(key)
            ),
            alarms=tuple(self.alarms[key] for key in touched),
            journal=tuple(entry for key in touched for entry in self.entries[self.alarms[key].id]),
        )

    def _to_write(self, key: Key) -> bool:
        before, now = self.book.conditions.get(key), self.conditions[key]
        return now is not before and to_write(before, now)

    def open(self) -> Iterator[tuple[Key, Alarm]]:
        """Open alarms by key: the order must not depend on where the book came from."""
        return ((key, self.alarms[key]) for key in sorted(self.alarms) if self.alarms[key].closed_at is None)

    def rules(self, key: Key) -> Rules:
        """Rules in force at what a condition is about."""
        return self.topology.subjects.get(key[1], self.place.rules)

    def happens(self, key: Key, event: Event, detail: Mapping[str, object], person_id: UUID | None = None) -> None:
        """Write the next entry of an alarm."""
        alarm = self.alarms[key]
        entry = journal.entry(alarm, event, self.at, person_id, detail)
        self.entries.setdefault(alarm.id, []).append(entry)
        self.alarms[key] = journal.advance(alarm, entry)

    def open_alarm(self, condition: Condition) -> None:
        """Raise an alarm for a condition."""
        failed = self.failed(condition)
        told = facts(condition, self.place, self.at, failed)
        priority = policy.priority(condition.kind, self.at, condition.harm_at)
        alarm = Alarm(
            id=alarm_id(condition.key, self.at),
            facility_id=self.book.facility_id,
            room_id=condition.room_id,
            kind=condition.kind,
            subject=condition.subject,
            priority=priority,
            state="unacknowledged",
            condition_present=True,
            raised_at=self.at,
            message=message.sentence(told),
            evidence=condition.evidence,
            made_of={"message": told.kept()},
            harm_at=condition.harm_at,
        )
        opening = journal.opening(alarm)
        if failed is not None:
            opening = replace(opening, detail={**opening.detail, **failed.detail})
        self.entries[alarm.id] = [opening]
        self.alarms[condition.key] = journal.advance(None, opening)

    def numbers(self, key: Key) -> dict[str, object]:
        """The newest message, evidence and priority of an alarm whose condition holds; a priority never falls."""
        alarm, condition = self.alarms[key], self.conditions.get(key)
        if condition is None or condition.gone_at is not None:
            return {}
        failed = self.failed(condition)
        told = facts(condition, self.place, self.at, failed)
        return {
            **(failed.detail if failed else {}),
            "message": message.sentence(told),
            "made_of": {"message": told.kept()},
            "evidence": dict(condition.evidence),
            "priority": self.urgency(key, alarm),
            "harm_at": None if condition.harm_at is None else condition.harm_at.isoformat(),
        }

    def work_on(self, subject: Subject, room_id: UUID | None) -> list[Work]:
        """Work on something, on its room or on what feeds it; on anything in it, where it is a room itself."""
        if subject.type == "room":
            return [entry for entry in self.work if subject.id in (entry.room_id, entry.subject_id)]
        line = self.topology.line_of.get(subject.id, subject.id)
        where = dict.fromkeys((subject.id, room_id, line, self.topology.reservoir_of.get(line)))
        return [entry for id in where if id is not None for entry in self._work_by_subject.get(id, ())]

    def failed(self, condition: Condition) -> Failed | None:
        """The work that has not mended a condition, or not for long, as can be said by now."""
        done = self.work_on(condition.subject, condition.room_id)
        hours = self.rules(condition.key).settled_hours
        return verdict.failed(condition, done, hours, self.at, self.place.zone) if done else None

    def urgency(self, key: Key, alarm: Alarm) -> Priority:
        """An alarm's priority as it would be if it were renewed now."""
        if key not in self.seen or not policy.POLICIES[alarm.kind].worsens:
            return alarm.priority
        now = policy.priority(alarm.kind, self.at, self.conditions[key].harm_at, policy.DEADBAND)
        return now if policy.more_urgent(now, alarm.priority) else alarm.priority
