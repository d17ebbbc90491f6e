"""One step: what a judgement changes in the book of open conditions and alarms.

Pure and repeatable: the same judgement taken twice changes nothing the second time, and ids are made from kind,
subject and time. The order within a step: follow conditions; clear, raise and return; end what ran out; re-alarm
what worsened; let causes suppress and release; and only then decide who is to be called, so that an alarm explained in
the step that raised it never calls.

An alarm somebody answered stays acknowledged when a cause appears later: it calls nobody as it is, and suppressing it
would make it ask again once the cause is over. Not here: what people do to an alarm (`answer`), whom a call reaches
(`calls`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from uuid import UUID

from wickwatch.alarms import cause, ending, journal, message, policy
from wickwatch.alarms.conditions import follow, to_write
from wickwatch.alarms.model import Alarm, Book, Changes, Condition, Event, JournalEntry, Priority, alarm_id
from wickwatch.detect.finding import Judgement, Key
from wickwatch.fleet import Facility, Work


def step(book: Book, judgement: Judgement, place: Facility, work: Sequence[Work]) -> Changes:
    """What `judgement` changes; `work` are the entries of the time the open alarms span, for how they ended."""
    if not (judgement.findings or book.conditions or book.alarms):
        return Changes(judgement.as_of)
    return _Step(book, judgement, place, work).changes()


class _Step:
    """The state of one step while it is taken; alarms change only through journal entries."""

    def __init__(self, book: Book, judgement: Judgement, place: Facility, work: Sequence[Work]) -> None:
        self.book = book
        self.at: datetime = judgement.as_of
        self.place = place
        self.work = work
        self.topology = cause.topology(place)
        self.alarms: dict[Key, Alarm] = dict(book.alarms)
        self.entries: dict[UUID, list[JournalEntry]] = {}
        active = frozenset(key for key, alarm in book.alarms.items() if alarm.condition_present)
        self.conditions = follow(book.conditions, judgement, active, self.topology.subjects)
        #: Keys the readings of this very step speak for; only those may raise, return, release or worsen.
        self.seen = frozenset(f.key for f in judgement.findings) & frozenset(self.conditions)

    def changes(self) -> Changes:
        self._retire()
        self._clear()
        self._raise()
        self._time_out()
        self._worsen()
        self._explain()
        self._call()
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

    def _open(self) -> Iterator[tuple[Key, Alarm]]:
        """Open alarms by key: the order must not depend on where the book came from."""
        return ((key, self.alarms[key]) for key in sorted(self.alarms) if self.alarms[key].closed_at is None)

    def _happens(self, key: Key, event: Event, **detail: object) -> None:
        alarm = self.alarms[key]
        entry = journal.entry(alarm, event, self.at, detail=detail)
        self.entries.setdefault(alarm.id, []).append(entry)
        self.alarms[key] = journal.advance(alarm, entry)

    def _retire(self) -> None:
        for key, alarm in self._open():
            if alarm.subject.id not in self.topology.subjects:
                self._happens(key, "retired", outcome=ending.retired(alarm))

    def _time_out(self) -> None:
        for key, alarm in self._open():
            event: Event | None = None
            if alarm.shelved_until is not None and alarm.shelved_until <= self.at:
                event = "shelving-over"
            elif alarm.out_of_service_until is not None and alarm.out_of_service_until <= self.at:
                event = "service-over"
            if event is not None:
                self._happens(key, event, **self._numbers(key))

    def _clear(self) -> None:
        for key, alarm in self._open():
            condition = self.conditions.get(key)
            if alarm.condition_present and condition is not None and condition.ended_at is not None:
                self._happens(key, "cleared", outcome=ending.outcome(alarm, condition, self._work_on(alarm)))

    def _work_on(self, alarm: Alarm) -> list[Work]:
        """Work on what the alarm is about, on its room, or on what feeds it."""
        line = self.topology.line_of.get(alarm.subject.id, alarm.subject.id)
        where = {alarm.subject.id, alarm.room_id, line, self.topology.reservoir_of.get(line)}
        return [entry for entry in self.work if entry.subject_id in where]

    def _raise(self) -> None:
        """Raise what is due, causes first: what waits for one is looked at again once it is raised."""
        while due := [condition for condition in self._pending().values() if self._is_due(condition)]:
            for condition in due:
                if condition.key in self.alarms:
                    self._happens(condition.key, "returned", **self._numbers(condition.key))
                else:
                    self._open_alarm(condition)

    def _is_due(self, condition: Condition) -> bool:
        stands = self.at - condition.seen_at >= policy.POLICIES[condition.kind].on_delay
        return condition.key in self.seen and stands and not self._waits_for_cause(condition)

    def _pending(self) -> dict[Key, Condition]:
        return {
            key: self.conditions[key] for key in sorted(self.conditions) if self._is_pending(key, self.conditions[key])
        }

    def _is_pending(self, key: Key, condition: Condition) -> bool:
        alarm = self.alarms.get(key)
        active = alarm is not None and (alarm.condition_present or alarm.closed_at is not None)
        return condition.gone_at is None and not active

    def _waits_for_cause(self, condition: Condition) -> bool:
        """Whether a cause that is itself still pending may yet explain this one."""
        urgency = policy.priority(condition.kind, self.at, condition.harm_at)
        for key in cause.explanations(self.topology, condition.key, condition.explained_by):
            other = self.conditions.get(key)
            if other is None or key == condition.key or condition.key in other.explained_by:
                continue
            waited = self.at - other.seen_at
            soon = waited < policy.POLICIES[other.kind].on_delay + policy.CAUSE_WAIT
            covering = cause.covers(other.kind, policy.priority(other.kind, self.at, other.harm_at), urgency)
            if soon and covering and self._is_pending(key, other):
                return True
        return False

    def _open_alarm(self, condition: Condition) -> None:
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
            message=message.sentence(condition, self.place, self.at),
            evidence=condition.evidence,
        )
        opening = journal.opening(alarm)
        self.entries[alarm.id] = [opening]
        self.alarms[condition.key] = journal.advance(None, opening)

    def _explain(self) -> None:
        present = {key: alarm for key, alarm in self._open() if alarm.condition_present}
        by_id = {alarm.id: alarm for alarm in present.values()}
        for key in present:
            alarm = self.alarms[key]
            if alarm.state not in ("unacknowledged", "suppressed-by-design"):
                continue
            urgency = self._urgency(key, alarm)
            before = by_id.get(alarm.cause_id) if alarm.cause_id else None
            if before is not None and cause.covers(before.kind, before.priority, urgency):
                continue
            explaining = self._cause_of(key, alarm, urgency, present, by_id)
            if explaining is not None:
                self._happens(key, "suppressed", cause=str(explaining.id))
                by_id[alarm.id] = self.alarms[key]
                continue
            free = alarm.state == "suppressed-by-design" and (before is not None or self._outlasts(alarm))
            if free and key in self.seen:
                self._happens(key, "released", **self._numbers(key))

    def _cause_of(
        self,
        key: Key,
        alarm: Alarm,
        urgency: Priority,
        present: Mapping[Key, Alarm],
        by_id: Mapping[UUID, Alarm],
    ) -> Alarm | None:
        condition = self.conditions.get(key)
        named = condition.explained_by if condition is not None else ()
        for candidate in cause.explanations(self.topology, key, named):
            other = present.get(candidate)
            if other is None or not cause.covers(other.kind, other.priority, urgency):
                continue
            if not cause.leads_to(by_id[other.id], alarm.id, by_id):
                return other
        return None

    def _urgency(self, key: Key, alarm: Alarm) -> Priority:
        """An alarm's priority as it would be if it were renewed now."""
        if key not in self.seen or not policy.POLICIES[alarm.kind].worsens:
            return alarm.priority
        now = policy.priority(alarm.kind, self.at, self.conditions[key].harm_at)
        return now if policy.more_urgent(now, alarm.priority) else alarm.priority

    def _outlasts(self, alarm: Alarm) -> bool:
        """Whether an explained alarm has had its time to recover since its cause ended."""
        ended = self._closed_alarm(alarm.cause_id)
        since = None if ended is None else ended.cleared_at
        return since is None or self.at - since >= policy.POLICIES[alarm.kind].release

    def _closed_alarm(self, id: UUID | None) -> Alarm | None:
        here = (alarm for alarm in self.alarms.values() if alarm.id == id)
        return next(here, self.book.ended_causes.get(id) if id else None)

    def _worsen(self) -> None:
        for key, alarm in self._open():
            if alarm.state in ("unacknowledged", "acknowledged") and self._urgency(key, alarm) != alarm.priority:
                self._happens(key, "re-alarmed", **self._numbers(key))

    def _call(self) -> None:
        """Mark the entries that ask for somebody: only of alarms that end the step unacknowledged."""
        for key, alarm in self._open():
            entries = self.entries.get(alarm.id)
            if entries and alarm.state == "unacknowledged" and self._asks(entries, self.book.alarms.get(key)):
                entries[-1] = replace(entries[-1], detail={**entries[-1].detail, "call": True})
                self.alarms[key] = replace(alarm, called_at=self.at)

    def _asks(self, entries: Sequence[JournalEntry], before: Alarm | None) -> bool:
        if before is None or any(entry.event != "returned" for entry in entries):
            return True
        worse = policy.more_urgent(self.alarms[before.key].priority, before.priority)
        return worse or before.called_at is None or self.at - before.called_at >= policy.CALL_AGAIN

    def _numbers(self, key: Key) -> dict[str, object]:
        """The newest message, evidence and priority of an alarm whose condition holds; a priority never falls."""
        alarm, condition = self.alarms[key], self.conditions.get(key)
        if condition is None or condition.gone_at is not None:
            return {}
        return {
            "message": message.sentence(condition, self.place, self.at),
            "evidence": dict(condition.evidence),
            "priority": self._urgency(key, alarm),
        }
