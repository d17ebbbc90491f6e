"""What was done in a room, with whether it helped, and the refills that nobody wrote down.

Not here: the form that records work (`work`), nor judging it (`alarms.verdict`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal
from uuid import UUID

from wickwatch import detect
from wickwatch.alarms import AGAIN
from wickwatch.alarms.words import lasting
from wickwatch.store.judged import Judged
from wickwatch.store.refills import Refill
from wickwatch.texts import _, volume
from wickwatch.web.views import words
from wickwatch.web.views.alarm import core_kind
from wickwatch.web.views.state import RoomState
from wickwatch.web.views.times import Moment, field, moment
from wickwatch.web.views.work import subject_name

#: How work stands: it helped, it did not, what it was about is settling, or there is nothing to say.
Standing = Literal["helped", "failed", "settling", ""]


@dataclass(frozen=True)
class Done:
    """One line: what a person did, or a refill that only the level tells of.

    `said` is what became of it, in words. `refill` are the fields of a form that would record this refill (subject and
    time by the facility's clock), None where somebody did.
    """

    id: UUID | None
    at: Moment
    what: str
    subject: str
    person: str
    note: str
    standing: Standing
    said: str
    alarm_id: UUID | None
    refill: tuple[str, str] | None
    sort: datetime


def work_done(work: Sequence[Judged], refills: Sequence[Refill], state: RoomState, now: datetime) -> tuple[Done, ...]:
    """Everything done in a room, the newest first."""
    lines = [done(each, state, now) for each in work]
    lines += [_seen(each, state, now) for each in refills if each.entry_id is None]
    return tuple(sorted(lines, key=lambda line: line.sort, reverse=True))


def done(judged: Judged, state: RoomState, now: datetime) -> Done:
    """One work entry with what became of it."""
    entry = judged.entry
    standing, said = verdict(judged, settled_hours(state, entry.subject_id), state, now)
    return Done(
        id=entry.id,
        at=moment(entry.at, state.zone, now),
        what=words.WORK.get(entry.kind, entry.kind),
        subject=subject_name(state, entry.subject_id),
        person=entry.person or "",
        note=entry.note,
        standing=standing,
        said=said,
        alarm_id=judged.alarm_id,
        refill=None,
        sort=entry.at,
    )


def verdict(judged: Judged, hours: float, state: RoomState, now: datetime) -> tuple[Standing, str]:
    """How work stands, and the same in words; `hours` is the rule by which things settle there."""
    if judged.helped and judged.after is not None and judged.alarm_kind is not None:
        return "helped", _(
            "%(again)s %(span)s later", again=AGAIN[core_kind(judged.alarm_kind)], span=lasting(judged.after)
        )
    if judged.helped is False:
        return "failed", _("did not help")
    until = judged.entry.at + detect.settles_for(judged.entry.kind, hours)
    if until > now:
        return "settling", _("settling until %(at)s", at=moment(until, state.zone, now).text)
    return "", ""


def settled_hours(state: RoomState, subject_id: UUID) -> float:
    """The rule by which a thing in a room settles."""
    own = {one.row.id: one.rules for one in state.containers} | {one.row.id: one.rules for one in state.reservoirs}
    return own.get(subject_id, state.rules).settled_hours


def _seen(refill: Refill, state: RoomState, now: datetime) -> Done:
    return Done(
        id=None,
        at=moment(refill.start, state.zone, now),
        what=_("Refilled with %(volume)s", volume=volume(refill.litres)),
        subject=refill.reservoir,
        person="",
        note="",
        standing="",
        said=_("seen in the level, nobody wrote it down"),
        alarm_id=None,
        refill=(f"reservoir:{refill.reservoir_id}", field(refill.start, state.zone)),
        sort=refill.start,
    )
