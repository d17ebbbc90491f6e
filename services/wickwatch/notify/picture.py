"""A small picture of the last day of what an alarm is about, for a mail: drawn here, so that a mail loads nothing.

Lines, the band, and when the alarm was raised; in words beside it for those who see no picture. Not here: reading the
values (`notify.last_day`), or the charts of pages, which are SVG that mail readers do not show.
"""

from __future__ import annotations

import io
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from wickwatch.texts import Unit, _, general, number, time_of_day

WIDTH_PX, HEIGHT_PX = 560, 220

#: Twice the size shown, so that it is sharp on phones.
_DPI = 192

_INK, _SOFT, _BAND, _RULE, _RAISED = "#22302b", "#5b6963", "#dfe9e2", "#d7ddd9", "#a3231b"

#: A gap wider than this breaks a line: what was not read is not drawn.
_GAP = timedelta(minutes=35)


_ONE = threading.Lock()


@dataclass(frozen=True)
class Day:
    """The last day of one thing: each line's values with their times, oldest first, none of them empty.

    Values are as they are read, in `unit`. `band` is wet and dry limit where the thing has one.
    """

    title: str
    unit: Unit
    lines: Sequence[Sequence[tuple[datetime, float]]]
    start: datetime
    end: datetime
    zone: ZoneInfo
    band: tuple[float, float] | None = None
    raised_at: datetime | None = None


@dataclass(frozen=True)
class Picture:
    """A PNG and what it shows in words."""

    png: bytes
    words: str


def draw(day: Day) -> Picture:
    """The picture of a day."""
    import matplotlib as mpl  # noqa: PLC0415 -- takes a second, so it is loaded where one is drawn
    from matplotlib.dates import AutoDateLocator, date2num, num2date  # noqa: PLC0415
    from matplotlib.figure import Figure  # noqa: PLC0415

    # The library's settings are one for all threads, and workers of mail draw at once.
    with (
        _ONE,
        mpl.rc_context({"font.size": 9.5, "text.color": _INK, "axes.labelcolor": _SOFT, "font.family": "DejaVu Sans"}),
    ):
        figure = Figure(figsize=(WIDTH_PX / 96, HEIGHT_PX / 96), dpi=_DPI, facecolor="white", layout="constrained")
        axes = figure.add_subplot()
        low, high = _range(day)
        if day.band:
            axes.axhspan(*day.band, color=_BAND, linewidth=0)
        if day.raised_at is not None and day.start <= day.raised_at <= day.end:
            raised = float(date2num(day.raised_at))
            axes.axvline(raised, color=_RAISED, linewidth=1.0, linestyle=(0, (3, 3)))
            side = "right" if day.raised_at > day.end - (day.end - day.start) / 6 else "left"
            axes.annotate(" " + _("raised") + " ", (raised, high), color=_RAISED, va="top", ha=side)
        width, alpha = (1.2, 1.0) if len(day.lines) == 1 else (0.8, 0.6)
        for part in (part for line in day.lines for part in _unbroken(line)):
            times, values = date2num([at for at, _value in part]), [value for _at, value in part]
            axes.plot(times, values, color=_INK, linewidth=width, alpha=alpha, marker=_mark(part))
        axes.set_ylim(low, high)
        axes.set_xlim(date2num(day.start), date2num(day.end))
        locator = AutoDateLocator(tz=day.zone, minticks=4, maxticks=7)
        axes.xaxis.set_major_locator(locator)
        axes.xaxis.set_major_formatter(lambda at, _place: time_of_day(num2date(at, day.zone)))
        axes.yaxis.set_major_formatter(lambda value, _place: general(value))
        axes.tick_params(length=0, labelcolor=_SOFT)
        axes.grid(color=_RULE, linewidth=0.5)
        axes.set_axisbelow(True)
        axes.spines[:].set_visible(False)
        axes.set_title(f"{day.title}, {day.unit.name}", loc="left", fontsize=10.5)
        out = io.BytesIO()
        figure.savefig(out, format="png", metadata={"Software": None})
    return Picture(out.getvalue(), words(day))


def words(day: Day) -> str:
    """The picture in a sentence."""
    values = [value for line in day.lines for _at, value in line]
    ends = [line[-1][1] for line in day.lines]
    at = max(line[-1][0] for line in day.lines)
    told = {
        "title": day.title,
        "low": _read(day, min(values)),
        "high": _read(day, max(values)),
        "last": _read(day, ends[0])
        if len(ends) == 1
        else _("%(low)s to %(high)s", low=_read(day, min(ends)), high=_read(day, max(ends))),
        "unit": day.unit.name,
        "time": time_of_day(at.astimezone(day.zone)),
    }
    text = _("%(title)s over the last day: %(low)s to %(high)s %(unit)s, last %(last)s %(unit)s at %(time)s", **told)
    if not day.band:
        return f"{text}."
    low, high = (_read(day, limit) for limit in day.band)
    return _("%(day)s; the band is %(low)s to %(high)s %(unit)s.", day=text, low=low, high=high, unit=day.unit.name)


def _read(day: Day, value: float) -> str:
    return number(value, day.unit.digits)


def _range(day: Day) -> tuple[float, float]:
    shown = [0.0, *(value for line in day.lines for _at, value in line), *(day.band or ())]
    return min(shown), max(shown) * 1.08 or 1.0


def _unbroken(points: Sequence[tuple[datetime, float]]) -> list[list[tuple[datetime, float]]]:
    parts: list[list[tuple[datetime, float]]] = []
    for point in points:
        if parts and point[0] - parts[-1][-1][0] <= _GAP:
            parts[-1].append(point)
        else:
            parts.append([point])
    return parts


def _mark(part: Sequence[object]) -> str:
    """A point alone has no length, so it is shown as a dot."""
    return "." if len(part) == 1 else ""
