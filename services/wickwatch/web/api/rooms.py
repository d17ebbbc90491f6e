"""Rooms: their state, reservoirs, containers and active alarms."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query

from wickwatch.store import pages
from wickwatch.web import settled
from wickwatch.web.access import ApiCall
from wickwatch.web.api import models, shapes
from wickwatch.web.api.fields import CursorText, Limit, Slug, cursor_uuid, pack, unpack, uuid
from wickwatch.web.room import visible_room
from wickwatch.web.snapshot import load_rooms

router = APIRouter(tags=["rooms"])


@router.get("/rooms")
def list_rooms(
    call: ApiCall,
    facility: Annotated[Slug | None, Query(description="slug; only rooms of this facility")] = None,
    limit: Limit = 50,
    cursor: CursorText = None,
) -> models.RoomPage:
    """Rooms the caller may see, by facility and slug."""
    wanted = [call.facility(facility).id] if facility else call.facility_ids
    after = cursor_uuid(unpack(cursor, 1)[0], cursor) if cursor else None
    run_outs = call.web.snapshots.remembered
    states = []
    with call.web.connection() as conn:
        ids = pages.room_ids(conn, wanted, limit + 1, after)
        rows = pages.rooms(conn, ids[:limit])
        for facility_id in dict.fromkeys(row.facility_id for row in rows):
            of_facility = [row.id for row in rows if row.facility_id == facility_id]
            states += load_rooms(conn, facility_id, of_facility, call.now, run_outs)[0]
    more = pack(str(ids[limit - 1])) if len(ids) > limit else None
    return models.RoomPage(items=[shapes.room(state) for state in states], next_cursor=more)


@router.get("/rooms/{id}")
def one_room(call: ApiCall, id: str) -> models.Room:
    """One room."""
    with call.web.connection() as conn:
        return shapes.room(visible_room(conn, call, uuid(id, "room")))


@router.get("/rooms/{id}/settled")
def settled_room(call: ApiCall, id: str) -> models.SettledRoom:
    """Which containers of a room are ready for their emitters, and why others are not."""
    with call.web.connection() as conn:
        state = visible_room(conn, call, uuid(id, "room"))
        answers = settled.answers(conn, state.containers, call.now)
    return models.SettledRoom(items=[shapes.settled(each, answers[each.row.id]) for each in state.containers])
