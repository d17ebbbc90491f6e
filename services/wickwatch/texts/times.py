"""Times of day, days and dates as the reader writes them; the caller brings a time into the facility's zone.

Not here: what is said of a time (yesterday, 3 min ago).
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, time
from functools import cache
from typing import Literal

from babel import Locale

from wickwatch.texts.catalogue import pgettext
from wickwatch.texts.choices import spoken

Width = Literal["abbreviated", "wide"]


def time_of_day(at: datetime | time, *, seconds: bool = False) -> str:
    """A time by the clock: 14:05, or 2:05 pm."""
    behind = f"{at:%M:%S}" if seconds else f"{at:%M}"
    if spoken().clock == "24h":
        return f"{at.hour:02d}:{behind}"
    told = f"{(at.hour - 1) % 12 + 1}:{behind}"
    return pgettext("clock", "%(time)s am", time=told) if at.hour < 12 else pgettext("clock", "%(time)s pm", time=told)


def day_name(day: date, width: Width = "abbreviated") -> str:
    """A day of the week: Mon."""
    return _days(spoken().language, width)[day.weekday()]


def day_of(day: date, width: Width = "abbreviated") -> str:
    """A day of some month: 3 Nov."""
    month = _months(spoken().language, width)[day.month]
    return pgettext("date", "%(day)d %(month)s", day=day.day, month=month)


def named_day(day: date) -> str:
    """The same with its day of the week: Mon 3 Nov."""
    return pgettext("date", "%(weekday)s %(day)s", weekday=day_name(day), day=day_of(day))


def date_of(day: date, width: Width = "abbreviated") -> str:
    """A day of some year: 3 Nov 2025."""
    month = _months(spoken().language, width)[day.month]
    return pgettext("date", "%(day)d %(month)s %(year)d", day=day.day, month=month, year=day.year)


@cache
def _days(language: str, width: Width) -> Mapping[int, str]:
    return Locale.parse(language).days["stand-alone"][width]  # type: ignore[no-any-return]


@cache
def _months(language: str, width: Width) -> Mapping[int, str]:
    return Locale.parse(language).months["stand-alone"][width]  # type: ignore[no-any-return]
