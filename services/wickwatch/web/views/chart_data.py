"""A room's figures as numbers for the script that draws them again: the same lines, marks and forecasts, by time.

Not here: shapes (`chart`).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

import numpy as np

from wickwatch.agronomy.arrays import Floats
from wickwatch.texts import _, point
from wickwatch.web.views.axes import across
from wickwatch.web.views.plan import Plan, scale_down
from wickwatch.web.views.room_charts import Figure
from wickwatch.web.views.times import moment


def chart_data(figures: Sequence[Figure], now: datetime) -> dict[str, object]:
    """Figures of one span of time; times are seconds since 1970, each value stands at the middle of its bucket."""
    plan = figures[0].plan
    count = round((plan.end - plan.start) / plan.every)
    beginnings = [plan.start + number * plan.every for number in range(count)]
    return {
        "times": [(at + plan.every / 2).timestamp() for at in beginnings],
        "labels": [moment(at, plan.zone, now).text for at in beginnings],
        "start": plan.start.timestamp(),
        "end": plan.end.timestamp(),
        "until": plan.until.timestamp(),
        "every": plan.every.total_seconds(),
        "lights": [[on.timestamp(), off.timestamp()] for on, off in plan.lights],
        "point": point(),
        "texts": {
            "keys": _("Arrow keys read values, plus and minus zoom, Escape shows the whole time."),
            "nothing": _("nothing read"),
            "whole": _("Whole time"),
            "forecast": _("Forecast: %(said)s.", said="{said}"),
        },
        "grids": [_grid(plan, part) for part in (1, 2, 4, 8, 16)],
        "figures": {figure.plan.id: _figure(figure) for figure in figures},
    }


def _grid(plan: Plan, parts: int) -> list[list[object]]:
    """Lines of time for a window of one of so many parts of the whole, as fine as that asks, over the whole."""
    found: list[list[object]] = []
    width: timedelta = (plan.until - plan.start) / parts
    for part in range(parts):
        start = plan.start + part * width
        for tick in across(start, start + width, plan.zone):
            at = start.timestamp() + tick.at / 100.0 * width.total_seconds()
            found.append([round(at), tick.label, tick.major])
    return found


def _figure(figure: Figure) -> dict[str, object]:
    plan = figure.plan
    down = scale_down(plan, figure.series)
    return {
        "unit": plan.unit,
        "digits": plan.digits + 1,
        "colour": "dot" if plan.id == "tension" else "water",
        "low": down.low,
        "high": down.high,
        "down": list(down.ticks),
        "band": plan.band,
        "line": plan.line,
        "lines": [
            {"id": one.id, "name": one.name, "tone": one.tone, "values": _placed(one.values, plan.digits + 1)}
            for one in figure.series
            if len(one.heard)
        ],
        "marks": [
            {
                "at": mark.at.timestamp(),
                "kind": mark.kind,
                "text": mark.text,
                "href": mark.href,
                "priority": mark.priority,
                "subject": "" if mark.subject_id is None else str(mark.subject_id),
            }
            for mark in figure.marks
            if plan.start <= mark.at <= plan.end
        ],
        "aheads": {
            one.id: {
                "told": one.told,
                "said": one.said,
                "points": [
                    [at.timestamp(), round(value, 2), round(low, 2), round(high, 2)]
                    for at, value, low, high in one.points
                ],
            }
            for one in figure.aheads
        },
    }


def _placed(values: Floats, digits: int) -> list[float | None]:
    return [None if np.isnan(value) else value for value in np.round(values, digits).tolist()]
