"""In a step: open alarms suppressed by the causes that explain them, and released once those are over.

A cause explains while it stands, and its consequences for some time after it has ended (`policy.lingers`): a pot needs
its emitter's next pulses before it is well again, and may be seen to be dry only then. An alarm somebody answered stays
acknowledged when a cause appears later: it calls nobody as it is, and suppressing it would make it ask again once the
cause is over. Not here: what may explain what (`cause`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from uuid import UUID

from wickwatch.alarms import cause, policy
from wickwatch.alarms.model import Alarm, Condition
from wickwatch.alarms.taking import Taking
from wickwatch.detect.finding import Key


def explain(taking: Taking) -> None:
    """Let causes suppress and release."""
    by_id = {alarm.id: alarm for alarm in (*taking.book.ended_causes.values(), *taking.alarms.values())}
    by_key = _by_key(by_id)
    for key, alarm in taking.open():
        if not alarm.condition_present or alarm.state not in ("unacknowledged", "suppressed-by-design"):
            continue
        explaining = _cause_of(taking, key, alarm, by_key, by_id)
        if explaining is None:
            if alarm.state == "suppressed-by-design" and key in taking.seen:
                taking.happens(key, "released", taking.numbers(key))
        elif explaining.id != alarm.cause_id:
            taking.happens(key, "suppressed", {"cause": str(explaining.id)})
            by_id[alarm.id] = by_key[key] = taking.alarms[key]


def _by_key(by_id: Mapping[UUID, Alarm]) -> dict[Key, Alarm]:
    """The alarm of each key that stands, or else ended last."""
    found: dict[Key, Alarm] = {}
    for alarm in by_id.values():
        before = found.get(alarm.key)
        if before is None or _order(alarm) > _order(before):
            found[alarm.key] = alarm
    return found


def _order(alarm: Alarm) -> tuple[bool, str]:
    return alarm.closed_at is None, alarm.raised_at.isoformat()


def _cause_of(
    taking: Taking, key: Key, alarm: Alarm, by_key: Mapping[Key, Alarm], by_id: Mapping[UUID, Alarm]
) -> Alarm | None:
    """What explains an alarm now: what does so already, as long as it may, else the likeliest that holds."""
    urgency, harm_at = taking.urgency(key, alarm), _newest(taking, alarm).harm_at
    left = None if harm_at is None or alarm.rung > 0 else harm_at - taking.at
    for other in _candidates(taking, key, alarm, by_key, by_id):
        if not _holds(taking, other, alarm):
            continue
        if not cause.covers(_newest(taking, other), other.priority, alarm.kind, urgency, left):
            continue
        if not cause.leads_to(other, alarm.id, by_id):
            return other
    return None


def _candidates(
    taking: Taking, key: Key, alarm: Alarm, by_key: Mapping[Key, Alarm], by_id: Mapping[UUID, Alarm]
) -> Iterator[Alarm]:
    now = by_id.get(alarm.cause_id) if alarm.cause_id else None
    if now is not None and now.condition_present:
        yield now
    condition = taking.conditions.get(key)
    named = condition.explained_by if condition is not None else ()
    others = [by_key[each] for each in cause.explanations(taking.topology, key, named) if each in by_key]
    yield from (other for other in others if other.condition_present)
    # What stands comes before what is over.
    if now is not None:
        yield now
    yield from (other for other in others if not other.condition_present)


def _holds(taking: Taking, cause_: Alarm, effect: Alarm) -> bool:
    """Whether a cause stands, or ended so lately that it still explains."""
    if cause_.condition_present:
        condition = taking.conditions.get(cause_.key)
        unseen_from = None if condition is None else _unseen_from(condition)
        return unseen_from is None or taking.at - unseen_from < policy.explains_unseen(cause_.kind)
    named = effect.cause_id == cause_.id
    return cause_.cleared_at is not None and taking.at - cause_.cleared_at < policy.lingers(
        cause_.kind, effect.kind, named=named
    )


def _unseen_from(condition: Condition) -> datetime | None:
    """Since when a condition that stands is seen no longer; None while it is, or while nobody can see."""
    if condition.kind == "sudden-wetting":
        return condition.last_seen_at  # a wet container's alarm stands on after its water has stopped
    return condition.gone_at


def _newest(taking: Taking, alarm: Alarm) -> Alarm | Condition:
    """What is known newest of an alarm: its condition's evidence goes on where the alarm's stays what called."""
    return taking.conditions.get(alarm.key, alarm) if alarm.condition_present else alarm
