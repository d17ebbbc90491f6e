"""The alarms that a run would have raised, in the contract's shape: the same sweep and alarm rules as live.

People who are called say "mine" some minutes later, as live, and nothing else; of what has come and gone before, they
see on the page. Not here: comparing with the truth.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from uuid import UUID

from tests.evaluation.runs import Run
from wickwatch import alarms
from wickwatch.alarms import Alarm, Book, Changes
from wickwatch.detect import Judgement
from wickwatch.watch.backtest import acknowledged, answered, told

#: How long people take to say "mine": as long as is waited before the next one is called.
ANSWERS_AFTER = timedelta(minutes=10)


def of_judgements(run: Run, judged: Iterator[Judgement]) -> list[dict[str, object]]:
    """Alarms that follow from judgements in order of time."""
    book = Book(run.place.id)
    last: dict[UUID, Alarm] = {}
    kept_quiet_by: dict[UUID, UUID] = {}
    for judgement in judged:
        changes = alarms.step(book, judgement, run.place, ())
        book = alarms.after(book, changes)
        last.update({alarm.id: alarm for alarm in changes.alarms})
        for answers in (_mine(book, judgement.as_of), answered(book, judgement.as_of)):
            book = alarms.after(book, answers)
            last.update({alarm.id: alarm for alarm in answers.alarms})
        for alarm in changes.alarms:
            if alarm.cause_id is not None:
                kept_quiet_by.setdefault(alarm.id, alarm.cause_id)
    found = sorted(last.values(), key=lambda each: (each.raised_at, each.kind, str(each.id)))
    # What kept it quiet first: for a low reservoir the leak that empties it, and not that it is empty at last.
    first = [replace(alarm, cause_id=kept_quiet_by.get(alarm.id)) for alarm in found]
    return [told(alarm, run.place) for alarm in first]


def _mine(book: Book, as_of: datetime) -> Changes:
    """What people say who were called some minutes ago."""
    standing = (alarm for alarm in book.alarms.values() if alarm.state == "unacknowledged")
    called = (each for each in standing if each.called_at and as_of - each.called_at >= ANSWERS_AFTER)
    return acknowledged(called, as_of)
