"""From the truth at sampled moments to the readings that leave the gateways: instruments, their faults, lost messages.

Works on one segment at a time and keeps no state of its own but the noise of the hour in hand. Not here: batching,
repeating and reordering, which change when a message arrives and not what it says (`gateways`).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Bools, Floats
from wickwatch_simulator import keyed, probe_events, probes
from wickwatch_simulator.catalogue import PROBE_EVENTS
from wickwatch_simulator.channels import Channels
from wickwatch_simulator.engine import Sampled
from wickwatch_simulator.placed import Placed
from wickwatch_simulator.records import Records
from wickwatch_simulator.world import State, World

Piece = tuple[NDArray[np.int32], NDArray[np.int64], NDArray[np.float64]]

#: Devices tell their battery once an hour.
BATTERY_EVERY_S = 3600
#: Ordinary loss of charge [% per day].
BATTERY_PER_DAY = 0.08


#: A device's reading is stamped up to this long before the round moment, the same each time.
PHASE_S = 10


class Readings:
    """Turns samples into readings of all channels."""

    def __init__(self, world: World, channels: Channels, seed: int, start_s: float, events: Sequence[Placed]) -> None:
        self._w, self._c, self._seed, self._start_s = world, channels, seed, start_s
        self._probes = probes.Tensiometers(channels.probes)
        self._level_sigma = np.array([p.noise_mm for p in world.reservoir_plans])
        self._drop = np.array([channels.gateways[g][1].drop_share for g in channels.gateway])
        self._clock_us = np.array(
            [round(1e6 * channels.gateways[g][1].clock_s) for g in channels.gateway], dtype=np.int64
        )
        rng = keyed.generator(seed, "devices")
        devices: dict[str, float] = {}
        self._phase = np.array([devices.setdefault(n.rsplit(":", 1)[0], float(rng.random())) for n in channels.names])
        self._full = rng.uniform(70, 100, channels.battery.stop - channels.battery.start)
        self._low = tuple(event for event in events if event.event == "low-battery")
        self._block_of: tuple[int, int] = (-1, 0)
        self._block: tuple[NDArray[np.float32], NDArray[np.float32]] | None = None

    def read(
        self, got: Sampled, active: Sequence[Placed], state: State, records: Records, interval_s: int
    ) -> list[Piece]:
        """Readings of one segment, in pieces of (channel, microseconds since 1970, value)."""
        if not len(got.at_s):
            return []
        w, c = self._w, self._c
        hour = int(got.at_s[0]) // 3600
        rows = ((got.at_s - hour * 3600) // interval_s).astype(np.intp)
        noise, uniform = (block[rows] for block in self._blocks(hour, interval_s))
        room = w.room_of[c.container_of]
        true = got.tension_mbar[:, c.container_of]
        state.air_entry_s = self._probes.entered(state.air_entry_s, true, got.at_s)
        entered_h = (got.at_s[:, np.newaxis] - state.air_entry_s) / 3600.0
        values = np.empty((len(rows), c.humidity.stop))
        values[:, c.tension] = (
            self._probes.read(true, got.medium_degc[:, room], entered_h) + self._probes.sigma * noise[:, c.tension]
        )
        values[:, c.level] = got.level_mm + self._level_sigma * noise[:, c.level]
        values[:, c.temperature] = np.round(got.temperature_degc + 0.05 * noise[:, c.temperature], 2)
        values[:, c.humidity] = np.round(np.clip(got.humidity_rh + 0.4 * noise[:, c.humidity], 0, 100), 1)
        kept = np.ones(values.shape, dtype=np.bool_)
        for event in active:
            hours = (got.at_s - event.begin_s) / 3600.0
            if event.event in PROBE_EVENTS:
                at = event.index
                values[:, at] = probe_events.changed(event, values[:, at], hours, noise[:, at], records)
                kept[:, at] &= ~probe_events.missing(event, hours, uniform[:, at])
            elif event.event == "refill-splash":
                at = c.level.start + event.index
                values[:, at] = probe_events.splashed(event, values[:, at], hours, noise[:, at])
            elif event.event == "stuck-level":
                at = c.level.start + event.index
                values[:, at] = probe_events.held(event, values[:, at], records)
            elif event.event == "silent-gateway":
                kept &= c.gateway[: c.humidity.stop] != event.index
        values[:, c.tension] = probes.rounded(values[:, c.tension], self._probes.resolution)
        values[:, c.level] = probes.level_reading(w.reservoir_plans, values[:, c.level])
        if self._drop.any():
            kept &= ~probes.lost(self._drop[: c.humidity.stop], self._seed, hour, interval_s, rows)
        row, channel = np.nonzero(kept)
        pieces = [self._piece(got.at_s[row], channel, values[kept], interval_s)]
        full = got.at_s % BATTERY_EVERY_S == 0
        return pieces + [self._batteries(int(at), kept[i], interval_s) for i, at in enumerate(got.at_s) if full[i]]

    def _batteries(self, at_s: int, kept: Bools, interval_s: int) -> Piece:
        c = self._c
        days = (at_s - self._start_s) / 86400.0
        percent = np.maximum(self._full - BATTERY_PER_DAY * days, 1.0)
        for event in self._low:
            if at_s < event.end_s:  # then somebody puts in a new battery
                percent[event.index] = probe_events.charge(event, np.array([(at_s - event.begin_s) / 3600.0]))[0]
        here = np.flatnonzero(kept[: c.level.stop])
        return self._piece(np.full(len(here), at_s), here + c.battery.start, np.round(percent[here]), interval_s)

    def _piece(self, at_s: NDArray[np.int64], channel: NDArray[np.intp], values: Floats, interval_s: int) -> Piece:
        early_ms = np.round(self._phase[channel] * 1000 * min(interval_s, PHASE_S)).astype(np.int64)
        at_us = at_s.astype(np.int64) * 1_000_000 - early_ms * 1000 + self._clock_us[channel]
        return channel.astype(np.int32), at_us, values

    def _blocks(self, hour: int, interval_s: int) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Noise of the hour for all sampled channels, standard normal, and uniform draws for all probes."""
        if self._block is None or self._block_of != (hour, interval_s):
            normal = probes.noise(self._seed, "noise", hour, interval_s, self._c.humidity.stop)
            rng = keyed.generator(self._seed, f"gaps {interval_s}", hour)
            uniform = rng.random((3600 // interval_s, len(self._c.probes)), dtype=np.float32)
            self._block, self._block_of = (normal, uniform), (hour, interval_s)
        return self._block
