"""The room page: what is wrong, what every container and reservoir did, and what to do next.

Not here: the drawing of a chart (`chart`), or reading rows.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from wickwatch.agronomy.tank import Tank
from wickwatch.store.pages import AlarmRow, Bucket, WorkRow
from wickwatch.web.views import status, words
from wickwatch.web.views.chart import Chart, Marked, Plan, Series, chart, photoperiods
from wickwatch.web.views.state import ContainerState, ReservoirState, RoomState, reservoir_tank
from wickwatch.web.views.status import Trouble, Water, trouble
from wickwatch.web.views.times import Moment, ago, moment
from wickwatch.web.views.watching import Banner
from wickwatch.web.views.work import Choices, Done, choices, done

LEVEL_HEIGHT = 150


@dataclass(frozen=True)
class Span:
    """A length of time to look back on, and the width of its buckets."""

    key: str
    label: str
    length: timedelta
    every: timedelta


SPANS = (
    Span("24h", "24 hours", timedelta(hours=24), timedelta(minutes=10)),
    Span("7d", "7 days", timedelta(days=7), timedelta(hours=1)),
    Span("30d", "30 days", timedelta(days=30), timedelta(hours=4)),
)


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
    work: tuple[Done, ...]
    choices: Choices | None
    may_act: bool
    banners: tuple[Banner, ...]


@dataclass(frozen=True)
class Window:
    """From when to when, and how wide a bucket is."""

    start: datetime
    end: datetime
    every: timedelta


@dataclass(frozen=True)
class Table:
    """The values of a chart, one row for each bucket."""

    heads: tuple[str, ...]
    rows: tuple[tuple[Moment, tuple[str, ...]], ...]


def span_of(key: str) -> Span:
    """The span with this key, the shortest for any other."""
    return next((span for span in SPANS if span.key == key), SPANS[0])


def window(span: Span, now: datetime) -> Window:
    """The buckets that end with the one `now` falls in, on whole multiples of their width."""
    seconds = span.every.total_seconds()
    end = datetime.fromtimestamp((now.timestamp() // seconds + 1) * seconds, now.tzinfo)
    return Window(end - span.length, end, span.every)


def page(
    state: RoomState,
    span: Span,
    shown: Window,
    buckets: Sequence[Bucket],
    alarms: Sequence[AlarmRow],
    work: Sequence[WorkRow],
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
        water=tuple(status.water(reservoir, zone, now) for reservoir in state.reservoirs),
        tension=tension_chart(state, shown, buckets, marks),
        levels=tuple(level_chart(state, one, shown, buckets, marks) for one in state.reservoirs),
        containers=tuple(sorted((_line(one, now) for one in state.containers), key=lambda line: line.order)),
        span=span,
        spans=SPANS,
        work=tuple(done(row, state, now) for row in reversed(work)),
        choices=choices(state) if may_act else None,
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


def usable(reservoir: ReservoirState, tank: Tank, level_mm: float) -> float:
    """Litres above the level at which the line starves."""
    empty = tank.clip_level_mm(reservoir.row.outlet_mm + reservoir.row.head_mm)
    return float(tank.usable_l(tank.clip_level_mm(level_mm + reservoir.row.sensor_zero_mm), float(empty)))


def channel_ids(state: RoomState, only: UUID | None = None) -> list[int]:
    """Channels of a room's containers and reservoirs, or of one of them."""
    found = [(one.row.id, one.row.channel_id) for one in state.containers]
    found += [(one.row.id, one.row.channel_id) for one in state.reservoirs]
    return [channel for id, channel in found if channel is not None and only in (None, id)]


def by_channel(buckets: Sequence[Bucket]) -> dict[int, list[tuple[datetime, float]]]:
    """Beginning and mean of each bucket, by channel."""
    found: dict[int, list[tuple[datetime, float]]] = defaultdict(list)
    for bucket in buckets:
        found[bucket.channel_id].append((bucket.at, bucket.mean))
    return found


def marked(alarms: Sequence[AlarmRow], work: Sequence[WorkRow], state: RoomState) -> list[Marked]:
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
    for row in work:
        entry = done(row, state, row.at)
        found.append(Marked(row.at, "work", f"{entry.what}: {entry.subject}", subject_id=row.subject_id))
    return found


def table(state: RoomState, shown: Window, buckets: Sequence[Bucket], now: datetime) -> Table:
    """Tension of every container and water of every reservoir, newest first."""
    points: Mapping[int, Mapping[datetime, float]] = {
        channel: dict(values) for channel, values in by_channel(buckets).items()
    }
    containers = [one for one in state.containers if one.row.channel_id is not None]
    reservoirs = [(one, reservoir_tank(one.row)) for one in state.reservoirs if one.row.channel_id is not None]
    heads = [f"{one.row.name}, mbar" for one in containers]
    heads += [f"{one.row.name}, {'l' if tank else 'mm'}" for one, tank in reservoirs]
    rows = []
    for number in range(round((shown.end - shown.start) / shown.every) - 1, -1, -1):
        at = shown.start + number * shown.every
        cells = [points.get(one.row.channel_id or 0, {}).get(at) for one in containers]
        for one, tank in reservoirs:
            level = points.get(one.row.channel_id or 0, {}).get(at)
            cells.append(None if level is None else usable(one, tank, level) if tank else level)
        if any(cell is not None for cell in cells):
            rows.append((moment(at, state.zone, now), tuple("" if cell is None else f"{cell:.1f}" for cell in cells)))
    return Table(tuple(heads), tuple(rows))


def pointer_values(state: RoomState, shown: Window, buckets: Sequence[Bucket], now: datetime) -> dict[str, object]:
    """Values of every line of the charts by the number of their bucket, with what each time is called."""
    found = by_channel(buckets)
    count = round((shown.end - shown.start) / shown.every)

    def placed(channel_id: int | None, digits: int, value: Callable[[float], float]) -> list[float | None]:
        row: list[float | None] = [None] * count
        for at, mean in found.get(channel_id or 0, []):
            row[round((at - shown.start) / shown.every)] = round(value(mean), digits)
        return row

    lines: dict[str, list[float | None]] = {
        str(one.row.id): placed(one.row.channel_id, 1, lambda tension: tension) for one in state.containers
    }
    for one in state.reservoirs:
        tank = reservoir_tank(one.row)
        litres = (lambda level, one=one, tank=tank: usable(one, tank, level)) if tank else (lambda level: level)
        lines[str(one.row.id)] = placed(one.row.channel_id, 1, litres)
    times = [moment(shown.start + number * shown.every, state.zone, now).text for number in range(count)]
    return {"times": times, "lines": lines}


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
