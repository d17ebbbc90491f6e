"""A person's own page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.store.access import Token
from wickwatch.store.people import Visible
from wickwatch.web.views.contacts import Contacts
from wickwatch.web.views.times import Moment, moment
from wickwatch.web.views.watching import Banner


@dataclass(frozen=True)
class TokenLine:
    """One token, without its secret."""

    id: UUID
    label: str
    made: Moment


@dataclass(frozen=True)
class MePage:
    """Roles, contacts and tokens."""

    facilities: tuple[Visible, ...]
    contacts: Contacts
    tokens: tuple[TokenLine, ...]
    banners: tuple[Banner, ...]


def page(
    facilities: Sequence[Visible],
    tokens: Sequence[Token],
    contacts: Contacts,
    banners: Sequence[Banner],
    now: datetime,
) -> MePage:
    """The page, in the zone of the first facility."""
    zone = ZoneInfo(facilities[0].zone if facilities else "UTC")
    lines = tuple(TokenLine(token.id, token.label, moment(token.created_at, zone, now)) for token in tokens)
    return MePage(tuple(facilities), contacts, lines, tuple(banners))
