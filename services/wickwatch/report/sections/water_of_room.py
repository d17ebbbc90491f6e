"""Water of one room: what each reservoir gave by day and night, per container and per unit of demand, and refills."""

from __future__ import annotations

import numpy as np

from wickwatch.report import charts, words
from wickwatch.report.document import Block, Chart, Text, table
from wickwatch.report.facts import Facts
from wickwatch.report.refills import TOLD
from wickwatch.report.used import ENOUGH, per_container
from wickwatch.report.water import run_out
from wickwatch.texts import _, ngettext


def blocks(facts: Facts, room: int) -> list[Block]:
    """All of it; a sentence where there is no reservoir or no level."""
    tanks = np.flatnonzero(facts.place.reservoir_room == room)
    if not len(tanks):
        return [Text(_("This room has no reservoir of its own."))]
    if not np.isfinite(facts.water.volume_l[tanks]).any():
        return [Text(_("No level of this week is known in this room, so nothing tells how much water it used."))]
    found: list[Block] = [_demand(facts, room)]
    name = facts.place.rooms[room].name
    found.append(
        Chart(
            _("Water in the reservoirs of %(room)s; triangles are refills", room=name),
            _chart(facts, tanks),
            _said(facts, tanks),
        )
    )
    unit = words.unit_name("l")
    columns = (
        _("Reservoir"),
        _("Used [%(unit)s]", unit=unit),
        _("Known [h]"),
        _("By day [%(unit)s/h]", unit=unit),
        _("By night [%(unit)s/h]", unit=unit),
        _("Usable at the end [%(unit)s]", unit=unit),
        _("Runs out about"),
    )
    rows = [_row(facts, int(number)) for number in tanks]
    found.append(table(_("What each reservoir gave"), columns, rows, (1, 2, 3, 4, 5)))
    fillings = [each for each in facts.fillings if each.reservoir in tanks]
    if fillings:
        lines = [
            (
                words.day_and_time(each.at, facts.week.zone),
                facts.place.reservoirs[each.reservoir].name,
                words.bare(each.litres if each.litres is not None else np.nan, 0, "l"),
                _(TOLD[each.told]),
                each.person or "–",
            )
            for each in fillings
        ]
        headings = (_("When"), _("Reservoir"), _("Water [%(unit)s]", unit=unit), _("How it is known"), _("By"))
        found.append(table(_("Refills"), headings, lines, (2,)))
    return found


def _demand(facts: Facts, room: int) -> Text:
    each = per_container(facts.place, facts.water.used, room, facts.week)
    if not np.isfinite(each):
        return Text(
            _(
                "Water per container is not known: a level was heard for less than %(percent)s of the week, or no "
                "container.",
                percent=words.percent(ENOUGH, 0),
            )
        )
    used = words.number(each, 2, "l")
    deficit = float(facts.deficit_kpa[room])
    if not np.isfinite(deficit) or deficit <= 0.0:
        return Text(
            _(
                "Each container used %(water)s a day; the air is not measured, so nothing tells how much was asked of "
                "them.",
                water=used,
            )
        )
    return Text(
        _(
            "Each container used %(water)s a day, which is %(for_each)s for each kPa of vapour pressure deficit; the "
            "week's mean deficit was %(deficit)s.",
            water=used,
            for_each=words.number(each / deficit, 2, "l"),
            deficit=words.number(deficit, 2, "kPa"),
        )
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
        refills = int(sum(each.reservoir == number for each in facts.water.used.refills))
        name = facts.place.reservoirs[number].name
        if not len(there):
            parts.append(_("%(name)s: no level", name=name))
            continue
        first, last, low = (words.number(float(value), 0, "l") for value in (there[0], there[-1], there.min()))
        parts.append(
            ngettext(
                "%(name)s from %(first)s to %(last)s, lowest %(low)s, %(num)d refill",
                "%(name)s from %(first)s to %(last)s, lowest %(low)s, %(num)d refills",
                refills,
                name=name,
                first=first,
                last=last,
                low=low,
            )
        )
    return _("Water over the week: %(reservoirs)s.", reservoirs="; ".join(parts))


def _row(facts: Facts, number: int) -> tuple[str, ...]:
    water, found = facts.water, run_out(facts.water, number, facts.week)
    lasting = "–" if not np.isposinf(water.lasts.value[number]) else _("not at this draw")
    return (
        facts.place.reservoirs[number].name,
        words.bare(float(water.used.litres[number]), 1, "l"),
        words.bare(float(water.used.hours[number])),
        words.bare(float(water.day.value[number]), 2, "l"),
        words.bare(float(water.night.value[number]), 2, "l"),
        words.bare(float(water.left_l[number]), 0, "l"),
        lasting if found is None else words.day_and_time(found[0], facts.week.zone),
    )
