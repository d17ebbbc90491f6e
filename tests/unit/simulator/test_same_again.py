"""The same scenario and seed give the same history, bit for bit, however it is cut."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from tests.unit.simulator.houses import event, house
from wickwatch.errors import InputError, RefusedError
from wickwatch_simulator import Chunk, Simulation, load_scenario

EVENTS = (
    event("stuck-open", room=1, day=0.4, hours=9)
    + event("flat-probe", room=2, day=0.33, hours=10)
    + event("low-battery", room=1, container=2, day=0.1)
    + event("pruning", room=2, day=0.2)
    + event("silent-gateway", room=2, day=0.6, hours=0.7)
)


def whole(chunks: list[Chunk]) -> tuple[np.ndarray, ...]:  # type: ignore[type-arg]
    return tuple(np.concatenate([getattr(c, name) for c in chunks]) for name in ("channel", "at", "value"))


def same(one: tuple[np.ndarray, ...], other: tuple[np.ndarray, ...]) -> bool:  # type: ignore[type-arg]
    return all(np.array_equal(a, b) for a, b in zip(one, other, strict=True))


@pytest.fixture
def made(tmp_path: Path) -> Simulation:
    return Simulation(house(tmp_path, EVENTS, rooms=2, days=1, gateway="drop_share = 0.01"))


@pytest.fixture
def once(made: Simulation) -> tuple[np.ndarray, ...]:  # type: ignore[type-arg]
    return whole(list(made.run(made.scenario.start, made.scenario.end, 60)))


def test_twice_is_the_same_bit_for_bit(made: Simulation, once: tuple[np.ndarray, ...]) -> None:  # type: ignore[type-arg]
    again = Simulation(made.scenario)
    assert same(once, whole(list(again.run(again.scenario.start, again.scenario.end, 60, rows=1000))))
    assert again.truth() == made.truth()


def test_in_pieces_is_the_same_as_in_one_run(made: Simulation, once: tuple[np.ndarray, ...]) -> None:  # type: ignore[type-arg]
    again = Simulation(made.scenario)
    cuts = [timedelta(minutes=m) for m in (0, 7, 61, 577, 578, 600, 883, 1440)]
    chunks = [c for a, b in pairwise(cuts) for c in again.run(again.now, again.scenario.start + b, 60)]
    assert same(once, whole(chunks))
    assert again.truth() == made.truth()


def test_a_saved_simulation_goes_on_as_if_never_stopped(
    tmp_path: Path,
    made: Simulation,
    once: tuple[np.ndarray, ...],  # type: ignore[type-arg]
) -> None:
    first, second = Simulation(made.scenario), Simulation(made.scenario)
    half = made.scenario.start + timedelta(hours=11, minutes=17)
    chunks = list(first.run(first.now, half, 60))
    first.save(tmp_path / "state.npz")
    second.restore(tmp_path / "state.npz")
    assert second.now == half
    chunks += list(second.run(half, made.scenario.end, 60))
    assert same(once, whole(chunks))
    assert second.truth() == made.truth()


def test_a_state_of_another_fleet_is_refused(tmp_path: Path, made: Simulation) -> None:
    made.save(tmp_path / "state.npz")
    with pytest.raises(InputError, match="same scenario"):
        Simulation(load_scenario("demo", rooms=1)).restore(tmp_path / "state.npz")


def test_another_seed_is_another_history(tmp_path: Path, once: tuple[np.ndarray, ...]) -> None:  # type: ignore[type-arg]
    other = Simulation(house(tmp_path, EVENTS, rooms=2, days=1, seed=12, gateway="drop_share = 0.01"))
    values = whole(list(other.run(other.scenario.start, other.scenario.end, 60)))
    assert not same(once, values)


def test_more_rooms_begin_with_the_same_rooms(tmp_path: Path) -> None:
    few, many = house(tmp_path, rooms=2), house(tmp_path, rooms=6)
    assert many.rooms[:2] == few.rooms


def test_time_only_goes_forward(made: Simulation, once: tuple[np.ndarray, ...]) -> None:  # type: ignore[type-arg]
    with pytest.raises(RefusedError, match="can't go back"):
        list(made.run(made.scenario.start, made.scenario.end, 60))


def test_a_late_start_simulates_what_lies_before_and_hands_out_only_the_rest(
    made: Simulation,
    once: tuple[np.ndarray, ...],  # type: ignore[type-arg]
) -> None:
    late = Simulation(made.scenario)
    begin = np.datetime64("2026-03-02T20:00:00", "us")
    rest = whole(list(late.run(datetime(2026, 3, 2, 20, tzinfo=UTC), late.scenario.end, 60)))
    # Devices stamp a reading up to ten seconds before its round moment.
    after = [column[once[1] >= begin] for column in once]
    shared = rest[1] >= begin
    assert same(tuple(column[shared] for column in rest), tuple(after))
    assert np.all(rest[1] >= begin - np.timedelta64(10, "s"))


def test_a_run_may_change_its_interval_and_begin_off_the_grid(made: Simulation) -> None:
    sim = Simulation(made.scenario)
    start = made.scenario.start
    coarse = list(sim.run(start, start + timedelta(hours=2, minutes=7), 300))
    assert sim.now == start + timedelta(hours=2, minutes=10)
    fine = list(sim.run(sim.now, sim.now + timedelta(minutes=1), 10))
    assert len(whole(fine)[0]) == 6 * sim.channels.humidity.stop
    assert whole(coarse)[1].max() <= whole(fine)[1].min() + np.timedelta64(10, "s")


@pytest.mark.parametrize("interval", [0, 7, 0.5, 3601, -60])
def test_an_interval_that_does_not_divide_an_hour_is_refused(made: Simulation, interval: float) -> None:
    with pytest.raises(InputError, match="divide an hour"):
        list(made.run(made.scenario.start, made.scenario.end, interval))
