"""The page that says who would be called for one alarm. Not here: the alarm itself (`alarms`)."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request, Response

from wickwatch.alarms import said
from wickwatch.web.access import PageCall
from wickwatch.web.api.rota import calls_for
from wickwatch.web.pages.show import alive, show
from wickwatch.web.views.rota import calls
from wickwatch.web.views.times import moment

router = APIRouter()


@router.get("/alarms/{id}/duty")
def page(request: Request, call: PageCall, id: str) -> Response:
    """Who would be called for one alarm, or why nobody is."""
    row, found = calls_for(call, id)
    zone = ZoneInfo(row.zone)
    with call.web.connection() as conn:
        banners = alive(conn, call)
    held = moment(found.held_until, zone, call.now) if found.held_until else None
    values: dict[str, Any] = {
        "row": row,
        "sentence": said(row),
        "held": held,
        "ladder": calls(found, zone, call.now),
        "banners_now": banners,
    }
    return show(request, call, "alarm_duty.html", found, **values)
