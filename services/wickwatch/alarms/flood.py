"""Flood control: more calls than one person can take in are gathered into summaries, and none is lost.

A flood is more than ten alarms in ten minutes for one person, and lasts until fewer than five came in ten minutes
(ANSI/ISA-18.2, EEMUA 191: the usual definition, from memory). The first summary leaves at once; what follows is
gathered for a few minutes, unless something more urgent than the person has been told comes. Not here: the words of a
summary (`calls`), or where a waiting call is kept (`store.calls`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from wickwatch.alarms.duty import OnDuty
from wickwatch.alarms.model import PRIORITIES, Alarm, Event, Priority
from wickwatch.alarms.policy import more_urgent

WINDOW = timedelta(minutes=10)
BEGINS_ABOVE = 10
ENDS_BELOW = 5
#: During a flood a summary leaves at most this often. Chosen here: soon enough to matter, seldom enough to read.
GATHER = timedelta(minutes=5)


@dataclass(frozen=True)
class Call:
    """Somebody is called for an alarm, by its journal's entry `version`, as one of the duty's `rung`."""

    alarm: Alarm
    version: int
    event: Event
    rung: int
    person: OnDuty
    at: datetime


@dataclass(frozen=True)
class Load:
    """What one person was called for before this moment: alarms of the last ten minutes, and calls not yet told.

    `gathered_at` is when the last summary left, `told` the most urgent priority that left, both within that time.
    """

    alarms: frozenset[UUID] = frozenset()
    waiting: tuple[Call, ...] = ()
    gathered_at: datetime | None = None
    told: Priority | None = None


@dataclass(frozen=True)
class Sorted:
    """Calls that leave one by one, in one summary, or not yet."""

    singles: tuple[Call, ...] = ()
    summary: tuple[Call, ...] = ()
    waiting: tuple[Call, ...] = ()


def sort(new: Sequence[Call], load: Load, at: datetime) -> Sorted:
    """How one person's calls leave at a moment; every call, new or waiting, is in exactly one part."""
    pending = (*load.waiting, *new)
    if not pending:
        return Sorted()
    rate = len(load.alarms | {call.alarm.id for call in pending})
    flooded = bool(load.waiting) or load.gathered_at is not None
    flood = rate > BEGINS_ABOVE or (flooded and rate >= ENDS_BELOW)
    if flood and load.gathered_at is not None and at - load.gathered_at < GATHER and not _tells_more(pending, load):
        return Sorted(waiting=pending)
    if len({call.alarm.id for call in pending}) > 1 and (flood or load.waiting):
        return Sorted(summary=pending)
    return Sorted(singles=pending)


def by_urgency(calls: Sequence[Call]) -> list[Call]:
    """Each alarm's newest call, the most urgent first."""
    newest = {call.alarm.id: call for call in sorted(calls, key=lambda each: each.version)}
    return sorted(newest.values(), key=_urgency)


def _urgency(call: Call) -> tuple[int, bool, datetime, str]:
    alarm = call.alarm
    harm = alarm.harm_at or alarm.raised_at
    return PRIORITIES.index(alarm.priority), alarm.harm_at is None, harm, str(alarm.id)


def _tells_more(pending: Sequence[Call], load: Load) -> bool:
    worst = by_urgency(pending)[0].alarm.priority
    return load.told is None or more_urgent(worst, load.told)
