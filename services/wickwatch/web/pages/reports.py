"""Weekly reports: the list, their files, and asking for one. They are made by another process (`report`)."""

from __future__ import annotations

import base64
import re
from datetime import timedelta
from hashlib import sha256
from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Form, Query, Request, Response

from wickwatch import log
from wickwatch.alarms.weeks import week_span
from wickwatch.errors import InputError
from wickwatch.store import contacts, report_sending, reports
from wickwatch.store.people import Visible
from wickwatch.texts import N_, _
from wickwatch.web.access import Call, FormToken, PageCall
from wickwatch.web.api.fields import uuid
from wickwatch.web.pages.show import alive, chosen, go, part, show
from wickwatch.web.problems import not_found
from wickwatch.web.views import reports as view

router = APIRouter()

Slug = Annotated[str, Form(max_length=63)]

#: A failure is shown for so long.
_FAILED_SHOWN = timedelta(days=2)


@router.get("/reports")
def page(
    request: Request,
    call: PageCall,
    facility: Annotated[str, Query(max_length=63)] = "",
    part_of: Annotated[str, Query(alias="part", max_length=10)] = "",
) -> Response:
    """The reports of one facility, the newest first."""
    made = _page(call, chosen(call, facility))
    if part_of == "reports":
        return part(request, call, "reports_part.html", made, form_token=call.form_token())
    return show(request, call, "reports.html", made, error="")


@router.post("/reports")
def order(
    request: Request,
    call: PageCall,
    facility: Slug,
    week: Annotated[str, Form(max_length=20)],
    form_token: FormToken = "",
) -> Response:
    """Ask for the report of a week, also of one that is there."""
    call.check_form(form_token)
    visible = call.require(call.facility(facility).id, "order reports")
    try:
        start = week_span(week, ZoneInfo(visible.zone))[0]
        if start > call.now:
            raise InputError(_("week"), week, _("this week or one before it"))
    except InputError as refused:
        return show(request, call, "reports.html", _page(call, visible), error=str(refused))
    with call.web.connection() as conn:
        reports.order(conn, visible.id, week, call.now, call.person_id)
    log.event("report.ordered", facility=visible.slug, week=week, person=call.name)
    return go(f"/reports?facility={visible.slug}")


@router.post("/reports/subscription")
def subscription(
    call: PageCall, facility: Slug, wanted: Annotated[bool, Form()] = False, form_token: FormToken = ""
) -> Response:
    """Be sent each Monday's report, or no longer."""
    call.check_form(form_token)
    visible = call.facility(facility)
    with call.web.connection() as conn:
        if wanted:
            report_sending.subscribe(conn, visible.id, call.person_id, call.now)
        else:
            report_sending.unsubscribe(conn, visible.id, call.person_id)
    return go(f"/reports?facility={visible.slug}")


@router.get("/reports/{id}/{name}")
def file(call: PageCall, id: str, name: str) -> Response:
    """One file of a report; HTML comes with a policy that allows its own style and its own pictures, and no more."""
    with call.web.connection() as conn:
        found = reports.file(conn, uuid(id, N_("report")), name, call.facility_ids)
    if found is None:
        raise not_found(N_("file"))
    media_type, body = found
    how = "attachment" if name.endswith(".zip") else "inline"
    headers = {"Content-Disposition": f'{how}; filename="{name}"'}
    if media_type.startswith("text/html"):
        headers["Content-Security-Policy"] = _policy(body)
    return Response(body, headers=headers, media_type=media_type)


def _page(call: Call, visible: Visible) -> view.ReportsPage:
    with call.web.connection() as conn:
        listed = reports.listed(conn, [visible.id])
        underway = reports.underway(conn, [visible.id], call.now - _FAILED_SHOWN)
        mine = (
            visible.id in report_sending.subscribed(conn, call.person_id),
            bool(contacts.of_person(conn, call.person_id)),
        )
        banners = alive(conn, call)
    return view.page(visible, list(call.facilities.values()), listed, underway, mine, banners, call.now)


def _policy(body: bytes) -> str:
    style = re.search(rb"<style>(.*?)</style>", body, re.DOTALL)
    allowed = base64.b64encode(sha256(style[1]).digest()).decode() if style else ""
    return (
        f"default-src 'none'; style-src 'sha256-{allowed}'; img-src data:; base-uri 'none'; form-action 'none'; "
        "frame-ancestors 'none'"
    )
