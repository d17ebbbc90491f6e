"""The rota of a facility: who is called, whose turn comes, and the forms that change it.

Everybody who may see the facility sees it; a manager changes it, and each person their own quiet hours and calendar.
Not here: the calendar itself (`rota_feed`).
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from typing import Annotated, Any
from uuid import UUID
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Form, Query, Request, Response

from wickwatch import log
from wickwatch.alarms import rota_holidays
from wickwatch.alarms.rota import wall
from wickwatch.errors import InputError
from wickwatch.store import colleagues, quiet_hours, rota_feed, rota_plan
from wickwatch.store import rota as stored
from wickwatch.store.connect import Connection
from wickwatch.store.people import Visible
from wickwatch.store.quiet_hours import QuietHours
from wickwatch.texts import N_, _
from wickwatch.web.access import Call, FormToken, PageCall
from wickwatch.web.api.fields import EARLIEST_YEAR, LATEST_YEAR, day, uuid
from wickwatch.web.pages.show import alive, chosen, go, show
from wickwatch.web.permits import Deed
from wickwatch.web.views import rota as view
from wickwatch.web.views import rota_forms

router = APIRouter()

#: Turns by date are listed this far ahead.
_DATED_AHEAD = timedelta(days=400)
_HOLIDAYS_AHEAD = timedelta(days=120)

Text = Annotated[str, Form(max_length=40)]
Step = Annotated[int, Form(ge=1, le=9)]


@router.get("/rota")
def page(request: Request, call: PageCall, facility: Annotated[str, Query(max_length=63)] = "") -> Response:
    """Who is called now, whose turn comes, where nobody has one."""
    return rota_page(request, call, chosen(call, facility))


@router.post("/rota/{slug}/weekly")
def weekly(
    request: Request,
    call: PageCall,
    slug: str,
    step: Step,
    person: Annotated[list[str], Form(max_length=60)],
    starts_on: Text,
    hand_over: Text,
    turn_days: Annotated[int, Form(ge=1, le=56)] = 7,
    on_holidays: Text = "",
    form_token: FormToken = "",
) -> Response:
    """Let people follow one another at a step of the rota."""

    def change(conn: Connection, facility: Visible) -> None:
        people = [_person(conn, facility, each) for each in person if each]
        first, clock = day(_("first hand-over"), starts_on), _clock(_("hand-over"), hand_over)
        rota_plan.add_pattern(conn, facility.id, step, people, first, clock, turn_days, on_holidays=bool(on_holidays))

    return _changed(request, call, slug, form_token, "weekly turns", change)


@router.post("/rota/{slug}/weekly/{id}/end")
def end_weekly(
    request: Request, call: PageCall, slug: str, id: str, on: Text = "", form_token: FormToken = ""
) -> Response:
    """Let weekly turns end on a day, today where none is named."""

    def change(conn: Connection, facility: Visible) -> None:
        today = call.now.astimezone(ZoneInfo(facility.zone)).date()
        rota_plan.end_pattern(conn, facility.id, uuid(id, N_("rota")), day(_("last hand-over"), on) if on else today)

    return _changed(request, call, slug, form_token, "weekly turns end", change)


@router.post("/rota/{slug}/turns")
def dated(
    request: Request,
    call: PageCall,
    slug: str,
    step: Step,
    person: Text,
    start: Text,
    end: Text = "",
    form_token: FormToken = "",
) -> Response:
    """Give somebody a turn by date, which stands before the weekly turns."""

    def change(conn: Connection, facility: Visible) -> None:
        zone = ZoneInfo(facility.zone)
        begin = _moment(_("beginning of the turn"), start, zone)
        until = _moment(_("end of the turn"), end, zone) if end else None
        stored.add_turn(conn, facility.id, step, _person(conn, facility, person), begin, until)

    return _changed(request, call, slug, form_token, "turn by date", change)


@router.post("/rota/{slug}/turns/{id}/remove")
def remove(request: Request, call: PageCall, slug: str, id: str, form_token: FormToken = "") -> Response:
    """Take a turn by date off the rota."""

    def change(conn: Connection, facility: Visible) -> None:
        stored.remove_turn(conn, facility.id, uuid(id, N_("turn")))

    return _changed(request, call, slug, form_token, "turn removed", change)


@router.post("/rota/{slug}/steps")
def steps(
    request: Request,
    call: PageCall,
    slug: str,
    minutes: Annotated[list[int], Form(max_length=9)],
    form_token: FormToken = "",
) -> Response:
    """Say how long each step of the rota has to answer, the first step's first."""

    def change(conn: Connection, facility: Visible) -> None:
        for step, each in enumerate(minutes, 1):
            rota_plan.set_answer_within(conn, facility.id, step, each)

    return _changed(request, call, slug, form_token, "time to answer", change)


@router.post("/rota/{slug}/holidays")
def holidays(
    request: Request, call: PageCall, slug: str, country: Text = "", subdivision: Text = "", form_token: FormToken = ""
) -> Response:
    """Say whose public holidays the facility keeps."""

    def change(conn: Connection, facility: Visible) -> None:
        rota_plan.keep_holidays(conn, facility.id, country.strip().upper() or None, subdivision.strip().upper() or None)

    return _changed(request, call, slug, form_token, "holidays", change)


@router.post("/rota/{slug}/quiet")
def quiet(
    request: Request, call: PageCall, slug: str, starts: Text = "", ends: Text = "", form_token: FormToken = ""
) -> Response:
    """Set the visitor's own quiet hours; none where both are empty."""

    def change(conn: Connection, facility: Visible) -> None:
        hours = QuietHours(_clock(_("quiet hours"), starts), _clock(_("quiet hours"), ends)) if starts or ends else None
        quiet_hours.set_hours(conn, call.person_id, hours)

    return _changed(request, call, slug, form_token, "quiet hours", change, deed="keep own account")


def rota_page(request: Request, call: Call, facility: Visible, error: str = "", secret: str = "") -> Response:
    """The page; `secret` is shown this once."""
    now = call.now
    with call.web.connection() as conn:
        plan = rota_plan.load(conn, facility.id, now, now + view.AHEAD)
        people = colleagues.of_facility(conn, facility.id)
        keeping = rota_plan.holidays_kept(conn, facility.id)
        duty = stored.on_duty(conn, facility.id, now)
        shown = view.page(plan, duty, people, facility, keeping is not None, now)
        may_edit = call.may(facility.id, "change the rota")
        forms = rota_forms.forms(
            plan,
            people,
            stored.turns(conn, facility.id, now, now + _DATED_AHEAD),
            rota_plan.answer_within(conn, facility.id),
            keeping,
            _coming(keeping, now.astimezone(plan.zone).date()),
            quiet_hours.of_person(conn, call.person_id),
            rota_feed.of_facility(conn, facility.id),
            call.person_id,
            may_edit,
            now,
        )
        banners = alive(conn, call)
    values: dict[str, Any] = {
        "facility": facility,
        "facilities": list(call.facilities.values()),
        "forms": forms,
        "may_edit": may_edit,
    }
    return show(request, call, "rota.html", shown, **values, banners_now=banners, error=error, secret=secret)


def _changed(
    request: Request,
    call: Call,
    slug: str,
    form_token: str,
    what: str,
    change: Callable[[Connection, Visible], None],
    deed: Deed = "change the rota",
) -> Response:
    """Make a change as somebody who may, and show the page again; with a sentence where it can't be."""
    call.check_form(form_token)
    facility = call.require(call.facility(slug).id, deed)
    try:
        with call.web.connection() as conn:
            change(conn, facility)
    except InputError as error:
        return rota_page(request, call, facility, error=str(error))
    log.event("rota.changed", facility=facility.slug, what=what, person=call.name)
    return go(f"/rota?facility={facility.slug}")


def _coming(keeping: rota_plan.Keeping | None, today: date) -> dict[date, str]:
    """The next holidays of a facility, by its own clock's day."""
    if keeping is None:
        return {}
    try:
        return rota_holidays.between(keeping.country, keeping.subdivision, today, today + _HOLIDAYS_AHEAD)
    except InputError:
        return {}


def _person(conn: Connection, facility: Visible, text: str) -> UUID:
    known = {str(person.id): person.id for person in colleagues.of_facility(conn, facility.id)}
    if text not in known:
        raise InputError(_("person"), text, _("somebody with a role in %(name)s", name=facility.name))
    return known[text]


def _clock(thing: str, text: str) -> time:
    try:
        return time.fromisoformat(text).replace(second=0, microsecond=0, tzinfo=None)
    except ValueError:
        raise InputError(thing, text, _("a time of day, such as 08:00")) from None


def _moment(thing: str, text: str, zone: ZoneInfo) -> datetime:
    try:
        local = datetime.fromisoformat(text)
    except ValueError:
        local = datetime.min
    if local.tzinfo is not None or not EARLIEST_YEAR <= local.year <= LATEST_YEAR:
        raise InputError(thing, text, _("a date and time of the facility's clock, such as 2026-11-20T04:12"))
    return wall(local.date(), local.time(), zone)
