"""The state of one room, for pages and programs alike. Not here: how it is shown (`web.views`, `web.api.shapes`)."""

from __future__ import annotations

from uuid import UUID

from wickwatch.store import pages
from wickwatch.store.connect import Connection
from wickwatch.texts import N_
from wickwatch.web.access import Call
from wickwatch.web.problems import not_found
from wickwatch.web.snapshot import load_rooms
from wickwatch.web.views.state import RoomState


def visible_room(conn: Connection, call: Call, room_id: UUID) -> RoomState:
    """A room the caller may see; 404 for any other."""
    rows = pages.rooms(conn, [room_id])
    seen = bool(rows) and rows[0].facility_id in call.facilities
    state = room_state(conn, call, rows[0].facility_id, room_id) if seen else None
    if state is None:
        raise not_found(N_("room"))
    return state


def room_state(conn: Connection, call: Call, facility_id: UUID, room_id: UUID | None) -> RoomState | None:
    """A room of a facility the caller may see; None for no room, or one that is no more."""
    if room_id is None:
        return None
    states, _ = load_rooms(conn, facility_id, [room_id], call.now, call.web.snapshots.remembered)
    return states[0] if states else None
