"""What a chart is about before it is drawn: its plane, lines, moments marked on it, and what comes next.

Not here: shapes (`chart`), or numbers for a script (`chart_data`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

import numpy as np

from wickwatch.agronomy.arrays import Floats
from wickwatch.web.views.axes import round_values

HEIGHT = 260


@dataclass(frozen=True)
class Series:
    """Values of one thing, one for each of a plan's buckets (T,), NaN where none; `tone` is empty, `dry`, `wet` or
    `silent`.
    """

    id: str
    name: str
    values: Floats
    tone: str = ""

    @property
    def heard(self) -> Floats:
        """The values that are there, oldest first."""
        return self.values[np.isfinite(self.values)]


@dataclass(frozen=True)
class Marked:
    """A moment marked on a chart: an alarm raised, or work done."""

    at: datetime
    kind: str
    text: str
    href: str = ""
    priority: str = ""
    subject_id: UUID | None = None


@dataclass(frozen=True)
class Ahead:
    """What comes next at the present rate: points of time, value, and the low and high end of its interval.

    `said` is the same in words. One that is `told` is drawn among all lines, any other only where its line is alone.
    """

    id: str
    points: Sequence[tuple[datetime, float, float, float]]
    said: str
    told: bool


@dataclass(frozen=True)
class Plan:
    """What a chart is about, apart from its values; it goes on for `ahead` after its end.

    Values are in `unit`, as the reader chose, and are read with so many `digits` after the point.
    """

    id: str
    title: str
    unit: str
    digits: int
    start: datetime
    end: datetime
    every: timedelta
    zone: ZoneInfo
    low: float
    high: float
    lights: Sequence[tuple[datetime, datetime]] = ()
    band: tuple[float, float] | None = None
    line: float | None = None
    line_name: str = ""
    height: int = HEIGHT
    ahead: timedelta = timedelta()

    @property
    def until(self) -> datetime:
        """Where the plane ends."""
        return self.end + self.ahead


@dataclass(frozen=True)
class Down:
    """The range of a plane from its bottom to its top, and the round values in it, each with its label."""

    low: float
    high: float
    ticks: Sequence[tuple[float, str]]


def scale_down(plan: Plan, series: Sequence[Series]) -> Down:
    """The range of a plane, widened to round values that hold every value of the lines."""
    heard = [one.heard for one in series]
    values = np.concatenate([[plan.low, plan.high], *heard])
    ticks = round_values(float(values.min()), float(values.max()), plan.height)
    return Down(min(plan.low, ticks[0][0]), max(plan.high, ticks[-1][0]), ticks)
