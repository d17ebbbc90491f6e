"""A week of a facility: ISO 8601, Monday to Sunday by its own clock, with the days and hours that it really had.

A week with a daylight-saving change has 167 or 169 hours, and a year has 52 or 53 weeks. Not here: what happened in it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from wickwatch.alarms.weeks import midnight, monday_of, name_of
from wickwatch.detect.clock import stamp
from wickwatch.texts import _, named_day

DAYS = 7


@dataclass(frozen=True)
class Week:
    """A week by its Monday, in a zone; `now` is given where it is not over and is looked at as far as it has come."""

    monday: date
    zone: ZoneInfo
    now: datetime | None = None

    @property
    def name(self) -> str:
        """As ISO 8601 writes it: `2026-W47`."""
        return name_of(self.monday)

    @cached_property
    def midnights(self) -> tuple[datetime, ...]:
        """Beginnings of its seven days and the end of the last, aware UTC, eight in all."""
        return tuple(midnight(self.monday + timedelta(days=day), self.zone) for day in range(DAYS + 1))

    @property
    def start(self) -> datetime:
        """Its first moment, aware UTC."""
        return self.midnights[0]

    @property
    def end(self) -> datetime:
        """The first moment after it, aware UTC."""
        return self.midnights[-1]

    @property
    def until(self) -> datetime:
        """Until when it is looked at: its end, or now."""
        return self.end if self.now is None else min(self.end, self.now)

    @property
    def hours(self) -> float:
        """Hours that are looked at: 168, one more or less where the clocks change, fewer where it is not over."""
        return (self.until - self.start) / timedelta(hours=1)

    @property
    def dates(self) -> tuple[date, ...]:
        """Its seven dates."""
        return tuple(self.monday + timedelta(days=day) for day in range(DAYS))

    @property
    def days(self) -> tuple[str, ...]:
        """Its days as people read them: `Mon 16 Nov`."""
        return tuple(named_day(each) for each in self.dates)

    @property
    def span(self) -> str:
        """Its first and last day: `Mon 16 Nov to Sun 22 Nov 2026`."""
        return _("%(first)s to %(last)s %(year)d", first=self.days[0], last=self.days[-1], year=self.dates[-1].year)

    def earlier(self, weeks: int) -> Week:
        """The week so many weeks before; itself for none."""
        return self if not weeks else Week(self.monday - timedelta(weeks=weeks), self.zone)

    def day_of(self, times: NDArray[np.datetime64]) -> NDArray[np.int64]:
        """Day 0 to 6 of each time (datetime64, UTC); -1 before the week and 7 after it."""
        edges = np.array([stamp(each) for each in self.midnights])
        return np.asarray(np.searchsorted(edges, times, side="right") - 1)


def parse(name: str, zone: ZoneInfo) -> Week:
    """The week of that name. Raises InputError for a text that names none."""
    return Week(monday_of(name), zone)


def last_complete(now: datetime, zone: ZoneInfo) -> Week:
    """The newest week that is over in a zone."""
    today = now.astimezone(zone).date()
    return Week(today - timedelta(days=today.weekday() + DAYS), zone)
