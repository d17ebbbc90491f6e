"""How much was measured, day by day and room by room, and how the figures of a report come about."""

from __future__ import annotations

import numpy as np

from wickwatch.report import words
from wickwatch.report.completeness import WHOLE
from wickwatch.report.document import Block, Section, Text, table
from wickwatch.report.facts import Facts
from wickwatch.texts import _, day_name


def data(facts: Facts) -> Section:
    """Completeness, so that a gap is never read as calm."""
    seen, week = facts.completeness, facts.week
    rows = [
        (room.name, *(_day(float(share)) for share in seen.rooms[number]))
        for number, room in enumerate(facts.place.rooms)
        if np.isfinite(seen.rooms[number]).any() and float(np.nanmin(seen.rooms[number])) < WHOLE
    ]
    silent = [room.name for number, room in enumerate(facts.place.rooms) if not np.isfinite(seen.rooms[number]).any()]
    blocks: list[Block] = [
        Text(
            _(
                "%(percent)s of what should have been measured this week was, and was believed.",
                percent=words.percent(seen.facility),
            )
        )
    ]
    if rows:
        days = tuple(day_name(each) for each in week.dates)
        blocks.append(
            table(
                _("Rooms of which less than %(percent)s was measured on some day", percent=words.percent(WHOLE, 0)),
                (_("Room"), *days),
                rows,
                tuple(range(1, 8)),
            )
        )
    if silent:
        blocks.append(Text(_("Nothing is measured in %(rooms)s.", rooms=words.listed(silent, 12))))
    grid = _("means of 5 minutes") if facts.fine else _("hourly means, since finer ones are no longer kept")
    blocks.append(
        Text(
            _(
                "Figures of the week are from %(means)s; trends and drift from hourly means. Time in band is the share "
                "of measured time, each probe counted for the containers it stands for. Water is what left the "
                "reservoirs between refills, with what evaporated or leaked. Hours in which a sensor was judged not to "
                "tell the truth count as not measured. The week has %(hours)s hours in %(zone)s.",
                means=grid,
                hours=words.number(week.hours),
                zone=facts.facility.zone.key,
            ),
            "note",
        )
    )
    return Section("data", _("Data"), tuple(blocks))


def _day(share: float) -> str:
    return "–" if not np.isfinite(share) else words.percent(share, 0)
