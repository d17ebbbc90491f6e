"""Calls and reports that never arrived: to whom, over which way, why, and whether trying again can help."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.store.contacts import shown
from wickwatch.store.dead_letters import Undelivered
from wickwatch.texts import _, ngettext
from wickwatch.web.views import words
from wickwatch.web.views.times import Moment, moment
from wickwatch.web.views.watching import Banner


@dataclass(frozen=True)
class Line:
    """One call that did not arrive; `why` is a sentence."""

    id: UUID
    alarm_id: UUID | None
    title: str
    facility: str
    person: str
    way: str
    where: str
    why: str
    at: Moment
    may_again: bool


@dataclass(frozen=True)
class UndeliveredPage:
    """All of them, the newest first."""

    lines: tuple[Line, ...]
    banners: tuple[Banner, ...]


def page(letters: Sequence[Undelivered], banners: Sequence[Banner], now: datetime) -> UndeliveredPage:
    """The page."""
    return UndeliveredPage(tuple(_line(letter, now) for letter in letters), tuple(banners))


def _line(letter: Undelivered, now: datetime) -> Line:
    tries = ngettext("tried %(num)s time", "tried %(num)s times", letter.tries) if letter.tries else _("never tried")
    return Line(
        id=letter.id,
        alarm_id=letter.alarm_id,
        title=letter.title,
        facility=letter.facility_name,
        person=letter.person or _("somebody who is no longer known"),
        way=words.WAYS.get(letter.way, letter.way),
        where=shown(letter.way, letter.address),
        why=" ".join([letter.detail or _("its time was over"), f"({tries})"]),
        at=moment(letter.done_at, ZoneInfo(letter.zone), now),
        may_again=letter.may_again,
    )
