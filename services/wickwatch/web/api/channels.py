"""Channels: what was heard, and what it is attached to, from when."""

from __future__ import annotations

from typing import Annotated, Literal, cast

from fastapi import APIRouter, Query
from pydantic import Field

from wickwatch.store import assignments as stored
from wickwatch.store import pages
from wickwatch.store.pages import ChannelRow
from wickwatch.web.access import ApiCall, Call
from wickwatch.web.api import models, shapes
from wickwatch.web.api.fields import Body, CursorText, Limit, Moment, Slug, channel_number, pack, unpack, uuid
from wickwatch.web.problems import conflict, not_found

router = APIRouter(tags=["channels"])

Quantity = Literal["tension", "level", "temperature", "humidity", "flow", "battery"]

_TAKEN = conflict("It overlaps another attachment")


class NewAssignment(Body):
    """What a channel measures from some time on; without a subject, nothing."""

    type: Literal["container", "reservoir", "line", "room"] | None = None
    id: str | None = Field(default=None, max_length=36, description="id of the container, reservoir, line or room")
    from_: Moment | None = Field(
        default=None, alias="from", description="now where it is not given; history stays as it was"
    )
    twin: bool = Field(default=False, description="a second probe beside the one that counts")


@router.get("/channels")
def list_channels(
    call: ApiCall,
    facility: Annotated[Slug | None, Query(description="slug; only channels of this facility")] = None,
    attached: Annotated[bool | None, Query(description="false: only those attached to nothing")] = None,
    quantity: Quantity | None = None,
    limit: Limit = 100,
    cursor: CursorText = None,
) -> models.ChannelPage:
    """Channels the caller may see, in the order they were first heard."""
    wanted = [call.facility(facility).id] if facility else call.facility_ids
    after = channel_number(unpack(cursor, 1)[0]) if cursor else 0
    with call.web.connection() as conn:
        rows = pages.channels(conn, wanted, limit + 1, call.now, after=after, attached=attached, quantity=quantity)
    more = pack(str(rows[limit - 1].id)) if len(rows) > limit else None
    return models.ChannelPage(items=[_shape(row) for row in rows[:limit]], next_cursor=more)


@router.put("/channels/{id}/assignment", responses=_TAKEN)
def assign(call: ApiCall, id: str, body: NewAssignment) -> models.Channel:
    """Attach a channel from some time on, or detach it; what it measured before stays on record."""
    with call.web.connection() as conn:
        row = _find(call, pages.channel(conn, channel_number(id), call.facility_ids, call.now))
        call.require(row.facility_id, "set up")
        start = body.from_ or call.now
        if body.type is None or body.id is None:
            stored.detach(conn, row.id, start)
        else:
            subject = pages.subject(conn, body.type, uuid(body.id, body.type), [row.facility_id])
            if subject is None:
                raise not_found(body.type)
            stored.attach(conn, row.id, body.type, uuid(body.id, body.type), start, twin=body.twin)
        after = _find(call, pages.channel(conn, row.id, call.facility_ids, max(start, call.now)))
    return _shape(after)


def _find(call: Call, row: ChannelRow | None) -> ChannelRow:
    if row is None:
        raise not_found("channel")
    return row


def _shape(row: ChannelRow) -> models.Channel:
    attached = None
    if row.subject_type is not None and row.since is not None:
        attached = models.Assignment(
            type=cast(Literal["container", "reservoir", "line", "room"], row.subject_type),
            id=str(row.subject_id),
            name=row.subject_name or "",
            room=row.room_slug or "",
            twin=bool(row.twin),
            **{"from": shapes.as_utc(row.since)},
        )
    return models.Channel(
        id=str(row.id),
        name=row.name,
        facility=row.facility_slug,
        quantity=cast(Quantity, row.quantity),
        unit=row.unit,
        gateway=row.gateway_slug,
        interval_s=row.interval_s,
        first_heard_at=shapes.as_utc(row.first_heard_at),
        last_value=row.last_value,
        last_at=shapes.utc(row.last_at),
        conflicts=row.conflicts,
        assignment=attached,
    )
