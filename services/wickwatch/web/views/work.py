"""Work entries on pages: what was done, and what may be recorded for which subject.

Not here: storing them (`store.work`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from wickwatch.fleet import WORK_KINDS
from wickwatch.store.pages import WorkRow
from wickwatch.web.views import words
from wickwatch.web.views.state import RoomState
from wickwatch.web.views.times import Moment, moment


@dataclass(frozen=True)
class Done:
    """What a person did."""

    at: Moment
    what: str
    subject: str
    person: str
    note: str


@dataclass(frozen=True)
class Choice:
    """One entry of a list to choose from."""

    value: str
    label: str


@dataclass(frozen=True)
class Choices:
    """What a form offers: kinds of work, and subjects by what they are called."""

    kinds: tuple[Choice, ...]
    subjects: tuple[tuple[str, tuple[Choice, ...]], ...]


def done(row: WorkRow, state: RoomState, now: datetime) -> Done:
    """One work entry in a room."""
    return Done(
        at=moment(row.at, state.zone, now),
        what=words.WORK.get(row.kind, row.kind),
        subject=subject_name(state, row.subject_id),
        person=row.person or "",
        note=row.note,
    )


def subject_name(state: RoomState, subject_id: UUID) -> str:
    """What people call a thing in a room; the room itself where it is no longer there."""
    things: Sequence[tuple[UUID, str]] = [
        *((one.row.id, one.row.name) for one in state.containers),
        *((one.row.id, one.row.name) for one in state.reservoirs),
        *((one.id, one.name) for one in state.lines),
    ]
    return next((name for id, name in things if id == subject_id), state.row.name)


def kinds_for(subject_type: str, alarm_kind: str = "") -> tuple[Choice, ...]:
    """Kinds of work that can be about such a subject, what an alarm of this kind usually needs first."""
    fitting = [kind for kind, types in WORK_KINDS.items() if subject_type in types]
    fitting.sort(key=lambda kind: kind != words.USUAL_WORK.get(alarm_kind))
    return tuple(Choice(kind, words.WORK[kind]) for kind in fitting)


def choices(state: RoomState) -> Choices:
    """What may be recorded in a room."""
    groups = {
        "Reservoirs": [Choice(f"reservoir:{one.row.id}", one.row.name) for one in state.reservoirs],
        "Supply lines": [Choice(f"line:{one.id}", one.name) for one in state.lines],
        "Containers": [Choice(f"container:{one.row.id}", one.row.name) for one in state.containers],
        "Room": [Choice(f"room:{state.row.id}", f"all of {state.row.name}")],
    }
    return Choices(
        tuple(Choice(kind, words.WORK[kind]) for kind in WORK_KINDS),
        tuple((label, tuple(found)) for label, found in groups.items() if found),
    )
