"""What a journal entry does to an alarm, live and in replay alike.

The live alarm is made by the same function that rebuilds it, from the same entry, so the two can't part. Times and
ids in an entry's detail are text, as JSON keeps them. Not here: when an entry is written (`step`, `answer`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from itertools import takewhile
from typing import Any, cast
from uuid import UUID

from wickwatch.alarms.model import Alarm, Event, JournalEntry
from wickwatch.alarms.transitions import CONDITION_AFTER, next_state
from wickwatch.fleet import Subject


def opening(alarm: Alarm) -> JournalEntry:
    """The first entry of an alarm: everything needed to rebuild it."""
    detail: dict[str, object] = {
        "facility_id": str(alarm.facility_id),
        "room_id": None if alarm.room_id is None else str(alarm.room_id),
        "kind": alarm.kind,
        "subject": {"type": alarm.subject.type, "id": str(alarm.subject.id), "name": alarm.subject.name},
        "priority": alarm.priority,
        "message": alarm.message,
        "evidence": dict(alarm.evidence),
        "made_of": dict(alarm.made_of),
        "harm_at": None if alarm.harm_at is None else alarm.harm_at.isoformat(),
    }
    return JournalEntry(alarm.id, 1, alarm.raised_at, "raised", "unacknowledged", None, detail)


def entry(
    alarm: Alarm, event: Event, at: datetime, person_id: UUID | None = None, detail: Mapping[str, object] | None = None
) -> JournalEntry:
    """The next entry of an alarm. Raises RefusedError where its state can't take the event."""
    state = next_state(alarm.state, event, CONDITION_AFTER.get(event, alarm.condition_present))
    return JournalEntry(alarm.id, alarm.version + 1, at, event, state, person_id, dict(detail or {}))


def advance(alarm: Alarm | None, entry: JournalEntry) -> Alarm:
    """The alarm after one more entry; `None` before the first."""
    detail: Mapping[str, Any] = entry.detail
    if alarm is None:
        alarm = _opened(entry)
    present = CONDITION_AFTER.get(entry.event, alarm.condition_present)
    answered = entry.event == "acknowledged"
    wants_answer = entry.state == "unacknowledged"
    closed = entry.state == "normal"
    returned = present and not alarm.condition_present
    cause = detail.get("cause")
    service = detail.get("service")
    return replace(
        alarm,
        version=entry.version,
        state=entry.state,
        condition_present=present,
        priority=detail.get("priority", alarm.priority),
        message=detail.get("message", alarm.message),
        evidence=detail.get("evidence", alarm.evidence),
        acknowledged_at=entry.at if answered else None if wants_answer else alarm.acknowledged_at,
        acknowledged_by=entry.person_id if answered else None if wants_answer else alarm.acknowledged_by,
        cause_id=UUID(cause) if cause else alarm.cause_id if closed or entry.state == alarm.state else None,
        shelved_until=_until(entry, "shelved", "shelved", alarm.shelved_until),
        out_of_service_until=_until(entry, "taken-out-of-service", "out-of-service", alarm.out_of_service_until),
        service_id=UUID(service) if service else alarm.service_id if _stays_out(entry) else None,
        harm_at=_moment(detail["harm_at"]) if "harm_at" in detail else alarm.harm_at,
        called_at=entry.at if detail.get("call") or detail.get("held") else alarm.called_at,
        rung=detail.get("rung", 1) if detail.get("call") else 0 if detail.get("held") else alarm.rung,
        cleared_at=None if returned else entry.at if alarm.condition_present and not present else alarm.cleared_at,
        closed_at=entry.at if closed else None,
        outcome=None if returned else detail.get("outcome", alarm.outcome),
        made_of=_made_of(alarm, detail, returned),
    )


def replay(entries: Iterable[JournalEntry]) -> Alarm:
    """The alarm that its entries, in order and from the first, lead to. Raises ValueError where there is none."""
    alarm: Alarm | None = None
    for one in entries:
        alarm = advance(alarm, one)
    if alarm is None:
        raise ValueError("an alarm has at least one journal entry")
    return alarm


def as_of(entries: Iterable[JournalEntry], at: datetime) -> Alarm | None:
    """The alarm as it was at a moment; `None` where it had not been raised. Entries in order and from the first.

    An entry counts once everything before it does: an act may be written after a sweep of a slightly later moment.
    """
    past = list(takewhile(lambda one: one.at <= at, entries))
    return replay(past) if past else None


def _opened(first: JournalEntry) -> Alarm:
    detail = cast(Mapping[str, Any], first.detail)
    subject = detail["subject"]
    return Alarm(
        id=first.alarm_id,
        facility_id=UUID(detail["facility_id"]),
        room_id=UUID(detail["room_id"]) if detail["room_id"] else None,
        kind=detail["kind"],
        subject=Subject(subject["type"], UUID(subject["id"]), subject["name"]),
        priority=detail["priority"],
        state=first.state,
        condition_present=True,
        raised_at=first.at,
        message=detail["message"],
        evidence=detail["evidence"],
        harm_at=_moment(detail.get("harm_at")),
        made_of=detail.get("made_of", {}),
    )


def _made_of(alarm: Alarm, detail: Mapping[str, Any], returned: bool) -> Mapping[str, object]:
    """What the texts are made of that an alarm has after an entry; entries of older versions do not tell it."""
    stale = {name for name in ("message", "outcome") if name in detail} | ({"outcome"} if returned else set())
    return {**{name: kept for name, kept in alarm.made_of.items() if name not in stale}, **detail.get("made_of", {})}


def _stays_out(entry: JournalEntry) -> bool:
    """Whether an alarm out of service is so for the reason it was before."""
    return entry.state == "out-of-service" and entry.event != "taken-out-of-service"


def _moment(text: object) -> datetime | None:
    return None if text is None else datetime.fromisoformat(str(text))


def _until(entry: JournalEntry, event: Event, state: str, before: datetime | None) -> datetime | None:
    """End of shelving or of being out of service after an entry: set by its event, dropped with its state."""
    if entry.event == event:
        return datetime.fromisoformat(str(entry.detail["until"]))
    return before if entry.state == state else None
