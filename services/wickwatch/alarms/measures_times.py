"""How alarms went by: how long they stood, how soon they were answered and cleared, and which came back.

Not here: how many there were (`measures_load`), nor what is good (`measures_targets`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import groupby
from statistics import median
from typing import Any
from zoneinfo import ZoneInfo

import pandas as pd

from wickwatch.alarms.measures_load import within_window
from wickwatch.alarms.weeks import midnight

#: An alarm that stands longer than this without a break is stale (ANSI/ISA-18.2 and IEC 62682: "for example 24 h").
STALE = timedelta(hours=24)

#: Chattering: it became active so often within this time. Chosen here: 3 in one minute, the usual figure for fast plant
#: signals (from memory), can't happen under delays of minutes; what this costs is a night's sleep, so a night is meant.
CHATTER_COUNT = 3
CHATTER_WITHIN = timedelta(hours=8)

#: A condition that went and is there again within this time has returned. Chosen here: a day and night of the room.
RETURN_WITHIN = timedelta(hours=24)

#: Events with which a condition becomes active, and states in which an alarm stands before people's eyes.
_ACTIVATES = ("raised", "returned")
_STANDS = ("unacknowledged", "acknowledged")

#: A person's acts, or ends, after which nobody is waited for any longer.
_SETTLED = ("acknowledged", "shelved", "out-of-service", "suppressed-by-design", "normal")


@dataclass(frozen=True)
class Times:
    """How long something took, over `count` cases; None where there was none."""

    count: int
    median: timedelta | None
    ninetieth: timedelta | None
    longest: timedelta | None


@dataclass(frozen=True)
class Answered:
    """One alarm from its first call that nobody had answered to a person's "mine"; both None while nobody said it."""

    alarm_id: str
    asked_at: datetime
    answered_at: datetime | None
    person_id: str | None


@dataclass(frozen=True)
class Standing:
    """One alarm that stood longer than `STALE`; `until` is None while it stands."""

    alarm_id: str
    kind: str
    subject_name: str
    since: datetime
    until: datetime | None


@dataclass(frozen=True)
class Chattering:
    """One kind of alarm on one thing that came again and again; `count` is the most within `CHATTER_WITHIN`."""

    kind: str
    subject_name: str
    count: int


@dataclass(frozen=True)
class Cleared:
    """One time that a condition was active and went, and whether it was there again within `RETURN_WITHIN`."""

    alarm_id: str
    active_at: datetime
    cleared_at: datetime
    came_back: bool


def times(took: Sequence[timedelta]) -> Times:
    """Median, ninetieth percentile (the least value that 90 % do not exceed) and longest of some durations."""
    if not took:
        return Times(0, None, None, None)
    ordered = sorted(took)
    ninetieth = ordered[-(-9 * len(ordered) // 10) - 1]
    return Times(len(ordered), timedelta(seconds=median(one.total_seconds() for one in took)), ninetieth, ordered[-1])


def answers(journal: pd.DataFrame) -> tuple[Answered, ...]:
    """Each time an alarm asked for somebody, and when a person answered; in the order they asked.

    Calling again before anybody answered is the same asking. What was shelved, or went by itself, was never answered;
    a "mine" without a person, as a backtest gives it, is none.
    """
    found = []
    for rows in _by_alarm(journal):
        asked: datetime | None = None
        for row in rows:
            if asked is not None and row.state in _SETTLED:
                person = row.person_id if row.event == "acknowledged" else None
                found.append(Answered(row.alarm_id, asked, _time(row) if person else None, person))
                asked = None
            elif asked is None and row.call:
                asked = _time(row)
        if asked is not None:
            found.append(Answered(rows[0].alarm_id, asked, None, None))
    return tuple(sorted(found, key=lambda one: (one.asked_at, one.alarm_id)))


def standing(journal: pd.DataFrame, start: datetime, end: datetime) -> tuple[Standing, ...]:
    """Alarms that were stale at some time in [start, end), the longest first; `end` is no later than now."""
    found = []
    for rows in _by_alarm(journal):
        for since, until in _stood(rows):
            if max(since + STALE, start) < min(until or end, end):
                found.append(Standing(rows[0].alarm_id, rows[0].kind, rows[0].subject_name, since, until))
    return tuple(sorted(found, key=lambda one: (one.since, one.alarm_id)))


def most_standing_in_a_day(found: Sequence[Standing], start: datetime, end: datetime, zone: ZoneInfo) -> int:
    """The most alarms that were stale on any one day of the facility's clock in [start, end)."""
    return max((_stale_on(found, day, start, end, zone) for day in _days(start, end, zone)), default=0)


def chattering(journal: pd.DataFrame, start: datetime, end: datetime) -> tuple[Chattering, ...]:
    """What became active `CHATTER_COUNT` times or more within `CHATTER_WITHIN`, the last of them in [start, end)."""
    active = journal[journal["event"].isin(_ACTIVATES)]
    found = []
    for (kind, _), rows in active.groupby(["kind", "subject_id"]):
        moments = [one.to_pydatetime() for one in rows["at"]]
        counts = zip(moments, within_window(moments, CHATTER_WITHIN), strict=True)
        most = max((count for one, count in counts if start <= one < end), default=0)
        if most >= CHATTER_COUNT:
            found.append(Chattering(str(kind), str(rows["subject_name"].iloc[-1]), most))
    return tuple(sorted(found, key=lambda one: (-one.count, one.kind, one.subject_name)))


def cleared(journal: pd.DataFrame, start: datetime, end: datetime) -> tuple[Cleared, ...]:
    """Conditions that went in [start, end), in that order; rows after `end` tell which came back."""
    found = []
    for _, group in journal.groupby(["kind", "subject_id"]):
        rows = list(group.itertuples())
        active: datetime | None = None
        for number, row in enumerate(rows):
            if row.event in _ACTIVATES:
                active = _time(row)
            elif row.event == "cleared" and active is not None:
                at = _time(row)
                later = (_time(each) for each in rows[number + 1 :] if each.event in _ACTIVATES)
                back = any(each - at <= RETURN_WITHIN for each in later)
                if start <= at < end:
                    found.append(Cleared(str(row.alarm_id), active, at, back))
                active = None
    return tuple(sorted(found, key=lambda one: (one.cleared_at, one.alarm_id)))


def _by_alarm(journal: pd.DataFrame) -> Iterator[list[Any]]:
    """The rows of each alarm in order."""
    ordered = journal.sort_values(["alarm_id", "version"]).itertuples()
    for _, rows in groupby(ordered, key=lambda row: row.alarm_id):
        yield list(rows)


def _stood(rows: Sequence[Any]) -> Iterator[tuple[datetime, datetime | None]]:
    """Spans in which an alarm stood without a break, its condition being there."""
    since: datetime | None = None
    for row in rows:
        if since is None and row.state in _STANDS:
            since = _time(row)
        elif since is not None and row.state not in _STANDS:
            yield since, _time(row)
            since = None
    if since is not None:
        yield since, None


def _time(row: Any) -> datetime:
    at: datetime = row.at.to_pydatetime()
    return at


def _days(start: datetime, end: datetime, zone: ZoneInfo) -> Iterator[date]:
    day = start.astimezone(zone).date()
    while day <= (end - timedelta(microseconds=1)).astimezone(zone).date():
        yield day
        day += timedelta(days=1)


def _stale_on(found: Sequence[Standing], day: date, start: datetime, end: datetime, zone: ZoneInfo) -> int:
    begin = max(start, midnight(day, zone))
    stop = min(end, midnight(day + timedelta(days=1), zone))
    return sum(max(one.since + STALE, begin) < min(one.until or stop, stop) for one in found)
