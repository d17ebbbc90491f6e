"""The room page: what is wrong, what every container and reservoir did, and what to do next.

Not here: the drawing of a chart (`chart`), or reading rows.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from wickwatch.store.judged import Judged
from wickwatch.store.pages import AlarmRow
from wickwatch.store.refills import Refill
from wickwatch.texts import _
from wickwatch.web.views.chart import Chart
from wickwatch.web.views.days import Day
from wickwatch.web.views.ranking import ContainerLine, ranked
from wickwatch.web.views.room_charts import level_figure, marked, tension_figure
from wickwatch.web.views.service import ServicePart
from wickwatch.web.views.settled import SettledLine
from wickwatch.web.views.state import RoomState
from wickwatch.web.views.times import Moment, ago, moment
from wickwatch.web.views.trouble import ASKING, Trouble, trouble
from wickwatch.web.views.values import SPANS, Means, Span, Window
from wickwatch.web.views.watching import Banner
from wickwatch.web.views.water import Water, water
from wickwatch.web.views.work import WorkForm, form_of_room
from wickwatch.web.views.work_done import Done, work_done


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
    only: ContainerLine | None
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
    means: Means,
    alarms: Sequence[AlarmRow],
    work: Sequence[Judged],
    refills: Sequence[Refill],
    settled: Mapping[UUID, SettledLine],
    days: Mapping[UUID, Day],
    service: ServicePart,
    banners: Sequence[Banner],
    now: datetime,
    may_act: bool,
    only: UUID | None = None,
) -> RoomPage:
    """The page; `alarms` are those of the room that fall in the window, open or not, `only` is a container alone."""
    zone = state.zone
    told = {alarm.id: trouble(alarm, zone, now) for alarm in state.alarms}
    marks = marked(alarms, work, refills, state)
    containers = ranked(state, days, settled, now)
    return RoomPage(
        id=state.row.id,
        name=state.row.name,
        facility=state.row.facility_name,
        facility_slug=state.row.facility_slug,
        zone=state.row.zone,
        now=moment(now, zone, now),
        need=state.need,
        lights=state.lights,
        lit=state.lit(now),
        heard=ago(state.heard_at, now) if state.heard_at else _("never"),
        troubles=tuple(told[alarm.id] for alarm in state.alarms if alarm.state in ASKING),
        explained=tuple(told[alarm.id] for alarm in state.alarms if alarm.state == "suppressed-by-design"),
        set_aside=tuple(told[alarm.id] for alarm in state.alarms if alarm.state in ("shelved", "out-of-service")),
        water=tuple(water(reservoir, zone, now) for reservoir in state.reservoirs),
        tension=tension_figure(state, shown, means, marks, only, days).drawn(),
        levels=tuple(level_figure(state, one, shown, means, marks).drawn() for one in state.reservoirs),
        only=next((line for line in containers if line.id == only), None),
        containers=containers,
        span=span,
        spans=SPANS,
        settling=tuple(line for line in settled.values() if line.settling),
        work=work_done(work, refills, state, now),
        work_form=form_of_room(state, now) if may_act else None,
        service=service,
        may_act=may_act,
        banners=tuple(banners),
    )
