"""A simulation: a scenario's fleet, running from its start; hands out readings, the fleet file and the truth.

Time is cut into segments that lie within one hour of UTC and cross no event's beginning or end. All that is drawn at
random is keyed by what it is for, so a history comes out the same in one run, in pieces, or after `save` and `restore`.
Not here: physics (`engine`), instruments (`readings`), files (`fleet_file`, `truth`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Floats
from wickwatch.errors import InputError, RefusedError
from wickwatch_simulator import engine, truth
from wickwatch_simulator.channels import channels
from wickwatch_simulator.chunk import Chunk, joined
from wickwatch_simulator.effects import Effects, in_force
from wickwatch_simulator.fleet_file import fleet_toml
from wickwatch_simulator.placed import Placed, place
from wickwatch_simulator.readings import Piece, Readings
from wickwatch_simulator.records import records
from wickwatch_simulator.reservoirs import refills
from wickwatch_simulator.scenario import Scenario
from wickwatch_simulator.truth import HOUR_S
from wickwatch_simulator.water_watch import water_watch
from wickwatch_simulator.world import first_state, world

#: Before a reservoir is forgotten people add just what lasts until then and its `hours_left`, from this long ahead, so
#: that it runs dry when planned without water vanishing.
KEPT_LOW_H = 20 * 24.0


class Simulation:
    """One run of a scenario. `now` is how far it has come; time only goes forward."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario = scenario
        self.world = world(scenario)
        self.state = first_state(self.world)
        self.placed = place(scenario)
        self.records = records(len(self.placed))
        self.channels = channels(scenario, self.world)
        self.refills: list[truth.Filled] = []
        self.water = water_watch(self.world)
        #: Probes that air entered, as rows [probe, from, to], times in seconds, NaN while it lasts.
        self.dry_probes: list[list[float]] = []
        self.limits = truth.limits(self)
        self._now_s = int(scenario.start.timestamp())
        self._start_s = self._now_s
        self._readings = Readings(self.world, self.channels, scenario.seed, self._start_s, self.placed)
        zone_of = {f.slug: f.zone for f in scenario.facilities}
        self._zones = [zone_of[self.world.room_plans[r].facility] for r in self.world.reservoir_room]
        self._rates: dict[int, engine.Rates] = {}

    @property
    def now(self) -> datetime:
        """Where the simulation stands; the next reading is of this moment or later."""
        return datetime.fromtimestamp(self._now_s, UTC)

    def fleet_toml(self) -> str:
        """The fleet file that goes with the readings."""
        return fleet_toml(self.scenario)

    def run(self, start: datetime, end: datetime, interval: timedelta | float, rows: int = 500_000) -> Iterator[Chunk]:
        """Readings of every `interval` (or seconds) in [start, end), in chunks of about `rows`, in order of time.

        What lies between `now` and `start` is simulated and not handed out. Raises RefusedError if `start` has passed,
        InputError if the interval does not divide an hour.
        """
        interval_s = _interval_s(interval)
        begin, stop = _next(start, interval_s), _next(end, interval_s)
        if begin < self._now_s:
            raise RefusedError(
                f"the simulation stands at {self.now.isoformat()}; it can't go back to {start.isoformat()}"
            )
        for _ in self._segments(
            min(begin, -(-self._now_s // interval_s) * interval_s), math.gcd(self._now_s, interval_s)
        ):
            pass  # from wherever it stands onto the interval's grid
        for _ in self._segments(begin, interval_s):
            pass
        parts: list[Piece] = []
        for pieces in self._segments(stop, interval_s):
            parts += pieces
            if sum(len(p[2]) for p in parts) >= rows:
                yield joined(self.channels, parts)
                parts = []
        if parts:
            yield joined(self.channels, parts)

    def silent_gateways(self) -> set[int]:
        """Numbers of the gateways that send nothing at this moment."""
        now = self._now_s
        return {e.index for e in self.placed if e.event == "silent-gateway" and e.begin_s <= now < e.end_s}

    def truth(self) -> list[dict[str, object]]:
        """What has really happened so far, as the contract's records, in order of time."""
        return truth.lines(self)

    def save(self, path: Path) -> None:
        """Write all state to an `.npz` file of plain arrays; the same scenario takes it up again with `restore`."""
        filled = np.array([f.row() for f in self.refills], dtype=np.float64).reshape(-1, 3)
        spells = np.array(self.water.rows, dtype=np.float64).reshape(-1, 4)
        arrays = {f"state_{k}": v for k, v in self.state.arrays().items()}
        arrays |= {f"record_{k}": v for k, v in self.records.arrays().items()}
        arrays |= {"now_s": np.array(self._now_s), "refills": filled, "spells": spells}
        arrays |= {"dry_probes": np.array(self.dry_probes, dtype=np.float64).reshape(-1, 3)}
        arrays |= {"hourly_l": self.water.hourly_l, "per_hour_l": self.water.per_hour_l}
        np.savez(path, allow_pickle=False, **arrays)

    def restore(self, path: Path) -> None:
        """Take up the state written by `save`; raises InputError if it is of another fleet."""
        with np.load(path, allow_pickle=False) as saved:
            for prefix, holder in (("state_", self.state), ("record_", self.records)):
                for name, own in holder.arrays().items():
                    # What an older version did not note has not been noted yet.
                    value = saved.get(prefix + name, own)
                    if value.shape != own.shape:
                        raise InputError("saved state", str(path), "one written for the same scenario, rooms and seed")
                    setattr(holder, name, value)
            self._now_s = int(saved["now_s"])
            self.water.hourly_l, self.water.per_hour_l = saved["hourly_l"], saved["per_hour_l"]
            self.water.rows = saved["spells"].tolist()
            self.dry_probes = saved["dry_probes"].tolist()
            self.refills = [truth.Filled(int(r), at, litres) for r, at, litres in saved["refills"]]

    def _segments(self, stop_s: int, interval_s: int) -> Iterator[list[Piece]]:
        """Step to `stop_s`, yielding the readings of each segment."""
        step_s = _step_s(interval_s, self.scenario.step_s)
        rates = self._rates.setdefault(step_s, engine.rates(self.world, step_s))
        while self._now_s < stop_s:
            hour_s = self._now_s // HOUR_S * HOUR_S
            edges = [t for e in self.placed for t in (e.begin_s, e.end_s) if hour_s < t < hour_s + HOUR_S]
            segment_s = max([hour_s, *(t for t in edges if t <= self._now_s)])
            until = min([hour_s + HOUR_S, stop_s, *(t for t in edges if t > self._now_s)])
            at_s = np.arange(self._now_s, until, step_s, dtype=np.int64)
            active = [
                e
                for e in self.placed
                if e.begin_s <= self._now_s < e.end_s and not self.records.over_s[e.number] <= self._now_s
            ]
            yield self._segment(at_s, segment_s, active, rates, interval_s)
            self._now_s = int(at_s[-1]) + step_s

    def _segment(
        self,
        at_s: NDArray[np.int64],
        segment_s: float,
        active: list[Placed],
        rates: engine.Rates,
        interval_s: int,
    ) -> list[Piece]:
        w, seed = self.world, self.scenario.seed
        effects = in_force(w, seed, active, segment_s)
        if at_s[0] % HOUR_S == 0:
            self._people(int(at_s[0]), effects)
        got = engine.advance(
            w,
            self.state,
            effects,
            rates,
            seed,
            (segment_s - self._start_s) / 86400.0,
            at_s,
            at_s % interval_s == 0,
        )
        truth.observe(self, got, active, effects, int(at_s[-1]) + rates.step_s)
        before = self.state.air_entry_s
        pieces = self._readings.read(got, active, self.state, self.records, interval_s)
        self._note_dry_probes(before, float(at_s[-1]))
        return pieces

    def _note_dry_probes(self, before: Floats, now_s: float) -> None:
        after = self.state.air_entry_s
        for i in np.flatnonzero(np.isnan(before) != np.isnan(after)):
            if np.isnan(before[i]):
                self.dry_probes.append([float(i), float(after[i]), np.nan])
            else:
                next(row for row in reversed(self.dry_probes) if row[0] == i)[2] = now_s

    def _people(self, hour_s: int, effects: Effects) -> None:
        """Let people look at their reservoirs at the beginning of an hour."""
        w, s = self.world, self.state
        enough_l = np.where(effects.kept_off, 0.0, np.inf)
        for event in self.placed:
            ahead_h = (event.begin_s - hour_s) / HOUR_S
            if event.event == "empty-reservoir" and 0 < ahead_h < KEPT_LOW_H:
                i = event.index
                per_h = self.water.per_hour_l[i]
                wanted = w.tanks.empty_l[i] + per_h * (ahead_h + event.values["hours_left"])
                enough_l[i] = wanted if np.isfinite(wanted) else np.inf
        found = refills(
            self.scenario.seed, w.reservoir_plans, self._zones, hour_s, s.volume_l, w.tanks.full_l, enough_l
        )
        for refill in found:
            i = refill.reservoir
            s.refill_begin_s[i], s.refill_to_l[i] = refill.begin_s, refill.to_l
            s.refill_l_per_h[i] = refill.l_per_h
            self.refills.append(truth.Filled(i, refill.begin_s, refill.to_l - float(s.volume_l[i])))


def _interval_s(interval: timedelta | float) -> int:
    seconds = interval.total_seconds() if isinstance(interval, timedelta) else float(interval)
    if seconds != int(seconds) or not 1 <= seconds <= HOUR_S or HOUR_S % int(seconds):
        raise InputError("interval", f"{seconds:g} s", "whole seconds that divide an hour, such as 10, 60, 300 or 600")
    return int(seconds)


def _step_s(interval_s: int, longest_s: int) -> int:
    """The longest step that divides the interval and is at most `longest_s`."""
    return max(step for step in range(1, min(interval_s, longest_s) + 1) if interval_s % step == 0)


def _next(at: datetime, interval_s: int) -> int:
    """The first round moment of the interval at or after a time [s since 1970]."""
    if at.tzinfo is None:
        raise InputError("time", at.isoformat(), "a time with its zone")
    return math.ceil(at.timestamp() / interval_s) * interval_s
