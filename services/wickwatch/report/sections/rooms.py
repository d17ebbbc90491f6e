"""The rooms: all of them in one table, then each with its tension, its emitters, its water and its trends."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.trend import nanmedian
from wickwatch.report import change, charts, words
from wickwatch.report.document import Block, Chart, Section, Text, table
from wickwatch.report.facts import Facts
from wickwatch.report.sections import trend_pages, water_of_room
from wickwatch.report.tension import uneven
from wickwatch.report.used import per_container

#: Emitters listed for a room; all are in the tables beside the report.
LISTED = 8


def rooms(facts: Facts) -> Iterator[Section]:
    """The table of rooms, and a section for each."""
    rows = [_line(facts, room) for room in range(len(facts.place.rooms))]
    columns = (
        "Room",
        "In band",
        "Change",
        "Median [mbar]",
        "Spread [mbar]",
        "Water a container and day [l]",
        "Surely drifting",
        "Measured",
    )
    blocks: tuple[Block, ...] = (
        (table("Every room this week", columns, rows, (1, 2, 3, 4, 5, 6, 7)),)
        if rows
        else (Text("There is no room in this facility."),)
    )
    yield Section("rooms", "Rooms", blocks, page=True)
    for room in range(len(facts.place.rooms)):
        yield _room(facts, room)


def _line(facts: Facts, room: int) -> tuple[str, ...]:
    inside = _inside(facts, room)
    own = change.in_band(facts, np.array([room]))
    return (
        facts.place.rooms[room].name,
        words.percent(facts.tension.band.share(inside)),
        words.signed(100.0 * own, 1) if facts.alike[room] else "other lights",
        words.number(float(nanmedian(facts.tension.median_mbar[inside]))),
        words.number(float(facts.tension.spread_mbar[room])),
        words.number(per_container(facts.place, facts.water.used, room, facts.week), 2),
        f"{int(facts.drift.sure[inside].sum())}",
        words.percent(_measured(facts, room), 0),
    )


def _room(facts: Facts, room: int) -> Section:
    own, inside = facts.place.rooms[room], _inside(facts, room)
    band, lit = facts.tension.band, facts.trends.light_hours[room, -1]
    blocks: list[Block] = [
        Text(
            f"{words.counted(len(inside), 'container', 'containers')} measured, lights {lit:g} hours a day. In band "
            f"{words.percent(band.share(inside))} of the measured time; "
            f"{words.percent(band.share_of(band.too_dry, inside))} too dry, "
            f"{words.percent(band.share_of(band.too_wet, inside))} too wet."
        )
    ]
    daily = facts.tension.room_daily_mbar[room]
    if np.isfinite(daily).any():
        limits = charts.Limits(own.rules.wet_limit_mbar, own.rules.set_point_mbar, own.rules.dry_limit_mbar)
        caption = f"Tension in {own.name} by day: median, and where eight tenths of it lie"
        blocks.append(Chart(caption, charts.tension(facts.week.days, daily, limits), _said(facts, daily, limits)))
        blocks += _emitters(facts, inside)
        blocks += _uneven(facts, room)
    else:
        blocks.append(Text("No tension of this week is known in this room."))
    blocks += water_of_room.blocks(facts, room)
    blocks.append(trend_pages.of_room(facts, room))
    return Section(f"room-{own.slug}", own.name, tuple(blocks), level=2)


def _emitters(facts: Facts, inside: NDArray[np.int64]) -> list[Block]:
    ranked = facts.drift.ranked(inside)[:LISTED]
    if not len(ranked):
        return [Text("Too few days tell to rank emitters by drift.")]
    drift, rows = facts.drift, []
    for number in ranked:
        container = facts.place.containers[number]
        rows.append(
            (
                container.name,
                words.number(float(facts.tension.median_mbar[number])),
                words.signed(float(drift.slope.value[number]), 1),
                words.between(float(drift.slope.low[number]), float(drift.slope.high[number]), 1),
                "surely" if drift.sure[number] else "may be chance",
                _limit(facts, int(number)),
            )
        )
    columns = (
        "Container",
        "Median [mbar]",
        "Drift [mbar a day]",
        "Four in five",
        "Is it sure?",
        "Reaches a limit",
    )
    caption = "Emitters by drift, the surest first" + (f", {LISTED} of {len(inside)}" if len(inside) > LISTED else "")
    return [table(caption, columns, rows, (1, 2, 3))]


def _limit(facts: Facts, number: int) -> str:
    """When the limit is passed, and within which days; only for a drift that is one."""
    drift, week = facts.drift, facts.week
    days = float(drift.to_limit.value[number])
    if not drift.sure[number] or not np.isfinite(days):
        return "–"
    which = "dry" if drift.slope.value[number] > 0 else "wet"
    if days == 0.0:
        return f"beyond the {which} limit"
    ends = [float(end[number]) for end in (drift.to_limit.low, drift.to_limit.high)]
    shown = [words.day(_after(facts, end), week.zone) if end < 365.0 else "never" for end in ends]
    return f"{which} limit {words.day(_after(facts, days), week.zone)} ({shown[0]} to {shown[1]})"


def _after(facts: Facts, days: float) -> datetime:
    return facts.week.until + timedelta(days=min(days, 3650.0))


def _uneven(facts: Facts, room: int) -> list[Block]:
    apart = uneven(facts.place, facts.tension, room)
    if not len(apart):
        return []
    names = [
        f"{facts.place.containers[number].name} {words.signed(float(facts.tension.off_mbar[number]), 0, 'mbar')}"
        for number in apart
    ]
    return [Text(f"Uneven, away from the middle of the room: {words.listed(names, 10)}.")]


def _said(facts: Facts, daily: NDArray[np.float64], limits: charts.Limits) -> str:
    days = [
        f"{day} {words.number(float(middle))} ({words.between(float(low), float(high))})"
        for day, (low, middle, high) in zip(facts.week.days, daily, strict=True)
    ]
    return f"Median tension in mbar by day, band {limits.wet:.0f} to {limits.dry:.0f}: {'; '.join(days)}."


def _inside(facts: Facts, room: int) -> NDArray[np.int64]:
    return np.flatnonzero(facts.place.room_of == room)


def _measured(facts: Facts, room: int) -> float:
    days = facts.completeness.rooms[room]
    return float(np.nanmean(days)) if np.isfinite(days).any() else float("nan")
