"""The audit log: who changed what, for administrators, with filters and as CSV.

An administrator of some facilities sees what concerns these; what is of no facility in particular, such as people's
passwords, is for those who administer all. Not here: how changes are noted (`store.audit`).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from typing import Annotated
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Query, Request, Response
from fastapi.responses import StreamingResponse

from wickwatch.errors import InputError
from wickwatch.store import audit, people
from wickwatch.store.audit import Filters, Sight
from wickwatch.store.connect import Connection
from wickwatch.web.access import Call, PageCall
from wickwatch.web.api.fields import cursor_moment, cursor_uuid, day, pack, unpack
from wickwatch.web.pages.show import alive, show
from wickwatch.web.views import audit as view

router = APIRouter()

_PAGE = 50

Short = Annotated[str, Query(max_length=100)]


@dataclass(frozen=True)
class Asked:
    """The filters as they stand in the address; days are by the clock of the page."""

    facility: Short = ""
    who: Short = ""
    via: Short = ""
    thing: Short = ""
    since: Short = ""
    until: Short = ""


@router.get("/audit")
def page(
    request: Request,
    call: PageCall,
    asked: Annotated[Asked, Depends()],
    cursor: Annotated[str, Query(max_length=200)] = "",
) -> Response:
    """Changes, the newest first."""
    zone = _zone(call)
    error, filters = "", Filters()
    try:
        filters = _filters(call, asked, zone)
    except InputError as refused:
        error = str(refused)
    after = None
    if cursor:
        at, id = unpack(cursor, 2)
        after = (cursor_moment(at, cursor), cursor_uuid(id, cursor))
    with call.web.connection() as conn:
        found = audit.entries(conn, _sight(conn, call), filters, _PAGE + 1, after)
        names = audit.names(conn, view.ids_in(found))
        banners = alive(conn, call)
        known = [each.name for each in people.everyone(conn)] if _sight(conn, call).everything else []
    shown = found[:_PAGE]
    given = {name: value for name, value in vars(asked).items() if value}
    more = ""
    if len(found) > _PAGE:
        more = "/audit?" + urlencode(given | {"cursor": pack(shown[-1].at.isoformat(), str(shown[-1].id))})
    made = view.AuditPage(
        lines=tuple(view.line(entry, names, zone, call.now) for entry in shown),
        asked=view.Asked(**vars(asked)),
        facilities=tuple(call.facilities[id] for id in call.where("administer")),
        people=tuple(known),
        vias=view.VIAS,
        things=view.THINGS,
        zone=zone.key,
        next=more,
        csv="/audit.csv" + (f"?{urlencode(given)}" if given else ""),
    )
    return show(request, call, "audit.html", made, banners_now=banners, error=error)


@router.get("/audit.csv")
def table(call: PageCall, asked: Annotated[Asked, Depends()]) -> Response:
    """The same as CSV, a line for each change."""
    filters = _filters(call, asked, _zone(call))
    headers = {"Content-Disposition": 'attachment; filename="audit.csv"', "Cache-Control": "private, no-store"}
    return StreamingResponse(_lines(call, filters), headers=headers, media_type="text/csv")


def _lines(call: Call, filters: Filters) -> Iterator[str]:
    buffer = io.StringIO()
    writer = csv.writer(buffer)
    writer.writerow(view.COLUMNS)
    with call.web.connection() as conn:
        for row in view.rows(audit.all_entries(conn, _sight(conn, call), filters)):
            writer.writerow(row)
            if buffer.tell() > 1 << 16:
                yield buffer.getvalue()
                buffer.seek(0)
                buffer.truncate()
    yield buffer.getvalue()


def _sight(conn: Connection, call: Call) -> Sight:
    return Sight(call.where("administer"), people.everywhere(conn, call.person_id, ("administrator",)))


def _zone(call: Call) -> ZoneInfo:
    facilities = list(call.facilities.values())
    return ZoneInfo(facilities[0].zone if facilities else "UTC")


def _filters(call: Call, asked: Asked, zone: ZoneInfo) -> Filters:
    """What is asked for. Raises InputError for a day that is none; 404 for a facility that may not be seen."""
    via = next((known for known in audit.VIAS if known == asked.via), None)
    return Filters(
        facility=call.require(call.facility(asked.facility).id, "administer").id if asked.facility else None,
        who=asked.who.replace("\0", "").strip() or None,
        via=via,
        thing=asked.thing if asked.thing in view.THINGS else None,
        start=_midnight("first day", asked.since, zone),
        end=_midnight("last day", asked.until, zone, timedelta(days=1)),
    )


def _midnight(thing: str, text: str, zone: ZoneInfo, later: timedelta = timedelta()) -> datetime | None:
    return datetime.combine(day(thing, text) + later, time(), zone).astimezone(UTC) if text else None
