"""A facility as the watch knows it, from the fleet file that a simulated fleet comes with.

Read from the file's text, so that nothing a grower could not know gets in. Channels are numbered as the simulation
numbers them.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from datetime import time
from typing import Any
from uuid import NAMESPACE_URL, UUID, uuid5
from zoneinfo import ZoneInfo

from wickwatch.fleet import Channel, Container, Facility, Gateway, Line, Reservoir, Room, Rules, inherit

#: Keys of a reservoir that are no measures of its shape.
_PLAIN = ("slug", "name", "shape", "sensor_zero_mm", "outlet_mm", "head_mm", "level", "rules")


def facilities(
    text: str, channel_names: Sequence[str], gateway_of: Mapping[str, str], interval_s: float
) -> list[Facility]:
    """All facilities of a fleet file; `gateway_of` is the slug of the gateway that each channel is heard through."""
    number = {name: at for at, name in enumerate(channel_names)}
    return [_Reader(given, number, gateway_of, interval_s).facility() for given in tomllib.loads(text)["facility"]]


class _Reader:
    def __init__(
        self, given: Mapping[str, Any], number: Mapping[str, int], gateway_of: Mapping[str, str], interval_s: float
    ) -> None:
        self._given, self._number, self._gateway_of, self._interval_s = given, number, gateway_of, interval_s

    def _id(self, *names: str) -> UUID:
        return uuid5(NAMESPACE_URL, "/".join((self._given["slug"], *names)))

    def facility(self) -> Facility:
        given = self._given
        rules = inherit(Rules(), given.get("rules", {}), given["slug"])
        rooms = tuple(self._room(each, rules) for each in given.get("room", []))
        gateways = tuple(Gateway(self._id("gateway", each["slug"]), each["slug"]) for each in given.get("gateway", []))
        return Facility(self._id(), given["slug"], given["name"], ZoneInfo(given["zone"]), rules, rooms, gateways)

    def _room(self, given: Mapping[str, Any], above: Rules) -> Room:
        slug = given["slug"]
        rules = inherit(above, given.get("rules", {}), slug)
        return Room(
            id=self._id(slug),
            slug=slug,
            name=given["name"],
            lights_on=time.fromisoformat(given["lights_on"]),
            lights_off=time.fromisoformat(given["lights_off"]),
            rules=rules,
            reservoirs=tuple(self._reservoir(each, slug, rules) for each in given.get("reservoir", [])),
            lines=tuple(self._line(each, slug) for each in given.get("line", [])),
            containers=tuple(self._container(each, slug, rules) for each in given.get("container", [])),
            temperature=self._channel(given.get("temperature")),
            humidity=self._channel(given.get("humidity")),
        )

    def _reservoir(self, given: Mapping[str, Any], room: str, above: Rules) -> Reservoir:
        return Reservoir(
            id=self._id(room, "reservoir", given["slug"]),
            slug=given["slug"],
            name=given["name"],
            shape=given["shape"],
            keys={key: value for key, value in given.items() if key not in _PLAIN},
            sensor_zero_mm=given.get("sensor_zero_mm", 0.0),
            outlet_mm=given["outlet_mm"],
            head_mm=given.get("head_mm", 0.0),
            rules=inherit(above, given.get("rules", {}), given["slug"]),
            level=self._channel(given.get("level")),
        )

    def _line(self, given: Mapping[str, Any], room: str) -> Line:
        return Line(
            self._id(room, "line", given["slug"]), given["slug"], given["slug"],
            self._id(room, "reservoir", given["reservoir"]), given["kind"],
        )  # fmt: skip

    def _container(self, given: Mapping[str, Any], room: str, above: Rules) -> Container:
        return Container(
            id=self._id(room, "container", given["slug"]),
            slug=given["slug"],
            name=given["slug"],
            line_id=self._id(room, "line", given["line"]) if "line" in given else None,
            volume_l=given.get("volume_l"),
            medium=given.get("medium"),
            stands_for=given.get("stands_for", 1),
            rules=inherit(above, given.get("rules", {}), given["slug"]),
            tension=self._channel(given.get("tension")),
            twin=self._channel(given.get("twin")),
        )

    def _channel(self, name: str | None) -> Channel | None:
        if name is None:
            return None
        gateway = self._id("gateway", self._gateway_of[name])
        device, quantity = name.rsplit(":", 1)
        battery = self._number.get(f"{device}:battery")
        return Channel(self._number[name], name, quantity, gateway, self._interval_s, battery=battery)
