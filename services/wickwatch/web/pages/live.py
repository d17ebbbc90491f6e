"""The stream of events by which a page learns that what it shows has changed. Not here: what changed (`web.live`)."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Header, Query
from fastapi.responses import StreamingResponse

from wickwatch.web.access import PageCall

router = APIRouter()


@router.get("/live")
async def events(
    call: PageCall,
    of: Annotated[str, Query(max_length=10)] = "",
    seen: Annotated[str, Query(max_length=40)] = "",
    last: Annotated[str, Header(alias="last-event-id", max_length=40)] = "",
) -> StreamingResponse:
    """Server-sent events about the facilities the visitor may see; `of=rooms` also tells of new readings."""
    stream = call.web.live.stream(list(call.facilities.values()), of == "rooms", last or seen)
    return StreamingResponse(stream, media_type="text/event-stream", headers={"Cache-Control": "no-store"})
