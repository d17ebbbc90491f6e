"""The fleet file that goes with a scenario, by section 7 of the public contract.

It tells what a grower would know: tanks, lines, pots, probes, photoperiod, limits. What only the simulation knows (an
emitter's true set point, a probe's offset) is left out.
"""

from __future__ import annotations

from collections.abc import Mapping

from wickwatch_simulator.plan import Container, Facility, Line, Reservoir, Room
from wickwatch_simulator.scenario import Scenario


def fleet_toml(scenario: Scenario) -> str:
    """The whole file as text."""
    return "\n".join(_facility(f) for f in scenario.facilities)


def _value(value: object) -> str:
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value(v) for v in value) + "]"
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{k} = {_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, float):
        return f"{value:.1f}" if value == round(value, 1) else repr(value)
    return str(value)


def _table(header: str, indent: str, values: Mapping[str, object]) -> str:
    lines = [
        f"{indent}[[{header}]]",
        *(f"{indent}{k} = {_value(v)}" for k, v in values.items() if v not in (None, {})),
    ]
    return "\n".join(lines) + "\n"


def _facility(f: Facility) -> str:
    parts = [_table("facility", "", {"slug": f.slug, "name": f.name, "zone": f.zone, "rules": f.rules})]
    parts += [_table("facility.gateway", "  ", {"slug": g.slug}) for g in f.gateways]
    parts += [_room(room) for room in f.rooms]
    return "\n".join(parts)


def _clock(minutes: int) -> str:
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _room(room: Room) -> str:
    own = {
        "slug": room.slug,
        "name": room.name,
        "lights_on": _clock(room.lights_on_min),
        "lights_off": _clock(room.lights_off_min),
        "rules": room.rules,
        "temperature": room.temperature_channel,
        "humidity": room.humidity_channel,
    }
    parts = [_table("facility.room", "  ", own)]
    parts += [_reservoir(r) for r in room.reservoirs]
    parts += [_line(line) for line in room.lines]
    parts += [_container(c) for c in room.containers]
    return "\n".join(parts)


def _reservoir(r: Reservoir) -> str:
    own = {"slug": r.slug, "name": r.name, **r.keys}
    own |= {
        "sensor_zero_mm": r.sensor_zero_mm,
        "outlet_mm": r.outlet_mm,
        "head_mm": r.head_mm,
        "level": r.channel,
    }
    return _table("facility.room.reservoir", "    ", own)


def _line(line: Line) -> str:
    return _table("facility.room.line", "    ", {"slug": line.slug, "reservoir": line.reservoir, "kind": line.kind})


def _container(c: Container) -> str:
    own: dict[str, object] = {"slug": c.slug, "line": c.line, "volume_l": c.volume_l, "medium": c.medium}
    own |= {"stands_for": c.stands_for, "tension": c.probe.channel}
    if c.twin is not None:
        own["twin"] = c.twin.channel
    return _table("facility.room.container", "    ", own)
