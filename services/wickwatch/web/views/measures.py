"""How the alarms of a week served, for people. Not here: how anything is measured (`alarms.measures`)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from wickwatch.alarms.measures import Measures
from wickwatch.alarms.measures_load import Frequent
from wickwatch.alarms.measures_targets import Line, lines, person_lines
from wickwatch.alarms.measures_times import Chattering
from wickwatch.alarms.weeks import week_of, week_span
from wickwatch.store.people import Visible
from wickwatch.texts import _, date_of, ngettext
from wickwatch.web.views import words
from wickwatch.web.views.times import Moment, moment
from wickwatch.web.views.watching import Banner


@dataclass(frozen=True)
class PersonRow:
    """One person: the figures under the headings of `MeasuresPage.person_headings`."""

    name: str
    figures: tuple[Line, ...]


@dataclass(frozen=True)
class Often:
    """What asked often or chattered, and how often."""

    heading: str
    name: str
    count: str


@dataclass(frozen=True)
class Stood:
    """An alarm that stood longer than a day."""

    alarm_id: str
    heading: str
    name: str
    since: Moment
    until: Moment | None


@dataclass(frozen=True)
class MeasuresPage:
    """One week of one facility; `following` is None in the week that is now."""

    facility: Visible
    facilities: tuple[Visible, ...]
    week: str
    over: bool
    first_day: str
    last_day: str
    former: str
    following: str | None
    sentence: str
    lines: tuple[Line, ...]
    person_headings: tuple[str, ...]
    people: tuple[PersonRow, ...]
    frequent: tuple[Often, ...]
    chattering: tuple[Often, ...]
    standing: tuple[Stood, ...]
    banners: tuple[Banner, ...]


def page(
    found: Measures,
    week: str,
    facility: Visible,
    facilities: Sequence[Visible],
    banners: Sequence[Banner],
    now: datetime,
) -> MeasuresPage:
    """The page of a week."""
    zone = ZoneInfo(facility.zone)
    start, end = week_span(week, zone)
    all_lines = lines(found)
    return MeasuresPage(
        facility=facility,
        facilities=tuple(facilities),
        week=week,
        over=end <= now,
        first_day=_day(start, zone),
        last_day=_day(end - timedelta(seconds=1), zone),
        former=week_of(start - timedelta(days=1), zone),
        following=week_of(end, zone) if end <= now else None,
        sentence=_sentence(found, all_lines),
        lines=all_lines,
        person_headings=tuple(line.label for line in person_lines(found.people[0])) if found.people else (),
        people=tuple(PersonRow(each.name, person_lines(each)) for each in found.people),
        frequent=tuple(_often(e) for e in found.frequent if e.count > 1),
        chattering=tuple(_often(e) for e in found.chattering),
        standing=tuple(
            Stood(
                e.alarm_id,
                _heading(e.kind),
                e.subject_name,
                moment(e.since, zone, now),
                moment(e.until, zone, now) if e.until else None,
            )
            for e in found.standing
        ),
        banners=tuple(banners),
    )


def _sentence(found: Measures, all_lines: Sequence[Line]) -> str:
    """The week in one sentence: how much was asked, and what was more than it should be."""
    missed = [line.label for line in all_lines if line.met is False]
    asked = ngettext("%(num)s alarm asked for somebody.", "%(num)s alarms asked for somebody.", found.load.count)
    if not missed:
        return " ".join([asked, _("Nothing was more than the standards aim at.")])
    return " ".join([asked, _("More than the standards aim at: %(names)s.", names="; ".join(missed))])


def _often(each: Frequent | Chattering) -> Often:
    return Often(_heading(each.kind), each.subject_name, ngettext("%(num)s time", "%(num)s times", each.count))


def _heading(kind: str) -> str:
    return words.KINDS.get(kind, kind)


def _day(at: datetime, zone: ZoneInfo) -> str:
    return date_of(at.astimezone(zone), "wide")
