"""Water of one room: what each reservoir gave by day and night, per container and per unit of demand, and refills."""

from __future__ import annotations

import numpy as np

from wickwatch.report import charts, words
from wickwatch.report.document import Block, Chart, Text, table
from wickwatch.report.facts import Facts
from wickwatch.report.used import ENOUGH, per_container
from wickwatch.report.water import run_out


def blocks(facts: Facts, room: int) -> list[Block]:
    """All of it; a sentence where there is no reservoir or no level."""
    tanks = np.flatnonzero(facts.place.reservoir_room == room)
    if not len(tanks):
        return [Text("This room has no reservoir of its own.")]
    if not np.isfinite(facts.water.volume_l[tanks]).any():
        return [Text("No level of this week is known in this room, so nothing tells how much water it used.")]
    found: list[Block] = [_demand(facts, room)]
    name = facts.place.rooms[room].name
    found.append(
        Chart(f"Water in the reservoirs of {name}; triangles are refills", _chart(facts, tanks), _said(facts, tanks))
    )
    columns = (
        "Reservoir",
        "Used [l]",
        "Known [h]",
        "By day [l/h]",
        "By night [l/h]",
        "Usable at the end [l]",
        "Runs out about",
    )
    rows = [_row(facts, int(number)) for number in tanks]
    found.append(table("What each reservoir gave", columns, rows, (1, 2, 3, 4, 5)))
    fillings = [each for each in facts.fillings if each.reservoir in tanks]
    if fillings:
        lines = [
            (
                words.day_and_time(each.at, facts.week.zone),
                facts.place.reservoirs[each.reservoir].name,
                words.number(each.litres if each.litres is not None else np.nan),
                each.told,
                each.person or "–",
            )
            for each in fillings
        ]
        found.append(table("Refills", ("When", "Reservoir", "Litres", "How it is known", "By"), lines, (2,)))
    return found


def _demand(facts: Facts, room: int) -> Text:
    each = per_container(facts.place, facts.water.used, room, facts.week)
    if not np.isfinite(each):
        share = f"{ENOUGH:.0%}"
        return Text(
            f"Water per container is not known: a level was heard for less than {share} of the week, or no container."
        )
    said = f"Each container used {words.number(each, 2, 'l')} a day"
    deficit = float(facts.deficit_kpa[room])
    if not np.isfinite(deficit) or deficit <= 0.0:
        return Text(f"{said}; the air is not measured, so nothing tells how much was asked of them.")
    return Text(
        f"{said}, which is {words.number(each / deficit, 2, 'l')} for each kPa of vapour pressure deficit; the week's "
        f"mean deficit was {words.number(deficit, 2, 'kPa')}."
    )


def _chart(facts: Facts, tanks: np.ndarray[tuple[int], np.dtype[np.int64]]) -> str:
    curves = []
    for number in tanks:
        refills = tuple(each.end for each in facts.water.used.refills if each.reservoir == number)
        every = 6 if facts.fine else 1  # a point each half hour is all that can be seen
        litres = facts.water.volume_l[number, ::every]
        curves.append(charts.Curve(facts.place.reservoirs[number].name, litres, refills))
    return charts.water(facts.water.times[:: 6 if facts.fine else 1], curves, facts.week.midnights, facts.week.days)


def _said(facts: Facts, tanks: np.ndarray[tuple[int], np.dtype[np.int64]]) -> str:
    parts = []
    for number in tanks:
        litres = facts.water.volume_l[number]
        there = litres[np.isfinite(litres)]
        refills = sum(each.reservoir == number for each in facts.water.used.refills)
        name = facts.place.reservoirs[number].name
        if not len(there):
            parts.append(f"{name}: no level")
            continue
        filled = words.counted(refills, "refill", "refills")
        parts.append(f"{name} from {there[0]:.0f} to {there[-1]:.0f} litres, lowest {there.min():.0f}, {filled}")
    return f"Litres over the week: {'; '.join(parts)}."


def _row(facts: Facts, number: int) -> tuple[str, ...]:
    water, found = facts.water, run_out(facts.water, number, facts.week)
    lasting = "–" if not np.isposinf(water.lasts.value[number]) else "not at this draw"
    return (
        facts.place.reservoirs[number].name,
        words.number(float(water.used.litres[number]), 1),
        words.number(float(water.used.hours[number])),
        words.number(float(water.day.value[number]), 2),
        words.number(float(water.night.value[number]), 2),
        words.number(float(water.left_l[number])),
        lasting if found is None else words.day_and_time(found[0], facts.week.zone),
    )
