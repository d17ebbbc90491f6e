"""The rota as a calendar (RFC 5545) that people subscribe to: an event for each turn, or piece of one.

Times are written in UTC, so that no reader needs our time zone's rules and none can read a hand-over wrongly where the
clock changes; each reader shows them in its own zone. An event keeps its UID as long as its turn is on the rota. Not
here: who may read it (`store.rota_feed`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from icalendar import Calendar, Event

from wickwatch.alarms.rota import Rota, Span, wall, whole_turns

MEDIA_TYPE = "text/calendar"

#: How often a reader may look again. It holds what a manager changes for as long; a swap is rarely nearer.
REFRESH = timedelta(hours=1)

#: Months before and after the one that is now. Begin and end lie on months, so that an open turn's event stays the same
#: from day to day.
MONTHS_BEFORE, MONTHS_AFTER = 1, 6

_NAMESPACE = UUID("0b8f2f0e-6a0f-5d0b-8a42-4f6d3c1d9a55")
_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth")


@dataclass(frozen=True)
class Wanted:
    """Which turns: those of one facility, of one person or (None) of everybody."""

    facility_name: str
    person_id: UUID | None


def shown(now: datetime, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """Begin and end of what a calendar shows."""
    this = now.astimezone(zone).date().replace(day=1)
    first, last = _months_on(this, -MONTHS_BEFORE), _months_on(this, MONTHS_AFTER + 1)
    return wall(first, time(), zone), wall(last, time(), zone)


def calendar(rota: Rota, names: Mapping[UUID, str], wanted: Wanted, now: datetime) -> bytes:
    """The rota as an iCalendar stream; `names` are people by id, and who has none is left out.

    `rota` holds what decides over the span that `shown` tells.
    """
    start, end = shown(now, rota.zone)
    made = Calendar()
    made.add("prodid", "-//Wickwatch//Rota//EN")
    made.add("version", "2.0")
    made.add("calscale", "GREGORIAN")
    made.add("name", f"On duty at {wanted.facility_name}")
    made.add("x-wr-calname", f"On duty at {wanted.facility_name}")  # what most readers show, before RFC 7986
    made.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    for step in rota.steps:
        for span, uid in _numbered(whole_turns(rota, step, start, end)):
            name = names.get(span.person_id) if span.person_id is not None else None
            if name is not None and wanted.person_id in (None, span.person_id):
                made.add_component(_event(span, uid, name, wanted.facility_name, rota, now))
    return bytes(made.to_ical())


def _numbered(spans: tuple[Span, ...]) -> Iterator[tuple[Span, UUID]]:
    """Spans with an id each: that of their turn and which piece of it they are."""
    pieces: Counter[tuple[UUID | None, int]] = Counter()
    for span in spans:
        turn = span.source_id, span.number
        yield span, uuid5(_NAMESPACE, f"{span.source_id} {span.number} {pieces[turn]}")
        pieces[turn] += 1


def _event(span: Span, uid: UUID, name: str, place: str, rota: Rota, now: datetime) -> Event:
    event = Event()
    event.add("uid", str(uid))
    event.add("dtstamp", now.astimezone(UTC).replace(microsecond=0))
    event.add("dtstart", span.start.astimezone(UTC))
    event.add("dtend", span.end.astimezone(UTC))
    event.add("summary", f"{name}: called {_ORDINALS[span.step - 1]}, {place}")
    event.add("transp", "TRANSPARENT")  # being on duty keeps nobody from a meeting
    if span.source == "holiday":
        event.add("description", f"Stands in on a holiday: {rota.holidays.get(date.fromordinal(span.number), '')}")
    return event


def _months_on(first: date, months: int) -> date:
    """The first day of a month so many months from another's."""
    number = first.year * 12 + first.month - 1 + months
    return date(number // 12, number % 12 + 1, 1)
