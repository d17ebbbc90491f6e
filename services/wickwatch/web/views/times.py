"""Times and spans as people say them, in the facility's zone. Not here: times for programs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from wickwatch.texts import _, date_of, day_name, day_of, ngettext, time_of_day


@dataclass(frozen=True)
class Moment:
    """One time for a page: `text` for people, `iso` for the element, `full` with date and zone for the curious."""

    text: str
    iso: str
    full: str


def moment(at: datetime, zone: ZoneInfo, now: datetime) -> Moment:
    """A time as it is said today: 14:05, yesterday 14:05, Mon 14:05, 3 Nov 14:05, 3 Nov 2025."""
    local, today = at.astimezone(zone), now.astimezone(zone)
    days = (local.date() - today.date()).days
    clock = time_of_day(local)
    if days == 0:
        text = clock
    elif days in (-1, 1):
        text = _("yesterday %(time)s", time=clock) if days < 0 else _("tomorrow %(time)s", time=clock)
    elif abs(days) < 7:
        text = f"{day_name(local)} {clock}"
    elif abs(days) < 300:
        text = f"{day_of(local)} {clock}"
    else:
        text = date_of(local)
    iso = at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    day = f"{day_name(local, 'wide')} {date_of(local, 'wide')}"
    return Moment(text, iso, f"{day} {time_of_day(local, seconds=True)} {local:%Z} ({zone.key})")


def field(at: datetime, zone: ZoneInfo) -> str:
    """A time by the facility's clock as a form field writes it."""
    return f"{at.astimezone(zone):%Y-%m-%dT%H:%M}"


def span(length: timedelta) -> str:
    """A length of time, rounded to what matters: 40 s, 25 min, 5 h, 3 days."""
    seconds = abs(length.total_seconds())
    if seconds < 90:
        return f"{round(seconds)} s"
    if seconds < 90 * 60:
        return f"{round(seconds / 60)} min"
    if seconds < 36 * 3600:
        return f"{round(seconds / 3600)} h"
    return ngettext("%(num)s day", "%(num)s days", round(seconds / 86400))


def ago(at: datetime, now: datetime) -> str:
    """How long ago, for what was heard: just now, 3 min ago."""
    return _("just now") if now - at < timedelta(seconds=90) else past(now - at)


def past(length: timedelta) -> str:
    """A length of time that has gone by: 40 s ago, 3 days ago."""
    if length < timedelta(hours=36):
        return _("%(span)s ago", span=span(length))
    return ngettext("%(num)s day ago", "%(num)s days ago", round(length / timedelta(days=1)))
