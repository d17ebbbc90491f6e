"""Channels as the person sees them who attaches probes: what each says now, its last day, and what it could measure.

Not here: attaching (`web.changing`), or what the numbers mean in a room (`web.views.room`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from wickwatch.fleet import QUANTITIES_OF
from wickwatch.store.pages import ChannelRow, ContainerRow, LineRow, ReservoirRow, SubjectRow
from wickwatch.store.pages.set_up import RoomCounts
from wickwatch.store.people import Visible
from wickwatch.texts import N_, Words, _, point, tension_unit
from wickwatch.web.views import words
from wickwatch.web.views.times import ago
from wickwatch.web.views.watching import Banner

QUANTITIES = Words(
    {
        "tension": N_("tension"),
        "level": N_("water level"),
        "temperature": N_("temperature"),
        "humidity": N_("humidity"),
        "flow": N_("flow"),
        "battery": N_("battery"),
    }
)

_UNITS: Mapping[str, str] = {"Cel": "°C", "%RH": "%", "%EL": "%", "m3/s": "m³/s"}

#: A trend is drawn so wide and high, with so many points at most.
_WIDE, _HIGH, _POINTS = 120, 28, 96


@dataclass(frozen=True)
class ChannelLine:
    """One channel; `to` is what it is attached to, empty where that is nothing."""

    href: str
    name: str
    device: str
    quantity: str
    value: str
    heard: str
    gateway: str
    trend: str
    trend_said: str
    to: str
    twin: bool


@dataclass(frozen=True)
class ChannelsPage:
    """Channels of a facility, those attached to nothing or those in use; `more` leads to the next."""

    facility: Visible
    attached: bool
    lines: tuple[ChannelLine, ...]
    more: str
    live: str
    banners: tuple[Banner, ...]


@dataclass(frozen=True)
class Part:
    """Something that the channel could measure; `had` names the channel that it has now."""

    value: str
    name: str
    kind: str
    had: str


@dataclass(frozen=True)
class Sure:
    """The question before a channel is attached; what its part had is what it would take the place of."""

    part: Part
    may_twin: bool
    from_now: str


@dataclass(frozen=True)
class ChannelPage:
    """One channel and what it could measure in one room."""

    facility: Visible
    channel: ChannelLine
    rooms: tuple[RoomCounts, ...]
    room: str
    parts: tuple[Part, ...]
    sure: Sure | None
    spare: tuple[ChannelLine, ...]
    swap_to: str
    error: str = ""


def line(row: ChannelRow, facility: Visible, means: NDArray[np.float64] | None, now: datetime) -> ChannelLine:
    """One channel; `means` are those of 5 minutes over its last day."""
    room = f", {row.room_slug}" if row.room_slug and row.subject_type != "room" else ""
    return ChannelLine(
        href=f"/set-up/{facility.slug}/channels/{row.id}",
        name=row.name,
        device=row.name.rpartition(":")[0],
        quantity=QUANTITIES[row.quantity],
        value=_("no reading yet") if row.last_value is None else _value(row.last_value, row.unit),
        heard="" if row.last_at is None else ago(row.last_at, now),
        gateway=row.gateway_slug or "",
        trend="" if means is None else trend(means),
        trend_said="" if means is None else _said(means, row.unit),
        to="" if row.subject_name is None else f"{row.subject_name}{room}",
        twin=bool(row.twin),
    )


def trend(means: NDArray[np.float64]) -> str:
    """The path of a trend, with a gap where nothing was heard; empty where there are less than two points."""
    width = -(-len(means) // _POINTS)
    padded = np.concatenate([means, np.full(-len(means) % width, np.nan)]).reshape(-1, width)
    there = np.isfinite(padded)
    sums, counts = np.where(there, padded, 0.0).sum(axis=1), there.sum(axis=1)
    if (counts > 0).sum() < 2:
        return ""
    points = sums / np.where(counts > 0, counts, 1)
    low, high = points[counts > 0].min(), points[counts > 0].max()
    y = (
        (_HIGH - 2) - (points - low) / (high - low or 1.0) * (_HIGH - 4)
        if high > low
        else np.full(len(points), _HIGH / 2)
    )
    x = np.linspace(1, _WIDE - 1, len(points))
    path, down = [], False
    for number, count in enumerate(counts):
        if count:
            path.append(f"{'L' if down else 'M'}{x[number]:.1f} {y[number]:.1f}")
        down = bool(count)
    return "".join(path)


def parts_for(
    quantity: str,
    room: RoomCounts,
    containers: Sequence[ContainerRow],
    reservoirs: Sequence[ReservoirRow],
    lines: Sequence[LineRow],
    holders: Mapping[UUID, str],
) -> tuple[Part, ...]:
    """What a quantity could be of in a room, those that nothing measures yet first; `holders` name what does."""
    found: list[tuple[str, UUID, str]] = [("room", room.id, room.name)]
    found += [("container", one.id, one.name) for one in containers]
    found += [("reservoir", one.id, one.name) for one in reservoirs]
    found += [("line", one.id, one.name) for one in lines]
    parts = [
        Part(f"{kind}:{id}", name, words.THINGS[kind], holders.get(id, ""))
        for kind, id, name in found
        if quantity in QUANTITIES_OF.get(kind, ())
    ]
    return tuple(sorted(parts, key=lambda part: bool(part.had)))


def sure(part: SubjectRow, type: str, id: UUID, had: str, quantity: str, from_now: str) -> Sure:
    """The question before attaching a channel to a part."""
    made = Part(f"{type}:{id}", part.name, words.THINGS[type], had)
    return Sure(made, quantity == "tension" and bool(had), from_now)


def _said(means: NDArray[np.float64], unit: str) -> str:
    there = means[np.isfinite(means)]
    if not len(there):
        return _("nothing in the last day")
    low, high = _number(float(there.min()), unit), _value(float(there.max()), unit)
    return _("from %(low)s to %(high)s over the last day", low=low, high=high)


def _number(value: float, unit: str) -> str:
    """A value of a channel without its unit, with four digits; tension as it is read."""
    return f"{tension_unit().shown(value) if unit == 'hPa' else value:.4g}".replace(".", point())


def _value(value: float, unit: str) -> str:
    return f"{_number(value, unit)} {tension_unit().name if unit == 'hPa' else _UNITS.get(unit, unit)}"
