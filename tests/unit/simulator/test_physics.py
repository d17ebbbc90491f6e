"""The whole balance: water is conserved, healthy containers hover at their set point, and the step does not matter."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.unit.simulator.houses import History, between, event, fallen, house
from wickwatch_simulator import Simulation, load_scenario
from wickwatch_simulator.world import first_state

EVERY_WATER = (
    event("stuck-open", room=1, day=0.5, hours=12)
    + event("reservoir-leak", room=2, day=0.5, hours=30)
    + event("hand-watering-room", room=3, day=1.2, hours=0.5, share_of_volume=0.3)
    + event("closed-valve", room=4, day=0.3, hours=40)
    + event("empty-reservoir", room=5, day=0.1, hours_left=10, hours_empty=6)
)


def test_every_litre_drawn_is_stored_drunk_or_drained(tmp_path: Path) -> None:
    sim = Simulation(house(tmp_path, EVERY_WATER, rooms=5, days=3, template="water_days = 3"))
    before = first_state(sim.world)
    for _ in sim.run(sim.scenario.start, sim.scenario.end, 300):
        pass
    w, s = sim.world, sim.state

    def by_reservoir(of_container: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.bincount(w.reservoir_of, of_container * w.weight)

    stored = by_reservoir(s.water_l + s.surface_l - before.water_l - before.surface_l)
    came = s.drawn_l + by_reservoir(s.given_l)
    went = stored + by_reservoir(s.transpired_l) + by_reservoir(s.drained_l)
    assert came.min() > 10
    assert went == pytest.approx(came, rel=0.005)
    in_tanks = before.volume_l + s.refilled_l - s.drawn_l - s.evaporated_l - s.leaked_l
    assert s.volume_l == pytest.approx(in_tanks, rel=0.005)
    assert by_reservoir(s.drained_l)[0] > 10 and s.leaked_l[1] > 20 and by_reservoir(s.given_l)[2] > 20


@pytest.fixture(scope="module")
def healthy() -> History:
    return History(load_scenario("demo", rooms=5, days=15, faults=False))


def test_a_healthy_fleet_stays_within_its_band_for_weeks(healthy: History) -> None:
    wet, dry = healthy.sim.limits
    for pot in range(healthy.sim.world.probed):
        _, values = healthy.channel(pot)
        assert wet[pot] < values.min() and values.max() < dry[pot]
        assert abs(values.mean() - healthy.sim.world.set_point_mbar[pot]) < 15


def test_a_healthy_container_shows_pulses_of_ten_to_thirty_mbar_in_a_lit_day(healthy: History) -> None:
    swings = []
    for pot in range(healthy.sim.world.probed):
        series = healthy.channel(pot)
        swings += [np.ptp(between(series, 24 * day, 24 * day + 24)) for day in range(3, 15)]
    low, middle, high = np.percentile(swings, [5, 50, 95])
    assert low > 8 and 10 < middle < 30 and high < 40


def test_a_room_drinks_several_times_as_much_in_light_as_in_the_dark(healthy: History) -> None:
    level = healthy.level(1)
    day, night = [], []
    for n in range(1, 14):
        day.append(fallen(level, 24 * n + 6, 24 * n + 17) / 11)
        night.append(fallen(level, 24 * n + 19, 24 * n + 28) / 9)
    assert np.mean(day) > 4 * np.mean(night) > 0


def test_steps_of_ten_and_sixty_seconds_agree(tmp_path: Path) -> None:
    days = {}
    for interval in (10, 60, 600):
        sim = Simulation(house(tmp_path, event("stuck-open", room=1, container=2, day=1.0, hours=10), days=1.5))
        for _ in sim.run(sim.scenario.start, sim.scenario.end, interval):
            pass
        wet = next(r for r in sim.truth() if r["event"] == "stuck-open")["detail"]["wet_limit_at"]  # type: ignore[index]
        days[interval] = (sim.state.drawn_l[0], sim.state.transpired_l.sum(), np.datetime64(str(wet)[:-1]))
    for interval in (60, 600):
        assert days[interval][0] == pytest.approx(days[10][0], rel=0.02)
        assert days[interval][1] == pytest.approx(days[10][1], rel=0.002)
    assert abs(days[60][2] - days[10][2]) <= np.timedelta64(3, "m")


def test_a_container_nobody_waters_dries_past_the_dry_limit_within_days(tmp_path: Path) -> None:
    seen = History(house(tmp_path, event("clogged", room=1, day=0.1, passes=0.0), days=3.2))
    hours, values = seen.tension(1)
    assert 6 < hours[np.argmax(values > 180)] < 72
