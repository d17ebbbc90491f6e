"""Numbers and times as a report writes them: rounded, with their unit, and a word where there is nothing to write.

Not here: sentences.
"""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from wickwatch.alarms.words import day_name
from wickwatch.detect.clock import moment

#: Stands where nothing was measured; a gap must not look like a zero.
UNKNOWN = "not known"


def number(value: float, digits: int = 0, unit: str = "") -> str:
    """A number with its unit; never `-0`."""
    if not np.isfinite(value):
        return UNKNOWN
    shown = f"{round(float(value), digits) + 0.0:,.{digits}f}".replace("-", "−")
    return f"{shown} {unit}".rstrip()


def signed(value: float, digits: int = 0, unit: str = "") -> str:
    """A number with its sign."""
    if not np.isfinite(value):
        return UNKNOWN
    rounded = round(float(value), digits) + 0.0
    sign = "+" if rounded > 0 else "−" if rounded < 0 else "±"
    return f"{sign}{number(abs(rounded), digits, unit)}"


def between(low: float, high: float, digits: int = 0) -> str:
    """An interval."""
    return f"{number(low, digits)} to {number(high, digits)}" if np.isfinite(low) and np.isfinite(high) else UNKNOWN


def percent(share: float, digits: int = 1) -> str:
    """A share 0 to 1 in per cent."""
    return number(100.0 * share, digits, "%")


def day_and_time(at: datetime | np.datetime64, zone: ZoneInfo) -> str:
    """A moment in the facility's time: `Tue 24 Nov 06:30`."""
    there = (moment(at) if isinstance(at, np.datetime64) else at).astimezone(zone)
    return f"{day_name(there.date())} {there:%H:%M}"


def day(at: datetime, zone: ZoneInfo) -> str:
    """The day of a moment in the facility's time."""
    return day_name(at.astimezone(zone).date())


def counted(number_of: int, one: str, many: str) -> str:
    """A count with its noun."""
    return f"{number_of:,} {one if number_of == 1 else many}"


def kind(name: str) -> str:
    """A kind of alarm or work in words: `sudden wetting`."""
    return name.replace("-", " ")


def listed(names: list[str], most: int = 6) -> str:
    """Names in a row, and how many more."""
    shown = ", ".join(names[:most])
    return f"{shown} and {len(names) - most} more" if len(names) > most else shown
