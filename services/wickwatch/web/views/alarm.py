"""One alarm's page: evidence, journal, calls, cause and what it explains, steps.

Not here: the list (`alarm_list`), the sentence and the steps themselves (`alarms`), nor changing an alarm.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch import alarms as core
from wickwatch.alarms.transitions import possible
from wickwatch.fleet import Kind
from wickwatch.store.pages import AlarmRow, JournalRow, NoticeRow, WorkRow
from wickwatch.web.views import words
from wickwatch.web.views.chart import Chart
from wickwatch.web.views.times import Moment, moment, span
from wickwatch.web.views.trouble import Trouble, trouble
from wickwatch.web.views.watching import Banner
from wickwatch.web.views.work import WorkForm

#: Units by the ending of a number's name, the longest first.
_UNITS: tuple[tuple[str, str], ...] = (
    ("_mbar_per_day", "mbar/day"),
    ("_mbar_per_hour", "mbar/h"),
    ("_mbar_per_h", "mbar/h"),
    ("_mm_per_h", "mm/h"),
    ("_l_per_h", "l/h"),
    ("_l_per_day", "l/day"),
    ("_mbar", "mbar"),
    ("_mm", "mm"),
    ("_hours", "h"),
    ("_h", "h"),
    ("_minutes", "min"),
    ("_min", "min"),
    ("_days", "days"),
    ("_percent", "%"),
    ("_degC", "°C"),
    ("_s", "s"),
    ("_l", "l"),
)


@dataclass(frozen=True)
class Fact:
    """One piece of evidence."""

    label: str
    value: str


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
    state: str
    state_words: str
    over: bool
    room_id: UUID | None
    room: str
    facility: str
    facility_slug: str
    kind: str
    subject: str
    subject_type: str
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
        state=row.state,
        state_words=words.STATES[row.state],
        over=not open_,
        room_id=row.room_id,
        room=row.room_name or "",
        facility=row.facility_name,
        facility_slug=row.facility_slug,
        kind=row.kind,
        subject=row.subject_name,
        subject_type=words.SUBJECTS[row.subject_type],
        lasted=span((row.closed_at or now) - row.raised_at),
        outcome=row.outcome or "",
        shelved_until=moment(row.shelved_until, zone, now) if row.shelved_until and open_ else None,
        facts=tuple(facts(row.evidence, zone, now)),
        advice=core.advise(core_kind(row.kind), {row.kind: row.own_advice or ""}),
        life=life(journal, notices, work, zone, now),
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


def facts(evidence: Mapping[str, object], zone: ZoneInfo, now: datetime) -> list[Fact]:
    """Evidence as labels and values with their units, in the order a detector gave it."""
    return [Fact(*_fact(name, value, zone, now)) for name, value in evidence.items() if value is not None]


def life(
    journal: Sequence[JournalRow],
    notices: Sequence[NoticeRow],
    work: Sequence[WorkRow],
    zone: ZoneInfo,
    now: datetime,
) -> tuple[Happened, ...]:
    """Everything that happened to an alarm, the newest first."""
    told = []
    for entry in journal:
        note = next((str(entry.detail[key]) for key in ("note", "outcome", "remark") if entry.detail.get(key)), "")
        what = words.EVENTS.get(entry.event, entry.event)
        told.append(Happened(moment(entry.at, zone, now), what, entry.person or "", note, entry.at))
    for notice in notices:
        at = notice.done_at or notice.created_at
        what = f"Called by {words.WAYS.get(notice.way, notice.way)}, {words.NOTICE_STATES[notice.state]}"
        told.append(Happened(moment(at, zone, now), what, notice.person or "", "", at))
    for done in work:
        what = words.WORK.get(done.kind, done.kind)
        told.append(Happened(moment(done.at, zone, now), what, done.person or "", done.note, done.at))
    return tuple(sorted(told, key=lambda one: one.sort, reverse=True))


def core_kind(kind: str) -> Kind:
    """A stored kind as the core names it."""
    return next(known for known in core.STEPS if known == kind)


def core_state(state: str) -> core.State:
    """A stored state as the core names it."""
    return next(known for known in core.STATES if known == state)


def _fact(name: str, value: object, zone: ZoneInfo, now: datetime) -> tuple[str, str]:
    stem, unit = next(((name.removesuffix(end), unit) for end, unit in _UNITS if name.endswith(end)), (name, ""))
    label = stem.replace("_", " ").capitalize()
    if isinstance(value, bool):
        return label, "yes" if value else "no"
    if isinstance(value, int | float):
        digits = 0 if float(value).is_integer() or abs(value) >= 100 else 1 if abs(value) >= 1 else 2
        return label, f"{value:.{digits}f}{' ' + unit if unit else ''}"
    text = str(value)
    if len(text) >= 16 and text[4:5] == "-" and "T" in text:
        try:
            return label, moment(datetime.fromisoformat(text), zone, now).text
        except (ValueError, TypeError):
            return label, text
    return label, text
