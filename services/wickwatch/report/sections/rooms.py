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
from wickwatch.texts import _, general, ngettext, pgettext

#: Emitters listed for a room; all are in the tables beside the report.
LISTED = 8


def rooms(facts: Facts) -> Iterator[Section]:
    """The table of rooms, and a section for each."""
    rows = [_line(facts, room) for room in range(len(facts.place.rooms))]
    columns = (
        _("Room"),
        _("In band"),
        pgettext("column", "Change"),
        _("Median [%(unit)s]", unit=words.unit_name("mbar")),
        _("Spread [%(unit)s]", unit=words.unit_name("mbar")),
        _("Water a container and day [%(unit)s]", unit=words.unit_name("l")),
        _("Surely drifting"),
        _("Measured"),
    )
    blocks: tuple[Block, ...] = (
        (table(_("Every room this week"), columns, rows, (1, 2, 3, 4, 5, 6, 7)),)
        if rows
        else (Text(_("There is no room in this facility.")),)
    )
    yield Section("rooms", _("Rooms"), blocks, page=True)
    for room in range(len(facts.place.rooms)):
        yield _room(facts, room)


def _line(facts: Facts, room: int) -> tuple[str, ...]:
    inside = _inside(facts, room)
    own = change.in_band(facts, np.array([room]))
    return (
        facts.place.rooms[room].name,
        words.percent(facts.tension.band.share(inside)),
        words.signed(100.0 * own, 1) if facts.alike[room] else _("other lights"),
        words.bare(float(nanmedian(facts.tension.median_mbar[inside])), 0, "mbar"),
        words.bare(float(facts.tension.spread_mbar[room]), 0, "mbar"),
        words.bare(per_container(facts.place, facts.water.used, room, facts.week), 2, "l"),
        f"{int(facts.drift.sure[inside].sum())}",
        words.percent(_measured(facts, room), 0),
    )


def _room(facts: Facts, room: int) -> Section:
    own, inside = facts.place.rooms[room], _inside(facts, room)
    band, lit = facts.tension.band, facts.trends.light_hours[room, -1]
    blocks: list[Block] = [
        Text(
            ngettext(
                "%(num)d container measured, lights %(hours)s hours a day. In band %(percent)s of the measured time; "
                "%(dry)s too dry, %(wet)s too wet.",
                "%(num)d containers measured, lights %(hours)s hours a day. In band %(percent)s of the measured time; "
                "%(dry)s too dry, %(wet)s too wet.",
                len(inside),
                hours=general(float(lit)),
                percent=words.percent(band.share(inside)),
                dry=words.percent(band.share_of(band.too_dry, inside)),
                wet=words.percent(band.share_of(band.too_wet, inside)),
            )
        )
    ]
    daily = facts.tension.room_daily_mbar[room]
    if np.isfinite(daily).any():
        limits = charts.Limits(own.rules.wet_limit_mbar, own.rules.set_point_mbar, own.rules.dry_limit_mbar)
        caption = _("Tension in %(room)s by day: median, and where eight tenths of it lie", room=own.name)
        blocks.append(Chart(caption, charts.tension(facts.week.days, daily, limits), _said(facts, daily, limits)))
        blocks += _emitters(facts, inside)
        blocks += _uneven(facts, room)
    else:
        blocks.append(Text(_("No tension of this week is known in this room.")))
    blocks += water_of_room.blocks(facts, room)
    blocks.append(trend_pages.of_room(facts, room))
    return Section(f"room-{own.slug}", own.name, tuple(blocks), level=2)


def _emitters(facts: Facts, inside: NDArray[np.int64]) -> list[Block]:
    ranked = facts.drift.ranked(inside)[:LISTED]
    if not len(ranked):
        return [Text(_("Too few days tell to rank emitters by drift."))]
    drift, rows = facts.drift, []
    for number in ranked:
        container = facts.place.containers[number]
        rows.append(
            (
                container.name,
                words.bare(float(facts.tension.median_mbar[number]), 0, "mbar"),
                words.signed_bare(float(drift.slope.value[number]), 1, "mbar"),
                words.between(float(drift.slope.low[number]), float(drift.slope.high[number]), 1, "mbar"),
                _("surely") if drift.sure[number] else _("may be chance"),
                _limit(facts, int(number)),
            )
        )
    columns = (
        _("Container"),
        _("Median [%(unit)s]", unit=words.unit_name("mbar")),
        _("Drift [%(unit)s a day]", unit=words.unit_name("mbar")),
        _("Four in five"),
        _("Is it sure?"),
        _("Reaches a limit"),
    )
    caption = _("Emitters by drift, the surest first")
    if len(inside) > LISTED:
        caption = _("Emitters by drift, the surest first, %(shown)d of %(all)d", shown=LISTED, all=len(inside))
    return [table(caption, columns, rows, (1, 2, 3))]


def _limit(facts: Facts, number: int) -> str:
    """When the limit is passed, and within which days; only for a drift that is one."""
    drift, week = facts.drift, facts.week
    days = float(drift.to_limit.value[number])
    if not drift.sure[number] or not np.isfinite(days):
        return "–"
    dry = drift.slope.value[number] > 0
    if days == 0.0:
        return _("beyond the dry limit") if dry else _("beyond the wet limit")
    ends = [float(end[number]) for end in (drift.to_limit.low, drift.to_limit.high)]
    shown = [words.day(_after(facts, end), week.zone) if end < 365.0 else _("never") for end in ends]
    when = {"day": words.day(_after(facts, days), week.zone), "first": shown[0], "last": shown[1]}
    if dry:
        return _("dry limit %(day)s (%(first)s to %(last)s)", **when)
    return _("wet limit %(day)s (%(first)s to %(last)s)", **when)


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
    return [Text(_("Uneven, away from the middle of the room: %(names)s.", names=words.listed(names, 10)))]


def _said(facts: Facts, daily: NDArray[np.float64], limits: charts.Limits) -> str:
    days = [
        f"{day} {words.bare(float(middle), 0, 'mbar')} ({words.between(float(low), float(high), 0, 'mbar')})"
        for day, (low, middle, high) in zip(facts.week.days, daily, strict=True)
    ]
    return _(
        "Median tension in %(unit)s by day, band %(band)s: %(days)s.",
        unit=words.unit_name("mbar"),
        band=words.between(limits.wet, limits.dry, 0, "mbar"),
        days="; ".join(days),
    )


def _inside(facts: Facts, room: int) -> NDArray[np.int64]:
    return np.flatnonzero(facts.place.room_of == room)


def _measured(facts: Facts, room: int) -> float:
    days = facts.completeness.rooms[room]
    return float(np.nanmean(days)) if np.isfinite(days).any() else float("nan")
