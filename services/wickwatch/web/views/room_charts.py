"""The figures of a room: the tension of its containers and the water of its reservoirs, with what is marked on them.

Each is a plan, its lines, marks and forecasts, which the server draws (`chart`) and a script draws again
(`chart_data`). Not here: reading rows.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from uuid import UUID

import numpy as np

from wickwatch.store.judged import Judged
from wickwatch.store.pages import AlarmRow
from wickwatch.store.refills import Refill
from wickwatch.texts import Unit, _, general, tension_unit, volume, volume_unit
from wickwatch.web.views import words
from wickwatch.web.views.axes import photoperiods
from wickwatch.web.views.chart import Chart, chart
from wickwatch.web.views.days import Day, level_ahead, tension_aheads
from wickwatch.web.views.plan import Ahead, Marked, Plan, Series
from wickwatch.web.views.state import ContainerState, ReservoirState, RoomState, reservoir_tank
from wickwatch.web.views.values import Means, Window, usable
from wickwatch.web.views.work import subject_name

LEVEL_HEIGHT = 150


@dataclass(frozen=True)
class Figure:
    """One chart before it is drawn."""

    plan: Plan
    series: tuple[Series, ...]
    marks: tuple[Marked, ...]
    aheads: tuple[Ahead, ...] = ()

    def drawn(self) -> Chart:
        """The chart as shapes."""
        return chart(self.plan, self.series, self.marks, self.aheads)


def tension_figure(
    state: RoomState,
    shown: Window,
    means: Means,
    marks: Sequence[Marked] = (),
    only: UUID | None = None,
    days: Mapping[UUID, Day] | None = None,
) -> Figure:
    """Tension of every container, or of one, with the room's band (or that container's own)."""
    nothing = np.full(shown.count, np.nan)
    chosen = [one for one in state.containers if only in (None, one.row.id)]
    rules = chosen[0].rules if only and chosen else state.rules
    unit = tension_unit()
    series = tuple(
        Series(str(one.row.id), one.row.name, unit.shown(means.get(one.row.channel_id or 0, nothing)), tone(one))
        for one in chosen
    )
    plan = Plan(
        id="tension",
        title=_("Tension"),
        unit=unit.name,
        digits=unit.digits,
        start=shown.start,
        end=shown.end,
        every=shown.every,
        zone=state.zone,
        low=0.0,
        high=unit.shown(rules.dry_limit_mbar * 1.2),
        lights=photoperiods(
            shown.start, shown.end + shown.ahead, state.zone, state.row.lights_on, state.row.lights_off
        ),
        band=(unit.shown(rules.wet_limit_mbar), unit.shown(rules.dry_limit_mbar)),
        line=unit.shown(rules.set_point_mbar),
        line_name=_("set point %(value)s", value=general(unit.shown(rules.set_point_mbar))),
        ahead=shown.ahead,
    )
    mine = [mark for mark in marks if only is None or mark.subject_id in (None, only)]
    coming = tension_aheads(state, days, shown.end, shown.ahead) if days and shown.ahead else []
    aheads = tuple(_ahead(one, unit) for one in coming if only is None or one.id == str(only))
    return Figure(plan, series, tuple(mine), aheads)


def level_figure(
    state: RoomState,
    reservoir: ReservoirState,
    shown: Window,
    means: Means,
    marks: Sequence[Marked] = (),
) -> Figure:
    """Usable water of one reservoir; levels in mm where its measures can't be right."""
    tank = reservoir_tank(reservoir.row)
    level = means.get(reservoir.row.channel_id or 0, np.full(shown.count, np.nan))
    unit = volume_unit() if tank else Unit("mm", 1.0, 0)
    values = unit.shown(usable(reservoir, tank, level) if tank else level)
    plan = Plan(
        id=f"level-{reservoir.row.slug}",
        title=reservoir.row.name,
        unit=unit.name,
        digits=0,
        start=shown.start,
        end=shown.end,
        every=shown.every,
        zone=state.zone,
        low=0.0,
        high=unit.shown(max(reservoir.usable_full_l or 0.0, 1.0)),
        lights=photoperiods(
            shown.start, shown.end + shown.ahead, state.zone, state.row.lights_on, state.row.lights_off
        ),
        height=LEVEL_HEIGHT,
        ahead=shown.ahead,
    )
    mine = tuple(mark for mark in marks if mark.subject_id in (None, reservoir.row.id))
    ahead = level_ahead(reservoir, shown.end, shown.ahead) if shown.ahead and tank else None
    series = (Series(str(reservoir.row.id), reservoir.row.name, values),)
    return Figure(plan, series, mine, (_ahead(ahead, unit),) if ahead else ())


def marked(
    alarms: Sequence[AlarmRow], work: Sequence[Judged], refills: Sequence[Refill], state: RoomState
) -> list[Marked]:
    """Alarms, work, and refills that nobody wrote down as marks on a chart."""
    found = [
        Marked(
            alarm.raised_at,
            "alarm",
            f"{words.KINDS[alarm.kind]}: {alarm.subject_name}",
            f"/alarms/{alarm.id}",
            alarm.priority,
            alarm.subject_id,
        )
        for alarm in alarms
        if alarm.state != "suppressed-by-design"
    ]
    for each in work:
        entry = each.entry
        what = f"{words.WORK.get(entry.kind, entry.kind)}: {subject_name(state, entry.subject_id)}"
        found.append(Marked(entry.at, "work", what, subject_id=entry.subject_id))
    for refill in refills:
        if refill.entry_id is None:
            refilled = _("Refilled with %(volume)s", volume=volume(refill.litres))
            what = f"{refilled}: {refill.reservoir}"
            found.append(Marked(refill.start, "work", what, subject_id=refill.reservoir_id))
    return found


def _ahead(ahead: Ahead, unit: Unit) -> Ahead:
    """A forecast with its values in a unit for reading."""
    points = [(at, unit.shown(value), unit.shown(low), unit.shown(high)) for at, value, low, high in ahead.points]
    return replace(ahead, points=points)


def tone(container: ContainerState) -> str:
    """How a container's line is drawn: quiet, unless something is wrong with it."""
    return container.place if container.place in ("dry", "wet", "silent") and not container.out else ""
