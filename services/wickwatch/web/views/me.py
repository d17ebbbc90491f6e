"""A person's own page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.store.access import Session
from wickwatch.store.people import Visible
from wickwatch.store.readers import Chosen
from wickwatch.store.tokens import Token
from wickwatch.texts import N_, Words
from wickwatch.web.permits import allowed
from wickwatch.web.views.contacts import Contacts
from wickwatch.web.views.fields import Field
from wickwatch.web.views.reading import own_fields
from wickwatch.web.views.times import Moment, moment
from wickwatch.web.views.watching import Banner

#: What a token is for, in words.
SCOPES = Words(
    {
        "read": N_("only read"),
        "write": N_("read, do the day's work, and bring readings in"),
        "admin": N_("do all that you may"),
    }
)

_DEVICES = Words({"phone": N_("A phone"), "computer": N_("A computer")})


@dataclass(frozen=True)
class TokenLine:
    """One token, without its secret; `may` says what it is for, `until` and `used` are None where there is no such."""

    id: UUID
    label: str
    may: str
    made: Moment
    until: Moment | None
    over: bool
    used: Moment | None


@dataclass(frozen=True)
class SessionLine:
    """One place where the person is signed in; `here` is where the page is looked at."""

    id: UUID
    device: str
    address: str
    since: Moment
    used: Moment
    here: bool


@dataclass(frozen=True)
class MePage:
    """Roles, contacts, tokens and sessions."""

    facilities: tuple[Visible, ...]
    contacts: Contacts
    tokens: tuple[TokenLine, ...]
    scopes: Mapping[str, str]
    sessions: tuple[SessionLine, ...]
    reading: tuple[Field, ...]
    may_read_audit: bool
    banners: tuple[Banner, ...]


def page(
    facilities: Sequence[Visible],
    tokens: Sequence[Token],
    sessions: Sequence[Session],
    contacts: Contacts,
    chosen: Chosen,
    banners: Sequence[Banner],
    now: datetime,
) -> MePage:
    """The page, in the zone of the first facility."""
    zone = ZoneInfo(facilities[0].zone if facilities else "UTC")

    def when(at: datetime | None) -> Moment | None:
        return None if at is None else moment(at, zone, now)

    lines = tuple(
        TokenLine(
            each.id,
            each.label,
            SCOPES[each.scope],
            moment(each.created_at, zone, now),
            when(each.expires_at),
            each.expires_at is not None and each.expires_at <= now,
            when(each.used_at),
        )
        for each in tokens
    )
    places = tuple(
        SessionLine(
            each.id,
            _DEVICES[each.device],
            each.address,
            moment(each.created_at, zone, now),
            moment(each.used_at, zone, now),
            each.here,
        )
        for each in sessions
    )
    reads = any(allowed(each, "administer") for each in facilities)
    return MePage(tuple(facilities), contacts, lines, SCOPES, places, own_fields(chosen), reads, tuple(banners))
