"""Twelve weeks: the whole as charts and figures, and every room in which something surely goes up or down."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from wickwatch.agronomy.arrays import Bools, Floats
from wickwatch.report import charts, words
from wickwatch.report.discovery import FALSE_SHARE
from wickwatch.report.document import Block, Chart, Section, Table, Text, table
from wickwatch.report.facts import Facts
from wickwatch.report.trends import MEASURES, WEEKS, Trend
from wickwatch.texts import N_, _, general

#: Names over the small charts, with their unit.
_SHORT = {
    "in_band": N_("In band [%%]"),
    "tension": N_("Median [%(unit)s]"),
    "spread": N_("Spread [%(unit)s]"),
    "water": N_("Water [%(unit)s]"),
    "alarms": N_("Alarms"),
}


def trends(facts: Facts) -> Section:
    """The facility's trends, and the rooms' that are more than chance."""
    found = facts.trends
    names = [week.name[5:] for week in found.weeks]
    alike = np.asarray((found.light_hours == found.light_hours[:, -1:]).all(axis=0), dtype=np.bool_)
    runs = [_run(name, trend.values, alike) for name, trend in found.facility.items()]
    told = "; ".join(f"{run.name} {_range(run.values)}" for run in runs)
    blocks: list[Block] = [
        Chart(
            _(
                "%(number)d weeks of %(facility)s, the newest last; hollow: lights of some room were set otherwise",
                number=WEEKS,
                facility=facts.facility.name,
            ),
            charts.weeks(names, runs),
            _("Small charts of %(number)d weeks: %(values)s.", number=WEEKS, values=told),
        ),
        _of(_("The whole facility"), found.facility, bool(alike[-2:].all())),
    ]
    rows = [
        (room.name, _(MEASURES[name][0]), trend.word, _per_week(name, trend), words.number(trend.q, 3))
        for room, own in zip(facts.place.rooms, found.rooms, strict=True)
        for name, trend in own.items()
        if trend.sure
    ]
    if rows:
        columns = (_("Room"), _("Measure"), _("What it does"), _("A week"), _("False discovery rate"))
        blocks.append(table(_("Rooms in which a measure surely goes up or down"), columns, rows, (3, 4)))
    else:
        blocks.append(Text(_("In no room does any measure go up or down by more than chance would have it.")))
    blocks.append(
        Text(
            _(
                "Trends are Theil-Sen slopes; that there is one is told by the Mann-Kendall test. Weeks are compared "
                "only with weeks of the same photoperiod, and a room only with itself. Of all trends named in this "
                "report at most %(percent)s are named by chance (Benjamini and Hochberg).",
                percent=words.percent(FALSE_SHARE, 0),
            ),
            "note",
        )
    )
    return Section("trends", _("Twelve weeks"), tuple(blocks), page=True)


def of_room(facts: Facts, room: int) -> Table:
    """One room's trends."""
    return _of(_("Twelve weeks of this room"), facts.trends.rooms[room], bool(facts.alike[room]))


def _of(caption: str, found: Mapping[str, Trend], comparable: bool) -> Table:
    rows = []
    for name, trend in found.items():
        title, unit, digits = MEASURES[name]
        change = trend.values[-1] - trend.values[-2] if comparable else np.nan
        rows.append(
            (
                _(title),
                words.number(float(trend.values[-1]), digits, unit),
                words.signed(float(change), digits, _difference(unit)) if comparable else _("other photoperiod"),
                _per_week(name, trend),
                f"{trend.weeks}",
                trend.word,
            )
        )
    columns = (
        _("Measure"), _("This week"), _("On the week before"), _("Trend a week"), _("Weeks"), _("Over 12 weeks"),
    )  # fmt: skip
    return table(caption, columns, rows, (1, 2, 3, 4))


def _per_week(name: str, trend: Trend) -> str:
    _, unit, digits = MEASURES[name]
    return words.signed(trend.slope, digits + 1, _difference(unit))


def _difference(unit: str) -> str:
    """The unit of a difference: that of two percentages is not a percentage."""
    return _("points") if unit == "%" else unit


def _run(name: str, values: Floats, alike: Bools) -> charts.Run:
    """A small chart's line, in the unit it is read in."""
    unit = MEASURES[name][1]
    return charts.Run(_(_SHORT[name], unit=words.unit_name(unit)), words.read_in(values, unit), alike)


def _range(values: Floats) -> str:
    there = values[np.isfinite(values)]
    if not len(there):
        return words.unknown()
    first, last, low, high = (
        general(float(f"{value:.4g}")) for value in (there[0], there[-1], there.min(), there.max())
    )
    return _("from %(first)s to %(last)s, lowest %(low)s, highest %(high)s", first=first, last=last, low=low, high=high)
