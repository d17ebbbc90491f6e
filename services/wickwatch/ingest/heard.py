"""What a process knows of who speaks: facilities, their gateways, and the slots of the channels heard through each.

Filled from the database as names come up, and emptied once a minute, so that what people change takes hold without a
message from the web. Each gateway has slots of its own: a channel heard through another one is not in them, which is
how a device that moved is noticed at no cost to the others.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from uuid import UUID

from wickwatch.agronomy.units import QUANTITIES
from wickwatch.fleet import Rules
from wickwatch.ingest.accept import Key, Slot, Window, heard, slot, window
from wickwatch.ingest.reasons import PackRefused
from wickwatch.store import channels
from wickwatch.store.connect import Connection

#: What is known is asked for again after this long.
KEPT_S = 60.0

#: An unknown facility is looked for again no sooner than this, however many packs name it.
ASKED_AGAIN_S = 2.0


@dataclass
class Source:
    """One gateway of one facility and the channels heard through it."""

    facility_id: UUID
    gateway_id: UUID
    retention_days: float
    via: dict[str, Source]  # of the whole facility: through whom each channel was heard last
    marked_at: float = float("-inf")  # when its last pack was noted in the database
    slots: dict[Key, Slot] = field(default_factory=dict)
    channels: dict[str, channels.Channel] = field(default_factory=dict)

    def window(self, now: float) -> Window:
        """Times taken at `now`."""
        return window(now, self.retention_days)

    def learn(self, conn: Connection, keys: Iterable[Key]) -> dict[Key, PackRefused]:
        """Register what is new of these names and give them slots; returns why some can't have one."""
        refused: dict[Key, PackRefused] = {}
        fitting: dict[Key, channels.Heard] = {}
        for key in keys:
            try:
                fitting[key] = heard(*key)
            except PackRefused as why:
                refused[key] = why
        new = [one for one in fitting.values() if one.name not in self.channels]
        if new:
            for channel in channels.register(conn, self.facility_id, self.gateway_id, new):
                before = self.via.get(channel.name)
                if before is not None and before is not self:
                    before.forget(channel.name)
                self.via[channel.name] = self
                self.channels[channel.name] = channel
        for name, unit in fitting:
            try:
                self.slots[name, unit] = slot(self.channels[name], unit or "")
            except PackRefused as why:
                refused[name, unit] = why
        return refused

    def forget(self, name: str) -> None:
        """A channel is heard through another gateway now."""
        channel = self.channels.pop(name, None)
        if channel is not None:
            for unit in QUANTITIES[channel.quantity].accepted_units:
                self.slots.pop((name, unit), None)


class Directory:
    """Everybody who may speak. After a transaction that was rolled back, `clear` it: it may know what never was."""

    def __init__(self) -> None:
        self._places: dict[str, channels.Place] = {}
        self._via: dict[str, dict[str, Source]] = {}
        self._sources: dict[tuple[str, str], Source] = {}
        self._asked = float("-inf")

    def clear(self) -> None:
        """Know nothing."""
        self._places, self._via, self._sources, self._asked = {}, {}, {}, float("-inf")

    def source(self, conn: Connection, facility: str, gateway: str, now: float) -> Source:
        """The gateway of these slugs; registered as heard if it is new. Raises PackRefused for an unknown facility."""
        if now - self._asked > KEPT_S:
            self.clear()
        found = self._sources.get((facility, gateway))
        if found is not None:
            return found
        if facility not in self._places and now - self._asked > ASKED_AGAIN_S:
            self._places = {place.slug: place for place in channels.places(conn)}
            self._asked = now
        place = self._places.get(facility)
        if place is None:
            raise PackRefused("unknown-facility", f"facility {facility}")
        days = Rules.retention_days if place.retention_days is None else place.retention_days
        gateway_id = channels.gateway(conn, place.id, gateway)
        made = Source(place.id, gateway_id, days, self._via.setdefault(facility, {}))
        self._sources[facility, gateway] = made
        return made
