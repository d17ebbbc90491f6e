"""Alarms as they would have been over stored history, each as it stood last.

A replay has nobody to say "mine": an alarm whose condition has gone is answered at once, so that the next time is an
alarm of its own, as it would be with people about. Not here: how they are printed (`cli.backtest`) or scored.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from uuid import UUID

from wickwatch import alarms
from wickwatch.alarms import Act, Alarm, Book, Changes, JournalEntry
from wickwatch.fleet import Facility
from wickwatch.store.connect import Connection
from wickwatch.watch.replay import Part, replay
from wickwatch.watch.schedule import SWEEP


def backtest(
    conn: Connection,
    facility_id: UUID,
    start: datetime,
    end: datetime,
    rules: Mapping[str, float],
    *,
    part: Part | None = None,
    every: timedelta = SWEEP,
    seen: Callable[[datetime], None] = lambda as_of: None,
    happened: Callable[[Sequence[JournalEntry]], None] = lambda entries: None,
    shape: Callable[[Alarm, Facility], dict[str, object]] | None = None,
) -> list[dict[str, object]]:
    """Alarms raised in (start, end], oldest first, in the contract's shape; `suppressed` where nobody was called.

    `rules` stand in place of those given anywhere, `part` narrows all to a part of the place; `seen` is told each
    moment as it is done, and `happened` what is written to the journal then; `shape` makes another object of an alarm
    than `told`. Raises InputError for a rule that is none or a value that it does not take.
    """
    last: dict[UUID, tuple[Alarm, Facility]] = {}
    for place, changes in replay(conn, Book(facility_id), start, end, every, rules, part=part, answer=answered):
        last.update({alarm.id: (alarm, place) for alarm in changes.alarms})
        happened(changes.journal)
        seen(changes.as_of)
    found = sorted(last.values(), key=lambda each: (each[0].raised_at, each[0].kind, str(each[0].id)))
    return [(shape or told)(alarm, place) for alarm, place in found]


def told(alarm: Alarm, place: Facility) -> dict[str, object]:
    """An alarm in the contract's shape with what matters of its past: one that called is a call.

    That holds though a cause appeared afterwards and would explain it now.
    """
    shown = alarms.as_json(alarm, place)
    return shown | ({"suppressed": True} if alarm.called_at is None else {"suppressed": False, "cause": None})


def answered(book: Book, as_of: datetime) -> Changes:
    """Answers to everything in the book that only waits for one."""
    return acknowledged((alarm for alarm in book.alarms.values() if alarm.state == "returned-unacknowledged"), as_of)


def acknowledged(waiting: Iterable[Alarm], as_of: datetime) -> Changes:
    """Somebody's "mine" to each of these."""
    done = [alarms.apply(alarm, Act("acknowledge"), None, as_of) for alarm in waiting]
    return Changes(as_of, (), tuple(alarm for alarm, _ in done), tuple(entry for _, entry in done if entry))
