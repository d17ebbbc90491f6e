"""A place and its readings in one line each, for tests of detectors.

    place = facility(room(pots=3))
    frame = Told(place).tension(0, steady(100)).level(0, falling(500, per_h=6)).frame(NOW)

Ids are made from names, so that two builds of the same place are equal.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, time, timedelta
from uuid import NAMESPACE_URL, UUID, uuid5
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from tests.evaluation.frames import Record
from wickwatch.detect import Finding, Frame, Judgement, sweep
from wickwatch.fleet import Channel, Container, Facility, Gateway, Kind, Line, Reservoir, Room, Rules, Work

NOW = datetime(2026, 11, 20, 12, 0, tzinfo=UTC)
OSLO = ZoneInfo("Europe/Oslo")

#: Value at a time, given as hours before (negative) or after the moment the frame is of.
Course = Callable[[NDArray[np.float64]], NDArray[np.float64]]

#: 580 mm wide and 900 high: 0.2642 l per mm.
TANK: Mapping[str, object] = {"diameter_mm": 580, "height_mm": 900}
LITRES_PER_MM = np.pi * 290**2 / 1e6


#: A device's battery is stored under the number of its other channel and this.
BATTERY = 10_000


def ident(name: str) -> UUID:
    return uuid5(NAMESPACE_URL, name)


def gateway(slug: str = "gw-01", heard: datetime | None = NOW, **more: object) -> Gateway:
    return replace(Gateway(ident(slug), slug, heard_at=heard), **more)  # type: ignore[arg-type]


def room(
    slug: str = "room-1",
    pots: int = 3,
    lights: tuple[int, int] = (6, 18),
    rules: Rules = Rules(),  # noqa: B008  frozen
    reservoirs: int = 1,
    interval_s: float | None = 60.0,
    twins: bool = False,
    first_channel: int = 1,
    stands_for: int = 1,
    air: bool = False,
) -> Room:
    """A room whose pots hang on its reservoirs in turn; pot i has tension channel first_channel + i.

    With `air` its temperature and humidity are measured.
    """
    tanks = tuple(
        Reservoir(
            ident(f"{slug}/tank-{n}"), f"tank-{n}", f"Tank {n}", "cylinder", TANK,
            sensor_zero_mm=0, outlet_mm=40, head_mm=30, rules=rules,
            level=_channel(first_channel + 900 + n, "level", interval_s),
        )
        for n in range(reservoirs)
    )  # fmt: skip
    lines = tuple(
        Line(ident(f"{slug}/line-{n}"), f"line-{n}", f"Line {n}", tank.id, "loop") for n, tank in enumerate(tanks)
    )
    containers = tuple(
        Container(
            ident(f"{slug}/pot-{n}"), f"pot-{n}", f"Pot {n}", lines[n % len(lines)].id if lines else None, 20.0,
            "peat-perlite", stands_for, rules,
            tension=_channel(first_channel + n, "tension", interval_s),
            twin=_channel(first_channel + 500 + n, "tension", interval_s) if twins else None,
        )
        for n in range(pots)
    )  # fmt: skip
    on, off = time(lights[0]), time(lights[1])
    measured = [_channel(first_channel + 950 + n, what, 300.0) for n, what in enumerate(("temperature", "humidity"))]
    return Room(ident(slug), slug, slug, on, off, rules, tanks, lines, containers, *(measured if air else (None, None)))


def _channel(number: int, quantity: str, interval_s: float | None) -> Channel:
    name = f"urn:dev:mac:0224be{number:010x}:{quantity}"
    return Channel(number, name, quantity, ident("gw-01"), interval_s, battery=number + BATTERY)


def facility(*rooms: Room, zone: ZoneInfo = OSLO, gateways: Sequence[Gateway] = (), rules: Rules = Rules()) -> Facility:  # noqa: B008
    return Facility(ident("birchwood"), "birchwood", "Birchwood", zone, rules, rooms, tuple(gateways) or (gateway(),))


def steady(value: float, noise: float = 0.0, seed: int = 0) -> Course:
    """Always the same, with seeded noise."""
    return lambda hours: value + noise * np.random.default_rng(seed).standard_normal(len(hours))


def falling(now: float, per_h: float) -> Course:
    """`now` at the moment of the frame, more before."""
    return lambda hours: now - per_h * hours


def steps(*points: tuple[float, float]) -> Course:
    """Straight lines between (hours, value) points; the ends go on level."""
    at, values = zip(*points, strict=True)
    return lambda hours: np.interp(hours, at, values)


def sawtooth(low: float, high: float, dries_h: float = 3.0, wets_h: float = 0.5) -> Course:
    """Drying from `low` to `high`, watered again within half an hour, for ever: an emitter that works."""
    period = dries_h + wets_h

    def course(hours: NDArray[np.float64]) -> NDArray[np.float64]:
        phase = np.mod(hours, period)
        return np.where(
            phase < dries_h, low + (high - low) * phase / dries_h, high - (high - low) * (phase - dries_h) / wets_h
        )

    return course


def watered(
    at_h: float, start: float, end: float, minutes: float, spreads_min: float = 10.0, before: Course | None = None
) -> Course:
    """Tension `start` (or `before`) until `at_h`; then water comes at one rate for `minutes` and takes it to `end`.

    Water goes with tension^-0.45, and reaches the cup as it spreads, with a time constant of `spreads_min`.
    """

    def course(hours: NDArray[np.float64]) -> NDArray[np.float64]:
        given = np.clip((hours - at_h) * 60.0, 0.0, minutes)
        since = np.maximum((hours - at_h) * 60.0, 0.0)
        # What came at a steady rate, less what has not spread yet.
        waiting = spreads_min * (np.exp(-(since - given) / spreads_min) - np.exp(-since / spreads_min))
        share = (given - waiting) / minutes
        tension = (start**-0.45 + share * (end**-0.45 - start**-0.45)) ** (-1 / 0.45)
        return np.where(hours < at_h, start if before is None else before(hours), tension)

    return course


def drawn(now: float, by_day: float, by_night: float, lights: tuple[int, int] = (6, 18)) -> Course:
    """A level that ends at `now`, falling by so many mm an hour by day and by night (Oslo's winter time, UTC + 1)."""

    def course(hours: NDArray[np.float64]) -> NDArray[np.float64]:
        grid = np.arange(np.floor(hours.min()) - 1, np.ceil(hours.max()) + 2, 1 / 12)
        local = np.mod(13.0 + grid, 24.0)  # NOW is 13:00 in Oslo
        rate = np.where((local >= lights[0]) & (local < lights[1]), by_day, by_night)
        total = np.concatenate([[0.0], np.cumsum(rate[:-1]) / 12])
        return now + np.interp(0.0, grid, total) - np.interp(hours, grid, total)

    return course


def plus(*courses: Course) -> Course:
    return lambda hours: np.sum([each(hours) for each in courses], axis=0)


@dataclass
class Told:
    """What each channel of a place told, with hours counted from NOW.

    Readings come every `interval_s`, from `days` before NOW until `later_h` after it, unless a channel says otherwise.
    """

    place: Facility
    interval_s: float = 60.0
    days: float = 2.0
    later_h: float = 0.0
    _courses: list[tuple[int, Course, float | None, float, tuple[float, ...]]] = field(default_factory=list)
    _record: Record | None = None

    def channel(
        self,
        number: int,
        course: Course,
        until_h: float | None = None,
        interval_s: float | None = None,
        holes: Sequence[float] = (),
    ) -> Told:
        """A course on a channel, silent after `until_h` and within pairs of `holes`."""
        self._courses.append((number, course, until_h, interval_s or self.interval_s, tuple(holes)))
        return self

    def tension(self, pot: int, course: Course, at_room: int = 0, **more: object) -> Told:
        tension = self.place.rooms[at_room].containers[pot].tension
        assert tension is not None
        return self.channel(tension.id, course, **more)  # type: ignore[arg-type]

    def twin(self, pot: int, course: Course, at_room: int = 0, **more: object) -> Told:
        twin = self.place.rooms[at_room].containers[pot].twin
        assert twin is not None
        return self.channel(twin.id, course, **more)  # type: ignore[arg-type]

    def level(self, tank: int, course: Course, at_room: int = 0, **more: object) -> Told:
        level = self.place.rooms[at_room].reservoirs[tank].level
        assert level is not None
        return self.channel(level.id, course, **more)  # type: ignore[arg-type]

    def battery(self, channel: Channel | None, course: Course, **more: object) -> Told:
        """Charge of a channel's device, told every hour."""
        assert channel is not None
        assert channel.battery is not None
        return self.channel(channel.battery, course, interval_s=3600.0, **more)  # type: ignore[arg-type]

    def air(self, degc: Course, rh: Course, at_room: int = 0) -> Told:
        room = self.place.rooms[at_room]
        assert room.temperature is not None
        assert room.humidity is not None
        return self.channel(room.temperature.id, degc).channel(room.humidity.id, rh)

    def frame(self, as_of: datetime = NOW) -> Frame:
        """The frame as of a moment; readings after it are there but must not be seen."""
        if self._record is None:
            self._record = self._recorded()
        return self._record.frame(stamp(as_of))

    def _recorded(self) -> Record:
        now = stamp(NOW)
        ids = np.array(sorted({number for number, *_ in self._courses}), dtype=np.int64)
        start, end = -24 * self.days, self.later_h
        record = Record(ids, now + _span(start), now + _span(end) + np.timedelta64(1, "s"))
        for number, course, until_h, interval_s, holes in self._courses:
            last = end if until_h is None else until_h
            hours = np.arange(start, last + 1e-9, interval_s / 3600)
            for begin, stop in zip(holes[::2], holes[1::2], strict=True):
                hours = hours[(hours < begin) | (hours >= stop)]
            record.add(np.full(len(hours), np.searchsorted(ids, number)), now + _span(hours), course(hours))
        return record

    def judge(self, kind: Kind, work: Sequence[Work] = (), as_of: datetime = NOW) -> Judgement:
        return sweep(self.frame(as_of), self.place, work, frozenset({kind}))

    def found(self, kind: Kind, work: Sequence[Work] = (), as_of: datetime = NOW) -> list[Finding]:
        return list(self.judge(kind, work, as_of).findings)


def _span(hours: float | NDArray[np.float64]) -> NDArray[np.timedelta64]:
    return (np.asarray(hours) * 3.6e9).round().astype("timedelta64[us]")


def stamp(at: datetime) -> np.datetime64:
    return np.datetime64(at.astimezone(UTC).replace(tzinfo=None), "us")


def worked(kind: str, thing: Container | Reservoir | Line | Room, hours_ago: float) -> Work:
    """A work entry about a thing, so long before NOW."""
    name = type(thing).__name__.lower()
    at = NOW - timedelta(hours=hours_ago)
    return Work(ident(f"{kind}{thing.id}{at}"), kind, name, thing.id, None, at)


def names(findings: Sequence[Finding]) -> list[str]:
    return [each.subject.name for each in findings]
