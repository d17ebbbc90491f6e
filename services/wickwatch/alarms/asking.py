"""In a step: which alarms ask for somebody to be called, and which of those calls have to wait.

Last in a step, so that an alarm explained in the step that raised it never calls. Not here: whom a call reaches
(`calls`), or when the next are called (`escalation`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from uuid import UUID

from wickwatch.alarms import policy
from wickwatch.alarms.model import Alarm, JournalEntry
from wickwatch.alarms.taking import Taking
from wickwatch.detect.finding import Key


def ask(taking: Taking) -> None:
    """Mark the entries that ask for somebody: only of alarms that end the step unacknowledged.

    A call that has to wait (for the morning, or for others of its room) is marked as held, and made by an entry of its
    own once it has not.
    """
    called = _called(taking)
    for key, alarm in taking.open():
        if alarm.state != "unacknowledged":
            continue
        entries = taking.entries.get(alarm.id, [])
        asks = bool(entries) and _asks(taking, entries, taking.book.alarms.get(key))
        if not asks and alarm.rung > 0:
            continue
        waits = alarm.priority in taking.waiting or _gathers(taking, key, alarm, called.get(alarm.room_id, ()))
        if asks:
            marked = replace(entries[-1], detail={**entries[-1].detail, "held" if waits else "call": True})
            entries[-1] = marked
            taking.alarms[key] = replace(alarm, called_at=taking.at, rung=0 if waits else 1)
        elif not waits:
            taking.happens(key, "called", {"call": True})


def _called(taking: Taking) -> Mapping[UUID | None, list[Alarm]]:
    """Open alarms of each room that somebody was called for before this step: the same step taken twice calls for
    nothing more.
    """
    found: dict[UUID | None, list[Alarm]] = defaultdict(list)
    for key, alarm in taking.book.alarms.items():
        if alarm.called_at is not None and alarm.rung > 0 and taking.alarms[key].closed_at is None:
            found[alarm.room_id].append(alarm)
    return found


def _gathers(taking: Taking, key: Key, alarm: Alarm, called: Sequence[Alarm]) -> bool:
    """Whether a first call waits, since there is time to see what it is a part of, or since somebody was called for the
    same kind of thing in its room a while ago.
    """
    if alarm.kind not in policy.GATHERED or alarm.rung > 0:
        return False
    if alarm.kind == "drying-drift" and taking.at - alarm.raised_at < policy.FIRST_CALL[alarm.priority]:
        return True
    harm_at = taking.conditions[key].harm_at if key in taking.conditions else None
    if harm_at is not None and harm_at - taking.at <= policy.HARM_NEAR:
        return False
    gather = policy.GATHER[alarm.priority]
    if taking.at - alarm.raised_at >= gather:
        return False
    return any(
        other.id != alarm.id
        and other.kind in policy.GATHERED[alarm.kind]
        and other.called_at is not None
        and taking.at - other.called_at < gather
        for other in called
    )


def _asks(taking: Taking, entries: Sequence[JournalEntry], before: Alarm | None) -> bool:
    if before is None or any(entry.event != "returned" for entry in entries):
        return True
    worse = policy.more_urgent(taking.alarms[before.key].priority, before.priority)
    return worse or before.called_at is None or taking.at - before.called_at >= policy.CALL_AGAIN
