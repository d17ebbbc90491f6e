"""Who would be called for an alarm, and in which order, as things stand: the answer to a person who asks.

It says what `calls` and `escalation` would do, without doing it. Not here: who has the duty (`rota`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from wickwatch.alarms import policy
from wickwatch.alarms.duty import Duty, OnDuty
from wickwatch.alarms.model import Priority, State

#: Why nobody is called for an alarm in a state that does not ask for anybody.
NOBODY: Mapping[State, str] = {
    "acknowledged": "somebody has it",
    "returned-unacknowledged": "what raised it went by itself",
    "normal": "it is over",
    "shelved": "it is shelved",
    "suppressed-by-design": "another alarm explains it, and that one calls",
    "out-of-service": "what it is about is out of service",
}


@dataclass(frozen=True)
class Rung:
    """Those called at once, so long after the first call if nobody has said "mine"; `spared` are in quiet hours."""

    after: timedelta
    people: tuple[OnDuty, ...]
    spared: tuple[OnDuty, ...]


@dataclass(frozen=True)
class WouldCall:
    """Who would be called, rung by rung; `nobody_because` says why nobody is, in words.

    `held_until` is when the first call leaves where all who are first are in quiet hours.
    """

    nobody_because: str | None
    held_until: datetime | None
    rungs: tuple[Rung, ...]


def would_call(duty: Duty, priority: Priority, state: State = "unacknowledged") -> WouldCall:
    """Who would be called for an alarm of this priority in this state."""
    if state in NOBODY:
        return WouldCall(NOBODY[state], None, ())
    if not duty.ladder:
        return WouldCall("nobody can be reached", None, ())
    found, after = [], timedelta()
    for number, (people, wait) in enumerate(zip(duty.ladder, duty.waits, strict=True), 1):
        called = duty.called(number, priority)
        found.append(Rung(after, called, tuple(person for person in people if person not in called)))
        after += policy.ESCALATES[priority] * wait
    held = priority in duty.waiting
    ends = [person.quiet_until for person in duty.first if person.quiet_until is not None]
    return WouldCall(None, min(ends) if held and ends else None, tuple(found))
