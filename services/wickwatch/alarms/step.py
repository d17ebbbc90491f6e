"""One step: what a judgement changes in the book of open conditions and alarms.

Pure and repeatable: the same judgement taken twice changes nothing the second time, and ids are made from kind,
subject and time. The order within a step: follow conditions; clear, raise and return; end what ran out; take out of
service what lies under maintenance; re-alarm what worsened; let causes suppress and release (`explaining`); and only
then decide what asks for somebody (`asking`).

Not here: what people do to an alarm (`answer`), whom a call reaches (`calls`).
"""

from __future__ import annotations

from collections.abc import Sequence

from wickwatch.alarms import cause, ending, policy
from wickwatch.alarms.asking import ask
from wickwatch.alarms.explaining import explain
from wickwatch.alarms.model import Alarm, Book, Changes, Condition, Event, Priority
from wickwatch.alarms.service import Period
from wickwatch.alarms.taking import Taking
from wickwatch.detect.finding import Judgement, Key
from wickwatch.fleet import Facility, Work


def step(
    book: Book,
    judgement: Judgement,
    place: Facility,
    work: Sequence[Work],
    out_of_service: Sequence[Period] = (),
    waiting: frozenset[Priority] = frozenset(),
) -> Changes:
    """What `judgement` changes.

    `work` are the entries of the time the open alarms span, for how they ended. `out_of_service` are the periods that
    hold now, and those that open alarms name. `waiting` are priorities whose calls have to wait (`Duty.waiting`).
    """
    if not (judgement.findings or book.conditions or book.alarms):
        return Changes(judgement.as_of)
    taking = Taking(book, judgement, place, work, out_of_service, waiting)
    for phase in (_retire, _clear, _raise, _time_out, _serve, _worsen, explain, ask):
        phase(taking)
    return taking.changes()


def _retire(taking: Taking) -> None:
    for key, alarm in taking.open():
        if alarm.subject.id not in taking.topology.subjects:
            taking.happens(key, "retired", ending.retired(alarm))


def _clear(taking: Taking) -> None:
    for key, alarm in taking.open():
        condition = taking.conditions.get(key)
        if alarm.condition_present and condition is not None and condition.ended_at is not None:
            done = taking.work_on(alarm.subject, alarm.room_id)
            taking.happens(key, "cleared", ending.ended(alarm, condition, done, taking.rules(key).settled_hours))


def _raise(taking: Taking) -> None:
    """Raise what is due, causes first: what waits for one is looked at again once it is raised."""
    while due := [condition for condition in _pending(taking).values() if _is_due(taking, condition)]:
        for condition in due:
            if condition.key in taking.alarms:
                taking.happens(condition.key, "returned", taking.numbers(condition.key))
            else:
                taking.open_alarm(condition)


def _is_due(taking: Taking, condition: Condition) -> bool:
    stands = taking.at - condition.seen_at >= policy.on_delay(condition.kind, taking.rules(condition.key))
    held = condition.key in taking.early and taking.at - condition.seen_at < policy.HOLD_MOST[condition.kind]
    return condition.key in taking.seen and stands and not held and not _waits_for_cause(taking, condition)


def _pending(taking: Taking) -> dict[Key, Condition]:
    return {
        key: taking.conditions[key]
        for key in sorted(taking.conditions)
        if _is_pending(taking, key, taking.conditions[key])
    }


def _is_pending(taking: Taking, key: Key, condition: Condition) -> bool:
    alarm = taking.alarms.get(key)
    active = alarm is not None and (alarm.condition_present or alarm.closed_at is not None)
    return condition.gone_at is None and not active


def _waits_for_cause(taking: Taking, condition: Condition) -> bool:
    """Whether a cause that is itself still pending may yet explain this one."""
    urgency = policy.priority(condition.kind, taking.at, condition.harm_at)
    left = None if condition.harm_at is None else condition.harm_at - taking.at
    for key in cause.explanations(taking.topology, condition.key, condition.explained_by):
        other = taking.conditions.get(key)
        if other is None or key == condition.key or condition.key in other.explained_by:
            continue
        waited = taking.at - other.seen_at
        soon = waited < policy.on_delay(other.kind, taking.rules(key)) + policy.CAUSE_WAIT
        importance = policy.priority(other.kind, taking.at, other.harm_at)
        covering = cause.covers(other, importance, condition.kind, urgency, left)
        if soon and covering and _is_pending(taking, key, other):
            return True
    return False


def _time_out(taking: Taking) -> None:
    for key, alarm in taking.open():
        event: Event | None = None
        if alarm.shelved_until is not None and alarm.shelved_until <= taking.at:
            event = "shelving-over"
        elif alarm.out_of_service_until is not None and alarm.out_of_service_until <= taking.at:
            event = "service-over"
        if event is not None:
            taking.happens(key, event, taking.numbers(key))


def _serve(taking: Taking) -> None:
    """Take out of service what lies under maintenance, and bring back what no longer does."""
    for key, alarm in taking.open():
        period = taking.covering.get(key[1])
        own = None if alarm.service_id is None else taking.periods.get(alarm.service_id)
        over = alarm.service_id is not None and (own is None or not own.holds(taking.at))
        if period is not None and (over or alarm.state != "out-of-service"):
            until, service = period.until.isoformat(), str(period.id)
            taking.happens(key, "taken-out-of-service", {"until": until, "service": service}, period.person_id)
        elif over:
            ended_by = None if own is None else own.ended_by
            taking.happens(key, "returned-to-service", taking.numbers(key), ended_by)


def _worsen(taking: Taking) -> None:
    for key, alarm in taking.open():
        if alarm.state not in ("unacknowledged", "acknowledged"):
            continue
        worse = taking.urgency(key, alarm) != alarm.priority or _much_sooner(taking, key, alarm)
        worse = worse and not _just_told(taking, key, alarm) and not _waits_for_cause(taking, taking.conditions[key])
        if worse or _not_helped(taking, key, alarm):
            taking.happens(key, "re-alarmed", taking.numbers(key))


def _just_told(taking: Taking, key: Key, alarm: Alarm) -> bool:
    """Whether somebody said "mine" so lately that only a rise to the highest priority speaks up again."""
    if alarm.acknowledged_at is None or (alarm.priority != "high" and taking.urgency(key, alarm) == "high"):
        return False
    told = max(alarm.acknowledged_at, alarm.called_at or alarm.raised_at)
    return taking.at - told < policy.CALL_AGAIN


def _not_helped(taking: Taking, key: Key, alarm: Alarm) -> bool:
    """Whether the work on it has settled without helping, and the alarm has not said so yet."""
    failed = taking.failed(taking.conditions[key]) if key in taking.seen else None
    return failed is not None and not failed.helped and failed.remark not in alarm.message


def _much_sooner(taking: Taking, key: Key, alarm: Alarm) -> bool:
    """Whether who has an alarm must know that its harm comes much sooner than they were told."""
    if alarm.acknowledged_at is None or key not in taking.seen or not policy.POLICIES[alarm.kind].worsens:
        return False
    if alarm.priority == "low":  # it speaks up when its harm is due within the day
        return False
    return policy.much_sooner(taking.at, alarm.harm_at, taking.conditions[key].harm_at)
