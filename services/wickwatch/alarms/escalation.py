"""Nobody says "mine": the next rung of the duty's ladder is called, until somebody does or all have been.

Pure; run beside every step, so that a ladder is climbed also while nothing is judged. An answer stops it, as does
anything else that ends an alarm's being unacknowledged. Not here: who stands on which rung (`duty`), or after how long
(`policy`).
"""

from __future__ import annotations

from datetime import datetime

from wickwatch.alarms import journal, policy
from wickwatch.alarms.duty import Duty
from wickwatch.alarms.model import Alarm, Book, Changes, JournalEntry


def escalate(book: Book, duty: Duty, at: datetime) -> Changes:
    """What changes where the next are called now."""
    due = [alarm for _, alarm in sorted(book.alarms.items()) if _is_due(alarm, duty, at)]
    entries = [_entry(alarm, at) for alarm in due]
    alarms = [journal.advance(alarm, entry) for alarm, entry in zip(due, entries, strict=True)]
    return Changes(at, (), tuple(alarms), tuple(entries))


def _is_due(alarm: Alarm, duty: Duty, at: datetime) -> bool:
    if alarm.state != "unacknowledged" or alarm.called_at is None or not 1 <= alarm.rung < len(duty.ladder):
        return False
    wait = policy.ESCALATES[alarm.priority] * duty.waits[alarm.rung - 1]
    return at - alarm.called_at >= wait and bool(duty.called(alarm.rung + 1, alarm.priority))


def _entry(alarm: Alarm, at: datetime) -> JournalEntry:
    return journal.entry(alarm, "escalated", at, detail={"call": True, "rung": alarm.rung + 1})
