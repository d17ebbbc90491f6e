"""Times and spans as people say them, in the facility's zone. Not here: times for programs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo


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
    clock = f"{local:%H:%M}"
    if days == 0:
        text = clock
    elif days in (-1, 1):
        text = f"{'yesterday' if days < 0 else 'tomorrow'} {clock}"
    elif abs(days) < 7:
        text = f"{local:%a} {clock}"
    elif abs(days) < 300:
        text = f"{local.day} {local:%b} {clock}"
    else:
        text = f"{local.day} {local:%b %Y}"
    iso = at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    return Moment(text, iso, f"{local:%A} {local.day} {local:%B %Y} {local:%H:%M:%S} {local:%Z} ({zone.key})")


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
    return f"{round(seconds / 86400)} days"


def ago(at: datetime, now: datetime) -> str:
    """How long ago, for what was heard: just now, 3 min ago."""
    past = now - at
    return "just now" if past < timedelta(seconds=90) else f"{span(past)} ago"
