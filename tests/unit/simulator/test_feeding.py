"""Emitters, lines and reservoirs one by one."""

from __future__ import annotations

import numpy as np
import pytest

from wickwatch.agronomy.hydraulics import laminar_pipe
from wickwatch.agronomy.lateral import dead_end_loss_mm, loop_loss_mm
from wickwatch.agronomy.tank import tank_from_keys
from wickwatch_simulator import emitters, lines, reservoirs
from wickwatch_simulator.build import tank_keys
from wickwatch_simulator.plan import Habit, Reservoir
from wickwatch_simulator.template import SHAPES


def test_an_emitter_opens_in_proportion_above_its_set_point() -> None:
    opened = emitters.opening(np.array([80.0, 100.0, 115.0, 130.0, 200.0]), np.array(100.0), np.array(1 / 30))
    assert opened.tolist() == pytest.approx([0.0, 0.0, 0.5, 1.0, 1.0])


def test_a_membrane_moves_only_after_its_play() -> None:
    at = np.array([100.0])
    assert emitters.membrane(at, np.array([104.0]), np.array([5.0]))[0] == 100.0
    assert emitters.membrane(at, np.array([112.0]), np.array([5.0]))[0] == 107.0
    assert emitters.membrane(at, np.array([90.0]), np.array([5.0]))[0] == 95.0


def test_flow_doubles_with_head_and_never_runs_back() -> None:
    flow = emitters.flow(np.ones(3), np.full(3, 0.004), np.array([500.0, 1000.0, -20.0]))
    assert flow.tolist() == pytest.approx([2.0, 4.0, 0.0])


@pytest.mark.parametrize(("kind", "law"), [("dead-end", dead_end_loss_mm), ("loop", loop_loss_mm)])
def test_losses_along_a_line_are_those_of_its_pipes_in_series(kind: str, law) -> None:  # type: ignore[no-untyped-def]
    draws = np.array([0.2, 3.0, 0.0, 0.4, 1.1])
    pipe = laminar_pipe(6.0, 1.5)
    matrix = lines.loss_matrix(kind, 5, lines.segment_loss(6.0, 1.5))
    got = lines.losses(lines.stacked([matrix]), draws[np.newaxis])[0]
    assert got == pytest.approx(law(pipe, draws), rel=1e-6)


def tank_of(shape: str, volume_l: float = 300.0, **changes: object) -> Reservoir:
    habit = Habit(9, (0, 1, 2, 3, 4, 5, 6), 0.5, 0.9, 0.0, 1000.0)
    made = {"slug": "t", "name": "T", "keys": tank_keys(shape, volume_l), "sensor_zero_mm": 0.0, "outlet_mm": 40.0}
    made |= {"head_mm": 30.0, "stand_mm": 600.0, "start_share": 0.8, "evaporation_l_per_h": 0.0, "noise_mm": 1.0}
    made |= {"resolution_mm": 1.0, "habit": habit, "channel": "urn:dev:mac:0000000000000000:level"}
    return Reservoir(**{**made, **changes})  # type: ignore[arg-type]


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("litres", [30.0, 300.0, 3000.0])
def test_level_by_volume_is_the_tank_s_within_half_a_millimetre(shape: str, litres: float) -> None:
    plan = tank_of(shape, litres)
    tank = tank_from_keys(shape, plan.keys)
    tanks = reservoirs.tanks([plan])
    for share in np.linspace(0.02, 1.0, 50):
        exact = float(tank.level_mm(share * tank.full_l))
        assert reservoirs.level(tanks, np.array([share * tank.full_l]))[0] == pytest.approx(exact, abs=0.5)
    assert tank.full_l == pytest.approx(litres, rel=0.35)


def test_a_line_starves_below_outlet_plus_head_and_stops_at_the_outlet() -> None:
    tanks = reservoirs.tanks([tank_of("cylinder")])
    passing = [float(reservoirs.feed(tanks, np.array([mm]))[1][0]) for mm in (500.0, 70.0, 55.0, 40.0, 10.0)]
    assert passing == pytest.approx([1.0, 1.0, 0.5, 0.0, 0.0])


def test_a_leak_slows_as_the_level_falls_as_torricelli_says() -> None:
    tanks = reservoirs.tanks([tank_of("cylinder")])
    half = tanks.table_mm[0, -1] / 2
    rates = [float(reservoirs.leak(tanks, np.array([mm]), np.array([4.0]))[0]) for mm in (half, half / 4, 0.0)]
    assert rates == pytest.approx([4.0, 2.0, 0.0])


def test_people_fill_what_is_low_at_their_hour_of_the_facility_s_day() -> None:
    plan = tank_of("cylinder")
    full = reservoirs.tanks([plan]).full_l
    monday_0700_utc = 1_772_434_800  # 2 March 2026; 08:00 in Oslo
    found = []
    for hour in range(4):
        at = monday_0700_utc + 3600 * hour
        found += reservoirs.refills(1, [plan], ["Europe/Oslo"], at, 0.3 * full, full, np.array([np.inf]))
    assert [refill.begin_s // 3600 * 3600 for refill in found] == [monday_0700_utc + 3600]
    assert found[0].to_l == pytest.approx(0.9 * full[0], abs=0.031 * full[0])


def test_nobody_fills_what_is_half_full_or_forgotten() -> None:
    plan = tank_of("cylinder")
    full = reservoirs.tanks([plan]).full_l
    at = 1_772_434_800 + 3600
    assert reservoirs.refills(1, [plan], ["Europe/Oslo"], at, 0.6 * full, full, np.array([np.inf])) == []
    assert reservoirs.refills(1, [plan], ["Europe/Oslo"], at, 0.1 * full, full, np.zeros(1)) == []
