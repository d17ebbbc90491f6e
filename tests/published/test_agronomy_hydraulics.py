"""Water and gravity-fed lines against published examples and against fluids, EPANET, CoolProp and iapws."""

from __future__ import annotations

import platform
from itertools import pairwise
from pathlib import Path

import iapws
import numpy as np
import pytest
from fluids import one_phase_dP
from fluids.friction import friction_factor

from wickwatch.agronomy import hydraulics, lateral, network, outflow, water
from wickwatch.agronomy.tank import Cylinder

MM_PER_FT = 304.8

# published: Tanaka et al. 2001 (density); derived with CoolProp 8.0.0 and iapws 1.5.5: IAPWS-95 density,
# column, viscosity in mPa s, kinematic viscosity in 1e-6 m2/s
WATER = [
    (4, 999.9749, 999.9749, 98.064, 1.5673, 1.5673),
    (10, 999.7027, 999.7025, 98.037, 1.3059, 1.3063),
    (15, 999.1026, 999.1026, 97.978, 1.1376, 1.1386),
    (20, 998.2067, 998.2072, 97.891, 1.0016, 1.0034),
    (25, 997.0470, 997.0476, 97.777, 0.8900, 0.8927),
    (30, 995.6488, 995.6495, 97.640, 0.7972, 0.8007),
    (40, 992.2152, 992.2164, 97.303, 0.6527, 0.6578),
]


@pytest.mark.parametrize(("degc", "tanaka", "iapws_95", "column", "viscosity", "kinematic"), WATER)
def test_properties_of_water(
    degc: float, tanaka: float, iapws_95: float, column: float, viscosity: float, kinematic: float
) -> None:
    assert water.density_kg_per_m3(degc) == pytest.approx(tanaka, abs=1e-4)
    assert water.density_kg_per_m3(degc) == pytest.approx(iapws_95, abs=0.002)
    assert water.column_mbar_per_m(degc) == pytest.approx(column, abs=0.001)
    assert water.viscosity_pa_s(degc) * 1e3 == pytest.approx(viscosity, rel=0.001)
    assert water.kinematic_viscosity_m2_per_s(degc) * 1e6 == pytest.approx(kinematic, rel=0.001)


@pytest.mark.parametrize("degc", [5.0, 18.0, 33.0])
def test_properties_of_water_agree_with_coolprop_and_iapws(degc: float) -> None:
    from CoolProp.CoolProp import PropsSI  # imported here alone: it takes seconds

    other = iapws.IAPWS95(T=degc + 273.15, P=0.101325)
    assert water.density_kg_per_m3(degc) == pytest.approx(other.rho, abs=0.002)
    assert water.viscosity_pa_s(degc) == pytest.approx(other.mu, rel=0.001)
    assert water.viscosity_pa_s(degc) == pytest.approx(
        PropsSI("V", "T", degc + 273.15, "P", 101325, "Water"), rel=0.001
    )


def test_pressure_that_drives_a_gravity_fed_line_of_the_textbook() -> None:
    # published: OpenStax College Physics, section 12.4: 0.120 cm3/s, bore 0.300 mm, 2.50 cm, 1.00e-3 Pa s;
    # inlet 1.62e4 Pa over a back pressure of 1.066e3 Pa
    drop = hydraulics.hagen_poiseuille_pa(0.120 * 3.6, 0.300, 0.025, 1.00e-3)
    assert drop == pytest.approx(15090.0, abs=1.0)
    assert drop + 1066.0 == pytest.approx(1.62e4, abs=50.0)


def test_one_millilitre_a_minute_in_a_fine_tube() -> None:
    # published: Saylor fluid-mechanics unit: 0.750 mm bore, 3.77 cm/s, Re 28, 2.1 kPa per m
    flow_l_per_h = 0.06
    assert hydraulics.velocity_m_per_s(flow_l_per_h, 0.750) == pytest.approx(0.0377, abs=5e-5)
    assert hydraulics.reynolds(flow_l_per_h, 0.750) == pytest.approx(28.0, abs=0.5)
    assert hydraulics.hagen_poiseuille_pa(flow_l_per_h, 0.750, 1.0, 1.0e-3) == pytest.approx(2100, abs=50)


# derived with fluids 1.3.1 at 20 degC: bore mm, length m, l/h -> Re, mm of head
@pytest.mark.parametrize(
    ("bore_mm", "length_m", "flow", "number", "head_mm"),
    [(4.0, 1.0, 1.0, 88.1, 4.52), (3.2, 10.0, 2.0, 220.3, 220.9)],
)
def test_drip_tubes_are_laminar(bore_mm: float, length_m: float, flow: float, number: float, head_mm: float) -> None:
    assert hydraulics.reynolds(flow, bore_mm) == pytest.approx(number, rel=0.001)
    assert hydraulics.darcy_loss_mm(flow, bore_mm, length_m) == pytest.approx(head_mm, rel=0.001)
    assert hydraulics.laminar_pipe(bore_mm, length_m).loss_mm(flow) == pytest.approx(head_mm, rel=0.001)


def test_hazen_williams_is_wrong_in_a_drip_tube_by_a_factor_of_six() -> None:
    # derived: the trap itself, 36.7 mm where the true loss is 220.9 mm
    found = hydraulics.hazen_williams_pipe(3.2, 10.0, 150.0).loss_mm(2.0)
    assert found == pytest.approx(36.7, abs=0.05)
    assert hydraulics.darcy_loss_mm(2.0, 3.2, 10.0) / found == pytest.approx(6.0, abs=0.05)


def test_turbulent_water_in_a_smooth_pipe() -> None:
    # published: Technical Paper 410M, Flow of Fluids, example 7.1: Re 100 600, f 0.0179 (printed from rounded
    # properties); fluids gives 101 005 and 0.01795
    number = hydraulics.reynolds(200.0 * 60.0, 52.48, 30.0)
    assert number == pytest.approx(101005, rel=0.001)
    assert number == pytest.approx(100600, rel=0.005)
    assert hydraulics.darcy_friction(number) == pytest.approx(0.0179, abs=1e-4)


def test_friction_formulas_at_reynolds_100_000() -> None:
    # derived with fluids 1.3.1
    assert hydraulics.colebrook(1e5, 1e-4) == pytest.approx(0.018514, abs=1e-6)
    assert hydraulics.swamee_jain(1e5, 1e-4) == pytest.approx(0.018452, abs=1e-6)
    assert hydraulics.haaland(1e5, 1e-4) == pytest.approx(0.018265, abs=1e-6)
    assert hydraulics.blasius(1e5) == pytest.approx(0.017792, abs=1e-6)


@pytest.mark.parametrize("number", [50.0, 1999.0, 4500.0, 3e4, 1e6])
@pytest.mark.parametrize("roughness", [0.0, 1e-4, 1e-2])
def test_friction_agrees_with_fluids(number: float, roughness: float) -> None:
    expected = friction_factor(Re=number, eD=roughness)
    assert hydraulics.darcy_friction(number, roughness) == pytest.approx(expected, rel=1e-5)


def test_loss_of_a_long_rough_pipe_agrees_with_fluids() -> None:
    rho, mu = float(water.density_kg_per_m3(15.0)), float(water.viscosity_pa_s(15.0))
    metres_per_s = float(hydraulics.velocity_m_per_s(3000.0, 26.0))
    pascals = one_phase_dP(m=rho * 3.0 / 3600.0, rho=rho, mu=mu, D=0.026, roughness=1e-4, L=40.0)
    assert metres_per_s == pytest.approx(1.57, abs=0.01)
    expected_mm = pascals / (rho * water.GRAVITY_M_PER_S2) * 1000.0
    assert hydraulics.darcy_loss_mm(3000.0, 26.0, 40.0, 15.0, 0.1) == pytest.approx(expected_mm, rel=1e-4)


# published formula (Christiansen 1942); figures derived: outlets, exponent, factor, exact sum k^m / N^(m+1)
@pytest.mark.parametrize(
    ("outlets", "exponent", "factor", "exact"),
    [
        (10, 1.0, 0.550, 0.5500),
        (10, 1.75, 0.415, 0.4151),
        (10, 1.852, 0.402, 0.4022),
        (10, 2.0, 0.385, 0.3850),
        (20, 1.0, 0.525, 0.5250),
        (20, 1.75, 0.389, 0.3890),
        (20, 1.852, 0.376, 0.3760),
        (20, 2.0, 0.359, 0.3588),
        (100, 1.0, 0.505, 0.5050),
        (100, 1.75, 0.369, 0.3687),
        (100, 1.852, 0.356, 0.3556),
        (100, 2.0, 0.338, 0.3383),
    ],
)
def test_christiansen_factor_and_the_line_it_stands_for(
    outlets: int, exponent: float, factor: float, exact: float
) -> None:
    assert lateral.christiansen_factor(outlets, exponent) == pytest.approx(factor, abs=0.001)
    segment = hydraulics.PowerLaw(np.array(1.0), exponent)
    line = lateral.dead_end_loss_mm(segment, np.ones(outlets))[-1]
    assert line / (outlets * float(outlets) ** exponent) == pytest.approx(exact, abs=1e-4)


# derived: largest loss of a dead end / of a loop, N equal outlets, same pipe
@pytest.mark.parametrize(
    ("outlets", "exponent", "ratio"),
    [
        (10, 1.0, 3.667),
        (10, 1.75, 5.949),
        (10, 1.852, 6.357),
        (10, 2.0, 7.000),
        (20, 1.0, 3.818),
        (20, 1.75, 6.305),
        (20, 1.852, 6.751),
        (20, 2.0, 7.455),
        (100, 1.0, 3.961),
        (100, 1.75, 6.636),
        (100, 1.852, 7.119),
        (100, 2.0, 7.882),
    ],
)
def test_a_loop_loses_several_times_less_head_than_a_dead_end(outlets: int, exponent: float, ratio: float) -> None:
    segment = hydraulics.PowerLaw(np.array(1.0), exponent)
    draws = np.ones(outlets)
    dead_end, loop = lateral.dead_end_loss_mm(segment, draws), lateral.loop_loss_mm(segment, draws)
    assert dead_end.max() / loop.max() == pytest.approx(ratio, rel=0.001)


# derived with wntr 1.5.0 (EPANET): 10 outlets, pipes 2 m x 13 mm, head loss at outlets in mm. EPANET's g is
# 32.2 ft/s2, hence 0.1 % less; allow 0.3 %. The first row's kinematic viscosity is 1.0219e-6 m2/s.
EPANET_LAMINAR_DEAD_END = [1.650, 3.136, 4.456, 5.611, 6.602, 7.427, 8.087, 8.582, 8.912, 9.077]
EPANET_LAMINAR_LOOP = [0.825, 1.485, 1.981, 2.311, 2.476, 2.476, 2.311, 1.981, 1.485, 0.825]
EPANET_HAZEN_DEAD_END = [40.29, 73.43, 100.08, 120.89, 136.53, 147.69, 155.08, 159.41, 161.45, 162.02]
EPANET_HAZEN_LOOP = [11.16, 18.54, 22.88, 24.92, 25.49, 25.49, 24.92, 22.88, 18.54, 11.16]


def test_a_line_of_ten_emitters_agrees_with_epanet() -> None:
    per_pascal = 1000.0 / (1000.0 * water.GRAVITY_M_PER_S2)
    laminar = hydraulics.PowerLaw(hydraulics.hagen_poiseuille_pa(1.0, 13.0, 2.0, 1.0219e-6 * 1000.0) * per_pascal, 1.0)
    few, many = np.full(10, 2.0), np.full(10, 20.0)
    assert lateral.dead_end_loss_mm(laminar, few) == pytest.approx(EPANET_LAMINAR_DEAD_END, rel=0.003)
    assert lateral.loop_loss_mm(laminar, few) == pytest.approx(EPANET_LAMINAR_LOOP, rel=0.003)
    turbulent = hydraulics.hazen_williams_pipe(13.0, 2.0, 150.0)
    assert lateral.dead_end_loss_mm(turbulent, many) == pytest.approx(EPANET_HAZEN_DEAD_END, rel=0.003)
    assert lateral.loop_loss_mm(turbulent, many) == pytest.approx(EPANET_HAZEN_LOOP, rel=0.003)


@pytest.mark.skipif(platform.machine() != "x86_64", reason="EPANET's wheel exists for x86_64 only")
def test_a_loop_with_uneven_draws_agrees_with_a_live_epanet_run(tmp_path: Path) -> None:
    import wntr

    draws = np.array([30.0, 5.0, 0.0, 80.0, 12.0])
    model = wntr.network.WaterNetworkModel()
    model.options.hydraulic.headloss = "H-W"
    model.add_reservoir("R", base_head=1.0)
    for number, draw in enumerate(draws):
        model.add_junction(f"J{number}", base_demand=draw / 3.6e6, elevation=0.0)
    names = ["R", *(f"J{number}" for number in range(len(draws))), "R"]
    for number, (start, end) in enumerate(pairwise(names)):
        model.add_pipe(f"P{number}", start, end, length=3.0, diameter=0.013, roughness=150.0)
    result = wntr.sim.EpanetSimulator(model).run_sim(file_prefix=str(tmp_path / "line"))
    expected_mm = (1.0 - result.node["head"].iloc[0][names[1:-1]].to_numpy()) * 1000.0
    found = lateral.loop_loss_mm(hydraulics.hazen_williams_pipe(13.0, 3.0, 150.0), draws)
    assert found == pytest.approx(expected_mm, rel=0.003)


def test_a_looped_network_of_the_lecture_settles_at_its_printed_flows() -> None:
    # published: lecture CE3620, Pipe Network Systems, 2013 (ft, ft3/s): converged Q2 2.13, Q3 2.16, Q4 0.32;
    # the full solution derived by Newton, 1e-3. Reservoir A stands 10 ft above B.
    a, one, two, three, four, b = range(6)
    ends = [(a, one), (one, two), (one, four), (four, two), (three, two), (three, four), (b, three)]
    pipes = hydraulics.PowerLaw(np.array([0.38, 2.89, 2.53, 12.13, 2.17, 2.89, 0.94]), 2.0)
    draw = [0.0, 2.0, 4.0, 1.0, 3.0, 0.0]
    fixed = [10.0, np.nan, np.nan, np.nan, np.nan, 0.0]
    found = network.solve(pipes, ends, draw, fixed)
    assert found.flow_l_per_h[[1, 2, 3]] == pytest.approx([2.13, 2.16, 0.32], abs=0.005)
    exact = [6.2899, 2.1287, 2.1612, 0.3247, 1.5466, 1.1635, 3.7101]
    assert found.flow_l_per_h == pytest.approx(exact, abs=1e-3)


def test_torricelli_at_one_metre() -> None:
    # derived: sqrt(2 g h)
    assert outflow.outflow_speed_m_per_s(1000.0) == pytest.approx(4.4287, abs=5e-5)


def test_a_tank_drains_through_a_hole_in_the_time_of_the_practice_problem() -> None:
    # published practice problem: 4 ft wide, 5 in2 hole, 6 ft to 2 ft, coefficient 1: 93.4 s (printed 94)
    tank = Cylinder(diameter_mm=4 * MM_PER_FT, height_mm=7 * MM_PER_FT)
    found = outflow.draining_time_s(tank, 6 * MM_PER_FT, 2 * MM_PER_FT, 5 * 25.4**2, coefficient=1.0)
    assert found == pytest.approx(93.4, abs=0.5)


def test_a_tank_drains_empty_in_the_time_of_the_textbook_law() -> None:
    # derived from t = sqrt(2h/g) (R/r)^2 at g = 9.81: 39 909 s
    tank = Cylinder(diameter_mm=5000.0, height_mm=2500.0)
    found = outflow.draining_time_s(tank, 2000.0, 0.0, np.pi * 10.0**2, coefficient=1.0)
    assert found * np.sqrt(water.GRAVITY_M_PER_S2 / 9.81) == pytest.approx(39909, abs=1.0)
    half = outflow.draining_time_s(tank, 2000.0, 1000.0, np.pi * 10.0**2, coefficient=1.0)
    assert found / half == pytest.approx(3.4142, abs=1e-4)


def test_a_steady_draw_gives_half_the_time_of_a_draining_tank() -> None:
    # derived: the rate falls in a straight line with time, so that the mean is half the first
    tank = Cylinder(diameter_mm=580.0, height_mm=900.0)
    rate = outflow.orifice_flow_l_per_h(900.0, 20.0)
    straight_h = outflow.steady_draw_time_h(tank.full_l, rate)
    assert outflow.draining_time_s(tank, 900.0, 0.0, 20.0) / 3600.0 / straight_h == pytest.approx(2.0)
