"""Twelve weeks: the whole as charts and figures, and every room in which something surely goes up or down."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from wickwatch.agronomy.arrays import Floats
from wickwatch.report import charts, words
from wickwatch.report.discovery import FALSE_SHARE
from wickwatch.report.document import Block, Chart, Section, Table, Text, table
from wickwatch.report.facts import Facts
from wickwatch.report.trends import MEASURES, WEEKS, Trend

#: Names over the small charts, with their unit.
_SHORT = {
    "in_band": "In band [%]",
    "tension": "Median [mbar]",
    "spread": "Spread [mbar]",
    "water": "Water [l]",
    "alarms": "Alarms",
}

_COLUMNS = ("Measure", "This week", "On the week before", "Trend a week", "Weeks", "Over 12 weeks")


def trends(facts: Facts) -> Section:
    """The facility's trends, and the rooms' that are more than chance."""
    found = facts.trends
    names = [week.name[5:] for week in found.weeks]
    alike = np.asarray((found.light_hours == found.light_hours[:, -1:]).all(axis=0), dtype=np.bool_)
    runs = [charts.Run(_SHORT[name], trend.values, alike) for name, trend in found.facility.items()]
    told = "; ".join(f"{run.name.lower()} {_run(run.values)}" for run in runs)
    blocks: list[Block] = [
        Chart(
            f"{WEEKS} weeks of {facts.facility.name}, the newest last; hollow: lights of some room were set otherwise",
            charts.weeks(names, runs),
            f"Small charts of {WEEKS} weeks: {told}.",
        ),
        _of("The whole facility", found.facility, bool(alike[-2:].all())),
    ]
    rows = [
        (room.name, MEASURES[name][0], trend.word, _per_week(name, trend), f"{trend.q:.3f}")
        for room, own in zip(facts.place.rooms, found.rooms, strict=True)
        for name, trend in own.items()
        if trend.sure
    ]
    if rows:
        columns = ("Room", "Measure", "What it does", "A week", "False discovery rate")
        blocks.append(table("Rooms in which a measure surely goes up or down", columns, rows, (3, 4)))
    else:
        blocks.append(Text("In no room does any measure go up or down by more than chance would have it."))
    blocks.append(
        Text(
            "Trends are Theil-Sen slopes; that there is one is told by the Mann-Kendall test. Weeks are compared only "
            "with weeks of the same photoperiod, and a room only with itself. Of all trends named in this report at "
            f"most {FALSE_SHARE:.0%} are named by chance (Benjamini and Hochberg).",
            "note",
        )
    )
    return Section("trends", "Twelve weeks", tuple(blocks), page=True)


def of_room(facts: Facts, room: int) -> Table:
    """One room's trends."""
    return _of("Twelve weeks of this room", facts.trends.rooms[room], bool(facts.alike[room]))


def _of(caption: str, found: Mapping[str, Trend], comparable: bool) -> Table:
    rows = []
    for name, trend in found.items():
        title, unit, digits = MEASURES[name]
        change = trend.values[-1] - trend.values[-2] if comparable else np.nan
        rows.append(
            (
                title,
                words.number(float(trend.values[-1]), digits, unit),
                words.signed(float(change), digits, _difference(unit)) if comparable else "other photoperiod",
                _per_week(name, trend),
                f"{trend.weeks}",
                trend.word,
            )
        )
    return table(caption, _COLUMNS, rows, (1, 2, 3, 4))


def _per_week(name: str, trend: Trend) -> str:
    _, unit, digits = MEASURES[name]
    return words.signed(trend.slope, digits + 1, _difference(unit))


def _difference(unit: str) -> str:
    """The unit of a difference: that of two percentages is not a percentage."""
    return "points" if unit == "%" else unit


def _run(values: Floats) -> str:
    there = values[np.isfinite(values)]
    if not len(there):
        return "not known"
    return f"from {there[0]:.4g} to {there[-1]:.4g}, lowest {there.min():.4g}, highest {there.max():.4g}"
