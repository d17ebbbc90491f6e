"""Weeks as ISO 8601 names them, Monday to Monday by a facility's clock.

A week in which daylight saving begins or ends has 167 or 169 hours. Not here: what is told of one.
"""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from wickwatch.errors import InputError
from wickwatch.texts import _

_NAME = re.compile(r"([0-9]{4})-W([0-9]{2})")

#: No reading is from before, and weeks around a named one must still be years that a calendar knows.
_YEARS = range(1970, 2200)


def monday_of(week: str) -> date:
    """The Monday of the week of that name, such as 2026-W47.

    Raises InputError for a text that names none, such as week 53 of a year of 52.
    """
    match = _NAME.fullmatch(week)
    try:
        if match is None or int(match[1]) not in _YEARS:
            raise ValueError
        return date.fromisocalendar(int(match[1]), int(match[2]), 1)
    except ValueError:
        raise InputError(_("week"), week, _("a week as ISO 8601 writes it, such as 2026-W47")) from None


def name_of(day: date) -> str:
    """The week that a day lies in: `2026-W47`."""
    year, week, _ = day.isocalendar()
    return f"{year:04}-W{week:02}"


def week_of(at: datetime, zone: ZoneInfo) -> str:
    """The week that a time lies in, by the facility's clock."""
    return name_of(at.astimezone(zone).date())


def week_span(week: str, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """Begin and end of a week in UTC. Raises InputError for what is no week."""
    monday = monday_of(week)
    return midnight(monday, zone), midnight(monday + timedelta(days=7), zone)


def midnight(day: date, zone: ZoneInfo) -> datetime:
    """The first moment of a date in a zone, aware UTC."""
    return datetime.combine(day, time(), zone).astimezone(UTC)
