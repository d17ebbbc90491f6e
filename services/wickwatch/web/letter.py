"""A visitor who comes by the signed link of a notice: that person, that alarm, and nothing else.

The link is checked anew at each request: it ends with its time, with the person's account, and with their role in the
facility. No cookie is involved, so there is nothing another site could make a browser send. Not here: how links are
made (`notify.links`), or the pages (`web.pages.answer`).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from fastapi import Depends, Request

from wickwatch.notify import links
from wickwatch.store import access as stored
from wickwatch.store import pages, people, readers
from wickwatch.store.pages import AlarmRow
from wickwatch.texts import N_, _, speak
from wickwatch.web.access import Call, context, writing
from wickwatch.web.problems import ProblemError, not_found


@dataclass(frozen=True)
class Letter:
    """One request by a link; `call` sees the one facility, `until` is when the link ends."""

    token: str
    call: Call
    alarm: AlarmRow
    until: datetime

    @property
    def path(self) -> str:
        """Where the link leads."""
        return f"/a/{self.token}"


def letter(request: Request, token: str) -> Letter:
    """The visitor; 404 for a link that is not ours or no longer anybody's, 410 for one that is over."""
    web = context(request)
    now = web.clock()
    link = links.read(web.settings.secret_key, token)
    if link is None:
        raise not_found(N_("alarm"))
    with web.connection() as conn:
        holder = stored.by_person(conn, link.person_id)
        visible = people.facilities_of(conn, link.person_id) if holder else []
        row = pages.alarm(conn, link.alarm_id, [each.id for each in visible])
        if holder is not None and row is not None:
            speak(readers.of_person(conn, holder.person_id, row.facility_id))
    if holder is None or row is None:
        raise not_found(N_("alarm"))
    if now >= link.until:
        raise ProblemError(410, _("this link is over; sign in to see the alarm, or open it from a newer message"))
    here = {each.id: each for each in visible if each.id == row.facility_id}
    # Forms are bound to the link as they are to a session elsewhere; no session's secret begins with these letters.
    if request.method not in ("GET", "HEAD"):
        web = writing(request, "link", holder)
    call = Call(web, holder.person_id, holder.name, here, f"link {token}", now)
    return Letter(token, call, row, link.until)


ByLink = Annotated[Letter, Depends(letter)]
