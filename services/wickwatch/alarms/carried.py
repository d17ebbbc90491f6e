"""The book carried from one step to the next, without a database in between.

What a backtest goes on with; the store loads the same (`store.alarms`). Not here: what a step changes (`step`).
"""

from __future__ import annotations

from wickwatch.alarms import policy
from wickwatch.alarms.model import Book, Changes


def after(book: Book, changes: Changes) -> Book:
    """The book as it is once the changes are stored."""
    conditions = {**book.conditions, **{c.key: c for c in changes.conditions}}
    conditions = {key: condition for key, condition in conditions.items() if condition.ended_at is None}
    touched = {**book.alarms, **{a.key: a for a in changes.alarms}}
    alarms = {key: alarm for key, alarm in touched.items() if alarm.closed_at is None}
    closed = {a.id: a for a in changes.alarms if a.closed_at is not None}
    named = {alarm.cause_id for alarm in alarms.values()}
    ended = {
        id: alarm
        for id, alarm in {**book.ended_causes, **closed}.items()
        if id in named or policy.may_explain_yet(alarm, changes.as_of)
    }
    return Book(book.facility_id, conditions, alarms, ended)
