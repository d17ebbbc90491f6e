"""The room status page. Not here: what it shows (`web.views.status`)."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request, Response

from wickwatch.store import pages
from wickwatch.web.access import PageCall
from wickwatch.web.pages.show import alive, part, show
from wickwatch.web.views import status

router = APIRouter()


@router.get("/")
def rooms(
    request: Request,
    call: PageCall,
    facility: Annotated[str, Query(max_length=63)] = "",
    state: Annotated[str, Query(max_length=20)] = "",
    text: Annotated[str, Query(max_length=100)] = "",
    part_of: Annotated[str, Query(alias="part", max_length=10)] = "",
) -> Response:
    """All rooms the visitor may see, those that need someone first."""
    facilities = list(call.facilities.values())
    filters = status.Filters(facility, state if state in status.SECTIONS else "", " ".join(text.split()))
    if filters.facility not in {each.slug for each in facilities}:
        filters = replace(filters, facility="")
    with call.web.connection() as conn:
        snapshots = call.web.snapshots.of(conn, facilities, call.now)
        banners = alive(conn, call)
        drawn = {room.card.id: room for snapshot in snapshots for room in snapshot.rooms}
        waiting = 0 if drawn else sum(pages.waiting_channels(conn, call.facility_ids).values())
    page = status.page(
        [room.card for room in drawn.values()],
        [one for snapshot in snapshots for one in snapshot.soon],
        [one for snapshot in snapshots for one in snapshot.whole],
        banners,
        facilities,
        filters,
        call.now,
    )
    shown: dict[str, Any] = {"drawn": drawn, "waiting": waiting, "live": _live(filters)}
    if part_of == "rooms":
        return part(request, call, "rooms_live.html", page, **shown)
    return show(request, call, "status.html", page, **shown)


def _live(filters: status.Filters) -> str:
    """Where the part that changes is fetched from."""
    return "/?" + urlencode({**{name: value for name, value in vars(filters).items() if value}, "part": "rooms"})
