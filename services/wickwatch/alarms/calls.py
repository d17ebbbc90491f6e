"""From what changed and who is on duty to the notices that leave: one call per cause, to each person once.

A call goes to the first contact of everybody on the rung that is called, or who has taken over there; the next contact
is used only when that one fails (`store.notices`). Only journal entries that ask for a call make one, and only for an
alarm that is unacknowledged after the step. What it says is in the person's language and units. Not here: sending,
trying again; when the next rung is called (`escalation`), when somebody has taken over (`handing_over`), or what leaves
in a summary (`flood`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal, cast
from uuid import UUID

from wickwatch.alarms import summary, verdict
from wickwatch.alarms.addresses import link
from wickwatch.alarms.advice import advise
from wickwatch.alarms.as_json import as_json
from wickwatch.alarms.duty import Duty, OnDuty
from wickwatch.alarms.flood import Call, Load, by_urgency, sort
from wickwatch.alarms.message import said
from wickwatch.alarms.model import Alarm, Changes, Event, JournalEntry, Priority
from wickwatch.alarms.names import KINDS, priority
from wickwatch.alarms.words import place_name
from wickwatch.fleet import Facility
from wickwatch.texts import N_, PLAIN, Choices, Words, _, speaking

#: How long a call is worth sending, by priority: after that the page tells more than a late message. Chosen here.
WORTH_SENDING: Mapping[Priority, timedelta] = {
    "high": timedelta(hours=6),
    "medium": timedelta(hours=12),
    "low": timedelta(hours=24),
}

#: A title is a mail's subject, or one line of a phone.
_TITLE_LONGEST = 150

_AGAIN = Words(
    {
        "re-alarmed": N_("worse now"),
        "released": N_("its cause is over"),
        "returned": N_("again"),
        "shelving-over": N_("shelving is over"),
        "service-over": N_("in service again"),
        "returned-to-service": N_("in service again"),
        "escalated": N_("nobody has it yet"),
        "handed-over": N_("nobody has it yet"),
    }
)


@dataclass(frozen=True)
class NoticeDraft:
    """One message to one person over one contact, not yet queued; `key` makes queueing it twice harmless.

    `alarm_id` is None for a summary, which is about several. Title and body are in the person's language and units;
    where those are not what programs read, `plain` is the same for a program.
    """

    key: str
    facility_id: UUID
    alarm_id: UUID | None
    person_id: UUID
    contact_id: UUID
    way: str
    address: str
    title: str
    body: str
    payload: Mapping[str, object]
    created_at: datetime
    expires_at: datetime
    plain: tuple[str, str] | None = None


@dataclass(frozen=True)
class Told:
    """How a call leaves; `notice` is the key of its notice without the contact, `None` while it waits.

    Those that are told together because they are alike have the same one; only a flood's summary is a `summary`.
    """

    call: Call
    how: Literal["single", "summary", "waiting"]
    notice: str | None


@dataclass(frozen=True)
class Leaving:
    """What the calls of a moment lead to: the notices, and how each call leaves."""

    drafts: tuple[NoticeDraft, ...] = ()
    told: tuple[Told, ...] = ()


def calls(changes: Changes, duty: Duty) -> list[Call]:
    """Who is called for what changed; empty where nothing calls or nobody can be reached."""
    return [
        Call(alarm, entry.version, entry.event, rung, person, changes.as_of)
        for alarm, entry in asking(changes)
        for rung, person in _whom(alarm, entry, duty)
    ]


def _whom(alarm: Alarm, entry: JournalEntry, duty: Duty) -> Iterator[tuple[int, OnDuty]]:
    """Everybody on the rung that is called; where the duty changed hands, those who have taken over."""
    named = cast(Sequence[str] | None, entry.detail.get("people"))
    for rung in range(1, alarm.rung + 1) if named else (alarm.rung,):
        for person in duty.called(rung, alarm.priority):
            if named is None or str(person.person_id) in named:
                yield rung, person


def leaving(
    new: Sequence[Call],
    loads: Mapping[UUID, Load],
    fallback: bool,
    base_url: str,
    place: Facility,
    at: datetime,
    readers: Mapping[UUID, Choices] | None = None,
) -> Leaving:
    """Notices for new calls and for those that wait.

    `loads` is what people were called for lately, `readers` what they chose to read in, by person.
    """
    drafts: list[NoticeDraft] = []
    told: list[Told] = []
    by_person: dict[UUID, list[Call]] = {person: [] for person in loads}
    for call in new:
        by_person.setdefault(call.person.person_id, []).append(call)
    for person_id, mine in by_person.items():
        reader = (readers or {}).get(person_id, PLAIN)
        how = sort(mine, loads.get(person_id, Load()), at)
        told += [Told(call, "waiting", None) for call in how.waiting]
        for alike in _alike(how.singles):
            first = alike[0]
            key = f"{first.alarm.id}:{first.version}"
            if len(alike) == 1:
                drafts.append(_single(first, key, at, fallback, base_url, place, reader))
            else:
                key = f"together:{key}"
                drafts.append(_summary(alike, key, at, base_url, place, reader))
            told += [Told(call, "single", key) for call in alike]
        if how.summary:
            key = f"summary:{place.id}:{person_id}:{at.isoformat()}"
            told += [Told(call, "summary", key) for call in how.summary]
            drafts.append(_summary(how.summary, key, at, base_url, place, reader))
    return Leaving(tuple(drafts), tuple(told))


def _alike(calls: Sequence[Call]) -> list[tuple[Call, ...]]:
    """Calls of one kind in one room at one moment have one cause, if only that nobody has found: one message.

    So is all that somebody takes over with the duty.
    """
    groups: dict[object, list[Call]] = {}
    for call in calls:
        taken_over = call.event == "handed-over"
        about = "all" if taken_over else (call.alarm.kind, call.alarm.room_id, call.event)
        groups.setdefault(about, []).append(call)
    return [tuple(group) for group in groups.values()]


def asking(changes: Changes) -> Iterator[tuple[Alarm, JournalEntry]]:
    """Alarms that ask for somebody, each with the newest entry that does."""
    by_alarm = {entry.alarm_id: entry for entry in changes.journal if entry.detail.get("call")}
    for alarm in changes.alarms:
        if alarm.state == "unacknowledged" and alarm.id in by_alarm:
            yield alarm, by_alarm[alarm.id]


def notice_key(call_key: str, contact_id: UUID) -> str:
    """Idempotency key: one call, one contact. What is before the contact stays when the next contact is tried."""
    return f"{call_key}:{contact_id}"


def _single(
    call: Call, key: str, at: datetime, fallback: bool, base_url: str, place: Facility, reader: Choices
) -> NoticeDraft:
    alarm = call.alarm

    def words() -> tuple[str, str]:
        return _title(alarm, call.event, place), _body(alarm, call.event, fallback, base_url, place)

    payload = as_json(alarm, place) | {"link": link(base_url, alarm.id)}
    return _draft(call.person, key, at, alarm.id, alarm.priority, words, payload, place, reader)


def _summary(
    gathered: Sequence[Call], key: str, at: datetime, base_url: str, place: Facility, reader: Choices
) -> NoticeDraft:
    alarms = [call.alarm for call in by_urgency(gathered)]

    def words() -> tuple[str, str]:
        body = summary.body(alarms, place, base_url)
        taken_over = all(call.event == "handed-over" for call in gathered)
        return summary.title(alarms, place), f"{_taken_over()}\n\n{body}" if taken_over else body

    payload = summary.payload(alarms, place, base_url)
    return _draft(gathered[0].person, key, at, None, alarms[0].priority, words, payload, place, reader)


def _draft(
    person: OnDuty,
    key: str,
    at: datetime,
    alarm_id: UUID | None,
    priority: Priority,
    words: Callable[[], tuple[str, str]],
    payload: Mapping[str, object],
    place: Facility,
    reader: Choices,
) -> NoticeDraft:
    contact = person.contacts[0]
    with speaking(PLAIN):
        plain = _short(*words())
    with speaking(reader):
        title, body = own = _short(*words())
    return NoticeDraft(
        key=notice_key(key, contact.id),
        facility_id=place.id,
        alarm_id=alarm_id,
        person_id=person.person_id,
        contact_id=contact.id,
        way=contact.way,
        address=contact.address,
        title=title,
        body=body,
        payload=payload,
        created_at=at,
        expires_at=at + WORTH_SENDING[priority],
        plain=None if own == plain else plain,
    )


def _short(title: str, body: str) -> tuple[str, str]:
    return " ".join(title.split())[:_TITLE_LONGEST], body


def _title(alarm: Alarm, event: Event, place: Facility) -> str:
    values = {
        "priority": priority(alarm.priority),
        "kind": KINDS[alarm.kind],
        "thing": alarm.subject.name,
        "room": place_name(place, alarm.room_id),
    }
    failed = event == "re-alarmed" and verdict.said_to_fail(alarm.message)
    again = _("the work did not help") if failed else _AGAIN.get(event)
    if again:
        return _("%(priority)s: %(kind)s, %(thing)s, %(room)s (%(again)s)", again=again, **values)
    return _("%(priority)s: %(kind)s, %(thing)s, %(room)s", **values)


def _body(alarm: Alarm, event: Event, fallback: bool, base_url: str, place: Facility) -> str:
    advice = advise(alarm.kind, place.advice)
    steps = [f"{number}. {step}" for number, step in enumerate(advice.steps, 1)]
    paragraphs = [
        said(alarm),
        *advice.cautions,
        *([_("At %(facility)s: %(advice)s", facility=place.name, advice=advice.own)] if advice.own else []),
        "\n".join([_("What to do:"), *steps]),
        _("Say that it is yours, and see the numbers:") + f"\n{link(base_url, alarm.id)}",
    ]
    if event == "escalated":
        paragraphs.append(_("Others were called before you, and nobody has said yet that it is theirs."))
    if event == "handed-over":
        paragraphs.append(_taken_over())
    if fallback:
        paragraphs.append(
            _(
                "Nobody is on duty at %(facility)s who can be reached, so its managers are called.",
                facility=place.name,
            )
        )
    return "\n\n".join(paragraphs) + "\n"


def _taken_over() -> str:
    others = _("Others were called before you, and nobody has said yet that it is theirs.")
    return _("It is yours to answer now.") + f" {others}"
