"""The duty changes hands while something is unanswered: who takes over is called for it, once.

Who stands on a rung that has been called, and was not called themselves since the alarm last asked, is called now; in
quiet hours later, where its priority may wait. Pure; run beside every step, after the ladder was climbed. Not here: who
stands on which rung (`duty`), or that several such calls leave in one message (`calls`).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from uuid import UUID

from wickwatch.alarms import journal
from wickwatch.alarms.duty import Duty, OnDuty
from wickwatch.alarms.model import Alarm, Book, Changes


def hand_over(waiting: Sequence[Alarm], duty: Duty, called: Mapping[UUID, Collection[UUID]], at: datetime) -> Changes:
    """What changes where somebody has taken over alarms that nobody has answered (`unanswered`).

    `called` are the people called for each of them since it last asked.
    """
    alarms, entries = [], []
    for alarm in waiting:
        fresh = [person for person in _standing(duty, alarm) if person.person_id not in called.get(alarm.id, ())]
        if fresh:
            people = sorted(str(person.person_id) for person in fresh)
            detail = {"call": True, "rung": alarm.rung, "people": people}
            entries.append(journal.entry(alarm, "handed-over", at, detail=detail))
            alarms.append(journal.advance(alarm, entries[-1]))
    return Changes(at, (), tuple(alarms), tuple(entries))


def unanswered(book: Book, at: datetime) -> list[Alarm]:
    """Alarms that somebody was called for before a moment, and that nobody has said "mine" to."""
    return [
        alarm
        for _, alarm in sorted(book.alarms.items())
        if alarm.state == "unacknowledged" and alarm.rung >= 1 and alarm.called_at is not None and alarm.called_at < at
    ]


def _standing(duty: Duty, alarm: Alarm) -> list[OnDuty]:
    return [person for rung in range(1, alarm.rung + 1) for person in duty.called(rung, alarm.priority)]
