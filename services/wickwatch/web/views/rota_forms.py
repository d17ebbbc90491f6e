"""What the forms of the rota page offer. Not here: what the page shows (`rota`), nor reading what was sent."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.alarms.duty import ANSWER_WITHIN
from wickwatch.alarms.rota import Rota
from wickwatch.alarms.rota_holidays import countries
from wickwatch.store.colleagues import Colleague
from wickwatch.store.quiet_hours import QuietHours
from wickwatch.store.rota import Turn
from wickwatch.store.rota_feed import Feed
from wickwatch.store.rota_plan import Keeping
from wickwatch.texts import _, country, named_day
from wickwatch.web.views.rota import called_heading, ordinal
from wickwatch.web.views.times import Moment, field, moment

#: Places of a round that a form offers; more turns are given by a second form, or by a program.
PLACES = 6
#: Steps that a form offers, at least; one more than are in use.
STEPS = 3


@dataclass(frozen=True)
class StepField:
    """One step with its minutes to answer."""

    step: int
    label: str
    heading: str
    minutes: int


@dataclass(frozen=True)
class TurnLine:
    """One turn by date."""

    id: UUID
    label: str
    name: str
    start: Moment
    end: Moment | None


@dataclass(frozen=True)
class FeedLine:
    """One address of the calendar; `may_end` tells whether the visitor may end it."""

    id: UUID
    whose: str
    maker: str
    made: Moment
    may_end: bool


@dataclass(frozen=True)
class Forms:
    """What can be chosen, and what stands there now. Days and times are by the facility's clock."""

    people: tuple[Colleague, ...]
    steps: tuple[StepField, ...]
    places: tuple[int, ...]
    next_monday: str
    now: str
    turns: tuple[TurnLine, ...]
    countries: Mapping[str, str]
    keeping: Keeping | None
    holidays: tuple[str, ...]
    quiet: QuietHours | None
    feeds: tuple[FeedLine, ...]


def forms(
    rota: Rota,
    people: Sequence[Colleague],
    turns: Sequence[Turn],
    waits: Mapping[int, timedelta],
    keeping: Keeping | None,
    holidays: Mapping[date, str],
    quiet: QuietHours | None,
    feeds: Sequence[Feed],
    visitor_id: UUID,
    may_edit: bool,
    now: datetime,
) -> Forms:
    """The forms of a facility's rota; `may_edit` are those who may change everything."""
    zone = rota.zone
    today = now.astimezone(zone).date()
    monday = today + timedelta(days=7 - today.weekday())
    highest = min(max((STEPS, *(step + 1 for step in rota.steps))), 9)
    return Forms(
        people=tuple(people),
        steps=tuple(
            StepField(
                step, ordinal(step), called_heading(step), round(waits.get(step, ANSWER_WITHIN) / timedelta(minutes=1))
            )
            for step in range(1, highest + 1)
        ),
        places=tuple(range(1, PLACES + 1)),
        next_monday=monday.isoformat(),
        now=field(now, zone),
        turns=tuple(_turn(each, zone, now) for each in turns),
        countries=dict(sorted(((code, country(code)) for code in countries()), key=lambda each: each[1])),
        keeping=keeping,
        holidays=tuple(f"{named_day(day)}: {name}" for day, name in holidays.items()),
        quiet=quiet,
        feeds=tuple(
            FeedLine(
                each.id,
                each.person or _("everybody"),
                each.maker,
                moment(each.created_at, zone, now),
                may_edit or each.made_by == visitor_id,
            )
            for each in feeds
        ),
    )


def _turn(each: Turn, zone: ZoneInfo, now: datetime) -> TurnLine:
    end = moment(each.end, zone, now) if each.end else None
    return TurnLine(each.id, ordinal(each.step), each.name, moment(each.start, zone, now), end)
