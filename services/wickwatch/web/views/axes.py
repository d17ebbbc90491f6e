"""What a chart's lines of time and value stand on: whole hours and midnights of the facility, light, round values.

Not here: what is drawn over them (`chart`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from wickwatch.texts import day_name, general, pgettext, spoken, time_of_day

#: Roughly so many lines across, and down.
_STEPS_ACROSS = (3, 6, 12, 24, 24 * 5)
_MOST_ACROSS = 9
_MOST_DOWN = 6


@dataclass(frozen=True)
class Tick:
    """One line of the grid with its label; `at` is a percentage across or pixels down.

    The label of a `spare` one is left out where there is little room.
    """

    at: float
    label: str
    major: bool = False
    spare: bool = False


def photoperiods(
    start: datetime, end: datetime, zone: ZoneInfo, lights_on: time, lights_off: time
) -> list[tuple[datetime, datetime]]:
    """When lights are on between two times, by the facility's wall clock; cut at both ends."""
    if lights_on == lights_off:
        return [(start, end)]
    found = []
    day = start.astimezone(zone).date() - timedelta(days=1)
    while day <= end.astimezone(zone).date():
        last = day if lights_on < lights_off else day + timedelta(days=1)
        on = datetime.combine(day, lights_on, zone).astimezone(start.tzinfo)
        off = datetime.combine(last, lights_off, zone).astimezone(start.tzinfo)
        if off > start and on < end:
            found.append((max(on, start), min(off, end)))
        day += timedelta(days=1)
    return found


def across(start: datetime, end: datetime, zone: ZoneInfo) -> list[Tick]:
    """Lines of the grid at whole hours or midnights of the facility; midnights are the major ones."""
    hours = (end - start).total_seconds() / 3600
    step = next((step for step in _STEPS_ACROSS if hours / step <= _MOST_ACROSS), _STEPS_ACROSS[-1])
    day = start.astimezone(zone).date()
    found = []
    while datetime.combine(day, time(), zone) < end:
        for hour in range(0, 24, min(step, 24)):
            at = datetime.combine(day, time(hour), zone)
            if start < at < end:
                share = 100.0 * (at - start).total_seconds() / (end - start).total_seconds()
                label = _label(at)
                found.append(Tick(round(share, 2), label, hour == 0))
        day += timedelta(days=max(step // 24, 1))
    first = next((number for number, tick in enumerate(found) if tick.major), 0)
    return [replace(tick, spare=bool((number - first) % 2)) for number, tick in enumerate(found)]


def _label(at: datetime) -> str:
    """A midnight by its day, an hour by the clock; of twelve hours without minutes, which are none."""
    if at.hour == 0:
        return pgettext("axis", "%(name)s %(day)s", name=day_name(at), day=at.day)
    text = time_of_day(at)
    return text if spoken().clock == "24h" else text.replace(":00", "")


def round_values(low: float, high: float, height: int) -> list[tuple[float, str]]:
    """Round values down the plane, that cover it."""
    rough = max(high - low, 1e-9) / max(min(_MOST_DOWN, height // 40), 2)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(factor * power for factor in (1, 2, 2.5, 5, 10) if factor * power >= rough * 0.999)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [(number * step, general(number * step)) for number in range(first, last + 1)]
