"""The room status page, and the same for a screen on the wall. Not here: what they show (`web.views`)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated
from urllib.parse import urlencode
from uuid import UUID

from fastapi import APIRouter, Query, Request, Response

from wickwatch.store import pages
from wickwatch.store.connect import Connection
from wickwatch.store.people import Visible
from wickwatch.web import live
from wickwatch.web.access import Call, PageCall
from wickwatch.web.pages.show import alive, show
from wickwatch.web.snapshot import Drawn, Snapshot
from wickwatch.web.templates import send
from wickwatch.web.views import status, wall
from wickwatch.web.views.card import Card
from wickwatch.web.views.trouble import Trouble
from wickwatch.web.views.watching import Banner
from wickwatch.web.views.water import Soon

router = APIRouter()

Text = Annotated[str, Query(max_length=100)]
Short = Annotated[str, Query(max_length=63)]
PartOf = Annotated[str, Query(alias="part", max_length=10)]


@dataclass(frozen=True)
class _Seen:
    """What there is to show now; `version` differs when any of it does."""

    facilities: tuple[Visible, ...]
    snapshots: tuple[Snapshot, ...]
    banners: tuple[Banner, ...]
    version: str

    @property
    def drawn(self) -> Mapping[UUID, Drawn]:
        """Every room by its id."""
        return {room.card.id: room for snapshot in self.snapshots for room in snapshot.rooms}

    @property
    def cards(self) -> list[Card]:
        """Every room as it is shown."""
        return [room.card for snapshot in self.snapshots for room in snapshot.rooms]

    @property
    def soon(self) -> list[Soon]:
        """Reservoirs that run out within a day."""
        return [one for snapshot in self.snapshots for one in snapshot.soon]

    @property
    def whole(self) -> list[Trouble]:
        """Alarms that belong to no room."""
        return [one for snapshot in self.snapshots for one in snapshot.whole]


@router.get("/")
def rooms(
    request: Request, call: PageCall, facility: Short = "", state: Short = "", text: Text = "", part_of: PartOf = ""
) -> Response:
    """All rooms the visitor may see, those that need someone first."""
    filters = status.Filters(_known(call, facility), state if state in status.SECTIONS else "", " ".join(text.split()))
    with call.web.connection() as conn:
        seen = _look(conn, call, list(call.facilities.values()))
        waiting = 0 if seen.drawn else sum(pages.waiting_channels(conn, call.facility_ids).values())

    def made() -> status.StatusPage:
        return status.page(seen.cards, seen.soon, seen.whole, seen.banners, seen.facilities, filters, call.now)

    if part_of == "rooms":

        def drawn() -> str:
            values = {"page": made(), "drawn": seen.drawn, "waiting": waiting}
            return call.web.templates.render("rooms_live.html", values)

        key = ("rooms", filters, seen.facilities, seen.version, waiting, _minute(call))
        return send(request, call.web.parts.get(key, drawn))
    path = _live("/", {**vars(filters), "part": "rooms"})
    return show(
        request, call, "status.html", made(), live=path, version=seen.version, drawn=seen.drawn, waiting=waiting
    )


@router.get("/wall")
def on_the_wall(
    request: Request, call: PageCall, facility: Short = "", look: Short = "", part_of: PartOf = ""
) -> Response:
    """The same for a screen that is read across a room and touched by nobody."""
    known = _known(call, facility)
    look = look if look in ("light", "dark") else ""
    chosen = [each for each in call.facilities.values() if known in ("", each.slug)]
    with call.web.connection() as conn:
        seen = _look(conn, call, chosen)

    def made() -> wall.WallPage:
        return wall.page(seen.cards, seen.soon, seen.whole, seen.banners, seen.facilities, call.now)

    if part_of == "wall":
        key = ("wall", seen.facilities, seen.version, _minute(call))
        return send(
            request, call.web.parts.get(key, lambda: call.web.templates.render("wall_live.html", {"page": made()}))
        )
    live_path = _live("/wall", {"facility": known, "part": "wall"})
    return show(request, call, "wall.html", made(), live=live_path, version=seen.version, look=look)


def _look(conn: Connection, call: Call, facilities: list[Visible]) -> _Seen:
    snapshots = call.web.snapshots.of(conn, facilities, call.now)
    found = alive(conn, call, facilities)
    stamps = {each.facility_id: each.stamp for each in snapshots}
    made = {each.facility_id: each.at for each in snapshots}
    return _Seen(tuple(facilities), tuple(snapshots), found, live.version(stamps, made, found))


def _known(call: Call, slug: str) -> str:
    """The facility asked for, nothing where it may not be seen."""
    return slug if slug in {each.slug for each in call.facilities.values()} else ""


def _minute(call: Call) -> str:
    """The page tells the time to the minute."""
    return f"{call.now:%Y-%m-%dT%H:%M}"


def _live(path: str, values: Mapping[str, str]) -> str:
    """Where the part that changes is fetched from."""
    return f"{path}?{urlencode({name: value for name, value in values.items() if value})}"
