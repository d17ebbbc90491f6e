"""The list of weekly reports. Not here: what a report says, which another process makes (`report`)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.alarms.weeks import week_of
from wickwatch.store.people import Visible
from wickwatch.store.reports import Report, Underway
from wickwatch.texts import N_, Words, _, grouped, named_day, ngettext, number, volume_unit
from wickwatch.web.permits import allowed
from wickwatch.web.views.times import Moment, moment
from wickwatch.web.views.watching import Banner

#: What a file is called on the page, by how its name ends; in the order they are shown.
_FORMS = Words(
    {
        ".html": N_("Read it"),
        "-a4.pdf": N_("PDF, A4"),
        "-letter.pdf": N_("PDF, Letter"),
        "-csv.zip": N_("Tables as CSV"),
        "-parquet.zip": N_("Tables as Parquet"),
    }
)


@dataclass(frozen=True)
class Link:
    """One file of a report."""

    name: str
    href: str


@dataclass(frozen=True)
class Line:
    """One week's report: its figures in a sentence, its files, until when its data reached."""

    week: str
    days: str
    sentence: str
    links: tuple[Link, ...]
    made: Moment
    reached: Moment | None
    edition: int
    being_made: bool


@dataclass(frozen=True)
class Making:
    """A report under way, or one that could not be made (`failure`)."""

    week: str
    doing: str
    percent: int
    failure: str | None


@dataclass(frozen=True)
class ReportsPage:
    """The reports of one facility."""

    facility: Visible
    facilities: tuple[Visible, ...]
    lines: tuple[Line, ...]
    making: tuple[Making, ...]
    this_week: str
    subscribed: bool
    reachable: bool
    may_order: bool
    every_s: int
    banners: tuple[Banner, ...]


def page(
    facility: Visible,
    facilities: Sequence[Visible],
    reports: Sequence[Report],
    underway: Sequence[Underway],
    mine: tuple[bool, bool],
    banners: Sequence[Banner],
    now: datetime,
) -> ReportsPage:
    """The page; `mine` tells whether the visitor is sent these reports, and whether they can be reached at all."""
    zone = ZoneInfo(facility.zone)
    open_weeks = {each.week for each in underway if each.failure is None}
    return ReportsPage(
        facility=facility,
        facilities=tuple(facilities),
        lines=tuple(_line(each, zone, now, each.week in open_weeks) for each in reports),
        making=tuple(_making(each) for each in underway),
        this_week=week_of(now, zone),
        subscribed=mine[0],
        reachable=mine[1],
        may_order=allowed(facility, "order reports"),
        every_s=3 if open_weeks else 30,
        banners=tuple(banners),
    )


def _line(report: Report, zone: ZoneInfo, now: datetime, being_made: bool) -> Line:
    first, last = report.starts_at.astimezone(zone), (report.ends_at - report.ends_at.resolution).astimezone(zone)
    return Line(
        week=report.week,
        days=_("%(first)s to %(last)s", first=named_day(first), last=named_day(last)),
        sentence=_sentence(report.figures["facility"]),
        links=_links(report.id, report.files),
        made=moment(report.made_at, zone, now),
        reached=moment(report.reached_at, zone, now) if report.reached_at is not None else None,
        edition=report.edition,
        being_made=being_made,
    )


def _links(id: UUID, files: Sequence[str]) -> tuple[Link, ...]:
    return tuple(
        Link(text, f"/reports/{id}/{name}") for end, text in _FORMS.items() for name in files if name.endswith(end)
    )


def _sentence(figures: Mapping[str, Any]) -> str:
    band, water, complete = (figures.get(name) for name in ("in_band_percent", "water_l", "complete_percent"))
    parts = [
        _("no tension measured") if band is None else _("%(share)s %% in band", share=number(band, 1)),
        _("no level measured")
        if water is None
        else _("%(amount)s %(unit)s of water", amount=grouped(volume_unit().shown(water)), unit=volume_unit().name),
        ngettext("%(num)s alarm", "%(num)s alarms", figures["alarms"]),
    ]
    if complete is not None and complete < 94.0:
        parts.append(_("%(share)s %% of the data", share=number(complete)))
    return ", ".join(parts)


def _making(each: Underway) -> Making:
    begun = each.doing or (N_("beginning") if each.taken else N_("waiting to be made"))
    return Making(each.week, _(begun), round(100 * each.share), _(each.failure) if each.failure else None)
