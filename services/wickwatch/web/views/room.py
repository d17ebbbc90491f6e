"""The room page: what is wrong, what every container and reservoir did, and what to do next.

Not here: the drawing of a chart (`chart`), or reading rows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from wickwatch.store.judged import Judged
from wickwatch.store.pages import AlarmRow, Bucket
from wickwatch.store.refills import Refill
from wickwatch.web.views import status, words
from wickwatch.web.views.chart import Chart, Marked, Plan, Series, chart, photoperiods
from wickwatch.web.views.service import ServicePart
from wickwatch.web.views.settled import SettledLine
from wickwatch.web.views.state import ContainerState, ReservoirState, RoomState, reservoir_tank
from wickwatch.web.views.status import Trouble, trouble
from wickwatch.web.views.times import Moment, ago, moment
from wickwatch.web.views.values import SPANS, Span, Window, by_channel, usable
from wickwatch.web.views.watching import Banner
from wickwatch.web.views.water import Water, water
from wickwatch.web.views.work import WorkForm, form_of_room, subject_name
from wickwatch.web.views.work_done import Done, work_done

LEVEL_HEIGHT = 150


@dataclass(frozen=True)
class ContainerLine:
    """One container in the table, those farthest from their set point first."""

    id: UUID
    name: str
    place: str
    place_words: str
    tension: str
    off: str
    limits: str
    stands_for: int
    read: str
    order: float


@dataclass(frozen=True)
class RoomPage:
    """The whole page."""

    id: UUID
    name: str
    facility: str
    facility_slug: str
    zone: str
    now: Moment
    need: str
    lights: str
    lit: bool
    heard: str
    troubles: tuple[Trouble, ...]
    explained: tuple[Trouble, ...]
    set_aside: tuple[Trouble, ...]
    water: tuple[Water, ...]
    tension: Chart
    levels: tuple[Chart, ...]
    containers: tuple[ContainerLine, ...]
    span: Span
    spans: tuple[Span, ...]
    settling: tuple[SettledLine, ...]
    work: tuple[Done, ...]
    work_form: WorkForm | None
    service: ServicePart
    may_act: bool
    banners: tuple[Banner, ...]


def page(
    state: RoomState,
    span: Span,
    shown: Window,
    buckets: Sequence[Bucket],
    alarms: Sequence[AlarmRow],
    work: Sequence[Judged],
    refills: Sequence[Refill],
    settling: Sequence[SettledLine],
    service: ServicePart,
    banners: Sequence[Banner],
    now: datetime,
    may_act: bool,
) -> RoomPage:
    """The page; `alarms` are those of the room that fall in the window, open or not."""
    zone = state.zone
    asking = ("unacknowledged", "returned-unacknowledged", "acknowledged")
    told = {alarm.id: trouble(alarm, zone, now) for alarm in state.alarms}
    marks = marked(alarms, work, state)
    return RoomPage(
        id=state.row.id,
        name=state.row.name,
        facility=state.row.facility_name,
        facility_slug=state.row.facility_slug,
        zone=state.row.zone,
        now=moment(now, zone, now),
        need=state.need,
        lights=f"{state.row.lights_on:%H:%M}–{state.row.lights_off:%H:%M}",
        lit=status.lit(state, now),
        heard=ago(state.heard_at, now) if state.heard_at else "never",
        troubles=tuple(told[alarm.id] for alarm in state.alarms if alarm.state in asking),
        explained=tuple(told[alarm.id] for alarm in state.alarms if alarm.state == "suppressed-by-design"),
        set_aside=tuple(told[alarm.id] for alarm in state.alarms if alarm.state in ("shelved", "out-of-service")),
        water=tuple(water(reservoir, zone, now) for reservoir in state.reservoirs),
        tension=tension_chart(state, shown, buckets, marks),
        levels=tuple(level_chart(state, one, shown, buckets, marks) for one in state.reservoirs),
        containers=tuple(sorted((_line(one, now) for one in state.containers), key=lambda line: line.order)),
        span=span,
        spans=SPANS,
        settling=tuple(settling),
        work=work_done(work, refills, state, now),
        work_form=form_of_room(state, now) if may_act else None,
        service=service,
        may_act=may_act,
        banners=tuple(banners),
    )


def tension_chart(
    state: RoomState,
    shown: Window,
    buckets: Sequence[Bucket],
    marks: Sequence[Marked] = (),
    only: UUID | None = None,
) -> Chart:
    """Tension of every container, or of one, with the room's band (or that container's own)."""
    points = by_channel(buckets)
    chosen = [one for one in state.containers if only in (None, one.row.id)]
    rules = chosen[0].rules if only and chosen else state.rules
    series = [
        Series(str(one.row.id), one.row.name, points.get(one.row.channel_id or 0, []), _tone(one)) for one in chosen
    ]
    plan = Plan(
        id="tension",
        title="Tension",
        unit="mbar",
        start=shown.start,
        end=shown.end,
        every=shown.every,
        zone=state.zone,
        low=0.0,
        high=rules.dry_limit_mbar * 1.2,
        lights=photoperiods(shown.start, shown.end, state.zone, state.row.lights_on, state.row.lights_off),
        band=(rules.wet_limit_mbar, rules.dry_limit_mbar),
        line=rules.set_point_mbar,
        line_name=f"set point {rules.set_point_mbar:g}",
    )
    return chart(plan, series, marks)


def level_chart(
    state: RoomState,
    reservoir: ReservoirState,
    shown: Window,
    buckets: Sequence[Bucket],
    marks: Sequence[Marked] = (),
) -> Chart:
    """Usable water of one reservoir; levels in mm where its measures can't be right."""
    tank = reservoir_tank(reservoir.row)
    values = by_channel(buckets).get(reservoir.row.channel_id or 0, [])
    points = [(at, usable(reservoir, tank, level)) for at, level in values] if tank else values
    plan = Plan(
        id=f"level-{reservoir.row.slug}",
        title=reservoir.row.name,
        unit="l" if tank else "mm",
        start=shown.start,
        end=shown.end,
        every=shown.every,
        zone=state.zone,
        low=0.0,
        high=max(reservoir.usable_full_l or 0.0, 1.0),
        lights=photoperiods(shown.start, shown.end, state.zone, state.row.lights_on, state.row.lights_off),
        height=LEVEL_HEIGHT,
    )
    mine = [mark for mark in marks if mark.subject_id in (None, reservoir.row.id)]
    return chart(plan, [Series(str(reservoir.row.id), reservoir.row.name, points)], mine)


def marked(alarms: Sequence[AlarmRow], work: Sequence[Judged], state: RoomState) -> list[Marked]:
    """Alarms and work as marks on a chart."""
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
    return found


def _tone(container: ContainerState) -> str:
    return container.place if container.place in ("dry", "wet", "silent") else ""


def _line(container: ContainerState, now: datetime) -> ContainerLine:
    row, rules = container.row, container.rules
    tension = row.tension_mbar
    off = 0.0 if tension is None else tension - rules.set_point_mbar
    sides = (rules.dry_limit_mbar - rules.set_point_mbar, rules.set_point_mbar - rules.wet_limit_mbar)
    return ContainerLine(
        id=row.id,
        name=row.name,
        place=container.place,
        place_words=words.PLACES[container.place],
        tension="" if tension is None else f"{tension:.0f}",
        off="" if tension is None else f"{round(off):+d}",
        limits=f"{rules.wet_limit_mbar:g}–{rules.set_point_mbar:g}–{rules.dry_limit_mbar:g}",
        stands_for=row.stands_for,
        read=ago(row.read_at, now) if row.read_at else "never",
        # How far off in its own band: 1 is at a limit. What is not heard comes first of all.
        order=-9e9
        if container.place == "silent"
        else 9e9
        if tension is None
        else -abs(off / (sides[0] if off > 0 else sides[1])),
    )
