"""Judging alone: `detect.sweep` over 20,000 probes and 1,000 reservoirs at one-minute readings, kind by kind.

Most rooms are healthy, some containers drift, dry and are wetted, so that every kind has work. Beside the slow drift
stands the same slope and test computed series by series with scipy. Memory is the peak of a process of its own beyond
the frame. Not here: loading the frame from a database (`watch`).
"""

from __future__ import annotations

import multiprocessing
import resource
import time
from collections.abc import Callable
from datetime import time as clock
from multiprocessing.connection import Connection as Pipe
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray
from scipy.stats import kendalltau, theilslopes

from tests.benchmarks import Figure
from wickwatch.detect import Frame, Grid, sweep
from wickwatch.detect.drift_slow import slow
from wickwatch.detect.due import EVERY
from wickwatch.detect.frame import COARSE_STEP, COARSE_STEPS, FINE_STEP, FINE_STEPS
from wickwatch.detect.layout import layout
from wickwatch.fleet import KINDS, Channel, Container, Facility, Kind, Line, Reservoir, Room, Rules

ROOMS = 1000
PER_ROOM = 20
NOW = np.datetime64("2026-11-20T12:00", "us")
_HOUSE = UUID(int=20261120)
_TANK = {"diameter_mm": 580, "height_mm": 900}


def run(scale: float = 1.0) -> list[Figure]:
    """Seconds per kind and for all, peak memory, and scipy's time for the same slopes."""
    rooms = max(int(ROOMS * scale), 10)
    return _alone(_measure, rooms) + _alone(_measure_once, 10 * rooms)


def _alone(measure: Callable[[int, Pipe], None], rooms: int) -> list[Figure]:
    """What a process of its own measures, so that its memory holds nothing else."""
    here, there = multiprocessing.Pipe()
    worker = multiprocessing.get_context("spawn").Process(target=measure, args=(rooms, there))
    worker.start()
    figures: list[Figure] = here.recv()
    worker.join()
    return figures


def _measure_once(rooms: int, pipe: Pipe) -> None:
    place, frame = facility(rooms), healthy(rooms)
    layout(place)
    began = time.perf_counter()
    sweep(frame, place, (), frozenset(KINDS))
    on = f"{rooms * PER_ROOM:,} probes, {rooms:,} reservoirs"
    pipe.send([Figure("sweep: all kinds", time.perf_counter() - began, "s", on)])


def _measure(rooms: int, pipe: Pipe) -> None:
    place, frame = facility(rooms), healthy(rooms)
    on = f"{rooms * PER_ROOM:,} probes, {rooms:,} reservoirs"
    began = time.perf_counter()
    layout(place)
    figures = [Figure("sweep: arrays of the place, once", time.perf_counter() - began, "s", on)]
    before = _peak_mb()
    for kind in EVERY:
        figures.append(Figure(f"sweep: {kind}", _seconds(frame, place, frozenset({kind})), "s", on))
    quick = frozenset(kind for kind, every in EVERY.items() if not every)
    figures.append(Figure("sweep: the kinds of every sweep", _seconds(frame, place, quick), "s", on))
    figures.append(Figure("sweep: all kinds", _seconds(frame, place, frozenset(KINDS)), "s", on))
    grids = sum(each.nbytes for grid in (frame.fine, frame.coarse) for each in (grid.mean, grid.low, grid.high)) / 1e6
    figures.append(Figure("sweep: peak memory beyond the frame", _peak_mb() - before, "MB", f"frame {grids:.0f} MB"))
    figures += _beside_scipy(frame, rooms)
    pipe.send(figures)


def _seconds(frame: Frame, place: Facility, kinds: frozenset[Kind]) -> float:
    """Median of three."""
    taken = []
    for _ in range(3):
        began = time.perf_counter()
        sweep(frame, place, (), kinds)
        taken.append(time.perf_counter() - began)
    return float(np.median(taken))


def _beside_scipy(frame: Frame, rooms: int) -> list[Figure]:
    hourly = frame.coarse.mean[: rooms * PER_ROOM]
    began = time.perf_counter()
    ours = slow(hourly, 7)
    batch = time.perf_counter() - began
    daily = np.nanmedian(hourly[:, -7 * 24 :].reshape(len(hourly), 7, 24), axis=2)[: min(len(hourly), 1000)]
    began = time.perf_counter()
    for series in daily:
        theilslopes(series, np.arange(7.0), alpha=0.8)
        kendalltau(series, np.arange(7.0))
    one_by_one = (time.perf_counter() - began) / len(daily) * len(hourly)
    assert len(ours.slope) == len(hourly)
    on = f"{len(hourly):,} series of 7 days"
    return [
        Figure("drift: Theil-Sen and Mann-Kendall, all at once", batch, "s", f"{on}, days made from hours included"),
        Figure("drift: the same by scipy, series by series", one_by_one, "s", f"{on}, from {len(daily):,} of them"),
    ]


def _peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def _id(name: str) -> UUID:
    return uuid5(_HOUSE, name)


def facility(rooms: int) -> Facility:
    """Rooms of one reservoir and one loop with their containers; tension channels first, then levels."""
    rules = Rules()
    made = []
    for n in range(rooms):
        level = Channel(1 + rooms * PER_ROOM + n, f"urn:dev:ow:{n:08x}:level", "level", None, 60.0)
        tank = Reservoir(_id(f"tank {n}"), "tank", f"Tank {n}", "cylinder", _TANK, 0.0, 40.0, 30.0, rules, level)
        line = Line(_id(f"loop {n}"), "loop", "loop", tank.id, "loop")
        pots = tuple(
            Container(
                _id(f"pot {n} {k}"), f"pot-{k}", f"pot {k}", line.id, 20.0, "peat-perlite", 1, rules,
                Channel(1 + n * PER_ROOM + k, f"urn:dev:ow:{n:06x}{k:02x}:tension", "tension", None, 60.0),
            )
            for k in range(PER_ROOM)
        )  # fmt: skip
        made.append(
            Room(_id(f"room {n}"), f"room-{n}", f"Room {n}", clock(6), clock(18), rules, (tank,), (line,), pots)
        )
    return Facility(_id("house"), "birchwood", "Birchwood House", ZoneInfo("Europe/Oslo"), rules, tuple(made))


def healthy(rooms: int) -> Frame:
    """Three weeks of swings and falling levels; one container in fifty drifts, dries, is wet or stands still."""
    probes = rooms * PER_ROOM
    grids = [_grid(FINE_STEP, FINE_STEPS, probes, rooms), _grid(COARSE_STEP, COARSE_STEPS, probes, rooms)]
    channels = np.arange(1, probes + rooms + 1, dtype=np.int64)
    last_at = np.full(len(channels), NOW - np.timedelta64(30, "s"))
    return Frame(NOW, channels, grids[0], grids[1], grids[0].mean[:, -1].astype(np.float64), last_at)


def _grid(step: np.timedelta64, steps: int, probes: int, rooms: int) -> Grid:
    rng = np.random.default_rng(20261120)
    start = NOW - steps * step
    hours = ((start + (np.arange(steps) + 0.5) * step - NOW) / np.timedelta64(1, "h")).astype(np.float32)
    mean = np.empty((probes + rooms, steps), dtype=np.float32)
    for first in range(0, probes, 2000):
        part = np.arange(first, min(first + 2000, probes))
        mean[part] = _tension(part, hours, rng)
    daily = np.float32(-4.0) * hours + 20.0 * np.sin(hours * np.float32(2 * np.pi / 24)).astype(np.float32)
    tank = np.arange(rooms, dtype=np.float32)[:, np.newaxis]
    mean[probes:] = 150.0 + np.mod(daily + 37.0 * tank, 600.0)
    mean += rng.standard_normal(mean.shape, dtype=np.float32) * np.float32(0.3)
    return Grid(start, step, mean, mean - np.float32(0.4), mean + np.float32(0.4))


def _tension(part: NDArray[np.int64], hours: NDArray[np.float32], rng: np.random.Generator) -> NDArray[np.float32]:
    phase = rng.uniform(0.0, 3.5, (len(part), 1)).astype(np.float32)
    cycle = np.mod(hours + phase, np.float32(3.5))
    saw = np.where(cycle < 3.0, cycle / 3.0, (3.5 - cycle) * 2.0)
    tension = 88.0 + 17.0 * saw
    kind = part[:, np.newaxis] % 200
    tension = np.where(kind == 0, tension + 9.0 * np.maximum(hours / 24 + 6.0, 0.0), tension)  # drifts
    tension = np.where((kind == 50) & (hours > -7.0), 105.0 + 6.0 * (hours + 7.0), tension)  # dries
    wetted = 15.0 + 75.0 * np.exp(-3.0 * np.maximum(hours + 2.0, 0.0))
    tension = np.where((kind == 100) & (hours > -2.0), wetted, tension)
    return np.where((kind == 150) & (hours > -5.0), np.float32(97.0), tension).astype(np.float32)  # stands still
