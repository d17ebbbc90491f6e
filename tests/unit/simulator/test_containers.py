"""Water in containers, against the trade's own formulas and at the edges."""

from __future__ import annotations

import numpy as np
import pytest

from wickwatch.agronomy import retention
from wickwatch.agronomy.container import container_capacity
from wickwatch.agronomy.media import MEDIA
from wickwatch.errors import InputError
from wickwatch_simulator import containers


def one(name: str, litres: float = 20.0, height_mm: float = 250.0, wetting_share: float = 0.9) -> containers.Soil:
    return containers.soil([name], np.array([litres]), np.array([height_mm]), np.array([wetting_share]))


@pytest.mark.parametrize("name", MEDIA)
@pytest.mark.parametrize("mbar", [5.0, 50.0, 100.0, 300.0, 800.0])
def test_tension_and_water_are_the_published_retention_curve_s(name: str, mbar: float) -> None:
    soil = one(name)
    litres = float(retention.theta(MEDIA[name], mbar)) * 20.0
    assert containers.water_at(soil, np.array([mbar]))[0] == pytest.approx(litres, rel=1e-9)
    assert containers.drying_tension(soil, np.array([litres]))[0] == pytest.approx(mbar, rel=1e-6)


def test_a_container_drains_to_container_capacity_and_no_further() -> None:
    soil = one("peat-perlite")
    water = soil.saturated_l.copy()
    for _ in range(240):
        water -= containers.drained(soil, water, 1 / 60)
    expected = 20.0 * float(container_capacity(MEDIA["peat-perlite"], 250.0))
    assert water[0] == pytest.approx(expected, rel=1e-6)
    assert containers.drained(soil, water - 0.1, 1.0)[0] == 0.0


def test_what_does_not_fit_runs_out_at_once() -> None:
    soil = one("coir")
    gone = containers.drained(soil, soil.saturated_l + 3.0, 1 / 360)
    assert gone[0] >= 3.0


def test_draining_for_an_hour_does_not_depend_on_the_step() -> None:
    soil = one("peat-perlite")
    coarse, fine = soil.saturated_l.copy(), soil.saturated_l.copy()
    coarse -= containers.drained(soil, coarse, 1.0)
    for _ in range(360):
        fine -= containers.drained(soil, fine, 1 / 360)
    assert coarse[0] == pytest.approx(fine[0], rel=1e-9)


def test_wetting_lowers_tension_further_than_drying_by_as_much_raised_it() -> None:
    soil = one("peat-perlite")
    dry, wet = np.ones(1), np.ones(1)
    wet = containers.branch(soil, wet, np.array([1.0]))
    dry = containers.branch(soil, dry, np.array([-1.0]))
    assert 0.9 <= wet[0] < dry[0] == 1.0


def test_without_hysteresis_wetting_and_drying_share_one_curve() -> None:
    soil = one("peat-perlite", wetting_share=1.0)
    assert containers.branch(soil, np.ones(1), np.array([2.0]))[0] == 1.0


def test_uptake_stops_before_a_container_is_empty_of_water() -> None:
    soil = one("sand")
    water = containers.water_at(soil, np.array([100.0]))
    for _ in range(5000):
        mbar = containers.drying_tension(soil, water)
        water -= 0.05 * containers.uptake_share(mbar)
    assert water[0] >= soil.residual_l[0] - 0.05


def test_a_medium_nobody_knows_is_named_with_those_known() -> None:
    with pytest.raises(InputError, match=r"gravel.*peat-perlite"):
        one("gravel")
