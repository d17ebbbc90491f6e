"""How much was measured, day by day and room by room, and how the figures of a report come about."""

from __future__ import annotations

import numpy as np

from wickwatch.report import words
from wickwatch.report.completeness import WHOLE
from wickwatch.report.document import Block, Section, Text, table
from wickwatch.report.facts import Facts


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
        Text(f"{words.percent(seen.facility)} of what should have been measured this week was, and was believed.")
    ]
    if rows:
        days = tuple(day.split(" ", 1)[0] for day in week.days)
        blocks.append(
            table(
                f"Rooms of which less than {WHOLE:.0%} was measured on some day",
                ("Room", *days),
                rows,
                tuple(range(1, 8)),
            )
        )
    if silent:
        blocks.append(Text(f"Nothing is measured in {words.listed(silent, 12)}."))
    grid = "means of 5 minutes" if facts.fine else "hourly means, since finer ones are no longer kept"
    blocks.append(
        Text(
            f"Figures of the week are from {grid}; trends and drift from hourly means. Time in band is the share of "
            "measured time, each probe counted for the containers it stands for. Water is what left the reservoirs "
            "between refills, with what evaporated or leaked. Hours in which a sensor was judged not to tell the truth "
            f"count as not measured. The week has {week.hours:.0f} hours in {facts.facility.zone.key}.",
            "note",
        )
    )
    return Section("data", "Data", tuple(blocks))


def _day(share: float) -> str:
    return "–" if not np.isfinite(share) else words.percent(share, 0)
