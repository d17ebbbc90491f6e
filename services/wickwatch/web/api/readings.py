"""Readings: raw or in buckets, and a SenML pack over HTTP."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated, Any, cast

from fastapi import APIRouter, Depends, Query, Request

from wickwatch.errors import InputError
from wickwatch.ingest import take
from wickwatch.store import audit, pages
from wickwatch.store import readings as stored
from wickwatch.store.connect import Connection
from wickwatch.store.pages import ChannelRow
from wickwatch.web.access import ApiCall, Call
from wickwatch.web.api import models, shapes
from wickwatch.web.api.channels import Quantity
from wickwatch.web.api.fields import CursorText, Limit, Moment, Slug, cursor_moment, pack, unpack
from wickwatch.web.problems import RESPONSES, Fault, ProblemError, not_found

router = APIRouter(tags=["readings"])

#: Looked back on where no start is given.
_DAY = timedelta(days=1)

_EVERY_MOST_S = 366 * 86400


#: A pack of ten thousand records fits.
PACK_MOST_BYTES = 2 * 1024 * 1024

_PACK_BODY = {
    "requestBody": {
        "required": True,
        "content": {
            "application/senml+json": {"schema": {"type": "array", "items": {"type": "object"}}},
            "application/senml+cbor": {"schema": {"type": "string", "format": "binary"}},
        },
    }
}

_PACK_RESPONSES: dict[int | str, dict[str, Any]] = {
    status: RESPONSES[422] | {"description": description}
    for status, description in {413: "The pack is too long", 415: "Not SenML by its content type"}.items()
}


@router.get("/readings")
def list_readings(
    call: ApiCall,
    channel: Annotated[str, Query(min_length=1, max_length=300, description="id of a channel, or its name")],
    from_: Annotated[Moment | None, Query(alias="from", description="a day before `to` where it is not given")] = None,
    to: Annotated[Moment | None, Query(description="not included; now where it is not given")] = None,
    every: Annotated[
        int | None, Query(ge=1, le=_EVERY_MOST_S, description="width of buckets in seconds, counted from 1970")
    ] = None,
    facility: Annotated[Slug | None, Query(description="slug; where a name is known in more than one")] = None,
    limit: Limit = 1000,
    cursor: CursorText = None,
) -> models.ReadingPage:
    """Readings of one channel, oldest first."""
    end = to or call.now
    start = from_ or end - _DAY
    if start >= end:
        raise InputError("from", start.isoformat(), "a time before `to`")
    after = cursor_moment(unpack(cursor, 1)[0], cursor) if cursor else start
    with call.web.connection() as conn:
        row = _channel(conn, call, channel, facility)
        width = timedelta(seconds=every) if every else None
        found = stored.series(conn, row.id, max(start, after), end, width)
    count = min(limit, len(found.at))
    times = [shapes.from_numpy(at) for at in found.at[:count]]
    items: list[models.Reading] | list[models.Bucket]
    if width is None:
        items = [models.Reading(at=at, value=float(value)) for at, value in zip(times, found.mean, strict=False)]
    else:
        columns = zip(times, found.low, found.mean, found.high, found.n, strict=False)
        items = [
            models.Bucket(at=at, min=float(low), mean=float(mean), max=float(high), count=int(n))
            for at, low, mean, high, n in columns
        ]
    more = pack(shapes.from_numpy(found.at[count]).isoformat()) if len(found.at) > count else None
    return models.ReadingPage(
        channel=str(row.id),
        name=row.name,
        quantity=cast(Quantity, row.quantity),
        unit=row.unit,
        to=end,
        every_s=every,
        items=items,
        next_cursor=more,
        **{"from": start},
    )


#: Programs that know no SenML media type say what it looks like.
_ALIKE = {"application/json": "application/senml+json", "application/cbor": "application/senml+cbor"}


async def _pack_body(request: Request) -> bytes:
    """The body, no longer than a pack may be."""
    body = bytearray()
    async for chunk in request.stream():
        body += chunk
        if len(body) > PACK_MOST_BYTES:
            raise ProblemError(413, f"a pack of more than {PACK_MOST_BYTES} bytes; send several")
    return bytes(body)


@router.post("/readings", responses=_PACK_RESPONSES, openapi_extra=_PACK_BODY)
def add_readings(
    request: Request,
    call: ApiCall,
    body: Annotated[bytes, Depends(_pack_body)],
    facility: Annotated[Slug, Query(description="slug")],
    gateway: Annotated[Slug, Query(description="slug of the gateway that stands for the sender")],
) -> models.Taken:
    """Take a SenML pack in by the same rules as over MQTT; what can't be taken goes to quarantine."""
    place = call.facility(facility)
    call.require(place.id, "send readings")
    given = request.headers.get("content-type", "")
    media_type = _ALIKE.get(given.partition(";")[0].strip().lower(), given)
    if media_type.partition(";")[0].strip().lower() not in _ALIKE.values():
        raise ProblemError(415, f"content type {given[:100] or 'missing'}; accepted: {' or '.join(_ALIKE.values())}")
    with call.web.connection() as conn:
        taken = take(conn, place.slug, gateway, body, media_type, call.now)
        kept = {"stored": taken.stored, "duplicates": taken.duplicates, "conflicts": taken.conflicts}
        if any(kept.values()):
            audit.note(conn, place.id, "reading", gateway, kept)
    if taken.rejected and not any(kept.values()):
        faults = [Fault(thing=each.reason, detail=each.detail) for each in taken.rejected]
        raise ProblemError(422, f"nothing of this pack could be taken: {faults[0].detail}", errors=faults)
    return models.Taken(
        stored=taken.stored,
        duplicates=taken.duplicates,
        conflicts=taken.conflicts,
        rejected=[
            models.Rejected(reason=each.reason, detail=each.detail, records=each.records) for each in taken.rejected
        ],
    )


def _channel(conn: Connection, call: Call, wanted: str, facility: str | None) -> ChannelRow:
    """A channel by id or name; 404 where none may be seen."""
    ids = [call.facility(facility).id] if facility else call.facility_ids
    if "\0" in wanted:
        raise not_found("channel")
    if wanted.isascii() and wanted.isdigit():
        row = pages.channel(conn, int(wanted), ids, call.now) if len(wanted) < 10 else None
        found = [row] if row else []
    else:
        found = pages.channels_named(conn, wanted, ids, call.now)
    if not found:
        raise not_found("channel")
    if len(found) > 1:
        known = ", ".join(row.facility_slug for row in found)
        raise InputError("channel", wanted, f"a name with facility={known}")
    return found[0]
