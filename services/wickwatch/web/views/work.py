"""The form that records work: what may be recorded for which subject, and how long ago it was done.

Not here: storing entries (`store.work`), reading a form that was sent (`web.told`), nor what was done (`work_done`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.fleet import WORK_KINDS
from wickwatch.store import work as stored
from wickwatch.store.pages import AlarmRow
from wickwatch.texts import N_, _
from wickwatch.web.views import words
from wickwatch.web.views.state import RoomState
from wickwatch.web.views.times import field

#: How long ago it was done, offered without a clock: minutes by what they are called.
AGO: Mapping[int, str] = {
    0: N_("just now"),
    15: N_("15 min ago"),
    30: N_("half an hour ago"),
    60: N_("1 h ago"),
    120: N_("2 h ago"),
    240: N_("4 h ago"),
    480: N_("8 h ago"),
}


@dataclass(frozen=True)
class Choice:
    """One entry of a list to choose from."""

    value: str
    label: str


@dataclass(frozen=True)
class WorkForm:
    """What a form for work offers.

    About one thing, each of `kinds` holds kind and subject (`kind:type:id`), grouped by what the subject is called,
    and `subjects` is empty. About a room, `kinds` are one group of bare kinds and `subjects` are chosen beside them.
    `earliest` and `latest` bound the time, by the facility's clock, as a form field writes it.
    """

    kinds: tuple[tuple[str, tuple[Choice, ...]], ...]
    subjects: tuple[tuple[str, tuple[Choice, ...]], ...]
    agos: tuple[Choice, ...]
    earliest: str
    latest: str
    zone: str


def subject_name(state: RoomState, subject_id: UUID) -> str:
    """What people call a thing in a room; the room itself where it is no longer there."""
    things: Sequence[tuple[UUID, str]] = [
        *((one.row.id, one.row.name) for one in state.containers),
        *((one.row.id, one.row.name) for one in state.reservoirs),
        *((one.id, one.name) for one in state.lines),
    ]
    return next((name for id, name in things if id == subject_id), state.row.name)


def form_of_alarm(row: AlarmRow, state: RoomState | None, now: datetime) -> WorkForm:
    """What is done about an alarm, the usual first: to what it is about, then to what feeds that.

    `state` is the room's, None where the alarm is about no room.
    """
    things = [(row.subject_type, row.subject_id, row.subject_name), *(_feeding(row, state) if state else ())]
    groups = []
    for subject_type, id, name in things:
        fitting = [kind for kind, types in WORK_KINDS.items() if subject_type in types]
        fitting.sort(key=lambda kind: kind != words.USUAL_WORK.get(row.kind))
        if fitting:
            chosen = tuple(Choice(f"{kind}:{subject_type}:{id}", words.WORK[kind]) for kind in fitting)
            groups.append((name, chosen))
    return _form(tuple(groups), (), ZoneInfo(row.zone), now)


def form_of_room(state: RoomState, now: datetime) -> WorkForm:
    """What may be recorded in a room."""
    groups = {
        _("Reservoirs"): [Choice(f"reservoir:{one.row.id}", one.row.name) for one in state.reservoirs],
        _("Supply lines"): [Choice(f"line:{one.id}", one.name) for one in state.lines],
        _("Containers"): [Choice(f"container:{one.row.id}", one.row.name) for one in state.containers],
        _("Room"): [Choice(f"room:{state.row.id}", _("all of %(name)s", name=state.row.name))],
    }
    kinds = tuple(Choice(kind, words.WORK[kind]) for kind in WORK_KINDS)
    subjects = tuple((label, tuple(found)) for label, found in groups.items() if found)
    return _form((("", kinds),), subjects, state.zone, now)


def _form(
    kinds: tuple[tuple[str, tuple[Choice, ...]], ...],
    subjects: tuple[tuple[str, tuple[Choice, ...]], ...],
    zone: ZoneInfo,
    now: datetime,
) -> WorkForm:
    agos = tuple(Choice(str(minutes), _(label)) for minutes, label in AGO.items())
    # A minute later than the oldest, because the field has whole minutes.
    earliest = now - stored.OLDEST + timedelta(minutes=1)
    return WorkForm(kinds, subjects, agos, field(earliest, zone), field(now, zone), zone.key)


def _feeding(row: AlarmRow, state: RoomState) -> list[tuple[str, UUID, str]]:
    """The line and the reservoir that feed what an alarm is about."""
    container = next((one.row for one in state.containers if one.row.id == row.subject_id), None)
    line_id = container.line_id if container else row.subject_id
    line = next((one for one in state.lines if one.id == line_id), None)
    found = [("line", line.id, line.name)] if line and container else []
    if line:
        found += [
            ("reservoir", one.row.id, one.row.name) for one in state.reservoirs if one.row.id == line.reservoir_id
        ]
    if row.subject_type == "reservoir":
        found += [("line", one.id, one.name) for one in state.lines if one.reservoir_id == row.subject_id]
    return found
