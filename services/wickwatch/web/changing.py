"""What pages change in what is set up: each change goes through here, in one transaction with its note.

Not here: what is accepted (`fleet.editing`), or how it is stored (`store.fleet`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from wickwatch import log
from wickwatch.errors import InputError
from wickwatch.fleet.declared import DeclaredFacility
from wickwatch.fleet.difference import Change, difference
from wickwatch.fleet.editing import end
from wickwatch.store import assignments, fleet
from wickwatch.store.connect import Connection
from wickwatch.store.pages import ChannelRow, SubjectRow
from wickwatch.store.people import Visible
from wickwatch.texts import _
from wickwatch.web.access import Call


@dataclass(frozen=True)
class Chosen:
    """What a channel shall measure, and from when on."""

    type: str
    id: UUID
    since: datetime
    twin: bool


Edit = Callable[[DeclaredFacility], DeclaredFacility]


def change_place(call: Call, facility: Visible, edit: Edit, room: str | None = None, *, whole: bool = False) -> None:
    """Change what stands in a facility as a manager of it; `room` is the only one that is read and written.

    Without a room, nothing that stands in rooms is read, unless the edit concerns the `whole`. Raises InputError.
    """
    call.require(facility.id, "set up")
    rooms = None if whole else [] if room is None else [room]
    with call.web.connection() as conn:
        fleet.lock(conn)
        (present,) = fleet.declared(conn, [facility.slug], rooms)
        changes = difference([edit(present)], [present])
        fleet.apply(conn, changes, call.now)
        _note_changes(conn, call, facility.id, changes)


def add_facility(call: Call, facility: DeclaredFacility) -> None:
    """Add a facility; callers look whether its maker may. Raises InputError where its slug is taken."""
    with call.web.connection() as conn:
        fleet.lock(conn)
        if fleet.declared(conn, [facility.slug], []):
            raise InputError(f"facility {facility.slug}: slug", facility.slug, _("a short name that no facility has"))
        changes = difference([facility], [])
        fleet.apply(conn, changes, call.now)
        _note_changes(conn, call, fleet.facility_by_slug(conn, facility.slug).id, changes)


def end_facility(call: Call, facility: Visible) -> None:
    """Take a facility without rooms out of use, as an administrator of it. Raises InputError."""
    call.require(facility.id, "end facilities")
    with call.web.connection() as conn:
        fleet.lock(conn)
        (present,) = fleet.declared(conn, [facility.slug])
        changes = end(present)
        fleet.apply(conn, changes, call.now)
        _note_changes(conn, call, facility.id, changes)


def attach(call: Call, facility: Visible, channel: ChannelRow, part: SubjectRow, chosen: Chosen) -> None:
    """Attach a channel of the facility to a part of it, as a manager. Raises InputError and RefusedError."""
    call.require(facility.id, "set up")
    with call.web.connection() as conn:
        assignments.attach(conn, channel.id, chosen.type, chosen.id, chosen.since, twin=chosen.twin)
        twin = " as a twin" if chosen.twin else ""
        note(conn, call, facility.id, f"attach  {channel.name} to {chosen.type} {part.name}{twin}")


def detach(call: Call, facility: Visible, channel: ChannelRow) -> None:
    """End what a channel of the facility is attached to, as a manager. Raises RefusedError."""
    call.require(facility.id, "set up")
    with call.web.connection() as conn:
        assignments.detach(conn, channel.id, call.now)
        note(conn, call, facility.id, f"detach  {channel.name} from {channel.subject_name}")


def note(conn: Connection, call: Call, facility_id: UUID, what: str) -> None:
    """Note who changed what, in the transaction that changes it."""
    log.event("set_up.changed", facility=facility_id, what=what, person=call.name)


def _note_changes(conn: Connection, call: Call, facility_id: UUID, changes: Sequence[Change]) -> None:
    for change in changes:
        note(conn, call, facility_id, str(change))
