"""Charts of a report as SVG: the look of the pages, legible in black and white.

Nothing is told by colour alone: limits are dashed and named, lines have their own dashes and their name beside them.
Drawn with matplotlib without a screen. Scales are drawn as plain text and lines, since most of a chart's time would go
into objects for ticks, and a report of a hundred rooms has hundreds of charts. Not here: what is drawn.
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Floats
from wickwatch.texts import general, pgettext, tension_unit, volume_unit

#: The colours of the pages' light look (`web/static/wickwatch.css`).
INK, SOFT, RULE, BAND, WATER = "#1d2522", "#4f5a55", "#dcd9cc", "#e2e8dc", "#2f6f94"

_WIDTH_IN = 6.9
_DASHES = ("solid", "dashed", "dotted", "dashdot")
_SMALL = 7.0

_STYLE: Any = {  # matplotlib's type is a list of every key it knows
    "svg.fonttype": "none",
    "svg.hashsalt": "wickwatch",
    "font.family": "DejaVu Sans",
    "font.size": 8.0,
    "text.color": INK,
}


@dataclass(frozen=True)
class Limits:
    """A band: its limits and set point [mbar]."""

    wet: float
    set_point: float
    dry: float


def tension(days: Sequence[str], daily: Floats, limits: Limits) -> str:
    """Tension of a room by day (7, 3: tenth percentile, median, ninetieth) against its band."""
    with mpl.rc_context(_STYLE):
        figure, axes = _plane(2.1)
        x = np.arange(len(days))
        unit = tension_unit()
        daily, dry = daily / unit.size, unit.shown(limits.dry)
        axes.axhspan(unit.shown(limits.wet), dry, color=BAND, linewidth=0)
        wet, set_point, most = (unit.number(each) for each in (limits.wet, limits.set_point, limits.dry))
        limit = (
            (dry, pgettext("chart", "dry limit %(limit)s", limit=most)),
            (unit.shown(limits.set_point), pgettext("chart", "set point %(limit)s", limit=set_point)),
            (unit.shown(limits.wet), pgettext("chart", "wet limit %(limit)s", limit=wet)),
        )
        axes.hlines(
            [value for value, _name in limit], -0.5, len(days) - 0.4, colors=SOFT, linewidth=0.6, linestyle="dashed"
        )
        for value, name in limit:
            axes.text(len(days) - 0.36, value, name, va="center", color=SOFT, fontsize=_SMALL)
        axes.vlines(x, daily[:, 0], daily[:, 2], color=INK, linewidth=3.5, alpha=0.35)
        axes.plot(x, daily[:, 1], "o", color=INK, markersize=4.5)
        low, high = np.nanmin(np.append(daily[:, 0], 0.0)), np.nanmax(np.append(daily[:, 2], 1.05 * dry))
        _scales(axes, (-0.5, len(days) + 0.45), (float(low), float(high)), unit.name)
        _below(axes, x, days)
        return _svg(figure)


@dataclass(frozen=True)
class Curve:
    """One reservoir's litres over time, and where it was refilled."""

    name: str
    litres: Floats
    refills: tuple[np.datetime64, ...]


def water(
    times: NDArray[np.datetime64], curves: Sequence[Curve], midnights: Sequence[datetime], days: Sequence[str]
) -> str:
    """Volumes of a room's reservoirs over a week; refills are marked by triangles."""
    starts = np.array([at.replace(tzinfo=None) for at in midnights], dtype="datetime64[us]")

    def place(at: NDArray[np.datetime64]) -> Floats:
        return np.asarray((at - starts[0]) / np.timedelta64(1, "D"), dtype=np.float64)

    with mpl.rc_context(_STYLE):
        figure, axes = _plane(1.7)
        x, edges = place(times), place(starts)
        unit, high = volume_unit(), 1.0
        for number, curve in enumerate(curves):
            there = np.flatnonzero(np.isfinite(curve.litres))
            if not len(there):
                continue
            litres = curve.litres / unit.size
            high = max(high, float(litres[there].max()))
            axes.plot(x, litres, color=WATER, linewidth=1.2, linestyle=_DASHES[number % len(_DASHES)])
            axes.text(edges[-1] + 0.05, litres[there[-1]], curve.name, va="center", fontsize=_SMALL)
            if curve.refills:
                at = place(np.array(curve.refills))
                axes.plot(at, np.interp(at, x[there], litres[there]), "^", color=INK, markersize=5)
        axes.vlines(edges[1:-1], 0.0, high, colors=RULE, linewidth=0.5, zorder=0)
        _scales(axes, (0.0, edges[-1] + 0.95), (0.0, high), unit.name)
        _below(axes, (edges[:-1] + edges[1:]) / 2, days)
        return _svg(figure)


@dataclass(frozen=True)
class Run:
    """Weeks of one measure; `alike` are those with this week's photoperiod, the others are drawn hollow."""

    name: str
    values: Floats
    alike: NDArray[np.bool_]


def weeks(names: Sequence[str], runs: Sequence[Run]) -> str:
    """Small charts side by side, one for each measure, newest week last."""
    with mpl.rc_context(_STYLE):
        figure = Figure(figsize=(_WIDTH_IN, 1.35))
        x = np.arange(len(names))
        for number, run in enumerate(runs):
            axes = figure.add_axes((0.05 + number / len(runs), 0.2, 1 / len(runs) - 0.07, 0.58))
            axes.text(0.0, 1.1, run.name, transform=axes.transAxes, fontsize=_SMALL, fontweight="bold")
            there = run.values[np.isfinite(run.values)]
            axes.plot(x, run.values, color=SOFT, linewidth=0.9)
            for chosen, filled in ((run.alike, INK), (~run.alike, "white")):
                axes.plot(x[chosen], run.values[chosen], "o", mfc=filled, mec=INK, mew=0.8, markersize=3)
            low, high = (float(there.min()), float(there.max())) if len(there) else (0.0, 1.0)
            _scales(axes, (-0.6, len(names) - 0.4), (low, high), "", steps=3)
            _below(axes, x[[0, -1]], [names[0], names[-1]])
        return _svg(figure)


def _plane(height_in: float) -> tuple[Figure, Axes]:
    figure = Figure(figsize=(_WIDTH_IN, height_in))
    return figure, figure.add_axes((0.065, 0.14, 0.93, 0.82))


def _scales(axes: Axes, across: tuple[float, float], down: tuple[float, float], unit: str, steps: int = 5) -> None:
    """Set both ranges, the one down widened to round values, and write these."""
    axes.set_axis_off()
    span = down[1] - down[0] if down[1] > down[0] else max(0.1 * abs(down[1]), 1.0)
    power = 10.0 ** math.floor(math.log10(span / steps))
    step = next(factor * power for factor in (1, 2, 2.5, 5, 10) if factor * power * steps >= span * 0.999)
    first, last = (
        math.floor(down[0] / step + 1e-9),
        max(math.ceil(down[1] / step - 1e-9), math.floor(down[0] / step) + 1),
    )
    axes.set(xlim=across, ylim=(first * step, last * step))
    for number in range(first, last + 1):
        axes.annotate(
            general(number * step), (across[0], number * step), (-4, 0), textcoords="offset points", ha="right",
            va="center", fontsize=_SMALL, color=SOFT, annotation_clip=False,
        )  # fmt: skip
    axes.plot(
        [across[0]] * 2 + [across[1]], [last * step] + [first * step] * 2, color=SOFT, linewidth=0.8, clip_on=False
    )
    if unit:
        axes.text(-0.055, 0.5, unit, transform=axes.transAxes, rotation=90, va="center", ha="right", color=SOFT)


def _below(axes: Axes, places: Floats | NDArray[np.int64], names: Sequence[str]) -> None:
    for at, name in zip(places, names, strict=True):
        axes.annotate(
            name, (float(at), axes.get_ylim()[0]), (0, -4), textcoords="offset points", ha="center", va="top",
            fontsize=_SMALL, color=SOFT, annotation_clip=False,
        )  # fmt: skip


def _svg(figure: Figure) -> str:
    out = io.StringIO()
    figure.savefig(out, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    svg = out.getvalue()
    # What stands before the drawing is for files of their own.
    return re.sub(r"<metadata>.*?</metadata>\s*", "", svg[svg.index("<svg") :], flags=re.DOTALL)
