"""From what changed and who is on duty to the notices that leave: one call per cause, to each person once.

A call goes to the first contact of everybody called first; the next contact is used only when that one fails
(`store.notices`). Only journal entries that ask for a call make one, and only for an alarm that is unacknowledged
after the step. Not here: sending, trying again, escalation.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from wickwatch.alarms.advice import advise
from wickwatch.alarms.as_json import as_json
from wickwatch.alarms.duty import Contact, Duty, OnDuty
from wickwatch.alarms.model import Alarm, Changes, JournalEntry, Priority
from wickwatch.alarms.words import place_name
from wickwatch.fleet import Facility

#: How long a call is worth sending, by priority: after that the page tells more than a late message. Chosen here.
WORTH_SENDING: Mapping[Priority, timedelta] = {
    "high": timedelta(hours=6),
    "medium": timedelta(hours=12),
    "low": timedelta(hours=24),
}

#: A title is a mail's subject, or one line of a phone.
_TITLE_LONGEST = 150

_AGAIN = {
    "re-alarmed": "worse now",
    "released": "its cause is over",
    "returned": "again",
    "shelving-over": "shelving is over",
}


@dataclass(frozen=True)
class NoticeDraft:
    """One message to one person over one contact, not yet queued; `key` makes queueing it twice harmless."""

    key: str
    facility_id: UUID
    alarm_id: UUID
    person_id: UUID
    contact_id: UUID
    way: str
    address: str
    title: str
    body: str
    payload: Mapping[str, object]
    created_at: datetime
    expires_at: datetime


def calls(changes: Changes, duty: Duty, base_url: str, place: Facility) -> list[NoticeDraft]:
    """Notices for what changed; empty where nothing calls or nobody can be reached."""
    return [
        _draft(alarm, entry, changes.as_of, person, person.contacts[0], duty.fallback, base_url, place)
        for alarm, entry in asking(changes)
        for person in duty.first
    ]


def asking(changes: Changes) -> Iterator[tuple[Alarm, JournalEntry]]:
    """Alarms that ask for somebody, each with the newest entry that does."""
    by_alarm = {entry.alarm_id: entry for entry in changes.journal if entry.detail.get("call")}
    for alarm in changes.alarms:
        if alarm.state == "unacknowledged" and alarm.id in by_alarm:
            yield alarm, by_alarm[alarm.id]


def notice_key(alarm_id: UUID, version: int, contact_id: UUID) -> str:
    """Idempotency key: one alarm, one journal version, one contact."""
    return f"{alarm_id}:{version}:{contact_id}"


def link(base_url: str, alarm_id: UUID) -> str:
    """Where a person reads and answers an alarm."""
    return f"{base_url.rstrip('/')}/alarms/{alarm_id}"


def _draft(
    alarm: Alarm,
    entry: JournalEntry,
    at: datetime,
    person: OnDuty,
    contact: Contact,
    fallback: bool,
    base_url: str,
    place: Facility,
) -> NoticeDraft:
    return NoticeDraft(
        key=notice_key(alarm.id, entry.version, contact.id),
        facility_id=place.id,
        alarm_id=alarm.id,
        person_id=person.person_id,
        contact_id=contact.id,
        way=contact.way,
        address=contact.address,
        title=_title(alarm, entry, place),
        body=_body(alarm, fallback, base_url, place),
        payload=as_json(alarm, place) | {"link": link(base_url, alarm.id)},
        created_at=at,
        expires_at=at + WORTH_SENDING[alarm.priority],
    )


def _title(alarm: Alarm, entry: JournalEntry, place: Facility) -> str:
    again = _AGAIN.get(entry.event)
    what = alarm.kind.replace("-", " ")
    where = place_name(place, alarm.room_id)
    text = f"{alarm.priority.capitalize()}: {what}, {alarm.subject.name}, {where}{f' ({again})' if again else ''}"
    return " ".join(text.split())[:_TITLE_LONGEST]


def _body(alarm: Alarm, fallback: bool, base_url: str, place: Facility) -> str:
    advice = advise(alarm.kind, place.advice)
    steps = "\n".join(f"{number}. {step}" for number, step in enumerate(advice.steps, 1))
    paragraphs = [
        alarm.message,
        *advice.cautions,
        *([f"At {place.name}: {advice.own}"] if advice.own else []),
        f"What to do:\n{steps}",
        f"Say that it is yours, and see the numbers:\n{link(base_url, alarm.id)}",
    ]
    if fallback:
        paragraphs.append(f"Nobody is on duty at {place.name} who can be reached, so its managers are called.")
    return "\n\n".join(paragraphs) + "\n"
