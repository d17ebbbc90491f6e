"""How much was asked of people: counts, peaks, floods, and which alarms asked most.

Times in, figures out. A window of ten minutes is open at its beginning: what came exactly ten minutes ago is over.
Not here: how long answers took (`measures_times`), nor what is good (`measures_targets`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pandas as pd

#: Window of peaks and floods: IEC 62682 and ANSI/ISA-18.2 count in periods of ten minutes.
WINDOW = timedelta(minutes=10)

#: A flood begins when this many alarms came within the window, and ends when fewer than the second did (IEC 62682 and
#: ANSI/ISA-18.2 as several summaries have them; some texts print "more than 10" for the first).
FLOOD_BEGINS = 10
FLOOD_ENDS_BELOW = 5

#: How many of the most frequent alarms are listed.
MOST_FREQUENT = 10


@dataclass(frozen=True)
class Load:
    """What one person, or everybody together, was asked in a span.

    `per_day` is the mean over the span; `most_in_a_day` counts days of the facility's clock. `flood_share` is the
    share of the span spent in flood, 0 to 1.
    """

    count: int
    per_day: float
    most_in_a_day: int
    peak_10_minutes: int
    flood: timedelta
    flood_share: float


@dataclass(frozen=True)
class Frequent:
    """One kind of alarm on one thing, how often it asked, and its share of all."""

    kind: str
    subject_id: str
    subject_name: str
    count: int
    share: float


def load(at: pd.Series, start: datetime, end: datetime, zone: ZoneInfo) -> Load:
    """The load of alarms that came at these times, in [start, end).

    Times before `start` count for nothing but a flood that was going on by then.
    """
    times = sorted(one.to_pydatetime() for one in at)
    within = [one for one in times if start <= one < end]
    span = end - start
    flood = sum((min(stop, end) - max(begin, start) for begin, stop in floods(times) if stop > start), timedelta())
    days = Counter(one.astimezone(zone).date() for one in within)
    return Load(
        count=len(within),
        per_day=len(within) / (span / timedelta(days=1)),
        most_in_a_day=max(days.values(), default=0),
        peak_10_minutes=peak(within),
        flood=flood,
        flood_share=flood / span,
    )


def peak(times: Sequence[datetime]) -> int:
    """The most of these times that lie within any one window; `times` are in order."""
    return max(within_window(times, WINDOW), default=0)


def within_window(times: Sequence[datetime], window: timedelta) -> Iterator[int]:
    """At each of these times how many of those up to it lie within the window that it ends; `times` are in order."""
    first = 0
    for number, one in enumerate(times):
        while times[first] <= one - window:
            first += 1
        yield number - first + 1


def floods(times: list[datetime]) -> list[tuple[datetime, datetime]]:
    """Begin and end of each flood that these times, in order, make."""
    steps = Counter(times)
    steps.subtract(one + WINDOW for one in times)
    found: list[tuple[datetime, datetime]] = []
    count, begun = 0, None
    for moment in sorted(steps):
        count += steps[moment]
        if begun is None and count >= FLOOD_BEGINS:
            begun = moment
        elif begun is not None and count < FLOOD_ENDS_BELOW:
            found.append((begun, moment))
            begun = None
    return found


def most_frequent(asked: pd.DataFrame, most: int = MOST_FREQUENT) -> tuple[Frequent, ...]:
    """What asked most often among rows of the journal, the most frequent first; equals in the order of their names."""
    if asked.empty:
        return ()
    grouped = asked.groupby(["kind", "subject_id"], as_index=False).agg(name=("subject_name", "last"), n=("at", "size"))
    first = grouped.sort_values(["n", "kind", "name"], ascending=[False, True, True]).head(most)
    rows = zip(first["kind"], first["subject_id"], first["name"], first["n"].tolist(), strict=True)
    return tuple(Frequent(kind, subject, name, count, count / len(asked)) for kind, subject, name, count in rows)
