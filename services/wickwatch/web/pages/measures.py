"""The page that shows how the alarms serve, week by week."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from wickwatch.errors import InputError
from wickwatch.web.access import PageCall
from wickwatch.web.api.measures import of_week
from wickwatch.web.pages.show import alive, chosen, show
from wickwatch.web.views import measures as view

router = APIRouter()


@router.get("/measures")
def page(
    request: Request,
    call: PageCall,
    facility: Annotated[str, Query(max_length=63)] = "",
    week: Annotated[str, Query(max_length=20)] = "",
) -> Response:
    """The measures of one week of one facility; this week of the first one where none is named."""
    visible = chosen(call, facility)
    error = ""
    try:
        name, found = of_week(call, visible, week or None)
    except InputError as refused:
        error = str(refused)
        name, found = of_week(call, visible, None)
    with call.web.connection() as conn:
        banners = alive(conn, call)
    made = view.page(found, name, visible, list(call.facilities.values()), banners, call.now)
    return show(request, call, "measures.html", made, error=error)
