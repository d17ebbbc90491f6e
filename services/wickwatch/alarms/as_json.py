"""An alarm as it is shown to every program: the API, webhooks, the MQTT topic, a backtest.

The shape is the public contract's; a test compares it. Not here: who may see it.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime

from wickwatch.alarms.advice import advice
from wickwatch.alarms.model import Alarm
from wickwatch.fleet import Facility


def as_json(alarm: Alarm, place: Facility) -> dict[str, object]:
    """The contract's object for an alarm of `place`; `room` is null where it is about no room, or one that is gone."""
    room = next((room.slug for room in place.rooms if room.id == alarm.room_id), None)
    return in_json(alarm, place.slug, room, place.advice)


def in_json(alarm: Alarm, facility: str, room: str | None, own: Mapping[str, str]) -> dict[str, object]:
    """The contract's object, given the slugs of where the alarm is and the facility's own texts; times in UTC."""
    return {
        "id": str(alarm.id),
        "kind": alarm.kind,
        "priority": alarm.priority,
        "state": alarm.state,
        "facility": facility,
        "room": room,
        "subject": {"type": alarm.subject.type, "id": str(alarm.subject.id), "name": alarm.subject.name},
        "raised_at": rfc3339(alarm.raised_at),
        "acknowledged_at": rfc3339(alarm.acknowledged_at),
        "cleared_at": rfc3339(alarm.cleared_at),
        "closed_at": rfc3339(alarm.closed_at),
        "shelved_until": rfc3339(alarm.shelved_until),
        "out_of_service_until": rfc3339(alarm.out_of_service_until),
        "message": alarm.message,
        "evidence": dict(alarm.evidence),
        "cause": None if alarm.cause_id is None else str(alarm.cause_id),
        "suppressed": alarm.state == "suppressed-by-design",
        "outcome": alarm.outcome,
        "advice": advice(alarm.kind, own),
    }


def rfc3339(at: datetime | None) -> str | None:
    """A moment in UTC to the second, or to the microsecond where it has a fraction; `None` stays `None`."""
    return None if at is None else at.astimezone(UTC).isoformat().replace("+00:00", "Z")
