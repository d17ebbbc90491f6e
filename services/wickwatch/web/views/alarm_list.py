"""The list of alarms: those that ask for somebody, those set aside, and those that are over; with what may be answered.

Not here: one alarm's page (`alarm`), or answering (`web.act`).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlencode
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.alarms import outcome, said
from wickwatch.store.pages import AlarmRow
from wickwatch.store.people import Visible
from wickwatch.texts import N_, Words, _
from wickwatch.web.permits import allowed
from wickwatch.web.views import words
from wickwatch.web.views.state import urgency
from wickwatch.web.views.times import moment
from wickwatch.web.views.trouble import ASKING, Trouble, trouble
from wickwatch.web.views.watching import Banner

#: Which alarms: the states of each part of the list, None for those that are over.
SHOWS: Mapping[str, tuple[str, ...] | None] = {
    "active": ASKING,
    "explained": ("suppressed-by-design",),
    "shelved": ("shelved",),
    "out-of-service": ("out-of-service",),
    "history": None,
}

TITLES = Words(
    {
        "active": N_("Active"),
        "explained": N_("Explained"),
        "shelved": N_("Shelved"),
        "out-of-service": N_("Out of service"),
        "history": N_("History"),
    }
)

_EMPTY = Words(
    {
        "active": N_("No alarm asks for anybody."),
        "explained": N_("No alarm is explained by another."),
        "shelved": N_("No alarm is shelved."),
        "out-of-service": N_("No alarm is out of service."),
        "history": N_("No alarm is over yet."),
    }
)

#: States in which an alarm can be acknowledged.
ANSWERABLE = ("unacknowledged", "returned-unacknowledged")


@dataclass(frozen=True)
class Asked:
    """What a visitor asked for; empty means everything."""

    show: str = "active"
    facility: str = ""
    kind: str = ""
    priority: str = ""
    text: str = ""

    @property
    def any(self) -> bool:
        """Whether anything but a part of the list was asked for."""
        return bool(self.facility or self.kind or self.priority or self.text)

    def query(self, **other: str) -> str:
        """The same as the query of an address, with other values for some."""
        values = {**vars(self), **other}
        return urlencode({name: value for name, value in values.items() if value})


@dataclass(frozen=True)
class ListLine:
    """One alarm in the list; `until` is when it comes back by itself, `may_answer` whether the visitor may say mine."""

    trouble: Trouble
    room: str
    facility: str
    state: str
    ended: str
    until: str
    may_answer: bool


@dataclass(frozen=True)
class Tab:
    """One part of the list, with how many alarms are in it; None for the history, which is not counted."""

    show: str
    title: str
    count: int | None


@dataclass(frozen=True)
class Result:
    """What came of answering several at once: how many, and those that could not be with the reason."""

    done: int
    refused: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class ListPage:
    """The list: one part of it, filtered; `may_answer` where what may come up in it can be acknowledged."""

    asked: Asked
    tabs: tuple[Tab, ...]
    lines: tuple[ListLine, ...]
    empty: str
    next_cursor: str | None
    more: int
    facilities: tuple[Visible, ...]
    may_answer: bool
    result: Result | None
    banners: tuple[Banner, ...]

    @property
    def several(self) -> bool:
        """Whether alarms of more than one facility may be on it."""
        return len(self.facilities) > 1


def list_page(
    rows: Sequence[AlarmRow],
    asked: Asked,
    counts: Mapping[str, int],
    next_cursor: str | None,
    more: int,
    facilities: Sequence[Visible],
    banners: Sequence[Banner],
    now: datetime,
    result: Result | None = None,
) -> ListPage:
    """The page; history in the order given, everything else the most urgent first. `more` are open but not shown."""
    growers = {facility.id for facility in facilities if allowed(facility, "answer alarms")}
    ordered = rows if SHOWS[asked.show] is None else sorted(rows, key=urgency)
    tabs = [
        Tab(show, TITLES[show], None if states is None else sum(counts.get(state, 0) for state in states))
        for show, states in SHOWS.items()
    ]
    return ListPage(
        asked=asked,
        tabs=tuple(tabs),
        lines=tuple(_line(row, growers, now) for row in ordered),
        empty=_("No alarm fits these filters.") if asked.any else _EMPTY[asked.show],
        next_cursor=next_cursor,
        more=more,
        facilities=tuple(facilities),
        may_answer=bool(growers) and asked.show == "active",
        result=result,
        banners=tuple(banners),
    )


def says(row: AlarmRow, text: str) -> bool:
    """Whether a text stands in what a reader sees of an alarm, or in its message as it is stored."""
    seen = [said(row), row.message, words.KINDS[row.kind], row.subject_name, row.room_name or ""]
    return text.casefold() in " ".join(seen).casefold()


def _line(row: AlarmRow, growers: Collection[UUID], now: datetime) -> ListLine:
    zone = ZoneInfo(row.zone)
    until = row.shelved_until if row.state == "shelved" else row.out_of_service_until
    back = row.state in ("shelved", "out-of-service") and until is not None
    return ListLine(
        trouble=trouble(row, zone, now),
        room=row.room_name or "",
        facility=row.facility_name,
        state=row.state,
        ended=outcome(row.kind, row.made_of, row.outcome) or "",
        until=_("%(state)s until %(at)s", state=words.STATES[row.state], at=moment(until, zone, now).text)
        if back and until
        else "",
        may_answer=row.state in ANSWERABLE and row.facility_id in growers,
    )
