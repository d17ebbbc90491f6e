"""Is a container ready for its emitter? The answers for a room, those that settle after work first.

Not here: the judgement (`detect.settled`), or reading rows.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from wickwatch import detect
from wickwatch.detect import Settled
from wickwatch.fleet import Work
from wickwatch.texts import _, general, ngettext, tension, tension_unit
from wickwatch.web.views import words
from wickwatch.web.views.state import ContainerState, RoomState
from wickwatch.web.views.times import Moment, moment
from wickwatch.web.views.watching import Banner


@dataclass(frozen=True)
class SettledLine:
    """One container: ready, or why not; `settling` names the work it settles after, "" for none."""

    id: UUID
    name: str
    ready: bool
    tension: str
    set_point: str
    why: str
    ready_at: Moment | None
    settling: str


@dataclass(frozen=True)
class SettledPage:
    """All containers of a room."""

    id: UUID
    name: str
    facility: str
    tolerance: str
    hours: str
    now: Moment
    ready: int
    lines: tuple[SettledLine, ...]
    banners: tuple[Banner, ...]


def page(
    state: RoomState, answers: Mapping[UUID, Settled], work: Sequence[Work], banners: Sequence[Banner], now: datetime
) -> SettledPage:
    """The page; `answers` by container, `work` is what was done in the room lately."""
    found = lines(state, answers, work, now)
    unit = tension_unit()
    return SettledPage(
        id=state.row.id,
        name=state.row.name,
        facility=state.row.facility_name,
        tolerance=f"{general(unit.shown(state.rules.settled_mbar))} {unit.name}",
        hours=ngettext("%(num)s hour", "%(num)s hours", int(state.rules.settled_hours))
        if state.rules.settled_hours.is_integer()
        else _("%(num)s hours", num=general(state.rules.settled_hours)),
        now=moment(now, state.zone, now),
        ready=sum(line.ready for line in found),
        lines=found,
        banners=tuple(banners),
    )


def lines(
    state: RoomState, answers: Mapping[UUID, Settled], work: Sequence[Work], now: datetime
) -> tuple[SettledLine, ...]:
    """Containers for which there is an answer: those settling after work first, then by name."""
    found = [
        _line(each, answers[each.row.id], after(each, state, work, now), state, now)
        for each in state.containers
        if each.row.id in answers
    ]
    return tuple(sorted(found, key=lambda line: not line.settling))


def after(container: ContainerState, state: RoomState, work: Sequence[Work], now: datetime) -> Work | None:
    """The work that a container settles after now: the one that lasts longest; None where it does not settle."""
    line = next((each for each in state.lines if each.id == container.row.line_id), None)
    where = {container.row.id, container.row.line_id, line.reservoir_id if line else None, state.row.id}
    hours = container.rules.settled_hours
    going = [
        entry
        for entry in work
        if entry.subject_id in where and entry.at + detect.settles_for(entry.kind, hours) > now >= entry.at
    ]
    return max(going, key=lambda entry: entry.at + detect.settles_for(entry.kind, hours), default=None)


def _line(
    container: ContainerState, answer: Settled, entry: Work | None, state: RoomState, now: datetime
) -> SettledLine:
    settling = ""
    if entry is not None:
        until = entry.at + detect.settles_for(entry.kind, container.rules.settled_hours)
        settling = _(
            "%(what)s at %(at)s, settling until %(until)s",
            what=words.DID.get(entry.kind, entry.kind),
            at=moment(entry.at, state.zone, now).text,
            until=moment(until, state.zone, now).text,
        )
    return SettledLine(
        id=container.row.id,
        name=container.row.name,
        ready=answer.ready,
        tension="" if answer.tension_mbar is None else tension(answer.tension_mbar),
        set_point=general(tension_unit().shown(container.rules.set_point_mbar)),
        why="; ".join(answer.reasons),
        ready_at=None if answer.ready_at is None else moment(answer.ready_at, state.zone, now),
        settling=settling,
    )
