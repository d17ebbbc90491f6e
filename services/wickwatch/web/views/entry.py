"""One work entry's page: what it says, and the form that corrects it. Not here: storing a correction (`store.work`)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.store.people import Visible
from wickwatch.store.work import Entry
from wickwatch.web.permits import allowed
from wickwatch.web.views import words
from wickwatch.web.views.state import RoomState
from wickwatch.web.views.times import Moment, field, moment
from wickwatch.web.views.watching import Banner
from wickwatch.web.views.work import WorkForm, form_of_room


@dataclass(frozen=True)
class Was:
    """An entry as the fields of a form."""

    kind: str
    subject: str
    at: str
    note: str


@dataclass(frozen=True)
class EntryPage:
    """One entry; `form` is None where nothing can be chosen in its place."""

    id: UUID
    what: str
    subject: str
    facility: str
    room_id: UUID | None
    room: str
    at: Moment
    written_at: Moment
    person: str
    note: str
    alarm_id: UUID | None
    corrected: bool
    may_act: bool
    form: WorkForm | None
    was: Was
    banners: tuple[Banner, ...]


def entry_page(
    entry: Entry,
    subject: str,
    corrected: bool,
    facility: Visible,
    state: RoomState | None,
    banners: Sequence[Banner],
    now: datetime,
) -> EntryPage:
    """The page; `state` is the room's where the work was in one."""
    zone = ZoneInfo(facility.zone)
    return EntryPage(
        id=entry.id,
        what=words.WORK.get(entry.kind, entry.kind),
        subject=subject,
        facility=facility.name,
        room_id=state.row.id if state else None,
        room=state.row.name if state else "",
        at=moment(entry.at, zone, now),
        written_at=moment(entry.written_at or entry.at, zone, now),
        person=entry.person or "",
        note=entry.note,
        alarm_id=entry.alarm_id,
        corrected=corrected,
        may_act=allowed(facility, "record work"),
        form=form_of_room(state, now) if state else None,
        was=Was(entry.kind, f"{entry.subject_type}:{entry.subject_id}", field(entry.at, zone), entry.note),
        banners=tuple(banners),
    )
