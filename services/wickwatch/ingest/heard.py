"""What a process knows of who speaks: facilities, their gateways, and the slots of the channels heard through each.

Read from the database and forgotten after a minute, so that what people change takes hold without a message from the
web. Each gateway has slots of its own: a channel heard through another one is not in them, which is how a device that
moved is noticed at no cost to the others.
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

#: What is known is read again after this long.
KEPT_S = 60.0

#: An unknown facility is looked for again no sooner than this, however many packs name it.
ASKED_AGAIN_S = 2.0


@dataclass
class Site:
    """One facility: gateways by slug, channels by name, each with the gateway it was heard through last."""

    id: UUID
    retention_days: float
    gateways: dict[str, UUID]
    channels: dict[str, channels.Channel]
    sources: dict[UUID, Source] = field(default_factory=dict)


@dataclass
class Source:
    """One gateway of a facility and the slots of the channels heard through it.

    Without `moves` devices stay at the gateway they were last heard through.
    """

    site: Site
    gateway_id: UUID
    moves: bool
    slots: dict[Key, Slot] = field(default_factory=dict)
    marked_at: float = float("-inf")  # when its last pack was noted in the database

    def window(self, now: float) -> Window:
        """Times taken at `now`."""
        return window(now, self.site.retention_days)

    def learn(self, conn: Connection, keys: Iterable[Key]) -> dict[Key, PackRefused]:
        """Register what is new of these names and give them slots; returns why some can't have one."""
        refused: dict[Key, PackRefused] = {}
        fitting: dict[Key, channels.Heard] = {}
        for key in keys:
            try:
                fitting[key] = heard(*key)
            except PackRefused as why:
                refused[key] = why
        new = [one for one in fitting.values() if not self._has(one.name)]
        if new:
            self._register(conn, new)
        for name, unit in fitting:
            try:
                self.slots[name, unit] = slot(self.site.channels[name], unit or "")
            except PackRefused as why:
                refused[name, unit] = why
        return refused

    def _has(self, name: str) -> bool:
        channel = self.site.channels.get(name)
        return channel is not None and channel.gateway_id == self.gateway_id

    def _register(self, conn: Connection, new: list[channels.Heard]) -> None:
        for channel in channels.register(conn, self.site.id, self.gateway_id, new, moves=self.moves):
            before = self.site.channels.get(channel.name)
            if before is not None and before.gateway_id in self.site.sources:
                self.site.sources[before.gateway_id].forget(before)
            self.site.channels[channel.name] = channel

    def forget(self, channel: channels.Channel) -> None:
        """A channel is heard through another gateway now."""
        for unit in QUANTITIES[channel.quantity].accepted_units:
            self.slots.pop((channel.name, unit), None)


class Directory:
    """Everybody who may speak. After a transaction that was rolled back, `clear` it: it may know what never was.

    With `whole`, all channels of a facility are read when its first pack comes, which suits a stream; without, only
    those a pack names. What is heard now has `moves`: a device that another gateway brings is at that one since.
    """

    def __init__(self, *, whole: bool, moves: bool = True) -> None:
        self._whole = whole
        self._moves = moves
        self.clear()

    def clear(self) -> None:
        """Know nothing."""
        self._places: dict[str, channels.Place] = {}
        self._sites: dict[str, Site] = {}
        self._sources: dict[tuple[str, str], Source] = {}
        self._asked = float("-inf")

    def source(self, conn: Connection, facility: str, gateway: str, now: float) -> Source:
        """The gateway of these slugs; registered as heard if it is new. Raises PackRefused for an unknown facility."""
        if now - self._asked > KEPT_S:
            self.clear()
        found = self._sources.get((facility, gateway))
        if found is None:
            site = self._site(conn, facility, now)
            gateway_id = site.gateways.get(gateway) or channels.gateway(conn, site.id, gateway)
            found = self._sources[facility, gateway] = site.sources[gateway_id] = Source(site, gateway_id, self._moves)
        return found

    def _site(self, conn: Connection, facility: str, now: float) -> Site:
        if facility not in self._places and now - self._asked > ASKED_AGAIN_S:
            self._places = {place.slug: place for place in channels.places(conn)}
            self._asked = now
        place = self._places.get(facility)
        if place is None:
            raise PackRefused("unknown-facility", f"facility {facility}")
        if facility not in self._sites:
            days = Rules.retention_days if place.retention_days is None else place.retention_days
            known = channels.known(conn, place.id) if self._whole else ([], [])
            self._sites[facility] = Site(
                place.id, days, dict(known[0]), {channel.name: channel for channel in known[1]}
            )
        return self._sites[facility]
