"""One alarm's page: evidence, journal, calls, cause and what it explains, steps.

Not here: the list (`alarm_list`), the sentence and the steps themselves (`alarms`), nor changing an alarm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch import alarms as core
from wickwatch.alarms.transitions import possible
from wickwatch.fleet import Kind
from wickwatch.store.pages import AlarmRow, JournalRow, NoticeRow, WorkRow
from wickwatch.texts import _
from wickwatch.web.views import words
from wickwatch.web.views.chart import Chart
from wickwatch.web.views.evidence import Fact, facts
from wickwatch.web.views.times import Moment, moment, span
from wickwatch.web.views.trouble import Trouble, trouble
from wickwatch.web.views.watching import Banner
from wickwatch.web.views.work import WorkForm


@dataclass(frozen=True)
class Happened:
    """One line of an alarm's life: from its journal, its calls or the work done."""

    at: Moment
    what: str
    who: str
    note: str
    sort: datetime


@dataclass(frozen=True)
class AlarmPage:
    """One alarm."""

    id: UUID
    trouble: Trouble
    state_words: str
    over: bool
    room_id: UUID | None
    room: str
    facility: str
    facility_slug: str
    kind: str
    subject: str
    subject_type: str
    of_reservoir: bool
    lasted: str
    outcome: str
    shelved_until: Moment | None
    facts: tuple[Fact, ...]
    advice: core.Advice
    life: tuple[Happened, ...]
    cause: Trouble | None
    explains: tuple[Trouble, ...]
    chart: Chart | None
    work_form: WorkForm
    may_acknowledge: bool
    may_shelve: bool
    may_unshelve: bool
    may_work: bool
    zone: str
    banners: tuple[Banner, ...]


def alarm_page(
    row: AlarmRow,
    journal: Sequence[JournalRow],
    notices: Sequence[NoticeRow],
    work: Sequence[WorkRow],
    cause: AlarmRow | None,
    explains: Sequence[AlarmRow],
    drawn: Chart | None,
    work_form: WorkForm,
    banners: Sequence[Banner],
    may_act: bool,
    now: datetime,
) -> AlarmPage:
    """One alarm; `may_act` where the visitor is at least a grower here."""
    zone = ZoneInfo(row.zone)
    events = possible(core_state(row.state))
    open_ = row.closed_at is None
    return AlarmPage(
        id=row.id,
        trouble=trouble(row, zone, now),
        state_words=words.STATES[row.state],
        over=not open_,
        room_id=row.room_id,
        room=row.room_name or "",
        facility=row.facility_name,
        facility_slug=row.facility_slug,
        kind=row.kind,
        subject=row.subject_name,
        subject_type=words.SUBJECTS[row.subject_type],
        of_reservoir=row.subject_type == "reservoir",
        lasted=span((row.closed_at or now) - row.raised_at),
        outcome=core.outcome(row.kind, row.made_of, row.outcome) or "",
        shelved_until=moment(row.shelved_until, zone, now) if row.shelved_until and open_ else None,
        facts=tuple(facts(row.evidence, zone, now)),
        advice=core.advise(core_kind(row.kind), {row.kind: row.own_advice or ""}),
        life=life(row.kind, journal, notices, work, zone, now),
        cause=trouble(cause, ZoneInfo(cause.zone), now) if cause else None,
        explains=tuple(trouble(one, ZoneInfo(one.zone), now) for one in explains),
        chart=drawn,
        work_form=work_form,
        may_acknowledge=may_act and "acknowledged" in events and row.state != "acknowledged",
        may_shelve=may_act and "shelved" in events and row.state != "shelved",
        may_unshelve=may_act and "unshelved" in events,
        may_work=may_act and open_ and bool(work_form.kinds),
        zone=row.zone,
        banners=tuple(banners),
    )


def life(
    kind: str,
    journal: Sequence[JournalRow],
    notices: Sequence[NoticeRow],
    work: Sequence[WorkRow],
    zone: ZoneInfo,
    now: datetime,
) -> tuple[Happened, ...]:
    """Everything that happened to an alarm, the newest first."""
    told = []
    for entry in journal:
        note = _note(entry, kind)
        what = words.EVENTS.get(entry.event, entry.event)
        if entry.detail.get("held"):
            what = _("%(what)s; the call had to wait", what=what)
        told.append(Happened(moment(entry.at, zone, now), what, entry.person or "", note, entry.at))
    for notice in notices:
        at = notice.done_at or notice.created_at
        what = _(
            "Called by %(way)s, %(state)s",
            way=words.WAYS.get(notice.way, notice.way),
            state=words.NOTICE_STATES[notice.state],
        )
        told.append(Happened(moment(at, zone, now), what, notice.person or "", "", at))
    for done in work:
        what = words.WORK.get(done.kind, done.kind)
        told.append(Happened(moment(done.at, zone, now), what, done.person or "", done.note, done.at))
    return tuple(sorted(told, key=lambda one: one.sort, reverse=True))


def _note(entry: JournalRow, kind: str) -> str:
    """What was said with an event: a person's words, or how the alarm ended."""
    detail = entry.detail
    outcome = core.outcome(kind, detail.get("made_of", {}), detail.get("outcome"))
    return str(detail.get("note") or outcome or detail.get("remark") or "")


def core_kind(kind: str) -> Kind:
    """A stored kind as the core names it."""
    return next(known for known in core.STEPS if known == kind)


def core_state(state: str) -> core.State:
    """A stored state as the core names it."""
    return next(known for known in core.STATES if known == state)
