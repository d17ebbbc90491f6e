"""Numbers, times and names as people read them in a message: rounded, in facility time, with their unit.

Not here: the sentences (`message`), nor any choice of what matters.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.detect.finding import Value
from wickwatch.fleet import Facility

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def clock(moment: datetime, now: datetime, zone: ZoneInfo) -> str:
    """A moment in facility time: `05:12` on the day of `now`, else `Fri 20 Nov 05:12`.

    In an hour that daylight saving repeats, the zone's letters follow. English names on purpose, whatever the
    machine's locale: the sentences are English.
    """
    there, today = moment.astimezone(zone), now.astimezone(zone)
    time = f"{there:%H:%M}"
    if there.replace(fold=0).utcoffset() != there.replace(fold=1).utcoffset():
        time += f" {there:%Z}"
    if there.date() == today.date():
        return time
    return f"{day_name(there.date())} {time}"


def day_name(day: date) -> str:
    """A date: `Fri 20 Nov`."""
    return f"{_DAYS[day.weekday()]} {day.day} {_MONTHS[day.month - 1]}"


def lasting(span: timedelta) -> str:
    """A length of time in its two largest units: `40 s`, `25 min`, `3 h 10 min`, `2 days 4 h`."""
    seconds = max(0, round(span.total_seconds()))
    if seconds < 60:
        return f"{seconds} s"
    minutes = seconds // 60
    if minutes < 60:
        return f"{minutes} min"
    hours, minutes = divmod(minutes, 60)
    if hours < 24:
        return f"{hours} h {minutes} min" if minutes else f"{hours} h"
    days, hours = divmod(hours, 24)
    name = "day" if days == 1 else "days"
    return f"{days} {name} {hours} h" if hours else f"{days} {name}"


def number(value: Value, unit: str, digits: int = 0) -> str | None:
    """A number with its unit, or `None` where it is no number; never `-0`."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    rounded = round(float(value), digits) + 0.0
    return f"{rounded:.{digits}f} {unit}"


def count(value: Value, one: str, many: str) -> str | None:
    """A count with its noun, or `None` where there is none or it is zero."""
    if isinstance(value, bool) or not isinstance(value, int | float) or value < 1:
        return None
    return f"{int(value)} {one if int(value) == 1 else many}"


def place_name(place: Facility, room_id: UUID | None) -> str:
    """What people call the room, or the facility where it is about no room."""
    return next((room.name for room in place.rooms if room.id == room_id), place.name)


def listed(*parts: str | None) -> str:
    """The parts that are there, with commas between."""
    return ", ".join(part for part in parts if part)
