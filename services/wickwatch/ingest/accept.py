"""Which resolved records are readings: name, quantity, unit, value and time, judged without a database.

Here: names taken apart, units turned into stored ones, physical limits, and the window of times that are taken. Not
here: SenML itself (`senml`), and what is known of channels (`heard`). A stream repeats the same names and units, so
what follows from them is worked out once, as a `Slot`; each record then costs a look-up and two comparisons.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from math import isfinite
from typing import NamedTuple

from wickwatch.agronomy.units import QUANTITIES, conversion
from wickwatch.errors import InputError
from wickwatch.ingest.pack import Pack, Record
from wickwatch.ingest.reasons import Fault, PackRefused, Reason, shown
from wickwatch.store.channels import Channel, Heard

#: A pack is at most this long; one of 10,000 records has about 600 kB.
MAX_PAYLOAD_BYTES = 1024 * 1024

#: A time may be ahead of ours by as much as clocks that are set over the network are ever found to be.
AHEAD_S = 5 * 60.0

_NAME = re.compile(r"([A-Za-z0-9][A-Za-z0-9\-:./_]{0,254}):([A-Za-z0-9\-./_]*)")


#: A channel's name and the unit its records carry.
Key = tuple[str, str | None]


class Slot(NamedTuple):
    """How records of one name and unit are stored: stored = value * scale + offset, if in [low, high]."""

    channel_id: int
    scale: float
    offset: float
    low: float
    high: float


class Window(NamedTuple):
    """Times that are taken, in seconds since 1970 UTC."""

    oldest: float
    newest: float


@dataclass
class Columns:
    """Readings as they are gathered, a column each: channel ids, times in seconds since 1970 UTC, stored values."""

    channel_ids: list[int] = field(default_factory=list)
    at: list[float] = field(default_factory=list)
    values: list[float] = field(default_factory=list)


def window(now: float, retention_days: float) -> Window:
    """Times taken at `now` (seconds since 1970 UTC) by a facility that keeps readings for so many days."""
    return Window(now - retention_days * 86400.0, now + AHEAD_S)


def check_size(payload: bytes) -> None:
    """Raise PackRefused for a payload too large to be looked into."""
    if len(payload) > MAX_PAYLOAD_BYTES:
        raise PackRefused("too-large", f"{len(payload)} bytes")


def accept(pack: Pack, slots: Mapping[Key, Slot], taken: Window, into: Columns) -> tuple[list[Record], list[Fault]]:
    """Append to `into` the records that are readings; return those without a slot, and what is wrong with others."""
    unknown: list[Record] = []
    faults: list[Fault] = []
    oldest, newest = taken
    find = slots.get
    add_id, add_at, add_value = into.channel_ids.append, into.at.append, into.values.append
    for name, unit, value, at, number in zip(pack.names, pack.units, pack.values, pack.at, pack.numbers, strict=True):
        slot = find((name, unit))
        if slot is None:
            unknown.append(Record(name, unit, value, at, None, number))
            continue
        channel_id, scale, offset, low, high = slot
        if type(value) is not float:
            faults.append(Fault(number, "not-finite", f"{shown(name)} is {shown(value)}"))
            continue
        stored = value * scale + offset
        if low <= stored <= high and oldest <= at <= newest:
            add_id(channel_id)
            add_at(at)
            add_value(stored)
        else:
            faults.append(_fault(name, number, stored, at, slot, taken))
    return unknown, faults


def heard(name: str, unit: str | None) -> Heard:
    """Take a channel's name apart and tell the unit it would be kept in. Raises PackRefused for this record's sake."""
    match = _NAME.fullmatch(name)
    if match is None:
        raise PackRefused("name", f"{shown(name)}, {len(name)} characters long")
    device, quantity = match[1], match[2]
    known = QUANTITIES.get(quantity)
    if known is None:
        raise PackRefused("quantity", f"{shown(quantity)}; kept are {', '.join(QUANTITIES)}")
    if unit is None or unit not in known.accepted_units:
        raise PackRefused("unit", f"{quantity} in {shown(unit)}; taken are {', '.join(known.accepted_units)}")
    kept = known.stored_unit if unit == known.ratio_unit else conversion(quantity, unit).stored_unit
    return Heard(name, device, quantity, kept)


def slot(channel: Channel, unit: str) -> Slot:
    """How records of a channel in `unit` are stored. Raises PackRefused for this record's sake."""
    try:
        rule = conversion(channel.quantity, unit, channel.full_scale_mm)
    except InputError as error:
        ratio = unit == QUANTITIES[channel.quantity].ratio_unit
        reason: Reason = "no-full-scale" if ratio else "unit"
        raise PackRefused(reason, f"{shown(channel.name)}: {error}") from None
    if rule.stored_unit != channel.unit:
        raise PackRefused("unit", f"{shown(channel.name)} in {unit}; this channel is kept in {channel.unit}")
    return Slot(channel.id, rule.scale, rule.offset, rule.low, rule.high)


def _fault(name: str, number: int, stored: float, at: float, rule: Slot, taken: Window) -> Fault:
    """What is wrong with a record outside its limits or its time."""
    named = shown(name)
    if not isfinite(stored):
        return Fault(number, "not-finite", f"{named} is {stored}")
    if not rule.low <= stored <= rule.high:
        return Fault(number, "out-of-range", f"{named} is {stored:g}; possible are {rule.low:g} to {rule.high:g}")
    if at > taken.newest:
        return Fault(number, "future", f"{named} at {at:.0f}, {at - taken.newest + AHEAD_S:.0f} s ahead")
    if at < taken.oldest:
        return Fault(number, "too-old", f"{named} at {at:.0f}; kept is what is after {taken.oldest:.0f}")
    return Fault(number, "not-finite", f"{named} at time {at}")
