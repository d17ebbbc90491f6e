"""What to walk round with this week: reservoirs to refill by day, and sensors to service."""

from __future__ import annotations

from datetime import datetime

import numpy as np

from wickwatch.report import words
from wickwatch.report.document import Block, Section, Text, table
from wickwatch.report.facts import Facts
from wickwatch.report.service import to_service
from wickwatch.report.todo import WEEK
from wickwatch.report.water import run_out
from wickwatch.texts import _


def refill_round(facts: Facts) -> Section:
    """Reservoirs that run out within the next week, the earliest first."""
    zone, rows, unknown = facts.facility.zone, [], []
    for number, reservoir in enumerate(facts.place.reservoirs):
        room = facts.place.rooms[int(facts.place.reservoir_room[number])].name
        found = run_out(facts.water, number, facts.week)
        if found is None:
            # No draw, and water in it: it lasts. No level that is fresh: nobody knows.
            if not np.isposinf(facts.water.lasts.value[number]):
                unknown.append(f"{reservoir.name}, {room}")
            continue
        at, early = found
        if early < facts.week.until + WEEK:
            rows.append((early, (f"{reservoir.name}, {room}", *_row(facts, number, at, early))))
    rows.sort(key=lambda each: each[0])
    blocks: list[Block] = []
    if rows:
        unit = words.unit_name("l")
        columns = (
            _("Reservoir"),
            _("Refill by"),
            _("Runs out about"),
            _("Usable now [%(unit)s]", unit=unit),
            _("Until full [%(unit)s]", unit=unit),
            _("A day [%(unit)s]", unit=unit),
        )
        shown = [row for _, row in rows]
        blocks.append(table(_("Reservoirs that run out within a week"), columns, shown, (3, 4, 5)))
        blocks.append(
            Text(
                _(
                    "Refill by the earliest time that is likely, four in five. Times are from the end of the week at "
                    "the draw of the week, in %(zone)s time.",
                    zone=zone.key,
                ),
                "note",
            )
        )
    else:
        blocks.append(Text(_("No reservoir runs out within a week that the readings tell of.")))
    if unknown:
        blocks.append(Text(_("Look yourself, no fresh level tells: %(names)s.", names=words.listed(unknown, 12))))
    return Section("refills", _("Refill round"), tuple(blocks))


def _row(facts: Facts, number: int, at: datetime, early: datetime) -> tuple[str, ...]:
    zone, water = facts.facility.zone, facts.water
    lit_h = float(facts.place.lights_min[facts.place.reservoir_room[number]]) / 60.0
    a_day = float(water.day.value[number]) * lit_h + float(water.night.value[number]) * (24.0 - lit_h)
    return (
        words.day_and_time(early, zone),
        words.day_and_time(at, zone),
        words.bare(float(water.left_l[number]), 0, "l"),
        words.bare(float(water.room_l[number]), 0, "l"),
        words.bare(a_day, 1, "l"),
    )


def sensors(facts: Facts) -> Section:
    """Sensors that said too little or could not be believed."""
    rows = [
        (each.name, each.room, words.percent(each.share, 0), words.number(each.gap_h, 1), each.why)
        for each in to_service(facts)
    ]
    columns = (_("Sensor of"), _("Room"), _("Measured"), _("Longest gap [h]"), _("Why"))
    blocks: tuple[Block, ...] = (
        (table(_("Sensors to service, those that said least first"), columns, rows, (2, 3)),)
        if rows
        else (Text(_("Every sensor was heard and believed.")),)
    )
    return Section("sensors", _("Sensors to service"), blocks)
