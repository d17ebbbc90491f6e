"""A chart over time as shapes on a fixed plane, so that it is drawn by the server and read without a script.

Across, the plane is 1000 wide and is stretched to the page; down, a unit is a pixel. Lines are quiet; a line is given
a tone and its name only where something is wrong with it. Not here: which readings (`room`), or the SVG itself.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

WIDTH = 1000
HEIGHT = 260

#: A gap wider than this many buckets breaks the line: what was not read is not drawn.
_GAP = 3.5

#: Names beside lines keep this far [px] from one another.
_APART = 15

#: Roughly so many lines across, and down.
_STEPS_ACROSS = (3, 6, 12, 24, 24 * 5)
_MOST_ACROSS = 9
_MOST_DOWN = 6


@dataclass(frozen=True)
class Series:
    """Values of one thing; `tone` is empty, `dry`, `wet` or `silent`."""

    id: str
    name: str
    points: Sequence[tuple[datetime, float]]
    tone: str = ""


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
class Curve:
    """One line; `y_name` is where its name stands, None for a quiet one."""

    id: str
    name: str
    tone: str
    path: str
    y_name: float | None
    last: str


@dataclass(frozen=True)
class Tick:
    """One line of the grid with its label; `at` is a percentage across or pixels down.

    The label of a `spare` one is left out where there is little room.
    """

    at: float
    label: str
    major: bool = False
    spare: bool = False


@dataclass(frozen=True)
class Mark:
    """A moment, in percent across; marks that would hide one another are stacked by `row`."""

    x: float
    kind: str
    text: str
    href: str
    priority: str
    row: int


@dataclass(frozen=True)
class Chart:
    """Everything to draw; `across` and `down` are the grid, `lights` pairs of start and width in percent."""

    id: str
    title: str
    unit: str
    summary: str
    height: int
    curves: tuple[Curve, ...]
    across: tuple[Tick, ...]
    down: tuple[Tick, ...]
    lights: tuple[tuple[float, float], ...]
    band: tuple[float, float] | None
    line: float | None
    line_name: str
    marks: tuple[Mark, ...]
    low: float
    high: float
    start: datetime
    end: datetime

    @property
    def empty(self) -> bool:
        """Whether there is nothing to draw."""
        return not self.curves

    @property
    def named(self) -> bool:
        """Whether names stand beside lines, for which room is left."""
        return any(curve.y_name is not None for curve in self.curves)


@dataclass(frozen=True)
class Plan:
    """What a chart is about, apart from its values."""

    id: str
    title: str
    unit: str
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


def chart(plan: Plan, series: Sequence[Series], marks: Sequence[Marked] = ()) -> Chart:
    """A chart; series without a point are left out, the range down is widened to hold every value."""
    drawn = [one for one in series if one.points]
    values = [value for one in drawn for _, value in one.points]
    low, high = min([plan.low, *values]), max([plan.high, *values])
    down = _down(low, high, plan.height)
    low, high = min(low, down[0][0]), max(high, down[-1][0])

    def y(value: float) -> float:
        return round(plan.height * (high - value) / (high - low), 1)

    length = (plan.end - plan.start).total_seconds()

    def x(at: datetime, width: float = 100.0) -> float:
        return round(width * (at - plan.start).total_seconds() / length, 2)

    curves = [
        Curve(
            one.id,
            one.name,
            one.tone,
            _path(one.points, plan.every, lambda at: round(x(at + plan.every / 2, WIDTH), 1), y),
            y(one.points[-1][1]) if one.tone in ("dry", "wet") else None,
            f"{one.points[-1][1]:.0f}",
        )
        for one in drawn
    ]
    return Chart(
        id=plan.id,
        title=plan.title,
        unit=plan.unit,
        summary=_summary(drawn, plan.unit),
        height=plan.height,
        curves=tuple(_spread(curves, plan.height)),
        across=tuple(across(plan.start, plan.end, plan.zone)),
        down=tuple(Tick(y(value), label) for value, label in down),
        lights=tuple((x(on), round(x(off) - x(on), 2)) for on, off in plan.lights),
        band=(y(plan.band[1]), y(plan.band[0])) if plan.band else None,
        line=y(plan.line) if plan.line is not None else None,
        line_name=plan.line_name,
        marks=tuple(_marks(marks, plan, x)),
        low=low,
        high=high,
        start=plan.start,
        end=plan.end,
    )


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
                label = f"{at:%a} {at.day}" if hour == 0 else f"{at:%H:%M}"
                found.append(Tick(round(share, 2), label, hour == 0))
        day += timedelta(days=max(step // 24, 1))
    first = next((number for number, tick in enumerate(found) if tick.major), 0)
    return [replace(tick, spare=bool((number - first) % 2)) for number, tick in enumerate(found)]


def _down(low: float, high: float, height: int) -> list[tuple[float, str]]:
    """Round values down the plane, that cover it."""
    rough = max(high - low, 1e-9) / max(min(_MOST_DOWN, height // 40), 2)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(factor * power for factor in (1, 2, 2.5, 5, 10) if factor * power >= rough * 0.999)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [(number * step, f"{number * step:g}") for number in range(first, last + 1)]


def _path(
    points: Sequence[tuple[datetime, float]],
    every: timedelta,
    x: Callable[[datetime], float],
    y: Callable[[float], float],
) -> str:
    parts = []
    before: datetime | None = None
    for at, value in points:
        joined = before is not None and at - before <= _GAP * every
        parts.append(f"{'L' if joined else 'M'}{x(at):g} {y(value):g}")
        before = at
    # A point alone would have no length; a line of none with a round end shows it.
    return "".join(parts) + ("h0" if len(points) == 1 else "")


def _spread(curves: Sequence[Curve], height: int) -> list[Curve]:
    """The same curves with their names moved apart, from the top down."""
    lowest = 12.0
    placed: dict[str, float] = {}
    for curve in sorted((one for one in curves if one.y_name is not None), key=lambda one: one.y_name or 0.0):
        lowest = max(lowest, curve.y_name or 0.0)
        placed[curve.id] = round(lowest, 1)
        lowest += _APART
    over = max([*placed.values(), 0.0]) - (height - 4)
    lift = max(over, 0.0)
    return [
        Curve(one.id, one.name, one.tone, one.path, round(max(placed[one.id] - lift, 12.0), 1), one.last)
        if one.id in placed
        else one
        for one in curves
    ]


def _marks(marks: Sequence[Marked], plan: Plan, x: Callable[[datetime], float]) -> Iterable[Mark]:
    rows: list[float] = []
    for mark in sorted(marks, key=lambda one: one.at):
        if not plan.start <= mark.at <= plan.end:
            continue
        place = x(mark.at)
        row = next((number for number, taken in enumerate(rows) if place - taken >= 2.0), len(rows))
        rows[row : row + 1] = [place]
        yield Mark(place, mark.kind, mark.text, mark.href, mark.priority, min(row, 3))


def _summary(drawn: Sequence[Series], unit: str) -> str:
    """The chart in a sentence, for those who do not see it."""
    if not drawn:
        return "no readings in this time"
    last = [one.points[-1][1] for one in drawn]
    if len(drawn) == 1:
        values = [value for _, value in drawn[0].points]
        return f"{drawn[0].name}: {min(values):.0f} to {max(values):.0f} {unit}, last {last[0]:.0f} {unit}"
    abnormal = [
        f"{one.name} {one.tone} at {one.points[-1][1]:.0f} {unit}" for one in drawn if one.tone in ("dry", "wet")
    ]
    return f"{len(drawn)} lines, last values {min(last):.0f} to {max(last):.0f} {unit}" + (
        f"; {', '.join(abnormal)}" if abnormal else ""
    )
