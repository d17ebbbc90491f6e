"""Numbers, times and names as people read them in a message: rounded, in facility time, in the reader's units.

Not here: the sentences (`message`), nor any choice of what matters.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.fleet import Facility
from wickwatch.texts import named_day, ngettext, time_of_day, translations


def clock(moment: datetime, now: datetime, zone: ZoneInfo) -> str:
    """A moment in facility time: `05:12` on the day of `now`, else `Fri 20 Nov 05:12`.

    In an hour that daylight saving repeats, the zone's letters follow.
    """
    there, today = moment.astimezone(zone), now.astimezone(zone)
    time = time_of_day(there)
    if there.replace(fold=0).utcoffset() != there.replace(fold=1).utcoffset():
        time += f" {there:%Z}"
    if there.date() == today.date():
        return time
    return f"{named_day(there)} {time}"


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
    told = ngettext("%(num)d day", "%(num)d days", days)
    return f"{told} {hours} h" if hours else told


def of_number(tell: Callable[[float], str], value: object) -> str | None:
    """A value in words, or `None` where it is no number."""
    return None if isinstance(value, bool) or not isinstance(value, int | float) else tell(float(value))


def whole(value: object) -> int:
    """A count, 0 where there is none."""
    return 0 if isinstance(value, bool) or not isinstance(value, int | float) else max(0, int(value))


def marked(text: str) -> str:
    """A text that a detector gave, in the reader's words where the catalogue has it; as it is where not."""
    return translations().gettext(text) if text else text


def place_name(place: Facility, room_id: UUID | None) -> str:
    """What people call the room, or the facility where it is about no room."""
    return next((room.name for room in place.rooms if room.id == room_id), place.name)


def listed(*parts: str | None) -> str:
    """The parts that are there, with commas between."""
    return ", ".join(part for part in parts if part)
