"""A simulated house in one line: a scenario file with what a test needs and nothing else."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from wickwatch_simulator import Scenario, Simulation, load_scenario

_HEAD = """
name = "test"
seed = {seed}
start = {start}
days = {days}
rooms = {rooms}

[[facility]]
slug = "alderholm"
name = "Alderholm"
zone = "{zone}"
rooms_per_gateway = 1
gateway = {{ {gateway} }}

[[template]]
name = "Room"
age_days = [40, 60]
{template}
"""


def house(
    folder: Path,
    events: str = "",
    *,
    rooms: int = 1,
    days: float = 4,
    seed: int = 11,
    start: str = "2026-03-02T00:00:00Z",
    zone: str = "Europe/Oslo",
    template: str = "",
    gateway: str = "",
) -> Scenario:
    """A scenario of like rooms, one gateway each, with `events` and further `template` keys as TOML."""
    head = _HEAD.format(seed=seed, start=start, days=days, rooms=rooms, zone=zone, template=template, gateway=gateway)
    path = folder / "test.toml"
    path.write_text(head + events, encoding="utf-8")
    return load_scenario(path)


def event(name: str, **keys: object) -> str:
    """One `[[event]]`."""
    return f'\n[[event]]\nevent = "{name}"\n' + "".join(f"{key} = {value}\n" for key, value in keys.items())


class History:
    """A whole run's readings, series by series."""

    def __init__(self, scenario: Scenario, interval_s: int = 300) -> None:
        self.sim = Simulation(scenario)
        chunks = list(self.sim.run(scenario.start, scenario.end, interval_s))
        channel = np.concatenate([c.channel for c in chunks])
        order = np.argsort(channel, kind="stable")
        self._at = np.concatenate([c.at for c in chunks])[order]
        self._value = np.concatenate([c.value for c in chunks])[order]
        self._ends = np.searchsorted(channel[order], np.arange(len(self.sim.channels.names) + 1))
        self.truth = self.sim.truth()

    def channel(self, number: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Hours since the start, and values."""
        own = slice(self._ends[number], self._ends[number + 1])
        start = np.datetime64(self.sim.scenario.start.replace(tzinfo=None), "us")
        return (self._at[own] - start) / np.timedelta64(1, "h"), self._value[own]

    def tension(self, room: int, pot: int = 1) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Readings of a pot of a room, both counted from 1."""
        return self.channel(self.container(room, pot))

    def level(self, room: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Readings of a room's only reservoir."""
        return self.channel(self.sim.channels.level.start + room - 1)

    def air(self, room: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Readings of a room's temperature."""
        return self.channel(self.sim.channels.temperature.start + room - 1)

    def container(self, room: int, pot: int = 1) -> int:
        return int(np.flatnonzero(self.sim.world.room_of[: self.sim.world.probed] == room - 1)[pot - 1])

    def events(self, name: str) -> list[Mapping[str, object]]:
        return [record for record in self.truth if record["event"] == name]


def between(series: tuple[NDArray[np.float64], NDArray[np.float64]], begin: float, end: float) -> NDArray[np.float64]:
    """Values with `begin` <= hours < `end`."""
    hours, values = series
    return values[(hours >= begin) & (hours < end)]


def fallen(series: tuple[NDArray[np.float64], NDArray[np.float64]], begin: float, end: float) -> float:
    """By how much a level fell [mm], refills (jumps of more than noise) left out."""
    values = between(series, begin, end)
    steps = np.diff(values)
    return float(values[0] - values[-1] + steps[steps > 15].sum())
