"""Laws of pipes, lines, networks and emptying tanks."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from wickwatch.agronomy import hydraulics, lateral, network, outflow, water
from wickwatch.agronomy.tank import LyingCylinder
from wickwatch.errors import InputError

flows = st.floats(0.01, 1e5)
bores = st.floats(1.0, 100.0)
exponents = st.sampled_from([1.0, 1.75, 1.852, 2.0])
draws = st.lists(st.floats(0.0, 50.0), min_size=1, max_size=12).map(np.array)


def test_laminar_loss_is_proportional_to_flow_and_length_and_to_the_fourth_power_of_the_bore() -> None:
    base = hydraulics.darcy_loss_mm(1.0, 4.0, 1.0)
    changed = hydraulics.darcy_loss_mm([2.0, 1.0, 1.0], [4.0, 4.0, 2.0], [1.0, 3.0, 1.0])
    assert changed / base == pytest.approx([2.0, 3.0, 16.0], rel=1e-12)


@given(flows, bores)
def test_loss_rises_with_flow_and_changes_sign_with_it(flow: float, bore: float) -> None:
    loss = hydraulics.darcy_loss_mm([flow, 1.01 * flow, -flow], bore, 10.0)
    assert 0.0 < loss[0] < loss[1]
    assert loss[2] == -loss[0]


def test_friction_has_no_step_where_flow_turns_turbulent() -> None:
    for edge in (hydraulics.LAMINAR_BELOW, hydraulics.TURBULENT_ABOVE):
        before, after = hydraulics.darcy_friction([edge - 1e-6, edge + 1e-6], 1e-3)
        assert before == pytest.approx(after, rel=1e-6)


def test_a_pipe_at_rest_loses_nothing_and_a_missing_flow_stays_missing() -> None:
    loss = hydraulics.darcy_loss_mm([0.0, np.nan], 4.0, 1.0)
    assert loss[0] == 0.0
    assert np.isnan(loss[1])


def test_hot_and_frozen_water_are_refused() -> None:
    for degc in (-1.0, 60.0):
        with pytest.raises(InputError, match="water temperature"):
            water.viscosity_pa_s(degc)


@given(draws, exponents)
def test_a_loop_feeds_every_draw_and_closes(draw: np.ndarray, exponent: float) -> None:
    segment = hydraulics.PowerLaw(np.array(0.01), exponent)
    flow = lateral.loop_flow_l_per_h(segment, draw)
    assert -np.diff(flow) == pytest.approx(draw, abs=1e-9)
    around = segment.loss_mm(flow)
    assert np.sum(around) == pytest.approx(0.0, abs=1e-9 * (1.0 + np.abs(around).sum()))


@given(draws, exponents)
def test_no_outlet_of_a_loop_loses_more_than_in_the_same_dead_end(draw: np.ndarray, exponent: float) -> None:
    segment = hydraulics.PowerLaw(np.array(0.01), exponent)
    loop, dead_end = lateral.loop_loss_mm(segment, draw), lateral.dead_end_loss_mm(segment, draw)
    assert (loop <= dead_end + 1e-9).all()


def test_many_lines_at_once_are_the_same_as_one_by_one() -> None:
    many = np.random.default_rng(7).uniform(0.0, 9.0, (5, 8))
    segments = hydraulics.laminar_pipe(4.0, np.linspace(1.0, 3.0, 9))
    together = lateral.loop_loss_mm(segments, many)
    assert together == pytest.approx(np.array([lateral.loop_loss_mm(segments, one) for one in many]))


@given(draws, exponents)
def test_the_network_solver_finds_what_the_loop_solver_finds(draw: np.ndarray, exponent: float) -> None:
    count = len(draw)
    demand = draw + 0.5  # a pipe at rest would leave the two solvers different round-off
    pipes = hydraulics.PowerLaw(np.full(count + 1, 0.01), exponent)
    ends = [(node, (node + 1) % (count + 1)) for node in range(count + 1)]
    fixed = np.array([500.0, *[np.nan] * count])
    found = network.solve(pipes, ends, [0.0, *demand], fixed)
    assert 500.0 - found.head_mm[1:] == pytest.approx(lateral.loop_loss_mm(pipes, demand), rel=1e-5, abs=1e-6)


def test_a_network_without_a_feed_or_with_an_island_is_refused() -> None:
    pipes = hydraulics.PowerLaw(np.array([1.0]), 2.0)
    with pytest.raises(InputError, match="known head"):
        network.solve(pipes, [(0, 1)], [0.0, 1.0], [np.nan, np.nan])
    with pytest.raises(InputError, match="known head"):
        network.solve(pipes, [(0, 1)], [0.0, 1.0, 1.0], [10.0, np.nan, np.nan])


def test_a_lying_tank_drains_as_its_outflow_integrates() -> None:
    tank = LyingCylinder(diameter_mm=600.0, length_mm=1500.0)

    def seconds_per_mm(level: float) -> float:
        litres_per_mm = float(tank.area_mm2(level)) / 1e6
        return litres_per_mm / float(outflow.orifice_flow_l_per_h(level - 40.0, 12.0)) * 3600.0

    expected, _ = quad(seconds_per_mm, 60.0, 550.0)
    found = outflow.draining_time_s(tank, 550.0, 60.0, 12.0, hole_level_mm=40.0)
    assert found == pytest.approx(expected, rel=1e-6)


def test_a_tank_nobody_draws_from_lasts_for_ever() -> None:
    hours = outflow.steady_draw_time_h([10.0, 10.0, 0.0, np.nan], [2.0, 0.0, 0.0, 1.0])
    assert hours[:3].tolist() == [5.0, np.inf, np.inf]
    assert np.isnan(hours[3])


def test_levels_in_the_wrong_order_are_refused() -> None:
    tank = LyingCylinder(diameter_mm=600.0, length_mm=1500.0)
    with pytest.raises(InputError, match="levels in mm"):
        outflow.draining_time_s(tank, 100.0, 200.0, 12.0)
