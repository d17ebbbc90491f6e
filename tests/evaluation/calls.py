"""The alarms that a run would have raised, in the contract's shape: the same sweep and alarm rules as live.

People answer every alarm whose condition has gone, as in a backtest. Not here: comparing with the truth.
"""

from __future__ import annotations

from collections.abc import Iterator
from uuid import UUID

from tests.evaluation.runs import Run
from wickwatch import alarms
from wickwatch.alarms import Alarm, Book
from wickwatch.detect import Judgement
from wickwatch.watch.backtest import answered, told


def of_judgements(run: Run, judged: Iterator[Judgement]) -> list[dict[str, object]]:
    """Alarms that follow from judgements in order of time."""
    book = Book(run.place.id)
    last: dict[UUID, Alarm] = {}
    for judgement in judged:
        for changes in (alarms.step(book, judgement, run.place, ()),):
            book = alarms.after(book, changes)
            last.update({alarm.id: alarm for alarm in changes.alarms})
        answers = answered(book, judgement.as_of)
        book = alarms.after(book, answers)
        last.update({alarm.id: alarm for alarm in answers.alarms})
    found = sorted(last.values(), key=lambda each: (each.raised_at, each.kind, str(each.id)))
    return [told(alarm, run.place) for alarm in found]
