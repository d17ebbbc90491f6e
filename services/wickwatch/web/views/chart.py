"""A chart over time as shapes on a fixed plane, so that it is drawn by the server and read without a script.

Across, the plane is 1000 wide and is stretched to the page; down, a unit is a pixel. Lines are quiet; a line is given
a tone and its name only where something is wrong with it. Not here: which readings (`room`), or the SVG itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from wickwatch.agronomy.arrays import Floats
from wickwatch.texts import _, number
from wickwatch.web.views.axes import Tick, across
from wickwatch.web.views.plan import Ahead, Marked, Plan, Series, scale_down

WIDTH = 1000

#: A gap wider than this many buckets breaks the line: what was not read is not drawn.
_GAP = 3.5

#: Names beside lines keep this far [px] from one another.
_APART = 15


@dataclass(frozen=True)
class Coming:
    """A forecast as shapes: its line, the area of its interval, and the words for it."""

    id: str
    path: str
    area: str
    said: str


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
    """Everything to draw; `across` and `down` are the grid, `lights` pairs of start and width in percent.

    `now` is where a forecast begins, in percent across; None where there is none.
    """

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
    coming: tuple[Coming, ...] = ()
    now: float | None = None

    @property
    def empty(self) -> bool:
        """Whether there is nothing to draw."""
        return not self.curves

    def name_of(self, id: str) -> str:
        """The name of a line."""
        return next((curve.name for curve in self.curves if curve.id == id), "")

    @property
    def named(self) -> bool:
        """Whether names stand beside lines, for which room is left."""
        return any(curve.y_name is not None for curve in self.curves)


def chart(plan: Plan, series: Sequence[Series], marks: Sequence[Marked] = (), aheads: Sequence[Ahead] = ()) -> Chart:
    """A chart; series without a point are left out, the range down is widened to hold every value."""
    drawn = [one for one in series if len(one.heard)]
    down = scale_down(plan, drawn)
    shown = [one for one in aheads if one.told or len(drawn) == 1]

    def y(value: float) -> float:
        return round(plan.height * (down.high - value) / (down.high - down.low), 1)

    def x(at: datetime, width: float = 100.0) -> float:
        return round(width * ((at - plan.start) / (plan.until - plan.start)), 2)

    curves = [
        Curve(
            one.id,
            one.name,
            one.tone,
            _path(one.values, WIDTH * (plan.every / (plan.until - plan.start)), y),
            y(float(one.heard[-1])) if one.tone in ("dry", "wet") else None,
            number(float(one.heard[-1]), plan.digits),
        )
        for one in drawn
    ]
    return Chart(
        id=plan.id,
        title=plan.title,
        unit=plan.unit,
        summary=_summary(drawn, plan),
        height=plan.height,
        curves=tuple(_spread(curves, plan.height)),
        across=tuple(across(plan.start, plan.until, plan.zone)),
        down=tuple(Tick(y(value), label) for value, label in down.ticks),
        lights=tuple((x(on), round(x(off) - x(on), 2)) for on, off in plan.lights),
        band=(y(plan.band[1]), y(plan.band[0])) if plan.band else None,
        line=y(plan.line) if plan.line is not None else None,
        line_name=plan.line_name,
        marks=tuple(_marks(marks, plan, x)),
        coming=tuple(
            _coming(one, lambda at: round(x(at, WIDTH), 1), lambda value: y(max(min(value, down.high), down.low)))
            for one in shown
        ),
        now=x(plan.end) if plan.ahead else None,
    )


def _coming(ahead: Ahead, x: Callable[[datetime], float], y: Callable[[float], float]) -> Coming:
    """A forecast as shapes; what goes beyond the plane is drawn at its edge."""
    line = "L".join(f"{x(at):g} {y(value):g}" for at, value, _, _ in ahead.points)
    ends = [(at, high) for at, _, _, high in ahead.points] + [(at, low) for at, _, low, _ in reversed(ahead.points)]
    area = "L".join(f"{x(at):g} {y(value):g}" for at, value in ends)
    return Coming(ahead.id, f"M{line}", f"M{area}Z", ahead.said)


def _path(values: Floats, width: float, y: Callable[[float], float]) -> str:
    """A line through the middles of buckets so wide."""
    there = np.flatnonzero(np.isfinite(values))
    begins = np.diff(there, prepend=-np.inf) > _GAP
    x = np.round((there + 0.5) * width, 1)
    points = zip(begins.tolist(), x.tolist(), values[there].tolist(), strict=True)
    parts = [f"{'M' if begin else 'L'}{across:g} {y(value):g}" for begin, across, value in points]
    # A point alone would have no length; a line of none with a round end shows it.
    return "".join(parts) + ("h0" if len(parts) == 1 else "")


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


def _summary(drawn: Sequence[Series], plan: Plan) -> str:
    """The chart in a sentence, for those who do not see it."""
    if not drawn:
        return _("no readings in this time")

    def said(value: float) -> str:
        return number(value, plan.digits)

    last = [float(one.heard[-1]) for one in drawn]
    if len(drawn) == 1:
        values = drawn[0].heard
        return _(
            "%(name)s: %(low)s to %(high)s %(unit)s, last %(last)s %(unit)s",
            name=drawn[0].name,
            low=said(float(values.min())),
            high=said(float(values.max())),
            last=said(last[0]),
            unit=plan.unit,
        )
    abnormal = [
        _("%(name)s dry at %(value)s %(unit)s", name=one.name, value=said(value), unit=plan.unit)
        if one.tone == "dry"
        else _("%(name)s wet at %(value)s %(unit)s", name=one.name, value=said(value), unit=plan.unit)
        for one, value in zip(drawn, last, strict=True)
        if one.tone in ("dry", "wet")
    ]
    whole = _(
        "%(num)s lines, last values %(low)s to %(high)s %(unit)s",
        num=len(drawn),
        low=said(min(last)),
        high=said(max(last)),
        unit=plan.unit,
    )
    return "; ".join([whole, ", ".join(abnormal)]) if abnormal else whole
