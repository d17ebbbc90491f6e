"""Channels that were heard: what each says, attaching it to what it measures, and ending that; for managers.

Not here: the same for programs (`web.api.channels`).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Annotated
from uuid import UUID
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Form, Query, Request, Response

from wickwatch.errors import InputError, RefusedError
from wickwatch.fleet import QUANTITIES_OF
from wickwatch.store import assignments, pages
from wickwatch.store.connect import Connection
from wickwatch.store.pages import ChannelRow, SubjectRow
from wickwatch.store.pages import set_up as stored
from wickwatch.store.people import Visible
from wickwatch.texts import N_, _
from wickwatch.web import changing
from wickwatch.web.access import Call, FormToken, PageCall
from wickwatch.web.api.fields import channel_number, uuid
from wickwatch.web.pages import set_up_forms as forms
from wickwatch.web.pages.show import alive, go, part, show
from wickwatch.web.problems import not_found
from wickwatch.web.told import facility_time
from wickwatch.web.views import set_up_channels as view
from wickwatch.web.views.times import field

router = APIRouter(prefix="/set-up/{slug}/channels")

#: Channels on one page, and those offered in place of one.
_LINES, _SPARE = 50, 20

_FIVE_MINUTES = timedelta(minutes=5)


@router.get("")
def page(
    request: Request,
    call: PageCall,
    slug: str,
    show_which: Annotated[str, Query(alias="show", max_length=20)] = "",
    after: Annotated[int, Query(ge=0, le=2**31 - 1)] = 0,
    part_of: Annotated[str, Query(alias="part", max_length=10)] = "",
) -> Response:
    """Channels attached to nothing, or those in use."""
    facility = forms.managed(call, slug)
    attached = show_which == "attached"
    here = f"/set-up/{facility.slug}/channels?show={'attached' if attached else 'waiting'}"
    with call.web.connection() as conn:
        rows = pages.channels(
            conn, [facility.id], _LINES + 1, call.now, after=after, attached=attached, attachable=True
        )
        made = view.ChannelsPage(
            facility,
            attached,
            _lines(conn, call, facility, rows[:_LINES]),
            f"{here}&after={rows[_LINES - 1].id}" if len(rows) > _LINES else "",
            f"{here}&after={after}&part=channels",
            alive(conn, call),
        )
    if part_of == "channels":
        return part(request, call, "set_up_channels_part.html", made)
    return show(request, call, "set_up_channels.html", made)


@router.get("/{id}")
def channel(
    request: Request,
    call: PageCall,
    slug: str,
    id: str,
    room: Annotated[str, Query(max_length=63)] = "",
    to: Annotated[str, Query(max_length=60)] = "",
) -> Response:
    """One channel and what it could measure in a room; with `to`, the question whether that is meant."""
    return _channel_page(request, call, forms.managed(call, slug), id, room, to)


@router.post("/{id}/attach")
def attach(
    request: Request,
    call: PageCall,
    slug: str,
    id: str,
    to: Annotated[str, Form(max_length=60)],
    since: Annotated[str, Form(max_length=20)] = "",
    twin: Annotated[str, Form(max_length=5)] = "",
    form_token: FormToken = "",
) -> Response:
    """Attach a channel, from now or from a time of the facility's clock on."""
    call.check_form(form_token)
    facility = forms.managed(call, slug)
    with call.web.connection() as conn:
        row = _row(conn, call, facility, id)
        type, subject_id, subject = _subject(conn, facility, to)
    try:
        start = facility_time(since, ZoneInfo(facility.zone), call.now, _("time of attaching")) if since else call.now
        if start > call.now:
            raise InputError(_("time of attaching"), since, _("a time that has come"))
        changing.attach(call, facility, row, subject, changing.Chosen(type, subject_id, start, bool(twin)))
    except (InputError, RefusedError) as error:
        return _channel_page(request, call, facility, id, "", to, str(error))
    return go(f"/set-up/{facility.slug}/channels")


@router.post("/{id}/detach")
def detach(call: PageCall, slug: str, id: str, form_token: FormToken = "") -> Response:
    """End what a channel is attached to; what it measured stays on record."""
    call.check_form(form_token)
    facility = forms.managed(call, slug)
    with call.web.connection() as conn:
        row = _row(conn, call, facility, id)
    changing.detach(call, facility, row)
    return go(f"/set-up/{facility.slug}/channels")


def _channel_page(
    request: Request, call: Call, facility: Visible, id: str, room: str, to: str, error: str = ""
) -> Response:
    with call.web.connection() as conn:
        row = _row(conn, call, facility, id)
        rooms = stored.room_counts(conn, facility.id)
        chosen = next((one for one in rooms if one.slug == (room or row.room_slug)), rooms[0] if rooms else None)
        sure = None
        if to:
            type, subject_id, subject = _subject(conn, facility, to)
            had = assignments.holders(conn, row.quantity, [subject_id])
            now = field(call.now, ZoneInfo(facility.zone))
            sure = view.sure(subject, type, subject_id, had.get(subject_id, ""), row.quantity, now)
        spare: Sequence[ChannelRow] = []
        if row.subject_id is not None:
            spare = pages.channels(conn, [facility.id], _SPARE, call.now, attached=False, quantity=row.quantity)
        made = view.ChannelPage(
            facility,
            _lines(conn, call, facility, [row])[0],
            tuple(rooms),
            chosen.slug if chosen else "",
            _parts(conn, call, row.quantity, chosen) if chosen else (),
            sure,
            _lines(conn, call, facility, spare),
            f"{row.subject_type}:{row.subject_id}",
            error,
        )
    return show(request, call, "set_up_channel.html", made, status=422 if error else 200)


def _parts(conn: Connection, call: Call, quantity: str, room: stored.RoomCounts) -> tuple[view.Part, ...]:
    containers = pages.containers(conn, [room.id], call.now)
    reservoirs = pages.reservoirs(conn, [room.id], call.now)
    lines = pages.lines(conn, [room.id])
    ids = [room.id, *(one.id for one in containers), *(one.id for one in reservoirs), *(one.id for one in lines)]
    return view.parts_for(quantity, room, containers, reservoirs, lines, assignments.holders(conn, quantity, ids))


def _lines(conn: Connection, call: Call, facility: Visible, rows: Sequence[ChannelRow]) -> tuple[view.ChannelLine, ...]:
    end = pages.bucket_end(call.now, _FIVE_MINUTES)
    means = pages.means(conn, [row.id for row in rows], end - timedelta(days=1), end, _FIVE_MINUTES)
    return tuple(view.line(row, facility, means.get(row.id), call.now) for row in rows)


def _row(conn: Connection, call: Call, facility: Visible, id: str) -> ChannelRow:
    row = pages.channel(conn, channel_number(id), [facility.id], call.now)
    if row is None or row.quantity not in {each for found in QUANTITIES_OF.values() for each in found}:
        raise not_found(N_("channel"))
    return row


def _subject(conn: Connection, facility: Visible, to: str) -> tuple[str, UUID, SubjectRow]:
    """A part by its type and id, as a form gives it; 404 where it is not in this facility."""
    type, _bar, id = to.partition(":")
    found = pages.subject(conn, type, uuid(id, N_("part")), [facility.id]) if type in QUANTITIES_OF else None
    if found is None:
        raise not_found(N_("part"))
    return type, UUID(id), found
