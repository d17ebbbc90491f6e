"""In a step: open alarms suppressed by the causes that explain them, and released once those are over.

An alarm somebody answered stays acknowledged when a cause appears later: it calls nobody as it is, and suppressing it
would make it ask again once the cause is over. Not here: what may explain what (`cause`).
"""

from __future__ import annotations

from collections.abc import Mapping
from uuid import UUID

from wickwatch.alarms import cause, policy
from wickwatch.alarms.model import Alarm, Condition, Priority
from wickwatch.alarms.taking import Taking
from wickwatch.detect.finding import Key


def explain(taking: Taking) -> None:
    """Let causes suppress and release."""
    present = {key: alarm for key, alarm in taking.open() if alarm.condition_present}
    by_id = {alarm.id: alarm for alarm in present.values()}
    for key in present:
        alarm = taking.alarms[key]
        if alarm.state not in ("unacknowledged", "suppressed-by-design"):
            continue
        urgency = taking.urgency(key, alarm)
        before = by_id.get(alarm.cause_id) if alarm.cause_id else None
        if before is not None and cause.covers(_newest(taking, before), before.priority, key[0], urgency):
            continue
        explaining = _cause_of(taking, key, alarm, urgency, present, by_id)
        if explaining is not None:
            taking.happens(key, "suppressed", {"cause": str(explaining.id)})
            by_id[alarm.id] = taking.alarms[key]
            continue
        free = alarm.state == "suppressed-by-design" and (before is not None or _outlasts(taking, alarm))
        if free and key in taking.seen:
            taking.happens(key, "released", taking.numbers(key))


def _cause_of(
    taking: Taking,
    key: Key,
    alarm: Alarm,
    urgency: Priority,
    present: Mapping[Key, Alarm],
    by_id: Mapping[UUID, Alarm],
) -> Alarm | None:
    condition = taking.conditions.get(key)
    named = condition.explained_by if condition is not None else ()
    for candidate in cause.explanations(taking.topology, key, named):
        other = present.get(candidate)
        if other is None or not cause.covers(_newest(taking, other), other.priority, key[0], urgency):
            continue
        if not cause.leads_to(by_id[other.id], alarm.id, by_id):
            return other
    return None


def _newest(taking: Taking, alarm: Alarm) -> Alarm | Condition:
    """What is known newest of an alarm: its condition's evidence goes on where the alarm's stays what called."""
    return taking.conditions.get(alarm.key, alarm)


def _outlasts(taking: Taking, alarm: Alarm) -> bool:
    """Whether an explained alarm has had its time to recover since its cause ended."""
    ended = _closed_alarm(taking, alarm.cause_id)
    since = None if ended is None else ended.cleared_at
    return since is None or taking.at - since >= policy.POLICIES[alarm.kind].release


def _closed_alarm(taking: Taking, id: UUID | None) -> Alarm | None:
    here = (alarm for alarm in taking.alarms.values() if alarm.id == id)
    return next(here, taking.book.ended_causes.get(id) if id else None)
